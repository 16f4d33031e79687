// Package charge works out how much refrigerant belongs where: what a line set
// longer or shorter than the factory's needs, and how much a cylinder may hold.
// It must not know the wire, nor what a system's readings say about its charge.
package charge

import (
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// ErrInput is wrapped by every error about an input that cannot be one.
var ErrInput = input.Err

// Reasons of this package for refusing an input.
const (
	// BelowTare: the cylinder weighs less than it does empty.
	BelowTare input.Reason = "is less than the tare"
	// WallTooThick: the wall does not fit into the outside diameter.
	WallTooThick input.Reason = "does not fit into the outside diameter"
	// NoUsualWall: no wall was given, and none is usual for the outside diameter.
	NoUsualWall input.Reason = "is not given, and none is usual for this outside diameter"
	// OtherRefrigerant: the cylinder holds another refrigerant.
	OtherRefrigerant input.Reason = "is another than the one to be filled in"
	// NotThisPhase: the line would carry the other phase.
	NotThisPhase input.Reason = "is not the phase of this line"
	// NoLiquidAtReference and NoLiquidAtMaximum: there is no liquid, so that a
	// limit by liquid volume says nothing.
	NoLiquidAtReference input.Reason = "has no liquid at the reference temperature"
	NoLiquidAtMaximum   input.Reason = "has no liquid at the highest temperature"
)

// Ranges of inputs.
var (
	lengths      = input.Limits{Kind: unit.KindLength, Max: math.Inf(1), Above: true}
	anyLength    = input.Limits{Kind: unit.KindLength, Max: math.Inf(1)}
	diameters    = input.Limits{Kind: unit.KindLength, Max: 1, Above: true}
	masses       = input.Limits{Kind: unit.KindMass, Max: math.Inf(1), Above: true}
	anyMass      = input.Limits{Kind: unit.KindMass, Max: math.Inf(1)}
	volumes      = input.Limits{Kind: unit.KindVolume, Max: math.Inf(1), Above: true}
	rates        = input.Limits{Kind: unit.KindMassPerLength, Max: math.Inf(1), Above: true}
	gravities    = input.Limits{Kind: unit.KindRatio, Max: math.Inf(1), Above: true}
	ratings      = input.Limits{Kind: unit.KindGaugePressure, Max: math.Inf(1), Above: true}
	airPressures = input.Limits{Kind: unit.KindPressure, Max: math.Inf(1), Above: true}
)

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
