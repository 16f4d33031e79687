package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Codes of errors in a question.
const (
	CodeSyntax         phrase.Code = "syntax"
	CodeUnknownMember  phrase.Code = "unknown_member"
	CodeRepeatedMember phrase.Code = "repeated_member"
	CodeWrongType      phrase.Code = "wrong_type"
	CodeUnknownUnit    phrase.Code = "unknown_unit"
	CodeMissingUnit    phrase.Code = "missing_unit"
	CodeMissingValue   phrase.Code = "missing_value"
	CodeUnknownName    phrase.Code = "unknown_name"

	CodeWrongKind          phrase.Code = "wrong_kind_of_unit"
	CodeOutOfRange         phrase.Code = "out_of_range"
	CodeContradiction      phrase.Code = "contradiction"
	CodeMissing            phrase.Code = "missing"
	CodeUnknownRefrigerant phrase.Code = "unknown_refrigerant"
	CodeAboveCritical      phrase.Code = "above_critical"
	CodeBelowRange         phrase.Code = "below_range"
	CodeTwoLiquids         phrase.Code = "two_liquids"
	CodeNearCritical       phrase.Code = "near_critical"
	CodeNotConverged       phrase.Code = "not_converged"
	CodeTooMany            phrase.Code = "too_many"
)

// RequestError is one error in a question.
type RequestError struct {
	// Pointer is the RFC 6901 JSON pointer of the member at fault.
	Pointer string `json:"pointer,omitempty" example:"/readings/suction_pressure/unit"`
	// Parameter is the query-string or path parameter at fault.
	Parameter string `json:"parameter,omitempty"`
	// Code is stable.
	Code phrase.Code `json:"code" swaggertype:"string" example:"unknown_unit"`
	// Detail is English and may improve.
	Detail string `json:"detail"`
	// Params are the values in the detail of a code whose text has slots.
	Params phrase.Params `json:"params,omitempty" swaggertype:"object"`
	// Allowed names what may stand there instead, where that is a short list.
	Allowed []string `json:"allowed,omitempty"`
	// Suggestions are the names nearest to the one given.
	Suggestions []string `json:"suggestions,omitempty" example:"psig"`
	// Limit is what the value may lie between.
	Limit *Limit `json:"limit,omitempty"`
} //@name RequestError

// Same reports whether two errors say the same of the same place.
func (e RequestError) Same(f RequestError) bool {
	return e.Pointer == f.Pointer && e.Parameter == f.Parameter && e.Code == f.Code && e.Detail == f.Detail
}

// Limit is a range in the unit of the question; an end that is absent is open.
type Limit struct {
	Low  *Bound `json:"low,omitempty"`
	High *Bound `json:"high,omitempty"`
	// Above: the low end itself is not in the range.
	Above bool `json:"above,omitempty"`
} //@name Limit

// Bound is one end of a range.
type Bound struct {
	Value float64 `json:"value" example:"2900"`
	Unit  string  `json:"unit" example:"psig"`
} //@name Bound

// Refusal is the error of every operation for a question that cannot be
// answered: it lists every error at once.
type Refusal struct {
	// Unreadable is set where at least one error is of reading (unknown
	// member, unit or name, wrong type), not of physics.
	Unreadable bool
	Errors     []RequestError
}

func (r *Refusal) Error() string {
	var b strings.Builder
	b.WriteString("query: the question cannot be answered")
	for _, f := range r.Errors {
		fmt.Fprintf(&b, "; %s%s: %s", f.Pointer, f.Parameter, f.Detail)
	}
	return b.String()
}

// Misread notes what cannot be read.
func (r *Refusal) Misread(at Place, code phrase.Code, detail string) {
	r.Unreadable = true
	r.Refuse(at, code, detail)
}

// Refuse notes what was read, and cannot be.
func (r *Refusal) Refuse(at Place, code phrase.Code, detail string) {
	r.add(at, RequestError{Code: code, Detail: detail})
}

// RefuseWith is Refuse in the words of the code itself, with the values of its
// slots.
func (r *Refusal) RefuseWith(at Place, code phrase.Code, params phrase.Params) {
	r.add(at, RequestError{Code: code, Detail: phrase.Say(code, params), Params: params})
}

func (r *Refusal) add(at Place, e RequestError) {
	e.Pointer, e.Parameter = at.pointer, at.parameter
	r.Errors = append(r.Errors, e)
}

// Err is the refusal as an error, nil where nothing was noted.
func (r *Refusal) Err() error {
	if len(r.Errors) == 0 {
		return nil
	}
	return r
}

// Outside notes a value at a place beyond a limit.
func (r *Refusal) Outside(at Place, l Limit) {
	r.add(at, RequestError{Code: CodeOutOfRange, Detail: l.detail(), Limit: &l})
}

// Between is the range from low to high in SI, in the unit of a value; an
// infinite end is open.
func (v Value) Between(low, high float64) Limit {
	u, _ := unit.Lookup(v.Unit)
	return LimitIn(u, low, high, false)
}

// LimitIn is a range in a unit, from low to high in SI; an infinite end is
// open, and above says that low itself is not in it.
func LimitIn(u unit.Unit, low, high float64, above bool) Limit {
	bound := func(si float64) *Bound {
		if math.IsInf(si, 0) {
			return nil
		}
		return &Bound{significant(u.FromSI(si)), u.Name}
	}
	l := Limit{Low: bound(low), High: bound(high), Above: above}
	if u.Factor < 0 { // depth of vacuum counts the other way
		l.Low, l.High, l.Above = l.High, l.Low, false
	}
	return l
}

// significant rounds to six digits.
func significant(v float64) float64 {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return rounded + 0 // no negative zero
}

func (l Limit) detail() string {
	say := func(b *Bound) string {
		return strconv.FormatFloat(b.Value, 'f', -1, 64) + " " + phrase.Unit(b.Unit)
	}
	switch {
	case l.Low == nil && l.High == nil:
		return "expected a finite number"
	case l.Low == nil:
		return "expected up to " + say(l.High)
	case l.High == nil && l.Above:
		return "expected more than " + say(l.Low)
	case l.High == nil:
		return "expected " + say(l.Low) + " or more"
	case l.Above:
		return "expected more than " + say(l.Low) + " and up to " + say(l.High)
	}
	return "expected between " + say(l.Low) + " and " + say(l.High)
}

// OneOf checks a closed set of names; the empty name is "not given".
func (r *Refusal) OneOf(at Place, value string, allowed ...string) {
	if value == "" || slices.Contains(allowed, value) {
		return
	}
	r.Unreadable = true
	e := RequestError{Code: CodeUnknownName, Allowed: allowed, Detail: fmt.Sprintf("%.40q is none of %s", value, strings.Join(allowed, ", "))}
	least := 1 + len(value)/2
	for _, a := range allowed {
		if d := unit.Distance(strings.ToLower(value), a); d < least {
			least = d
			e.Suggestions = []string{a}
			e.Detail = fmt.Sprintf("%.40q is unknown, did you mean %q?", value, a)
		}
	}
	r.add(at, e)
}

// Place says where in a question a value stands: a JSON pointer, or a
// parameter of the query string.
type Place struct{ pointer, parameter string }

// At is the place of a JSON pointer (RFC 6901).
func At(pointer string) Place { return Place{pointer: pointer} }

// Parameter is the place of a parameter of path or query string.
func Parameter(name string) Place { return Place{parameter: name} }

// Pointer is the JSON pointer of a place, empty for a parameter.
func (p Place) Pointer() string { return p.pointer }

// Member is the place of a member of what stands at p; a parameter has none.
func (p Place) Member(name string) Place {
	if p.parameter != "" {
		return p
	}
	return Place{pointer: p.pointer + "/" + pointerEscape.Replace(name)}
}

// Item is the place of an item of the list that stands at p.
func (p Place) Item(i int) Place { return p.Member(strconv.Itoa(i)) }

// pointerEscape spells a member's name inside a JSON pointer: RFC 6901 section 3.
var pointerEscape = strings.NewReplacer("~", "~0", "/", "~1")
