package leak

import (
	"fmt"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/refdata"
)

// System is what the vessel holds as one fluid of m.
func (c Content) System(m *helmholtz.Mixture) (*equilibrium.System, error) {
	x := slices.Clone(c.Amounts)
	var sum float64
	for _, n := range x {
		sum += n
	}
	for i := range x {
		x[i] /= sum
	}
	s, err := equilibrium.New(m, x)
	if err != nil {
		return nil, fmt.Errorf("leak: what is left: %w", err)
	}
	return s, nil
}

// Shift is how far a saturation line of what is left lies from that of the
// nominal blend at a Pressure (Pa): two temperatures in K.
type Shift struct {
	Line                    equilibrium.Line
	Pressure, Nominal, Rest float64
}

// ShiftOf compares a line at a pressure (Pa); false where either blend has no
// such point.
func ShiftOf(nominal, rest saturation.Lines, line equilibrium.Line, p float64) (Shift, bool) {
	n, err := nominal.AtPressure(line, p)
	if err != nil {
		return Shift{}, false
	}
	r, err := rest.AtPressure(line, p)
	if err != nil {
		return Shift{}, false
	}
	return Shift{line, p, n.Temperature, r.Temperature}, true
}

// UsualTemperature is where a line is compared when nobody read a pressure, in K:
// at which the nominal blend evaporates (dew line) or condenses (bubble line) in
// comfort cooling. It stands in a figure of the reference data.
func UsualTemperature(line equilibrium.Line) (float64, refdata.Figure) {
	f := figure.Allowance("service_evaporating_temperature")
	if line == equilibrium.BubbleLine {
		f = figure.Allowance("service_condensing_temperature")
	}
	return figure.SI(f), f
}

// Kelvin is the shift itself, positive where the rest boils hotter.
func (s Shift) Kelvin() float64 { return s.Rest - s.Nominal }

// ReadError is what superheat (from the dew line) or subcooling (from the bubble
// line) exceeds the true one by where it is read with the nominal blend's line:
// superheat counts up from the dew point, subcooling down from the bubble point.
func (s Shift) ReadError() float64 {
	if s.Line == equilibrium.BubbleLine {
		return -s.Kelvin()
	}
	return s.Kelvin()
}
