package diagnosis

import "github.com/knurl-hvacr/knurl/engine/circuit"

// StepName is the stable code of a step of the charge-verification procedure.
type StepName string

// The steps, in their order: air flow comes before charge.
const (
	AirflowStep  StepName = "airflow"
	MeteringStep StepName = "metering_device"
	ChargeStep   StepName = "charge"
)

// Outcome is the stable code of what a step came to.
type Outcome string

// The outcomes.
const (
	Pass           Outcome = "pass"
	FailLowAirflow Outcome = "low_airflow"
	// PassLowCapacity: a split below its target passes once it was measured
	// again, though the capacity is likely low.
	PassLowCapacity Outcome = "pass_capacity_likely_low"
	FailHigh        Outcome = "above_tolerance"
	FailLow         Outcome = "below_tolerance"
	NotTested       Outcome = "not_tested"
)

// Step is one step of the procedure, on the plain figures, with the chance that
// the true deviation lies within tolerance.
type Step struct {
	Name            StepName
	Feature         Feature // what it was judged by, empty where not tested
	Outcome         Outcome
	WithinTolerance float64
}

// procedure follows CEC Reference Residential Appendices (2008) RA3.2.2 with
// the installer's tolerances: measured air flow, or else the temperature split;
// with a valve the superheat band that proves it; then superheat (fixed
// metering) or subcooling (valve) against its target.
func (m model) procedure(in Input, ds []Deviation) []Step {
	steps := []Step{m.airflow(in, ds)}
	of := Superheat
	if !in.Device.Fixed() {
		steps = append(steps, judge(MeteringStep, Superheat, ds))
		of = Subcooling
	}
	if steps[0].Outcome == FailLowAirflow {
		return append(steps, Step{Name: ChargeStep, Outcome: NotTested}) // air first
	}
	return append(steps, judge(ChargeStep, of, ds))
}

func (m model) airflow(in Input, ds []Deviation) Step {
	if flow, ok := in.State.Reading(circuit.IndoorAirflow); ok && in.NominalCapacity.Watt() > 0 {
		least := m.si("minimum_airflow") * in.NominalCapacity.Watt()
		s := Step{Name: AirflowStep, Feature: IndoorAirflow, Outcome: FailLowAirflow}
		s.WithinTolerance = 1 - in.State.ProbabilityBelow(flow, least)
		if flow.Value > least {
			s.Outcome = Pass
		}
		return s
	}
	s := judge(AirflowStep, TemperatureSplit, ds)
	switch s.Outcome {
	case FailHigh:
		s.Outcome = FailLowAirflow
	case FailLow:
		s.Outcome = PassLowCapacity
	}
	return s
}

func judge(name StepName, f Feature, ds []Deviation) Step {
	for _, d := range ds {
		if d.Feature != f {
			continue
		}
		s := Step{Name: name, Feature: f, Outcome: Pass, WithinTolerance: d.WithinTolerance}
		switch v, tol := d.Deviation.Value, d.target.Tolerance+rounding; {
		case v > tol:
			s.Outcome = FailHigh
		case v < -tol:
			s.Outcome = FailLow
		}
		return s
	}
	return Step{Name: name, Outcome: NotTested}
}

func stepNamed(steps []Step, name StepName) Step {
	for _, s := range steps {
		if s.Name == name {
			return s
		}
	}
	return Step{Name: name, Outcome: NotTested}
}
