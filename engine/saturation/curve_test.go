package saturation_test

import (
	"errors"
	"math"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

var catalogue = refrigerant.NewCatalogue()

var sides = []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine}

func find(t testing.TB, designation string) *refrigerant.Refrigerant {
	t.Helper()
	r, err := catalogue.Find(designation)
	require.NoError(t, err)
	return r
}

// custom is a composition that no designation has.
func custom(t testing.TB) *refrigerant.Refrigerant {
	t.Helper()
	r, err := catalogue.Compose([]refrigerant.Component{
		{Designation: "R-32", MassFraction: 0.4}, {Designation: "R-1234ze(E)", MassFraction: 0.35},
		{Designation: "R-125", MassFraction: 0.1}, {Designation: "R-600a", MassFraction: 0.05}, {Designation: "R-134a", MassFraction: 0.1},
	})
	require.NoError(t, err)
	return r
}

func build(t testing.TB, r *refrigerant.Refrigerant) *saturation.Curve {
	t.Helper()
	c, err := saturation.Build(r.System(), nil)
	require.NoError(t, err, "%s", r.Designation)
	return c
}

func temperature(c *saturation.Curve, side equilibrium.Line, p float64) (float64, bool) {
	if side == equilibrium.BubbleLine {
		return c.BubbleTemperature(p)
	}
	return c.DewTemperature(p)
}

func pressure(c *saturation.Curve, side equilibrium.Line, t float64) (float64, bool) {
	if side == equilibrium.BubbleLine {
		return c.BubblePressure(t)
	}
	return c.DewPressure(t)
}

// Every curve against the rigorous solution, between the nodes that it was
// fitted to, within the documented 1e-7 in pressure and 1e-5 K; rising; and
// covering the range of service. A part of the catalogue unless KNURL_FULL.
func TestCurvesFollowTheSolution(t *testing.T) {
	all := append(catalogue.All(), custom(t))
	points := 9 // at one composition in three, those of the trade's daily work among them
	if os.Getenv("KNURL_FULL") != "" {
		points = 200
	} else {
		daily := []string{"R-22", "R-32", "R-134a", "R-404A", "R-407C", "R-410A", "R-448A", "R-454B", "R-744"}
		i := 0
		all = slices.DeleteFunc(all, func(r *refrigerant.Refrigerant) bool {
			i++
			return i%3 > 0 && r.Catalogued && !slices.Contains(daily, r.Designation)
		})
	}
	var worstP, worstT, worstRho, worstH float64
	for _, r := range all {
		s := r.System()
		c := build(t, r)
		critical, err := s.Critical()
		require.NoError(t, err)
		lines := saturation.Rigorous(s)
		for _, side := range sides {
			lo, hi, _, _, _ := c.Range(side)
			if !(lo < 0.75*critical.Temperature && hi > 0.95*critical.Temperature) {
				t.Errorf("%s, line %v: the curve covers %g to %g K only, critical %g K", r.Designation, side, lo, hi, critical.Temperature)
			}
			last := 0.0
			for i := range points {
				temp := lo + (hi-lo)*(float64(i)+0.37)/float64(points)
				want, err := lines.AtTemperature(side, temp)
				require.NoError(t, err, "%s, line %v at %g K", r.Designation, side, temp)
				p, ok1 := pressure(c, side, temp)
				back, ok2 := temperature(c, side, want.Pressure)
				if !ok1 || !ok2 {
					t.Errorf("%s, line %v at %g K is off the curve", r.Designation, side, temp)
					continue
				}
				dp, dt := math.Abs(p/want.Pressure-1), math.Abs(back-temp)
				if !(dp < saturation.PressureError && dt < 1e-5) {
					t.Errorf("%s, line %v at %g K: pressure off by %.2g, temperature by %.2g K", r.Designation, side, temp, dp, dt)
				}
				if !(p > last) {
					t.Errorf("%s, line %v: pressure falls towards %g K", r.Designation, side, temp)
				}
				last = p
				worstP, worstT = max(worstP, dp), max(worstT, dt)

				got, ok := c.Properties(side, temp)
				if !ok {
					t.Errorf("%s, line %v at %g K: no properties", r.Designation, side, temp)
					continue
				}
				rt := s.Mixture().GasConstant() * temp
				dRho, dH := math.Abs(got.Density/want.Density-1), math.Abs(got.Enthalpy-want.Enthalpy)/rt
				if !(dRho < saturation.DensityError && dH < 1e-6 && math.Abs(got.Entropy-want.Entropy)*temp/rt < 1e-6) {
					t.Errorf("%s, line %v at %g K: density off by %.2g, enthalpy by %.2g RT", r.Designation, side, temp, dRho, dH)
				}
				worstRho, worstH = max(worstRho, dRho), max(worstH, dH)
			}
		}
	}
	t.Logf("%d compositions: worst deviation of pressure %.1e, temperature %.1e K, density %.1e, enthalpy %.1e RT", len(all), worstP, worstT, worstRho, worstH)
}

func TestOffTheEnds(t *testing.T) {
	c := build(t, find(t, "R-410A"))
	for _, side := range sides {
		lo, hi, pLo, pHi, _ := c.Range(side)
		for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -5, lo * 0.999, hi * 1.001} {
			if p, ok := pressure(c, side, x); ok {
				t.Errorf("line %v at %g K: %g Pa", side, x, p)
			}
		}
		for _, x := range []float64{math.NaN(), math.Inf(1), 0, -5, pLo * 0.99, pHi * 1.01} {
			if temp, ok := temperature(c, side, x); ok {
				t.Errorf("line %v at %g Pa: %g K", side, x, temp)
			}
		}
		// The ends themselves belong to the curve, up to rounding.
		for _, x := range []float64{pLo * (1 + 1e-12), pHi * (1 - 1e-12)} {
			if _, ok := temperature(c, side, x); !ok {
				t.Errorf("line %v: %g Pa is off the curve", side, x)
			}
		}
	}
}

// Lines go on beyond the curve with the solver, and end with its errors.
func TestLinesGoOn(t *testing.T) {
	r := find(t, "R-134a")
	curves := saturation.NewCurves(nil, "test", 4)
	l, err := curves.Of(r.System(), nil)
	require.NoError(t, err, "%v", l)
	if l.Curve() == nil {
		t.Fatal(l)
	}
	_, _, lowest, _, _ := l.Curve().Range(equilibrium.DewLine)
	temp, slope, err := l.Dew(unit.Pascal(0.5 * lowest))
	require.NoError(t, err, "below the curve")
	if !(temp.Kelvin() > 0 && slope > 0) {
		t.Errorf("below the curve: %v, %g K/Pa", temp, slope)
	}
	if _, _, err := l.Bubble(unit.Pascal(1e8)); !errors.Is(err, equilibrium.ErrAboveCritical) {
		t.Errorf("above the critical pressure: %v", err)
	}
	if _, err := l.AtTemperature(equilibrium.BubbleLine, 1000); !errors.Is(err, equilibrium.ErrAboveCritical) {
		t.Errorf("above the critical temperature: %v", err)
	}
	rigorous := saturation.Rigorous(r.System())
	for _, p := range []float64{1e5, 6e5, 2e6} {
		for _, ask := range []func(saturation.Lines) (unit.Temperature, float64, error){
			func(l saturation.Lines) (unit.Temperature, float64, error) { return l.Bubble(unit.Pascal(p)) },
			func(l saturation.Lines) (unit.Temperature, float64, error) { return l.Dew(unit.Pascal(p)) },
		} {
			a, slopeA, err1 := ask(l)
			b, slopeB, err2 := ask(rigorous)
			require.NoError(t, err1, "at %g Pa", p)
			require.NoError(t, err2, "at %g Pa", p)
			if !(math.Abs(a.Sub(b).Kelvin()) < 1e-6) || !(math.Abs(slopeA/slopeB-1) < 1e-6) {
				t.Errorf("at %g Pa: curve %v, %g; solver %v, %g", p, a, slopeA, b, slopeB)
			}
		}
	}
}

func TestBinaryForm(t *testing.T) {
	c := build(t, find(t, "R-407C"))
	data, err := c.MarshalBinary()
	require.NoError(t, err)
	t.Logf("R-407C: %d bytes, %d polynomials", len(data), c.Pieces())
	var again saturation.Curve
	require.NoError(t, again.UnmarshalBinary(data))
	for _, side := range sides {
		lo, hi, _, _, _ := c.Range(side)
		for i := range 50 {
			temp := lo + (hi-lo)*(float64(i)+0.5)/50
			a, _ := pressure(c, side, temp)
			b, _ := pressure(&again, side, temp)
			x, _ := temperature(c, side, a)
			y, _ := temperature(&again, side, a)
			if a != b || x != y {
				t.Fatalf("line %v at %g K: %g and %g Pa, %g and %g K", side, temp, a, b, x, y)
			}
		}
	}
	for i := 0; i < len(data); i += 97 {
		damaged := slices.Clone(data)
		damaged[i] ^= 0x10
		if err := again.UnmarshalBinary(damaged); !errors.Is(err, saturation.ErrEncoding) {
			t.Fatalf("byte %d changed: %v", i, err)
		}
		if err := again.UnmarshalBinary(data[:i]); !errors.Is(err, saturation.ErrEncoding) {
			t.Fatalf("cut to %d bytes: %v", i, err)
		}
	}
}

func FuzzUnmarshalBinary(f *testing.F) {
	r, _ := catalogue.Find("R-32")
	c, err := saturation.Build(r.System(), nil)
	require.NoError(f, err)
	data, _ := c.MarshalBinary()
	f.Add(data)
	f.Add(data[:40])
	f.Fuzz(func(t *testing.T, data []byte) {
		var c saturation.Curve
		if c.UnmarshalBinary(data) != nil {
			return
		}
		for _, p := range []float64{1e3, 1e5, 1e6, 5e6} {
			c.BubbleTemperature(p)
			c.DewTemperature(p)
		}
		c.DewPressure(280)
	})
}

// memory is a CurveStore that counts.
type memory struct {
	mu            sync.Mutex
	data          map[string][]byte
	loads, stores int
}

func (m *memory) Load(key string) ([]byte, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.loads++
	d, ok := m.data[key]
	return d, ok
}

func (m *memory) Store(key string, data []byte) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.stores++
	m.data[key] = data
}

func TestBuiltOnceForAllWhoAsk(t *testing.T) {
	store := &memory{data: map[string][]byte{}}
	curves := saturation.NewCurves(store, "v1", 4)
	r := find(t, "R-454B")
	var wg sync.WaitGroup
	seen := make([]*saturation.Curve, 8)
	for i := range seen {
		wg.Go(func() {
			// Another system of the same composition.
			s, err := equilibrium.New(r.System().Mixture(), r.System().Composition())
			if err != nil {
				t.Error(err)
				return
			}
			l, err := curves.Of(s, nil)
			if err != nil {
				t.Error(err)
			}
			seen[i] = l.Curve()
		})
	}
	wg.Wait()
	for _, c := range seen {
		if c == nil || c != seen[0] {
			t.Fatal("the curve was built more than once")
		}
	}
	if store.stores != 1 {
		t.Errorf("stored %d times", store.stores)
	}
	// Another process takes it from the store, one of another scope does not.
	l, err := saturation.NewCurves(store, "v1", 4).Of(r.System(), nil)
	require.NoError(t, err, "not taken from the store")
	if l.Curve() == nil || store.stores != 1 {
		t.Errorf("not taken from the store: stored %d times", store.stores)
	}
	_, err = saturation.NewCurves(store, "v2", 4).Of(r.System(), nil)
	require.NoError(t, err, "another scope")
	if store.stores != 2 {
		t.Errorf("another scope: stored %d times", store.stores)
	}
	// A damaged entry is a miss.
	for k := range store.data {
		store.data[k] = store.data[k][:100]
	}
	l, err = saturation.NewCurves(store, "v1", 4).Of(r.System(), nil)
	require.NoError(t, err, "damaged")
	require.NotNil(t, l.Curve(), "damaged")
	require.Equal(t, 3, store.stores, "damaged")
}

func TestNumberOfCurvesIsBounded(t *testing.T) {
	store := &memory{data: map[string][]byte{}}
	curves := saturation.NewCurves(store, "v1", 2)
	systems := []*equilibrium.System{find(t, "R-32").System(), find(t, "R-134a").System(), find(t, "R-290").System()}
	for _, s := range systems {
		_, err := curves.Of(s, nil)
		require.NoError(t, err)
	}
	if curves.Known(systems[0]) || !curves.Known(systems[1]) || !curves.Known(systems[2]) {
		t.Error("the oldest was to go, and it alone")
	}
}

func TestStop(t *testing.T) {
	curves := saturation.NewCurves(nil, "v1", 4)
	s := find(t, "R-448A").System()
	var asked atomic.Int32
	if _, err := curves.Of(s, func() bool { return asked.Add(1) > 2 }); !errors.Is(err, saturation.ErrStopped) {
		t.Errorf("stopped after two questions: %v", err)
	}
	l, err := curves.Of(s, nil)
	require.NoError(t, err)
	if l.Curve() == nil {
		t.Error("asked again")
	}
}

func BenchmarkCurveDewTemperature(b *testing.B) {
	benchmarkCurve(b, (*saturation.Curve).DewTemperature)
}

func BenchmarkCurveBubbleTemperature(b *testing.B) {
	benchmarkCurve(b, (*saturation.Curve).BubbleTemperature)
}

func benchmarkCurve(b *testing.B, at func(*saturation.Curve, float64) (float64, bool)) {
	for _, r := range subjects(b) {
		b.Run(r.Designation, func(b *testing.B) {
			c := build(b, r)
			// Pressures that jump about, as questions do.
			var p [256]float64
			for i := range p {
				p[i] = 3e5 * math.Exp(2*math.Mod(float64(i)*0.61803, 1))
			}
			b.ReportAllocs()
			var sum float64
			i := 0
			for b.Loop() {
				t, _ := at(c, p[i&255])
				sum += t
				i++
			}
			if !(sum > 0) {
				b.Fatal("off the curve")
			}
		})
	}
}

func subjects(b *testing.B) []*refrigerant.Refrigerant {
	return []*refrigerant.Refrigerant{find(b, "R-410A"), find(b, "R-454B"), find(b, "R-448A"), custom(b)}
}

func BenchmarkRigorousBubble(b *testing.B) { benchmarkRigorous(b, equilibrium.BubbleLine) }
func BenchmarkRigorousDew(b *testing.B)    { benchmarkRigorous(b, equilibrium.DewLine) }

func benchmarkRigorous(b *testing.B, side equilibrium.Line) {
	for _, r := range subjects(b) {
		b.Run(r.Designation, func(b *testing.B) {
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				if _, err := r.System().AtTemperature(side, 250+float64(i%60)); err != nil {
					b.Fatal(err)
				}
				i++
			}
		})
	}
}

func BenchmarkBuildCurves(b *testing.B) {
	for _, r := range subjects(b) {
		b.Run(r.Designation, func(b *testing.B) {
			for b.Loop() {
				// A fresh system: ends and critical point are found anew.
				s, err := equilibrium.New(r.System().Mixture(), r.System().Composition())
				if err != nil {
					b.Fatal(err)
				}
				if _, err := saturation.Build(s, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
