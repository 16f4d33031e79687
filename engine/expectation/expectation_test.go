package expectation

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func ask(t testing.TB, designation string, k plant.Known, c plant.Conditions, scenarios ...Scenario) Question {
	t.Helper()
	r, err := refrigerant.NewCatalogue().Find(designation)
	require.NoError(t, err)
	lines, err := saturation.NewCurves(nil, "", 4).Of(r.System(), nil)
	require.NoError(t, err)
	f, err := plant.NewFluid(r.System(), lines, nil)
	require.NoError(t, err)
	return Question{Fluid: f, Saturation: lines, Priors: plant.NewPriors(), Known: k, Conditions: c, Scenarios: scenarios}
}

func of(t testing.TB, q Question) Answer {
	t.Helper()
	a, err := Of(q)
	require.NoError(t, err)
	return a
}

func air(outdoor, wet float64) plant.Conditions {
	c := plant.Rating()
	c.OutdoorDryBulb, c.ReturnWetBulb = unit.Fahrenheit(outdoor).Kelvin(), unit.Fahrenheit(wet).Kelvin()
	return c
}

func (b Band) width() float64 { return b.High - b.Low }

// The charging table of fixed orifices (Title 24 RA3, see engine/target) lies
// within the spread of healthy systems.
func TestHealthyOrificeShowsTheChargingTable(t *testing.T) {
	for _, c := range []plant.Conditions{air(75, 62), air(85, 66), air(95, 67), air(105, 70)} {
		want, err := target.Superheat(unit.Kelvin(c.OutdoorDryBulb), unit.Kelvin(c.ReturnWetBulb))
		require.NoError(t, err)
		got := of(t, ask(t, "R-22", plant.Known{Device: equipment.FixedOrifice}, c, Scenario{})).Expected[0].Quantities[circuit.Superheat]
		if w := want.Value.Kelvin(); !(got.Low <= w && w <= got.High) || got.width() > 14 {
			t.Errorf("%.0f K outdoor: superheat %+v, the table has %.2f K", c.OutdoorDryBulb, got, w)
		}
	}
}

func TestKnowingMoreNarrows(t *testing.T) {
	c := air(90, 65)
	nothing := of(t, ask(t, "R-410A", plant.Known{Device: equipment.ThermostaticValve}, c, Scenario{}))
	plate := of(t, ask(t, "R-410A", plant.Known{Device: equipment.ThermostaticValve, Subcooling: 5, SEER: 14}, c, Scenario{}))

	// One system of the same priors, its readings earlier and in other weather.
	q := ask(t, "R-410A", plant.Known{Device: equipment.ThermostaticValve}, c, Scenario{})
	u, err := q.Priors.Unit(q.Fluid, q.Known, rand.New(rand.NewPCG(99, 99)).Float64)
	require.NoError(t, err)
	then := air(80, 63)
	was, err := u.Solve(then, plant.Faults{})
	require.NoError(t, err)
	read := exact(values(was.Readings))
	for r, m := range read {
		m.Standard = 0.3
		if r.Kind() == unit.KindPressure {
			m.Standard = 5e3
		}
		read[r] = m
	}
	q.Earlier = &Earlier{then, read}
	earlier := of(t, q)
	is, err := u.Solve(c, plant.Faults{})
	require.NoError(t, err)

	subcooling := func(a Answer) Band { return a.Expected[0].Quantities[circuit.Subcooling] }
	if n, p := subcooling(nothing), subcooling(plate); !(p.width() < n.width()/2) || !(p.Low-1 < 5 && 5 < p.High+1) {
		t.Errorf("subcooling %+v, and %+v with a target of 5 K", n, p)
	}
	for _, r := range []circuit.Reading{circuit.SuctionPressure, circuit.LiquidPressure, circuit.LiquidLineTemperature} {
		n, e, truth := nothing.Expected[0].Readings[r], earlier.Expected[0].Readings[r], values(is.Readings)[r]
		if !(e.width() < n.width()*0.9) {
			t.Errorf("%s: %+v, and %+v after earlier readings", r, n, e)
		}
		if !(e.Low-0.1*n.width() <= truth && truth <= e.High+0.1*n.width()) {
			t.Errorf("%s: %+v, the system shows %g", r, e, truth)
		}
	}
	if !(earlier.Effective >= fewest && earlier.Effective < candidates/2) || nothing.Effective != systems {
		t.Errorf("effective %g of %d, %g of %d", earlier.Effective, earlier.Systems, nothing.Effective, nothing.Systems)
	}
}

// What every handbook says of charge on a fixed orifice (common practice, no
// single source).
func TestFaultsMoveReadings(t *testing.T) {
	q := ask(t, "R-22", plant.Known{Device: equipment.FixedOrifice}, plant.Rating(),
		Scenario{}, Scenario{equipment.Undercharge, 0.15}, Scenario{Fault: equipment.Overcharge}, Scenario{equipment.LowOutdoorAirflow, 0.3})
	e := of(t, q).Expected
	median := func(i int, of circuit.Quantity) float64 { return e[i].Quantities[of].Median }
	if !(median(1, circuit.Superheat) > median(0, circuit.Superheat)+2) || !(median(1, circuit.Subcooling) < median(0, circuit.Subcooling)) {
		t.Error("undercharge does not raise superheat and lower subcooling")
	}
	if !(median(2, circuit.Superheat) < median(0, circuit.Superheat)) || !(median(2, circuit.Subcooling) > median(0, circuit.Subcooling)) {
		t.Error("overcharge does not lower superheat and raise subcooling")
	}
	if !(median(3, circuit.CondensingOverAmbient) > median(0, circuit.CondensingOverAmbient)+1) || !(e[3].Power.Median > 1) {
		t.Error("less air does not raise the condensing temperature and the power")
	}
	if e[0].Capacity != (Band{1, 1, 1}) || !(e[1].Capacity.Median < 1) {
		t.Errorf("capacity %+v, undercharged %+v", e[0].Capacity, e[1].Capacity)
	}
	if e[1].Severity != (Band{0.15, 0.15, 0.15}) || !(e[2].Severity.width() > 0) {
		t.Errorf("severities %+v, %+v", e[1].Severity, e[2].Severity)
	}
}

func TestExample(t *testing.T) {
	q := ask(t, "R-454B", plant.Known{Device: equipment.ElectronicValve}, plant.Rating(), Scenario{})
	one, err := Example(q, Scenario{Fault: equipment.Undercharge}, 7)
	require.NoError(t, err)
	again, err := Example(q, Scenario{Fault: equipment.Undercharge}, 7)
	require.NoError(t, err)
	if !reflect.DeepEqual(one, again) {
		t.Errorf("the same seed gives %v and %v", one, again)
	}
	other, err := Example(q, Scenario{Fault: equipment.Undercharge}, 8)
	require.NoError(t, err)
	if reflect.DeepEqual(one, other) {
		t.Errorf("another seed gives %v", other)
	}
	if d := one[circuit.OutdoorDryBulb] - q.Conditions.OutdoorDryBulb; d == 0 || !(math.Abs(d) <= 1) {
		t.Errorf("the outdoor thermometer is off by %g K", d)
	}
}

func TestRefusals(t *testing.T) {
	q := ask(t, "R-22", plant.Known{Device: equipment.FixedOrifice}, plant.Rating(), Scenario{})
	q.Stop = func() bool { return true }
	if _, err := Of(q); !errors.Is(err, ErrStopped) {
		t.Errorf("stopped: %v", err)
	}
	q.Stop = nil
	q.Conditions.OutdoorDryBulb = 500
	if _, err := Of(q); !errors.Is(err, ErrInput) {
		t.Errorf("500 K: %v", err)
	}
	if _, err := Example(q, Scenario{}, 1); !errors.Is(err, ErrInput) {
		t.Errorf("500 K: %v", err)
	}
	q = ask(t, "R-22", plant.Known{Device: equipment.FixedOrifice}, plant.Rating(), Scenario{Fault: "gremlins"})
	if _, err := Of(q); !errors.Is(err, ErrInput) {
		t.Errorf("an unknown fault: %v", err)
	}
	q.Scenarios = []Scenario{{equipment.Undercharge, 5}}
	if _, err := Of(q); !errors.Is(err, ErrInput) {
		t.Errorf("five times the charge lost: %v", err)
	}
}

func TestBand(t *testing.T) {
	var even, heavy sample
	for i := range 101 {
		even.add(float64(100-i), 1)
	}
	for _, x := range []float64{3, 1, 2} {
		heavy.add(x, x*x)
	}
	// Points stand in the middle of their weight: 50.5 +- 0.475 of 101.
	if b := even.band(); !(math.Abs(b.Median-50) <= 1e-12) || !(math.Abs(b.Low-(101*0.025-0.5)) <= 1e-12) || !(math.Abs(b.High-(101*0.975-0.5)) <= 1e-12) {
		t.Errorf("%+v", b)
	}
	// Middles at 0.5, 3 and 9.5 of 14: the median lies (7-3)/6.5 from 2 to 3.
	if b := heavy.band(); !(math.Abs(b.Median-(2+4/6.5)) <= 1e-12) || b.Low != 1 || b.High != 3 {
		t.Errorf("%+v", b)
	}
}

func BenchmarkCompareAll(b *testing.B) {
	var all []Scenario
	for _, f := range equipment.Faults() {
		all = append(all, Scenario{Fault: f})
	}
	q := ask(b, "R-454B", plant.Known{Device: equipment.ThermostaticValve}, air(88, 64), append(all, Scenario{})...)
	for b.Loop() {
		of(b, q)
	}
}
