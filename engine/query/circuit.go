package query

import (
	"fmt"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"math"
	"slices"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/circuit"
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
} //@name SuperheatSubcooling

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
	Code     string `json:"code" example:"above_critical"`
	Detail   string `json:"detail"`
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
	Detail   string   `json:"detail"`
	// ExplainedBy is what would explain it, the commonest first.
	ExplainedBy []Note `json:"explained_by"`
} //@name ReadingCheck

// running is a case of a running system with its state.
type running struct {
	intake.Case
	lines saturation.Lines
	state circuit.State
}

// run derives the state of the circuit. The errors of the question stand in r.
func (e *Engine) run(v Visit, t *trail, r *Refusal) (running, error) {
	run := running{Case: intake.Take(v, e.catalogue, r)}
	if err := r.Err(); err != nil {
		return run, err
	}
	if len(run.Readings) == 0 {
		r.Refuse(intake.At("/readings"), CodeMissing, "nothing follows without a reading")
		return run, r
	}
	t.visit(run.Case)
	t.refrigerant(run.Refrigerant)
	if !run.Refrigerant.Pure() {
		t.source(mixtureModel, "")
	}
	lines, err := e.lines(run.Refrigerant)
	if err != nil {
		return run, err
	}
	run.lines = lines
	run.state, err = circuit.Derive(circuit.Input{Readings: run.Readings, Site: zeroOf(run.Air), Heating: run.Heating}, lines)
	if err != nil {
		readingFaults(err, r)
		if fault := r.Err(); fault != nil {
			return run, fault
		}
		return run, err
	}
	for _, a := range run.state.Assumptions {
		t.assume(string(a), codeText(string(a)))
	}
	t.uncertain()
	return run, nil
}

// zeroOf is what gauges count from, as circuit takes it.
func zeroOf(a intake.Air) circuit.Measured {
	return circuit.Measured{Value: a.Zero.Pascal(), Standard: a.ZeroStandard}
}

// readingFaults notes every reading that circuit refuses.
func readingFaults(err error, r *Refusal) {
	for _, bad := range each[*circuit.ReadingError](err) {
		if bad.Site {
			r.Refuse(intake.At("/site"), CodeOutOfRange, bad.Reason)
		} else {
			r.Refuse(intake.At("/readings/"+bad.Reading.String()), CodeOutOfRange, bad.Reason)
		}
	}
}

// each gives the errors of a type in a tree of errors, where errors.As gives
// the first only. It does not look into those it finds.
func each[E error](err error) []E {
	if found, ok := err.(E); ok {
		return []E{found}
	}
	var all []E
	switch e := err.(type) {
	case interface{ Unwrap() error }:
		all = each[E](e.Unwrap())
	case interface{ Unwrap() []error }:
		for _, part := range e.Unwrap() {
			all = append(all, each[E](part)...)
		}
	}
	return all
}

// SuperheatSubcooling answers POST /v1/superheat-subcooling. It returns
// *Refusal.
func (e *Engine) SuperheatSubcooling(q SuperheatSubcoolingQuestion, as Presentation) (SuperheatSubcoolingAnswer, error) {
	t := newTrail(as)
	var r Refusal
	run, err := e.run(q.Visit, t, &r)
	if err != nil {
		return SuperheatSubcoolingAnswer{}, err
	}
	a := SuperheatSubcoolingAnswer{
		Refrigerant: run.Refrigerant.Designation,
		State:       t.state(run), Unavailable: unavailable(run), Needs: needs(run.state.Needs), ReadingChecks: t.checks(run),
	}
	if a.State == (State{}) && len(a.Unavailable) == 0 {
		r.Refuse(intake.At("/readings"), CodeMissing, "nothing follows from these readings yet: "+wantedFor(run.state.Needs))
		return SuperheatSubcoolingAnswer{}, &r
	}
	t.atWork()
	a.Common = t.common()
	return a, nil
}

// atWork adds the cautions of somebody with gauges on a charged system.
func (t *trail) atWork() {
	t.caution("liquid_contact_burns", "open_valves_slowly", "hose_working_pressure", "electrical_isolation", "certified_work_only", "manufacturer_figure_wins")
}

func wantedFor(list []circuit.Need) string {
	var parts []string
	for _, n := range list {
		parts = append(parts, n.Reading.String())
	}
	return "add any of " + strings.Join(parts, ", ")
}

// quantity writes one quantity of the state.
func (t *trail) quantity(run running, q circuit.Quantity) *Measure {
	e, ok := run.state.Quantity(q)
	if !ok {
		return nil
	}
	m := t.valueOf(q, e.Value, run.state.Standard(e))
	return &m
}

// valueOf writes a value of a quantity, with a standard uncertainty or zero.
func (t *trail) valueOf(q circuit.Quantity, si, standard float64) Measure {
	if q != circuit.CompressionRatio {
		return t.measured95(q.Kind(), si, standard)
	}
	m := Measure{Value: significant(si, 7), Unit: "fraction"} // nobody says 290 percent
	if standard != 0 {
		u := significant(CoverageFactor*standard, 3)
		m.Uncertainty = &u
	}
	return m
}

// measured95 writes a value with its 95 % interval from a standard uncertainty,
// without one where that is zero: a figure taken as exact.
func (t *trail) measured95(kind unit.Kind, si, standard float64) Measure {
	if standard == 0 {
		return t.as.measure(kind, si)
	}
	return t.as.measureWithin(kind, si, CoverageFactor*standard)
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
		s.Meaning = note(q.String() + "_below_zero")
	case p > doubt:
		s.Meaning = note(q.String() + "_near_zero")
	}
	return s
}

func note(code string) *Note { return &Note{code, codeText(code)} }

func unavailable(run running) []Unavailable {
	list := []Unavailable{}
	for _, f := range run.state.Failures {
		code, detail := saturationFault(run.Refrigerant, f.Err)
		list = append(list, Unavailable{f.Quantity.String(), f.Reading.String(), string(code), detail})
	}
	return list
}

func needs(list []circuit.Need) []Need {
	out := make([]Need, 0, len(list))
	for _, n := range list {
		need := Need{Reading: n.Reading.String()}
		for _, q := range n.For {
			need.For = append(need.For, q.String())
		}
		out = append(out, need)
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
		out := ReadingCheck{Check: c.Code, Verdict: string(c.Verdict), Detail: codeText(c.Code)}
		for _, q := range c.Readings {
			out.Readings = append(out.Readings, q.String())
		}
		for _, code := range c.ExplainedBy {
			out.ExplainedBy = append(out.ExplainedBy, *note(code))
		}
		switch {
		case c.Err != nil:
			_, why := saturationFault(run.Refrigerant, c.Err)
			out.Detail += " " + strings.ToUpper(why[:1]) + why[1:] + "."
		case c.Shortfall > 0 && c.Readings[0].Kind() == unit.KindTemperature:
			out.Detail += fmt.Sprintf(" It fails by %s.", t.as.say(unit.KindTemperatureDiff, c.Shortfall, c.Standard))
		}
		list = append(list, out)
	}
	return list
}

// explainState puts the working on the board.
func (t *trail) explainState(run running) {
	if !t.as.Explain {
		return
	}
	s := &run.state
	key := run.Refrigerant.Sources[0]
	value := func(q circuit.Quantity) (string, bool) {
		e, ok := s.Quantity(q)
		if !ok {
			return "", false
		}
		return t.as.say(q.Kind(), e.Value, s.Standard(e)), true
	}
	reading := func(q circuit.Reading) string {
		m := run.Readings[q]
		return t.as.say(q.Kind(), m.Value, m.Standard)
	}
	withInterval := func(q circuit.Quantity) string {
		e, _ := s.Quantity(q)
		u := CoverageFactor * s.Standard(e)
		return fmt.Sprintf("%s, give or take %s (95 %%)", t.as.say(q.Kind(), e.Value, u), t.as.say(q.Kind(), u, u))
	}
	for _, q := range []circuit.Reading{circuit.SuctionPressure, circuit.LiquidPressure, circuit.DischargePressure} {
		m, ok := run.Readings[q]
		if !ok || !m.Gauge {
			continue
		}
		t.step(q.String(), "absolute = gauge + atmosphere", "", func() string {
			return fmt.Sprintf("%s: the gauge shows %s; with %s of air that is %s.", spoken(q.String()),
				t.as.say(unit.KindGaugePressure, m.Value-run.Air.Zero.Pascal(), m.Standard), t.as.say(unit.KindPressure, run.Air.Zero.Pascal(), 200), t.as.say(unit.KindPressure, m.Value, m.Standard))
		})
	}
	if dew, ok := value(circuit.EvaporatorDewTemperature); ok {
		t.step("evaporator_dew_temperature", "dew point at the suction pressure", key, func() string {
			return fmt.Sprintf("At that suction pressure the dew point of %s is %s.", run.Refrigerant.Designation, dew)
		})
		if _, ok := value(circuit.Superheat); ok {
			t.step("superheat", "suction line temperature - dew point at the suction pressure", "", func() string {
				return fmt.Sprintf("The suction line is at %s: superheat is %s.", reading(circuit.SuctionLineTemperature), withInterval(circuit.Superheat))
			})
		}
	}
	if bubble, ok := value(circuit.CondenserBubbleTemperature); ok {
		t.step("condenser_bubble_temperature", "bubble point at the liquid pressure", key, func() string {
			return fmt.Sprintf("At the liquid pressure the bubble point of %s is %s.", run.Refrigerant.Designation, bubble)
		})
		if _, ok := value(circuit.Subcooling); ok {
			t.step("subcooling", "bubble point at the liquid pressure - liquid line temperature", "", func() string {
				return fmt.Sprintf("The liquid line is at %s: subcooling is %s.", reading(circuit.LiquidLineTemperature), withInterval(circuit.Subcooling))
			})
		}
	}
	for _, d := range []struct {
		q             circuit.Quantity
		formula, text string
	}{
		{circuit.CondensingOverAmbient, "mean of bubble and dew at the liquid pressure - outdoor dry bulb", "The condenser lies above the outdoor air by %s."},
		{circuit.EvaporatorTemperatureDifference, "return dry bulb - mean of bubble and dew at the suction pressure", "The evaporator lies below the return air by %s."},
		{circuit.TemperatureSplit, "return dry bulb - supply dry bulb", "Over the indoor coil the air drops by %s."},
		{circuit.DischargeSuperheat, "discharge line temperature - dew point at the discharge pressure", "The superheat of the discharge line is %s."},
	} {
		if _, ok := value(d.q); ok {
			t.step(d.q.String(), d.formula, "", func() string { return fmt.Sprintf(d.text, withInterval(d.q)) })
		}
	}
	if e, ok := s.Quantity(circuit.CompressionRatio); ok {
		t.step("compression_ratio", "absolute discharge pressure / absolute suction pressure", "", func() string {
			return fmt.Sprintf("The compressor works against a ratio of %.1f to 1.", e.Value)
		})
	}
}

// spoken turns a code into words at the head of a sentence.
func spoken(code string) string {
	s := strings.ReplaceAll(code, "_", " ")
	return strings.ToUpper(s[:1]) + s[1:]
}
