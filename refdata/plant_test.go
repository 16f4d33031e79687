package refdata

import (
	"slices"
	"strings"
	"testing"
)

var plantUnits = []string{
	"ton", "Btu/(W.h)", "delta_degF", "degF", "cfm/ton", "W/cfm", "W/ton", "L/ton", "kg/ton", "kg/mol", "ratio",
	"ft", "m", "mm", "m/s", "K", "kg/(m2.s)", "W/(m2.K)",
}

func TestPlantRanges(t *testing.T) {
	d := Plant()
	seen := map[string]bool{}
	for _, f := range slices.Concat(d.Priors, d.Weather, d.Severities) {
		if !snakeCase.MatchString(f.Code) || seen[f.Code] || f.Text == "" || !slices.Contains(plantUnits, f.Unit) {
			t.Errorf("%+v is malformed or repeated", f)
		}
		seen[f.Code] = true
		if f.Low == nil || f.High == nil || f.Value != nil || !(*f.Low < *f.High) {
			t.Errorf("%s is not a range", f.Code)
		}
		if f.Unit == "ratio" && strings.Contains(f.Text, "hare of") && !(*f.High <= 1) {
			t.Errorf("%s: a share above 1", f.Code)
		}
		if twin, ok := strings.CutSuffix(f.Code, "_at_seer_8"); ok {
			if _, ok := d.Priors.Get(twin + "_at_seer_17"); !ok {
				t.Errorf("%s has no range at the other end", f.Code)
			}
		}
	}
	for _, f := range d.Limits {
		if !snakeCase.MatchString(f.Code) || seen[f.Code] || f.Text == "" || f.Value == nil || !slices.Contains(plantUnits, f.Unit) {
			t.Errorf("%+v is malformed or repeated", f)
		}
		seen[f.Code] = true
	}
	for _, fault := range faults {
		if _, ok := d.Severities.Get(fault); !ok {
			t.Errorf("no severities of %s", fault)
		}
	}
	if len(d.Severities) != len(faults) {
		t.Errorf("%d severities, %d faults", len(d.Severities), len(faults))
	}
}

// Nothing of the plant's figures was read in a publication of its own: whoever
// raises a status has to say so here.
func TestPlantKeepsItsStatus(t *testing.T) {
	d := Plant()
	counts := map[string]int{}
	for _, f := range slices.Concat(d.Priors, d.Weather, d.Severities, d.Limits) {
		counts[f.Status]++
	}
	// By hand: two differences from weak trade sheets; five severities of which
	// the collection of fault models confirms a part.
	if counts[SeenWeak] != 2 || counts[PartSeen] != 5 || counts[Seen] != 0 {
		t.Errorf("statuses %v", counts)
	}
	for _, c := range d.Correlations {
		if !snakeCase.MatchString(c.Code) || c.Text == "" || c.Status != FromMemory {
			t.Errorf("%+v is malformed or not marked as from memory", c)
		}
	}
}
