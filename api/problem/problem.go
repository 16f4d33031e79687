// Package problem turns errors into RFC 9457 problems where HTTP itself is at
// fault and not the question: the kinds and what a question brings about stand
// in the engine's table. It must not know how requests are read or answered.
package problem

import (
	"errors"
	"fmt"
	"time"

	"github.com/knurl-hvacr/knurl/engine/problem"
)

// Error is an error that knows its kind of problem, raised where HTTP itself
// is at fault and not the question.
type Error struct {
	Kind   problem.Kind
	Detail string
	// RetryAfter is when it is worth asking again; 0 where that is not known.
	RetryAfter time.Duration
}

func (e *Error) Error() string { return fmt.Sprintf("problem: %s: %s", e.Kind, e.Detail) }

// Because makes the error of kind k; detail is shown to the caller.
func Because(k problem.Kind, format string, args ...any) error {
	return &Error{Kind: k, Detail: fmt.Sprintf(format, args...)}
}

// After is Because for what passes: it is worth asking again after d.
func After(k problem.Kind, d time.Duration, format string, args ...any) error {
	return &Error{Kind: k, Detail: fmt.Sprintf(format, args...), RetryAfter: d}
}

// From is the one place where errors meet HTTP. An error without a row is the
// server's fault and tells the caller nothing of itself.
func From(err error) problem.Problem {
	if p, ok := known(err); ok {
		return p
	}
	return problem.InternalError.Of("", nil)
}

// Known reports whether err has a row of its own.
func Known(err error) bool {
	_, ok := known(err)
	return ok
}

func known(err error) (problem.Problem, bool) {
	if raised, ok := errors.AsType[*Error](err); ok {
		return raised.Kind.Of(raised.Detail, nil), true
	}
	return problem.From(err)
}
