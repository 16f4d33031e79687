package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/refdata"
)

const (
	ensemble = 8000
	seed     = 7
	// bands of severity for a fault alone, and for each of two.
	singleBands = 5
	pairBands   = 2
	attempts    = 50
)

// refrigerants that comfort cooling has run with, from the oldest to the newest;
// single ones, and blends with little and with much glide.
var refrigerants = []string{
	"R-22", "R-410A", "R-32", "R-454B", "R-134a", "R-407C", "R-290", "R-1234yf",
	"R-452B", "R-513A", "R-407A", "R-422D", "R-438A", "R-404A", "R-1270", "R-454C",
}

// explanation is what a component stands for.
type explanation struct {
	faults []equipment.Fault
	bands  []signature.Band
	// beforePort places a restriction; where nil it is drawn.
	beforePort *bool
}

// impossible together: charge is either short or over.
func possible(a, b equipment.Fault) bool {
	return a != equipment.Undercharge || b != equipment.Overcharge
}

// explanations lists nothing wrong, single faults and pairs by bands of severity.
func explanations(p *plant.Priors) []explanation {
	split := func(f equipment.Fault, n int) []signature.Band {
		low, high, ok := p.Severity(f)
		if !ok {
			panic("gen: no severities of " + string(f))
		}
		bands := make([]signature.Band, n)
		for i := range bands {
			step := (high - low) / float64(n)
			bands[i] = signature.Band{Low: low + float64(i)*step, High: low + float64(i+1)*step}
		}
		return bands
	}
	all := []explanation{{}}
	faults := equipment.Faults()
	for _, f := range faults {
		for _, b := range split(f, singleBands) {
			if f == equipment.LiquidLineRestriction {
				// Before and after the port it looks different.
				for _, before := range []bool{true, false} {
					all = append(all, explanation{[]equipment.Fault{f}, []signature.Band{b}, &before})
				}
				continue
			}
			all = append(all, explanation{faults: []equipment.Fault{f}, bands: []signature.Band{b}})
		}
	}
	for i, f := range faults {
		for _, g := range faults[i+1:] {
			if !possible(f, g) {
				continue
			}
			for _, b := range split(f, pairBands) {
				for _, c := range split(g, pairBands) {
					all = append(all, explanation{faults: []equipment.Fault{f, g}, bands: []signature.Band{b, c}})
				}
			}
		}
	}
	return all
}

type fluid struct {
	*plant.Fluid
	traits signature.Traits
}

func fluids() ([]fluid, error) {
	catalogue, curves := refrigerant.NewCatalogue(), saturation.NewCurves(nil, "", len(refrigerants))
	all := make([]fluid, 0, len(refrigerants))
	for _, name := range refrigerants {
		r, err := catalogue.Find(name)
		if err != nil {
			return nil, err
		}
		lines, err := curves.Of(r.System(), nil)
		if err != nil {
			return nil, err
		}
		f, err := plant.NewFluid(r.System(), lines, nil)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		traits, ok := signature.TraitsOf(lines.Curve())
		if !ok {
			return nil, fmt.Errorf("%s: the curve does not reach a usual condenser", name)
		}
		all = append(all, fluid{f, traits})
	}
	return all, nil
}

// drawn is one system in its air, as installed.
type drawn struct {
	fluid          fluid
	seer           float64
	spec           plant.Spec
	unit           *plant.Unit
	air            plant.Conditions
	scatter        plant.Faults
	target         float64 // superheat of the system as rated in this air
	rated, healthy plant.Result
}

// figure of the assumptions: one that is missing is a fault of the build.
func figure(code string) refdata.Figure {
	f, ok := refdata.Diagnosis().Figures.Get(code)
	if !ok {
		panic("gen: no figure " + code)
	}
	return f
}

// scatterOf draws the ordinary departures of installations.
func scatterOf(rng *rand.Rand) plant.Faults {
	spread := func(code string) float64 {
		return *figure(code).Value / 100 * min(max(rng.NormFloat64(), -2.5), 2.5)
	}
	return plant.Faults{Charge: spread("scatter_charge"), IndoorAirflow: spread("scatter_airflow"), OutdoorAirflow: spread("scatter_airflow")}
}

// draw gives a system that runs as rated, and with the scatter of its installation.
func draw(p *plant.Priors, all []fluid, d equipment.MeteringDevice, n int, seed uint64) (drawn, bool) {
	rng := rand.New(rand.NewPCG(seed, uint64(n)))
	x := drawn{fluid: all[n%len(all)]}
	for range attempts {
		low, high := p.SEER()
		x.seer = low + rng.Float64()*(high-low)
		x.spec = p.Spec(x.fluid.Fluid, plant.Known{Device: d, SEER: x.seer}, rng.Float64)
		x.scatter = scatterOf(rng)
		var err error
		if x.air, err = p.Weather(rng.Float64); err != nil {
			continue
		}
		if x.unit, err = plant.Design(x.fluid.Fluid, x.spec); err != nil {
			continue
		}
		rated, err := x.unit.Solve(x.air, plant.Faults{})
		if err != nil || len(rated.LimitsReached) > 0 {
			continue
		}
		x.target, x.rated = rated.Superheat, rated
		x.healthy, err = x.unit.SolveNear(&rated, x.air, x.scatter)
		if err != nil || len(x.healthy.LimitsReached) > 0 {
			continue
		}
		return x, true
	}
	return x, false
}

// sample solves the system under an explanation; false where no unit would run so.
func (x *drawn) sample(e explanation, rng *rand.Rand) (signature.Sample, bool) {
	s := signature.Sample{
		Air:    signature.Air{Outdoor: x.air.OutdoorDryBulb, ReturnDry: x.air.ReturnDryBulb, ReturnWet: x.air.ReturnWetBulb, SitePressure: x.air.SitePressure},
		Traits: x.fluid.traits, Weight: 1,
	}
	r, faults := x.healthy, x.scatter
	var severity [2]float64
	for i, f := range e.faults {
		severity[i] = e.bands[i].Low + rng.Float64()*(e.bands[i].High-e.bands[i].Low)
		before := rng.Float64() < 0.5
		if e.beforePort != nil {
			before = *e.beforePort
		}
		faults = faults.With(f, severity[i], before)
	}
	if len(e.faults) > 0 {
		var err error
		if r, err = x.unit.SolveNear(&x.healthy, x.air, faults); err != nil || len(r.LimitsReached) > 0 {
			return s, false
		}
		least := 1 - *figure("material_loss").Value/100
		if r.Capacity >= least*x.rated.Capacity && r.COP() >= least*x.rated.COP() {
			s.Weight = *figure("immaterial_weight").Value / 100
		}
	}
	v := r.Readings
	suction, _, okSuction := x.fluid.Saturation(v.SuctionPressure)
	_, bubble, okLiquid := x.fluid.Saturation(v.LiquidPressure)
	discharge, _, okDischarge := x.fluid.Saturation(v.DischargePressure)
	// A clamp shows a part of the air around it.
	pull := *figure("clamp_pull").High / 100
	clamp := func(t float64) float64 { return t + pull*rng.Float64()*(x.air.OutdoorDryBulb-t) }
	s.At = signature.Vector{
		signature.SuctionDew: suction, signature.SuctionLine: clamp(v.SuctionLineTemperature),
		signature.LiquidBubble: bubble, signature.LiquidLine: clamp(v.LiquidLineTemperature),
		signature.DischargeLine: clamp(v.DischargeLineTemperature), signature.DischargeDew: discharge,
		signature.SupplyDry: v.SupplyDryBulb, signature.SupplyWet: v.SupplyWetBulb, signature.DrierOutlet: clamp(v.DrierOutletTemperature),
		signature.Airflow:   math.Log(v.IndoorAirflow / x.spec.Capacity),
		signature.PlateSEER: x.seer, signature.PlateSubcooling: x.spec.Subcooling, signature.PlateSuperheat: x.target,
		signature.FirstSeverity: severity[0], signature.SecondSeverity: severity[1],
	}
	return s, okSuction && okLiquid && okDischarge
}

// Distil draws the systems of every metering device and fits the model.
func Distil(systems int, seed uint64, workers int) (*signature.Model, error) {
	p := plant.NewPriors()
	all, err := fluids()
	if err != nil {
		return nil, err
	}
	list := explanations(p)
	devices := map[equipment.MeteringDevice][]signature.Component{}
	for _, d := range equipment.MeteringDevices() {
		samples := solve(p, all, d, list, systems, seed, workers)
		if devices[d], err = fit(list, samples, systems); err != nil {
			return nil, fmt.Errorf("%v: %w", d, err)
		}
	}
	return signature.NewModel(systems, devices)
}

// solve gives the samples of each explanation, in the order of the systems
// however many workers there are.
func solve(p *plant.Priors, all []fluid, d equipment.MeteringDevice, list []explanation, systems int, seed uint64, workers int) [][]signature.Sample {
	type row struct {
		samples []signature.Sample
		ok      []bool
	}
	rows := make([]row, systems)
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() {
			for n := w; n < systems; n += workers {
				x, ok := draw(p, all, d, n, seed)
				if !ok {
					continue
				}
				r := row{make([]signature.Sample, len(list)), make([]bool, len(list))}
				for i, e := range list {
					r.samples[i], r.ok[i] = x.sample(e, rand.New(rand.NewPCG(seed+1+uint64(i), uint64(n))))
				}
				rows[n] = r
			}
		})
	}
	wait.Wait()
	out := make([][]signature.Sample, len(list))
	for _, r := range rows {
		for i := range r.ok {
			if r.ok[i] {
				out[i] = append(out[i], r.samples[i])
			}
		}
	}
	return out
}

// fit makes the components and their weights.
func fit(list []explanation, samples [][]signature.Sample, systems int) ([]signature.Component, error) {
	components := make([]signature.Component, len(list))
	whole := map[string]float64{}
	key := func(e explanation) string { return fmt.Sprint(e.faults) }
	for i, e := range list {
		c, err := signature.Fit(e.faults, e.bands, samples[i])
		if err != nil {
			return nil, err
		}
		c.Kept = float64(len(samples[i])) / float64(systems)
		for _, s := range samples[i] {
			c.Weight += s.Weight
		}
		components[i] = c
		whole[key(e)] += c.Weight
	}
	for i, e := range list {
		components[i].Weight /= whole[key(e)]
	}
	return components, nil
}
