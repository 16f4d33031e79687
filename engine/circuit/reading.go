package circuit

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Reading names one thing that an instrument shows.
type Reading int

// The readings, as the wire names them.
const (
	SuctionPressure Reading = iota
	SuctionLineTemperature
	LiquidPressure
	LiquidLineTemperature
	DischargePressure
	DischargeLineTemperature
	OutdoorDryBulb
	ReturnDryBulb
	ReturnWetBulb
	ReturnRelativeHumidity
	SupplyDryBulb
	SupplyWetBulb
	IndoorAirflow
	DrierOutletTemperature
	readingCount
)

var readingNames = [readingCount]string{
	"suction_pressure", "suction_line_temperature", "liquid_pressure", "liquid_line_temperature",
	"discharge_pressure", "discharge_line_temperature", "outdoor_dry_bulb", "return_dry_bulb",
	"return_wet_bulb", "return_relative_humidity", "supply_dry_bulb", "supply_wet_bulb",
	"indoor_airflow", "drier_outlet_temperature",
}

// String is the name on the wire.
func (r Reading) String() string {
	if r < 0 || r >= readingCount {
		return fmt.Sprintf("circuit.Reading(%d)", int(r))
	}
	return readingNames[r]
}

// Readings lists all readings in the order of the wire.
func Readings() []Reading {
	all := make([]Reading, readingCount)
	for i := range all {
		all[i] = Reading(i)
	}
	return all
}

// ParseReading finds the reading of that exact name.
func ParseReading(name string) (Reading, bool) {
	for i, n := range readingNames {
		if n == name {
			return Reading(i), true
		}
	}
	return 0, false
}

// Kind is what the reading measures. Pressures are absolute here, whatever
// the gauge showed.
func (r Reading) Kind() unit.Kind {
	switch r {
	case SuctionPressure, LiquidPressure, DischargePressure:
		return unit.KindPressure
	case ReturnRelativeHumidity:
		return unit.KindRatio
	case IndoorAirflow:
		return unit.KindAirFlow
	default:
		return unit.KindTemperature
	}
}

// Measured is one reading with its standard uncertainty (GUM: one standard
// deviation), both in the coherent SI unit of its kind: K, Pa absolute, m3/s,
// a fraction of 1.
type Measured struct {
	Value, Standard float64
	// Gauge tells that Value is a gauge's figure to which the site pressure
	// was added. All such readings share the error of the site pressure, which
	// Standard therefore leaves out.
	Gauge bool
}

// Uncertain is the reading without its origin.
func (m Measured) Uncertain() gum.Uncertain {
	return gum.Uncertain{Value: m.Value, Standard: m.Standard}
}

// ErrReading is wrapped by every error about a reading that cannot be one.
var ErrReading = errors.New("circuit: not a possible reading")

// ReadingError says which reading is at fault; Site is set where it is the
// site pressure.
type ReadingError struct {
	Reading Reading
	Site    bool
	Reason  string
}

func (e *ReadingError) Error() string {
	name := e.Reading.String()
	if e.Site {
		name = "site pressure"
	}
	return fmt.Sprintf("%v: %s %s", ErrReading, name, e.Reason)
}

// Unwrap makes errors.Is(err, ErrReading) hold.
func (e *ReadingError) Unwrap() error { return ErrReading }

func (m Measured) fault(kind unit.Kind) string {
	switch {
	case !(math.Abs(m.Value) <= math.MaxFloat64):
		return "is not a finite number"
	case !(m.Standard >= 0 && m.Standard <= math.MaxFloat64):
		return "has a standard uncertainty that is not a finite number from zero up"
	}
	switch kind {
	case unit.KindRatio:
		if !(m.Value >= 0 && m.Value <= 1) {
			return "lies outside 0 to 100 percent"
		}
	case unit.KindAirFlow:
		if !(m.Value >= 0) {
			return "is negative"
		}
	default:
		if !(m.Value > 0) {
			return "is not above absolute zero"
		}
	}
	return ""
}
