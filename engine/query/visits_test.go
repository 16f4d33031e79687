package query_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// simulated is a visit to a system of engine/plant.
type simulated struct {
	question query.DiagnosisQuestion
	// material tells that every fault, alone, costs 5 percent of capacity or of
	// efficiency.
	material bool
}

// simulator draws visits to systems of engine/plant that no model was made
// from: the seeds are others than those of refdata/gen.
type simulator struct {
	rng       *rand.Rand
	priors    *plant.Priors
	catalogue *refrigerant.Catalogue
	curves    *saturation.Curves
	fluids    map[string]*plant.Fluid
	// from is the share of the range of severities that is left out at its low end.
	from float64
}

func newSimulator(seed uint64) *simulator {
	return &simulator{
		rng: rand.New(rand.NewPCG(seed, 4711)), priors: plant.NewPriors(), catalogue: refrigerant.NewCatalogue(),
		curves: saturation.NewCurves(nil, "", 32), fluids: map[string]*plant.Fluid{},
	}
}

func (s *simulator) fluid(t testing.TB, designation string) *plant.Fluid {
	t.Helper()
	if f := s.fluids[designation]; f != nil {
		return f
	}
	r, err := s.catalogue.Find(designation)
	require.NoError(t, err)
	lines, err := s.curves.Of(r.System(), nil)
	require.NoError(t, err)
	f, err := plant.NewFluid(r.System(), lines, nil)
	require.NoError(t, err)
	s.fluids[designation] = f
	return f
}

var devices = []equipment.MeteringDevice{equipment.FixedOrifice, equipment.ThermostaticValve, equipment.FixedOrifice, equipment.ThermostaticValve, equipment.ElectronicValve, equipment.CapillaryTube}

// visit draws systems with these faults until one runs as a unit would hold it.
func (s *simulator) visit(t testing.TB, designation string, faults ...equipment.Fault) simulated {
	t.Helper()
	for range 400 {
		if v, ok := s.attempt(t, designation, faults); ok {
			return v
		}
	}
	t.Fatalf("no visit to %s with %v", designation, faults)
	return simulated{}
}

// material draws visits until every fault, alone, costs 5 percent of capacity
// or of efficiency.
func (s *simulator) material(t testing.TB, designation string, faults ...equipment.Fault) simulated {
	t.Helper()
	for range 2000 {
		if v := s.visit(t, designation, faults...); v.material {
			return v
		}
	}
	t.Fatalf("no visit to %s with %v where they are material", designation, faults)
	return simulated{}
}

func (s *simulator) attempt(t testing.TB, designation string, faults []equipment.Fault) (simulated, bool) {
	t.Helper()
	f, rng := s.fluid(t, designation), s.rng
	low, high := s.priors.SEER()
	device, seer := devices[rng.IntN(len(devices))], low+rng.Float64()*(high-low)
	spec := s.priors.Spec(f, plant.Known{Device: device, SEER: seer}, rng.Float64)
	air, err := s.priors.Weather(rng.Float64)
	require.NoError(t, err)
	u, err := plant.Design(f, spec)
	if err != nil {
		return simulated{}, false
	}
	rated, err := u.Solve(air, plant.Faults{})
	if err != nil || len(rated.LimitsReached) > 0 {
		return simulated{}, false
	}
	all := plant.Faults{Charge: 0.04 * rng.NormFloat64(), IndoorAirflow: 0.05 * rng.NormFloat64(), OutdoorAirflow: 0.05 * rng.NormFloat64()}
	material := true
	for _, x := range faults {
		low, high, ok := s.priors.Severity(x)
		if !ok {
			t.Fatal(x)
		}
		severity, before := low+(s.from+(1-s.from)*rng.Float64())*(high-low), rng.IntN(2) == 0
		all = all.With(x, severity, before)
		alone, err := u.SolveNear(&rated, air, plant.Faults{}.With(x, severity, before))
		if err != nil {
			return simulated{}, false
		}
		material = material && (alone.Capacity < 0.95*rated.Capacity || alone.COP() < 0.95*rated.COP())
	}
	r, err := u.SolveNear(&rated, air, all)
	if err != nil || len(r.LimitsReached) > 0 {
		return simulated{}, false
	}
	q := query.DiagnosisQuestion{RunningTime: quantity(15, "min")}
	q.System = query.System{Refrigerant: designation, MeteringDevice: string(device), Mode: "cooling", RatedEfficiency: &query.Efficiency{Metric: "SEER", Value: exactly(math.Round(seer))}}
	if device.Valve() && rng.Float64() < 0.8 {
		q.System.TargetSubcooling = quantity(math.Round(1.8*spec.Subcooling), "delta_degF")
	}
	q.Site.AtmosphericPressure = quantity(air.SitePressure, "Paa")
	q.Readings = s.readings(r, air.SitePressure)
	return simulated{q, material}, true
}

func exactly(v float64) *float64 { return &v }

// readings as a technician takes them: with accuracies at 95 %, clamps that
// the air pulls at, and now and then without supply air or discharge line.
func (s *simulator) readings(r plant.Result, site float64) query.Readings {
	rng, v := s.rng, r.Readings
	reading := func(exact, half float64, name string) *query.Quantity {
		q := quantity(math.Round(10*(exact+half/query.CoverageFactor*rng.NormFloat64()))/10, name)
		q.Accuracy, q.AccuracyBasis = &half, "normal_95"
		return q
	}
	gauge := func(p, half float64) *query.Quantity { return reading((p-site)/6894.757293168, half, "psig") }
	thermometer := func(k, half float64) *query.Quantity {
		return reading(unit.Kelvin(k).Fahrenheit(), half, "degF")
	}
	clamp := func(k float64) *query.Quantity {
		return thermometer(k+0.05*rng.Float64()*(v.OutdoorDryBulb-k), 2)
	}
	out := query.Readings{
		SuctionPressure: gauge(v.SuctionPressure, 2.5), LiquidPressure: gauge(v.LiquidPressure, 5),
		SuctionLineTemperature: clamp(v.SuctionLineTemperature), LiquidLineTemperature: clamp(v.LiquidLineTemperature),
		OutdoorDryBulb: thermometer(v.OutdoorDryBulb, 1), ReturnDryBulb: thermometer(v.ReturnDryBulb, 1), ReturnWetBulb: thermometer(v.ReturnWetBulb, 1.5),
	}
	if rng.Float64() < 0.85 {
		out.SupplyDryBulb = thermometer(v.SupplyDryBulb, 1)
	}
	if rng.Float64() < 0.85 {
		out.DischargeLineTemperature = clamp(v.DischargeLineTemperature)
	}
	return out
}
