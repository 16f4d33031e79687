package query

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// DiagnosisQuestion brings a running system and what was read on it.
type DiagnosisQuestion struct {
	Visit
	// RunningTime since the start, or since the last change.
	RunningTime *Quantity `json:"running_time,omitempty"`
	// Prior probabilities before any reading, by no_fault, fault and unexplained; what is not named shares the rest.
	Prior        map[string]float64 `json:"prior,omitempty"`
	Presentation Presentation       `json:"-"`
} //@name DiagnosisQuestion

// DiagnosisAnswer is the state of the circuit beside its targets, and what the
// difference suggests.
type DiagnosisAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	State       State  `json:"state"`
	// Unavailable are quantities whose readings are there but have no answer.
	Unavailable []Unavailable `json:"unavailable"`
	Targets     []TargetEntry `json:"targets"`
	// TargetsUnavailable says which quantities have no target and why.
	TargetsUnavailable []NoTarget     `json:"targets_unavailable"`
	Deviations         []Deviation    `json:"deviations"`
	ReadingChecks      []ReadingCheck `json:"reading_checks"`
	Needs              []Need         `json:"needs"`
	// Procedure are the steps of the published charge verification: airflow before charge.
	Procedure  []ProcedureStep `json:"procedure"`
	Assessment string          `json:"assessment" enums:"no_fault_indicated,fault_indicated,inconclusive"`
	// InconclusiveBecause are the reasons where the assessment is inconclusive.
	InconclusiveBecause []Note `json:"inconclusive_because"`
	// NoFault, Unexplained, Faults and Hypotheses are absent or empty where the method does not hold.
	NoFault *Probability `json:"no_fault,omitempty"`
	// Faults ranked by the chance that each is present.
	Faults      []FaultEntry `json:"faults"`
	Unexplained *Probability `json:"unexplained,omitempty"`
	// Hypotheses are exclusive and sum to 1.
	Hypotheses []HypothesisEntry `json:"hypotheses"`
	// Prior as it was used.
	Prior          map[string]float64 `json:"prior,omitempty"`
	ChargeEstimate ChargeEstimate     `json:"charge_estimate"`
	// NextMeasurement is the reading not yet taken that would tell most.
	NextMeasurement *NextMeasurement `json:"next_measurement" extensions:"x-nullable"`
	Common
} //@name Diagnosis

// TargetEntry is what a quantity ought to be.
type TargetEntry struct {
	Quantity  string  `json:"quantity" example:"superheat"`
	Target    Measure `json:"target"`
	Tolerance Measure `json:"tolerance"`
	Basis     string  `json:"basis" enums:"maker,charging_chart,common_practice"`
	// Source is a key among the sources; empty for the maker's own figure.
	Source string `json:"source,omitempty"`
	Status string `json:"status,omitempty"`
} //@name Target

// NoTarget is a quantity without a target.
type NoTarget struct {
	Quantity     string `json:"quantity" example:"superheat"`
	Reason       string `json:"reason" example:"target_too_low"`
	Detail       string `json:"detail"`
	Alternatives []Note `json:"alternatives,omitempty"`
} //@name NoTarget

// Deviation is measured minus target.
type Deviation struct {
	Quantity  string  `json:"quantity" example:"superheat"`
	Deviation Measure `json:"deviation"`
	// WithinToleranceProbability is the chance that the true deviation passes.
	WithinToleranceProbability float64 `json:"within_tolerance_probability" example:"0.04"`
} //@name Deviation

// ProcedureStep is one step of the published procedure.
type ProcedureStep struct {
	Step     string `json:"step" example:"airflow"`
	Quantity string `json:"quantity,omitempty" example:"temperature_split"`
	Outcome  string `json:"outcome" example:"pass"`
	Text     string `json:"text"`
	// WithinToleranceProbability is absent where the step was not tested.
	WithinToleranceProbability *float64 `json:"within_tolerance_probability,omitempty"`
} //@name ProcedureStep

// Probability of one hypothesis.
type Probability struct {
	Probability float64 `json:"probability" example:"0.05"`
} //@name Probability

// FaultEntry is one fault with its weight.
type FaultEntry struct {
	Fault string `json:"fault" example:"undercharge"`
	Text  string `json:"text"`
	// Probability that the fault is present, alone or with another.
	Probability float64 `json:"probability" example:"0.83"`
	// LogLikelihoodRatio of the readings against no fault, natural logarithm.
	LogLikelihoodRatio float64    `json:"log_likelihood_ratio" example:"6.4"`
	Severity           Severity   `json:"severity"`
	Evidence           []Evidence `json:"evidence"`
	NextChecks         []Note     `json:"next_checks"`
} //@name FaultEntry

// Severity is a range; 90 % of the weight lies between low and high.
type Severity struct {
	Low    float64 `json:"low"`
	Likely float64 `json:"likely"`
	High   float64 `json:"high"`
	// Unit is what a severity of 1 means: one tolerance of the quantities concerned.
	Unit string `json:"unit" example:"tolerance"`
} //@name Severity

// Evidence is how strongly one quantity, given the others, speaks for the
// fault: natural logarithm of a likelihood ratio.
type Evidence struct {
	Quantity string  `json:"quantity" example:"subcooling"`
	Pull     float64 `json:"pull" example:"2.1"`
} //@name Evidence

// HypothesisEntry is one exclusive explanation: no faults, one fault, or
// unexplained.
type HypothesisEntry struct {
	Faults      []string `json:"faults"`
	Unexplained bool     `json:"unexplained,omitempty"`
	Probability float64  `json:"probability" example:"0.8"`
} //@name Hypothesis

// ChargeEstimate is the direction in which the charge is off, where the
// procedure and the inference agree; this method gives no amount.
type ChargeEstimate struct {
	Direction *Note    `json:"direction" extensions:"x-nullable"`
	Amount    *Measure `json:"amount" extensions:"x-nullable"`
	Reason    string   `json:"reason"`
} //@name ChargeEstimate

// NextMeasurement is a reading that was not taken.
type NextMeasurement struct {
	Reading string `json:"reading" example:"supply_dry_bulb"`
	For     string `json:"for" example:"temperature_split"`
	// Information is the mean loss of doubt (entropy of the hypotheses) in nats.
	Information float64 `json:"information" example:"0.21"`
} //@name NextMeasurement

// Diagnosis answers POST /v1/diagnosis. It returns *Refusal.
func (e *Engine) Diagnosis(q DiagnosisQuestion) (DiagnosisAnswer, error) {
	t := newTrail(q.Presentation)
	var r Refusal
	in := diagnosis.Input{Device: diagnosis.Device(q.System.MeteringDevice), CapacityFixed: q.System.CapacityFixed, Prior: q.Prior}
	if v, ok := resolve(q.RunningTime, place{pointer: "/running_time"}, &r, unit.KindTime); ok {
		d := unit.Second(v.si)
		in.RunningTime = &d
	}
	in.Superheat = makerTarget(q.System.TargetSuperheat, q.System.TargetSuperheatTolerance)
	in.Subcooling = makerTarget(q.System.TargetSubcooling, q.System.TargetSubcoolingTolerance)
	if q.System.NominalCapacity != nil {
		var ignored Refusal // the system's own check notes its faults
		if v, ok := resolve(q.System.NominalCapacity, place{}, &ignored, unit.KindPower); ok {
			in.NominalCapacity = unit.Watt(v.si)
		}
	}
	if f := q.System.RatedEfficiency; f != nil && f.Value != nil {
		in.Efficiency = &diagnosis.Efficiency{Metric: f.Metric, Value: *f.Value}
	}
	checkPrior(q.Prior, &r)
	run, err := e.run(q.Visit, t, &r)
	if err != nil {
		return DiagnosisAnswer{}, err
	}
	in.State, in.Site = &run.state, run.air.site
	if curve := run.lines.Curve(); curve != nil {
		in.Traits, _ = signature.TraitsOf(curve)
	}
	if in.WetBulb, err = t.wetBulbEstimate(run, &r); err != nil {
		return DiagnosisAnswer{}, err
	}
	d, err := diagnosis.Assess(in)
	if err != nil {
		priorFaults(err, &r)
		if fault := r.orNil(); fault != nil {
			return DiagnosisAnswer{}, fault
		}
		return DiagnosisAnswer{}, err
	}

	a := DiagnosisAnswer{
		Refrigerant: run.refrigerant.Designation,
		State:       t.state(run), Unavailable: unavailable(run), Needs: needs(run.state.Needs), ReadingChecks: t.checks(run),
		Targets: []TargetEntry{}, TargetsUnavailable: []NoTarget{}, Deviations: []Deviation{}, Procedure: []ProcedureStep{},
		Assessment: string(d.Verdict), InconclusiveBecause: []Note{}, Faults: []FaultEntry{}, Hypotheses: []HypothesisEntry{},
		ChargeEstimate: ChargeEstimate{Reason: "amount_not_given_by_this_method"},
	}
	if a.State == (State{}) && len(a.Unavailable) == 0 {
		r.invalid(place{pointer: "/readings"}, CodeMissing, "nothing follows from these readings yet: "+wantedFor(run.state.Needs))
		return DiagnosisAnswer{}, &r
	}
	t.targets(&a, run, d)
	t.weighed(&a, run, d, in.NominalCapacity.Watt() > 0)
	for _, code := range d.Because {
		a.InconclusiveBecause = append(a.InconclusiveBecause, *note(string(code)))
	}
	for _, code := range d.Assumptions {
		t.assume(string(code), codeText(string(code)))
	}
	t.atWork()
	t.caution("no_venting")
	if d.Charge != "" {
		t.caution("charge_blend_as_liquid")
	}
	a.Common = t.common()
	return a, nil
}

func makerTarget(value, tolerance *Quantity) *diagnosis.MakerTarget {
	var ignored Refusal // the system's own check notes their faults
	v, ok := resolve(value, place{}, &ignored, unit.KindTemperatureDiff)
	if !ok {
		return nil
	}
	m := &diagnosis.MakerTarget{Value: unit.KelvinDiff(v.si)}
	if w, ok := resolve(tolerance, place{}, &ignored, unit.KindTemperatureDiff); ok && w.si > 0 {
		d := unit.KelvinDiff(w.si)
		m.Tolerance = &d
	}
	return m
}

// checkPrior notes names that are no hypothesis.
func checkPrior(prior map[string]float64, r *Refusal) {
	names := []string{diagnosis.NoFault, diagnosis.Unexplained}
	for _, f := range diagnosis.Faults() {
		names = append(names, string(f))
	}
	for _, name := range slices.Sorted(maps.Keys(prior)) {
		enum(r, place{pointer: "/prior"}.member(name), name, names...)
	}
}

func priorFaults(err error, r *Refusal) {
	for _, p := range each[*diagnosis.PriorError](err) {
		at := place{pointer: "/prior"}
		if p.Name != "" {
			at = at.member(p.Name)
		}
		r.invalid(at, CodeOutOfRange, p.Reason)
	}
}

// wetBulbEstimate is the return wet bulb with its gradient in the readings.
func (t *trail) wetBulbEstimate(run running, r *Refusal) (*circuit.Estimate, error) {
	if e, ok := run.state.Reading(circuit.ReturnWetBulb); ok {
		return &e, nil
	}
	wet, ok := t.returnWetBulb(run.readings, run.air, r)
	if err := r.orNil(); err != nil || !ok {
		return nil, err
	}
	e := circuit.Estimate{Value: wet.k, Gradient: circuit.Along(circuit.ReturnDryBulb).Times(wet.gradient.DryBulb).
		Plus(circuit.Along(circuit.ReturnRelativeHumidity).Times(wet.gradient.Humidity))}
	if run.air.zero == run.air.site {
		e.Gradient = e.Gradient.Plus(circuit.AlongSite().Times(wet.gradient.Pressure))
	}
	return &e, nil
}

// targets writes what the quantities ought to be, how far they are off, and
// the steps of the procedure.
func (t *trail) targets(a *DiagnosisAnswer, run running, d diagnosis.Assessment) {
	for _, g := range d.Targets {
		kind := g.Feature.Kind()
		u := run.state.Standard(g.Expected)
		entry := TargetEntry{
			Quantity: string(g.Feature), Basis: string(g.Basis), Source: g.Source, Status: g.Status,
			Target:    t.measured95(kind, g.Expected.Value, math.Hypot(u, g.Standard)),
			Tolerance: t.as.measure(kind, g.Tolerance),
		}
		a.Targets = append(a.Targets, entry)
		t.source(g.Source, g.Status)
	}
	for _, m := range d.Missing {
		switch {
		case m.Err != nil:
			a.TargetsUnavailable = append(a.TargetsUnavailable, t.noTarget(m, d.AirflowSuspect))
		case m.Capacity:
			a.Needs = wants(a.Needs, "nominal_capacity", "target_"+string(m.Feature))
		}
		for _, reading := range m.Readings {
			a.Needs = wants(a.Needs, reading.String(), "target_"+string(m.Feature))
		}
	}
	for _, v := range d.Deviations {
		kind := v.Feature.Kind()
		m := t.measured95(kind, v.Deviation.Value, v.Standard)
		a.Deviations = append(a.Deviations, Deviation{string(v.Feature), m, significant(v.WithinTolerance, 3)})
		t.step("deviation_"+string(v.Feature), "measured - target", "", func() string {
			u := CoverageFactor * v.Standard
			side := "above"
			if v.Deviation.Value < 0 {
				side = "below"
			}
			return fmt.Sprintf("%s lies %s %s its target, give or take %s (95 %%): the chance that it is within tolerance is %s.",
				spoken(string(v.Feature)), t.as.say(kind, math.Abs(v.Deviation.Value), u), side, t.as.say(kind, u, u), chance(v.WithinTolerance))
		})
	}
	for _, s := range d.Procedure {
		step := ProcedureStep{Step: string(s.Name), Quantity: string(s.Feature), Outcome: string(s.Outcome), Text: codeText(string(s.Name)) + " " + codeText(string(s.Outcome))}
		if s.Outcome != diagnosis.NotTested {
			p := significant(s.WithinTolerance, 3)
			step.WithinToleranceProbability = &p
		}
		a.Procedure = append(a.Procedure, step)
	}
}

func (t *trail) noTarget(m diagnosis.Missing, suspect bool) NoTarget {
	n := NoTarget{Quantity: string(m.Feature), Reason: CodeNotConverged, Detail: codeText(CodeNotConverged)}
	var none *target.UnavailableError
	if errors.As(m.Err, &none) {
		n.Reason, n.Detail, n.Alternatives = t.unavailableTarget(none)
	}
	if suspect {
		// With too little air nothing points at the charge.
		n.Alternatives = slices.DeleteFunc(n.Alternatives, func(a Note) bool {
			return a.Code == string(target.WeighIn) || a.Code == string(target.SubcoolingForValve)
		})
	}
	return n
}

// weighed writes the probabilities.
func (t *trail) weighed(a *DiagnosisAnswer, run running, d diagnosis.Assessment, capacity bool) {
	a.Prior = make(map[string]float64, len(d.Prior))
	for name, p := range d.Prior {
		a.Prior[name] = significant(p, 9)
	}
	for _, m := range d.Next {
		a.NextMeasurement = &NextMeasurement{Reading: m.Reading.String(), For: string(m.For), Information: significant(m.Information, 3)}
		break
	}
	if d.Charge != "" {
		a.ChargeEstimate.Direction = note(string(d.Charge))
	} else if d.AirflowOpen {
		a.ChargeEstimate.Reason = "airflow_first"
		if _, ok := run.readings[circuit.IndoorAirflow]; !ok {
			a.Needs = wants(a.Needs, circuit.IndoorAirflow.String(), "airflow")
		}
		if !capacity {
			a.Needs = wants(a.Needs, "nominal_capacity", "airflow")
		}
	}
	if !d.Weighed {
		return
	}
	a.NoFault, a.Unexplained = &Probability{significant(d.NoFault, 4)}, &Probability{significant(d.Unexplained, 4)}
	for _, f := range d.Findings {
		entry := FaultEntry{
			Fault: string(f.Fault), Text: codeText(string(f.Fault)), Probability: significant(f.Probability, 4), LogLikelihoodRatio: significant(f.LogLikelihoodRatio, 4),
			Severity: Severity{significant(f.Severity.Low, 3), significant(f.Severity.Likely, 3), significant(f.Severity.High, 3), "tolerance"},
			Evidence: []Evidence{}, NextChecks: []Note{},
		}
		for _, p := range f.Evidence {
			entry.Evidence = append(entry.Evidence, Evidence{string(p.Feature), significant(p.Pull, 3)})
		}
		for _, c := range f.NextChecks {
			entry.NextChecks = append(entry.NextChecks, *note(c))
		}
		a.Faults = append(a.Faults, entry)
	}
	for _, h := range d.Hypotheses {
		entry := HypothesisEntry{Faults: []string{}, Unexplained: h.Unexplained, Probability: significant(h.Probability, 6)}
		for _, f := range h.Faults {
			entry.Faults = append(entry.Faults, string(f))
		}
		a.Hypotheses = append(a.Hypotheses, entry)
	}
	for _, source := range diagnosis.Sources() {
		t.source(source.Key, source.Status)
	}
	t.step("assessment", "published signs of faults, one covariance for all deviations", "rossi-1997", func() string {
		if len(d.Findings) == 0 {
			return codeText(string(d.Verdict))
		}
		first := d.Findings[0]
		return fmt.Sprintf("%s That nothing is wrong has a chance of %s; the likeliest fault is %s with %s; that none of these explains it has %s.",
			codeText(string(d.Verdict)), chance(d.NoFault), words(string(first.Fault)), chance(first.Probability), chance(d.Unexplained))
	})
}

// chance words a probability; none is ever said to be nought or certain.
func chance(p float64) string {
	switch {
	case p < 0.005:
		return "less than 1 %"
	case p > 0.995:
		return "more than 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}
