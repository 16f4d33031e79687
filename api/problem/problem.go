// Package problem turns errors into RFC 9457 problems, in one table, and
// describes each type of problem for those who look it up. It must not know
// how requests are read or answered.
package problem

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

// MediaType is what a problem is sent as.
const MediaType = "application/problem+json"

// Problem is the body of every answer that is an error (RFC 9457).
type Problem struct {
	// Type is a path on this server: GET it to read what it means and what to do.
	Type string `json:"type" example:"/problems/unreadable-question"`
	// Title is the same for every problem of the type.
	Title string `json:"title" example:"The question cannot be read"`
	// Status repeats the HTTP status.
	Status int `json:"status" example:"400"`
	// Detail is about this occurrence.
	Detail string `json:"detail,omitempty"`
	// Errors lists every fault of the question at once.
	Errors []query.Field `json:"errors,omitempty"`
	// RequestID finds this occurrence in the server's log; given where the fault is the server's.
	RequestID string `json:"request_id,omitempty"`
	// TraceID is the trace that the request was part of (W3C Trace Context), or one begun for it.
	TraceID string `json:"trace_id,omitempty"`
} //@name Problem

// Error is an error that knows its kind of problem, raised where HTTP itself
// is at fault and not the question.
type Error struct {
	Kind   Kind
	Detail string
	// RetryAfter is when it is worth asking again; 0 where that is not known.
	RetryAfter time.Duration
}

func (e *Error) Error() string { return fmt.Sprintf("problem: %s: %s", e.Kind, e.Detail) }

// Because makes the error of kind k; detail is shown to the caller.
func (k Kind) Because(format string, args ...any) error {
	return &Error{Kind: k, Detail: fmt.Sprintf(format, args...)}
}

// After is Because for what passes: it is worth asking again after d.
func (k Kind) After(d time.Duration, format string, args ...any) error {
	return &Error{Kind: k, Detail: fmt.Sprintf(format, args...), RetryAfter: d}
}

// rows say which errors become which problem; the first that fits counts.
var rows = []func(error) (Problem, bool){
	row(func(err *Error) Problem {
		return of(err.Kind, err.Detail, nil)
	}),
	row(func(err *query.Refusal) Problem {
		if err.Unreadable {
			return of(UnreadableQuestion, summary(err.Fields), err.Fields)
		}
		return of(InvalidQuestion, summary(err.Fields), err.Fields)
	}),
	row(func(err *refrigerant.UnknownError) Problem { // in the path; in a body it is a field's fault
		detail := fmt.Sprintf("%.40q is not in the catalogue", err.Spelling)
		if len(err.Nearest) > 0 {
			detail += ", did you mean " + strings.Join(err.Nearest, " or ") + "?"
		}
		return of(UnknownRefrigerant, detail, []query.Field{{Parameter: "designation", Code: query.CodeUnknownRefrigerant, Detail: detail}})
	}),
	func(err error) (Problem, bool) {
		return of(TookTooLong, "", nil), errors.Is(err, query.ErrStopped)
	},
	row(func(err *strictjson.Faults) Problem {
		fields := Fields(err)
		return of(UnreadableQuestion, summary(fields), fields)
	}),
}

// row is the row of an error type.
func row[E error](become func(E) Problem) func(error) (Problem, bool) {
	return func(err error) (Problem, bool) {
		if e, ok := errors.AsType[E](err); ok {
			return become(e), true
		}
		return Problem{}, false
	}
}

// From is the one place where errors meet HTTP. An error without a row is the
// server's fault and tells the caller nothing of itself.
func From(err error) Problem {
	for _, fits := range rows {
		if p, ok := fits(err); ok {
			return p
		}
	}
	return of(InternalError, "", nil)
}

// Known reports whether err has a row of its own.
func Known(err error) bool {
	for _, fits := range rows {
		if _, ok := fits(err); ok {
			return true
		}
	}
	return false
}

// Fields are the faults of reading in the form of the wire.
func Fields(faults *strictjson.Faults) []query.Field {
	fields := make([]query.Field, len(faults.List))
	for i, f := range faults.List {
		fields[i] = query.Field{Pointer: f.Pointer, Code: f.Code, Detail: f.Detail}
	}
	return fields
}

func of(k Kind, detail string, fields []query.Field) Problem {
	d := k.Describe()
	return Problem{Type: d.Type, Title: d.Title, Status: d.Status, Detail: detail, Errors: fields}
}

// summary says in one line what a person reads first.
func summary(fields []query.Field) string {
	if len(fields) == 0 {
		return ""
	}
	first := fields[0]
	var b strings.Builder
	if at := first.Pointer + first.Parameter; at != "" {
		b.WriteString(at + ": ")
	}
	b.WriteString(first.Detail)
	if more := len(fields) - 1; more > 0 {
		fmt.Fprintf(&b, " (and %d more)", more)
	}
	return b.String()
}
