// Package score judges diagnoses of systems whose faults are known: outcomes by
// the five published kinds, and how far the stated probabilities may be
// believed. It serves tests: it must not know how a diagnosis comes about, and
// nothing that ships may import it.
package score

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// NoFault is the truth about a system without a fault, as the wire names it.
const NoFault = "no_fault"

// Likelihood is a fault with the chance that it is present.
type Likelihood struct {
	Fault       string
	Probability float64
}

// Decision is what was made of the readings of one visit.
type Decision struct {
	// Assessment is no_fault_indicated or fault_indicated; all else is no response.
	Assessment string
	// Faults is ranked, likeliest first; with fault_indicated the first is the
	// one that is said.
	Faults []Likelihood
	// Weighed tells that probabilities stand in Faults, NoFault and Unexplained.
	Weighed              bool
	NoFault, Unexplained float64
}

// Decider makes a Decision of a visit. An error is no valid answer.
type Decider func(query.DiagnosisQuestion) (Decision, error)

// Engine decides as e does.
func Engine(e *query.Engine) Decider {
	return func(q query.DiagnosisQuestion) (Decision, error) {
		a, err := e.Diagnosis(q, query.Presentation{})
		if err != nil {
			return Decision{}, err
		}
		d := Decision{Assessment: a.Assessment}
		for _, f := range a.Faults {
			d.Faults = append(d.Faults, Likelihood{f.Fault, f.Probability})
		}
		if a.NoFault != nil && a.Unexplained != nil {
			d.Weighed, d.NoFault, d.Unexplained = true, a.NoFault.Probability, a.Unexplained.Probability
		}
		return d, nil
	}
}

// Outcome of one visit. The five kinds are those of Yuill and Braun 2013,
// "Evaluating the performance of fault detection and diagnostics protocols
// applied to air-cooled unitary air-conditioning equipment", HVAC&R Research,
// doi:10.1080/10789669.2013.808135 (from memory, unverified).
type Outcome int

// The outcomes.
const (
	// NoResponse: nothing was decided, or there was no valid answer.
	NoResponse Outcome = iota
	// Correct: no fault and none said, or the fault that is there said first.
	Correct
	// FalseAlarm: a fault was said where there is none.
	FalseAlarm
	// MissedDetection: none was said where there is a fault.
	MissedDetection
	// Misdiagnosis: another fault was said than the one that is there.
	Misdiagnosis
	outcomes
)

// Of judges a decision by the truth, which is NoFault or the name of a fault.
func Of(truth string, d Decision) Outcome {
	switch {
	case d.Assessment == "no_fault_indicated" && truth == NoFault:
		return Correct
	case d.Assessment == "no_fault_indicated":
		return MissedDetection
	case d.Assessment != "fault_indicated" || len(d.Faults) == 0:
		return NoResponse
	case truth == NoFault:
		return FalseAlarm
	case d.Faults[0].Fault == truth:
		return Correct
	}
	return Misdiagnosis
}

// classes gives the probabilities of no fault and of every fault, scaled to
// sum to one less unexplained.
func (d Decision) classes() []Likelihood {
	all := append([]Likelihood{{NoFault, d.NoFault}}, d.Faults...)
	sum := 0.0
	for _, c := range all {
		sum += c.Probability
	}
	if !(sum > 0) {
		return all
	}
	for i := range all {
		all[i].Probability *= (1 - d.Unexplained) / sum
	}
	return all
}

// Bins is the number of equal bins of the claimed probability.
const Bins = 10

// least is the probability below which the log score counts no further: one
// answer cannot outweigh all others.
const least = 1e-6

// Bin is one row of a reliability table: how much was claimed for the likeliest
// class on average, and how often it was the true one.
type Bin struct{ Weight, Claimed, Hit float64 }

// Tally adds up judged visits. The zero value is empty.
type Tally struct {
	healthy, faulty     [outcomes]float64
	first               float64 // of the faulty: the fault ranked first
	weighed, brier, log float64
	bins                [Bins]Bin // sums
}

// Add counts a visit with a weight.
func (y *Tally) Add(truth string, d Decision, weight float64) {
	if o := Of(truth, d); truth == NoFault {
		y.healthy[o] += weight
	} else {
		y.faulty[o] += weight
		if len(d.Faults) > 0 && d.Faults[0].Fault == truth {
			y.first += weight
		}
	}
	if !d.Weighed {
		return
	}
	y.weighed += weight
	top, p := Likelihood{}, 0.0
	for _, c := range d.classes() {
		miss := c.Probability
		if c.Fault == truth {
			miss, p = 1-c.Probability, c.Probability
		}
		y.brier += weight * miss * miss
		if c.Probability > top.Probability {
			top = c
		}
	}
	y.log -= weight * math.Log(max(p, least))
	b := &y.bins[min(int(top.Probability*Bins), Bins-1)]
	b.Weight += weight
	b.Claimed += weight * top.Probability
	if top.Fault == truth {
		b.Hit += weight
	}
}

func sum(of [outcomes]float64) float64 {
	n := 0.0
	for _, w := range of {
		n += w
	}
	return n
}

// N is the weight of all visits; Weighed of those with probabilities, which
// alone count in Brier, Log, Calibration and Reliability.
func (y *Tally) N() float64       { return sum(y.healthy) + sum(y.faulty) }
func (y *Tally) Weighed() float64 { return y.weighed }

// Share of an outcome in all visits.
func (y *Tally) Share(o Outcome) float64 { return (y.healthy[o] + y.faulty[o]) / y.N() }

// ShareOfFaulty is that of an outcome in the visits to systems with a fault.
func (y *Tally) ShareOfFaulty(o Outcome) float64 { return y.faulty[o] / sum(y.faulty) }

// FalseAlarms is their share in the visits to systems without a fault.
func (y *Tally) FalseAlarms() float64 { return y.healthy[FalseAlarm] / sum(y.healthy) }

// Right is the share of faults that were said, Ranking that of faults ranked
// first, whatever was said.
func (y *Tally) Right() float64   { return y.ShareOfFaulty(Correct) }
func (y *Tally) Ranking() float64 { return y.first / sum(y.faulty) }

// Brier is the mean squared distance of the probabilities of all classes from
// the truth: 0 at best, 2 at worst.
func (y *Tally) Brier() float64 { return y.brier / y.weighed }

// Log is the mean of minus the natural logarithm of what the truth was given.
func (y *Tally) Log() float64 { return y.log / y.weighed }

// Calibration is the mean distance, over the bins, between what was claimed for
// the likeliest class and how often it was the true one.
func (y *Tally) Calibration() float64 {
	sum := 0.0
	for _, b := range y.bins {
		sum += math.Abs(b.Claimed - b.Hit)
	}
	return sum / y.weighed
}

// Reliability is the table behind Calibration; Claimed and Hit are shares, NaN
// in an empty bin.
func (y *Tally) Reliability() [Bins]Bin {
	table := y.bins
	for i := range table {
		table[i].Claimed /= table[i].Weight
		table[i].Hit /= table[i].Weight
	}
	return table
}
