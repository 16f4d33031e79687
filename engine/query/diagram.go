package query

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagram"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// PressureEnthalpyDiagramQuestion asks for the diagram of a refrigerant and,
// where there are readings of a running system, for its circuit on it.
type PressureEnthalpyDiagramQuestion struct {
	Visit
	// Expected asks for the circuit of a healthy system as well, as POST /v1/expected-readings has it; it needs the metering device and the conditions.
	Expected bool `json:"expected,omitempty"`
} //@name PressureEnthalpyDiagramQuestion

// RefrigerantDiagramQuestion asks for the diagram of a catalogued refrigerant.
type RefrigerantDiagramQuestion struct {
	Designation string `json:"-"`
}

// PressureEnthalpyDiagramAnswer is the geometry of a diagram: enthalpy to the
// right, the logarithm of the absolute pressure upwards.
type PressureEnthalpyDiagramAnswer struct {
	Refrigerant string        `json:"refrigerant" example:"R-410A"`
	Window      DiagramWindow `json:"window"`
	Dome        Dome          `json:"dome"`
	// Isotherms through liquid, two phases and vapor; a part is absent where the window does not hold it.
	Isotherms []Isotherm `json:"isotherms"`
	// IsothermsNotDrawn lie too near the critical point.
	IsothermsNotDrawn []IsothermNotDrawn `json:"isotherms_not_drawn"`
	// States of the circuit that the readings lead to, in the order of flow.
	States []CircuitState `json:"states"`
	// Legs join the states that have an enthalpy.
	Legs []CircuitLeg `json:"legs"`
	// Levels are the pressures of evaporating and condensing.
	Levels []PressureLevel `json:"levels"`
	// ExpectedStates of the circuit of a healthy system, where they are asked for: from the median of each reading over the systems that fit what is known.
	ExpectedStates []CircuitState `json:"expected_states"`
	Needs          []Need         `json:"needs"`
	ReadingChecks  []ReadingCheck `json:"reading_checks"`
	Common
} //@name PressureEnthalpyDiagramAnswer

// DiagramWindow is the part of the diagram that holds all states and the dome;
// isotherms may leave it.
type DiagramWindow struct {
	LowestPressure  Measure `json:"lowest_pressure"`
	HighestPressure Measure `json:"highest_pressure"`
	LowestEnthalpy  Measure `json:"lowest_enthalpy"`
	HighestEnthalpy Measure `json:"highest_enthalpy"`
} //@name DiagramWindow

// Values are many values in one unit.
type Values struct {
	// Unit as GET /v1/units spells it.
	Unit   string    `json:"unit" example:"psia"`
	Values []float64 `json:"values"`
} //@name Values

// Polyline is a line of points: its members have equally many values.
type Polyline struct {
	Pressure Values `json:"pressure"`
	Enthalpy Values `json:"enthalpy"`
	// Temperature along the lines of the dome.
	Temperature *Values `json:"temperature,omitempty"`
} //@name Polyline

// Dome borders the two phases. Its lines go from cold to hot and end a little
// below the critical point, where liquid and vapor are hardly told apart.
type Dome struct {
	Bubble Polyline `json:"bubble"`
	Dew    Polyline `json:"dew"`
	// Critical: the point where both lines meet, as the equation has it.
	Critical *DiagramPoint `json:"critical_point" extensions:"x-nullable"`
} //@name Dome

// DiagramPoint is a point with its temperature.
type DiagramPoint struct {
	Temperature Measure `json:"temperature"`
	Pressure    Measure `json:"pressure"`
	Enthalpy    Measure `json:"enthalpy"`
} //@name DiagramPoint

// Isotherm is a line of equal temperature, each part from high to low pressure.
type Isotherm struct {
	Temperature Measure   `json:"temperature"`
	Liquid      *Polyline `json:"liquid,omitempty"`
	// TwoPhase is level for a pure fluid and falls where there is glide.
	TwoPhase *Polyline `json:"two_phase,omitempty"`
	Vapor    *Polyline `json:"vapor,omitempty"`
	// AboveCritical is the one part of an isotherm above the critical temperature.
	AboveCritical *Polyline `json:"above_critical,omitempty"`
} //@name Isotherm

// IsothermNotDrawn is an isotherm without a line, and why.
type IsothermNotDrawn struct {
	Temperature Measure `json:"temperature"`
	Note
} //@name IsothermNotDrawn

// CircuitState is one state of the circuit.
type CircuitState struct {
	State string `json:"state" enums:"suction_line,discharge_line,liquid_line,after_expansion"`
	Text  string `json:"text"`
	// Pressure, absolute.
	Pressure      Measure `json:"pressure"`
	GaugePressure Measure `json:"gauge_pressure"`
	// Temperature is null where it does not follow.
	Temperature *Measure `json:"temperature" extensions:"x-nullable"`
	// Enthalpy is null where the readings give none.
	Enthalpy *Measure `json:"enthalpy" extensions:"x-nullable"`
	// Reason why there is no enthalpy.
	Reason *Note  `json:"reason,omitempty"`
	Phase  string `json:"phase" enums:"subcooled_liquid,superheated_vapor,two_phase,supercritical"`
	// VaporFraction of the mass, of a state of two phases.
	VaporFraction *Measure `json:"vapor_fraction,omitempty"`
	// Region holds the state with 95 % probability: a closed outline; absent where readings count as exact or it does not follow.
	Region *Polyline `json:"region,omitempty"`
	// PhaseNotResolved: within the instruments' uncertainty there may be two phases, so the region is cut off at the dome.
	PhaseNotResolved *Note `json:"phase_not_resolved,omitempty"`
} //@name CircuitState

// CircuitLeg is what happens from one state to the next.
type CircuitLeg struct {
	Process string `json:"process" enums:"compression,heat_rejection,expansion,evaporation"`
	Text    string `json:"text"`
	From    string `json:"from" enums:"suction_line,discharge_line,liquid_line,after_expansion"`
	To      string `json:"to" enums:"suction_line,discharge_line,liquid_line,after_expansion"`
} //@name CircuitLeg

// PressureLevel is a pressure at which the refrigerant evaporates or condenses.
type PressureLevel struct {
	Process string       `json:"process" enums:"heat_rejection,evaporation"`
	Bubble  DiagramPoint `json:"bubble"`
	Dew     DiagramPoint `json:"dew"`
} //@name PressureLevel

// PressureEnthalpyDiagram answers POST /v1/pressure-enthalpy-diagram. Without
// readings it is the refrigerant's diagram alone. It returns *Refusal or
// ErrStopped.
func (e *Engine) PressureEnthalpyDiagram(q PressureEnthalpyDiagramQuestion, as Presentation) (PressureEnthalpyDiagramAnswer, error) {
	t := newTrail(as)
	var r Refusal
	at := intake.At("/system/refrigerant")
	c := intake.Take(q.Visit, e.catalogue, &r)
	if q.Readings == (Readings{}) {
		if err := r.Err(); err != nil {
			return PressureEnthalpyDiagramAnswer{}, err
		}
		t.refrigerant(c.Refrigerant)
		if q.Expected {
			r.Refuse(intake.At("/readings"), CodeMissing, "air_missing_for_expected", nil)
			return PressureEnthalpyDiagramAnswer{}, &r
		}
		return e.draw(t, running{Case: intake.Case{Refrigerant: c.Refrigerant}}, nil, nil, at)
	}
	run, err := e.run(c, t, &r)
	if err != nil {
		return PressureEnthalpyDiagramAnswer{}, err
	}
	t.atWork()
	if !q.Expected {
		return e.draw(t, run, &run.state, nil, at)
	}
	x, err := e.expect(ExpectedReadingsQuestion{Visit: q.Visit}, c, t, &r)
	if err != nil {
		return PressureEnthalpyDiagramAnswer{}, err
	}
	usual := running{Case: intake.Case{Refrigerant: run.Refrigerant, Air: run.Air}}
	if usual.state, err = x.median(); err != nil {
		return PressureEnthalpyDiagramAnswer{}, err
	}
	return e.draw(t, run, &run.state, &usual, at)
}

// RefrigerantDiagram answers GET
// /v1/refrigerants/{designation}/pressure-enthalpy-diagram. It returns
// *UnknownRefrigerantError, *Refusal or ErrStopped.
func (e *Engine) RefrigerantDiagram(q RefrigerantDiagramQuestion, as Presentation) (PressureEnthalpyDiagramAnswer, error) {
	f, err := e.catalogue.Find(q.Designation)
	if err != nil {
		return PressureEnthalpyDiagramAnswer{}, err
	}
	t := newTrail(as)
	t.refrigerant(f)
	return e.draw(t, running{Case: intake.Case{Refrigerant: f}}, nil, nil, intake.Parameter("designation"))
}

// draw computes the geometry; at is where the refrigerant stands in the
// question, usual the healthy system where it is drawn too.
func (e *Engine) draw(t *trail, run running, readings *circuit.State, usual *running, at intake.Place) (PressureEnthalpyDiagramAnswer, error) {
	f := run.Refrigerant
	lines, err := e.lines(f)
	if err != nil {
		return PressureEnthalpyDiagramAnswer{}, err
	}
	// Isotherms at round figures of the reader's scale.
	o := diagram.Options{Origin: unit.Fahrenheit(0).Kelvin(), Step: unit.FahrenheitDiff(40).Kelvin(), Readings: readings, Stop: e.stop}
	if t.as.si() {
		o.Origin, o.Step = unit.Celsius(0).Kelvin(), 20
	}
	if usual != nil {
		o.Expected = &usual.state
	}
	d, err := diagram.Draw(f, lines, o)
	switch {
	case errors.Is(err, ErrStopped):
		return PressureEnthalpyDiagramAnswer{}, err
	case err != nil:
		var r Refusal
		refuseAs(&r, at, noSaturation(t.as, f, err))
		return PressureEnthalpyDiagramAnswer{}, &r
	}
	t.mixture(f)
	t.reference(f)
	a := t.as.diagram(f, d)
	if readings != nil {
		t.circuit(run, d.Circuit, &a)
	}
	for _, s := range d.Expected.States {
		quiet := newTrail(Presentation{Units: t.as.Units}) // the working is about what was read
		a.ExpectedStates = append(a.ExpectedStates, quiet.circuitState(*usual, s))
	}
	a.Common = t.common()
	return a, nil
}

// diagram writes what the refrigerant alone draws.
func (p Presentation) diagram(f *refrigerant.Refrigerant, d diagram.Diagram) PressureEnthalpyDiagramAnswer {
	a := PressureEnthalpyDiagramAnswer{
		Refrigerant: f.Designation,
		Window: DiagramWindow{
			LowestPressure:  p.measure(unit.KindPressure, d.Window.Lowest),
			HighestPressure: p.measure(unit.KindPressure, d.Window.Highest),
			LowestEnthalpy:  p.measure(unit.KindSpecificEnergy, d.Window.Left),
			HighestEnthalpy: p.measure(unit.KindSpecificEnergy, d.Window.Right),
		},
		Dome:      Dome{Bubble: p.domeLine(d.Dome.Bubble), Dew: p.domeLine(d.Dome.Dew)},
		Isotherms: []Isotherm{}, IsothermsNotDrawn: []IsothermNotDrawn{},
		States: []CircuitState{}, Legs: []CircuitLeg{}, Levels: []PressureLevel{}, ExpectedStates: []CircuitState{}, Needs: []Need{}, ReadingChecks: []ReadingCheck{},
	}
	if c := d.Dome.Critical; c != nil {
		a.Dome.Critical = new(p.diagramPoint(*c))
	}
	for _, i := range d.Isotherms {
		temperature := p.measure(unit.KindTemperature, i.Temperature)
		if i.Err != nil {
			a.IsothermsNotDrawn = append(a.IsothermsNotDrawn, IsothermNotDrawn{temperature, noSaturation(p, f, i.Err)})
			continue
		}
		a.Isotherms = append(a.Isotherms, Isotherm{temperature, p.polyline(i.Liquid), p.polyline(i.TwoPhase), p.polyline(i.Vapor), p.polyline(i.Beyond)})
	}
	return a
}

// circuit writes the states, and what was taken for granted about them.
func (t *trail) circuit(run running, c diagram.Circuit, a *PressureEnthalpyDiagramAnswer) {
	if c.LiquidForDischarge {
		t.assume(phrase.Code(circuit.LiquidForDischarge), nil)
	}
	if c.DischargeForLiquid {
		t.assume(phrase.Code(circuit.DischargeForLiquid), nil)
	}
	for _, s := range c.States {
		a.States = append(a.States, t.circuitState(run, s))
		if len(s.Region) > 0 {
			t.assume(regionCoverage, nil)
		}
	}
	for _, l := range c.Legs {
		a.Legs = append(a.Legs, CircuitLeg{string(l.Process), text(l.Process), string(l.From), string(l.To)})
		if l.Process == diagram.Expansion {
			t.assume(expansionKeepsEnthalpy, nil)
		}
		t.assume(legsStraight, nil)
	}
	for _, l := range c.Levels {
		a.Levels = append(a.Levels, PressureLevel{string(l.Process), t.as.diagramPoint(l.Bubble), t.as.diagramPoint(l.Dew)})
	}
	for _, l := range c.Lacks {
		a.Needs = wants(a.Needs, l.Reading.String(), string(l.Place))
	}
	a.ReadingChecks = t.checks(run)
}

func (t *trail) circuitState(run running, s diagram.State) CircuitState {
	within := func(kind unit.Kind, e gum.Estimate) Measure {
		return t.as.measure(kind, e.Value).within(run.state.Standard(e))
	}
	out := CircuitState{State: string(s.Place), Text: text(s.Place), Phase: string(s.Phase), Pressure: within(unit.KindPressure, s.Pressure)}
	// A gauge does not err with the air's pressure.
	gauge := s.Pressure
	if site, ok := run.state.Site(); ok {
		gauge = gauge.Plus(site.Times(-1))
	} else {
		gauge.Value -= run.Air.Zero.Pascal()
	}
	out.GaugePressure = within(unit.KindGaugePressure, gauge)
	if s.Temperature.Value > 0 {
		out.Temperature = new(within(unit.KindTemperature, s.Temperature))
	}
	if s.NotResolved {
		out.PhaseNotResolved = new(note(phaseNotResolved))
	}
	switch {
	case errors.Is(s.Err, diagram.ErrTwoPhase):
		out.Reason = new(note(twoPhasesNoEnthalpy))
		return out
	case s.Err != nil:
		out.Reason = new(noSaturation(t.as, run.Refrigerant, s.Err))
		return out
	}
	out.Enthalpy = new(within(unit.KindSpecificEnergy, s.Enthalpy))
	if s.Phase == diagram.TwoPhase {
		out.VaporFraction = new(within(unit.KindRatio, s.VaporFraction))
	}
	out.Region = t.as.polyline(s.Region)
	t.explainCircuitState(run, s, out)
	return out
}

// explainCircuitState puts the working on the board.
func (t *trail) explainCircuitState(run running, s diagram.State, out CircuitState) {
	if !t.as.Explain {
		return
	}
	said := func(kind unit.Kind, e gum.Estimate) phrase.Quantity {
		return t.as.said(kind, e.Value, run.state.Standard(e))
	}
	code, formula := stepCircuitState, "enthalpy at pressure and temperature"
	if s.Place == diagram.AfterExpansion {
		code, formula = stepAfterExpansion, "enthalpy of the liquid line"
	}
	params := phrase.Params{"state": out.State, "enthalpy": phrase.Quantity(*out.Enthalpy)}
	if s.Place == diagram.AfterExpansion {
		params["vapor_fraction"] = said(unit.KindRatio, s.VaporFraction)
	} else {
		params["pressure"], params["temperature"] = phrase.Quantity(out.Pressure), said(unit.KindTemperature, s.Temperature)
	}
	t.step(out.State, code, formula, run.Refrigerant.Sources[0], params)
}

// reference says from where enthalpies count.
func (t *trail) reference(f *refrigerant.Refrigerant) {
	ref, err := f.Reference()
	switch {
	case err != nil: // then there is no enthalpy to be shown either
	case ref.Basis == refrigerant.IIR:
		t.assume(iirReference, nil)
	default:
		t.assume(boilingPointReference, nil)
	}
}

func (p Presentation) values(kind unit.Kind, n int, si func(int) float64) Values {
	v := Values{Values: make([]float64, n)}
	for i := range v.Values {
		m := p.measure(kind, si(i))
		v.Unit, v.Values[i] = m.Unit, m.Value
		if kind != unit.KindTemperature {
			v.Values[i] = significant(m.Value, 7)
		}
	}
	return v
}

func (p Presentation) polyline(line []diagram.Point) *Polyline {
	if len(line) == 0 {
		return nil
	}
	return &Polyline{
		Pressure: p.values(unit.KindPressure, len(line), func(i int) float64 { return line[i].Pressure }),
		Enthalpy: p.values(unit.KindSpecificEnergy, len(line), func(i int) float64 { return line[i].Enthalpy }),
	}
}

func (p Presentation) domeLine(line []diagram.Saturated) Polyline {
	return Polyline{
		Pressure:    p.values(unit.KindPressure, len(line), func(i int) float64 { return line[i].Pressure }),
		Enthalpy:    p.values(unit.KindSpecificEnergy, len(line), func(i int) float64 { return line[i].Enthalpy }),
		Temperature: new(p.values(unit.KindTemperature, len(line), func(i int) float64 { return line[i].Temperature })),
	}
}

func (p Presentation) diagramPoint(s diagram.Saturated) DiagramPoint {
	return DiagramPoint{
		Temperature: p.measure(unit.KindTemperature, s.Temperature),
		Pressure:    p.measure(unit.KindPressure, s.Pressure),
		Enthalpy:    p.measure(unit.KindSpecificEnergy, s.Enthalpy),
	}
}
