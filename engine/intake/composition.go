package intake

import (
	"errors"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

// TakeRefrigerant finds a refrigerant by its designation or its composition,
// whose members stand at a place; nil, with an error noted, where there is
// none.
func TakeRefrigerant(catalogue *refrigerant.Catalogue, designation string, composition []Share, at Place, r *Refusal) *refrigerant.Refrigerant {
	switch {
	case designation != "" && composition != nil:
		r.Refuse(at.Member("composition"), CodeContradiction, "refrigerant_or_composition", nil)
		return nil
	case composition != nil:
		return compose(catalogue, composition, at.Member("composition"), r)
	case designation == "":
		r.Refuse(at.Member("refrigerant"), CodeMissing, "refrigerant_missing", nil)
		return nil
	}
	return Find(catalogue, designation, at.Member("refrigerant"), r)
}

// Find finds a refrigerant by the designation that stands at a place; nil,
// with an error noted, where there is none.
func Find(catalogue *refrigerant.Catalogue, designation string, at Place, r *Refusal) *refrigerant.Refrigerant {
	f, err := catalogue.Find(designation)
	if err != nil {
		r.add(at, Unknown(err))
		return nil
	}
	return f
}

// Unknown tells a caller of a designation that is not in the catalogue.
func Unknown(err error) RequestError {
	u, ok := errors.AsType[*refrigerant.UnknownError](err)
	switch {
	case !ok:
		return RequestError{Code: CodeUnknownRefrigerant, Detail: err.Error()}
	case len(u.Nearest) == 0:
		return Because(CodeUnknownRefrigerant, "designation_unknown", phrase.Params{"given": Typed(u.Spelling)})
	}
	return Because(CodeUnknownRefrigerant, "designation_unknown_near", phrase.Params{"given": Typed(u.Spelling), "suggestions": u.Nearest}).suggesting(u.Nearest...)
}

func compose(catalogue *refrigerant.Catalogue, shares []Share, at Place, r *Refusal) *refrigerant.Refrigerant {
	before := len(r.Errors)
	components := make([]refrigerant.Component, len(shares))
	for i, s := range shares {
		p := at.Item(i)
		f := Find(catalogue, s.Refrigerant, p.Member("refrigerant"), r)
		if f != nil && !f.Pure() {
			r.Refuse(p.Member("refrigerant"), CodeOutOfRange, "component_is_a_blend", phrase.Params{"refrigerant": f.Designation})
		}
		switch {
		case s.MassPercent == nil:
			r.Misread(p.Member("mass_percent"), CodeMissingValue, "component_share_missing", nil)
		case !(*s.MassPercent > 0 && *s.MassPercent <= 100):
			r.Refuse(p.Member("mass_percent"), CodeOutOfRange, "component_share_out_of_range", nil)
		default:
			components[i] = refrigerant.Component{Designation: s.Refrigerant, MassFraction: *s.MassPercent / 100}
		}
	}
	if len(r.Errors) > before {
		return nil
	}
	f, err := catalogue.Compose(components)
	if err != nil {
		r.Refuse(at, CodeOutOfRange, "composition_malformed", phrase.Params{"problem": strings.TrimPrefix(err.Error(), refrigerant.ErrComposition.Error()+": ")})
		return nil
	}
	return f
}
