package refdata

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// What the engine reads by code has to be there with value and band.
func TestHoseFigures(t *testing.T) {
	for _, code := range []string{
		"bore_nominal_quarter_inch", "manifold_volume", "shutoff_end_volume", "liquid_oil_share",
		"liquid_fill", "volume_per_pressure", "volume_per_temperature", "closed_vehicle_temperature",
	} {
		f, ok := HoseFigures().Get(code)
		require.True(t, ok, "%s is %+v, want a value with its band, from memory", code, f)
		require.NotNil(t, f.Value)
		require.NotNil(t, f.Low)
		require.NotNil(t, f.High)
		require.Equal(t, FromMemory, f.Status)
	}
	counts := map[string]int{}
	for _, f := range HoseFigures() {
		counts[f.Status]++
	}
	// By hand: the collected material marks two bores, manifold, end volume,
	// oil, draw-back and purging as from memory; fill, the growth by pressure
	// and by temperature, hose temperature and vehicle are allowances.
	if counts[FromMemory] != 12 {
		t.Errorf("%d figures from memory, want 12", counts[FromMemory])
	}
}

func TestHoseSteps(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range HoseSteps() {
		if !snakeCase.MatchString(s.Code) || seen[s.Code] {
			t.Errorf("code %q is malformed or repeated", s.Code)
		}
		seen[s.Code] = true
	}
}

func TestTubes(t *testing.T) {
	d := Tubes()
	type size struct {
		standard string
		od       float64
	}
	seen := map[size]bool{}
	for _, tube := range d.Tubes {
		key := size{tube.Standard, tube.OutsideDiameter}
		if !snakeCase.MatchString(tube.Standard) || seen[key] || tube.Status != FromMemory {
			t.Errorf("%+v is malformed or repeated, or not marked as from memory", tube)
		}
		seen[key] = true
		// Walls of copper tube lie between 3 and 15 % of the diameter.
		if r := tube.Wall / tube.OutsideDiameter; !(r > 0.03 && r < 0.15) {
			t.Errorf("%+v: wall is %g of the diameter", tube, r)
		}
	}
	// Type K is thicker than L, L thicker than M, at one outside diameter.
	wall := func(standard string, od float64) float64 {
		i := slices.IndexFunc(d.Tubes, func(x Tube) bool { return x.Standard == standard && x.OutsideDiameter == od })
		if i < 0 {
			return math.NaN()
		}
		return d.Tubes[i].Wall
	}
	for _, od := range []float64{0.5, 0.625, 0.875, 1.125} {
		if k, l, m := wall("b88_type_k", od), wall("b88_type_l", od), wall("b88_type_m", od); !(k > l && l > m) {
			t.Errorf("%g in: walls K %g, L %g, M %g", od, k, l, m)
		}
	}
	for _, c := range d.LineCharges {
		f, ok := TradeFacts().Get(c.Figure)
		if !ok || f.Unit != "oz/ft" || math.IsNaN(wall("b280_coil", c.OutsideDiameter)) {
			t.Errorf("line charge %+v leads to %+v", c, f)
		}
	}
	if n := len(d.LineCharges); n != 4 {
		t.Errorf("%d published line charges, want 4", n)
	}
}
