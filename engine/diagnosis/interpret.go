package diagnosis

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/refdata"
)

// What readings that contradict each other may be.
const (
	// AsRead: everything is what it was read as.
	AsRead = "as_read"
	// HosesSwapped: the two gauges stand for each other.
	HosesSwapped = circuit.HosesSwapped
	// OtherRefrigerant: another one is in the system than was selected.
	OtherRefrigerant = circuit.OtherRefrigerant
)

// Refrigerant is what the weighing needs of one that may be in a system.
type Refrigerant struct {
	Saturation circuit.Saturation
	Traits     signature.Traits
}

// Contradiction is a visit whose readings contradict each other.
type Contradiction struct {
	// Input as Assess takes it, of the readings as they were read.
	Input
	// Readings and Site are what its State was made from.
	Readings map[circuit.Reading]circuit.Measured
	Site     circuit.Measured
	// Selected designation of the refrigerant.
	Selected string
	// Refrigerant finds one by its designation, Selected too; false where it has
	// no curve, and thus explains nothing.
	Refrigerant func(designation string) (r Refrigerant, ok bool, err error)
}

// Interpretation is one way to understand readings.
type Interpretation struct {
	// Kind is AsRead, HosesSwapped or OtherRefrigerant.
	Kind string
	// Refrigerant that this takes to be in the system.
	Refrigerant string
	// Probability among those listed.
	Probability float64
	// LikeliestFault under it; empty where none of the faults is likelier than
	// that nothing is wrong.
	LikeliestFault equipment.Fault
}

// mostInterpretations bounds the work of one visit.
const mostInterpretations = 8

// Interpret weighs the readings as read against one mistake each: hoses swapped,
// or another refrigerant of those that one takes for another. The chance of each
// is that of a mistake before any reading times the density of the readings under
// it. The list begins with the likeliest, and is nil where no check failed, the
// method does not hold, or nothing else explains the readings. It returns the
// errors of Assess and of Refrigerant.
func Interpret(c Contradiction) ([]Interpretation, error) {
	if len(c.State.Checks) == 0 || !c.Device.Known() || c.State.Heating {
		return nil, nil
	}
	m := reference()
	swapped, other := m.si("prior_hoses_swapped"), m.si("prior_other_refrigerant")
	w := interpreting{Contradiction: c}
	if err := w.weigh(AsRead, c.Selected, c.Readings, 1-swapped-other); err != nil {
		return nil, err
	}
	suction, ok := c.Readings[circuit.SuctionPressure]
	liquid, both := c.Readings[circuit.LiquidPressure]
	if ok && both {
		crossed := maps.Clone(c.Readings)
		crossed[circuit.SuctionPressure], crossed[circuit.LiquidPressure] = liquid, suction
		if err := w.weigh(HosesSwapped, c.Selected, crossed, swapped); err != nil {
			return nil, err
		}
	}
	likely := refdata.ComfortRefrigerants().Designations
	for _, name := range likely {
		if name == c.Selected {
			continue
		}
		if err := w.weigh(OtherRefrigerant, name, c.Readings, other/float64(len(likely))); err != nil {
			return nil, err
		}
	}
	return w.ranked()
}

type interpreting struct {
	Contradiction
	list []Interpretation
	logs []float64 // of prior times density
}

// weigh adds one interpretation, unless it explains nothing.
func (w *interpreting) weigh(kind, designation string, readings map[circuit.Reading]circuit.Measured, prior float64) error {
	if len(w.list) == mostInterpretations {
		return nil
	}
	r, ok, err := w.Refrigerant(designation)
	if err != nil || !ok {
		return err
	}
	state, err := circuit.Derive(circuit.Input{Readings: readings, Site: w.Site}, r.Saturation)
	if err != nil || len(state.Failures) > 0 {
		return nil
	}
	in := w.Input
	in.State, in.Traits, in.Unchecked = &state, r.Traits, true
	a, err := Assess(in)
	if err != nil || !a.Weighed {
		return err
	}
	i := Interpretation{Kind: kind, Refrigerant: designation}
	if a.Findings[0].Probability > a.NoFault {
		i.LikeliestFault = a.Findings[0].Fault
	}
	w.list, w.logs = append(w.list, i), append(w.logs, a.LogEvidence+math.Log(prior))
	return nil
}

// ranked turns weights into probabilities; one interpretation alone is none.
func (w *interpreting) ranked() ([]Interpretation, error) {
	if len(w.list) < 2 {
		return nil, nil
	}
	top := slices.Max(w.logs)
	sum := 0.0
	for i := range w.logs {
		w.logs[i] = math.Exp(w.logs[i] - top)
		sum += w.logs[i]
	}
	if !(sum > 0) {
		return nil, errors.New("diagnosis: interpretations have no chance at all")
	}
	for i := range w.list {
		w.list[i].Probability = w.logs[i] / sum
	}
	slices.SortStableFunc(w.list, func(x, y Interpretation) int { return cmp.Compare(y.Probability, x.Probability) })
	return w.list, nil
}

// Reconsider withholds an assessment of readings that probably are not what they
// were read as.
func (r *Result) Reconsider(list []Interpretation) {
	if len(list) > 0 && list[0].Kind != AsRead && r.Assessment != Inconclusive {
		r.Assessment, r.Charge, r.Because = Inconclusive, "", append(r.Because, OtherInterpretation)
	}
}
