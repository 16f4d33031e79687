package circuit

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func TestWetBulbOf(t *testing.T) {
	air := gum.Uncertain{Value: 95e3, Standard: 800}
	dry, humidity := Measured{Value: 300, Standard: 0.3}, Measured{Value: 0.5, Standard: 0.02}

	t.Run("read", func(t *testing.T) {
		w, known, err := WetBulbOf(map[Reading]Measured{ReturnWetBulb: {Value: 292, Standard: 0.2}, ReturnDryBulb: dry, ReturnRelativeHumidity: humidity}, air)
		require.NoError(t, err)
		require.True(t, known)
		require.Equal(t, WetBulb{Uncertain: gum.Uncertain{Value: 292, Standard: 0.2}}, w)
		require.Equal(t, 1., w.Estimate(true).Gradient.By(ReturnWetBulb.Axis()))
	})
	t.Run("computed", func(t *testing.T) {
		w, known, err := WetBulbOf(map[Reading]Measured{ReturnDryBulb: dry, ReturnRelativeHumidity: humidity}, air)
		require.NoError(t, err)
		require.True(t, known && w.Computed)
		at := func(t, rh, p float64) float64 {
			s, err := moistair.FromRelativeHumidity(unit.Pascal(p), unit.Kelvin(t), unit.Fraction(rh))
			if err != nil {
				return 0
			}
			return s.WetBulb().Kelvin()
		}
		require.InDelta(t, at(300, 0.5, 95e3), w.Value, 1e-9)
		// Each derivative by differences.
		g := w.Estimate(true).Gradient
		require.InEpsilon(t, (at(300.1, 0.5, 95e3)-at(299.9, 0.5, 95e3))/0.2, g.By(ReturnDryBulb.Axis()), 1e-4)
		require.InEpsilon(t, (at(300, 0.505, 95e3)-at(300, 0.495, 95e3))/0.01, g.By(ReturnRelativeHumidity.Axis()), 1e-4)
		require.InEpsilon(t, (at(300, 0.5, 95.5e3)-at(300, 0.5, 94.5e3))/1e3, g.By(SiteAxis), 1e-3)
		require.Zero(t, w.Estimate(false).Gradient.By(SiteAxis), "gauges that do not count from this air")
		require.Greater(t, w.Standard, 0.02*0.9*g.By(ReturnRelativeHumidity.Axis()))
	})
	t.Run("not known", func(t *testing.T) {
		_, known, err := WetBulbOf(map[Reading]Measured{ReturnDryBulb: dry}, air)
		require.NoError(t, err)
		require.False(t, known)
	})
	t.Run("no such air", func(t *testing.T) {
		_, _, err := WetBulbOf(map[Reading]Measured{ReturnDryBulb: dry, ReturnRelativeHumidity: {Value: 1.2}}, air)
		var bad *moistair.InputError
		require.ErrorAs(t, err, &bad)
		require.Equal(t, moistair.RelativeHumidity, bad.Input)
	})
}
