// Package input says what is wrong with the inputs of a calculation: which one,
// why, and within which limits it would have been taken, in SI. It must not know
// any calculation, what its inputs are called where they come from, or how
// anybody words a refusal.
package input

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Err is wrapped by every [Error].
var Err = errors.New("not a possible input")

// Reason is why an input cannot be one.
type Reason string

// The reasons that any calculation may have; one may add its own.
const (
	// Missing: it was not given, or is empty.
	Missing Reason = "is missing"
	// Unknown: a name that is none of those there are.
	Unknown Reason = "is not known"
	// OutOfRange: a value outside the error's Limits, or no finite number.
	OutOfRange Reason = "lies outside its range"
	// Uncertainty: the standard uncertainty is not a finite number from zero up.
	Uncertainty Reason = "has an impossible uncertainty"
	// Contradiction: it does not go together with another input.
	Contradiction Reason = "contradicts another input"
	// Unsolved: it is possible in itself, but the calculation has no answer for
	// it; the error's Err says why.
	Unsolved Reason = "cannot be used"
)

// Limits are a range in the coherent SI unit of its kind. Max may be infinite.
type Limits struct {
	Kind     unit.Kind
	Min, Max float64
	// Above tells that Min itself is not in the range.
	Above bool
}

// Hold tells whether v lies within; NaN does not, and neither does infinity.
func (l Limits) Hold(v float64) bool {
	return v >= l.Min && !(l.Above && v == l.Min) && v <= l.Max && math.Abs(v) <= math.MaxFloat64
}

// Error names an input at fault by the Name of a calculation.
type Error[Name fmt.Stringer] struct {
	Input Name
	// Index of the input among several of its name, such as that of a hose; -1
	// where there is only one.
	Index  int
	Reason Reason
	// Limits of what is OutOfRange.
	Limits Limits
	// Err is the cause where there is one.
	Err error
}

func (e *Error[Name]) Error() string {
	var b strings.Builder
	calculation, _, _ := strings.Cut(fmt.Sprintf("%T", e.Input), ".")
	fmt.Fprintf(&b, "%s: %v", calculation, e.Input)
	if e.Index >= 0 {
		fmt.Fprintf(&b, " %d", e.Index+1)
	}
	fmt.Fprintf(&b, " %s", e.Reason)
	if e.Reason == OutOfRange {
		fmt.Fprintf(&b, " from %g to %g (SI)", e.Limits.Min, e.Limits.Max)
	}
	if e.Err != nil {
		fmt.Fprintf(&b, ": %v", e.Err)
	}
	return b.String()
}

// Unwrap makes errors.Is hold for [Err] and for the cause.
func (e *Error[Name]) Unwrap() []error {
	if e.Err == nil {
		return []error{Err}
	}
	return []error{Err, e.Err}
}

// Errors collects what is wrong with all inputs.
type Errors[Name fmt.Stringer] []error

// Add notes an input at fault; index is -1 where there is only one of its name.
func (s *Errors[Name]) Add(name Name, index int, reason Reason) {
	*s = append(*s, &Error[Name]{Input: name, Index: index, Reason: reason})
}

// Unsolved notes an input for which the equations have no answer.
func (s *Errors[Name]) Unsolved(name Name, index int, err error) {
	*s = append(*s, &Error[Name]{Input: name, Index: index, Reason: Unsolved, Err: err})
}

// Within asks for a value within limits.
func (s *Errors[Name]) Within(name Name, index int, v float64, l Limits) {
	if !l.Hold(v) {
		*s = append(*s, &Error[Name]{Input: name, Index: index, Reason: OutOfRange, Limits: l})
	}
}

// Measured asks for a value within limits and a possible uncertainty; nil, which
// was not given, is no fault.
func (s *Errors[Name]) Measured(name Name, index int, m *gum.Uncertain, l Limits) {
	switch {
	case m == nil:
	case !(m.Standard >= 0 && m.Standard <= math.MaxFloat64):
		s.Add(name, index, Uncertainty)
	default:
		s.Within(name, index, m.Value, l)
	}
}

// Join gives all that was noted as one error, nil where nothing was.
func (s Errors[Name]) Join() error { return errors.Join(s...) }

// Each gives the errors of a type in a tree of errors, where errors.As gives
// the first only. It does not look into those it finds.
func Each[E error](err error) []E {
	if found, ok := err.(E); ok {
		return []E{found}
	}
	var all []E
	switch e := err.(type) {
	case interface{ Unwrap() error }:
		all = Each[E](e.Unwrap())
	case interface{ Unwrap() []error }:
		for _, part := range e.Unwrap() {
			all = append(all, Each[E](part)...)
		}
	}
	return all
}
