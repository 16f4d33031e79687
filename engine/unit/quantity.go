// Package unit holds the quantities that cross package boundaries: opaque
// values in which absolute, gauge and difference are types of their own. It
// knows spellings and conversion factors and must not know any physics beyond
// the definition of a unit.
package unit

import (
	"errors"
	"fmt"
)

// Temperature is an absolute temperature; the zero value means "not given".
type Temperature struct{ k float64 }

// Kelvin makes a Temperature from kelvins.
func Kelvin(t float64) Temperature { return Temperature{t} }

// Celsius makes a Temperature from degrees Celsius.
func Celsius(t float64) Temperature { return Temperature{t + 273.15} }

// Fahrenheit makes a Temperature from degrees Fahrenheit.
func Fahrenheit(t float64) Temperature { return Temperature{(t + 459.67) * 5 / 9} }

// Kelvin gives the temperature in kelvins.
func (t Temperature) Kelvin() float64 { return t.k }

// Celsius gives the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return t.k - 273.15 }

// Fahrenheit gives the temperature in degrees Fahrenheit.
func (t Temperature) Fahrenheit() float64 { return t.k*9/5 - 459.67 }

// IsZero reports whether the temperature was never given.
func (t Temperature) IsZero() bool { return t.k == 0 }

// Sub is the difference t - u.
func (t Temperature) Sub(u Temperature) TemperatureDiff { return TemperatureDiff{t.k - u.k} }

// Add moves t by a difference.
func (t Temperature) Add(d TemperatureDiff) Temperature { return Temperature{t.k + d.k} }

// TemperatureDiff is a difference of two temperatures (superheat, subcooling,
// glide, a tolerance).
type TemperatureDiff struct{ k float64 }

// KelvinDiff makes a difference from kelvins.
func KelvinDiff(d float64) TemperatureDiff { return TemperatureDiff{d} }

// FahrenheitDiff makes a difference from Fahrenheit degrees.
func FahrenheitDiff(d float64) TemperatureDiff { return TemperatureDiff{d * 5 / 9} }

// Kelvin gives the difference in kelvins.
func (d TemperatureDiff) Kelvin() float64 { return d.k }

// Fahrenheit gives the difference in Fahrenheit degrees.
func (d TemperatureDiff) Fahrenheit() float64 { return d.k * 9 / 5 }

// Pressure is an absolute pressure; the zero value means "not given".
type Pressure struct{ pa float64 }

// StandardAtmosphere is 101.325 kPa, the atmosphere at sea level of the
// International Standard Atmosphere (ISO 2533:1975).
func StandardAtmosphere() Pressure { return Pressure{101325} }

// Pascal makes an absolute pressure from pascals.
func Pascal(p float64) Pressure { return Pressure{p} }

// PSIA makes an absolute pressure from pounds-force a square inch.
func PSIA(p float64) Pressure { return Pressure{p * psi} }

// Pascal gives the absolute pressure in pascals.
func (p Pressure) Pascal() float64 { return p.pa }

// PSIA gives the absolute pressure in pounds-force a square inch.
func (p Pressure) PSIA() float64 { return p.pa / psi }

// IsZero reports whether the pressure was never given.
func (p Pressure) IsZero() bool { return p.pa == 0 }

// Gauge is what a gauge with its zero at the given atmosphere shows for p.
func (p Pressure) Gauge(atmosphere Pressure) GaugePressure {
	return GaugePressure{p.pa - atmosphere.pa}
}

// ErrBelowVacuum reports a gauge pressure that lies below a perfect vacuum
// under the given atmosphere.
var ErrBelowVacuum = errors.New("unit: gauge pressure at or below a perfect vacuum")

// GaugePressure is a pressure above (or, negative, below) the atmosphere.
type GaugePressure struct{ pa float64 }

// PascalGauge makes a gauge pressure from pascals.
func PascalGauge(p float64) GaugePressure { return GaugePressure{p} }

// PSIG makes a gauge pressure from pounds-force a square inch.
func PSIG(p float64) GaugePressure { return GaugePressure{p * psi} }

// Pascal gives the gauge pressure in pascals.
func (g GaugePressure) Pascal() float64 { return g.pa }

// PSIG gives the gauge pressure in pounds-force a square inch.
func (g GaugePressure) PSIG() float64 { return g.pa / psi }

// Absolute adds the atmosphere at which the gauge shows zero. It returns
// ErrBelowVacuum unless the sum is positive.
func (g GaugePressure) Absolute(atmosphere Pressure) (Pressure, error) {
	p := g.pa + atmosphere.pa
	if !(p > 0) {
		return Pressure{}, fmt.Errorf("%w: %.6g kPa gauge under an atmosphere of %.6g kPa", ErrBelowVacuum, g.pa/1e3, atmosphere.pa/1e3)
	}
	return Pressure{p}, nil
}

// Density is mass over volume.
type Density struct{ kgm3 float64 }

// KilogramPerCubicMetre makes a Density.
func KilogramPerCubicMetre(d float64) Density { return Density{d} }

// KilogramPerCubicMetre gives the density in kg/m3.
func (d Density) KilogramPerCubicMetre() float64 { return d.kgm3 }

// SpecificEnergy is energy over mass; where it is an enthalpy its zero is
// said beside it.
type SpecificEnergy struct{ jkg float64 }

// JoulePerKilogram makes a SpecificEnergy.
func JoulePerKilogram(h float64) SpecificEnergy { return SpecificEnergy{h} }

// JoulePerKilogram gives the energy in J/kg.
func (h SpecificEnergy) JoulePerKilogram() float64 { return h.jkg }

// Length is a length, or a height above sea level.
type Length struct{ m float64 }

// Metre makes a Length from metres.
func Metre(l float64) Length { return Length{l} }

// Foot makes a Length from feet.
func Foot(l float64) Length { return Length{l * foot} }

// Metre gives the length in metres.
func (l Length) Metre() float64 { return l.m }

// HumidityRatio is mass of water over mass of dry air.
type HumidityRatio struct{ w float64 }

// KilogramPerKilogram makes a HumidityRatio.
func KilogramPerKilogram(w float64) HumidityRatio { return HumidityRatio{w} }

// KilogramPerKilogram gives the ratio in kg of water a kg of dry air.
func (w HumidityRatio) KilogramPerKilogram() float64 { return w.w }

// Ratio is a number without dimension: a fraction of 1.
type Ratio struct{ f float64 }

// Fraction makes a Ratio; Fraction(0.5) is 50 percent.
func Fraction(f float64) Ratio { return Ratio{f} }

// Fraction gives the ratio as a fraction of 1.
func (r Ratio) Fraction() float64 { return r.f }

// Mass is a mass.
type Mass struct{ kg float64 }

// Kilogram makes a Mass from kilograms.
func Kilogram(v float64) Mass { return Mass{v} }

// Kilogram gives the value in kilograms.
func (q Mass) Kilogram() float64 { return q.kg }

// Duration is a span of time.
type Duration struct{ s float64 }

// Second makes a Duration from seconds.
func Second(v float64) Duration { return Duration{v} }

// Second gives the value in seconds.
func (q Duration) Second() float64 { return q.s }

// Power is a rate of heat or work.
type Power struct{ w float64 }

// Watt makes a Power from watts.
func Watt(v float64) Power { return Power{v} }

// Watt gives the value in watts.
func (q Power) Watt() float64 { return q.w }

// SpecificVolume is volume over mass; for moist air, over the mass of dry air in it.
type SpecificVolume struct{ m3kg float64 }

// CubicMetrePerKilogram makes a SpecificVolume from m3/kg.
func CubicMetrePerKilogram(v float64) SpecificVolume { return SpecificVolume{v} }

// CubicMetrePerKilogram gives the value in m3/kg.
func (q SpecificVolume) CubicMetrePerKilogram() float64 { return q.m3kg }
