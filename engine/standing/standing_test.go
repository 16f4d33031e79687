package standing_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/standing"
)

var catalogue = refrigerant.NewCatalogue()

type lines struct{ s *equilibrium.System }

func (l lines) BubblePressure(t float64) (float64, error) {
	p, err := l.s.AtTemperature(equilibrium.BubbleLine, t)
	return p.Pressure, err
}

func (l lines) DewPressure(t float64) (float64, error) {
	p, err := l.s.AtTemperature(equilibrium.DewLine, t)
	return p.Pressure, err
}

const atmosphere, psi = 101325., 6894.757

// judge puts two gauges at a pressure (psig) on a system whose parts have
// these temperatures (degC).
func judge(t *testing.T, designation string, suction, liquid float64, celsius ...float64) standing.Result {
	t.Helper()
	r, err := catalogue.Find(designation)
	require.NoError(t, err)
	critical, err := r.System().Critical()
	require.NoError(t, err)
	in := standing.Input{
		Gauges: []standing.Gauge{
			{Port: standing.Suction, Absolute: atmosphere + suction*psi, Standard: 1 * psi, FromAtmosphere: true},
			{Port: standing.Liquid, Absolute: atmosphere + liquid*psi, Standard: 2 * psi, FromAtmosphere: true},
		},
		Atmosphere: atmosphere, AtmosphereStandard: 800, Critical: critical.Temperature, OffTime: 4 * 3600,
	}
	for i, c := range celsius {
		in.Parts = append(in.Parts, standing.Part{Name: []string{"indoor", "outdoor", "line"}[i], Temperature: 273.15 + c, Standard: 0.5})
	}
	out, err := standing.Judge(in, lines{r.System()})
	require.NoError(t, err)
	return out
}

// Saturation of R-22 at 80 degF is 143.6 psig, at 100 degF 195.9 psig
// (published equipment installation manual, testdata/check/worked_examples.csv
// w024, w025). Off and equalized both gauges read near saturation at ambient;
// clearly less means too little refrigerant (US Army TM 9-4120-381-14 para
// 5-18, there w079).
func TestFindings(t *testing.T) {
	const f80, f100 = 26.67, 37.78
	for _, tt := range []struct {
		name            string
		refrigerant     string
		suction, liquid float64
		celsius         []float64
		want            standing.Finding
	}{
		{"saturation at ambient", "R-22", 143.6, 143.6, []float64{f80, f80}, standing.SomeLiquid},
		{"between the parts", "R-22", 165, 165, []float64{f80, f100}, standing.SomeLiquid},
		{"clearly less", "R-22", 90, 90, []float64{f80, f80}, standing.VaporOnly},
		{"clearly more", "R-22", 230, 230, []float64{f80, f80}, standing.AboveSaturation},
		{"nothing", "R-22", 0, 1, []float64{f80, f80}, standing.NoPressure},
		{"one port shows nothing", "R-22", 0, 143, []float64{f80, f80}, standing.PortNotOpenSuspected},
		{"the other port shows nothing", "R-22", 143, 0, []float64{f80, f80}, standing.PortNotOpenSuspected},
		{"still apart", "R-22", 120, 170, []float64{f80, f80}, standing.NotEqualized},
		{"carbon dioxide on a hot day", "R-744", 1100, 1100, []float64{35, 38}, standing.Supercritical},
		{"a blend with glide", "R-407C", 145, 145, []float64{25, 25}, standing.SomeLiquid},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := judge(t, tt.refrigerant, tt.suction, tt.liquid, tt.celsius...)
			if r.Finding != tt.want {
				t.Errorf("%s: %s, want %s (%+v)", tt.name, r.Finding, tt.want, r)
			}
			for _, j := range r.Judgements {
				s := j.Below + j.Within + j.Above
				if !j.NoPressure && r.Finding != standing.Supercritical {
					require.Less(t, math.Abs(s-1), 1e-12, "%s: probabilities sum to %g", tt.name, s)
				}
			}
		})
	}
}

func TestBand(t *testing.T) {
	r := judge(t, "R-407C", 145, 145, 20, 30)
	want, _ := catalogue.Find("R-407C")
	dew, err1 := want.System().AtTemperature(equilibrium.DewLine, 293.15)
	bubble, err2 := want.System().AtTemperature(equilibrium.BubbleLine, 303.15)
	require.NoError(t, err1)
	require.NoError(t, err2)
	require.Equal(t, dew.Pressure, r.Band.Low)
	require.Equal(t, bubble.Pressure, r.Band.High)
	require.Equal(t, "indoor", r.Band.Coldest)
	require.Equal(t, "outdoor", r.Band.Warmest)
	// dp/dT times half a kelvin.
	if want := dew.Slope * 0.5; !(math.Abs(r.Band.LowStandard/want-1) < 0.01) {
		t.Errorf("standard uncertainty of the low end %g Pa, want %g Pa", r.Band.LowStandard, want)
	}
	if !slices.Contains(r.Doubts, standing.WideBand) {
		t.Errorf("ten kelvins apart: doubts %v", r.Doubts)
	}
	// Carbon dioxide with one part above its critical temperature: open upwards.
	r = judge(t, "R-744", 1000, 1000, 25, 40)
	if !math.IsNaN(r.Band.High) || r.Finding != standing.SomeLiquid {
		t.Errorf("open band: %+v", r)
	}
}

func TestDoubts(t *testing.T) {
	r, _ := catalogue.Find("R-22")
	base := standing.Input{
		Gauges: []standing.Gauge{{Port: standing.Suction, Absolute: atmosphere + 143.6*psi, Standard: 2 * psi, FromAtmosphere: true}},
		Parts:  []standing.Part{{Name: "outdoor", Temperature: 299.82, Standard: 0.5}}, Atmosphere: atmosphere, AtmosphereStandard: 800,
		Critical: 369.3, OffTime: math.NaN(),
	}
	for _, tt := range []struct {
		off  float64
		want standing.Doubt
	}{{math.NaN(), standing.OffTimeUnknown}, {300, standing.OffTimeShort}, {7200, standing.OnePortOnly}} {
		in := base
		in.OffTime = tt.off
		out, err := standing.Judge(in, lines{r.System()})
		require.NoError(t, err, "off for %g s", tt.off)
		if !slices.Contains(out.Doubts, tt.want) {
			t.Errorf("off for %g s: doubts %v", tt.off, out.Doubts)
		}
	}
	// A common error of the air's pressure does not part two gauges.
	in := base
	in.Gauges = append(slices.Clone(base.Gauges), standing.Gauge{Port: standing.Liquid, Absolute: base.Gauges[0].Absolute + 0.5*psi, Standard: 0.1 * psi, FromAtmosphere: true})
	in.Gauges[0].Standard = 0.1 * psi
	in.AtmosphereStandard = 5 * psi
	out, err := standing.Judge(in, lines{r.System()})
	require.NoError(t, err, "half a psi apart with gauges of 0.1 psi")
	if out.Finding != standing.NotEqualized {
		t.Errorf("half a psi apart with gauges of 0.1 psi: %+v", out)
	}
}

func TestRefusals(t *testing.T) {
	r, _ := catalogue.Find("R-22")
	good := standing.Input{
		Gauges: []standing.Gauge{{Port: standing.Suction, Absolute: 1e6, Standard: 1e3}},
		Parts:  []standing.Part{{Name: "outdoor", Temperature: 300}}, Atmosphere: atmosphere, Critical: 369.3,
	}
	for name, spoil := range map[string]func(*standing.Input){
		"no gauge":      func(in *standing.Input) { in.Gauges = nil },
		"no part":       func(in *standing.Input) { in.Parts = nil },
		"NaN pressure":  func(in *standing.Input) { in.Gauges = []standing.Gauge{{Absolute: math.NaN()}} },
		"zero pressure": func(in *standing.Input) { in.Gauges = []standing.Gauge{{Absolute: 0}} },
		"NaN part":      func(in *standing.Input) { in.Parts = []standing.Part{{Temperature: math.NaN()}} },
		"atmosphere":    func(in *standing.Input) { in.Atmosphere = 0 },
		"time":          func(in *standing.Input) { in.OffTime = -1 },
	} {
		in := good
		spoil(&in)
		if _, err := standing.Judge(in, lines{r.System()}); !errors.Is(err, standing.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// R-410A at rest shows its own saturation pressure, which R-22 has not.
func TestConsistent(t *testing.T) {
	r410a, err := catalogue.Find("R-410A")
	require.NoError(t, err)
	r22, err := catalogue.Find("R-22")
	require.NoError(t, err)
	own := saturation.Rigorous(r410a.System())
	p, err := standing.Of(own).BubblePressure(300)
	require.NoError(t, err)
	in := standing.Input{
		Gauges: []standing.Gauge{{Port: standing.Suction, Absolute: p, Standard: 5e3}},
		Parts:  []standing.Part{{Name: "outdoor", Temperature: 300, Standard: 0.3}}, Atmosphere: atmosphere, OffTime: 4 * 3600,
	}
	require.True(t, standing.Consistent(in, r410a.System()))
	require.False(t, standing.Consistent(in, r22.System()))
}
