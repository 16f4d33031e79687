package plant

import (
	"errors"
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/unit"
)

// The ways in which a solution can fail.
var (
	// ErrNotConverged reports equations that did not settle, neither directly
	// nor step by step from the rating point.
	ErrNotConverged = errors.New("plant: not converged")
	// ErrBeyondPressures reports a balance that lies beyond the pressures of the
	// refrigerant's surfaces: no unit runs there, a cut-out has opened before.
	ErrBeyondPressures = errors.New("plant: balance beyond the pressures that a unit runs at")
	// ErrInput reports conditions or faults outside what the model covers.
	ErrInput = errors.New("plant: outside the model")
	// ErrDesign reports a specification that no unit can meet.
	ErrDesign = errors.New("plant: no unit meets the specification")
)

// Conditions are the air around a system. Temperatures in K, pressure in Pa.
type Conditions struct {
	OutdoorDryBulb, ReturnDryBulb, ReturnWetBulb float64
	// SitePressure is the absolute air pressure.
	SitePressure float64
}

// Rating are the conditions at which systems are sized: 95 degF outdoor, 80
// degF dry and 67 degF wet bulb return (AHRI Standard 210/240, test A; from
// memory, unverified), at sea level.
func Rating() Conditions {
	return Conditions{
		OutdoorDryBulb: unit.Fahrenheit(95).Kelvin(),
		ReturnDryBulb:  unit.Fahrenheit(80).Kelvin(), ReturnWetBulb: unit.Fahrenheit(67).Kelvin(),
		SitePressure: unit.StandardAtmosphere().Pascal(),
	}
}

// Unit is a sized system. It is immutable and safe for concurrent use.
type Unit struct {
	fluid      *Fluid
	compressor compressor
	condenser  coil
	evaporator coil
	metering   metering
	liquid     line
	suction    line
	discharge  float64 // m3
	shell      float64 // m3
	drier      float64 // m3
	sump       sump
	keeps      accumulator
	charge     float64 // kg
	volume     float64 // m3 of the whole circuit
	indoor     float64 // m3/s
	outdoor    float64 // m3/s
	blower     float64 // W at the rated flow
	fan        float64 // W
	rated      unknowns
	limits     limits
}

// Charge is the rated charge in kg.
func (u *Unit) Charge() float64 { return u.charge }

// limits are where a real unit stops.
type limits struct {
	highPressure, lowPressure, discharge, liquid float64
}

// ranges collects what lies outside the model.
type ranges struct{ faults []error }

func (r *ranges) within(name string, v, lo, hi float64) {
	if !(v >= lo && v <= hi) {
		r.faults = append(r.faults, fmt.Errorf("%w: %s %v, taken is %v to %v", ErrInput, name, v, lo, hi))
	}
}

func (r *ranges) err() error { return errors.Join(r.faults...) }
