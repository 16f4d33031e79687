package query

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/signature"
)

// What readings that contradict each other may be.
const (
	asRead           = "as_read"
	hosesSwapped     = circuit.HosesSwapped
	otherRefrigerant = circuit.OtherRefrigerant
)

// Chances before any reading that hoses are swapped, and that one of the
// common refrigerants is in the system rather than the one that was selected:
// assumed, no published source.
const (
	priorSwapped = 0.03
	priorOther   = 0.03
)

// mistakable are the refrigerants of most comfort cooling, that a label or a
// setting may stand for by mistake: common practice, no single source.
var mistakable = []string{"R-22", "R-410A", "R-32", "R-454B", "R-134a", "R-407C"}

// mostInterpretations bounds the work of one question.
const mostInterpretations = 8

// interpretations weighs what would explain readings that contradict each
// other; nil where none do.
func (e *Engine) interpretations(run inference, t *trail) ([]Interpretation, error) {
	if len(run.state.Checks) == 0 || !run.in.Device.Known() || run.state.Heating {
		return nil, nil
	}
	var list []Interpretation
	var logs []float64
	weigh := func(kind string, r *refrigerant.Refrigerant, readings map[circuit.Reading]circuit.Measured, prior float64) error {
		if len(list) == mostInterpretations {
			return nil
		}
		lines, err := e.lines(r)
		if err != nil {
			return err
		}
		in := run.in
		curve := lines.Curve()
		if curve == nil {
			return nil
		}
		var ok bool
		if in.Traits, ok = signature.TraitsOf(curve); !ok {
			return nil
		}
		state, err := circuit.Derive(circuit.Input{Readings: readings, Site: zeroOf(run.Air)}, lines)
		if err != nil || len(state.Failures) > 0 {
			return nil // it explains nothing
		}
		in.State, in.Unchecked = &state, true
		d, err := diagnosis.Assess(in)
		if err != nil || !d.Weighed {
			return err
		}
		out := Interpretation{Interpretation: kind, Text: text(kind), Refrigerant: r.Designation}
		if d.Findings[0].Probability > d.NoFault {
			out.LikeliestFault = string(d.Findings[0].Fault)
		}
		list, logs = append(list, out), append(logs, d.LogEvidence+math.Log(prior))
		return nil
	}

	if err := weigh(asRead, run.Refrigerant, run.Readings, 1-priorSwapped-priorOther); err != nil {
		return nil, err
	}
	suction, ok := run.Readings[circuit.SuctionPressure]
	liquid, both := run.Readings[circuit.LiquidPressure]
	if ok && both {
		swapped := maps.Clone(run.Readings)
		swapped[circuit.SuctionPressure], swapped[circuit.LiquidPressure] = liquid, suction
		if err := weigh(hosesSwapped, run.Refrigerant, swapped, priorSwapped); err != nil {
			return nil, err
		}
	}
	for _, name := range mistakable {
		if name == run.Refrigerant.Designation {
			continue
		}
		r, err := e.catalogue.Find(name)
		if err != nil {
			return nil, err
		}
		if err := weigh(otherRefrigerant, r, run.Readings, priorOther/float64(len(mistakable))); err != nil {
			return nil, err
		}
	}
	if len(list) < 2 {
		return nil, nil
	}
	top := slices.Max(logs)
	sum := 0.0
	for i := range logs {
		logs[i] = math.Exp(logs[i] - top)
		sum += logs[i]
	}
	if !(sum > 0) {
		return nil, errors.New("query: interpretations have no chance at all")
	}
	for i := range list {
		list[i].Probability = significant(logs[i]/sum, 4)
	}
	slices.SortStableFunc(list, func(x, y Interpretation) int { return cmp.Compare(y.Probability, x.Probability) })
	t.assume(interpretationsPrior, nil)
	return list, nil
}
