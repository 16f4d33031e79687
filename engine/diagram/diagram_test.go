package diagram_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagram"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

var (
	catalogue = refrigerant.NewCatalogue()
	curves    = saturation.NewCurves(nil, "test", 200)
)

// fluid is a refrigerant with its lines.
type fluid struct {
	*refrigerant.Refrigerant
	lines saturation.Lines
	zero  float64
}

func find(t testing.TB, designation string) fluid {
	t.Helper()
	r, err := catalogue.Find(designation)
	require.NoError(t, err)
	lines, err := curves.Of(r.System(), nil)
	require.NoError(t, err)
	ref, err := r.Reference()
	require.NoError(t, err)
	return fluid{r, lines, ref.Enthalpy}
}

// fahrenheit are the isotherms of an inch-pound diagram.
var fahrenheit = diagram.Options{Origin: unit.Fahrenheit(0).Kelvin(), Step: 40 / 1.8}

func (f fluid) draw(t testing.TB, o diagram.Options) diagram.Diagram {
	t.Helper()
	d, err := diagram.Draw(f.Refrigerant, f.lines, o)
	require.NoError(t, err, "%s", f.Designation)
	return d
}

// shown is an enthalpy of the equation as it is drawn.
func (f fluid) shown(molar float64) float64 { return molar/f.MolarMass() + f.zero }

// Every refrigerant has a diagram whose numbers are finite, in the window
// where that is promised, and few.
func TestEveryRefrigerantHasADiagram(t *testing.T) {
	names := []string{"R-22", "R-32", "R-134a", "R-290", "R-404A", "R-407C", "R-410A", "R-454C", "R-507A", "R-717", "R-718", "R-744", "R-1234yf", "R-14", "R-508B"}
	if os.Getenv("KNURL_FULL") != "" {
		names = nil
		for _, r := range catalogue.All() {
			names = append(names, r.Designation)
		}
	}
	for _, name := range names {
		f := find(t, name)
		d := f.draw(t, fahrenheit)
		w := d.Window
		if !(w.Lowest > 0 && w.Lowest < w.Highest && w.Left < w.Right) {
			t.Errorf("%s: window %+v", name, w)
		}
		total := 0
		finite := func(p diagram.Point) {
			total++
			if !(math.Abs(p.Enthalpy) < 1e8 && p.Pressure >= w.Lowest*(1-1e-6) && p.Pressure <= w.Highest*(1+1e-6)) {
				t.Errorf("%s: %+v in %+v", name, p, w)
			}
		}
		for _, line := range [][]diagram.Saturated{d.Dome.Bubble, d.Dome.Dew} {
			for i, p := range line {
				finite(p.Point)
				if i > 0 {
					require.Greater(t, p.Temperature, line[i-1].Temperature, "%s", name)
					require.Greater(t, p.Pressure, line[i-1].Pressure, "%s", name)
				}
			}
		}
		if len(d.Isotherms) < 2 {
			t.Errorf("%s: %d isotherms", name, len(d.Isotherms))
		}
		drawn := 0
		for _, i := range d.Isotherms {
			if i.Err == nil {
				drawn++
			} else if !errors.Is(i.Err, equilibrium.ErrNearCritical) {
				t.Errorf("%s at %.2f K: %v", name, i.Temperature, i.Err)
			}
			for _, part := range [][]diagram.Point{i.Liquid, i.TwoPhase, i.Vapor, i.Beyond} {
				for k, p := range part {
					finite(p)
					if k > 0 && p.Pressure > part[k-1].Pressure*(1+1e-9) {
						t.Errorf("%s at %.2f K: pressure rises to %+v", name, i.Temperature, p)
					}
				}
			}
		}
		if drawn < len(d.Isotherms)-1 || total > 800 {
			t.Errorf("%s: %d of %d isotherms, %d points", name, drawn, len(d.Isotherms), total)
		}
	}
}

// The dome is what the rigorous solver says.
func TestDomeIsSaturation(t *testing.T) {
	for _, name := range []string{"R-32", "R-410A", "R-407C", "R-744"} {
		f := find(t, name)
		d := f.draw(t, fahrenheit)
		for side, line := range map[equilibrium.Line][]diagram.Saturated{equilibrium.BubbleLine: d.Dome.Bubble, equilibrium.DewLine: d.Dome.Dew} {
			for i := 0; i < len(line)-1; i += 9 {
				p, err := f.System().AtTemperature(side, line[i].Temperature)
				require.NoError(t, err)
				rho := p.Liquid.Density
				if side == equilibrium.DewLine {
					rho = p.Vapor.Density
				}
				h := f.shown(f.System().Caloric(p.Temperature, rho).Enthalpy)
				if !near.Abs(line[i].Pressure/p.Pressure, 1, 1e-6) || !near.Abs(line[i].Enthalpy, h, 1) {
					t.Errorf("%s: %+v, want %.8g Pa %.8g J/kg (rigorous solver)", name, line[i], p.Pressure, h)
				}
			}
		}
		// A pure fluid's dome closes at the critical point.
		if c := d.Dome.Critical; f.Pure() && !near.Abs(line(d.Dome.Bubble).Pressure/c.Pressure, 1, 1e-3) {
			t.Errorf("%s: bubble line ends at %+v, critical point %+v", name, line(d.Dome.Bubble), c)
		}
	}
}

func line(l []diagram.Saturated) diagram.Saturated { return l[len(l)-1] }

func TestReferenceOfEnthalpy(t *testing.T) {
	// IIR: bubble liquid at 0 degC has 200 kJ/kg.
	f := find(t, "R-22")
	d := f.draw(t, diagram.Options{Origin: 273.15, Step: 20})
	for _, i := range d.Isotherms {
		if near.Abs(i.Temperature, 273.15, 1e-9) {
			if got := i.TwoPhase[0].Enthalpy; !near.Abs(got, 200e3, 1) {
				t.Errorf("bubble liquid at 0 degC: %.7g J/kg, want 200000 (IIR reference state)", got)
			}
			// Latent heat of R-22 at 0 degC.
			if got := i.TwoPhase[1].Enthalpy - i.TwoPhase[0].Enthalpy; !near.Abs(got, 205.05e3, 0.5e3) {
				t.Errorf("latent heat at 0 degC: %.6g J/kg, want about 205.05e3 (ASHRAE Handbook of Fundamentals, R-22 table; from memory, unverified)", got)
			}
			return
		}
	}
	t.Error("no isotherm at 0 degC")
}

// Every point of an isotherm, put into the flash by pressure and enthalpy,
// comes back with the isotherm's temperature.
func TestIsothermsSatisfyTheEquation(t *testing.T) {
	for _, name := range []string{"R-32", "R-407C", "R-744"} {
		f := find(t, name)
		d := f.draw(t, fahrenheit)
		count := 0
		for _, i := range d.Isotherms {
			for _, part := range [][]diagram.Point{i.Liquid, i.TwoPhase, i.Vapor, i.Beyond} {
				for k := 1; k < len(part)-1; k += 4 {
					p := part[k]
					st, err := f.System().AtPressureEnthalpy(p.Pressure, (p.Enthalpy-f.zero)*f.MolarMass())
					if errors.Is(err, equilibrium.ErrNearCritical) || errors.Is(err, equilibrium.ErrNotConverged) && d.Dome.Critical.Pressure < 1.1*p.Pressure {
						continue // the flash has no answer so near the critical point
					}
					require.NoError(t, err, "%s %.2f K: %+v", name, i.Temperature, p)
					count++
					if !near.Abs(st.Temperature, i.Temperature, 1e-4) {
						t.Errorf("%s: %+v is at %.6f K, its isotherm at %.6f K", name, p, st.Temperature, i.Temperature)
					}
				}
			}
			if len(i.TwoPhase) > 0 && !f.Pure() {
				require.Greater(t, i.TwoPhase[0].Pressure, 1.02*i.TwoPhase[len(i.TwoPhase)-1].Pressure, "%s at %.2f K", name, i.Temperature)
			}
			if f.Pure() && len(i.TwoPhase) > 0 && !near.Abs(i.TwoPhase[0].Pressure/i.TwoPhase[1].Pressure, 1, 1e-6) {
				t.Errorf("%s at %.2f K: a pure fluid boils at one pressure, not %v", name, i.Temperature, i.TwoPhase)
			}
		}
		if count < 20 {
			t.Errorf("%s: %d points compared", name, count)
		}
	}
}

// reading is a value with its standard uncertainty, in K or absolute Pa.
func reading(value, standard float64) circuit.Measured {
	return circuit.Measured{Value: value, Standard: standard}
}

func (f fluid) derive(t testing.TB, readings map[circuit.Reading]circuit.Measured) *circuit.State {
	t.Helper()
	s, err := circuit.Derive(circuit.Input{Readings: readings}, f.lines)
	require.NoError(t, err)
	return &s
}

func (f fluid) circuit(t testing.TB, readings map[circuit.Reading]circuit.Measured) map[diagram.Place]diagram.State {
	t.Helper()
	o := fahrenheit
	o.Readings = f.derive(t, readings)
	d := f.draw(t, o)
	all := map[diagram.Place]diagram.State{}
	for _, s := range d.Circuit.States {
		all[s.Place] = s
		for _, p := range append(s.Region, diagram.Point{Enthalpy: s.Enthalpy.Value, Pressure: s.Pressure.Value}) {
			if s.Err == nil {
				require.Greater(t, p.Pressure, d.Window.Lowest)
				require.Less(t, p.Pressure, d.Window.Highest)
				require.Greater(t, p.Enthalpy, d.Window.Left)
				require.Less(t, p.Enthalpy, d.Window.Right)
			}
		}
	}
	return all
}

// healthy are readings of an R-410A or R-407C unit.
func (f fluid) healthy() map[circuit.Reading]circuit.Measured {
	dew, _, _ := f.lines.Dew(unit.Pascal(0.9e6))
	bubble, _, _ := f.lines.Bubble(unit.Pascal(2.4e6))
	return map[circuit.Reading]circuit.Measured{
		circuit.SuctionPressure:          reading(0.9e6, 8e3),
		circuit.SuctionLineTemperature:   reading(dew.Kelvin()+6, 0.4),
		circuit.LiquidPressure:           reading(2.4e6, 15e3),
		circuit.LiquidLineTemperature:    reading(bubble.Kelvin()-5, 0.4),
		circuit.DischargeLineTemperature: reading(bubble.Kelvin()+35, 0.4),
	}
}

// The states are the engine's own: found afresh by pressure and temperature,
// and their uncertainty by differences of it.
func TestStatesAreTheEngines(t *testing.T) {
	for _, name := range []string{"R-410A", "R-407C"} {
		f := find(t, name)
		in := f.healthy()
		states := f.circuit(t, in)
		at := func(temperature, p float64, side equilibrium.Side) float64 {
			rho, err := f.System().Density(temperature, p, side)
			require.NoError(t, err)
			return f.shown(f.System().Caloric(temperature, rho).Enthalpy)
		}
		s := f.derive(t, in)
		for _, tt := range []struct {
			place       diagram.Place
			gauge, term circuit.Reading
			side        equilibrium.Side
			phase       diagram.Phase
		}{
			{diagram.SuctionLine, circuit.SuctionPressure, circuit.SuctionLineTemperature, equilibrium.Vapor, diagram.SuperheatedVapor},
			{diagram.DischargeLine, circuit.LiquidPressure, circuit.DischargeLineTemperature, equilibrium.Vapor, diagram.SuperheatedVapor},
			{diagram.LiquidLine, circuit.LiquidPressure, circuit.LiquidLineTemperature, equilibrium.Liquid, diagram.SubcooledLiquid},
		} {
			got := states[tt.place]
			p, temperature := in[tt.gauge], in[tt.term]
			want := at(temperature.Value, p.Value, tt.side)
			require.NoError(t, got.Err, "%s %s", name, tt.place)
			require.True(t, near.Abs(got.Enthalpy.Value, want, 1e-3), "%s %s: %+v, want %.8g J/kg (density and caloric properties at p, T)", name, tt.place, got, want)
			require.Equal(t, tt.phase, got.Phase, "%s %s", name, tt.place)
			require.False(t, got.NotResolved, "%s %s", name, tt.place)
			byT := (at(temperature.Value+0.01, p.Value, tt.side) - at(temperature.Value-0.01, p.Value, tt.side)) / 0.02
			byP := (at(temperature.Value, p.Value+100, tt.side) - at(temperature.Value, p.Value-100, tt.side)) / 200
			if u := math.Hypot(byT*temperature.Standard, byP*p.Standard); !near.Abs(s.Standard(got.Enthalpy)/u, 1, 1e-4) {
				t.Errorf("%s %s: standard uncertainty %g J/kg, want %g (central differences)", name, tt.place, s.Standard(got.Enthalpy), u)
			}
		}
		after, liquid := states[diagram.AfterExpansion], states[diagram.LiquidLine]
		require.NoError(t, after.Err, "%s", name)
		require.Equal(t, liquid.Enthalpy.Value, after.Enthalpy.Value, "%s", name)
		require.Equal(t, diagram.TwoPhase, after.Phase, "%s", name)
		flash, err := f.System().AtPressureEnthalpy(0.9e6, (liquid.Enthalpy.Value-f.zero)*f.MolarMass())
		require.NoError(t, err)
		mass := flash.VaporFraction * f.System().Mixture().MolarMass(flash.Vapor.X) / f.MolarMass()
		if !near.Abs(after.Temperature.Value, flash.Temperature, 1e-6) || !near.Abs(after.VaporFraction.Value, mass, 1e-9) || !(mass > 0.1 && mass < 0.5) {
			t.Errorf("%s: after expansion %.5f K, %.6f vapor; flash %.5f K, %.6f", name, after.Temperature.Value, after.VaporFraction.Value, flash.Temperature, mass)
		}
	}
}

// A region lies around its state and holds what its ellipse maps to; where it
// reaches over the dome it is cut along it.
func TestRegions(t *testing.T) {
	f := find(t, "R-410A")
	dew, _, err := f.lines.Dew(unit.Pascal(0.9e6))
	require.NoError(t, err)
	for _, tt := range []struct {
		superheat float64
		cut       bool
		resolved  bool
	}{{8, false, true}, {1, true, true}, {0.05, true, true}, {-0.5, true, false}} {
		got := f.circuit(t, map[circuit.Reading]circuit.Measured{
			circuit.SuctionPressure:        reading(0.9e6, 10e3),
			circuit.SuctionLineTemperature: reading(dew.Kelvin()+tt.superheat, 0.5),
		})[diagram.SuctionLine]
		require.Equal(t, tt.cut, got.NotResolved, "superheat %g K", tt.superheat)
		require.Equal(t, tt.resolved, got.Err == nil, "superheat %g K", tt.superheat)
		if !tt.resolved {
			require.ErrorIs(t, got.Err, diagram.ErrTwoPhase, "superheat %g K", tt.superheat)
			require.Nil(t, got.Region, "superheat %g K", tt.superheat)
			require.Equal(t, diagram.TwoPhase, got.Phase, "superheat %g K", tt.superheat)
			continue
		}
		if len(got.Region) < 10 {
			t.Errorf("superheat %g K: outline of %d points", tt.superheat, len(got.Region))
		}
		widest, onDome := 0.0, 0
		for _, p := range got.Region {
			d, err := f.lines.AtPressure(equilibrium.DewLine, p.Pressure)
			require.NoError(t, err)
			over := p.Enthalpy - f.shown(d.Enthalpy)
			if !(over > -1) {
				t.Errorf("superheat %g K: %+v lies %g J/kg inside the dome", tt.superheat, p, -over)
			}
			if over < 1 {
				onDome++
			}
			widest = max(widest, math.Abs(p.Pressure-0.9e6))
		}
		if tt.cut != (onDome >= 5) {
			t.Errorf("superheat %g K: %d points on the dome", tt.superheat, onDome)
		}
		// 2.4477 is the root of the 95 % quantile of chi-squared for two
		// degrees of freedom, 5.9915 (Abramowitz & Stegun, table 26.8).
		if want := 2.4477 * 10e3; !tt.cut && !near.Abs(widest/want, 1, 1e-4) {
			t.Errorf("the region reaches %g Pa, want %g", widest, want)
		}
	}
}

// A transcritical circuit has no dome at its high pressure.
func TestAboveTheCriticalPressure(t *testing.T) {
	f := find(t, "R-744")
	states := f.circuit(t, map[circuit.Reading]circuit.Measured{
		circuit.SuctionPressure:          reading(3.5e6, 2e4),
		circuit.SuctionLineTemperature:   reading(283, 0.4),
		circuit.DischargePressure:        reading(9.5e6, 5e4),
		circuit.DischargeLineTemperature: reading(368, 0.5),
		circuit.LiquidLineTemperature:    reading(308, 0.4),
	})
	for place, phase := range map[diagram.Place]diagram.Phase{
		diagram.SuctionLine: diagram.SuperheatedVapor, diagram.DischargeLine: diagram.Supercritical,
		diagram.LiquidLine: diagram.Supercritical, diagram.AfterExpansion: diagram.TwoPhase,
	} {
		s := states[place]
		require.NoError(t, s.Err, "%s", place)
		require.Equal(t, phase, s.Phase, "%s", place)
		require.False(t, s.NotResolved, "%s", place)
		require.NotEmpty(t, s.Region, "%s", place)
	}
}

func TestPartialReadings(t *testing.T) {
	f := find(t, "R-410A")
	all := f.healthy()
	o := fahrenheit
	o.Readings = f.derive(t, map[circuit.Reading]circuit.Measured{circuit.SuctionPressure: all[circuit.SuctionPressure], circuit.LiquidLineTemperature: all[circuit.LiquidLineTemperature]})
	c := f.draw(t, o).Circuit
	require.Empty(t, c.States)
	require.Empty(t, c.Legs)
	require.Len(t, c.Levels, 1)
	require.Len(t, c.Lacks, 5)
	o.Readings = f.derive(t, all)
	c = f.draw(t, o).Circuit
	require.Len(t, c.States, 4)
	require.Len(t, c.Legs, 4)
	require.Len(t, c.Levels, 2)
	require.Empty(t, c.Lacks)
	require.True(t, c.LiquidForDischarge, "%+v", c)
	require.False(t, c.DischargeForLiquid, "%+v", c)
}

func TestStopsAndRefuses(t *testing.T) {
	f := find(t, "R-407C")
	for after := range 3 {
		o, asked := fahrenheit, 0
		o.Stop = func() bool { asked++; return asked > 20*after }
		if _, err := diagram.Draw(f.Refrigerant, f.lines, o); !errors.Is(err, saturation.ErrStopped) {
			t.Errorf("stopped at question %d: %v", 20*after, err)
		}
	}
	for _, step := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := diagram.Draw(f.Refrigerant, f.lines, diagram.Options{Step: step}); !errors.Is(err, diagram.ErrStep) {
			t.Errorf("step %g: %v", step, err)
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	for _, name := range []string{"R-32", "R-410A", "R-407A", "R-448A"} {
		f := find(b, name)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				f.draw(b, fahrenheit)
			}
		})
	}
}

func ExampleDraw() {
	r, err := catalogue.Find("R-32")
	if err != nil {
		panic(err)
	}
	d, err := diagram.Draw(r, saturation.Rigorous(r.System()), diagram.Options{Origin: 273.15, Step: 20})
	if err != nil {
		panic(err)
	}
	boils := d.Isotherms[2].TwoPhase[0]
	fmt.Printf("%.2f K: boils at %.0f kPa with %.1f kJ/kg\n", d.Isotherms[2].Temperature, boils.Pressure/1e3, boils.Enthalpy/1e3)
	// Output: 273.15 K: boils at 813 kPa with 200.0 kJ/kg
}

// Whatever is read, a diagram comes out whose numbers are finite, or an error:
// states either have an enthalpy or say why not.
func TestAnyReadings(t *testing.T) {
	names := []string{"R-410A", "R-407C", "R-744", "R-454C", "R-32", "R-717"}
	r := rand.New(rand.NewPCG(1, 2))
	count := 30
	if os.Getenv("KNURL_FULL") != "" {
		count = 3000
	}
	for range count {
		f := find(t, names[r.IntN(len(names))])
		c, err := f.System().Critical()
		require.NoError(t, err)
		in := map[circuit.Reading]circuit.Measured{}
		for _, q := range []circuit.Reading{circuit.SuctionPressure, circuit.LiquidPressure, circuit.DischargePressure} {
			p := c.Pressure * math.Exp(-6*r.Float64()) * 1.5
			in[q] = reading(p, p*0.2*r.Float64()*r.Float64())
		}
		for _, q := range []circuit.Reading{circuit.SuctionLineTemperature, circuit.LiquidLineTemperature, circuit.DischargeLineTemperature} {
			in[q] = reading(c.Temperature*(0.6+0.6*r.Float64()), 20*r.Float64()*r.Float64())
		}
		o := fahrenheit
		o.Readings = f.derive(t, in)
		d := f.draw(t, o)
		for _, s := range d.Circuit.States {
			if s.Err != nil {
				continue
			}
			u := o.Readings.Standard(s.Enthalpy)
			if !(math.Abs(s.Enthalpy.Value) < 1e7 && u >= 0 && u < 1e7 && s.Temperature.Value > 0) {
				t.Errorf("%s: %+v of %+v", f.Designation, s, in)
			}
			for _, p := range s.Region {
				if !(p.Pressure > 0 && math.Abs(p.Enthalpy) < 1e8) {
					t.Errorf("%s %s: region at %+v of %+v", f.Designation, s.Place, p, in)
				}
			}
		}
	}
}
