package moistair

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Weather is the standard deviation in Pa of the air's pressure about that of
// the standard atmosphere: what is not known of it where nobody measured it.
func Weather() float64 { return figure.SI(figure.Allowance("weather")) }

// Barometer is the standard uncertainty in Pa of a pressure of the air that was
// given without an accuracy.
func Barometer() float64 { return figure.SI(figure.Allowance("barometer")) }

// Agree tells whether a measured pressure of the air may be that at an altitude
// where the standard atmosphere has a pressure, whatever the weather. A sea-level
// figure of a weather report does not, some hundred metres up.
func Agree(measured, standard unit.Pressure) bool {
	return math.Abs(measured.Pascal()-standard.Pascal()) <= figure.SI(figure.Allowance("altitude_disagreement"))
}
