// Package charge works out how much refrigerant belongs where: what a line set
// longer or shorter than the factory's needs, and how much a cylinder may hold.
// It must not know the wire, nor what a system's readings say about its charge.
package charge

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/refdata"
)

// ErrInput is wrapped by every error about an input that cannot be one.
var ErrInput = errors.New("charge: not a possible input")

// FieldError says which input is at fault; Err is the solver's error, or
// another of this package, where there is one.
type FieldError struct {
	Field  string // as on the wire
	Reason string
	Err    error
}

func (e *FieldError) Error() string { return fmt.Sprintf("%v: %s %s", ErrInput, e.Field, e.Reason) }

// Unwrap makes errors.Is hold for ErrInput and for Err.
func (e *FieldError) Unwrap() []error {
	if e.Err == nil {
		return []error{ErrInput}
	}
	return []error{ErrInput, e.Err}
}

// faults collects what is wrong with an input.
type faults []error

func (f *faults) add(field, reason string) {
	*f = append(*f, &FieldError{Field: field, Reason: reason})
}

func (f *faults) because(field, reason string, err error) {
	*f = append(*f, &FieldError{Field: field, Reason: reason, Err: err})
}

// positive asks for a finite number above zero.
func (f *faults) positive(field string, v float64) {
	if !(v > 0 && v <= math.MaxFloat64) {
		f.add(field, "is not a finite number above zero")
	}
}

// measured asks for a finite value from zero up, above it unless zero may be.
func (f *faults) measured(field string, m gum.Uncertain, zero bool) {
	if !zero || m.Value != 0 {
		f.positive(field, m.Value)
	}
	if !(m.Standard >= 0 && m.Standard <= math.MaxFloat64) {
		f.add(field, "has a standard uncertainty that is not a finite number from zero up")
	}
}

func (f faults) err() error { return errors.Join(f...) }

// Assumption is the stable code of something taken for granted.
type Assumption string

// The assumptions.
const (
	// UsualWall: the wall of coiled tube of that outside diameter, from memory.
	UsualWall Assumption = "usual_tube_wall"
	// UsualLiquid and UsualVapor: a customary state of what is in the line.
	UsualLiquid Assumption = "usual_liquid_line_state"
	UsualVapor  Assumption = "usual_vapor_line_state"
	// SaturatedLiquid and SaturatedVapor: no pressure was given with the
	// temperature of a line.
	SaturatedLiquid Assumption = "liquid_line_saturated"
	SaturatedVapor  Assumption = "vapor_line_saturated"
	// SameRefrigerantInside: nothing was said of what is in the cylinder.
	SameRefrigerantInside Assumption = "same_refrigerant_inside"
	// WaterAtSixty: water capacity is counted with water of 60 degF.
	WaterAtSixty Assumption = "water_capacity_at_60_degf"
	// PureInside: the cylinder holds no air and no oil.
	PureInside Assumption = "no_air_or_oil_in_cylinder"
)

// Assumptions lists all of them.
func Assumptions() []Assumption {
	return []Assumption{UsualWall, UsualLiquid, UsualVapor, SaturatedLiquid, SaturatedVapor, SameRefrigerantInside, WaterAtSixty, PureInside}
}

// Basis is what an answer rests on.
type Basis struct {
	Assumptions []Assumption
	// Figures and Tubes of the reference data that were used.
	Figures []refdata.Figure
	Tubes   []refdata.Tube
}

func (b *Basis) assume(a Assumption) {
	if !slices.Contains(b.Assumptions, a) {
		b.Assumptions = append(b.Assumptions, a)
	}
}

// figure finds a figure of the reference data and notes that it was used.
func (b *Basis) figure(from refdata.Figures, code string) refdata.Figure {
	f, ok := from.Get(code)
	if !ok {
		panic("charge: no figure " + code)
	}
	if !slices.ContainsFunc(b.Figures, func(g refdata.Figure) bool { return g.Code == code }) {
		b.Figures = append(b.Figures, f)
	}
	return f
}
