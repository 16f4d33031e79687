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
	// Pointer is the RFC 6901 JSON pointer of the member that is wrong.
	Pointer string `json:"pointer,omitempty" example:"/readings/suction_pressure/unit"`
	// Parameter is the query-string or path parameter that is wrong.
	Parameter string `json:"parameter,omitempty"`
	// Code is stable.
	Code phrase.Code `json:"code" swaggertype:"string" example:"unknown_unit"`
	// Reason says more closely what is wrong; absent where the code says it all, or the JSON itself is malformed.
	Reason phrase.Code `json:"reason,omitempty" swaggertype:"string" example:"unit_unknown_near"`
	// Detail is the text of the reason, or of the code where there is none: English, and may improve.
	Detail string `json:"detail"`
	// Params are the values in the detail by the names of its slots.
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

// Misread notes what cannot be read, and why.
func (r *Refusal) Misread(at Place, code, why phrase.Code, params phrase.Params) {
	r.Unreadable = true
	r.Refuse(at, code, why, params)
}

// Refuse notes what was read, and cannot be, and why: the text of that, with
// its values, is the detail.
func (r *Refusal) Refuse(at Place, code, why phrase.Code, params phrase.Params) {
	r.add(at, Because(code, why, params))
}

// RefuseWith is Refuse in the words of the code itself.
func (r *Refusal) RefuseWith(at Place, code phrase.Code, params phrase.Params) {
	r.add(at, RequestError{Code: code, Detail: phrase.Say(code, params), Params: params})
}

// Because is an error of a code whose detail is the text of a reason.
func Because(code, why phrase.Code, params phrase.Params) RequestError {
	return RequestError{Code: code, Reason: why, Detail: phrase.Say(why, params), Params: params}
}

func (e RequestError) suggesting(names ...string) RequestError {
	e.Suggestions = names
	return e
}

func (e RequestError) allowing(names []string) RequestError {
	e.Allowed = names
	return e
}

// Typed is what was typed, kept short and readable whatever it was.
func Typed(text string) string {
	q := fmt.Sprintf("%.40q", text)
	return q[1 : len(q)-1]
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

// Join takes over the errors of another refusal; those that are there already
// stand once.
func (r *Refusal) Join(more *Refusal) {
	r.Unreadable = r.Unreadable || more.Unreadable
	for _, e := range more.Errors {
		if !slices.ContainsFunc(r.Errors, e.Same) {
			r.Errors = append(r.Errors, e)
		}
	}
}

// Outside notes a value at a place beyond a limit.
func (r *Refusal) Outside(at Place, l Limit) {
	e := l.because()
	e.Limit = &l
	r.add(at, e)
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
		return &Bound{round(u.FromSI(si)), u.Name}
	}
	l := Limit{Low: bound(low), High: bound(high), Above: above}
	if u.Factor < 0 { // depth of vacuum counts the other way
		l.Low, l.High, l.Above = l.High, l.Low, false
	}
	return l
}

func (l Limit) because() RequestError {
	params := phrase.Params{}
	for name, end := range map[string]*Bound{"low": l.Low, "high": l.High} {
		if end != nil {
			params[name] = phrase.Quantity{Value: end.Value, Unit: end.Unit}
		}
	}
	why := phrase.Code("expected_between")
	switch {
	case l.Low == nil && l.High == nil:
		why, params = "expected_finite", nil
	case l.Low == nil:
		why = "expected_up_to"
	case l.High == nil && l.Above:
		why = "expected_more_than"
	case l.High == nil:
		why = "expected_or_more"
	case l.Above:
		why = "expected_more_than_and_up_to"
	}
	return Because(CodeOutOfRange, why, params)
}

// OneOf checks a closed set of names; the empty name is "not given".
func (r *Refusal) OneOf(at Place, value string, allowed ...string) {
	if value == "" || slices.Contains(allowed, value) {
		return
	}
	r.Unreadable = true
	nearest, least := "", 1+len(value)/2
	for _, a := range allowed {
		if d := unit.Distance(strings.ToLower(value), a); d < least {
			nearest, least = a, d
		}
	}
	if nearest == "" {
		r.add(at, Because(CodeUnknownName, "name_unknown", phrase.Params{"given": Typed(value), "allowed": allowed}).allowing(allowed))
		return
	}
	r.add(at, Because(CodeUnknownName, "name_unknown_near", phrase.Params{"given": Typed(value), "suggestion": nearest}).allowing(allowed).suggesting(nearest))
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
