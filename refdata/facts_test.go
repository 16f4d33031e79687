package refdata

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var statuses = []string{Seen, SeenSecondary, SeenWeak, PartSeen, Computed, Definition, PartFromMemory, FromMemory}

func TestFacts(t *testing.T) {
	components := map[string][]string{}
	for _, f := range Fluids() {
		if !f.PseudoPure {
			components[f.Designation] = nil
		}
	}
	for _, b := range Blends() {
		for _, c := range b.Components {
			components[b.Designation] = append(components[b.Designation], c.Designation)
		}
	}
	seen := map[string]bool{}
	for _, f := range AllFacts() {
		parts, known := components[f.Designation]
		if !known || seen[f.Designation] {
			t.Errorf("%q is no known refrigerant, or repeated", f.Designation)
		}
		seen[f.Designation] = true
		require.Contains(t, []string{"pure", "azeotrope", "zeotrope"}, f.Type, "%s", f.Designation)
		require.Equal(t, parts == nil, f.Type == "pure", "%s", f.Designation)
		if s := f.SafetyGroup; s != nil && !slices.Contains([]string{"A1", "A2L", "A2", "A3", "B1", "B2L", "B2", "B3"}, s.Value) {
			t.Errorf("%s: safety group %q", f.Designation, s.Value)
		}
		for _, r := range []struct {
			what      string
			number    *Number
			low, high float64
		}{
			{"AR4 GWP", f.GWPAR4, 0, 15000}, {"AR5 GWP", f.GWPAR5, 0, 14000}, {"AR6 GWP", f.GWPAR6, 0, 17000},
			{"ODP", f.ODP, 0, 1},
			{"boiling bubble point, K", f.NormalBubble, 180, 330}, {"boiling dew point, K", f.NormalDew, 180, 330},
		} {
			if r.number != nil {
				require.GreaterOrEqual(t, r.number.Value, r.low, "%s", f.Designation)
				require.LessOrEqual(t, r.number.Value, r.high, "%s", f.Designation)
			}
		}
		if (f.NormalBubble == nil) != (f.NormalDew == nil) {
			t.Errorf("%s: only one of the boiling points", f.Designation)
		} else if f.NormalBubble != nil {
			glide := f.NormalDew.Value - f.NormalBubble.Value
			require.GreaterOrEqual(t, glide, 0.0, "%s", f.Designation)
			require.Less(t, glide, 30.0, "%s", f.Designation)
			if f.Type == "pure" {
				require.Equal(t, 0.0, glide, "%s", f.Designation)
			}
		}
		for _, tol := range f.Tolerances {
			if !slices.Contains(parts, tol.Designation) || !(tol.Plus >= 0 && tol.Plus <= 2 && tol.Minus >= 0 && tol.Minus <= 2) || tol.Plus+tol.Minus == 0 {
				t.Errorf("%s: tolerance %+v", f.Designation, tol)
			}
		}
	}
	if len(seen) != 109 {
		t.Errorf("facts of %d refrigerants, want 109", len(seen))
	}
}

func (f Facts) numbers() []*Number {
	return slices.DeleteFunc([]*Number{f.GWPAR4, f.GWPAR5, f.GWPAR6, f.ODP, f.NormalBubble, f.NormalDew}, func(n *Number) bool { return n == nil })
}

// Counts made on the collected material by hand, before it took this form:
// safety group 24; boiling point 23, each a bubble and a dew point; the AR5 GWP
// of R-717; and in part from memory 17 AR4 GWPs that need a
// component absent from that report, and the ODP of R-514A, whose composition
// is from memory.
func TestFactsKeepTheirStatus(t *testing.T) {
	safety, boiling, gwp, part := 0, 0, 0, 0
	for _, f := range AllFacts() {
		if f.SafetyGroup != nil && f.SafetyGroup.Status == FromMemory {
			safety++
		}
		for _, n := range f.numbers() {
			switch {
			case n.Status == PartFromMemory:
				part++
				if !strings.Contains(n.Detail, "memory") {
					t.Errorf("%s: %g does not say what of it is from memory", f.Designation, n.Value)
				}
			case n.Status != FromMemory:
			case n == f.NormalBubble || n == f.NormalDew:
				boiling++
			default:
				gwp++
			}
		}
	}
	require.Equal(t, 24, safety, "from memory")
	require.Equal(t, 2*23, boiling, "from memory")
	require.Equal(t, 1, gwp, "from memory")
	require.Equal(t, 18, part, "from memory")
}

// A mixture's GWP can lie nowhere but between those of its components, and near
// their mean by mass.
func TestBlendGWPIsTheMassMean(t *testing.T) {
	pure := map[string]*Number{}
	facts := map[string]Facts{}
	for _, f := range AllFacts() {
		facts[f.Designation] = f
		pure[f.Designation] = f.GWPAR4
	}
	checked := 0
	for _, b := range Blends() {
		got := facts[b.Designation].GWPAR4
		if got == nil {
			continue
		}
		mean, complete := 0.0, true
		for _, c := range b.Components {
			if n := pure[c.Designation]; n != nil {
				mean += c.MassPercent / 100 * n.Value
			} else {
				complete = false
			}
		}
		if !complete {
			continue
		}
		checked++
		if !(got.Value > mean*0.97-1 && got.Value < mean*1.03+1) {
			t.Errorf("%s: AR4 GWP %g, mean by mass %.1f (%s)", b.Designation, got.Value, mean, got.Source)
		}
	}
	if checked < 20 {
		t.Errorf("only %d blends could be checked", checked)
	}
}
