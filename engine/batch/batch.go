// Package batch is one line of a batch of diagnoses: how it is read, and what
// stands in its place in the answer. It must not know where lines come from or
// how many are answered at once.
package batch

import (
	"encoding/json"
	"errors"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// Question is a line of a batch: a question for a diagnosis, and by what the
// caller knows it.
type Question struct {
	// ID is the caller's own: any string or number; it comes back with the answer.
	ID json.RawMessage `json:"id,omitempty" swaggertype:"string" example:"QW-2031"`
	query.DiagnosisQuestion
} //@name DiagnosisBatchQuestion

// Answer stands for a line that was answered.
type Answer struct {
	// Line of the question, counted from 1.
	Line int `json:"line" example:"1"`
	// ID is that of the question, as it was written.
	ID json.RawMessage `json:"id,omitempty" swaggertype:"string" example:"QW-2031"`
	query.DiagnosisAnswer
} //@name DiagnosisBatchAnswer

// Problem stands for a line that was not: RFC 9457, with the line.
type Problem struct {
	// Line of the question, counted from 1.
	Line int `json:"line" example:"2"`
	// ID is that of the question, where the line could be read so far.
	ID json.RawMessage `json:"id,omitempty" swaggertype:"string" example:"QW-2031"`
	problem.Problem
} //@name DiagnosisBatchProblem

// End is the last line of every batch.
type End struct {
	Summary Summary `json:"summary"`
	// Problem is why the lines after the last one counted were not answered; absent where all were.
	Problem *problem.Problem `json:"problem,omitempty"`
} //@name DiagnosisBatchEnd

// Summary counts.
type Summary struct {
	// Lines that were dealt with, empty ones included: with all of them answered it is the number of the last.
	Lines    int `json:"lines" example:"3"`
	Answers  int `json:"answers" example:"2"`
	Problems int `json:"problems" example:"1"`
} //@name DiagnosisBatchSummary

// Line is any line of the answer: on the wire one of these objects itself, here
// for the contract.
type Line struct {
	Answer  *Answer  `json:"answer" contract:"alternative"`
	Problem *Problem `json:"problem" contract:"alternative"`
	End     *End     `json:"end" contract:"alternative"`
} //@name DiagnosisBatchLine

var read = question.Body[Question]()

// Diagnosis reads a line and has the engine answer it. values is the query
// string of the whole batch, as for one diagnosis. id is the caller's as far as
// the line could be read, nil where there is none, whatever the error is; a
// *query.Refusal lists every error of the line.
func Diagnosis(e *query.Engine, values string, line []byte) (id json.RawMessage, a query.DiagnosisAnswer, err error) {
	in := question.New(nil, values)
	q := read(in, line)
	if err := in.Finish(); err != nil {
		return nil, a, err
	}
	a, err = e.Diagnosis(q.DiagnosisQuestion, in.As())
	err = in.Join(err)
	if len(q.ID) == 0 || string(q.ID) == "null" {
		return nil, a, err
	}
	if c := q.ID[0]; c != '"' && c != '-' && (c < '0' || c > '9') {
		return nil, a, withError(err, unusableID())
	}
	return q.ID, a, err
}

// unusableID tells of an id that is neither a string nor a number.
func unusableID() query.RequestError {
	e := intake.Because(query.CodeWrongType, "id_of_wrong_type", nil)
	e.Pointer = "/id"
	return e
}

// withError adds an error of reading to what else is wrong with a question.
func withError(err error, f query.RequestError) error {
	var others []query.RequestError
	if refusal, ok := errors.AsType[*query.Refusal](err); ok {
		others = refusal.Errors
	} else if err != nil {
		return err
	}
	return &query.Refusal{Unreadable: true, Errors: append([]query.RequestError{f}, slices.Clone(others)...)}
}
