package strictjson

import (
	"strings"

	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Nearest is the known name that name is most likely a misspelling of, upper
// and lower case aside; empty where none is near.
func Nearest(name string, known []string) string {
	const long = 64 // names beyond it are no misspellings
	if len(name) >= long {
		return ""
	}
	nearest, least := "", 2+len(name)/3
	for _, k := range known {
		if d := unit.Distance(strings.ToLower(name), strings.ToLower(k)); d < least {
			nearest, least = k, d
		}
	}
	return nearest
}
