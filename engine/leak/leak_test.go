package leak_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/leak"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

// still is a pot of two liquids of constant relative volatility whose vapour
// weighs nothing: what simple distillation is in a textbook.
type still struct{ alpha float64 }

func (s still) Content(n []float64) (leak.Content, error) {
	x := n[0] / (n[0] + n[1])
	y := s.alpha * x / (1 + (s.alpha-1)*x)
	return leak.Content{Amounts: slices.Clone(n), Liquid: []float64{x, 1 - x}, Vapor: []float64{y, 1 - y}, LiquidVolume: 1, Pressure: 1e6}, nil
}

// Rayleigh's closed form for simple distillation at constant relative
// volatility α, with W moles left of W0:
// ln(W/W0) = [ln(x/x0) - α ln((1-x)/(1-x0))]/(α-1)
// (Rayleigh 1902, Phil. Mag. 4:521; any textbook of separation processes).
func TestSimpleDistillation(t *testing.T) {
	for _, alpha := range []float64{1.2, 2.5, 6} {
		start := []float64{0.4, 0.6}
		path, err := leak.Follow(still{alpha}, start, []float64{0.05, 0.05}, leak.Vapor, []float64{0.1, 0.3, 0.6, 0.9}, 0, nil)
		require.NoError(t, err, "α = %g", alpha)
		if len(path.Points) != 4 {
			t.Fatalf("α = %g: %d points", alpha, len(path.Points))
		}
		for _, p := range path.Points {
			x, x0 := p.Liquid[0], 0.4
			want := (math.Log(x/x0) - alpha*math.Log((1-x)/(1-x0))) / (alpha - 1)
			if got := math.Log(1 - p.Lost); !(math.Abs(got-want) < 1e-8) {
				t.Errorf("α = %g, lost %g: ln(W/W0) = %.10f, Rayleigh %.10f", alpha, p.Lost, got, want)
			}
		}
	}
}

var catalogue = refrigerant.NewCatalogue()

func system(t *testing.T, name string) *equilibrium.System {
	t.Helper()
	r, err := catalogue.Find(name)
	require.NoError(t, err)
	return r.System()
}

func molar(s *equilibrium.System) []float64 {
	m := make([]float64, s.Mixture().Len())
	for i := range m {
		m[i] = s.Mixture().Fluid(i).MolarMass
	}
	return m
}

func massOf(n, molar []float64) float64 {
	var sum float64
	for i := range n {
		sum += n[i] * molar[i]
	}
	return sum
}

var fractions = []float64{0.05, 0.2, 0.4, 0.6, 0.8, 0.9, 0.97}

func follow(t *testing.T, name string, temp, fill float64, leaving leak.Phase, at []float64) (leak.Path, []float64, []float64) {
	t.Helper()
	s := system(t, name)
	v, n, err := leak.Filled(s, temp, fill)
	require.NoError(t, err)
	path, err := leak.Follow(v, n, molar(s), leaving, at, 101325, nil)
	require.NoError(t, err, "%s", name)
	return path, n, molar(s)
}

func TestMassBalance(t *testing.T) {
	for _, name := range []string{"R-407C", "R-454B", "R-448A"} {
		for _, leaving := range []leak.Phase{leak.Vapor, leak.Liquid} {
			path, n, m := follow(t, name, 298.15, 0.8, leaving, fractions)
			for _, p := range path.Points {
				if got := 1 - massOf(p.Amounts, m)/massOf(n, m); !(math.Abs(got-p.Lost) < 1e-9) {
					t.Errorf("%s: %.12f lost by amounts, %.12f by count", name, got, p.Lost)
				}
				// What is inside adds up from its phases.
				if p.Liquid == nil {
					continue
				}
				for i := range n {
					if !(p.Amounts[i] > 0 && p.Amounts[i] <= n[i]*(1+1e-12)) {
						t.Errorf("%s: component %d goes from %g to %g", name, i, n[i], p.Amounts[i])
					}
				}
			}
		}
	}
}

// A vapour leak leaves the least volatile component behind; a liquid leak
// changes little, and goes on as vapour when the liquid is gone.
func TestWhatIsLeft(t *testing.T) {
	path, _, _ := follow(t, "R-407C", 298.15, 0.9, leak.Vapor, fractions)
	last := path.Points[0].Liquid
	for _, p := range path.Points[1:] {
		if p.Liquid == nil {
			break
		}
		// R-134a: the first two go, the last stays.
		if !(p.Liquid[0] < last[0] && p.Liquid[1] < last[1] && p.Liquid[2] > last[2]) {
			t.Errorf("lost %g: liquid %v after %v", p.Lost, p.Liquid, last)
		}
		last = p.Liquid
	}
	if !(last[2] > 0.8) {
		t.Errorf("the rest is %v, expected mostly R-134a", last)
	}

	s := system(t, "R-407C")
	v, n, err := leak.Filled(s, 298.15, 0.8)
	require.NoError(t, err)
	path, err = leak.Follow(v, n, molar(s), leak.Liquid, fractions, 101325, nil)
	require.NoError(t, err)
	if !(path.LiquidGone > 0.9 && path.LiquidGone < 0.999) {
		t.Errorf("liquid gone after %g of the mass", path.LiquidGone)
	}
	z := s.Composition()
	p := path.Points[1]
	total := p.Amounts[0] + p.Amounts[1] + p.Amounts[2]
	for i := range z {
		if d := p.Amounts[i]/total - z[i]; !(math.Abs(d) < 0.02) {
			t.Errorf("a fifth lost as liquid moves component %d by %g", i, d)
		}
	}
}

// An azeotrope hardly changes; a pure fluid not at all.
func TestAzeotropeAndPure(t *testing.T) {
	path, n, _ := follow(t, "R-507A", 273.15, 0.8, leak.Vapor, []float64{0.5})
	p := path.Points[0]
	if d := p.Amounts[0]/(p.Amounts[0]+p.Amounts[1]) - n[0]/(n[0]+n[1]); !(math.Abs(d) < 0.01) {
		t.Errorf("R-507A moves by %g in losing half", d)
	}
	path, _, _ = follow(t, "R-134a", 298.15, 0.8, leak.Vapor, []float64{0.5})
	want, err := system(t, "R-134a").AtTemperature(equilibrium.BubbleLine, 298.15)
	require.NoError(t, err, "R-134a with half lost")
	if !(math.Abs(path.Points[0].Pressure/want.Pressure-1) < 1e-9) {
		t.Errorf("R-134a with half lost: %g Pa, saturation %g Pa", path.Points[0].Pressure, want.Pressure)
	}
}

// Nothing leaks against an equal pressure outside.
func TestEndsAtTheAtmosphere(t *testing.T) {
	path, _, _ := follow(t, "R-410A", 298.15, 0.3, leak.Vapor, []float64{0.5, 0.999})
	if path.Ending != leak.Balanced || len(path.Points) != 2 {
		t.Fatalf("ending %v with %d points", path.Ending, len(path.Points))
	}
	end := path.Points[1]
	if !(end.Lost < 0.999 && end.Pressure <= 101325 && end.Pressure > 95000) || math.IsNaN(path.LiquidGone) {
		t.Errorf("ended at %g Pa with %g lost, liquid gone at %g", end.Pressure, end.Lost, path.LiquidGone)
	}
}

func TestRefusals(t *testing.T) {
	s := system(t, "R-407C")
	v, n, err := leak.Filled(s, 298.15, 0.8)
	require.NoError(t, err)
	for _, f := range [][]float64{{-0.1}, {1}, {0.5, 0.4}, {math.NaN()}, {0.3, 0.3}} {
		if _, err := leak.Follow(v, n, molar(s), leak.Vapor, f, 0, nil); !errors.Is(err, leak.ErrInput) {
			t.Errorf("fractions %v: %v", f, err)
		}
	}
	if _, err := leak.Follow(v, n, molar(s)[:1], leak.Vapor, []float64{0.5}, 0, nil); !errors.Is(err, leak.ErrInput) {
		t.Errorf("too few molar masses: %v", err)
	}
	if _, err := leak.Follow(v, n, molar(s), leak.Vapor, []float64{0.5}, 0, func() bool { return true }); !errors.Is(err, leak.ErrStopped) {
		t.Errorf("stopped: %v", err)
	}
	for _, fill := range []float64{0, 1, -1, 2, math.NaN()} {
		if _, _, err := leak.Filled(s, 298.15, fill); !errors.Is(err, equilibrium.ErrOutside) {
			t.Errorf("filled to %g: %v", fill, err)
		}
	}
	if _, _, err := leak.Filled(s, 400, 0.5); !errors.Is(err, equilibrium.ErrAboveCritical) {
		t.Errorf("above critical: %v", err)
	}
	if _, _, err := leak.Charged(s, 298.15, 1); !errors.Is(err, equilibrium.ErrNoPhase) {
		t.Errorf("vapour alone: %v", err)
	}
}

func BenchmarkLeak(b *testing.B) {
	r, err := catalogue.Find("R-448A")
	require.NoError(b, err)
	s := r.System()
	for b.Loop() {
		v, n, err := leak.Filled(s, 298.15, 0.8)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := leak.Follow(v, n, molar(s), leak.Vapor, fractions, 101325, nil); err != nil {
			b.Fatal(err)
		}
	}
}
