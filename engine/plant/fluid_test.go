package plant

import (
	"errors"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

var (
	catalogue = sync.OnceValue(refrigerant.NewCatalogue)
	curves    = saturation.NewCurves(nil, "", 50)
	made      sync.Map // designation -> *Fluid
)

func fluidOf(t testing.TB, designation string) *Fluid {
	t.Helper()
	if f, ok := made.Load(designation); ok {
		return f.(*Fluid)
	}
	r, err := catalogue().Find(designation)
	require.NoError(t, err)
	lines, err := curves.Of(r.System(), nil)
	require.NoError(t, err)
	f, err := NewFluid(r.System(), lines, nil)
	require.NoError(t, err)
	made.Store(designation, f)
	return f
}

// The surfaces against the equation they were fitted to.
func TestSurfacesFollowTheEquation(t *testing.T) {
	for _, name := range []string{"R-410A", "R-22", "R-1234yf", "R-407C"} {
		f := fluidOf(t, name)
		rng := rand.New(rand.NewPCG(1, 1))
		for _, side := range []equilibrium.Side{equilibrium.Vapor, equilibrium.Liquid} {
			s, limit := &f.vapor, 1e-5
			reach := 120.
			if side == equilibrium.Liquid {
				s, reach = &f.liquid, 50
			}
			for range 60 {
				sat := f.coldest + rng.Float64()*(f.hottest-f.coldest)
				p, ok := f.saturationPressure(side, sat)
				if !ok {
					t.Fatalf("%s: no %s pressure at %g K", name, side, sat)
				}
				T := sat + s.sign*(0.05+rng.Float64()*reach)
				if T < f.system.MinTemperature() {
					continue
				}
				rho, err := f.system.Density(T, p, side)
				require.NoError(t, err, "%s %s at %g K, %g Pa", name, side, T, p)
				c := f.system.Caloric(T, rho)
				bar := s.at(sat)
				for q, want := range map[quantity]float64{
					compressibility: p / (rho * f.gas * f.molar * T), enthalpy: c.Enthalpy / f.molar, entropy: c.Entropy / f.molar,
				} {
					scale := map[quantity]float64{compressibility: math.Abs(want), enthalpy: 2e5, entropy: 1e3}[q]
					if got := bar.of(q, T); !(math.Abs(got-want) <= limit*scale) {
						t.Errorf("%s %s at %.5g K, %.5g Pa: quantity %d is %.9g, the equation gives %.9g", name, side, T, p, q, got, want)
					}
				}
				if back := bar.temperature(enthalpy, c.Enthalpy/f.molar); !(math.Abs(back-T) < 0.01) {
					t.Errorf("%s %s: temperature of the enthalpy is %.6f, want %.6f", name, side, back, T)
				}
			}
		}
	}
}

func TestNewFluidRefuses(t *testing.T) {
	r, err := catalogue().Find("R-744")
	require.NoError(t, err)
	lines, err := curves.Of(r.System(), nil)
	require.NoError(t, err)
	if _, err := NewFluid(r.System(), lines, nil); !errors.Is(err, ErrFluid) {
		t.Errorf("R-744 (critical point at 31 degC): %v", err)
	}
	r, err = catalogue().Find("R-410A")
	require.NoError(t, err)
	if _, err := NewFluid(r.System(), saturation.Rigorous(r.System()), nil); !errors.Is(err, ErrFluid) {
		t.Errorf("without a curve: %v", err)
	}
	lines, err = curves.Of(r.System(), nil)
	require.NoError(t, err)
	if _, err := NewFluid(r.System(), lines, func() bool { return true }); !errors.Is(err, ErrStopped) {
		t.Errorf("stopped: %v", err)
	}
}

// Published viscosities of saturated liquid, to see that corresponding states
// are near; only a weak power of the viscosity enters.
func TestLiquidViscosity(t *testing.T) {
	for _, tt := range []struct {
		name       string
		t, want, r float64
		src        string
	}{
		{"R-22", 313.15, 139e-6, 0.15, "from memory, unverified"},
		{"R-410A", 298.15, 118e-6, 0.15, "from memory, unverified"},
		{"R-134a", 313.15, 161e-6, 0.15, "from memory, unverified"},
	} {
		if got := fluidOf(t, tt.name).liquidViscosity(tt.t); !(math.Abs(got/tt.want-1) < tt.r) {
			t.Errorf("%s at %g K: %.4g Pa s, want about %.4g (%s)", tt.name, tt.t, got, tt.want, tt.src)
		}
	}
}

func TestVoidFractionModel(t *testing.T) {
	f := fluidOf(t, "R-410A")
	s := f.at(1e6)
	w := f.hughmark(&s, 200, 0.008)
	last := w.liquid
	for x := 0.0; x <= 1; x += 0.01 {
		d := w.density(x)
		if !(d <= last+1e-9 && d >= w.vapor*(1-1e-12)) {
			t.Errorf("density %g at quality %g after %g: it must fall from liquid to vapour", d, x, last)
		}
		homogeneous := 1 / (x/w.vapor + (1-x)/w.liquid)
		if d < homogeneous*(1-1e-9) {
			t.Errorf("density %g at quality %g: slower liquid cannot make less than %g", d, x, homogeneous)
		}
		last = d
	}
	if fast := f.hughmark(&s, 400, 0.008); !(fast.mean(0.2, 1) < w.mean(0.2, 1)) {
		t.Error("a higher mass flux must hold less liquid")
	}
	if got, want := w.mean(0.3, 0.3), w.density(0.3); !(math.Abs(got/want-1) <= 1e-9) {
		t.Errorf("mean of one quality is %g, want %g", got, want)
	}
	// Against the trapezoid rule on many steps.
	var sum float64
	const n = 4000
	for i := range n {
		sum += w.density(0.2 + 0.8*(float64(i)+0.5)/n)
	}
	if got := w.mean(0.2, 1); !(math.Abs(got/(sum/n)-1) <= 0.01) {
		t.Errorf("mean density %g, by many steps %g", got, sum/n)
	}
}
