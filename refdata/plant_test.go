package refdata

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var plantUnits = []string{
	"ton", "Btu/(W.h)", "delta_degF", "degF", "cfm/ton", "W/cfm", "W/ton", "L/ton", "kg/ton", "kg/mol", "ratio",
	"ft", "m", "mm", "m/s", "K", "kg/(m2.s)", "W/(m2.K)",
}

func TestPlantRanges(t *testing.T) {
	d := Plant()
	seen := map[string]bool{}
	for _, f := range slices.Concat(d.Priors, d.Weather, d.Severities) {
		require.True(t, snakeCase.MatchString(f.Code), "%+v is malformed or repeated", f)
		require.False(t, seen[f.Code], "%+v is malformed or repeated", f)
		require.NotEmpty(t, f.Text)
		require.Contains(t, plantUnits, f.Unit)
		seen[f.Code] = true
		require.NotNil(t, f.Low)
		require.NotNil(t, f.High)
		require.Nil(t, f.Value)
		require.Less(t, *f.Low, *f.High)
		if f.Unit == "ratio" && strings.Contains(f.Text, "hare of") {
			require.LessOrEqual(t, *f.High, 1.0, "%s", f.Code)
		}
		if twin, ok := strings.CutSuffix(f.Code, "_at_seer_8"); ok {
			if _, ok := d.Priors.Get(twin + "_at_seer_17"); !ok {
				t.Errorf("%s has no range at the other end", f.Code)
			}
		}
	}
	for _, f := range d.Limits {
		require.True(t, snakeCase.MatchString(f.Code), "%+v is malformed or repeated", f)
		require.False(t, seen[f.Code], "%+v is malformed or repeated", f)
		require.NotEmpty(t, f.Text)
		require.NotNil(t, f.Value)
		require.Contains(t, plantUnits, f.Unit)
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
	require.Equal(t, 2, counts[SeenWeak])
	require.Equal(t, 5, counts[PartSeen])
	require.Equal(t, 0, counts[Seen])
	for _, c := range d.Correlations {
		require.True(t, snakeCase.MatchString(c.Code), "%+v is malformed or not marked as from memory", c)
		require.NotEmpty(t, c.Text)
		require.Equal(t, FromMemory, c.Status)
	}
}
