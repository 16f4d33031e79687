package query

import (
	"fmt"
	"strings"
)

// Codes of faults in a question.
const (
	CodeSyntax         = "syntax"
	CodeUnknownMember  = "unknown_member"
	CodeRepeatedMember = "repeated_member"
	CodeWrongType      = "wrong_type"
	CodeUnknownUnit    = "unknown_unit"
	CodeMissingUnit    = "missing_unit"
	CodeMissingValue   = "missing_value"
	CodeUnknownName    = "unknown_name"

	CodeWrongKind          = "wrong_kind_of_unit"
	CodeOutOfRange         = "out_of_range"
	CodeContradiction      = "contradiction"
	CodeMissing            = "missing"
	CodeUnknownRefrigerant = "unknown_refrigerant"
	CodeAboveCritical      = "above_critical"
	CodeBelowRange         = "below_range"
	CodeTwoLiquids         = "two_liquids"
	CodeNearCritical       = "near_critical"
	CodeNotConverged       = "not_converged"
	CodeTooMany            = "too_many"
)

// Field is one fault in a question.
type Field struct {
	// Pointer is the RFC 6901 JSON pointer of the member at fault.
	Pointer string `json:"pointer,omitempty" example:"/readings/suction_pressure/unit"`
	// Parameter is the query-string or path parameter at fault.
	Parameter string `json:"parameter,omitempty"`
	// Code is stable.
	Code string `json:"code" example:"unknown_unit"`
	// Detail is English and may improve.
	Detail string `json:"detail"`
} //@name Fault

// Refusal is the error of every operation for a question that cannot be
// answered: it lists every bad field at once.
type Refusal struct {
	// Unreadable is set where at least one fault is of reading (unknown
	// member, unit or name, wrong type), not of physics.
	Unreadable bool
	Fields     []Field
}

func (r *Refusal) Error() string {
	var b strings.Builder
	b.WriteString("query: the question cannot be answered")
	for _, f := range r.Fields {
		fmt.Fprintf(&b, "; %s%s: %s", f.Pointer, f.Parameter, f.Detail)
	}
	return b.String()
}

func (r *Refusal) unreadable(at place, code, detail string) {
	r.Unreadable = true
	r.invalid(at, code, detail)
}

func (r *Refusal) invalid(at place, code, detail string) {
	r.Fields = append(r.Fields, Field{Pointer: at.pointer, Parameter: at.parameter, Code: code, Detail: detail})
}

// orNil is the refusal as an error, nil where nothing was noted.
func (r *Refusal) orNil() error {
	if len(r.Fields) == 0 {
		return nil
	}
	return r
}
