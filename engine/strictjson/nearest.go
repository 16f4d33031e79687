package strictjson

import (
	"strings"

	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Nearest is the known name that name is most likely a misspelling or the
// beginning of, upper and lower case aside; empty where none is near.
func Nearest(name string, known []string) string {
	const (
		long  = 64 // names beyond it are no misspellings
		short = 3  // letters that begin too many names
	)
	if len(name) >= long {
		return ""
	}
	name = strings.ToLower(name)
	nearest, least := "", 2+len(name)/3
	begun, shortest := "", long
	for _, k := range known {
		lower := strings.ToLower(k)
		if d := unit.Distance(name, lower); d < least {
			nearest, least = k, d
		}
		if len(name) >= short && strings.HasPrefix(lower, name) && len(k) < shortest {
			begun, shortest = k, len(k)
		}
	}
	if nearest == "" {
		return begun
	}
	return nearest
}
