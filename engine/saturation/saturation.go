// Package saturation gives the bubble and dew lines of one refrigerant in the
// quantities of the trade. It knows temperatures, pressures and densities and
// must not know designations, readings, or the wire.
package saturation

import (
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Lines are the bubble and dew lines of a refrigerant.
type Lines struct{ s *equilibrium.System }

// Of gives the lines of a system.
func Of(s *equilibrium.System) Lines { return Lines{s} }

// Bubble gives the temperature at which liquid of the composition begins to
// boil at p, and its slope dT/dp in K/Pa. Errors are those of
// [equilibrium.System.AtPressure].
func (l Lines) Bubble(p unit.Pressure) (unit.Temperature, float64, error) {
	return l.at(equilibrium.BubbleLine, p)
}

// Dew gives the temperature at which vapour of the composition begins to
// condense at p, and its slope dT/dp in K/Pa; errors as Bubble.
func (l Lines) Dew(p unit.Pressure) (unit.Temperature, float64, error) {
	return l.at(equilibrium.DewLine, p)
}

func (l Lines) at(line equilibrium.Line, p unit.Pressure) (unit.Temperature, float64, error) {
	q, err := l.s.AtPressure(line, p.Pascal())
	if err != nil {
		return unit.Temperature{}, 0, err
	}
	return unit.Kelvin(q.Temperature), 1 / q.Slope, nil
}
