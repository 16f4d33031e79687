package refrigerant

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Common names of fluids that are sold by them.
var commonNames = map[string]string{
	"ammonia": "R-717", "NH3": "R-717",
	"carbon dioxide": "R-744", "CO2": "R-744",
	"water": "R-718", "H2O": "R-718",
	"propane": "R-290", "isobutane": "R-600a", "butane": "R-600", "n-butane": "R-600", "ethane": "R-170",
	"propylene": "R-1270", "propene": "R-1270",
	"isopentane": "R-601a", "pentane": "R-601", "n-pentane": "R-601",
	"dimethyl ether": "R-E170", "DME": "R-E170", "trifluoroiodomethane": "R-13I1", "CF3I": "R-13I1",
}

// Prefixes that ASHRAE 34 allows instead of R, longest first.
var prefixes = []string{"REFRIGERANT", "HCFO", "HCFC", "HCC", "HFC", "HFO", "CFC", "PFC", "HC", "FC", "R"}

// key reduces a spelling to what tells refrigerants apart: letters and digits
// in upper case without a composition-designating prefix.
func key(spelling string) string {
	var b strings.Builder
	for _, c := range spelling {
		switch {
		case c >= 'a' && c <= 'z':
			b.WriteRune(c - 'a' + 'A')
		case c >= 'A' && c <= 'Z', c >= '0' && c <= '9':
			b.WriteRune(c)
		case c == '-', c == ' ', c == '(', c == ')', c == '_', c == '/', c >= '\u2010' && c <= '\u2013', c == '\u2212', c == '\u00a0': // hyphens, dash, minus, no-break space
		default:
			return "" // a sign that is in no designation
		}
	}
	k := b.String()
	for _, p := range prefixes {
		if rest, ok := strings.CutPrefix(k, p); ok && rest != "" && (rest[0] >= '0' && rest[0] <= '9' || rest[0] == 'C' || rest[0] == 'E') {
			return rest
		}
	}
	return k
}

// nearest lists up to three designations most like an unknown key.
func (c *Catalogue) nearest(k string) []string {
	type candidate struct {
		designation string
		distance    int
	}
	var list []candidate
	for _, r := range c.all {
		other := key(r.Designation)
		d := unit.Distance(k, other)
		if k != "" && strings.HasPrefix(other, k) {
			d = 0 // 1234ze for 1234ze(E) and 1234ze(Z), 410 for 410A
		}
		if k != "" && d <= max(1, len(k)/3) {
			list = append(list, candidate{r.Designation, d})
		}
	}
	slices.SortStableFunc(list, func(a, b candidate) int { return cmp.Compare(a.distance, b.distance) })
	var names []string
	for _, l := range list[:min(3, len(list))] {
		if list[0].distance == 0 && l.distance > 0 {
			break // what begins alike leaves no room for guesses
		}
		names = append(names, l.designation)
	}
	return names
}

// compareDesignations orders, R-134a, R-404A, R-1234yf: by number,
// then by suffix; designations that begin with a letter come last.
func compareDesignations(a, b string) int {
	an, as := split(key(a))
	bn, bs := split(key(b))
	return cmp.Or(cmp.Compare(an, bn), cmp.Compare(as, bs))
}

func split(k string) (int, string) {
	i := 0
	for i < len(k) && k[i] >= '0' && k[i] <= '9' {
		i++
	}
	n, err := strconv.Atoi(k[:i])
	if err != nil {
		n = 1 << 30
	}
	return n, k[i:]
}
