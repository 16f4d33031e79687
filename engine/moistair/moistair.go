// Package moistair is psychrometrics: the state of humid air at a pressure,
// made from dry bulb and one measure of humidity. It must not know where the
// readings come from or what an air conditioner does with the air.
package moistair

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/numeric"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Why a state cannot be made, or has no such property.
var (
	// ErrWetBulbAboveDryBulb reports a wet bulb warmer than the dry bulb.
	ErrWetBulbAboveDryBulb = errors.New("moistair: wet bulb above dry bulb")
	// ErrWetBulbTooLow reports a wet bulb lower than that of perfectly dry air.
	ErrWetBulbTooLow = errors.New("moistair: wet bulb below that of dry air")
	// ErrDewPointAboveDryBulb reports a dew point warmer than the dry bulb.
	ErrDewPointAboveDryBulb = errors.New("moistair: dew point above dry bulb")
	// ErrRelativeHumidity reports a relative humidity outside 0 to 100 percent.
	ErrRelativeHumidity = errors.New("moistair: relative humidity outside 0 to 100 percent")
	// ErrHumidityRatio reports a negative humidity ratio.
	ErrHumidityRatio = errors.New("moistair: humidity ratio below zero")
	// ErrSupersaturated reports more water than the air can hold as vapour.
	ErrSupersaturated = errors.New("moistair: more water than saturated air holds")
	// ErrAboveBoiling reports a vapour pressure that is not below the total pressure.
	ErrAboveBoiling = errors.New("moistair: vapour pressure not below the total pressure")
	// ErrNoDewPoint reports air so dry that its frost point lies below -100 degC.
	ErrNoDewPoint = errors.New("moistair: too dry for a dew point above -100 degC")
	// ErrNoWetBulb reports air so cold that its wet bulb lies below -100 degC.
	ErrNoWetBulb = errors.New("moistair: wet bulb below -100 degC")
	// ErrNotConverged reports a search that ran out of steps.
	ErrNotConverged = errors.New("moistair: not converged")
)

// Given names what this package is told.
type Given int

// What air is made from.
const (
	DryBulb Given = iota
	WetBulb
	RelativeHumidity
	DewPoint
	HumidityRatio
	Pressure
	Altitude
	givenCount
)

// String is what it is called in an error.
func (g Given) String() string {
	if g < 0 || g >= givenCount {
		return fmt.Sprintf("moistair.Given(%d)", int(g))
	}
	return [givenCount]string{"dry bulb", "wet bulb", "relative humidity", "dew point", "humidity ratio", "pressure", "altitude"}[g]
}

// AllGiven lists all that this package is told.
func AllGiven() []Given {
	return []Given{DryBulb, WetBulb, RelativeHumidity, DewPoint, HumidityRatio, Pressure, Altitude}
}

// InputError says which input is at fault: outside the range of the correlation
// used, or, with one of the errors above inside, not possible with the others.
type InputError = input.Error[Given]

func because(of Given, err error) error {
	return &InputError{Input: of, Index: -1, Reason: input.Unsolved, Err: err}
}

func outside(of Given, v float64, l input.Limits) error {
	if l.Hold(v) {
		return nil
	}
	return &InputError{Input: of, Index: -1, Reason: input.OutOfRange, Limits: l}
}

// Ranges of the correlations.
var (
	altitudes    = input.Limits{Kind: unit.KindLength, Min: -5000, Max: 11000}
	temperatures = input.Limits{Kind: unit.KindTemperature, Min: coldest + celsiusZero, Max: hottest + celsiusZero}
	pressures    = input.Limits{Kind: unit.KindPressure, Max: 10e6, Above: true}
)

// The kernel works in degC, Pa, kJ and kg of dry air, as the handbook prints
// its equations.
const (
	celsiusZero = 273.15
	coldest     = -100. // least temperature of eq. 5
	hottest     = 200.  // greatest temperature of eq. 6
	triple      = 0.01  // ice below, liquid water above
	massRatio   = 0.621945
	dryAirGas   = 287.042 // J/(kg K)

	tolerance = 1e-11 // of a temperature, in kelvins, times 1 + |degC|
)

// StandardPressure is the pressure of the standard atmosphere at an altitude
// of -5000 to 11000 m: ASHRAE Handbook-Fundamentals (2017) ch. 1 eq. 3. It
// returns *InputError outside.
func StandardPressure(altitude unit.Length) (unit.Pressure, error) {
	z := altitude.Metre()
	if err := outside(Altitude, z, altitudes); err != nil {
		return unit.Pressure{}, err
	}
	return unit.Pascal(101325 * math.Pow(1-2.25577e-5*z, 5.2559)), nil
}

// SaturationPressure is the pressure of water vapour in equilibrium with ice
// (at or below 0.01 degC) or liquid water, from -100 to 200 degC: ASHRAE
// Handbook-Fundamentals (2017) ch. 1 eqs. 5 and 6. It returns *InputError
// outside.
func SaturationPressure(t unit.Temperature) (unit.Pressure, error) {
	c := t.Celsius()
	if err := inRange(DryBulb, c); err != nil {
		return unit.Pressure{}, err
	}
	p, _ := saturation(c)
	return unit.Pascal(p), nil
}

// inRange asks for a temperature (degC) of the correlations.
func inRange(of Given, c float64) error {
	if c >= coldest && c <= hottest {
		return nil
	}
	return &InputError{Input: of, Index: -1, Reason: input.OutOfRange, Limits: temperatures}
}

// saturation gives the pressure in Pa over ice or water and its derivative in
// Pa/K.
func saturation(c float64) (p, slope float64) {
	if c <= triple {
		return overIce(c)
	}
	return overWater(c)
}

func overIce(c float64) (p, slope float64) {
	t := c + celsiusZero
	p = math.Exp(-5.6745359e3/t + 6.3925247 + t*(-9.6778430e-3+t*(6.2215701e-7+t*(2.0747825e-9-t*9.4840240e-13))) + 4.1635019*math.Log(t))
	return p, p * (5.6745359e3/(t*t) - 9.6778430e-3 + t*(2*6.2215701e-7+t*(3*2.0747825e-9-t*4*9.4840240e-13)) + 4.1635019/t)
}

func overWater(c float64) (p, slope float64) {
	t := c + celsiusZero
	p = math.Exp(-5.8002206e3/t + 1.3914993 + t*(-4.8640239e-2+t*(4.1764768e-5-t*1.4452093e-8)) + 6.5459673*math.Log(t))
	return p, p * (5.8002206e3/(t*t) - 4.8640239e-2 + t*(2*4.1764768e-5-t*3*1.4452093e-8) + 6.5459673/t)
}

// ratio is the humidity ratio at a vapour pressure, eq. 20.
func ratio(vapor, p float64) float64 { return massRatio * vapor / (p - vapor) }

// balance is the adiabatic-saturation balance of eqs. 33 (liquid on the wick)
// and 35 (ice on the wick) in kJ per kg of dry air, positive where wet is too
// warm a wet bulb for air of humidity ratio w, with its slope in wet.
func balance(dry, w, p, wet float64, ice bool) (g, slope float64) {
	vapor, dv := saturation(wet)
	ws := ratio(vapor, p)
	dws := ws * dv / vapor * p / (p - vapor)
	latent, dLatent, condensed := 2501., -2.326, 4.186
	if ice {
		latent, dLatent, condensed = 2830, -0.24, 2.1
	}
	l := latent + dLatent*wet
	g = l*ws - 1.006*(dry-wet) - w*(latent+1.86*dry-condensed*wet)
	return g, dLatent*ws + l*dws + 1.006 + condensed*w
}

// wetBulb solves the balance for the wet bulb. Just around 0 degC some air has
// both an ice bulb and a water bulb, some tenths apart, because melting takes
// heat: the ice bulb is given, the phase that lasts there.
func wetBulb(dry, w, p float64) (float64, error) {
	top := dry
	if vapor, _ := saturation(dry); !(vapor < p) {
		boil, err := saturatedAt(p)
		if err != nil {
			return 0, err
		}
		top = boil - tolerance*(1+boil)
	}
	if hi := math.Min(top, 0); top <= 0 || above(dry, w, p, hi) {
		if !above(dry, w, p, coldest) {
			return root(coldest, hi, func(t float64) (float64, float64) { return balance(dry, w, p, t, true) })
		}
		return 0, ErrNoWetBulb
	}
	return root(0, top, func(t float64) (float64, float64) { return balance(dry, w, p, t, false) })
}

// above tells whether an ice bulb at t would be too warm for the air.
func above(dry, w, p, t float64) bool {
	g, _ := balance(dry, w, p, t, true)
	return g > 0
}

// saturatedAt inverts the saturation pressure: dew point above 0.01 degC,
// frost point below, boiling point where vapor is the total pressure.
func saturatedAt(vapor float64) (float64, error) {
	least, _ := overIce(coldest)
	most, _ := overWater(hottest)
	switch {
	case !(vapor >= least):
		return 0, ErrNoDewPoint
	case !(vapor <= most):
		return 0, fmt.Errorf("%w: no saturation temperature below 200 degC at %.6g kPa", ErrAboveBoiling, vapor/1e3)
	}
	branch, lo, hi := overIce, coldest, triple
	if melting, _ := overWater(triple); vapor >= melting {
		branch, lo, hi = overWater, triple, hottest
	}
	return root(lo, hi, func(t float64) (float64, float64) {
		p, slope := branch(t)
		return math.Log(p / vapor), slope / p
	})
}

// root finds the zero of a rising function from the upper end of its bracket.
func root(lo, hi float64, f func(float64) (g, slope float64)) (float64, error) {
	x, err := numeric.RisingRoot(f, lo, hi, hi, tolerance)
	if err != nil {
		return 0, fmt.Errorf("%w: %w", ErrNotConverged, err)
	}
	return x, nil
}
