package diagnosis

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Input is one system with what was read on it.
type Input struct {
	// State holds the readings and what follows from them; its Heating decides
	// the mode.
	State *circuit.State
	// Site is the air pressure there; zero means that of sea level.
	Site unit.Pressure
	// Traits are those of the refrigerant.
	Traits signature.Traits
	// Device is the metering device; empty means not told.
	Device equipment.MeteringDevice
	// CapacityFixed is nil where nothing is told: the capacity then counts as
	// fixed.
	CapacityFixed *bool
	// RunningTime is nil where nothing is told: the system then counts as settled.
	RunningTime *unit.Duration
	// WetBulb is that of the return air in K, as read or from its humidity,
	// with its gradient in the readings; nil where there is none.
	WetBulb *gum.Estimate
	// NominalCapacity turns a measured air flow into evidence; zero means not told.
	NominalCapacity unit.Power
	// Superheat and Subcooling are the manufacturer's targets.
	Superheat, Subcooling *ManufacturerTarget
	// Efficiency is the rated one.
	Efficiency *Efficiency
	// Prior holds probabilities before any reading, by no_fault, the faults and
	// unexplained. What it does not name shares the rest in the usual
	// proportions; unexplained keeps its usual share unless it is named. two_faults
	// is no part of that sum: of systems with a fault, the share that has two.
	Prior map[string]float64
	// Unchecked weighs the readings even where they contradict each other, for
	// comparing interpretations.
	Unchecked bool
	// Losses replaces entries of the usual table of losses, see [Losses].
	Losses map[string]float64
}

// The entries of a table of losses: what it costs to say a fault where there is
// none, to say another fault than the one that is there, to say none where there
// is one, and to say nothing. Only their ratios matter.
const (
	FalseAlarm  = "false_alarm"
	WrongFault  = "wrong_fault"
	MissedFault = "missed_fault"
	Undecided   = "inconclusive"
)

// LossNames lists the entries of a table of losses.
func LossNames() []string { return []string{FalseAlarm, WrongFault, MissedFault, Undecided} }

// ErrInput is wrapped by every error about an input.
var ErrInput = errors.New("diagnosis: not a possible input")

// Flaw is why an entry of a prior or of a table of losses cannot be used.
type Flaw string

// The flaws of entries.
const (
	EntryUnknown       Flaw = "entry_unknown"
	PriorOutOfRange    Flaw = "prior_out_of_range"
	PriorSum           Flaw = "prior_sums_to_more_than_one"
	PriorLeavesNothing Flaw = "prior_leaves_nothing_possible"
	LossOutOfRange     Flaw = "loss_out_of_range"
)

// PriorError names an entry of the prior that cannot be used; Name is empty
// where the entries together are at fault.
type PriorError struct {
	Name string
	Flaw Flaw
}

func (e *PriorError) Error() string {
	return fmt.Sprintf("%v: prior %s %s", ErrInput, e.Name, e.Flaw)
}

// Unwrap makes errors.Is(err, ErrInput) hold.
func (e *PriorError) Unwrap() error { return ErrInput }

// LossError names an entry of the losses that cannot be used; Name is empty
// where the entries together are at fault.
type LossError struct {
	Name string
	Flaw Flaw
}

func (e *LossError) Error() string {
	return fmt.Sprintf("%v: loss %s %s", ErrInput, e.Name, e.Flaw)
}

// Unwrap makes errors.Is(err, ErrInput) hold.
func (e *LossError) Unwrap() error { return ErrInput }

// Assessment is what the weighing comes to.
type Assessment string

// The assessments, as the wire names them.
const (
	NoFaultIndicated Assessment = "no_fault_indicated"
	FaultIndicated   Assessment = "fault_indicated"
	Inconclusive     Assessment = "inconclusive"
)

// Reason is the stable code of why the outcome is inconclusive.
type Reason string

// The reasons. The first seven, RefrigerantNotCovered and ReturnAirOutsideModel
// leave no probabilities at all: the method does not hold there.
const (
	HeatingMode           Reason = "heating_mode"
	StageNotHeld          Reason = "stage_not_held"
	OutdoorBelowMethod    Reason = "outdoor_temperature_below_method"
	OutdoorAboveMethod    Reason = "outdoor_temperature_above_method"
	RunningTimeTooShort   Reason = "running_time_too_short"
	ReadingCheckFailed    Reason = "reading_check_failed"
	MeteringDeviceUnknown Reason = "metering_device_unknown"
	TooFewReadings        Reason = "too_few_readings"
	ProbabilitiesTooClose Reason = "probabilities_too_close"
	TargetUnavailable     Reason = "target_unavailable"
	NoPatternFits         Reason = "no_known_pattern_fits"
	RefrigerantNotCovered Reason = "refrigerant_not_covered"
	ReturnAirOutsideModel Reason = "return_air_outside_model"
	OtherInterpretation   Reason = "another_interpretation_is_likelier"
)

// Assumption is the stable code of something taken for granted.
type Assumption string

// The assumptions.
const (
	SingleStageAssumed            Assumption = "single_stage_assumed"
	RunningTimeAssumed            Assumption = "system_assumed_settled"
	PriorAssumed                  Assumption = "prior_is_assumed_field_mix"
	LossesAssumed                 Assumption = "losses_are_assumed"
	ModelOfSystems                Assumption = "explanations_from_model_of_systems"
	FaultsThatMatter              Assumption = "faults_are_those_that_matter"
	SubcoolingNotFromManufacturer Assumption = "target_subcooling_not_from_manufacturer"
	AirPartlyUnread               Assumption = "unread_air_taken_as_usual"
)

// Direction is the stable code of what a charge fault asks for.
type Direction string

// The directions.
const (
	AddRefrigerant    Direction = "add_refrigerant"
	RemoveRefrigerant Direction = "remove_refrigerant"
)

// Finding is one fault with its weight.
type Finding struct {
	Fault       equipment.Fault
	Probability float64
	// LogLikelihoodRatio is that of the readings against no fault, natural
	// logarithm.
	LogLikelihoodRatio float64
	Severity           Severity
	Evidence           []Evidence
	// NextChecks are stable codes of what to look at, in order.
	NextChecks []string
}

// Hypothesis is one of the exclusive explanations; no Faults and not
// Unexplained means that nothing is wrong.
type Hypothesis struct {
	Faults      []equipment.Fault
	Unexplained bool
	Probability float64
}

// Result is the answer. Without a valid method (see the Reasons) Findings
// and Hypotheses are empty and the two probabilities are not meaningful:
// Weighed is false then.
type Result struct {
	Targets    []Target
	Missing    []Missing
	Deviations []Deviation
	Procedure  []Step
	Assessment Assessment
	Because    []Reason // why inconclusive
	Weighed    bool
	NoFault    float64 // probability
	Unexplained,
	AnyFault float64 // probabilities
	Findings   []Finding // ranked
	Hypotheses []Hypothesis
	Prior      map[string]float64 // as used
	Losses     map[string]float64 // as used
	// Charge is empty where none is indicated, the procedure disagrees, air flow
	// or heat exchange are open, or another fault may be there as well.
	Charge Direction
	// ChargeOff is by what share of the rated charge it is off, where Charge is said.
	ChargeOff      Severity
	AirflowOpen    bool          // indoor air flow is suspect or unverified: charge comes later
	AirflowSuspect bool          // air flow or heat exchange of either coil is suspect: nothing may be said of charge
	Next           []Measurement // what to read next, best first
	// LogEvidence is the logarithm of the density of all readings, by which
	// different interpretations of them compare.
	LogEvidence float64
	Assumptions []Assumption

	// Expected losses of saying the likeliest fault, of saying none, and of not
	// deciding: the least is said.
	LossOfFault, LossOfNone, LossOfOpen float64
	// Leaning is what the probabilities alone would have one say, however few the
	// readings are; only Plan gives it.
	Leaning Assessment

	losses losses
}

// Assess compares the readings with the targets, goes through the published
// charge-verification procedure, weighs every explanation by the distribution of
// all readings that a model of whole systems gives for it, and decides by
// expected loss. It returns a joined error of *PriorError and *LossError, or
// ErrInput without a State.
func Assess(in Input) (Result, error) {
	m := reference()
	a, all, o, err := assess(m, in)
	if err == nil && a.Weighed {
		a.detail(m, all, o)
		a.decide(m, all, len(in.State.Checks) > 0)
		a.Next = m.next(in, all, o)
	}
	return a, err
}

// assess does all but what explains the answer; without a valid method Weighed
// is false.
func assess(m model, in Input) (Result, []weighed, *observation, error) {
	if in.State == nil {
		return Result{}, nil, nil, fmt.Errorf("%w: no state", ErrInput)
	}
	prior, errPrior := m.takePrior(in.Prior)
	pairs, errPairs := m.takePairs(in.Prior)
	losses, errLosses := m.takeLosses(in.Losses)
	if bad := slices.DeleteFunc([]error{errPrior, errPairs, errLosses}, func(err error) bool { return err == nil }); len(bad) == 1 {
		return Result{}, nil, nil, bad[0]
	} else if len(bad) > 1 {
		return Result{}, nil, nil, errors.Join(bad...)
	}
	prior[TwoFaults] = pairs
	a := Result{Prior: prior, Losses: losses.table(), losses: losses, Assessment: Inconclusive}
	a.assume(in)
	if in.State.Heating {
		a.Because = append(a.Because, HeatingMode)
	}
	if in.CapacityFixed != nil && !*in.CapacityFixed {
		a.Because = append(a.Because, StageNotHeld)
	}
	if !in.Device.Known() {
		a.Because = append(a.Because, MeteringDeviceUnknown)
	}
	if len(a.Because) > 0 {
		return a, nil, nil, nil
	}
	m.compare(&a, in)
	a.Procedure = m.procedure(in, a.Deviations)
	if stepNamed(a.Procedure, AirflowStep).Outcome == FailLowAirflow {
		a.AirflowOpen, a.AirflowSuspect = true, true // also where nothing else can be said
	}
	a.Because = m.valid(in)
	if len(a.Because) > 0 {
		return a, nil, nil, nil
	}
	o := m.observe(in)
	all := o.weigh(m, families()[in.Device], prior)
	a.report(m, all, o)
	return a, all, o, nil
}

// losses is the table of losses.
type losses struct{ falseAlarm, wrongFault, missedFault, undecided float64 }

func (l losses) table() map[string]float64 {
	return map[string]float64{FalseAlarm: l.falseAlarm, WrongFault: l.wrongFault, MissedFault: l.missedFault, Undecided: l.undecided}
}

// takeLosses completes a caller's losses by the usual ones.
func (m model) takeLosses(given map[string]float64) (losses, error) {
	l := losses{m.si("loss_false_alarm"), m.si("loss_wrong_fault"), m.si("loss_missed_fault"), m.si("loss_inconclusive")}
	var faults []error
	for _, name := range slices.Sorted(maps.Keys(given)) {
		v := given[name]
		if !(v >= 0 && v <= 1e6) {
			faults = append(faults, &LossError{name, LossOutOfRange})
			continue
		}
		switch name {
		case FalseAlarm:
			l.falseAlarm = v
		case WrongFault:
			l.wrongFault = v
		case MissedFault:
			l.missedFault = v
		case Undecided:
			l.undecided = v
		default:
			faults = append(faults, &LossError{name, EntryUnknown})
		}
	}
	return l, errors.Join(faults...)
}

// present is the chance of each fault, alone or with another, in the order of Faults.
func present(all []weighed, p []float64) [equipment.FaultCount]float64 {
	var out [equipment.FaultCount]float64
	for i := range all {
		for _, f := range all[i].faults {
			out[f.Index()] += p[i]
		}
	}
	return out
}

// choice is what could be said, with the loss to expect of each.
type choice struct {
	fault                         equipment.Fault
	lossFault, lossNone, lossOpen float64
}

// expectedLosses works out the losses; a pair counts for each of its faults.
func expectedLosses(all []weighed, p []float64, l losses) choice {
	none, unexplained := p[0], p[len(p)-1]
	chances := present(all, p)
	top := 0
	for i, c := range chances {
		if c > chances[top] {
			top = i
		}
	}
	return choice{
		fault:     equipment.Faults()[top],
		lossFault: l.falseAlarm*none + l.wrongFault*max(1-none-chances[top], 0),
		lossNone:  l.missedFault * (1 - none),
		lossOpen:  l.undecided * (1 - unexplained),
	}
}

// assessment of least expected loss, and the fault where one is said.
func (c choice) assessment() (Assessment, equipment.Fault) {
	switch {
	case c.lossFault < c.lossNone && c.lossFault < c.lossOpen:
		return FaultIndicated, c.fault
	case c.lossNone < c.lossOpen:
		return NoFaultIndicated, ""
	}
	return Inconclusive, ""
}

// takePairs is the share of two faults among systems with a fault.
func (m model) takePairs(given map[string]float64) (float64, error) {
	v, ok := given[TwoFaults]
	switch {
	case !ok:
		return m.pairShare, nil
	case !(v >= 0 && v <= 1):
		return 0, &PriorError{TwoFaults, PriorOutOfRange}
	}
	return v, nil
}

// takePrior completes a caller's prior and scales it to sum to one.
func (m model) takePrior(given map[string]float64) (map[string]float64, error) {
	given = maps.Clone(given)
	delete(given, TwoFaults)
	p := m.usualPrior()
	if len(given) == 0 {
		return p, nil
	}
	named, err := checkPrior(given, p)
	if err != nil {
		return nil, err
	}
	room := 1.0 // what is left beside a share of unexplained that stays as it is
	_, moves := given[Unexplained]
	if !moves {
		room -= p[Unexplained]
	}
	sum := sharePrior(p, given, math.Max(room-named, 0))
	if !(sum > 0) {
		return nil, &PriorError{"", PriorLeavesNothing}
	}
	for k := range p {
		if k != Unexplained || moves {
			p[k] *= room / sum
		}
	}
	return p, nil
}

// usualPrior sums to one.
func (m model) usualPrior() map[string]float64 {
	p := make(map[string]float64, len(m.prior))
	usual := 0.0
	for _, k := range slices.Sorted(maps.Keys(m.prior)) {
		usual += m.prior[k]
	}
	for k, v := range m.prior {
		p[k] = v / usual
	}
	return p
}

// checkPrior sums up what a caller gives, and says what is wrong with it.
func checkPrior(given, usual map[string]float64) (named float64, err error) {
	var faults []error
	for _, name := range slices.Sorted(maps.Keys(given)) {
		v := given[name]
		if _, known := usual[name]; !known {
			faults = append(faults, &PriorError{name, EntryUnknown})
		} else if !(v >= 0 && v <= 1) {
			faults = append(faults, &PriorError{name, PriorOutOfRange})
		}
		named += v
	}
	if len(faults) == 0 && !(named <= 1+1e-6) {
		faults = append(faults, &PriorError{"", PriorSum})
	}
	return named, errors.Join(faults...)
}

// sharePrior puts what is given into p and shares the rest among what is not,
// but for unexplained; it gives the sum of both.
func sharePrior(p, given map[string]float64, rest float64) float64 {
	unnamed := 0.0
	names := slices.Sorted(maps.Keys(p)) // sums in one order, so that equal questions have equal answers
	for _, k := range names {
		v := p[k]
		if _, ok := given[k]; !ok && k != Unexplained {
			unnamed += v
		}
	}
	sum := 0.0
	for _, k := range names {
		if v, ok := given[k]; ok {
			p[k] = v
		} else if k != Unexplained {
			p[k] *= rest / unnamed
		} else {
			continue
		}
		sum += p[k]
	}
	return sum
}

func (a *Result) assume(in Input) {
	if in.CapacityFixed == nil {
		a.Assumptions = append(a.Assumptions, SingleStageAssumed)
	}
	if in.RunningTime == nil {
		a.Assumptions = append(a.Assumptions, RunningTimeAssumed)
	}
	if _, pairs := in.Prior[TwoFaults]; len(in.Prior) == 0 || pairs && len(in.Prior) == 1 {
		a.Assumptions = append(a.Assumptions, PriorAssumed)
	}
	if len(in.Losses) < len(LossNames()) {
		a.Assumptions = append(a.Assumptions, LossesAssumed)
	}
	if in.Device.Known() && !in.Device.Fixed() && in.Subcooling == nil {
		a.Assumptions = append(a.Assumptions, SubcoolingNotFromManufacturer)
	}
	a.Assumptions = append(a.Assumptions, ModelOfSystems, FaultsThatMatter)
}

// measured is the value of a feature, false where it was not read.
func measured(s *circuit.State, f Feature, q circuit.Quantity) (gum.Estimate, bool) {
	if f == IndoorAirflow {
		return s.Reading(circuit.IndoorAirflow)
	}
	return s.Quantity(q)
}

// compare fills in targets, what is missing for them, and deviations.
func (m model) compare(a *Result, in Input) {
	for _, d := range features {
		t, missing := m.expect(d.feature, in)
		value, read := measured(in.State, d.feature, d.quantity)
		if missing != nil {
			if d.feature != IndoorAirflow || read {
				a.Missing = append(a.Missing, *missing)
			}
			continue
		}
		if (d.feature == IndoorAirflow || d.feature == DrierTemperatureDrop) && !read {
			continue // a target that nobody asked about
		}
		a.Targets = append(a.Targets, t)
		if read {
			a.Deviations = append(a.Deviations, deviate(in.State, value, t))
		}
	}
}

// valid lists why the method does not hold under these conditions.
func (m model) valid(in Input) []Reason {
	var because []Reason
	if outdoor, ok := in.State.Reading(circuit.OutdoorDryBulb); ok {
		least := m.si("minimum_outdoor_temperature")
		middle, half := m.band("target_superheat_outdoor_range")
		switch {
		case !(outdoor.Value >= least-rounding):
			because = append(because, OutdoorBelowMethod)
		case !(outdoor.Value <= middle+half+rounding):
			because = append(because, OutdoorAboveMethod)
		}
	}
	if !m.covers(in.Traits) {
		because = append(because, RefrigerantNotCovered)
	}
	if dry, ok := in.State.Reading(circuit.ReturnDryBulb); ok {
		middle, half := m.band("unread_return")
		if math.Abs(dry.Value-middle) > half+m.si("return_air_margin")+rounding {
			because = append(because, ReturnAirOutsideModel)
		}
	}
	if in.RunningTime != nil && !(in.RunningTime.Second() >= m.si("run_time")-rounding) {
		because = append(because, RunningTimeTooShort)
	}
	for _, c := range in.State.Checks {
		if in.Unchecked {
			break
		}
		if c.Verdict == circuit.Impossible || c.Code == circuit.PressuresNearlyEqual {
			because = append(because, ReadingCheckFailed)
			break
		}
	}
	return because
}

// covers tells whether the ensemble holds refrigerants like that one.
func (m model) covers(t signature.Traits) bool {
	within := func(code string, v float64) bool {
		middle, half := m.band(code)
		return math.Abs(v-middle) <= half
	}
	return t != (signature.Traits{}) && within("trait_dry", t.Dry) && within("trait_lift", t.Lift) && within("trait_glide", t.Glide)
}

// rounding is what converting units may cost at a limit, in K or s.
const rounding = 1e-6

// report copies probabilities and ranks the faults.
func (a *Result) report(m model, all []weighed, o *observation) {
	a.Weighed = true
	a.LogEvidence = o.logEvidence
	for _, read := range o.read {
		if !read {
			a.Assumptions = append(a.Assumptions, AirPartlyUnread)
			break
		}
	}
	none := &all[0]
	chances := present(all, posterior(all))
	for i := range all {
		h := &all[i]
		a.Hypotheses = append(a.Hypotheses, Hypothesis{Faults: slices.Clone(h.faults), Unexplained: h.name == Unexplained, Probability: h.p})
		switch {
		case h.name == NoFault:
			a.NoFault = h.p
		case h.name == Unexplained:
			a.Unexplained = h.p
		default:
			a.AnyFault += h.p
			if len(h.faults) == 1 {
				f := h.faults[0]
				a.Findings = append(a.Findings, Finding{
					Fault: f, Probability: chances[f.Index()], LogLikelihoodRatio: h.log - none.log,
					NextChecks: slices.Clone(m.checks[f]),
				})
			}
		}
	}
	slices.SortStableFunc(a.Findings, func(x, y Finding) int { return cmp.Compare(y.Probability, x.Probability) })
	slices.SortStableFunc(a.Hypotheses, func(x, y Hypothesis) int { return cmp.Compare(y.Probability, x.Probability) })
}

// conclude gives the assessment that the losses and the readings allow, with its
// reasons, and the fault where one is said.
func (a *Result) conclude(said choice) equipment.Fault {
	a.LossOfFault, a.LossOfNone, a.LossOfOpen = said.lossFault, said.lossNone, said.lossOpen
	charge := slices.ContainsFunc(a.Deviations, func(d Deviation) bool { return d.Feature == Superheat || d.Feature == Subcooling })
	assessment, fault := said.assessment()
	switch {
	case !charge || len(a.Deviations) < 2:
		a.Because = append(a.Because, TooFewReadings)
	case assessment != Inconclusive:
		a.Assessment = assessment
		return fault
	case a.Hypotheses[0].Unexplained:
		a.Because = append(a.Because, NoPatternFits)
	default:
		a.Because = append(a.Because, ProbabilitiesTooClose)
	}
	for _, miss := range a.Missing {
		if miss.unavailable() {
			a.Because = append(a.Because, TargetUnavailable)
			break
		}
	}
	return ""
}

// decide says what the losses allow, and keeps charge behind air flow, heat
// exchange and other faults.
func (a *Result) decide(m model, all []weighed, doubtful bool) {
	chance := func(f equipment.Fault) float64 {
		return a.Findings[slices.IndexFunc(a.Findings, func(x Finding) bool { return x.Fault == f })].Probability
	}
	suspicion := m.si("airflow_suspicion")
	airflow := stepNamed(a.Procedure, AirflowStep)
	indoor := chance(equipment.LowIndoorAirflow) >= suspicion || airflow.Outcome == FailLowAirflow
	a.AirflowOpen = indoor || airflow.Outcome == NotTested
	a.AirflowSuspect = indoor || chance(equipment.LowOutdoorAirflow) >= suspicion
	for i := range a.Findings {
		f := &a.Findings[i]
		if a.AirflowSuspect {
			f.NextChecks = slices.DeleteFunc(f.NextChecks, func(c string) bool { return c == "weigh_in_charge" })
		}
		if !a.AirflowOpen {
			f.NextChecks = slices.DeleteFunc(f.NextChecks, func(c string) bool { return c == "verify_airflow_first" })
		}
	}

	fault := a.conclude(expectedLosses(all, posterior(all), a.losses))
	if a.Assessment != FaultIndicated || a.AirflowOpen || a.AirflowSuspect || !(a.Findings[0].Probability >= m.si("decisive")) {
		return
	}
	if doubtful || a.Unexplained >= suspicion {
		return // readings that contradict each other, or that nothing explains, say nothing of charge
	}
	for _, f := range a.Findings[1:] {
		if f.Probability >= m.si("charge_other_fault") {
			return // what else may be there comes first
		}
	}
	// The procedure must say the same on the plain figures: with fixed
	// metering charge runs against superheat, with a valve along with subcooling.
	step := stepNamed(a.Procedure, ChargeStep)
	short, over := FailLow, FailHigh
	if step.Feature == Superheat {
		short, over = FailHigh, FailLow
	}
	switch {
	case fault == equipment.Undercharge && step.Outcome == short:
		a.Charge = AddRefrigerant
	case fault == equipment.Overcharge && step.Outcome == over:
		a.Charge = RemoveRefrigerant
	default:
		return
	}
	a.ChargeOff = a.Findings[0].Severity
}
