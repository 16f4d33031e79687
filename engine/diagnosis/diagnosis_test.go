package diagnosis

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// invented is a made-up refrigerant without glide: ln p = 22 - 2250 K/T.
type invented struct{}

func (invented) Dew(p unit.Pressure) (unit.Temperature, float64, error) {
	t := 2250 / (22 - math.Log(p.Pascal()))
	return unit.Kelvin(t), t * t / (2250 * p.Pascal()), nil
}
func (i invented) Bubble(p unit.Pressure) (unit.Temperature, float64, error) { return i.Dew(p) }

// gauge is a gauge's reading at a saturation temperature in K, with the
// standard uncertainty that makes it uncertain by u kelvins.
func gauge(t, u float64) circuit.Measured {
	p := math.Exp(22 - 2250/t)
	return circuit.Measured{Value: p, Standard: u * p * 2250 / (t * t), Gauge: true}
}

// reads are the plain readings of a system, in degF.
type reads struct {
	evaporating, suctionLine, condensing, liquidLine, outdoor, dry, wet, supply float64
}

// The healthy system: 95 degF outdoor, 80/67 return. By the tables that asks
// for 12.0 degF of superheat and a split of 18.3 degF (from memory,
// unverified).
var healthyFixed = reads{evaporating: 45, suctionLine: 57, condensing: 115, liquidLine: 105, outdoor: 95, dry: 80, wet: 67, supply: 61.7}

func healthyValve() reads {
	r := healthyFixed
	r.suctionLine = r.evaporating + 14.5 // the middle of the band that proves the valve
	return r
}

const kelvins = 5. / 9.

// input makes the question; scale multiplies every instrument's uncertainty.
func (r reads) input(t testing.TB, d equipment.MeteringDevice, scale float64, drop ...circuit.Reading) Input {
	t.Helper()
	f := func(v float64) float64 { return unit.Fahrenheit(v).Kelvin() }
	all := map[circuit.Reading]circuit.Measured{
		circuit.SuctionPressure:        gauge(f(r.evaporating), 0.8*kelvins*scale),
		circuit.SuctionLineTemperature: {Value: f(r.suctionLine), Standard: kelvins * scale},
		circuit.LiquidPressure:         gauge(f(r.condensing), 0.6*kelvins*scale),
		circuit.LiquidLineTemperature:  {Value: f(r.liquidLine), Standard: kelvins * scale},
		circuit.OutdoorDryBulb:         {Value: f(r.outdoor), Standard: 0.5 * kelvins * scale},
		circuit.ReturnDryBulb:          {Value: f(r.dry), Standard: 0.5 * kelvins * scale},
		circuit.ReturnWetBulb:          {Value: f(r.wet), Standard: 0.75 * kelvins * scale},
		circuit.SupplyDryBulb:          {Value: f(r.supply), Standard: 0.5 * kelvins * scale},
	}
	for _, x := range drop {
		delete(all, x)
	}
	s, err := circuit.Derive(circuit.Input{Readings: all, Site: circuit.Measured{Value: 1e5, Standard: 500 * scale}}, invented{})
	require.NoError(t, err)
	settled := unit.Second(900)
	in := Input{State: &s, Traits: signature.Traits{Dry: 0.6, Lift: 1.02}, Device: d, RunningTime: &settled, Efficiency: &Efficiency{"SEER", 14}}
	if wet, ok := s.Reading(circuit.ReturnWetBulb); ok {
		in.WetBulb = &wet
	}
	if !d.Fixed() {
		in.Subcooling = &ManufacturerTarget{Value: unit.FahrenheitDiff(10)}
	}
	return in
}

func mustAssess(t testing.TB, in Input) Result {
	t.Helper()
	a, err := Assess(in)
	require.NoError(t, err)
	sum := 0.0
	for _, h := range a.Hypotheses {
		if !(h.Probability >= 0 && h.Probability <= 1) {
			t.Errorf("probability %g", h.Probability)
		}
		sum += h.Probability
	}
	if a.Weighed && !(math.Abs(sum-1) <= 1e-12) {
		t.Errorf("hypotheses sum to %g", sum)
	}
	return a
}

func (a Result) probability(f equipment.Fault) float64 {
	for _, x := range a.Findings {
		if x.Fault == f {
			return x.Probability
		}
	}
	return 0
}

func TestPlainPatterns(t *testing.T) {
	with := func(r reads, change func(*reads)) reads { change(&r); return r }
	for _, tt := range []struct {
		name    string
		r       reads
		d       equipment.MeteringDevice
		verdict Assessment
		first   equipment.Fault
		src     string
	}{
		{"healthy orifice", healthyFixed, equipment.FixedOrifice, NoFaultIndicated, "", "all figures on their targets"},
		{"healthy valve", healthyValve(), equipment.ThermostaticValve, NoFaultIndicated, "", "all figures on their targets"},
		{"superheat up, subcooling down, both pressures low", with(healthyFixed, func(r *reads) {
			r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 35, 62, 108, 105, 65
		}), equipment.FixedOrifice, FaultIndicated, equipment.Undercharge, "Rossi and Braun (1997), sign table"},
		{"superheat down, subcooling up, both pressures high", with(healthyFixed, func(r *reads) {
			r.evaporating, r.suctionLine, r.condensing, r.liquidLine = 47, 48, 118, 100
		}), equipment.FixedOrifice, FaultIndicated, equipment.Overcharge, "common practice, no single source"},
		{"split up, everything else down", with(healthyFixed, func(r *reads) {
			r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 33, 36, 110, 103, 52
		}), equipment.FixedOrifice, FaultIndicated, equipment.LowIndoorAirflow, "Rossi and Braun (1997), sign table"},
		{"condensing up, subcooling and superheat down", with(healthyFixed, func(r *reads) {
			r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 50, 53, 133, 128, 65
		}), equipment.FixedOrifice, FaultIndicated, equipment.LowOutdoorAirflow, "Rossi and Braun (1997), sign table"},
		{"superheat up with subcooling up, low side low", with(healthyFixed, func(r *reads) {
			r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 28, 62, 108, 89, 68
		}), equipment.FixedOrifice, FaultIndicated, equipment.LiquidLineRestriction, "Rossi and Braun (1997), sign table"},
		{"low side high, high side low", with(healthyFixed, func(r *reads) {
			r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 58, 60, 104, 101, 69
		}), equipment.FixedOrifice, FaultIndicated, equipment.CompressorValveLeakage, "Rossi and Braun (1997), sign table"},
		{"valve: subcooling lost, superheat held", with(healthyValve(), func(r *reads) {
			r.condensing, r.liquidLine = 110, 109
		}), equipment.ThermostaticValve, FaultIndicated, equipment.Undercharge, "Li and Braun (2007): charge shows in superheat minus subcooling"},
		{"valve: subcooling doubled, condensing up", with(healthyValve(), func(r *reads) {
			r.condensing, r.liquidLine = 121, 101
		}), equipment.ElectronicValve, FaultIndicated, equipment.Overcharge, "NIST SP 1087 table 5.2, second-hand"},
		{"valve: split up, low side low", with(healthyValve(), func(r *reads) {
			r.evaporating, r.suctionLine, r.supply = 33, 44, 53
		}), equipment.ThermostaticValve, FaultIndicated, equipment.LowIndoorAirflow, "common practice, no single source"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := mustAssess(t, tt.r.input(t, tt.d, 1))
			require.Equal(t, tt.verdict, a.Assessment)
			if tt.first != "" {
				require.Equal(t, tt.first, a.Findings[0].Fault)
			}
		})
	}
}

func TestTargetsAndTheirBases(t *testing.T) {
	a := mustAssess(t, healthyFixed.input(t, equipment.FixedOrifice, 1))
	want := map[Feature]struct {
		value, tolerance float64
		basis            Basis
		src              string
	}{
		Superheat:                       {12.0, 5, ChargingChart, "CEC 2008 RA3.2-2 at 95/67 (from memory, unverified) and RA3.2.2.6.1"},
		TemperatureSplit:                {18.3, 3, ChargingChart, "CEC 2008 RA3.2-3 at 80/67 (from memory, unverified) and RA3.2.2.7"},
		CondensingOverAmbient:           {20, 5, CommonPractice, "two-page troubleshooting sheet: SEER 13 and up, 20 degF"},
		EvaporatorTemperatureDifference: {35, 5, CommonPractice, "trade training article: 35 +- 5 at 400 cfm/ton"},
		Subcooling:                      {10, 5, CommonPractice, "common practice, no single source"},
	}
	for _, tg := range a.Targets {
		w, ok := want[tg.Feature]
		require.True(t, ok, "%s", tg.Feature)
		if v, tolerance := tg.Expected.Value/kelvins, tg.Tolerance/kelvins; !(math.Abs(v-w.value) <= 0.05 && math.Abs(tolerance-w.tolerance) <= 1e-9) {
			t.Errorf("%s: %.2f +- %.2f, want %+v (%s)", tg.Feature, v, tolerance, w, w.src)
		}
		require.Equal(t, w.basis, tg.Basis, "%s", tg.Feature)
		require.NotEmpty(t, tg.Source, "%s", tg.Feature)
		require.NotEmpty(t, tg.Status, "%s", tg.Feature)
		delete(want, tg.Feature)
	}
	for f := range want {
		t.Errorf("no target for %s", f)
	}
	valve := healthyValve().input(t, equipment.ThermostaticValve, 1)
	tolerance := unit.FahrenheitDiff(2)
	valve.Subcooling.Tolerance = &tolerance
	for _, tg := range mustAssess(t, valve).Targets {
		switch tg.Feature {
		case Subcooling:
			if tg.Basis != Manufacturer || !(math.Abs(tg.Tolerance/kelvins-2) <= 1e-9) {
				t.Errorf("the plate's subcooling: %+v", tg)
			}
		case Superheat:
			if lo, hi := (tg.Expected.Value-tg.Tolerance)/kelvins, (tg.Expected.Value+tg.Tolerance)/kelvins; !(math.Abs(lo-4) <= 1e-9) || !(math.Abs(hi-25) <= 1e-9) {
				t.Errorf("valve superheat band %g to %g, want 4 to 25 (CEC 2008 RA3.2.2.6.2, installer)", lo, hi)
			}
		}
	}
}

func TestAirflowComesBeforeCharge(t *testing.T) {
	r := healthyFixed // superheat says undercharge, split says low air flow
	r.evaporating, r.suctionLine, r.supply = 35, 62, 54
	a := mustAssess(t, r.input(t, equipment.FixedOrifice, 1))
	if s := stepNamed(a.Procedure, AirflowStep); s.Outcome != FailLowAirflow {
		t.Errorf("airflow step %+v", s)
	}
	if a.Charge != "" || !a.AirflowOpen {
		t.Errorf("charge advice %q with a split 8 degF above its target", a.Charge)
	}
	for _, f := range a.Findings {
		if slices.Contains(f.NextChecks, "weigh_in_charge") {
			t.Errorf("%s: next checks %v", f.Fault, f.NextChecks)
		}
	}
	under := healthyFixed
	under.evaporating, under.suctionLine, under.condensing, under.liquidLine, under.supply = 35, 62, 108, 105, 65
	if a := mustAssess(t, under.input(t, equipment.FixedOrifice, 1)); a.Charge != AddRefrigerant || a.AirflowOpen {
		t.Errorf("undercharge with a low split: %q, air flow open %t", a.Charge, a.AirflowOpen)
	}
	valve := healthyValve()
	valve.condensing, valve.liquidLine = 124, 97
	if a := mustAssess(t, valve.input(t, equipment.ThermostaticValve, 1)); a.Charge != RemoveRefrigerant {
		t.Errorf("valve with twice its subcooling: %q (%s %.2f)", a.Charge, a.Findings[0].Fault, a.Findings[0].Probability)
	}
	valve.condensing, valve.liquidLine = 121, 109 // subcooling 2 degF above the plate's: within the tolerance of 3
	in := valve.input(t, equipment.ThermostaticValve, 1)
	in.Prior = map[string]float64{"no_fault": 0, "overcharge": 0.97}
	if a := mustAssess(t, in); a.Charge != "" {
		t.Errorf("advice %q although the procedure passes the charge: %+v", a.Charge, a.Procedure)
	}
	a = mustAssess(t, under.input(t, equipment.FixedOrifice, 1, circuit.SupplyDryBulb))
	if a.Charge != "" || a.Findings[0].NextChecks[0] != "verify_airflow_first" {
		t.Errorf("air flow not verified: advice %q, next %v", a.Charge, a.Findings[0].NextChecks)
	}

	// Measured air flow stands before the split: 300 cfm/ton must be exceeded.
	for _, tt := range []struct {
		cfm     float64
		outcome Outcome
	}{{890, FailLowAirflow}, {1200, Pass}} {
		in := healthyFixed.input(t, equipment.FixedOrifice, 1)
		ton, _ := unit.Lookup("ton")
		cfm, _ := unit.Lookup("cfm")
		in.NominalCapacity = unit.Watt(ton.ToSI(3))
		s := withAirflow(t, healthyFixed, cfm.ToSI(tt.cfm))
		in.State = &s
		a := mustAssess(t, in)
		if got := stepNamed(a.Procedure, AirflowStep); got.Outcome != tt.outcome || got.Feature != IndoorAirflow {
			t.Errorf("%g cfm on 3 tons: %+v, want %s (CEC 2008 RA3.2.2.7)", tt.cfm, got, tt.outcome)
		}
	}
}

func withAirflow(t *testing.T, r reads, flow float64) circuit.State {
	t.Helper()
	f := func(v float64) float64 { return unit.Fahrenheit(v).Kelvin() }
	s, err := circuit.Derive(circuit.Input{Site: circuit.Measured{Value: 1e5}, Readings: map[circuit.Reading]circuit.Measured{
		circuit.SuctionPressure:        gauge(f(r.evaporating), 0.5),
		circuit.SuctionLineTemperature: {Value: f(r.suctionLine), Standard: 0.5},
		circuit.LiquidPressure:         gauge(f(r.condensing), 0.5),
		circuit.LiquidLineTemperature:  {Value: f(r.liquidLine), Standard: 0.5},
		circuit.OutdoorDryBulb:         {Value: f(r.outdoor), Standard: 0.3},
		circuit.ReturnDryBulb:          {Value: f(r.dry), Standard: 0.3},
		circuit.ReturnWetBulb:          {Value: f(r.wet), Standard: 0.4},
		circuit.IndoorAirflow:          {Value: flow, Standard: 0.05 * flow},
	}}, invented{})
	require.NoError(t, err)
	return s
}

func TestWhereTheMethodDoesNotHold(t *testing.T) {
	heating := func(in *Input) {
		s := *in.State
		s.Heating = true
		in.State = &s
	}
	no := false
	short := unit.Second(899)
	for _, tt := range []struct {
		name   string
		change func(*Input)
		reason Reason
	}{
		{"heating", heating, HeatingMode},
		{"staged", func(in *Input) { in.CapacityFixed = &no }, StageNotHeld},
		{"unknown device", func(in *Input) { in.Device = "" }, MeteringDeviceUnknown},
		{"14:59", func(in *Input) { in.RunningTime = &short }, RunningTimeTooShort},
		{"54 degF", func(in *Input) {
			r := healthyFixed
			r.outdoor = 54
			in.State = r.input(t, equipment.FixedOrifice, 1).State
		}, OutdoorBelowMethod},
		{"116 degF", func(in *Input) {
			r := healthyFixed
			r.outdoor, r.condensing, r.liquidLine = 116, 136, 126
			in.State = r.input(t, equipment.FixedOrifice, 1).State
		}, OutdoorAboveMethod},
		{"wet bulb above dry bulb", func(in *Input) {
			r := healthyFixed
			r.wet = 86
			in.State = r.input(t, equipment.FixedOrifice, 1).State
		}, ReadingCheckFailed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			in := healthyFixed.input(t, equipment.FixedOrifice, 1)
			tt.change(&in)
			a := mustAssess(t, in)
			require.Equal(t, Inconclusive, a.Assessment)
			require.Contains(t, a.Because, tt.reason)
			require.False(t, a.Weighed)
			require.Empty(t, a.Findings)
			require.Empty(t, a.Charge)
		})
	}
	equal := healthyFixed
	equal.evaporating, equal.suctionLine, equal.condensing, equal.liquidLine, equal.outdoor = 72, 74, 80, 79, 78
	if a := mustAssess(t, equal.input(t, equipment.FixedOrifice, 1)); !slices.Contains(a.Because, ReadingCheckFailed) {
		t.Errorf("gauges nearly equal: %v", a.Because)
	}
	edge := healthyFixed
	edge.outdoor, edge.condensing, edge.liquidLine, edge.suctionLine = 55, 75, 65, 45+33.8
	if a := mustAssess(t, edge.input(t, equipment.FixedOrifice, 1)); !a.Weighed {
		t.Errorf("55 degF is within the method (CEC RA3.2.1), yet %v", a.Because)
	}
	few := healthyFixed.input(t, equipment.FixedOrifice, 1, circuit.SuctionPressure, circuit.LiquidPressure)
	if a := mustAssess(t, few); !slices.Contains(a.Because, TooFewReadings) {
		t.Errorf("air readings alone: %v", a.Because)
	}
}

func TestNoTargetIsSaidWithItsReason(t *testing.T) {
	r := healthyFixed
	r.outdoor, r.wet, r.dry = 110, 58, 78
	a := mustAssess(t, r.input(t, equipment.FixedOrifice, 1))
	found := false
	for _, m := range a.Missing {
		var none *target.UnavailableError
		if m.Feature == Superheat && errors.As(m.Err, &none) && none.Reason == target.TargetTooLow {
			found = true
		}
	}
	if !found {
		t.Errorf("missing: %+v", a.Missing)
	}
	for _, tg := range a.Targets {
		if tg.Feature == Superheat {
			t.Errorf("a target superheat of %g", tg.Expected.Value)
		}
	}
	a = mustAssess(t, healthyFixed.input(t, equipment.FixedOrifice, 1, circuit.ReturnWetBulb))
	if i := slices.IndexFunc(a.Missing, func(m Missing) bool { return m.Feature == Superheat }); i < 0 || !slices.Equal(a.Missing[i].Readings, []circuit.Reading{circuit.ReturnWetBulb}) {
		t.Errorf("missing without a wet bulb: %+v", a.Missing)
	}
	if len(a.Next) == 0 || !slices.ContainsFunc(a.Next, func(x Measurement) bool { return x.Readings[0] == circuit.ReturnWetBulb && x.Information > 0 }) {
		t.Errorf("next measurement: %+v", a.Next)
	}
}

func TestPrior(t *testing.T) {
	in := healthyFixed.input(t, equipment.FixedOrifice, 1)
	sum := func(p map[string]float64) float64 {
		s := 0.0
		for name, v := range p {
			if name != TwoFaults {
				s += v
			}
		}
		return s
	}
	for _, given := range []map[string]float64{
		nil,
		{"no_fault": 0.3, "undercharge": 0.1},
		{"no_fault": 0.3, "undercharge": 0.1, "overcharge": 0.1, "low_indoor_airflow": 0.1, "low_outdoor_airflow": 0.1,
			"liquid_line_restriction": 0.1, "non_condensables": 0.1, "compressor_valve_leakage": 0.1},
		{"unexplained": 0},
		{"no_fault": 1},
		{"unexplained": 0.5, "no_fault": 0.5},
	} {
		in.Prior = given
		a := mustAssess(t, in)
		if !(math.Abs(sum(a.Prior)-1) <= 1e-9) {
			t.Errorf("%v became %v", given, a.Prior)
		}
	}
	in.Prior = map[string]float64{"no_fault": 0.3, "undercharge": 0.1}
	if a := mustAssess(t, in); !(math.Abs(a.Prior["no_fault"]-0.3) <= 1e-12) || !(math.Abs(a.Prior["undercharge"]-0.1) <= 1e-12) {
		t.Errorf("named shares changed: %v", a.Prior)
	}
	in.Prior = map[string]float64{"overcharge": 0}
	if a := mustAssess(t, in); a.probability(equipment.Overcharge) != 0 {
		t.Errorf("an impossible fault has probability %g", a.probability(equipment.Overcharge))
	}
	for _, bad := range []map[string]float64{
		{"no_fault": 1.1}, {"leak": 0.1}, {"two_faults": 1.5}, {"no_fault": math.NaN()}, {"undercharge": -0.1}, {"no_fault": 0.6, "undercharge": 0.6},
	} {
		in.Prior = bad
		var p *PriorError
		if _, err := Assess(in); !errors.As(err, &p) || !errors.Is(err, ErrInput) {
			t.Errorf("%v: %v", bad, err)
		}
	}
	pairs := func(share float64) float64 {
		in.Prior = map[string]float64{"two_faults": share}
		sum := 0.0
		for _, h := range mustAssess(t, in).Hypotheses {
			if len(h.Faults) == 2 {
				sum += h.Probability
			}
		}
		return sum
	}
	if none, some, many := pairs(0), pairs(0.1), pairs(0.5); none != 0 || !(some > 0 && many > 2*some) {
		t.Errorf("two faults at once have %g, %g and %g", none, some, many)
	}
	in.Prior = map[string]float64{"leak": 0.1, "undercharge": 2}
	_, err := Assess(in)
	if joined, ok := err.(interface{ Unwrap() []error }); !ok || len(joined.Unwrap()) != 2 {
		t.Errorf("both entries should be named: %v", err)
	}
	if _, err := Assess(Input{}); !errors.Is(err, ErrInput) {
		t.Errorf("no state: %v", err)
	}
}

// Leaving a reading out must be the same as averaging over all it could have
// shown: the density of what is left is the integral over what is dropped.
func TestDroppingIsMarginalising(t *testing.T) {
	r := healthyFixed
	r.evaporating, r.suctionLine, r.condensing = 38, 58, 111
	m := reference()
	prior := mustAssess(t, r.input(t, equipment.FixedOrifice, 1)).Prior
	for _, drop := range []struct {
		reading    circuit.Reading
		coordinate signature.Coordinate
	}{
		{circuit.SuctionPressure, signature.SuctionDew}, {circuit.SuctionLineTemperature, signature.SuctionLine},
		{circuit.LiquidPressure, signature.LiquidBubble}, {circuit.SupplyDryBulb, signature.SupplyDry},
	} {
		full := m.observe(r.input(t, equipment.FixedOrifice, 1))
		all := full.weigh(m, families()[equipment.FixedOrifice], prior)
		at := full.where(drop.coordinate)
		centre := full.value[at]
		const points, span = 1500, 150.
		integral := make([]float64, len(all))
		for i := range points + 1 {
			full.value[at] = centre - span + 2*span*float64(i)/points
			for k, w := range full.weigh(m, families()[equipment.FixedOrifice][:9], prior) {
				integral[k] += math.Exp(w.log) * 2 * span / points
			}
		}
		rest := m.observe(r.input(t, equipment.FixedOrifice, 1, drop.reading)).weigh(m, families()[equipment.FixedOrifice], prior)
		for k := range 9 {
			if want := math.Exp(rest[k].log); !(math.Abs(integral[k]-want) <= 1e-4*want) {
				t.Errorf("%s without %v: integral %g, density %g", all[k].name, drop.reading, integral[k], want)
			}
		}
	}
}

// What one quantity says given the others is what is lost by leaving it out.
func TestWithoutIsLeavingOut(t *testing.T) {
	m := reference()
	rng := rand.New(rand.NewPCG(3, 5))
	for range 50 {
		const n = 5
		a, r := random(rng, n)
		var f cholesky
		f.factorize(n, &a)
		z, q := f.whiten(&r)
		c := m.tails.conditionals(&f, &z, q)
		whole := m.tails.log(f.rank, f.lnRoot, q)
		for drop := range n {
			var b matrix
			var v vector
			for i := range n - 1 {
				k := i
				if i >= drop {
					k++
				}
				v[i] = r[k]
				for j := range n - 1 {
					l := j
					if j >= drop {
						l++
					}
					b[i][j] = a[k][l]
				}
			}
			var g cholesky
			g.factorize(n-1, &b)
			_, p := g.whiten(&v)
			if want := whole - m.tails.log(g.rank, g.lnRoot, p); !(math.Abs(c[drop]-want) <= 1e-9) {
				t.Errorf("quantity %d says %g, leaving it out costs %g", drop, c[drop], want)
			}
		}
	}
}

// random gives a covariance of n quantities and a residual.
func random(rng *rand.Rand, n int) (a matrix, r vector) {
	var root matrix
	for i := range n {
		for j := range n {
			root[i][j] = rng.NormFloat64()
		}
		r[i] = rng.NormFloat64()
	}
	for i := range n {
		for j := range n {
			for k := range n {
				a[i][j] += root[i][k] * root[j][k]
			}
		}
		a[i][i] += 0.1
	}
	return a, r
}

// A copy that is wholly determined by what is there already says nothing.
func TestCopiesSayNothing(t *testing.T) {
	m := reference()
	rng := rand.New(rand.NewPCG(3, 5))
	density := func(n int, a *matrix, r *vector) float64 {
		var f cholesky
		f.factorize(n, a)
		_, q := f.whiten(r)
		return m.tails.log(f.rank, f.lnRoot, q)
	}
	for range 50 {
		const n = 4
		a, r := random(rng, n)
		want := density(n, &a, &r)
		// quantity n is twice the first less the third
		mix := vector{2, 0, -1, 0}
		b, q := a, r
		for i := range n {
			for k := range n {
				b[n][i] += mix[k] * a[k][i]
			}
			b[i][n] = b[n][i]
			q[n] += mix[i] * r[i]
		}
		for k := range n {
			b[n][n] += mix[k] * b[k][n]
		}
		if got := density(n+1, &b, &q); !(math.Abs(got-want) <= 1e-6) {
			t.Errorf("log density %g with a copy, %g without", got, want)
		}
	}
}

// Student's density in one dimension at ten degrees of freedom, from its
// definition with gamma functions written out.
func TestStudentDensity(t *testing.T) {
	s := newStudent(10)
	scale := math.Sqrt(10. / 8) // standard deviation of t with unit scale
	// Gamma(11/2) = 945/32 sqrt(pi), Gamma(5) = 24
	atZero := 945. / 32 / 24 / math.Sqrt(10)
	for _, x := range []float64{0, 1, 2, 5} {
		want := math.Log(atZero) - 5.5*math.Log1p(x*x/10)
		got := s.log(1, math.Log(scale), x*x/(scale*scale))
		if !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("at %g: %g, want %g", x, got, want)
		}
	}
}

// Two quantities from one pressure count less than two independent ones would.
func TestCommonErrorCountsOnce(t *testing.T) {
	r := vector{2, 2}
	square := func(s matrix) float64 {
		var f cholesky
		f.factorize(2, &s)
		_, q := f.whiten(&r)
		return q
	}
	if shared, apart := square(matrix{{1, 0.9}, {0.9, 1}}), square(matrix{{1, 0}, {0, 1}}); !(shared < 0.6*apart) {
		t.Errorf("evidence of a common error %g, of independent ones %g", shared, apart)
	}
}

func TestLossesDecide(t *testing.T) {
	r := healthyFixed
	r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 35, 62, 108, 105, 65
	in := r.input(t, equipment.FixedOrifice, 1)
	usual := mustAssess(t, in)
	require.Equal(t, FaultIndicated, usual.Assessment)
	require.Less(t, usual.LossOfFault, usual.LossOfNone)
	require.Less(t, usual.LossOfFault, usual.LossOfOpen)
	in.Losses = map[string]float64{FalseAlarm: 1e6}
	a := mustAssess(t, in)
	require.NotEqual(t, FaultIndicated, a.Assessment, "a ruinous false alarm is risked")
	require.Equal(t, 1e6, a.Losses[FalseAlarm], "a ruinous false alarm is risked")
	require.Equal(t, usual.Losses[MissedFault], a.Losses[MissedFault], "a ruinous false alarm is risked")
	in.Losses = map[string]float64{Undecided: 1e6, MissedFault: 0}
	if a := mustAssess(t, in); a.Assessment != NoFaultIndicated {
		t.Errorf("where missing costs nothing: %s", a.Assessment)
	}
	in.Losses = map[string]float64{"worry": 1, FalseAlarm: math.NaN()}
	_, err := Assess(in)
	var bad *LossError
	joined, ok := err.(interface{ Unwrap() []error })
	require.True(t, ok, "both entries should be named")
	require.Len(t, joined.Unwrap(), 2, "both entries should be named")
	require.ErrorAs(t, err, &bad, "both entries should be named")
	require.ErrorIs(t, err, ErrInput, "both entries should be named")
}

func TestPlan(t *testing.T) {
	r := healthyFixed
	r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 35, 62, 108, 105, 65
	before := r.input(t, equipment.FixedOrifice, 1, circuit.SuctionPressure, circuit.LiquidPressure)
	a, list, err := Plan(before)
	require.NoError(t, err)
	again, same, _ := Plan(before)
	if !slices.EqualFunc(list, same, func(x, y Measurement) bool {
		return x.Information == y.Information && x.ChangesAdvice == y.ChangesAdvice
	}) || again.NoFault != a.NoFault {
		t.Error("equal questions have different plans")
	}
	single := map[circuit.Reading]float64{}
	both := -1.
	limit := 0.0
	for _, h := range a.Hypotheses {
		if h.Probability > 0 {
			limit -= h.Probability * math.Log(h.Probability)
		}
	}
	for _, x := range list {
		if !(x.Information >= 0 && x.Information <= limit && x.ChangesAdvice >= 0 && x.ChangesAdvice <= 1) {
			t.Errorf("%v tells %g of %g nats and changes the advice with %g", x.Readings, x.Information, limit, x.ChangesAdvice)
		}
		for _, y := range x.Readings {
			if _, read := before.State.Reading(y); read {
				t.Errorf("%v was read already", y)
			}
		}
		if len(x.Readings) == 2 {
			both = x.Information
		} else {
			single[x.Readings[0]] = x.Information
		}
	}
	// Two readings tell no less than either; the draws leave a little noise.
	if !(both >= max(single[circuit.SuctionPressure], single[circuit.LiquidPressure])-0.05) || len(single) < 5 {
		t.Errorf("both pressures tell %g, alone %g and %g", both, single[circuit.SuctionPressure], single[circuit.LiquidPressure])
	}
	if _, list, _ = Plan(r.input(t, equipment.FixedOrifice, 1)); slices.ContainsFunc(list, func(x Measurement) bool { return len(x.Readings) > 1 }) {
		t.Error("gauges are proposed where they are on")
	}
}

func TestSharperInstrumentsDecideMore(t *testing.T) {
	r := healthyFixed
	r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 35, 62, 108, 105, 65
	last := 0.0
	for _, scale := range []float64{6, 3, 1.5, 1, 0.5, 0.1, 0} {
		p := 1 - mustAssess(t, r.input(t, equipment.FixedOrifice, scale)).NoFault
		if !(p >= last-1e-3) {
			t.Errorf("at %g times the uncertainty a fault has %g, before %g", scale, p, last)
		}
		last = p
	}
	vague := mustAssess(t, r.input(t, equipment.FixedOrifice, 50))
	if !(math.Abs(vague.NoFault-vague.Prior[NoFault]) <= 0.15) {
		t.Errorf("readings that say nothing leave no fault at %g, prior %g", vague.NoFault, vague.Prior[NoFault])
	}
}

func TestEvidencePointsTheRightWay(t *testing.T) {
	r := healthyFixed
	r.evaporating, r.suctionLine, r.condensing, r.liquidLine, r.supply = 33, 36, 110, 103, 52
	f := mustAssess(t, r.input(t, equipment.FixedOrifice, 1)).Findings[0]
	i := slices.IndexFunc(f.Evidence, func(p Evidence) bool { return p.Quantity == string(TemperatureSplit) })
	require.Equal(t, equipment.LowIndoorAirflow, f.Fault, "a split 10 degF above its target should pull to low air flow")
	require.GreaterOrEqual(t, i, 0, "a split 10 degF above its target should pull to low air flow")
	require.Greater(t, f.Evidence[i].Weight, 1.0, "a split 10 degF above its target should pull to low air flow")
	if s := f.Severity; !(s.Low >= 0.1 && s.Low <= s.Likely && s.Likely <= s.High && s.High <= 0.5) {
		t.Errorf("severity %+v outside what was weighed", s)
	}
}

func TestWithinTolerance(t *testing.T) {
	a := mustAssess(t, healthyFixed.input(t, equipment.FixedOrifice, 1))
	for _, d := range a.Deviations {
		if !(d.WithinTolerance > 0.9) {
			t.Errorf("%s on its target passes with probability %g", d.Feature, d.WithinTolerance)
		}
	}
	// +-1 standard deviation hold 68.27 % of a normal distribution (any table)
	if got := between(0, 1, -1, 1); !(math.Abs(got-0.682689) <= 1e-6) {
		t.Errorf("between -1 and 1: %g", got)
	}
}

func ExampleAssess() {
	short := unit.Second(300)
	s, err := circuit.Derive(circuit.Input{}, invented{})
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := Assess(Input{State: &s, Traits: signature.Traits{Dry: 0.6, Lift: 1.02}, Device: equipment.FixedOrifice, RunningTime: &short})
	fmt.Println(a.Assessment, a.Because, err)
	// Output: inconclusive [running_time_too_short] <nil>
}

func BenchmarkAssess(b *testing.B) {
	r := healthyFixed
	r.evaporating, r.suctionLine = 38, 58
	in := r.input(b, equipment.FixedOrifice, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Assess(in); err != nil {
			b.Fatal(err)
		}
	}
}
