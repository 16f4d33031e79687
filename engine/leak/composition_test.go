package leak_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/leak"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

func TestFractionsRiseToTheEnd(t *testing.T) {
	for _, end := range []float64{0, 1e-300, 0.2, 0.999} {
		all := leak.Fractions(end)
		require.Zero(t, all[0])
		require.Equal(t, end, all[len(all)-1])
		for i := 1; i < len(all); i++ {
			require.Greater(t, all[i], all[i-1])
		}
	}
}

// What is left and what was released are together what there was.
func TestMassIsKept(t *testing.T) {
	molar := []float64{0.052, 0.12, 0.102}
	start, end := []float64{10, 20, 30}, []float64{7, 19, 29.5}
	w0, left, gone := leak.MassFractions(start, molar), leak.MassFractions(end, molar), leak.Released(start, end, molar)
	lost := 1 - (7*0.052+19*0.12+29.5*0.102)/(10*0.052+20*0.12+30*0.102)
	for i := range w0 {
		require.InDelta(t, w0[i], (1-lost)*left[i]+lost*gone[i], 1e-15)
	}
	require.InDeltaSlice(t, w0, leak.ToppedUp(w0, w0, lost), 1e-15, "topping up what has not changed changes nothing")
	require.Nil(t, leak.Released(start, start, molar))
}

// A blend that lost its most volatile part boils hotter: its superheat is read
// too large, its subcooling too small (any textbook of blends).
func TestShift(t *testing.T) {
	s := system(t, "R-407C")
	v, n, err := leak.Filled(s, 298.15, 0.8)
	require.NoError(t, err)
	path, err := leak.Follow(v, n, molar(s), leak.Vapor, []float64{0, 0.3}, 101325, nil)
	require.NoError(t, err)
	rest, err := path.Points[1].System(s.Mixture())
	require.NoError(t, err)
	nominal, left := saturation.Rigorous(s), saturation.Rigorous(rest)
	for _, line := range []equilibrium.Line{equilibrium.DewLine, equilibrium.BubbleLine} {
		usual, _ := leak.UsualTemperature(line)
		at, err := nominal.AtTemperature(line, usual)
		require.NoError(t, err)
		shift, ok := leak.ShiftOf(nominal, left, line, at.Pressure)
		require.True(t, ok)
		require.InDelta(t, usual, shift.Nominal, 1e-6)
		require.Greater(t, shift.Kelvin(), 0.5)
		require.Equal(t, line == equilibrium.DewLine, shift.ReadError() > 0)
	}
	_, ok := leak.ShiftOf(nominal, left, equilibrium.DewLine, 1e9)
	require.False(t, ok)
}
