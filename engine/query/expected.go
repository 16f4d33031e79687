package query

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/expectation"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// ExpectedReadingsQuestion brings what is known of a system and the air around
// it. Of readings, outdoor_dry_bulb, return_dry_bulb and return_wet_bulb (or
// return_relative_humidity) are the conditions, and indoor_airflow, where it
// is given, that of the healthy system; any other reading is only set beside
// what is expected.
type ExpectedReadingsQuestion struct {
	Visit
	// Earlier readings of the same system, from when it was in order: they narrow what is expected.
	Earlier *EarlierReadings `json:"earlier,omitempty"`
	// Fault to expect the readings of; a healthy system where it is absent.
	Fault string `json:"fault,omitempty" enums:"undercharge,overcharge,low_indoor_airflow,low_outdoor_airflow,liquid_line_restriction,non_condensables,compressor_valve_leakage"`
	// Severity of the fault: share of the charge or of the airflow, of the pressure drop of the liquid side, of the flow through the compressor; for non-condensables their mass over what the empty system holds of air. Where it is absent it varies over a usual range.
	Severity *Quantity `json:"severity,omitempty"`
	// Compare with every fault.
	Compare string `json:"compare,omitempty" enums:"all"`
	// Seed of an example for practice: one system's readings with the errors of instruments. Equal seeds have equal examples.
	Seed *int64 `json:"seed,omitempty" example:"7"`
} //@name ExpectedReadingsQuestion

// EarlierReadings are those of an earlier visit, with the conditions of that
// day among them.
type EarlierReadings struct {
	Readings    Readings    `json:"readings"`
	Instruments Instruments `json:"instruments"`
} //@name EarlierReadings

// ExpectedReadingsAnswer is what the instruments should show.
type ExpectedReadingsAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// Conditions that the expectation is for.
	Conditions ExpectedConditions `json:"conditions"`
	// Scenarios, the healthy system first.
	Scenarios []ExpectedScenario `json:"scenarios"`
	// Systems that were drawn to fit what is known.
	Systems int `json:"systems" example:"200"`
	// EffectiveSystems of equal weight that they are worth after earlier readings.
	EffectiveSystems float64 `json:"effective_systems" example:"200"`
	// Practice is the example asked for by a seed; null without one.
	Practice *PracticeExample `json:"practice" extensions:"x-nullable"`
	Needs    []Need           `json:"needs"`
	Common
} //@name ExpectedReadingsAnswer

// ExpectedConditions are the air around the system.
type ExpectedConditions struct {
	AtmosphericPressure Measure `json:"atmospheric_pressure"`
	OutdoorDryBulb      Measure `json:"outdoor_dry_bulb"`
	ReturnDryBulb       Measure `json:"return_dry_bulb"`
	ReturnWetBulb       Measure `json:"return_wet_bulb"`
} //@name ExpectedConditions

// ExpectedScenario is what a healthy system or one with a fault shows.
type ExpectedScenario struct {
	// Fault, or no_fault.
	Fault string `json:"fault" enums:"no_fault,undercharge,overcharge,low_indoor_airflow,low_outdoor_airflow,liquid_line_restriction,non_condensables,compressor_valve_leakage"`
	Text  string `json:"text"`
	// Severity that was given, or its spread; absent for the healthy system.
	Severity *Spread `json:"severity,omitempty"`
	// Readings at the service ports and in the air, pressures as a gauge at the site shows them; empty where fewer than half of the systems find a steady state.
	Readings []ExpectedReading `json:"readings"`
	// Quantities that follow from them.
	Quantities []ExpectedReading `json:"quantities"`
	// Capacity over that of the same system in order; null with empty readings.
	Capacity *Spread `json:"capacity" extensions:"x-nullable"`
	// Power of compressor and fans over that of the same system in order; null with empty readings.
	Power *Spread `json:"power" extensions:"x-nullable"`
	// WouldNotHold are states in which some of the systems would not go on running as expected.
	WouldNotHold []ShareOfSystems `json:"would_not_hold"`
	// Solved is the share of systems that find a steady state.
	Solved Measure `json:"solved"`
} //@name ExpectedScenario

// Spread is a median and the interval that holds 95 % of systems.
type Spread struct {
	Median Measure `json:"median"`
	Low    Measure `json:"low"`
	High   Measure `json:"high"`
} //@name Spread

// ExpectedReading is the spread of one reading or quantity.
type ExpectedReading struct {
	Reading string `json:"reading" example:"suction_pressure"`
	Spread
	// Read is what was read or follows from it, where it was.
	Read *Measure `json:"read,omitempty"`
} //@name ExpectedReading

// ShareOfSystems is a state and how many systems are in it.
type ShareOfSystems struct {
	State string  `json:"state" example:"iced_coil"`
	Text  string  `json:"text"`
	Share Measure `json:"share"`
} //@name ShareOfSystems

// PracticeExample is one system's readings, in the form in which questions
// take them.
type PracticeExample struct {
	Seed int64 `json:"seed" example:"7"`
	// Fault that the system has, or no_fault.
	Fault    string   `json:"fault" example:"undercharge"`
	Readings Readings `json:"readings"`
} //@name PracticeExample

// expected is a question about a system with the spread of what it shows.
type expected struct {
	intake.Case
	lines saturation.Lines
	wet   circuit.WetBulb
	asked expectation.Question
	found expectation.Answer
}

// expect draws systems that fit a question about a visit resolved, whose errors
// stand in r.
func (e *Engine) expect(q ExpectedReadingsQuestion, c intake.Case, t *trail, r *Refusal) (expected, error) {
	x := expected{Case: c}
	t.visit(x.Case)
	x.asked = expectation.Question{Priors: plant.NewPriors(), Stop: e.stop}
	x.asked.Conditions, x.wet = t.conditions(x.Taken, x.Air, r)
	x.asked.Known = t.known(q, x.Case, r)
	x.asked.Earlier = t.earlier(q, x.Air, r)
	x.asked.Scenarios = scenarios(q, r)
	if err := r.Err(); err != nil {
		return x, err
	}
	var err error
	if x.lines, err = e.lines(x.Refrigerant); err != nil {
		return x, err
	}
	x.asked.Saturation = x.lines
	if x.asked.Fluid, err = plant.NewFluid(x.Refrigerant.System(), x.lines, e.stop); err != nil {
		return x, expectationFault(err, r)
	}
	if x.found, err = expectation.Of(x.asked); err != nil {
		return x, expectationFault(err, r)
	}
	if x.found.Tempered {
		t.assume(earlierFitFew, nil)
	}
	t.modelled(x.Refrigerant)
	return x, nil
}

// ExpectedReadings answers POST /v1/expected-readings. It returns *Refusal or
// ErrStopped.
func (e *Engine) ExpectedReadings(q ExpectedReadingsQuestion, as Presentation) (ExpectedReadingsAnswer, error) {
	t := newTrail(as)
	var r Refusal
	x, err := e.expect(q, intake.Take(q.Visit, e.catalogue, &r), t, &r)
	if err != nil {
		return ExpectedReadingsAnswer{}, err
	}
	beside, err := circuit.Derive(circuit.Input{Readings: x.Readings, Site: zeroOf(x.Air)}, x.lines)
	if err != nil {
		return ExpectedReadingsAnswer{}, readingFaults(err, x.Case, &r)
	}

	conditions := x.asked.Conditions
	a := ExpectedReadingsAnswer{
		Refrigerant: x.Refrigerant.Designation,
		Conditions: ExpectedConditions{
			AtmosphericPressure: t.as.measure(unit.KindPressure, conditions.SitePressure),
			OutdoorDryBulb:      t.as.measure(unit.KindTemperature, conditions.OutdoorDryBulb),
			ReturnDryBulb:       t.as.measure(unit.KindTemperature, conditions.ReturnDryBulb),
			ReturnWetBulb:       t.as.measure(unit.KindTemperature, x.wet.Value).within(x.wet.Standard),
		},
		Systems: x.found.Systems, EffectiveSystems: significant(x.found.Effective, 3), Needs: []Need{},
	}
	for _, s := range x.found.Expected {
		a.Scenarios = append(a.Scenarios, t.scenario(s, beside, x.Air))
	}
	if a.Practice, err = t.practice(q, x); err != nil {
		return ExpectedReadingsAnswer{}, expectationFault(err, &r)
	}
	a.Common = t.common()
	return a, nil
}

// practice is one system to learn on, nil where none was asked for.
func (t *trail) practice(q ExpectedReadingsQuestion, x expected) (*PracticeExample, error) {
	if q.Seed == nil {
		return nil, nil
	}
	of := x.asked.Scenarios[0]
	if q.Fault != "" {
		of = x.asked.Scenarios[1]
	}
	shown, err := expectation.Example(x.asked, of, uint64(*q.Seed))
	if err != nil {
		return nil, err
	}
	t.assume(practiceInvented, nil)
	return &PracticeExample{Seed: *q.Seed, Fault: faultName(of), Readings: t.typed(shown, x.Air)}, nil
}

// surroundings are readings that no system changes.
var surroundings = []circuit.Reading{circuit.OutdoorDryBulb, circuit.ReturnDryBulb, circuit.ReturnWetBulb, circuit.ReturnRelativeHumidity}

// median is the circuit at the median of each reading of the healthy systems.
func (x expected) median() (circuit.State, error) {
	in := circuit.Input{Readings: map[circuit.Reading]circuit.Measured{}, Site: circuit.Measured{Value: x.Air.Zero.Pascal()}}
	for name, b := range x.found.Expected[0].Readings {
		in.Readings[name] = circuit.Measured{Value: b.Median}
	}
	return circuit.Derive(in, x.lines)
}

// conditions are the air that is asked about.
func (t *trail) conditions(taken intake.Taken, air intake.Air, r *Refusal) (plant.Conditions, circuit.WetBulb) {
	readings, at := taken.Readings, taken.ReadingsAt
	for _, need := range []circuit.Reading{circuit.OutdoorDryBulb, circuit.ReturnDryBulb} {
		if _, ok := readings[need]; !ok {
			r.Refuse(at.Member(need.String()), CodeMissing, "condition_missing", phrase.Params{"reading": need.String()})
		}
	}
	wet, ok := t.returnWetBulb(taken, air, r)
	if !ok {
		r.Refuse(at.Member("return_wet_bulb"), CodeMissing, "return_humidity_missing", nil)
	} else if dry, ok := readings[circuit.ReturnDryBulb]; ok && wet.Value > dry.Value {
		r.Refuse(at.Member("return_wet_bulb"), CodeContradiction, "wet_bulb_above_dry_bulb", nil)
	}
	return plant.Conditions{
		OutdoorDryBulb: readings[circuit.OutdoorDryBulb].Value,
		ReturnDryBulb:  readings[circuit.ReturnDryBulb].Value,
		ReturnWetBulb:  wet.Value, SitePressure: air.Site.Pascal(),
	}, wet
}

// known is what the question tells of the system.
func (t *trail) known(q ExpectedReadingsQuestion, c intake.Case, r *Refusal) plant.Known {
	k := plant.Known{Accumulator: c.Accumulator, Microchannel: c.Microchannel, IndoorAirflow: c.Readings[circuit.IndoorAirflow].Value}
	switch {
	case c.Device.Known():
		k.Device = c.Device
	case c.Device == "":
		r.Refuse(intake.At("/system/metering_device"), CodeMissing, "metering_device_missing", nil)
	}
	if c.Heating {
		r.Refuse(intake.At("/system/mode"), CodeOutOfRange, "model_of_cooling_only", nil)
	}
	if c.NominalCapacity != nil {
		k.Capacity = c.NominalCapacity.SI
	}
	if c.Subcooling != nil {
		k.Subcooling = c.Subcooling.Value.Kelvin()
	}
	if c.Superheat != nil {
		if k.Device.Valve() {
			k.Superheat = c.Superheat.Value.Kelvin()
		} else {
			t.assume(targetSuperheatOfTheDay, nil)
		}
	}
	if c.LineSet != nil {
		k.LineLength = orZero(c.LineSet.Length).Metre()
	}
	if f := c.RatedEfficiency; f != nil {
		k.SEER, _ = diagnosis.Efficiency{Metric: f.Metric, Value: *f.Value}.SEER()
	}
	return k
}

// earlier are the readings of an earlier visit.
func (t *trail) earlier(q ExpectedReadingsQuestion, air intake.Air, r *Refusal) *expectation.Earlier {
	if q.Earlier == nil {
		return nil
	}
	at := intake.At("/earlier")
	taken := intake.TakeReadings(q.Earlier.Readings, q.Earlier.Instruments, air, at.Member("readings"), at.Member("instruments"), r)
	t.instruments(taken)
	conditions, _ := t.conditions(taken, air, r)
	return &expectation.Earlier{Conditions: conditions, Readings: taken.Readings}
}

// scenarios begin with the healthy system.
func scenarios(q ExpectedReadingsQuestion, r *Refusal) []expectation.Scenario {
	list := []expectation.Scenario{{}}
	r.OneOf(intake.At("/fault"), q.Fault, codesOf(equipment.Faults())...)
	r.OneOf(intake.At("/compare"), q.Compare, "all")
	severity, ok := r.Resolve(q.Severity, intake.At("/severity"), unit.KindRatio)
	switch {
	case q.Severity != nil && q.Fault == "":
		r.Refuse(intake.At("/severity"), CodeContradiction, "severity_without_fault", nil)
	case ok && !(severity.SI > 0 && severity.SI <= 1):
		r.Refuse(intake.At("/severity/value"), CodeOutOfRange, "severity_out_of_range", nil)
	}
	if q.Fault != "" {
		list = append(list, expectation.Scenario{Fault: equipment.Fault(q.Fault), Severity: severity.SI})
	}
	if q.Compare == "all" {
		for _, f := range equipment.Faults() {
			if string(f) != q.Fault {
				list = append(list, expectation.Scenario{Fault: f})
			}
		}
	}
	return list
}

func faultName(s expectation.Scenario) string {
	if s.Fault == "" {
		return diagnosis.NoFault
	}
	return string(s.Fault)
}

// scenario writes what is expected, beside what was read.
func (t *trail) scenario(s expectation.Expected, read circuit.State, air intake.Air) ExpectedScenario {
	name := faultName(s.Scenario)
	out := ExpectedScenario{
		Fault: name, Text: text(name), Readings: t.expectedReadings(s, read, air), Quantities: t.expectedQuantities(s, read),
		WouldNotHold: []ShareOfSystems{}, Solved: t.as.measure(unit.KindRatio, s.Solved),
	}
	if len(out.Readings) == 0 {
		return out
	}
	out.Capacity, out.Power = new(t.spread(unit.KindRatio, s.Capacity)), new(t.spread(unit.KindRatio, s.Power))
	if s.Fault != "" {
		out.Severity = new(t.spread(unit.KindRatio, s.Severity))
	}
	for _, u := range plant.AllOperatingLimits() {
		if share := s.LimitsReached[u]; share > 0 {
			out.WouldNotHold = append(out.WouldNotHold, ShareOfSystems{string(u), text(u), t.as.measure(unit.KindRatio, significant(share, 3))})
		}
	}
	return out
}

// expectedReadings write what instruments at the site would show.
func (t *trail) expectedReadings(s expectation.Expected, read circuit.State, air intake.Air) []ExpectedReading {
	list := []ExpectedReading{}
	for _, name := range circuit.Readings() {
		if b, ok := s.Readings[name]; ok && !slices.Contains(surroundings, name) {
			kind, zero := scaleOf(name, air)
			v, known := read.Reading(name)
			list = append(list, beside(name, b, read, v, known, func(si float64) Measure { return t.as.measure(kind, si-zero) }))
		}
	}
	return list
}

// expectedQuantities write what would follow from readings.
func (t *trail) expectedQuantities(s expectation.Expected, read circuit.State) []ExpectedReading {
	list := []ExpectedReading{}
	for _, name := range circuit.Quantities() {
		if b, ok := s.Quantities[name]; ok {
			v, known := read.Quantity(name)
			list = append(list, beside(name, b, read, v, known, func(si float64) Measure { return t.as.valueOf(name, si) }))
		}
	}
	return list
}

// beside writes what is expected beside what was read, if it was.
func beside(name fmt.Stringer, b expectation.Band, read circuit.State, v gum.Estimate, known bool, write func(si float64) Measure) ExpectedReading {
	e := ExpectedReading{Reading: name.String(), Spread: Spread{Median: write(b.Median), Low: write(b.Low), High: write(b.High)}}
	if known {
		e.Read = new(write(v.Value).within(read.Standard(v)))
	}
	return e
}

// scaleOf is what an instrument at the site shows a reading in, and where that
// counts from: gauges from the air's pressure.
func scaleOf(r circuit.Reading, a intake.Air) (kind unit.Kind, zero float64) {
	if r.Kind() == unit.KindPressure {
		return unit.KindGaugePressure, a.Zero.Pascal()
	}
	return r.Kind(), 0
}

func (t *trail) spread(kind unit.Kind, b expectation.Band) Spread {
	return Spread{Median: t.as.measure(kind, b.Median), Low: t.as.measure(kind, b.Low), High: t.as.measure(kind, b.High)}
}

// typed writes readings as somebody would type them in: to a tenth.
func (t *trail) typed(shown map[circuit.Reading]float64, air intake.Air) Readings {
	var out Readings
	for _, f := range []struct {
		reading circuit.Reading
		to      **Quantity
	}{
		{circuit.SuctionPressure, &out.SuctionPressure}, {circuit.SuctionLineTemperature, &out.SuctionLineTemperature},
		{circuit.LiquidPressure, &out.LiquidPressure}, {circuit.LiquidLineTemperature, &out.LiquidLineTemperature},
		{circuit.DischargePressure, &out.DischargePressure}, {circuit.DischargeLineTemperature, &out.DischargeLineTemperature},
		{circuit.OutdoorDryBulb, &out.OutdoorDryBulb}, {circuit.ReturnDryBulb, &out.ReturnDryBulb}, {circuit.ReturnWetBulb, &out.ReturnWetBulb},
		{circuit.SupplyDryBulb, &out.SupplyDryBulb}, {circuit.SupplyWetBulb, &out.SupplyWetBulb},
	} {
		kind, zero := scaleOf(f.reading, air)
		m := t.as.measure(kind, shown[f.reading]-zero)
		*f.to = &Quantity{Value: new(math.Round(m.Value*10) / 10), Unit: m.Unit}
	}
	return out
}

// modelled says what the expectation rests on.
func (t *trail) modelled(f *refrigerant.Refrigerant) {
	t.refrigerant(f)
	t.mixture(f)
	t.assume(modelledSystem, nil)
	t.caution(manufacturerFigureWins)
	for _, c := range refdata.Plant().Correlations {
		t.source(c.Source, c.Status)
	}
	for _, p := range refdata.Plant().Priors {
		t.source(p.Source, p.Status)
	}
}

// expectationFault points at what the model refuses.
func expectationFault(err error, r *Refusal) error {
	switch {
	case errors.Is(err, expectation.ErrStopped), errors.Is(err, plant.ErrStopped):
		return ErrStopped
	case errors.Is(err, plant.ErrFluid):
		r.Refuse(intake.At("/system/refrigerant"), CodeOutOfRange, "refrigerant_outside_plant", nil)
	case errors.Is(err, expectation.ErrEarlier):
		r.Refuse(intake.At("/earlier/readings"), CodeOutOfRange, "conditions_outside_plant", nil)
	case errors.Is(err, expectation.ErrInput):
		r.Refuse(intake.At("/readings"), CodeOutOfRange, "conditions_outside_plant", nil)
	case errors.Is(err, expectation.ErrNoSystem):
		r.Refuse(intake.At("/system"), CodeContradiction, "no_system_fits", nil)
	default:
		return err
	}
	return r
}
