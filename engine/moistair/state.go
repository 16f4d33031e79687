package moistair

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// slack is the relative excess over saturation that rounding alone explains.
const slack = 1e-9

// State is moist air at one pressure: a perfect-gas mixture of dry air and
// water vapour after ASHRAE Handbook-Fundamentals (2017) ch. 1. Without the
// enhancement factor its humidity ratio at saturation lies about 0.5 % below
// real-gas tables near atmospheric pressure. The zero value is not a state.
type State struct {
	dry, p, w   float64 // degC, Pa, kg/kg
	vapor, full float64 // vapour pressure and its saturation value at dry, Pa
	wet         float64 // degC
	given       measure
	value       float64 // what the state was made from, in SI
}

type measure int

const (
	byWetBulb measure = iota
	byRelativeHumidity
	byDewPoint
	byHumidityRatio
)

// of is what the measure is called among the inputs.
func (m measure) of() Given {
	return [...]Given{byWetBulb: WetBulb, byRelativeHumidity: RelativeHumidity, byDewPoint: DewPoint, byHumidityRatio: HumidityRatio}[m]
}

// FromWetBulb makes the state of air from its thermodynamic wet bulb; at or
// above 0 degC the wick holds liquid water (eq. 33), below it ice (eq. 35). Its
// error is an *InputError, of ErrWetBulbAboveDryBulb, ErrWetBulbTooLow or
// ErrAboveBoiling where it is not of a range.
func FromWetBulb(p unit.Pressure, dry, wet unit.Temperature) (State, error) {
	return newState(p.Pascal(), dry.Kelvin(), byWetBulb, wet.Kelvin())
}

// FromRelativeHumidity makes the state of air from its relative humidity, over
// ice at or below 0.01 degC. Its error is an *InputError, of ErrRelativeHumidity,
// ErrAboveBoiling, ErrNoWetBulb or ErrNotConverged where it is not of a range.
func FromRelativeHumidity(p unit.Pressure, dry unit.Temperature, rh unit.Ratio) (State, error) {
	return newState(p.Pascal(), dry.Kelvin(), byRelativeHumidity, rh.Fraction())
}

// FromDewPoint makes the state of air from its dew point, which is a frost
// point at or below 0.01 degC. Its error is an *InputError, of
// ErrDewPointAboveDryBulb, ErrAboveBoiling, ErrNoWetBulb or ErrNotConverged where
// it is not of a range.
func FromDewPoint(p unit.Pressure, dry, dew unit.Temperature) (State, error) {
	return newState(p.Pascal(), dry.Kelvin(), byDewPoint, dew.Kelvin())
}

// FromHumidityRatio makes the state of air from its humidity ratio. Its error is
// an *InputError, of ErrHumidityRatio, ErrSupersaturated, ErrNoWetBulb or
// ErrNotConverged where it is not of a range.
func FromHumidityRatio(p unit.Pressure, dry unit.Temperature, w unit.HumidityRatio) (State, error) {
	return newState(p.Pascal(), dry.Kelvin(), byHumidityRatio, w.KilogramPerKilogram())
}

func newState(p, dryKelvin float64, given measure, value float64) (State, error) {
	s := State{dry: dryKelvin - celsiusZero, p: p, given: given, value: value}
	if err := outside(Pressure, p, pressures); err != nil {
		return State{}, err
	}
	if err := inRange(DryBulb, s.dry); err != nil {
		return State{}, err
	}
	s.full, _ = saturation(s.dry)
	solveWet := true
	switch given {
	case byWetBulb:
		s.wet = value - celsiusZero
		if err := s.takeWetBulb(); err != nil {
			return State{}, err
		}
		solveWet = false
	case byRelativeHumidity:
		if !(value >= 0 && value <= 1+slack) {
			return State{}, because(RelativeHumidity, fmt.Errorf("%w: %.6g percent", ErrRelativeHumidity, 100*value))
		}
		s.vapor = value * s.full
	case byDewPoint:
		dew := value - celsiusZero
		if err := inRange(DewPoint, dew); err != nil {
			return State{}, err
		}
		if !(dew <= s.dry) {
			return State{}, because(DewPoint, fmt.Errorf("%w: %.6g degC above %.6g degC", ErrDewPointAboveDryBulb, dew, s.dry))
		}
		s.vapor, _ = saturation(dew)
	case byHumidityRatio:
		if !(value >= 0) {
			return State{}, because(HumidityRatio, ErrHumidityRatio)
		}
		s.vapor = p * value / (massRatio + value)
		if !(s.vapor <= s.full*(1+slack)) {
			return State{}, because(HumidityRatio, fmt.Errorf("%w: %.6g kg/kg at %.6g degC", ErrSupersaturated, value, s.dry))
		}
	}
	if !(s.vapor < p) {
		return State{}, because(given.of(), fmt.Errorf("%w: %.6g of %.6g kPa", ErrAboveBoiling, s.vapor/1e3, p/1e3))
	}
	s.w = ratio(s.vapor, p)
	if solveWet {
		var err error
		if s.wet, err = wetBulb(s.dry, s.w, p); err != nil {
			return State{}, because(given.of(), err)
		}
	}
	return s, nil
}

// takeWetBulb finds the vapour pressure that goes with s.wet.
func (s *State) takeWetBulb() error {
	if err := inRange(WetBulb, s.wet); err != nil {
		return err
	}
	if !(s.wet <= s.dry) {
		return because(WetBulb, fmt.Errorf("%w: %.6g degC above %.6g degC", ErrWetBulbAboveDryBulb, s.wet, s.dry))
	}
	if vapor, _ := saturation(s.wet); !(vapor < s.p) {
		return because(WetBulb, fmt.Errorf("%w: a wet bulb of %.6g degC", ErrAboveBoiling, s.wet))
	}
	ice := s.wet < 0
	atZero, _ := balance(s.dry, 0, s.p, s.wet, ice)
	atOne, _ := balance(s.dry, 1, s.p, s.wet, ice)
	w := atZero / (atZero - atOne) // the balance is linear in w
	if w < 0 && w > -slack {
		w = 0 // perfectly dry air, but for rounding
	}
	if !(w >= 0) {
		return because(WetBulb, fmt.Errorf("%w: %.6g degC at a dry bulb of %.6g degC", ErrWetBulbTooLow, s.wet, s.dry))
	}
	s.vapor = s.p * w / (massRatio + w)
	return nil
}

// DryBulb is the temperature of the air.
func (s State) DryBulb() unit.Temperature { return unit.Celsius(s.dry) }

// Pressure is the total pressure.
func (s State) Pressure() unit.Pressure { return unit.Pascal(s.p) }

// WetBulb is the thermodynamic wet bulb, an ice bulb below 0 degC.
func (s State) WetBulb() unit.Temperature { return unit.Celsius(s.wet) }

// DewPoint is the dew point, a frost point at or below 0.01 degC. It returns
// ErrNoDewPoint where that would lie below -100 degC, as for dry air.
func (s State) DewPoint() (unit.Temperature, error) {
	c, err := saturatedAt(math.Min(s.vapor, s.full))
	if err != nil {
		return unit.Temperature{}, err
	}
	return unit.Celsius(math.Min(c, s.dry)), nil
}

// RelativeHumidity is the vapour pressure over its saturation value at the dry
// bulb, over ice at or below 0.01 degC.
func (s State) RelativeHumidity() unit.Ratio { return unit.Fraction(s.vapor / s.full) }

// HumidityRatio is the mass of water a mass of dry air, eq. 20.
func (s State) HumidityRatio() unit.HumidityRatio { return unit.KilogramPerKilogram(s.w) }

// VaporPressure is the partial pressure of the water.
func (s State) VaporPressure() unit.Pressure { return unit.Pascal(s.vapor) }

// Enthalpy is that of the air and its water a kilogram of dry air, zero for
// dry air and liquid water at 0 degC, eq. 30.
func (s State) Enthalpy() unit.SpecificEnergy {
	return unit.JoulePerKilogram(1000 * (1.006*s.dry + s.w*(2501+1.86*s.dry)))
}

// SpecificVolume is the volume a kilogram of dry air, eq. 26.
func (s State) SpecificVolume() unit.SpecificVolume {
	return unit.CubicMetrePerKilogram(dryAirGas * (s.dry + celsiusZero) * (1 + 1.607858*s.w) / s.p)
}

// Density is the mass of the moist air over its volume.
func (s State) Density() unit.Density {
	return unit.KilogramPerCubicMetre((1 + s.w) / s.SpecificVolume().CubicMetrePerKilogram())
}

// DegreeOfSaturation is the humidity ratio over that of saturated air at the
// same dry bulb and pressure. Above the boiling point, where no saturated air
// exists, it is ErrAboveBoiling.
func (s State) DegreeOfSaturation() (unit.Ratio, error) {
	if !(s.full < s.p) {
		return unit.Ratio{}, ErrAboveBoiling
	}
	return unit.Fraction(s.w / ratio(s.full, s.p)), nil
}

// Slopes are the partial derivatives of one quantity with respect to the three
// numbers its state was made from, all in coherent SI units.
type Slopes struct {
	DryBulb  float64 // a kelvin
	Humidity float64 // a kelvin of wet bulb or dew point, or a unit (100 percent, kg/kg) of the ratios
	Pressure float64 // a pascal
}

// Carry is the quantity with its value as an estimate, given how dry bulb,
// humidity and pressure hang on the inputs of the caller's calculation.
func (g Slopes) Carry(value float64, dryBulb, humidity, pressure gum.Gradient) gum.Estimate {
	return gum.Estimate{Value: value, Gradient: dryBulb.Times(g.DryBulb).Plus(humidity.Times(g.Humidity)).Plus(pressure.Times(g.Pressure))}
}

// Slopes differentiates a quantity of the state with respect to what the
// state was made from, by differences, one-sided at the edges of the domain
// and beside the jump between ice bulb and water bulb. It returns the error of
// of, or of a state that has no neighbour on either side.
func (s State) Slopes(of func(State) (float64, error)) (Slopes, error) {
	centre, err := of(s)
	if err != nil {
		return Slopes{}, err
	}
	humidityStep := 1e-3
	switch s.given {
	case byRelativeHumidity:
		humidityStep = 1e-5
	case byHumidityRatio:
		humidityStep = 1e-7
	}
	var g Slopes
	for _, axis := range []struct {
		into          *float64
		dt, dv, dp, h float64
	}{
		{&g.DryBulb, 1e-3, 0, 0, 1e-3},
		{&g.Humidity, 0, humidityStep, 0, humidityStep},
		{&g.Pressure, 0, 0, 1e-5 * s.p, 1e-5 * s.p},
	} {
		side := func(sign float64) (float64, error) {
			n, err := newState(s.p+sign*axis.dp, s.dry+celsiusZero+sign*axis.dt, s.given, s.value+sign*axis.dv)
			if err != nil {
				return 0, err
			}
			v, err := of(n)
			return sign * (v - centre) / axis.h, err
		}
		up, errUp := side(1)
		down, errDown := side(-1)
		switch {
		case errUp != nil && errDown != nil:
			return Slopes{}, errDown
		case errUp != nil:
			*axis.into = down
		case errDown != nil:
			*axis.into = up
		case math.Abs(up-down) <= 0.1*math.Abs(up+down):
			*axis.into = (up + down) / 2
		case math.Abs(up) < math.Abs(down): // the step lies on the other side
			*axis.into = up
		default:
			*axis.into = down
		}
	}
	return g, nil
}
