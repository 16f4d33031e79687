package query

import (
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// SuperheatSubcoolingQuestion brings the readings of a running system.
type SuperheatSubcoolingQuestion struct {
	Visit
} //@name SuperheatSubcoolingQuestion

// SuperheatSubcoolingAnswer is what follows from the readings.
type SuperheatSubcoolingAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// State of the circuit; a quantity is absent where a reading for it is.
	State State `json:"state"`
	// Unavailable are quantities whose readings are there but have no answer.
	Unavailable []Unavailable `json:"unavailable"`
	// Needs are the readings that would lead further.
	Needs         []Need         `json:"needs"`
	ReadingChecks []ReadingCheck `json:"reading_checks"`
	Common
} //@name SuperheatSubcoolingAnswer

// State are the quantities of a running circuit.
type State struct {
	// Superheat is the suction line above the dew point of the suction pressure.
	Superheat *SignedMeasure `json:"superheat,omitempty"`
	// Subcooling is the liquid line below the bubble point of the liquid pressure.
	Subcooling *SignedMeasure `json:"subcooling,omitempty"`
	// EvaporatorDewTemperature is the dew point of the suction pressure.
	EvaporatorDewTemperature *Measure `json:"evaporator_dew_temperature,omitempty"`
	// EvaporatorMeanTemperature is the mean of bubble and dew point of the suction pressure.
	EvaporatorMeanTemperature *Measure `json:"evaporator_mean_temperature,omitempty"`
	// CondenserBubbleTemperature is the bubble point of the liquid pressure.
	CondenserBubbleTemperature *Measure `json:"condenser_bubble_temperature,omitempty"`
	// CondenserDewTemperature is the dew point of the liquid pressure.
	CondenserDewTemperature *Measure `json:"condenser_dew_temperature,omitempty"`
	// CondenserMeanTemperature is the mean of the two.
	CondenserMeanTemperature *Measure `json:"condenser_mean_temperature,omitempty"`
	// CondensingOverAmbient is the condenser's mean temperature above the outdoor dry bulb.
	CondensingOverAmbient *Measure `json:"condensing_over_ambient,omitempty"`
	// EvaporatorTemperatureDifference is the return dry bulb above the evaporator's mean temperature.
	EvaporatorTemperatureDifference *Measure `json:"evaporator_temperature_difference,omitempty"`
	// TemperatureSplit is return minus supply dry bulb.
	TemperatureSplit *Measure `json:"temperature_split,omitempty"`
	// DischargeSuperheat is the discharge line above the dew point of the discharge pressure.
	DischargeSuperheat *Measure `json:"discharge_superheat,omitempty"`
	// CompressionRatio is absolute discharge over absolute suction pressure.
	CompressionRatio *Measure `json:"compression_ratio,omitempty"`
	// DrierTemperatureDrop is the liquid line above the outlet of the filter-drier.
	DrierTemperatureDrop *Measure `json:"drier_temperature_drop,omitempty"`
} //@name State

// SignedMeasure is a superheat or a subcooling: below zero it is no amount but
// a sign of two phases, or of a wrong reading.
type SignedMeasure struct {
	Measure
	// ProbabilityBelowZero is the chance that the true value lies below zero, to a millionth.
	ProbabilityBelowZero float64 `json:"probability_below_zero" example:"0.01"`
	// Meaning of a value that is, or may well be, below zero.
	Meaning *Note `json:"meaning,omitempty"`
} //@name SignedMeasure

// Unavailable is a quantity without an answer, and why.
type Unavailable struct {
	Quantity string `json:"quantity" example:"subcooling"`
	Reading  string `json:"reading" example:"liquid_pressure"`
	Note
} //@name Unavailable

// Need is a reading that is missing and what it is for.
type Need struct {
	Reading string   `json:"reading" example:"return_wet_bulb"`
	For     []string `json:"for" example:"target_superheat"`
} //@name Need

// ReadingCheck is a contradiction among readings.
type ReadingCheck struct {
	Check    string   `json:"check" example:"return_wet_bulb_above_dry_bulb"`
	Readings []string `json:"readings"`
	Verdict  string   `json:"verdict" enums:"impossible,doubtful"`
	// Detail says what contradicts what, and by how much where that can be said.
	Detail Note `json:"detail"`
	// ExplainedBy is what would explain it, the commonest first.
	ExplainedBy []Note `json:"explained_by"`
} //@name ReadingCheck

// running is a case of a running system with its state.
type running struct {
	intake.Case
	lines saturation.Lines
	state circuit.State
}

// run derives the state of the circuit of a visit resolved, whose errors stand in
// r.
func (e *Engine) run(c intake.Case, t *trail, r *Refusal) (running, error) {
	run := running{Case: c}
	if err := r.Err(); err != nil {
		return run, err
	}
	if len(run.Readings) == 0 {
		r.Refuse(c.ReadingsAt, CodeMissing, "no_reading_given", nil)
		return run, r
	}
	t.visit(run.Case)
	t.refrigerant(run.Refrigerant)
	t.mixture(run.Refrigerant)
	lines, err := e.lines(run.Refrigerant)
	if err != nil {
		return run, err
	}
	run.lines = lines
	run.state, err = circuit.Derive(circuit.Input{Readings: run.Readings, Site: zeroOf(run.Air), Heating: run.Heating}, lines)
	if err != nil {
		return run, readingFaults(err, c, r)
	}
	assumeAll(t, run.state.Assumptions)
	t.uncertain()
	return run, nil
}

// zeroOf is what gauges count from, as circuit takes it.
func zeroOf(a intake.Air) circuit.Measured {
	return circuit.Measured{Value: a.Zero.Pascal(), Standard: a.ZeroStandard}
}

// readingFaults notes every reading that circuit refuses, and gives the refusal; an
// error of another kind comes back as it is.
func readingFaults(err error, c intake.Case, r *Refusal) error {
	for _, bad := range input.Each[*circuit.ReadingError](err) {
		at := intake.At("/site")
		if !bad.Site {
			at = c.ReadingsAt.Member(bad.Reading.String())
		}
		r.Refuse(at, CodeOutOfRange, "impossible_number", nil)
	}
	if fault := r.Err(); fault != nil {
		return fault
	}
	return err
}

// SuperheatSubcooling answers POST /v1/superheat-subcooling. It returns
// *Refusal.
func (e *Engine) SuperheatSubcooling(q SuperheatSubcoolingQuestion, as Presentation) (SuperheatSubcoolingAnswer, error) {
	t := newTrail(as)
	var r Refusal
	run, err := e.run(intake.Take(q.Visit, e.catalogue, &r), t, &r)
	if err != nil {
		return SuperheatSubcoolingAnswer{}, err
	}
	a, err := t.stateAnswer(run, &r)
	if err != nil {
		return SuperheatSubcoolingAnswer{}, err
	}
	t.atWork()
	a.Common = t.common()
	return a, nil
}

// stateAnswer writes what the readings lead to; it is an error where that is
// nothing.
func (t *trail) stateAnswer(run running, r *Refusal) (SuperheatSubcoolingAnswer, error) {
	a := SuperheatSubcoolingAnswer{
		Refrigerant: run.Refrigerant.Designation,
		State:       t.state(run), Unavailable: t.unavailable(run), Needs: needs(run.state.Needs), ReadingChecks: t.checks(run),
	}
	if a.State == (State{}) && len(a.Unavailable) == 0 {
		r.Refuse(run.ReadingsAt, CodeMissing, "nothing_follows_yet", phrase.Params{"readings": readingsOf(run.state.Needs)})
	}
	return a, r.Err()
}

// atWork adds the cautions of somebody with gauges on a charged system.
func (t *trail) atWork() {
	t.caution(liquidContactBurns, openValvesSlowly, hoseWorkingPressure, electricalIsolation, certifiedWorkOnly, manufacturerFigureWins)
}

func readingsOf(list []circuit.Need) []string {
	names := make([]string, len(list))
	for i, n := range list {
		names[i] = n.Reading.String()
	}
	return names
}

// quantity writes one quantity of the state.
func (t *trail) quantity(run running, q circuit.Quantity) *Measure {
	e, ok := run.state.Quantity(q)
	if !ok {
		return nil
	}
	return new(t.as.valueOf(q, e.Value).within(run.state.Standard(e)))
}

// valueOf writes a value of a quantity.
func (p Presentation) valueOf(q circuit.Quantity, si float64) Measure {
	if q == circuit.CompressionRatio {
		return Measure{Value: significant(si, 7), Unit: "fraction"} // nobody says 290 percent
	}
	return p.measure(q.Kind(), si)
}

func (t *trail) state(run running) State {
	a := State{
		Superheat:                       t.signed(run, circuit.Superheat),
		Subcooling:                      t.signed(run, circuit.Subcooling),
		EvaporatorDewTemperature:        t.quantity(run, circuit.EvaporatorDewTemperature),
		EvaporatorMeanTemperature:       t.quantity(run, circuit.EvaporatorMeanTemperature),
		CondenserBubbleTemperature:      t.quantity(run, circuit.CondenserBubbleTemperature),
		CondenserDewTemperature:         t.quantity(run, circuit.CondenserDewTemperature),
		CondenserMeanTemperature:        t.quantity(run, circuit.CondenserMeanTemperature),
		CondensingOverAmbient:           t.quantity(run, circuit.CondensingOverAmbient),
		EvaporatorTemperatureDifference: t.quantity(run, circuit.EvaporatorTemperatureDifference),
		TemperatureSplit:                t.quantity(run, circuit.TemperatureSplit),
		DischargeSuperheat:              t.quantity(run, circuit.DischargeSuperheat),
		CompressionRatio:                t.quantity(run, circuit.CompressionRatio),
		DrierTemperatureDrop:            t.quantity(run, circuit.DrierTemperatureDrop),
	}
	t.explainState(run)
	return a
}

// signed writes a superheat or subcooling with what a negative one means.
func (t *trail) signed(run running, q circuit.Quantity) *SignedMeasure {
	m := t.quantity(run, q)
	if m == nil {
		return nil
	}
	e, _ := run.state.Quantity(q)
	p := run.state.ProbabilityBelow(e, 0)
	s := &SignedMeasure{Measure: *m, ProbabilityBelowZero: significant(math.Round(p*1e6)/1e6, 3)}
	// Worth a word as soon as zero is not well clear.
	const doubt = 0.05
	switch {
	case p > 1-doubt:
		s.Meaning = new(note(q.String() + "_below_zero"))
	case p > doubt:
		s.Meaning = new(note(q.String() + "_near_zero"))
	}
	return s
}

func (t *trail) unavailable(run running) []Unavailable {
	list := []Unavailable{}
	for _, f := range run.state.Failures {
		list = append(list, Unavailable{f.Quantity.String(), f.Reading.String(), noSaturation(t.as, run.Refrigerant, f.Err)})
	}
	return list
}

func needs(list []circuit.Need) []Need {
	out := make([]Need, 0, len(list))
	for _, n := range list {
		out = append(out, Need{Reading: n.Reading.String(), For: namesOf(n.For)})
	}
	return out
}

// wants adds what a reading is for to the needs.
func wants(list []Need, reading, purpose string) []Need {
	i := slices.IndexFunc(list, func(n Need) bool { return n.Reading == reading })
	if i < 0 {
		return append(list, Need{Reading: reading, For: []string{purpose}})
	}
	if !slices.Contains(list[i].For, purpose) {
		list[i].For = append(list[i].For, purpose)
	}
	return list
}

func (t *trail) checks(run running) []ReadingCheck {
	list := []ReadingCheck{}
	for _, c := range run.state.Checks {
		out := ReadingCheck{Check: c.Code, Readings: namesOf(c.Readings), Verdict: string(c.Verdict), Detail: note(c.Code), ExplainedBy: notes(c.ExplainedBy)}
		switch {
		case c.Err != nil:
			out.Detail = noSaturation(t.as, run.Refrigerant, c.Err)
		case c.Shortfall > 0 && c.Readings[0].Kind() == unit.KindTemperature:
			out.Detail = say(checkFailsBy, phrase.Params{"check": c.Code, "shortfall": t.as.said(unit.KindTemperatureDiff, c.Shortfall, c.Standard)})
		}
		list = append(list, out)
	}
	return list
}

// stateSteps are the lines of working of a state, in the order in which one
// reckons.
var stateSteps = []struct {
	of      circuit.Quantity
	code    phrase.Code
	formula string
	// saturated tells that it is of the refrigerant's saturation; line is the
	// reading that is told beside it, if any.
	saturated bool
	line      *circuit.Reading
}{
	{of: circuit.EvaporatorDewTemperature, code: stepEvaporatorDew, formula: "dew point at the suction pressure", saturated: true},
	{of: circuit.Superheat, code: stepSuperheat, formula: "suction line temperature - dew point at the suction pressure", line: new(circuit.SuctionLineTemperature)},
	{of: circuit.CondenserBubbleTemperature, code: stepCondenserBubble, formula: "bubble point at the liquid pressure", saturated: true},
	{of: circuit.Subcooling, code: stepSubcooling, formula: "bubble point at the liquid pressure - liquid line temperature", line: new(circuit.LiquidLineTemperature)},
	{of: circuit.CondensingOverAmbient, code: stepCondensingOverAmbient, formula: "mean of bubble and dew at the liquid pressure - outdoor dry bulb"},
	{of: circuit.EvaporatorTemperatureDifference, code: stepEvaporatorDifference, formula: "return dry bulb - mean of bubble and dew at the suction pressure"},
	{of: circuit.TemperatureSplit, code: stepTemperatureSplit, formula: "return dry bulb - supply dry bulb"},
	{of: circuit.DischargeSuperheat, code: stepDischargeSuperheat, formula: "discharge line temperature - dew point at the discharge pressure"},
	{of: circuit.CompressionRatio, code: stepCompressionRatio, formula: "absolute discharge pressure / absolute suction pressure"},
}

// explainState puts the working on the board.
func (t *trail) explainState(run running) {
	if !t.as.Explain {
		return
	}
	t.explainGauges(run)
	for _, s := range stateSteps {
		m := t.quantity(run, s.of)
		if m == nil {
			continue
		}
		source, params := "", phrase.Params{s.of.String(): phrase.Quantity(*m)}
		if s.saturated {
			source, params["refrigerant"] = run.Refrigerant.Sources[0], run.Refrigerant.Designation
		}
		if s.line != nil {
			read := run.Readings[*s.line]
			params[s.line.String()] = t.as.said(unit.KindTemperature, read.Value, read.Standard)
		}
		t.step(s.of.String(), s.code, s.formula, source, params)
	}
}

// explainGauges shows how gauges became absolute pressures.
func (t *trail) explainGauges(run running) {
	for _, q := range []circuit.Reading{circuit.SuctionPressure, circuit.LiquidPressure, circuit.DischargePressure} {
		m, ok := run.Readings[q]
		if !ok || !m.Gauge {
			continue
		}
		zero, u := run.Air.Zero.Pascal(), m.Standard
		t.step(q.String(), stepAbsolutePressure, "absolute = gauge + atmosphere", "", phrase.Params{
			"reading": q.String(), "gauge": t.as.said(unit.KindGaugePressure, m.Value-zero, u),
			"atmosphere": t.as.said(unit.KindPressure, zero, run.Air.ZeroStandard), "absolute": t.as.said(unit.KindPressure, m.Value, u),
		})
	}
}
