// Package leak follows the composition of a blend in a closed volume while it
// leaks at constant temperature, by integrating the balance of every component,
// and says how far the rest's saturation lies from the nominal blend's. It knows
// vessels and amounts and must not know designations, tolerances, or systems.
package leak

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Given names what this package is told.
type Given int

// What is told of a leak.
const (
	Temperature Given = iota
	// LiquidVolume is the share of the volume that liquid fills.
	LiquidVolume
	// Density is the charge in the volume.
	Density
	// FractionLost is one of the fractions asked for, by its index.
	FractionLost
	// Components are the amounts and molar masses.
	Components
	givenCount
)

// String is what it is called in an error.
func (g Given) String() string {
	if g < 0 || g >= givenCount {
		return fmt.Sprintf("leak.Given(%d)", int(g))
	}
	return [givenCount]string{"temperature", "liquid share of the volume", "charge in the volume", "fraction lost", "components"}[g]
}

// AllGiven lists all that this package is told.
func AllGiven() []Given {
	return []Given{Temperature, LiquidVolume, Density, FractionLost, Components}
}

// ErrInput is wrapped by every [InputError].
var ErrInput = input.Err

// InputError says which input is at fault.
type InputError = input.Error[Given]

const (
	// OnePhase: the vessel holds liquid or vapour alone, which leaks without
	// changing.
	OnePhase input.Reason = "is one phase, which leaks without changing"
	// NotRising: a fraction is not more than the one before.
	NotRising input.Reason = "is not more than the one before"
)

// ErrNotFollowed is inside the [InputError] of a fraction up to which the balance
// could not be followed.
var ErrNotFollowed = errors.New("leak: the balance cannot be followed further")

// ErrStopped reports that the caller asked to stop.
var ErrStopped = errors.New("leak: stopped")

// Content is what a vessel holds at one moment.
type Content struct {
	// Amounts of each component, mol/m3 of the vessel.
	Amounts []float64
	// Liquid and Vapor are mole fractions; Liquid is nil once it is gone.
	Liquid, Vapor []float64
	// LiquidVolume is the share of the vessel that liquid fills.
	LiquidVolume float64
	// Pressure in Pa.
	Pressure float64
}

// Vessel gives the content for amounts of each component (mol/m3 of vessel) at
// the vessel's temperature. It is called with amounts that change little from
// call to call.
type Vessel interface {
	Content(amounts []float64) (Content, error)
}

// Phase names what leaves.
type Phase int

// The phases.
const (
	Vapor Phase = iota
	Liquid
)

// Point is one moment of a leak.
type Point struct {
	// Lost is the mass lost over the mass at the start.
	Lost float64
	Content
}

// Ending says how far a leak was followed.
type Ending int

// The endings.
const (
	// Reached: the fraction asked for.
	Reached Ending = iota
	// Balanced: the pressure inside has come down to the outside's before.
	Balanced
)

// Path is a leak from its start: the content at each fraction asked for that
// was reached, what was released up to there, and where it ended.
type Path struct {
	Points []Point
	Ending Ending
	// LiquidGone is the fraction lost at which no liquid was left; NaN where
	// some is left to the end.
	LiquidGone float64
}

// Ranges of inputs: what is lost wholly is not followed.
var (
	fractionsLost = input.Limits{Kind: unit.KindRatio, Max: 1}
	liquidVolumes = input.Limits{Kind: unit.KindRatio, Max: 1, Above: true}
)

const (
	tolStep  = 1e-11 // of the mass that is left, a step
	firstTry = 1e-2
	largest  = 0.1
	least    = 1e-12
)

// Follow lets the phase leave from a vessel that holds amounts (mol/m3 of
// vessel) of components of the given molar masses (kg/mol), and stops at each
// of the fractions (of the mass, rising, 0 to below 1). outside is the pressure
// (Pa) at which nothing leaves any more. A liquid leak goes on as vapour when
// the liquid is gone. stop may be nil. It returns *InputError, of ErrNotFollowed
// where the balance ended, ErrStopped, or the vessel's error.
//
// The balance dn_i/dm = -y_i/Σ y_j M_j is integrated with the error of every
// component held to 1e-11 of the mass that is left, a step.
func Follow(v Vessel, amounts, molar []float64, leaving Phase, fractions []float64, outside float64, stop func() bool) (Path, error) {
	if len(amounts) == 0 || len(amounts) != len(molar) {
		return Path{}, &InputError{Input: Components, Index: -1, Reason: input.Contradiction}
	}
	for i, f := range fractions {
		switch {
		case !(fractionsLost.Hold(f) && f < 1):
			return Path{}, &InputError{Input: FractionLost, Index: i, Reason: input.OutOfRange, Limits: fractionsLost}
		case i > 0 && !(f > fractions[i-1]):
			return Path{}, &InputError{Input: FractionLost, Index: i, Reason: NotRising}
		}
	}
	l := &leak{v: v, molar: molar, leaving: leaving, outside: outside, start: mass(amounts, molar)}
	n := slices.Clone(amounts)
	now, err := v.Content(n)
	if err != nil {
		return Path{}, err
	}
	path := Path{LiquidGone: math.NaN()}
	if now.Liquid == nil {
		path.LiquidGone = 0
	}
	lost, h := 0.0, firstTry
	for i, target := range fractions {
		for lost < target {
			if stop != nil && stop() {
				return Path{}, ErrStopped
			}
			if now.Pressure <= outside {
				path.Ending = Balanced
				path.Points = append(path.Points, Point{lost, now})
				return path, nil
			}
			step := min(h, target-lost)
			next, content, gone, used, err := l.advance(n, now, step)
			if errors.Is(err, ErrNotFollowed) {
				err = &InputError{Input: FractionLost, Index: i, Reason: input.Unsolved, Err: err}
			}
			if err != nil {
				return Path{}, err
			}
			if used < step {
				h = used
			} else {
				h = min(l.suggested, largest)
			}
			n, now = next, content
			if lost += used; target-lost < least {
				lost = target
			}
			if gone {
				path.LiquidGone = lost
			}
		}
		path.Points = append(path.Points, Point{lost, now})
	}
	return path, nil
}

func mass(n, molar []float64) float64 {
	var m float64
	for i := range n {
		m += n[i] * molar[i]
	}
	return m
}

type leak struct {
	v         Vessel
	molar     []float64
	leaving   Phase
	outside   float64 // Pa
	start     float64 // kg/m3
	suggested float64
}

// rate is dn/d(lost) of a content.
func (l *leak) rate(c Content) []float64 {
	y := c.Vapor
	if l.leaving == Liquid && c.Liquid != nil {
		y = c.Liquid
	}
	m := mass(y, l.molar)
	d := make([]float64, len(y))
	for i := range y {
		d[i] = -y[i] / m * l.start
	}
	return d
}

// The Runge-Kutta pair of Dormand & Prince 1980, doi
// 10.1016/0771-050X(80)90013-3: stages, fifth-order weights, and the
// difference to the fourth-order ones. The last stage is the next step's first.
var (
	stages = [][]float64{
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	difference = []float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40}
)

// advance takes one step of at most h in the fraction lost. Where liquid
// vanishes within it, or the pressure comes down to the outside's, it goes
// only that far.
func (l *leak) advance(n []float64, now Content, h float64) (next []float64, content Content, gone bool, used float64, err error) {
	first := l.rate(now)
	remaining := mass(n, l.molar)
	for ; h > least; h *= 0.5 {
		k := [][]float64{first}
		crossed, empty := false, false
		for _, weights := range stages {
			next = slices.Clone(n)
			for i := range next {
				for j, w := range weights {
					next[i] += h * w * k[j][i]
				}
				empty = empty || !(next[i] > 0)
			}
			if empty {
				break
			}
			if content, err = l.v.Content(next); err != nil {
				return nil, Content{}, false, 0, err
			}
			crossed = crossed || now.Liquid != nil && content.Liquid == nil
			k = append(k, l.rate(content))
		}
		if empty {
			continue
		}
		// Across the vanishing of liquid the rate jumps, and below the outside's
		// pressure nothing leaves: halve up to either.
		if (crossed || content.Pressure < l.outside*(1-1e-4)) && h > 1e-9 {
			continue
		}
		var worst float64
		for i := range n {
			var e float64
			for j, d := range difference {
				e += d * k[j][i]
			}
			worst = max(worst, h*math.Abs(e)*l.molar[i]/remaining)
		}
		if !crossed && worst > tolStep {
			continue
		}
		l.suggested = h * min(4, 0.8*math.Pow(tolStep/max(worst, 1e-300), 0.2))
		return next, content, crossed && content.Liquid == nil, h, nil
	}
	return nil, Content{}, false, 0, ErrNotFollowed
}
