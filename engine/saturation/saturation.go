// Package saturation gives the bubble and dew lines of one refrigerant fast:
// curves fitted to the rigorous solution when a composition is first asked
// for, kept in the process, and the solution itself where a curve ends. It
// must not know designations, readings, or the wire.
package saturation

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Lines are the bubble and dew lines of a refrigerant: its curve, and beyond
// the curve's ends the rigorous solver. Errors are those of
// [equilibrium.System.AtPressure].
type Lines struct {
	s     *equilibrium.System
	curve *Curve // nil where there is none
}

// Rigorous are the lines of a system without a curve.
func Rigorous(s *equilibrium.System) Lines { return Lines{s: s} }

// Curve is the curve behind the lines, nil where the composition has none.
func (l Lines) Curve() *Curve { return l.curve }

// Bubble gives the temperature at which liquid of the composition begins to
// boil at p, and its slope dT/dp in K/Pa.
func (l Lines) Bubble(p unit.Pressure) (unit.Temperature, float64, error) {
	return l.temperature(equilibrium.BubbleLine, p)
}

// Dew gives the temperature at which vapour of the composition begins to
// condense at p, and its slope dT/dp in K/Pa.
func (l Lines) Dew(p unit.Pressure) (unit.Temperature, float64, error) {
	return l.temperature(equilibrium.DewLine, p)
}

func (l Lines) temperature(side equilibrium.Line, p unit.Pressure) (unit.Temperature, float64, error) {
	if l.curve != nil {
		if t, slope, ok := l.curve.lines[side].temperatureSlope(p.Pascal()); ok {
			return unit.Kelvin(t), slope, nil
		}
	}
	q, err := l.s.AtPressure(side, p.Pascal())
	if err != nil {
		return unit.Temperature{}, 0, err
	}
	return unit.Kelvin(q.Temperature), 1 / q.Slope, nil
}

// AtPressure gives a point of a line with the properties of the phase that has
// the composition, at p in Pa.
func (l Lines) AtPressure(side equilibrium.Line, p float64) (Properties, error) {
	if l.curve != nil {
		if t, ok := l.curve.lines[side].temperature(p); ok {
			if q, ok := l.curve.lines[side].properties(t); ok {
				q.Pressure = p
				return q, nil
			}
		}
	}
	q, err := l.s.AtPressure(side, p)
	return l.rigorous(side, q), err
}

// AtTemperature gives a point of a line at t in K.
func (l Lines) AtTemperature(side equilibrium.Line, t float64) (Properties, error) {
	if l.curve != nil {
		if q, ok := l.curve.lines[side].properties(t); ok {
			return q, nil
		}
	}
	q, err := l.s.AtTemperature(side, t)
	return l.rigorous(side, q), err
}

func (l Lines) rigorous(side equilibrium.Line, q equilibrium.Point) Properties {
	phase := q.Liquid
	if side == equilibrium.DewLine {
		phase = q.Vapor
	}
	if !(phase.Density > 0) || math.IsInf(phase.Density, 0) {
		return Properties{}
	}
	c := l.s.Caloric(q.Temperature, phase.Density)
	return Properties{Temperature: q.Temperature, Pressure: q.Pressure, Density: phase.Density, Enthalpy: c.Enthalpy, Entropy: c.Entropy}
}
