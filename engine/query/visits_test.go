package query

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// simulated is a visit to a system of engine/plant that no model was made from.
type simulated struct {
	question DiagnosisQuestion
	faults   []plant.Fault
	// material tells that capacity or efficiency is down by more than 5 percent.
	material bool
}

// simulator draws visits.
type simulator struct {
	engine *Engine
	priors *plant.Priors
	fluids map[string]*plant.Fluid
}

func newSimulator() *simulator {
	return &simulator{New(), plant.NewPriors(), map[string]*plant.Fluid{}}
}

func (s *simulator) fluid(t testing.TB, designation string) *plant.Fluid {
	t.Helper()
	if f := s.fluids[designation]; f != nil {
		return f
	}
	r, err := s.engine.catalogue.Find(designation)
	if err != nil {
		t.Fatal(err)
	}
	lines, err := s.engine.lines(r)
	if err != nil {
		t.Fatal(err)
	}
	f, err := plant.NewFluid(r.System(), lines, nil)
	if err != nil {
		t.Fatal(err)
	}
	s.fluids[designation] = f
	return f
}

// visit draws a system with these faults until one runs, and reads it with
// instruments of 95 % accuracies as a technician has them.
func (s *simulator) visit(t testing.TB, designation string, d plant.Device, rng *rand.Rand, faults ...plant.Fault) simulated {
	t.Helper()
	f := s.fluid(t, designation)
	for range 400 {
		low, high := s.priors.SEER()
		seer := low + rng.Float64()*(high-low)
		spec := s.priors.Spec(f, plant.Known{Device: d, SEER: seer}, rng.Float64)
		air, err := s.priors.Weather(rng.Float64)
		if err != nil {
			t.Fatal(err)
		}
		u, err := plant.Design(f, spec)
		if err != nil {
			continue
		}
		rated, err := u.Solve(air, plant.Faults{})
		if err != nil || len(rated.Unheld) > 0 {
			continue
		}
		wrong := plant.Faults{Charge: 0.04 * rng.NormFloat64(), EvaporatorAirflow: 0.05 * rng.NormFloat64(), CondenserAirflow: 0.05 * rng.NormFloat64()}
		for _, x := range faults {
			lo, hi, ok := s.priors.Severity(x)
			if !ok {
				t.Fatal(x)
			}
			wrong = wrong.With(x, lo+rng.Float64()*(hi-lo), rng.Float64() < 0.5)
		}
		r, err := u.SolveNear(&rated, air, wrong)
		if err != nil || len(r.Unheld) > 0 {
			continue
		}
		v := r.Readings
		out := simulated{faults: faults, material: r.Capacity < 0.95*rated.Capacity || r.COP() < 0.95*rated.COP()}
		var q DiagnosisQuestion
		q.System = System{Refrigerant: designation, MeteringDevice: d.String(), Mode: "cooling", RatedEfficiency: &Efficiency{Metric: "SEER", Value: ptr(math.Round(seer))}}
		if d.Valve() && rng.Float64() < 0.8 {
			q.System.TargetSubcooling = &Quantity{Value: ptr(math.Round(spec.Subcooling * 1.8)), Unit: "delta_degF"}
		}
		q.Site.AtmosphericPressure = &Quantity{Value: ptr(air.SitePressure), Unit: "Paa"}
		q.RunningTime = &Quantity{Value: ptr(15.), Unit: "min"}
		gauge := func(p, half float64) *Quantity {
			psi := (p-air.SitePressure)/6894.757293168 + half/1.96*rng.NormFloat64()
			return &Quantity{Value: ptr(math.Round(10*psi) / 10), Unit: "psig", Accuracy: &half, AccuracyBasis: "normal_95"}
		}
		thermometer := func(k, half float64) *Quantity {
			f := unit.Kelvin(k).Fahrenheit() + half/1.96*rng.NormFloat64()
			return &Quantity{Value: ptr(math.Round(10*f) / 10), Unit: "degF", Accuracy: &half, AccuracyBasis: "normal_95"}
		}
		q.Readings = Readings{
			SuctionPressure: gauge(v.SuctionPressure, 2.5), LiquidPressure: gauge(v.LiquidPressure, 5),
			SuctionLineTemperature: thermometer(v.SuctionLineTemperature, 2), LiquidLineTemperature: thermometer(v.LiquidLineTemperature, 2),
			OutdoorDryBulb: thermometer(v.OutdoorDryBulb, 1), ReturnDryBulb: thermometer(v.ReturnDryBulb, 1), ReturnWetBulb: thermometer(v.ReturnWetBulb, 1.5),
		}
		if rng.Float64() < 0.85 {
			q.Readings.SupplyDryBulb = thermometer(v.SupplyDryBulb, 1)
		}
		if rng.Float64() < 0.85 {
			q.Readings.DischargeLineTemperature = thermometer(v.DischargeLineTemperature, 2)
		}
		out.question = q
		return out
	}
	t.Fatalf("no visit to %s with %v", designation, faults)
	return simulated{}
}

func ptr[T any](v T) *T { return &v }
