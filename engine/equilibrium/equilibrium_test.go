package equilibrium_test

import (
	"errors"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

var catalogue = refrigerant.NewCatalogue()

func system(t testing.TB, designation string) *equilibrium.System {
	t.Helper()
	r, err := catalogue.Find(designation)
	require.NoError(t, err)
	return r.System()
}

// classified are the reasons that a saturation question may have no answer.
var classified = []error{
	equilibrium.ErrAboveCritical, equilibrium.ErrNearCritical, equilibrium.ErrBelowRange,
	equilibrium.ErrTwoLiquids, equilibrium.ErrNotConverged,
}

func isClassified(err error) bool {
	for _, c := range classified {
		if errors.Is(err, c) {
			return true
		}
	}
	return false
}

// coldest is where the sweeps begin: the triple point, or -60 degC for blends.
func coldest(r *refrigerant.Refrigerant) float64 {
	if r.Pure() {
		return r.System().MinTemperature()
	}
	return 213.15
}

// Every fluid and blend, from cold to near critical: converged or a classified
// error; at a converged point fugacities, pressures and amounts agree when
// they are worked out again from the answer.
func TestEveryRefrigerantOverItsRange(t *testing.T) {
	steps := 20
	if os.Getenv("KNURL_FULL") != "" {
		steps = 60
	}
	var pure, blends, nearCritical, failed int
	for _, r := range catalogue.All() {
		s := r.System()
		critical, err := s.Critical()
		require.NoError(t, err, "%s has no critical point", r.Designation)
		lo, hi := coldest(r), critical.Temperature-0.01
		for i := range steps {
			temp := lo + (hi-lo)*float64(i)/float64(steps-1)
			var p [2]equilibrium.Point
			var errs [2]error
			for _, line := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
				p[line], errs[line] = s.AtTemperature(line, temp)
				switch err := errs[line]; {
				case err == nil:
					checkPoint(t, r, line, temp, p[line])
					if !(p[line].Slope > 0) {
						t.Errorf("%s at %g K: slope %g Pa/K", r.Designation, temp, p[line].Slope)
					}
				case !isClassified(err):
					t.Errorf("%s at %g K: unclassified: %v", r.Designation, temp, err)
				case errors.Is(err, equilibrium.ErrNearCritical) && !r.Pure() && temp > 0.95*critical.Temperature:
					nearCritical++
				default:
					failed++
					t.Errorf("%s at %g K (critical %g K): %v", r.Designation, temp, critical.Temperature, err)
				}
				if r.Pure() {
					pure++
				} else {
					blends++
				}
			}
			if errs[0] == nil && errs[1] == nil {
				require.GreaterOrEqual(t, p[0].Pressure, p[1].Pressure*(1-1e-9), "%s at %g K", r.Designation, temp)
			}
		}
	}
	t.Logf("%d points of pure fluids, %d of blends, of which %d near critical; %d failed", pure, blends, nearCritical, failed)
}

// checkPoint works the conditions of equilibrium out again from an answer,
// with the model alone.
func checkPoint(t *testing.T, r *refrigerant.Refrigerant, line equilibrium.Line, temp float64, p equilibrium.Point) {
	t.Helper()
	m := r.System().Mixture()
	if !(math.Abs(p.Temperature/temp-1) < 1e-12) {
		t.Fatalf("%s: asked at %g K, answered at %g K", r.Designation, temp, p.Temperature)
	}
	if !(p.Liquid.Density > p.Vapor.Density) {
		t.Fatalf("%s at %g K: %+v", r.Designation, temp, p)
	}
	var f [2][]float64
	for side, phase := range []equilibrium.Phase{p.Liquid, p.Vapor} {
		f[side] = fugacities(r, temp, phase)
	}
	for i := range f[0] {
		if d := math.Abs(f[0][i] - f[1][i]); !(d < 1e-9) {
			t.Errorf("%s, line %v at %g K: ln fugacity of component %d differs by %.2g", r.Designation, line, temp, i, d)
		}
	}
	// The liquid's pressure is a small difference of large terms.
	vapor, _, _ := m.Pressure(temp, p.Vapor.Density, p.Vapor.X)
	liquid, slope, _ := m.Pressure(temp, p.Liquid.Density, p.Liquid.X)
	if !(math.Abs(vapor/p.Pressure-1) < 1e-9) {
		t.Errorf("%s at %g K: vapor pressure %g Pa, answered %g Pa", r.Designation, temp, vapor, p.Pressure)
	}
	// Hundredths of a kelvin below a critical point the isotherm is flat, and
	// the density as uncertain as the square root of a last digit.
	tolerance := 1e-9
	if p.Liquid.Density < 1.2*p.Vapor.Density {
		tolerance = 1e-7
	}
	if d := math.Abs(liquid-vapor) / (slope * p.Liquid.Density); !(d < tolerance) {
		t.Errorf("%s at %g K: liquid density off by %.2g", r.Designation, temp, d)
	}
}

func TestPressureInvertsTemperature(t *testing.T) {
	for _, r := range catalogue.All() {
		s := r.System()
		critical, _ := s.Critical()
		for _, tr := range []float64{0.6, 0.75, 0.9} {
			for _, line := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
				want := tr * critical.Temperature
				p, err := s.AtTemperature(line, want)
				require.NoError(t, err, "%s at %g K", r.Designation, want)
				back, err := s.AtPressure(line, p.Pressure)
				require.NoError(t, err, "%s, line %v", r.Designation, line)
				if !(math.Abs(back.Temperature/want-1) < 1e-9) {
					t.Errorf("%s, line %v: %g K gives %g Pa gives %g K", r.Designation, line, want, p.Pressure, back.Temperature)
				}
				// The slope is that of neighbouring points.
				const h = 1e-3
				up, err1 := s.AtTemperature(line, want+h)
				down, err2 := s.AtTemperature(line, want-h)
				require.NoError(t, err1, "%s near %g K", r.Designation, want)
				require.NoError(t, err2, "%s near %g K", r.Designation, want)
				if d := (up.Pressure - down.Pressure) / (2 * h); !(math.Abs(d/p.Slope-1) < 1e-6) {
					t.Errorf("%s, line %v at %g K: slope %g Pa/K, neighbours give %g", r.Designation, line, want, p.Slope, d)
				}
			}
		}
	}
}

func TestBeyondTheLine(t *testing.T) {
	for _, name := range []string{"R-22", "R-744", "R-718", "R-410A", "R-407C", "R-448A"} {
		s := system(t, name)
		critical, err := s.Critical()
		require.NoError(t, err)
		for _, line := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
			end, err := s.End(line)
			require.NoError(t, err)
			if between := 0.5*end.Temperature + 0.5*critical.Temperature; !s.Pure() {
				if _, err := s.AtTemperature(line, between); !errors.Is(err, equilibrium.ErrNearCritical) {
					t.Errorf("%s, line %v at %g K: %v", name, line, between, err)
				}
			}
			for _, q := range []struct {
				ask   func(equilibrium.Line, float64) (equilibrium.Point, error)
				value float64
				want  error
			}{
				{s.AtTemperature, 1.2 * critical.Temperature, equilibrium.ErrAboveCritical},
				{s.AtTemperature, 1e4, equilibrium.ErrAboveCritical},
				{s.AtPressure, 1.1 * max(critical.Pressure, end.MaxPressure), equilibrium.ErrAboveCritical},
				{s.AtPressure, 1e-30, equilibrium.ErrBelowRange},
				{s.AtTemperature, 0, equilibrium.ErrOutside},
				{s.AtTemperature, math.NaN(), equilibrium.ErrOutside},
				{s.AtPressure, math.Inf(1), equilibrium.ErrOutside},
				{s.AtPressure, -1e5, equilibrium.ErrOutside},
			} {
				if p, err := q.ask(line, q.value); !errors.Is(err, q.want) {
					t.Errorf("%s, line %v at %g: %+v, %v; want %v", name, line, q.value, p, err, q.want)
				}
			}
		}
	}
}

// The equation's own critical points against those listed with it. Older
// equations (R-13 by 1.2 K, R-114 by 1.8 K) were not made to meet the listed
// point.
func TestCriticalPointsOfPureFluids(t *testing.T) {
	for _, r := range catalogue.All() {
		if !r.Pure() {
			continue
		}
		c, err := r.System().Critical()
		require.NoError(t, err, "%s", r.Designation)
		f := r.System().Mixture().Fluid(0)
		if d := c.Temperature - f.CriticalTemperature; !(math.Abs(d) < 2) {
			t.Errorf("%s: critical temperature %.4f K, listed %.4f K", r.Designation, c.Temperature, f.CriticalTemperature)
		} else if !(math.Abs(d) <= 0.02) {
			t.Logf("%s: critical temperature %.4f K, listed %.4f K", r.Designation, c.Temperature, f.CriticalTemperature)
		}
		// There the isotherm is flat and turns.
		if f.Residual.Nonanalytic() {
			continue // singular there by design
		}
		_, slope, _ := r.System().Mixture().Pressure(c.Temperature, c.Density, []float64{1})
		if scaled := slope * c.Density / c.Pressure; !(math.Abs(scaled) < 1e-6) {
			t.Errorf("%s: dp/dρ at the critical point is %.2g of p/ρ", r.Designation, scaled)
		}
	}
}

// Published critical temperatures of blends; the multi-fluid model need not
// meet them exactly.
func TestCriticalPointsOfBlends(t *testing.T) {
	for _, tt := range []struct {
		designation string
		celsius     float64
		src         string
	}{
		{"R-404A", 72.12, "Lemmon 2003, doi 10.1023/A:1025048800563: 345.27 K"},
		{"R-407C", 86.20, "Lemmon 2003, doi 10.1023/A:1025048800563: 359.345 K"},
		{"R-410A", 71.34, "Lemmon 2003, doi 10.1023/A:1025048800563: 344.494 K"},
		{"R-507A", 70.62, "Lemmon 2003, doi 10.1023/A:1025048800563: 343.765 K"},
	} {
		c, err := system(t, tt.designation).Critical()
		require.NoError(t, err, "%s", tt.designation)
		if !(math.Abs(c.Temperature-273.15-tt.celsius) < 0.5) {
			t.Errorf("%s: %.2f degC; want %.2f degC within 0.5 (%s)", tt.designation, c.Temperature-273.15, tt.celsius, tt.src)
		}
	}
}

func TestDensityKeepsItsSide(t *testing.T) {
	for _, name := range []string{"R-22", "R-290", "R-410A", "R-407C", "R-744"} {
		s := system(t, name)
		critical, _ := s.Critical()
		for _, tr := range []float64{0.6, 0.8, 0.95} {
			temp := tr * critical.Temperature
			b, err := s.AtTemperature(equilibrium.BubbleLine, temp)
			require.NoError(t, err)
			d, err := s.AtTemperature(equilibrium.DewLine, temp)
			require.NoError(t, err)
			liquid, err := s.Density(temp, 1.2*b.Pressure, equilibrium.Liquid)
			require.NoError(t, err, "%s, compressed liquid at %g K", name, temp)
			if liquid < b.Liquid.Density {
				t.Errorf("%s, compressed liquid at %g K: %g mol/m3", name, temp, liquid)
			}
			vapor, err := s.Density(temp, 0.8*d.Pressure, equilibrium.Vapor)
			require.NoError(t, err, "%s, superheated vapor at %g K", name, temp)
			if vapor > d.Vapor.Density {
				t.Errorf("%s, superheated vapor at %g K: %g mol/m3", name, temp, vapor)
			}
			if _, err := s.Density(temp, 20*critical.Pressure, equilibrium.Vapor); !errors.Is(err, equilibrium.ErrNoPhase) {
				t.Errorf("%s: a vapor at %g K and 20 times the critical pressure: %v", name, temp, err)
			}
		}
		temp, p := 1.3*critical.Temperature, 1.5*critical.Pressure
		if temp > s.MaxTemperature() {
			continue
		}
		a, err1 := s.Density(temp, p, equilibrium.Liquid)
		b, err2 := s.Density(temp, p, equilibrium.Vapor)
		require.NoError(t, err1, "%s, supercritical", name)
		require.NoError(t, err2, "%s, supercritical", name)
		if !(math.Abs(a/b-1) < 1e-9) {
			t.Errorf("%s, supercritical: %g and %g mol/m3", name, a, b)
		}
	}
}

// A state given by temperature and density is found again by pressure and
// enthalpy and by pressure and entropy.
func TestFlashesAgree(t *testing.T) {
	for _, name := range []string{"R-22", "R-410A", "R-407C", "R-507A", "R-448A", "R-744", "R-455A", "R-513A", "R-290", "R-718"} {
		s := system(t, name)
		c, err := s.Critical()
		require.NoError(t, err)
		for _, tr := range []float64{0.65, 0.8, 0.95, 1.02, 1.2} {
			for _, dr := range []float64{0.001, 0.1, 0.4, 0.8, 1.3, 2.0, 2.5} {
				temp, rho := tr*c.Temperature, dr*c.Density
				if temp > s.MaxTemperature() {
					continue
				}
				want, err := s.AtTemperatureDensity(temp, rho)
				require.NoError(t, err, "%s at %g K, %g mol/m3", name, temp, rho)
				if want.Pressure <= 0 {
					continue // a stretched liquid, not reached from a pressure
				}
				for _, back := range []func() (equilibrium.State, error){
					func() (equilibrium.State, error) { return s.AtPressureEnthalpy(want.Pressure, want.Enthalpy) },
					func() (equilibrium.State, error) { return s.AtPressureEntropy(want.Pressure, want.Entropy) },
				} {
					got, err := back()
					require.NoError(t, err)
					require.Less(t, math.Abs(got.Temperature/temp-1), 1e-7, "%s at %g K, %g mol/m3 came back as %+v", name, temp, rho, got)
					require.Less(t, math.Abs(got.Density/rho-1), 1e-6, "%s at %g K, %g mol/m3 came back as %+v", name, temp, rho, got)
					require.Equal(t, want.TwoPhase, got.TwoPhase)
				}
			}
		}
	}
}

func TestTwoPhaseStatesKeepAmounts(t *testing.T) {
	for _, name := range []string{"R-407C", "R-507A", "R-463A"} {
		s := system(t, name)
		z := s.Composition()
		for _, beta := range []float64{0, 0.1, 0.5, 0.9, 1} {
			st, err := s.AtVaporFraction(280, beta)
			require.NoError(t, err, "%s at %g", name, beta)
			for i := range z {
				if got := (1-beta)*st.Liquid.X[i] + beta*st.Vapor.X[i]; !(math.Abs(got-z[i]) < 1e-12) {
					t.Errorf("%s at %g: component %d adds up to %g, not %g", name, beta, i, got, z[i])
				}
			}
		}
		bubble, _ := s.AtTemperature(equilibrium.BubbleLine, 280)
		st, err := s.AtVaporFraction(280, 0)
		require.NoError(t, err, "%s", name)
		if !(math.Abs(st.Pressure/bubble.Pressure-1) < 1e-10) {
			t.Errorf("%s: no vapor is not the bubble point: %g, %g Pa", name, st.Pressure, bubble.Pressure)
		}
	}
}

func TestBadCompositions(t *testing.T) {
	m := system(t, "R-410A").Mixture()
	for _, x := range [][]float64{nil, {1}, {0.5, 0.4}, {1.1, -0.1}, {1, 0}, {math.NaN(), 0.5}} {
		if _, err := equilibrium.New(m, x); !errors.Is(err, equilibrium.ErrComposition) {
			t.Errorf("composition %v: %v", x, err)
		}
	}
}

// Pairs of very unlike fluids: converged or a classified error. The long list
// runs where KNURL_FULL is set.
func TestUnlikePairs(t *testing.T) {
	names := []string{"R-744", "R-32", "R-134a", "R-290", "R-1234yf", "R-717", "R-600a", "R-245fa"}
	shares := []float64{0.05, 0.5, 0.95}
	if os.Getenv("KNURL_FULL") != "" {
		names = append(names, "R-22", "R-23", "R-170", "R-125", "R-152a", "R-1234ze(E)", "R-601", "R-13I1", "R-E170", "R-1270", "R-227ea", "R-718")
		shares = []float64{0.02, 0.2, 0.5, 0.8, 0.98}
	}
	count := map[string]int{}
	for i, a := range names {
		for _, b := range names[i+1:] {
			for _, w := range shares {
				r, err := catalogue.Compose([]refrigerant.Component{{Designation: a, MassFraction: w}, {Designation: b, MassFraction: 1 - w}})
				require.NoError(t, err)
				for _, temp := range []float64{230, 260, 290, 320} {
					for _, line := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
						p, err := r.System().AtTemperature(line, temp)
						switch {
						case err == nil:
							count["converged"]++
							checkPoint(t, r, line, temp, p)
						case isClassified(err):
							for _, c := range classified {
								if errors.Is(err, c) {
									count[c.Error()]++
								}
							}
						default:
							t.Errorf("%s at %g K: unclassified: %v", r.Designation, temp, err)
						}
					}
				}
			}
		}
	}
	t.Logf("%v", count)
}
