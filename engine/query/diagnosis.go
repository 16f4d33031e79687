package query

import (
	"maps"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// DiagnosisQuestion brings a running system and what was read on it.
type DiagnosisQuestion struct {
	Visit
	// RunningTime since the start, or since the last change.
	RunningTime *Quantity `json:"running_time,omitempty"`
	// Prior probabilities before any reading, by no_fault, fault and unexplained; what is not named shares the rest. Beside them two_faults, the share with two faults among systems with any.
	Prior map[string]float64 `json:"prior,omitempty"`
	// Losses of wrong words, by false_alarm, wrong_fault, missed_fault and inconclusive; what is not named keeps its usual figure, and only their ratios matter.
	Losses map[string]float64 `json:"losses,omitempty"`
} //@name DiagnosisQuestion

// DiagnosisAnswer is the state of the circuit beside its targets, and what the
// difference suggests.
type DiagnosisAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	State       State  `json:"state"`
	// Unavailable are quantities whose readings are there but have no answer.
	Unavailable []Unavailable `json:"unavailable"`
	Targets     []Target      `json:"targets"`
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
	Hypotheses []Hypothesis `json:"hypotheses"`
	// Prior as it was used.
	Prior map[string]float64 `json:"prior,omitempty"`
	// Losses as they were used: what is said has the least expected loss.
	Losses map[string]float64 `json:"losses,omitempty"`
	// Interpretations weigh, where a reading check failed, the readings as they were typed against what would explain them.
	Interpretations []Interpretation `json:"interpretations,omitempty"`
	ChargeEstimate  ChargeEstimate   `json:"charge_estimate"`
	// NextMeasurement is the reading not yet taken that would tell most.
	NextMeasurement *NextMeasurement `json:"next_measurement" extensions:"x-nullable"`
	Common
} //@name DiagnosisAnswer

// Target is what a quantity ought to be.
type Target struct {
	Quantity  string  `json:"quantity" example:"superheat"`
	Target    Measure `json:"target"`
	Tolerance Measure `json:"tolerance"`
	Basis     string  `json:"basis" enums:"manufacturer,charging_chart,common_practice"`
	// Source is a key among the sources; empty for the manufacturer's own figure.
	Source string `json:"source,omitempty"`
	Status string `json:"status,omitempty"`
} //@name Target

// NoTarget is a quantity without a target.
type NoTarget struct {
	Quantity string `json:"quantity" example:"superheat"`
	Reason   Note   `json:"reason"`
	// Limits of the table that the conditions lie beyond.
	Limits       []Note `json:"limits,omitempty"`
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
	Note
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

// Severity is how large the fault is if it is there; 90 % of the weight lies
// between low and high.
type Severity struct {
	Low    float64 `json:"low" example:"0.11"`
	Likely float64 `json:"likely" example:"0.19"`
	High   float64 `json:"high" example:"0.28"`
	// Unit is that of the three.
	Unit string `json:"unit" example:"fraction"`
	// Of says what they are a fraction of.
	Of Note `json:"of"`
} //@name Severity

// Evidence is how strongly one quantity, given all the others, speaks for the
// fault against no fault: natural logarithm of a likelihood ratio. Readings that
// share a pressure or a line stand as the quantity they make together.
type Evidence struct {
	Quantity         string  `json:"quantity" example:"subcooling"`
	WeightOfEvidence float64 `json:"weight_of_evidence" example:"2.1"`
} //@name Evidence

// Hypothesis is one exclusive explanation: no faults, one fault, two, or
// unexplained.
type Hypothesis struct {
	Faults      []string `json:"faults"`
	Unexplained bool     `json:"unexplained,omitempty"`
	Probability float64  `json:"probability" example:"0.8"`
} //@name Hypothesis

// ChargeEstimate is by how much the charge is off, where the procedure and the
// inference agree and no other fault is probable.
type ChargeEstimate struct {
	Direction *Note `json:"direction" extensions:"x-nullable"`
	// Fraction of the rated charge that is missing, or too much.
	Fraction *ChargeInterval `json:"fraction,omitempty"`
	// Mass of it, where the charge on the plate is given.
	Mass *ChargeInterval `json:"mass,omitempty"`
	// Amount that is likely, where the charge on the plate is given.
	Amount *Measure `json:"amount" extensions:"x-nullable"`
	// FirstStep is at most half of the least that is off: then wait, read again, and judge anew.
	FirstStep *ChargeStep `json:"first_step,omitempty"`
	Reason    Note        `json:"reason"`
} //@name ChargeEstimate

// ChargeInterval holds 90 % of the weight between low and high.
type ChargeInterval struct {
	Low    Measure `json:"low"`
	Likely Measure `json:"likely"`
	High   Measure `json:"high"`
} //@name ChargeInterval

// ChargeStep is a careful change of the charge.
type ChargeStep struct {
	Fraction Measure  `json:"fraction"`
	Mass     *Measure `json:"mass,omitempty"`
	// Wait before reading again.
	Wait Measure `json:"wait"`
} //@name ChargeStep

// Interpretation is one way to understand the readings.
type Interpretation struct {
	Interpretation string `json:"interpretation" enums:"as_read,hoses_swapped,other_refrigerant"`
	Text           string `json:"text"`
	// Refrigerant that this takes to be in the system.
	Refrigerant string `json:"refrigerant" example:"R-22"`
	// Probability among those listed.
	Probability float64 `json:"probability" example:"0.97"`
	// LikeliestFault under it; absent where none of the faults is likelier than that nothing is wrong.
	LikeliestFault string `json:"likeliest_fault,omitempty" example:"undercharge"`
} //@name Interpretation

// NextMeasurement is a reading that was not taken.
type NextMeasurement struct {
	Reading string `json:"reading" example:"supply_dry_bulb"`
	For     string `json:"for" example:"temperature_split"`
	// Information is about the mean loss of doubt (entropy of the hypotheses) in nats; POST /v1/measurement-plan works it out.
	Information float64 `json:"information" example:"0.21"`
} //@name NextMeasurement

// inference is what a diagnosis and a plan of measurements start from.
type inference struct {
	running
	in diagnosis.Input
}

// infer takes what the inference starts from out of a visit resolved, whose
// errors stand in r.
func (e *Engine) infer(c intake.Case, runningTime *Quantity, prior, losses map[string]float64, t *trail, r *Refusal) (inference, error) {
	in := diagnosis.Input{Prior: prior, Losses: losses}
	if v, ok := r.Resolve(runningTime, c.At.Member("running_time"), unit.KindTime); ok {
		in.RunningTime = new(unit.Second(v.SI))
	}
	checkNames(prior, c.At.Member("prior"), r, append([]string{diagnosis.NoFault, diagnosis.Unexplained, diagnosis.TwoFaults}, codesOf(equipment.Faults())...))
	checkNames(losses, c.At.Member("losses"), r, diagnosis.LossNames())
	run, err := e.run(c, t, r)
	if err != nil {
		return inference{}, err
	}
	in.Device, in.CapacityFixed = run.Device, run.CapacityFixed
	in.Superheat, in.Subcooling = manufacturerTarget(run.Superheat), manufacturerTarget(run.Subcooling)
	if run.NominalCapacity != nil {
		in.NominalCapacity = unit.Watt(run.NominalCapacity.SI)
	}
	if f := run.RatedEfficiency; f != nil {
		in.Efficiency = &diagnosis.Efficiency{Metric: f.Metric, Value: *f.Value}
	}
	in.State, in.Site = &run.state, run.Air.Site
	if curve := run.lines.Curve(); curve != nil {
		in.Traits, _ = signature.TraitsOf(curve)
	}
	if in.WetBulb, err = t.wetBulbEstimate(run, r); err != nil {
		return inference{}, err
	}
	return inference{run, in}, nil
}

// Diagnosis answers POST /v1/diagnosis. It returns *Refusal.
func (e *Engine) Diagnosis(q DiagnosisQuestion, as Presentation) (DiagnosisAnswer, error) {
	var r Refusal
	return e.diagnose(q, intake.Take(q.Visit, e.catalogue, &r), newTrail(as), &r)
}

// diagnose answers for a visit resolved, whose errors stand in r.
func (e *Engine) diagnose(q DiagnosisQuestion, c intake.Case, t *trail, r *Refusal) (DiagnosisAnswer, error) {
	run, err := e.infer(c, q.RunningTime, q.Prior, q.Losses, t, r)
	if err != nil {
		return DiagnosisAnswer{}, err
	}
	d, err := diagnosis.Assess(run.in)
	if err != nil {
		return DiagnosisAnswer{}, inputFaults(err, c.At, r)
	}
	found, err := t.stateAnswer(run.running, r)
	if err != nil {
		return DiagnosisAnswer{}, err
	}
	list, err := e.interpretations(run)
	if err != nil {
		return DiagnosisAnswer{}, err
	}
	a := DiagnosisAnswer{
		Refrigerant: found.Refrigerant, State: found.State, Unavailable: found.Unavailable, Needs: found.Needs, ReadingChecks: found.ReadingChecks,
		Targets: []Target{}, TargetsUnavailable: []NoTarget{}, Deviations: []Deviation{}, Procedure: []ProcedureStep{},
		Faults: []FaultEntry{}, Hypotheses: []Hypothesis{},
	}
	t.targets(&a, run.running, d)
	t.weighed(&a, run, d)
	d.Reconsider(list)
	a.Interpretations, a.Assessment, a.InconclusiveBecause = t.interpreted(list), string(d.Assessment), notes(d.Because)
	t.chargeEstimate(&a, run.Charge, d)
	assumeAll(t, d.Assumptions)
	t.atWork()
	t.caution(noVenting)
	if d.Charge != "" {
		t.caution(chargeBlendAsLiquid)
	}
	a.Common = t.common()
	return a, nil
}

func manufacturerTarget(t *intake.Target) *diagnosis.ManufacturerTarget {
	if t == nil {
		return nil
	}
	return &diagnosis.ManufacturerTarget{Value: t.Value, Tolerance: t.Tolerance}
}

// checkNames notes members of a map that have no meaning.
func checkNames(given map[string]float64, at intake.Place, r *Refusal, names []string) {
	for _, name := range slices.Sorted(maps.Keys(given)) {
		r.OneOf(at.Member(name), name, names...)
	}
}

// inputFaults notes what diagnosis refuses, and gives the refusal; an error of
// another kind comes back as it is.
func inputFaults(err error, at intake.Place, r *Refusal) error {
	refuse := func(at intake.Place, name string, why diagnosis.Flaw) {
		if name != "" {
			at = at.Member(name)
		}
		r.Refuse(at, CodeOutOfRange, phrase.Code(why), nil)
	}
	for _, p := range input.Each[*diagnosis.PriorError](err) {
		refuse(at.Member("prior"), p.Name, p.Flaw)
	}
	for _, l := range input.Each[*diagnosis.LossError](err) {
		refuse(at.Member("losses"), l.Name, l.Flaw)
	}
	if fault := r.Err(); fault != nil {
		return fault
	}
	return err
}

// wetBulbEstimate is the return wet bulb among the readings.
func (t *trail) wetBulbEstimate(run running, r *Refusal) (*gum.Estimate, error) {
	wet, ok := t.returnWetBulb(run.Taken, run.Air, r)
	if err := r.Err(); err != nil || !ok {
		return nil, err
	}
	return new(wet.Estimate(run.Air.Zero == run.Air.Site)), nil
}

// targets writes what the quantities ought to be, how far they are off, and
// the steps of the procedure.
func (t *trail) targets(a *DiagnosisAnswer, run running, d diagnosis.Result) {
	for _, g := range d.Targets {
		kind := g.Feature.Kind()
		a.Targets = append(a.Targets, Target{
			Quantity: string(g.Feature), Basis: string(g.Basis), Source: g.Source, Status: g.Status,
			Target:    t.as.measure(kind, g.Expected.Value).within(math.Hypot(run.state.Standard(g.Expected), g.Standard)),
			Tolerance: t.as.measure(kind, g.Tolerance),
		})
		t.source(g.Source, g.Status)
	}
	for _, m := range d.Missing {
		switch {
		case m.Err != nil:
			a.TargetsUnavailable = append(a.TargetsUnavailable, t.noTarget(m, d))
		case m.Capacity:
			a.Needs = wants(a.Needs, "nominal_capacity", "target_"+string(m.Feature))
		}
		for _, reading := range m.Readings {
			a.Needs = wants(a.Needs, reading.String(), "target_"+string(m.Feature))
		}
	}
	for _, v := range d.Deviations {
		a.Deviations = append(a.Deviations, t.deviation(v))
	}
	for _, s := range d.Procedure {
		a.Procedure = append(a.Procedure, procedureOf(s))
	}
}

// deviation writes how far a quantity is off.
func (t *trail) deviation(v diagnosis.Deviation) Deviation {
	name, kind := string(v.Feature), v.Feature.Kind()
	t.step("deviation_"+name, bySign(v.Deviation.Value, stepDeviationAbove, stepDeviationBelow), "measured - target", "", phrase.Params{
		"quantity": name, "amount": t.as.said(kind, math.Abs(v.Deviation.Value), v.Standard), "within_tolerance": significant(v.WithinTolerance, 3),
	})
	return Deviation{name, t.as.measure(kind, v.Deviation.Value).within(v.Standard), significant(v.WithinTolerance, 3)}
}

// bySign is the code of a value above zero, or of one below.
func bySign(v float64, above, below phrase.Code) phrase.Code {
	if v < 0 {
		return below
	}
	return above
}

func procedureOf(s diagnosis.Step) ProcedureStep {
	step := ProcedureStep{
		Step: string(s.Name), Quantity: string(s.Feature), Outcome: string(s.Outcome),
		Note: say(procedureStep, phrase.Params{"step": string(s.Name), "outcome": string(s.Outcome)}),
	}
	if s.Outcome != diagnosis.NotTested {
		step.WithinToleranceProbability = new(significant(s.WithinTolerance, 3))
	}
	return step
}

// noTarget writes why a quantity has no target.
func (t *trail) noTarget(m diagnosis.Missing, d diagnosis.Result) NoTarget {
	reason, limits, alternatives := t.unavailableTarget(m.Err)
	alternatives = slices.DeleteFunc(alternatives, func(a Note) bool { return d.Withholds(target.Alternative(a.Code)) })
	return NoTarget{Quantity: string(m.Feature), Reason: *reason, Limits: limits, Alternatives: alternatives}
}

// weighed writes what was weighed, and what would tell more.
func (t *trail) weighed(a *DiagnosisAnswer, run inference, d diagnosis.Result) {
	a.Prior, a.Losses = make(map[string]float64, len(d.Prior)), d.Losses
	for name, p := range d.Prior {
		if _, given := run.in.Prior[name]; name != diagnosis.TwoFaults || given {
			a.Prior[name] = significant(p, 9)
		}
	}
	if len(d.Next) > 0 {
		m := d.Next[0]
		a.NextMeasurement = &NextMeasurement{Reading: m.Readings[0].String(), For: m.For, Information: significant(m.Information, 3)}
	}
	if d.Charge == "" && (d.AirflowOpen || d.AirflowSuspect) {
		if _, ok := run.Readings[circuit.IndoorAirflow]; !ok {
			a.Needs = wants(a.Needs, circuit.IndoorAirflow.String(), "airflow")
		}
		if !(run.in.NominalCapacity.Watt() > 0) {
			a.Needs = wants(a.Needs, "nominal_capacity", "airflow")
		}
	}
	if d.Weighed {
		a.NoFault, a.Unexplained = &Probability{significant(d.NoFault, 4)}, &Probability{significant(d.Unexplained, 4)}
		for _, f := range d.Findings {
			a.Faults = append(a.Faults, faultEntry(f))
		}
		a.Hypotheses = hypotheses(d.Hypotheses)
		t.inferred()
		t.explainWeighing(d)
	}
}

func faultEntry(f diagnosis.Finding) FaultEntry {
	entry := FaultEntry{
		Fault: string(f.Fault), Text: text(f.Fault), Probability: significant(f.Probability, 4), LogLikelihoodRatio: significant(f.LogLikelihoodRatio, 4),
		Severity: Severity{significant(f.Severity.Low, 3), significant(f.Severity.Likely, 3), significant(f.Severity.High, 3), "fraction", note(diagnosis.SeverityOf(f.Fault))},
		Evidence: []Evidence{}, NextChecks: notes(f.NextChecks),
	}
	for _, p := range f.Evidence {
		entry.Evidence = append(entry.Evidence, Evidence{p.Quantity, significant(p.Weight, 3)})
	}
	return entry
}

// hypotheses sum to 1: the likeliest, which stands first, takes what rounding
// leaves.
func hypotheses(list []diagnosis.Hypothesis) []Hypothesis {
	out := make([]Hypothesis, len(list))
	rest := 1.0
	for i, h := range list {
		out[i] = Hypothesis{codesOf(h.Faults), h.Unexplained, significant(h.Probability, 6)}
		if i > 0 {
			rest -= out[i].Probability
		}
	}
	out[0].Probability = significant(rest, 14)
	return out
}

// explainWeighing puts the working of the inference on the board.
func (t *trail) explainWeighing(d diagnosis.Result) {
	if !t.as.Explain {
		return
	}
	first := d.Findings[0]
	name := string(first.Fault)
	t.step("prior", stepPrior, "before any reading", "", phrase.Params{
		"no_fault": d.Prior[diagnosis.NoFault], "fault": name, "probability": d.Prior[name],
	})
	t.step("likelihood_ratio", bySign(first.LogLikelihoodRatio, stepReadingsLikelier, stepReadingsLessLikely), "density of all readings under the fault / under no fault", diagnosis.Tails, phrase.Params{
		"ratio": factor(first.LogLikelihoodRatio), "fault": name,
	})
	for _, p := range first.Evidence[:min(3, len(first.Evidence))] {
		t.step("evidence_"+p.Quantity, bySign(p.Weight, stepEvidenceFor, stepEvidenceAgainst), "with all others given", "", phrase.Params{
			"quantity": p.Quantity, "factor": factor(p.Weight),
		})
	}
	t.step("probabilities", stepProbabilities, "prior x likelihood, over the sum of all", "", phrase.Params{
		"no_fault": significant(d.NoFault, 4), "fault": name, "probability": significant(first.Probability, 4), "unexplained": significant(d.Unexplained, 4),
		"low": significant(first.Severity.Low, 3), "likely": significant(first.Severity.Likely, 3), "high": significant(first.Severity.High, 3),
		"share": string(diagnosis.SeverityOf(first.Fault)),
	})
	t.step("assessment", stepAssessment, "least expected loss", "", phrase.Params{
		"fault": significant(d.LossOfFault, 3), "no_fault": significant(d.LossOfNone, 3), "inconclusive": significant(d.LossOfOpen, 3),
		"assessment": string(d.Assessment),
	})
}

// factor is what a natural logarithm stands for, in whichever direction; past a
// million there is nothing more to say.
func factor(log float64) float64 { return significant(min(math.Exp(math.Abs(log)), 1e6), 4) }

// chargeEstimate writes by how much the charge is off.
func (t *trail) chargeEstimate(a *DiagnosisAnswer, rated *intake.Value, d diagnosis.Result) {
	e := &a.ChargeEstimate
	e.Reason = note(d.ChargeReason())
	if d.Charge == "" {
		return
	}
	e.Direction = new(note(d.Charge))
	interval := func(kind unit.Kind, whole float64) *ChargeInterval {
		return &ChargeInterval{t.as.measure(kind, whole*d.ChargeOff.Low), t.as.measure(kind, whole*d.ChargeOff.Likely), t.as.measure(kind, whole*d.ChargeOff.High)}
	}
	e.Fraction = interval(unit.KindRatio, 1)
	e.FirstStep = &ChargeStep{Fraction: t.as.measure(unit.KindRatio, d.FirstStep()), Wait: t.as.measure(unit.KindTime, diagnosis.Settling())}
	if rated != nil {
		e.Mass = interval(unit.KindMass, rated.SI)
		e.Amount = &e.Mass.Likely
		e.FirstStep.Mass = new(t.as.measure(unit.KindMass, rated.SI*d.FirstStep()))
	}
	f := e.Fraction
	t.step("charge_estimate", stepChargeEstimate, "charge off = rated charge x severity", "", phrase.Params{
		"low": phrase.Quantity(f.Low), "high": phrase.Quantity(f.High), "likely": phrase.Quantity(f.Likely),
		"first_step": phrase.Quantity(e.FirstStep.Fraction), "wait": phrase.Quantity(e.FirstStep.Wait),
	})
}
