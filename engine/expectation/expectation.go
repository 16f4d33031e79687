// Package expectation tells what a system should show of which only a part is
// known: it draws systems that fit what is known, solves each with engine/plant
// and gives the spread. It must not know the wire, nor what follows from a
// deviation.
package expectation

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/plant"
)

var (
	// ErrStopped reports that the caller asked the computation to stop.
	ErrStopped = errors.New("expectation: stopped")
	// ErrInput reports conditions or faults that the model does not cover.
	ErrInput = errors.New("expectation: outside the model")
	// ErrEarlier reports the same of the earlier conditions.
	ErrEarlier = errors.New("expectation: earlier readings outside the model")
	// ErrNoSystem reports that no, or hardly any, system fits what is known.
	ErrNoSystem = errors.New("expectation: no system fits")
)

// Scenario is what is wrong with the system.
type Scenario struct {
	// Fault is empty for a healthy system.
	Fault equipment.Fault
	// Severity as [plant.Faults] defines it for the fault; zero for one drawn
	// anew for each system from the range of the priors.
	Severity float64
}

// Earlier are readings of the same system when it was in order.
type Earlier struct {
	Conditions plant.Conditions
	Readings   map[circuit.Reading]circuit.Measured
}

// Question is what is known, and what is asked.
type Question struct {
	Fluid *plant.Fluid
	// Saturation is the same refrigerant's.
	Saturation circuit.Saturation
	Priors     *plant.Priors
	Known      plant.Known
	Conditions plant.Conditions
	// Earlier is nil where there is none.
	Earlier   *Earlier
	Scenarios []Scenario
	// Stop, which may be nil, is asked before each system.
	Stop func() bool
}

// Band is a median with its interval of 95 %, in the coherent SI unit.
type Band struct{ Median, Low, High float64 }

// Expected is what the systems show under a scenario.
type Expected struct {
	Scenario
	// Readings and Quantities hold what at least half of the solved systems have.
	Readings   map[circuit.Reading]Band
	Quantities map[circuit.Quantity]Band
	// Severity is what was drawn or given.
	Severity Band
	// Capacity and Power over those of the same system in order, in the same air.
	Capacity, Power Band
	// LimitsReached is the share of systems that would not go on running so.
	LimitsReached map[plant.OperatingLimit]float64
	// Solved is the share of systems that have a steady state.
	Solved float64
}

// Answer is the spread over systems.
type Answer struct {
	Expected []Expected
	// Systems is how many were drawn, Effective how many of equal weight they
	// are worth after what was read earlier.
	Systems   int
	Effective float64
	// Tempered tells that the earlier readings fit few of the drawn systems, and
	// were trusted less than their accuracy allows.
	Tempered bool
}

const (
	systems = 200
	// candidates are drawn where earlier readings choose among them.
	candidates = 800
	// fewest is the least number of systems of equal weight that a spread is
	// taken over.
	fewest = 20
	seed   = 20
)

// ModelMisses are the standard deviations that the model itself is taken to
// miss readings of a real system by: share of an absolute pressure, K, and share of a
// flow. They are judgement, not measured: steady-state models of this kind are
// published with errors of a few percent.
const (
	MissesPressure    = 0.02
	MissesTemperature = 1.0
	MissesAirflow     = 0.05
	MissesHumidity    = 0.05
)

type system struct {
	unit    *plant.Unit
	healthy plant.Result
	weight  float64
	// severity is one number a system, so that scenarios share it.
	severity, place float64
}

// Of draws systems and solves them. It returns ErrStopped, ErrInput,
// ErrEarlier or ErrNoSystem. Equal questions have equal answers.
func Of(q Question) (Answer, error) {
	rng := rand.New(rand.NewPCG(seed, 0))
	a := Answer{Systems: systems}
	drawn, err := draw(q, rng)
	if err != nil {
		return Answer{}, err
	}
	if q.Earlier != nil {
		a.Systems = candidates
		if drawn, a.Tempered, err = choose(drawn); err != nil {
			return Answer{}, err
		}
	}
	a.Effective = effective(drawn)
	if a.Effective < fewest {
		return Answer{}, fmt.Errorf("%w: %.0f of the %d drawn", ErrNoSystem, a.Effective, a.Systems)
	}
	for _, s := range q.Scenarios {
		e, err := solveAll(q, s, drawn)
		if err != nil {
			return Answer{}, err
		}
		a.Expected = append(a.Expected, e)
	}
	return a, nil
}

// draw gives systems with their healthy state in the conditions asked, and
// with the weight that earlier readings give them; those without either state
// are left out.
func draw(q Question, rng *rand.Rand) ([]system, error) {
	n := systems
	if q.Earlier != nil {
		n = candidates
	}
	var all []system
	for range n {
		if q.Stop != nil && q.Stop() {
			return nil, ErrStopped
		}
		u, err := q.Priors.Unit(q.Fluid, q.Known, rng.Float64)
		s := system{unit: u, weight: 1, severity: rng.Float64(), place: rng.Float64()}
		if err != nil {
			continue
		}
		if s.healthy, err = u.Solve(q.Conditions, plant.Faults{}); err != nil {
			if errors.Is(err, plant.ErrInput) {
				return nil, fmt.Errorf("%w: %w", ErrInput, err)
			}
			continue
		}
		if q.Earlier != nil {
			was, err := u.SolveNear(&s.healthy, q.Earlier.Conditions, plant.Faults{})
			switch {
			case errors.Is(err, plant.ErrInput):
				return nil, fmt.Errorf("%w: %w", ErrEarlier, err)
			case err != nil:
				continue
			}
			s.weight = -misfit(values(was.Readings), q.Earlier.Readings) // a logarithm, until choose
		}
		all = append(all, s)
	}
	return all, nil
}

// misfit is half the sum of squared deviations over their variances; the
// conditions themselves are no evidence.
func misfit(shown map[circuit.Reading]float64, read map[circuit.Reading]circuit.Measured) float64 {
	var sum float64
	for r, m := range read {
		var model float64
		switch r {
		case circuit.OutdoorDryBulb, circuit.ReturnDryBulb, circuit.ReturnWetBulb, circuit.ReturnRelativeHumidity:
			continue
		case circuit.SuctionPressure, circuit.LiquidPressure, circuit.DischargePressure:
			model = MissesPressure * m.Value
		case circuit.IndoorAirflow:
			model = MissesAirflow * m.Value
		default:
			model = MissesTemperature
		}
		d := (shown[r] - m.Value) / math.Hypot(model, m.Standard)
		sum += d * d / 2
	}
	return sum
}

// choose turns logarithms into weights and keeps the best. Where fewer than
// fewest remain, all logarithms are divided until that many do.
func choose(all []system) ([]system, bool, error) {
	if len(all) < fewest {
		return nil, false, fmt.Errorf("%w: %d of %d have a steady state", ErrNoSystem, len(all), candidates)
	}
	best := math.Inf(-1)
	for _, s := range all {
		best = max(best, s.weight)
	}
	tempered := false
	for heat := 1.; ; heat *= 1.25 {
		weighed := make([]system, 0, len(all))
		for _, s := range all {
			s.weight = math.Exp((s.weight - best) / heat)
			if s.weight > 1e-4 {
				weighed = append(weighed, s)
			}
		}
		if effective(weighed) >= fewest {
			return weighed, tempered, nil
		}
		tempered = true
	}
}

// effective is the number of systems of equal weight (Kish 1965, (sum of
// weights) squared over sum of squares).
func effective(all []system) float64 {
	var sum, squares float64
	for _, s := range all {
		sum += s.weight
		squares += s.weight * s.weight
	}
	if squares == 0 {
		return 0
	}
	return sum * sum / squares
}

func solveAll(q Question, sc Scenario, all []system) (Expected, error) {
	e := Expected{Scenario: sc, Readings: map[circuit.Reading]Band{}, Quantities: map[circuit.Quantity]Band{}, LimitsReached: map[plant.OperatingLimit]float64{}}
	readings, quantities := map[circuit.Reading]*sample{}, map[circuit.Quantity]*sample{}
	var severity, capacity, power sample
	var whole, solved float64
	for _, s := range all {
		if q.Stop != nil && q.Stop() {
			return Expected{}, ErrStopped
		}
		whole += s.weight
		r, drawn, err := under(q, sc, s)
		switch {
		case errors.Is(err, plant.ErrInput):
			return Expected{}, fmt.Errorf("%w: %w", ErrInput, err)
		case err != nil:
			continue
		}
		solved += s.weight
		severity.add(drawn, s.weight)
		capacity.add(r.Capacity/s.healthy.Capacity, s.weight)
		power.add(r.Power/s.healthy.Power, s.weight)
		for _, u := range r.LimitsReached {
			e.LimitsReached[u] += s.weight
		}
		shown := values(r.Readings)
		for name, v := range shown {
			into(readings, name).add(v, s.weight)
		}
		state, err := circuit.Derive(circuit.Input{Readings: exact(shown), Site: circuit.Measured{Value: q.Conditions.SitePressure}}, q.Saturation)
		if err != nil {
			return Expected{}, err
		}
		for _, name := range circuit.Quantities() {
			if v, ok := state.Quantity(name); ok {
				into(quantities, name).add(v.Value, s.weight)
			}
		}
	}
	e.Solved = solved / whole
	if e.Solved < 0.5 {
		return e, nil
	}
	for u := range e.LimitsReached {
		e.LimitsReached[u] /= solved
	}
	e.Severity, e.Capacity, e.Power = severity.band(), capacity.band(), power.band()
	for name, s := range readings {
		e.Readings[name] = s.band()
	}
	for name, s := range quantities {
		if s.sum >= solved/2 {
			e.Quantities[name] = s.band()
		}
	}
	return e, nil
}

// under solves a system under a scenario and gives the severity.
func under(q Question, sc Scenario, s system) (plant.Result, float64, error) {
	if sc.Fault == "" {
		return s.healthy, 0, nil
	}
	severity := sc.Severity
	if severity == 0 {
		low, high, ok := q.Priors.Severity(sc.Fault)
		if !ok {
			return plant.Result{}, 0, fmt.Errorf("%w: no fault %q", plant.ErrInput, sc.Fault)
		}
		severity = low + s.severity*(high-low)
	}
	r, err := s.unit.SolveNear(&s.healthy, q.Conditions, plant.Faults{}.With(sc.Fault, severity, s.place < 0.5))
	return r, severity, err
}

// values are readings by name.
func values(r plant.Readings) map[circuit.Reading]float64 {
	return map[circuit.Reading]float64{
		circuit.SuctionPressure: r.SuctionPressure, circuit.SuctionLineTemperature: r.SuctionLineTemperature,
		circuit.LiquidPressure: r.LiquidPressure, circuit.LiquidLineTemperature: r.LiquidLineTemperature,
		circuit.DischargePressure: r.DischargePressure, circuit.DischargeLineTemperature: r.DischargeLineTemperature,
		circuit.OutdoorDryBulb: r.OutdoorDryBulb,
		circuit.ReturnDryBulb:  r.ReturnDryBulb, circuit.ReturnWetBulb: r.ReturnWetBulb, circuit.ReturnRelativeHumidity: r.ReturnRelativeHumidity,
		circuit.SupplyDryBulb: r.SupplyDryBulb, circuit.SupplyWetBulb: r.SupplyWetBulb,
		circuit.IndoorAirflow: r.IndoorAirflow, circuit.DrierOutletTemperature: r.DrierOutletTemperature,
	}
}

func exact(shown map[circuit.Reading]float64) map[circuit.Reading]circuit.Measured {
	out := make(map[circuit.Reading]circuit.Measured, len(shown))
	for r, v := range shown {
		out[r] = circuit.Measured{Value: v}
	}
	return out
}

// attempts at an example before giving up.
const attempts = 50

// Example is one system's readings under a scenario, as instruments of
// customary accuracy would show them: a system in a state that it would go on
// running in. Equal seeds have equal examples. Earlier readings do not choose.
// It returns the errors of Of.
func Example(q Question, sc Scenario, seed uint64) (map[circuit.Reading]float64, error) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for range attempts {
		if q.Stop != nil && q.Stop() {
			return nil, ErrStopped
		}
		u, err := q.Priors.Unit(q.Fluid, q.Known, rng.Float64)
		if err != nil {
			continue
		}
		s := system{unit: u, severity: rng.Float64(), place: rng.Float64()}
		if s.healthy, err = u.Solve(q.Conditions, plant.Faults{}); err != nil {
			if errors.Is(err, plant.ErrInput) {
				return nil, fmt.Errorf("%w: %w", ErrInput, err)
			}
			continue
		}
		r, _, err := under(q, sc, s)
		if errors.Is(err, plant.ErrInput) {
			return nil, fmt.Errorf("%w: %w", ErrInput, err)
		}
		if err != nil || len(r.LimitsReached) > 0 {
			continue
		}
		shown := values(r.Readings)
		for _, name := range circuit.Readings() {
			v, ok := shown[name]
			if !ok {
				continue
			}
			high := name == circuit.LiquidPressure || name == circuit.DischargePressure
			shown[name] = v + (2*rng.Float64()-1)*instrument.Default(name.Kind(), high, v).SI
		}
		return shown, nil
	}
	return nil, fmt.Errorf("%w: none of %d drawn runs so", ErrNoSystem, attempts)
}
