// Package problem is what a question that is not answered gets instead: RFC
// 9457 problems, made of the engine's errors in one table. It must not know
// how questions arrive or answers leave.
package problem

import (
	"errors"
	"fmt"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

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

// Description is what a type of problem means.
type Description struct {
	// Type is the reference that problems carry.
	Type string `json:"type" example:"/problems/unreadable-question"`
	// Title is the short name that problems carry.
	Title string `json:"title" example:"The question cannot be read"`
	// Status is the HTTP status that it comes with.
	Status int `json:"status" example:"400"`
	// Meaning says when it arises.
	Meaning string `json:"meaning"`
	// Action says what the client should do.
	Action string `json:"action"`
} //@name ProblemDescription

// Of is the problem that d describes, on one occasion: detail and fields are
// about that occasion and may be empty.
func (d Description) Of(detail string, fields []query.Field) Problem {
	return Problem{Type: d.Type, Title: d.Title, Status: d.Status, Detail: detail, Errors: fields}
}

// What a question can bring about by itself, wherever it is asked.
var (
	UnreadableQuestion = Description{
		Type: "/problems/unreadable-question", Title: "The question cannot be read", Status: 400,
		Meaning: "The body or the query string is not what the operation takes: faulty JSON, an unknown, repeated or wrongly typed member, an unknown unit or name. Every fault is listed in errors, with a pointer into the body or the name of the parameter.",
		Action:  "Mend each listed place; the same request will fail again.",
	}
	InvalidQuestion = Description{
		Type: "/problems/invalid-question", Title: "The question cannot be answered as it stands", Status: 422,
		Meaning: "The question was read, but its values contradict each other, lie outside what the physics or the data allow, or nothing at all follows from them. Every fault is listed in errors.",
		Action:  "Check the readings and units at each listed place with the person who took them.",
	}
	UnknownRefrigerant = Description{
		Type: "/problems/unknown-refrigerant", Title: "The refrigerant is not in the catalogue", Status: 404,
		Meaning: "The designation in the path is no spelling of a refrigerant that is known here.",
		Action:  "Look it up under /v1/refrigerants; a mixture of one's own can be asked about by its composition in POST /v1/saturation.",
	}
	NotFound = Description{
		Type: "/problems/not-found", Title: "Nothing is served at this path", Status: 404,
		Meaning: "No operation has this path.",
		Action:  "Compare the path with /openapi.json.",
	}
	MethodNotAllowed = Description{
		Type: "/problems/method-not-allowed", Title: "The path does not take this method", Status: 405,
		Meaning: "The path is served, with other methods: the header Allow lists them.",
		Action:  "Use one of the methods in Allow.",
	}
	InternalError = Description{
		Type: "/problems/internal-error", Title: "The server failed", Status: 500,
		Meaning: "A fault of this server, not of the question.",
		Action:  "Report the request_id to whoever runs the server; the same question may be asked again.",
	}
	TookTooLong = Description{
		Type: "/problems/took-too-long", Title: "The answer took too long", Status: 503,
		Meaning: "The server stopped computing when its time for one request was over: it is overloaded, or the question is a very large one.",
		Action:  "Ask again later, or divide the question.",
	}
)

// From puts an error of the engine in the form of the wire; false where it is
// none that a question brings about.
func From(err error) (Problem, bool) {
	if refusal, ok := errors.AsType[*query.Refusal](err); ok {
		d := InvalidQuestion
		if refusal.Unreadable {
			d = UnreadableQuestion
		}
		return d.Of(summary(refusal.Fields), refusal.Fields), true
	}
	if unknown, ok := errors.AsType[*refrigerant.UnknownError](err); ok { // in the path; in a body it is a field's fault
		detail := fmt.Sprintf("%.40q is not in the catalogue", unknown.Spelling)
		if len(unknown.Nearest) > 0 {
			detail += ", did you mean " + strings.Join(unknown.Nearest, " or ") + "?"
		}
		return UnknownRefrigerant.Of(detail, []query.Field{{Parameter: "designation", Code: query.CodeUnknownRefrigerant, Detail: detail}}), true
	}
	if errors.Is(err, query.ErrStopped) {
		return TookTooLong.Of("", nil), true
	}
	if faults, ok := errors.AsType[*strictjson.Faults](err); ok {
		fields := Fields(faults)
		return UnreadableQuestion.Of(summary(fields), fields), true
	}
	return Problem{}, false
}

// Fields are the faults of reading in the form of the wire.
func Fields(faults *strictjson.Faults) []query.Field {
	fields := make([]query.Field, len(faults.List))
	for i, f := range faults.List {
		fields[i] = query.Field{Pointer: f.Pointer, Code: f.Code, Detail: f.Detail}
	}
	return fields
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
