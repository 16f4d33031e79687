package saturation_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Slopes are what differences of the temperatures say, a pure fluid's lines
// are one, and a blend's dew point lies above its bubble point.
func TestSlopesEqualDifferences(t *testing.T) {
	catalogue := refrigerant.NewCatalogue()
	for _, name := range []string{"R-22", "R-410A", "R-407C", "R-454B", "R-744", "R-507A"} {
		r, err := catalogue.Find(name)
		require.NoError(t, err)
		lines := saturation.Rigorous(r.System())
		for _, bar := range []float64{2, 6, 9, 15, 25, 35} {
			if name == "R-744" {
				bar += 8 // above its triple point's pressure
			}
			p := bar * 1e5
			for side, of := range map[string]func(unit.Pressure) (unit.Temperature, float64, error){"bubble": lines.Bubble, "dew": lines.Dew} {
				_, slope, err := of(unit.Pascal(p))
				h := 1e-4 * p
				a, _, errA := of(unit.Pascal(p - h))
				b, _, errB := of(unit.Pascal(p + h))
				require.NoError(t, err, "%s, %s at %g bar", name, side, bar)
				require.NoError(t, errA, "%s, %s at %g bar", name, side, bar)
				require.NoError(t, errB, "%s, %s at %g bar", name, side, bar)
				want := (b.Kelvin() - a.Kelvin()) / (2 * h)
				if !(slope > 0) || !(math.Abs(slope/want-1) <= 1e-5) {
					t.Errorf("%s, %s at %g bar: slope %g K/Pa, differences say %g", name, side, bar, slope, want)
				}
			}
			bubble, _, errB := lines.Bubble(unit.Pascal(p))
			dew, _, errD := lines.Dew(unit.Pascal(p))
			glide := dew.Kelvin() - bubble.Kelvin()
			require.NoError(t, errB, "%s at %g bar", name, bar)
			require.NoError(t, errD, "%s at %g bar", name, bar)
			if r.Pure() && !(math.Abs(glide) <= 1e-7) || !r.Pure() && !(glide > 0) {
				t.Errorf("%s at %g bar: glide %g K", name, bar, glide)
			}
		}
	}
}

// Beyond the critical point there is an error, not a number.
func TestLinesEndAtTheCriticalPoint(t *testing.T) {
	r, err := refrigerant.NewCatalogue().Find("R-22")
	require.NoError(t, err)
	lines := saturation.Rigorous(r.System())
	for _, of := range []func(unit.Pressure) (unit.Temperature, float64, error){lines.Bubble, lines.Dew} {
		if v, slope, err := of(unit.Pascal(6e6)); !errors.Is(err, equilibrium.ErrAboveCritical) || !v.IsZero() || slope != 0 {
			t.Errorf("%v, %g, %v", v, slope, err)
		}
	}
}
