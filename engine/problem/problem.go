// Package problem is what a question that is not answered gets instead: RFC
// 9457 problems, all of their kinds and what they mean in one table, and the
// engine's errors as problems. It must not know how questions arrive or answers
// leave.
package problem

import (
	"errors"
	"fmt"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

// MediaType is that of a problem (RFC 9457 section 6.1).
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
	// Errors lists every error of the question at once.
	Errors []query.RequestError `json:"errors,omitempty"`
	// RequestID finds this occurrence in the server's log; given where the error is the server's.
	RequestID string `json:"request_id,omitempty"`
	// TraceID is the trace that the request was part of (W3C Trace Context), or one begun for it.
	TraceID string `json:"trace_id,omitempty"`
} //@name Problem

// From puts an error of the engine in the form of the wire; false where it is
// none that a question brings about.
func From(err error) (Problem, bool) {
	if refusal, ok := errors.AsType[*query.Refusal](err); ok {
		k := InvalidQuestion
		if refusal.Unreadable {
			k = UnreadableQuestion
		}
		return k.Of(summary(refusal.Errors), refusal.Errors), true
	}
	if unknown, ok := errors.AsType[*refrigerant.UnknownError](err); ok { // in the path; in a body it is a field's error
		e := intake.Unknown(unknown)
		e.Parameter = "designation"
		return UnknownRefrigerant.Of(e.Detail, []query.RequestError{e}), true
	}
	if errors.Is(err, query.ErrStopped) {
		return TookTooLong.Of("", nil), true
	}
	if misfits, ok := errors.AsType[*strictjson.Misfits](err); ok {
		fields := Fields(misfits)
		return UnreadableQuestion.Of(summary(fields), fields), true
	}
	return Problem{}, false
}

// Fields are the errors of reading in the form of the wire.
func Fields(misfits *strictjson.Misfits) []query.RequestError {
	fields := make([]query.RequestError, len(misfits.List))
	for i, f := range misfits.List {
		fields[i] = query.RequestError{Pointer: f.Pointer, Code: phrase.Code(f.Code), Detail: f.Detail}
		if f.Suggestion != "" {
			fields[i].Suggestions = []string{f.Suggestion}
		}
	}
	return fields
}

// summary says in one line what a person reads first.
func summary(fields []query.RequestError) string {
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
