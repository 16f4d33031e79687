package query

import (
	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/signature"
)

// interpretations weighs what would explain readings that contradict each
// other; nil where none do.
func (e *Engine) interpretations(run inference) ([]diagnosis.Interpretation, error) {
	return diagnosis.Interpret(diagnosis.Contradiction{
		Input: run.in, Readings: run.Readings, Site: zeroOf(run.Air), Selected: run.Refrigerant.Designation,
		Refrigerant: func(designation string) (diagnosis.Refrigerant, bool, error) {
			r, lines := run.Refrigerant, run.lines
			if designation != r.Designation {
				var err error
				if r, err = e.catalogue.Find(designation); err != nil {
					return diagnosis.Refrigerant{}, false, err
				}
				if lines, err = e.lines(r); err != nil {
					return diagnosis.Refrigerant{}, false, err
				}
			}
			curve := lines.Curve()
			if curve == nil {
				return diagnosis.Refrigerant{}, false, nil
			}
			traits, ok := signature.TraitsOf(curve)
			return diagnosis.Refrigerant{Saturation: lines, Traits: traits}, ok, nil
		},
	})
}

// interpreted writes interpretations.
func (t *trail) interpreted(list []diagnosis.Interpretation) []Interpretation {
	var out []Interpretation
	for _, i := range list {
		out = append(out, Interpretation{
			Interpretation: i.Kind, Text: text(i.Kind), Refrigerant: i.Refrigerant,
			Probability: significant(i.Probability, 4), LikeliestFault: string(i.LikeliestFault),
		})
	}
	if len(list) > 0 {
		t.assume(interpretationsPrior, nil)
	}
	return out
}
