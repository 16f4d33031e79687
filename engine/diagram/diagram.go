// Package diagram computes the geometry of a pressure-enthalpy diagram: the
// dome, isotherms, and the circuit that readings lead to with the region in
// which each state lies. It works in floats (J/kg, Pa, K) and must not know
// how a diagram is drawn, in which units it is shown, or the wire.
package diagram

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Point is a place on the diagram.
type Point struct {
	// Enthalpy in J/kg from the refrigerant's reference, Pressure in Pa.
	Enthalpy, Pressure float64
}

// Saturated is a point of the dome.
type Saturated struct {
	Point
	// Temperature in K.
	Temperature float64
}

// Dome is the two-phase region's border, from cold to hot. Bubble and Dew end
// where liquid and vapor can no longer be told apart (for blends at a density
// ratio of 1.5), a little below Critical.
type Dome struct {
	Bubble, Dew []Saturated
	// Critical is nil where the equation's critical point was not found.
	Critical *Saturated
}

// Window is the part of the diagram that holds all of the rest.
type Window struct {
	Lowest, Highest float64 // Pa
	Left, Right     float64 // J/kg
}

// Diagram is the whole geometry.
type Diagram struct {
	Window    Window
	Dome      Dome
	Isotherms []Isotherm
	Circuit   Circuit
	// Expected is the circuit of Options.Expected.
	Expected Circuit
}

// Options of a diagram.
type Options struct {
	// Origin and Step in K choose the isotherms: Origin plus multiples of
	// Step, which is doubled while there would be more than twelve.
	Origin, Step float64
	// Readings of a running system; nil for the refrigerant alone.
	Readings *circuit.State
	// Expected are readings to draw another circuit of, nil for none.
	Expected *circuit.State
	// Stop, which may be nil, is asked between computations; when it reports
	// true Draw returns saturation.ErrStopped.
	Stop func() bool
}

// ErrStep reports a step between isotherms that is none.
var ErrStep = errors.New("diagram: the step between isotherms must be above zero")

const (
	domePoints   = 80
	maxIsotherms = 12
)

// Draw computes the diagram of a refrigerant with these saturation lines. It
// returns ErrStep, saturation.ErrStopped, or the solver's error where the
// refrigerant has no reference state or no dome.
func Draw(r *refrigerant.Refrigerant, lines saturation.Lines, o Options) (Diagram, error) {
	if !(o.Step > 0) || math.IsInf(o.Step, 0) || !(math.Abs(o.Origin) <= math.MaxFloat64) {
		return Diagram{}, ErrStep
	}
	f, err := newFluid(r, lines, o.Stop)
	if err != nil {
		return Diagram{}, err
	}
	var d Diagram
	if o.Readings != nil {
		d.Circuit = f.circuit(o.Readings)
	}
	if o.Expected != nil {
		d.Expected = f.circuit(o.Expected)
	}
	if err := f.pressures(&d); err != nil {
		return Diagram{}, err
	}
	if err := f.dome(&d); err != nil {
		return Diagram{}, err
	}
	d.enthalpies()
	if d.Isotherms, err = f.isotherms(&d, o); err != nil {
		return Diagram{}, err
	}
	if f.stopped() {
		return Diagram{}, saturation.ErrStopped
	}
	return d, nil
}

// points of both circuits.
func (d *Diagram) points() []Point { return slices.Concat(d.Circuit.points(), d.Expected.points()) }

// fluid is a refrigerant as it is drawn: per kilogram, from its reference.
type fluid struct {
	s     *equilibrium.System
	lines saturation.Lines
	molar float64 // kg/mol
	zero  float64 // J/kg to add to the equation's own enthalpy
	// critical is where the equation has it; ends are the hottest points of
	// the bubble and the dew line that are resolved, in K.
	critical *equilibrium.CriticalPoint
	ends     [2]float64
	stop     func() bool
}

func newFluid(r *refrigerant.Refrigerant, lines saturation.Lines, stop func() bool) (*fluid, error) {
	ref, err := r.Reference()
	if err != nil {
		return nil, err
	}
	f := &fluid{s: r.System(), lines: lines, molar: r.MolarMass(), zero: ref.Enthalpy, stop: stop}
	if c, err := f.s.Critical(); err == nil {
		f.critical = &c
	}
	for _, side := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
		if c := lines.Curve(); c != nil {
			_, f.ends[side], _, _, _ = c.Range(side)
			continue
		}
		end, err := f.s.End(side)
		if err != nil {
			return nil, err
		}
		f.ends[side] = end.Temperature
	}
	return f, nil
}

func (f *fluid) stopped() bool { return f.stop != nil && f.stop() }

// shown turns the equation's J/mol into J/kg from the reference.
func (f *fluid) shown(molar float64) float64 { return molar/f.molar + f.zero }

// equations is the way back.
func (f *fluid) equations(shown float64) float64 { return (shown - f.zero) * f.molar }

func (f *fluid) onLine(p saturation.Properties) Saturated {
	return Saturated{Point{f.shown(p.Enthalpy), p.Pressure}, p.Temperature}
}

// pressures chooses the lowest and the highest pressure: from the air's, or
// below the lowest reading, to well above the critical one.
func (f *fluid) pressures(d *Diagram) error {
	var top float64
	if f.critical != nil {
		top = f.critical.Pressure
	} else {
		b, err := f.lines.AtTemperature(equilibrium.BubbleLine, f.ends[equilibrium.BubbleLine])
		if err != nil {
			return err
		}
		top = b.Pressure
	}
	lo, hi := min(unit.StandardAtmosphere().Pascal(), 0.2*top), 1.3*top
	for _, p := range d.points() {
		lo, hi = min(lo, 0.7*p.Pressure), max(hi, 1.2*p.Pressure)
	}
	// A few published limits lie below the critical pressure: the dome is
	// drawn whole all the same.
	hi = max(min(hi, f.s.MaxPressure()), 1.05*top)
	// Not below where both lines begin.
	for {
		_, err := f.lines.AtPressure(equilibrium.BubbleLine, lo)
		if err == nil {
			_, err = f.lines.AtPressure(equilibrium.DewLine, lo)
		}
		if err == nil && f.lines.Curve() != nil {
			for _, side := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
				if _, _, lowest, _, _ := f.lines.Curve().Range(side); lo < lowest {
					err = equilibrium.ErrBelowRange
				}
			}
		}
		if err == nil {
			break
		}
		if lo *= 1.15; !(lo < 0.9*top) {
			return err
		}
	}
	d.Window.Lowest, d.Window.Highest = lo, hi
	return nil
}

// enthalpies chooses how far the diagram reaches to both sides, once dome and
// states are known.
func (d *Diagram) enthalpies() {
	left, right := math.Inf(1), math.Inf(-1)
	for _, p := range d.Dome.Bubble {
		left = min(left, p.Enthalpy)
	}
	for _, p := range d.Dome.Dew {
		right = max(right, p.Enthalpy)
	}
	width := right - left
	left, right = left-0.1*width, right+0.35*width
	for _, p := range d.points() {
		left, right = min(left, p.Enthalpy-0.08*width), max(right, p.Enthalpy+0.08*width)
	}
	d.Window.Left, d.Window.Right = left, right
}

// dome follows both lines from the lowest pressure to their ends, dense where
// they turn: evenly in the root of the distance to the hottest point.
func (f *fluid) dome(d *Diagram) error {
	if c := f.critical; c != nil {
		h := f.shown(f.s.Caloric(c.Temperature, c.Density).Enthalpy)
		if !(math.Abs(h) <= math.MaxFloat64) {
			return fmt.Errorf("%w: enthalpy at the critical point", equilibrium.ErrNotConverged)
		}
		d.Dome.Critical = &Saturated{Point{h, c.Pressure}, c.Temperature}
	}
	for _, l := range []struct {
		side equilibrium.Line
		into *[]Saturated
	}{{equilibrium.BubbleLine, &d.Dome.Bubble}, {equilibrium.DewLine, &d.Dome.Dew}} {
		cold, err := f.lines.AtPressure(l.side, d.Window.Lowest)
		if err != nil {
			return err
		}
		hot := f.ends[l.side]
		top := hot
		if f.critical != nil {
			top = max(hot, f.critical.Temperature)
		}
		from, to := math.Sqrt(top-cold.Temperature), math.Sqrt(top-hot)
		*l.into = append(*l.into, f.onLine(cold))
		for i := 1; i < domePoints; i++ {
			if f.stopped() {
				return saturation.ErrStopped
			}
			x := from + (to-from)*float64(i)/(domePoints-1)
			// Rounding may not lead past the end.
			p, err := f.lines.AtTemperature(l.side, min(top-x*x, hot))
			if err != nil {
				if i == domePoints-1 {
					break // the end itself may be just out of reach
				}
				return err
			}
			*l.into = append(*l.into, f.onLine(p))
		}
	}
	return nil
}
