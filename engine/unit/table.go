package unit

import (
	"math"
	"slices"
)

// Kind says what a unit measures. Two units convert into each other only
// inside one kind: an absolute pressure is not a gauge pressure, a temperature
// is not a difference of temperatures.
type Kind string

// The kinds of quantity that the wire knows.
const (
	KindTemperature     Kind = "temperature"
	KindTemperatureDiff Kind = "temperature_difference"
	KindPressure        Kind = "absolute_pressure"
	KindGaugePressure   Kind = "gauge_pressure"
	KindLength          Kind = "length"
	KindMass            Kind = "mass"
	KindVolume          Kind = "volume"
	KindTime            Kind = "time"
	KindAirFlow         Kind = "air_flow"
	KindPower           Kind = "power"
	KindDensity         Kind = "density"
	KindSpecificVolume  Kind = "specific_volume"
	KindSpecificEnergy  Kind = "specific_energy"
	KindSpecificEntropy Kind = "specific_entropy"
	KindHumidityRatio   Kind = "humidity_ratio"
	KindRatio           Kind = "ratio"
	KindMassPerLength   Kind = "mass_per_length"
	// KindPressureDiff is a difference of two pressures: a drop, a rise, a
	// tolerance, or the static pressure of air in a duct over that around it.
	KindPressureDiff Kind = "pressure_difference"
	KindArea         Kind = "area"
	// KindLeakRate is mass of refrigerant over time.
	KindLeakRate Kind = "leak_rate"
	// KindThroughput is pressure times volume of gas over time, as a vacuum
	// gauge sees a leak.
	KindThroughput Kind = "gas_throughput"
	KindRiseRate   Kind = "pressure_rise_rate"
)

// Unit is one spelling on the wire: SI value = (value + Offset) * Factor, in
// the coherent SI unit of the kind (K, Pa, m, kg, m3, s, m3/s, W, kg/m3,
// m3/kg, J/kg, J/(kg K), kg/kg, kg/m, m2, kg/s, Pa m3/s, Pa/s, 1).
type Unit struct {
	Name   string
	Kind   Kind
	Factor float64
	Offset float64
	// UCUM is the code of the Unified Code for Units of Measure, empty where
	// it has none (gauge pressures, differences of temperature, tons).
	UCUM string
	// Note says what the name alone does not.
	Note string
}

// Conversion factors. All but mercury's are exact by definition (NIST SP 811
// (2008), appendix B.8); conventional mercury is 133.322387415 Pa a millimetre
// at 0 degC (ISO 80000-4:2019 annex).
const (
	inch      = 0.0254
	foot      = 0.3048
	pound     = 0.45359237
	poundPerG = 7000 // grains in a pound
	psi       = pound * 9.80665 / (inch * inch)
	mmHg      = 133.322387415
	inHg      = 25.4 * mmHg
	btu       = 1055.05585262 // International Table
	ton       = 12000 * btu / 3600
	inH2O     = 249.0889         // conventional water, NIST SP 811 (2008), appendix B.8
	year      = 365.25 * 86400.0 // the Julian year, as UCUM has it
)

var table = []Unit{
	{Name: "degF", Kind: KindTemperature, Factor: 5. / 9., Offset: 459.67, UCUM: "[degF]"},
	{Name: "degC", Kind: KindTemperature, Factor: 1, Offset: 273.15, UCUM: "Cel"},
	{Name: "K", Kind: KindTemperature, Factor: 1, UCUM: "K"},

	{Name: "delta_degF", Kind: KindTemperatureDiff, Factor: 5. / 9.},
	{Name: "delta_degC", Kind: KindTemperatureDiff, Factor: 1},
	{Name: "delta_K", Kind: KindTemperatureDiff, Factor: 1},

	{Name: "psig", Kind: KindGaugePressure, Factor: psi},
	{Name: "psia", Kind: KindPressure, Factor: psi, UCUM: "[psi]"},
	{Name: "inHgv", Kind: KindGaugePressure, Factor: -inHg, Note: "depth of vacuum below the local atmosphere, positive"},
	{Name: "inHga", Kind: KindPressure, Factor: inHg, UCUM: "[in_i'Hg]"},
	{Name: "kPag", Kind: KindGaugePressure, Factor: 1e3},
	{Name: "kPaa", Kind: KindPressure, Factor: 1e3, UCUM: "kPa"},
	{Name: "Paa", Kind: KindPressure, Factor: 1, UCUM: "Pa"},
	{Name: "hPaa", Kind: KindPressure, Factor: 100, UCUM: "hPa"},
	{Name: "hPa", Kind: KindPressure, Factor: 100, UCUM: "hPa", Note: "absolute, as barometers give it"},
	{Name: "barg", Kind: KindGaugePressure, Factor: 1e5},
	{Name: "bara", Kind: KindPressure, Factor: 1e5, UCUM: "bar"},
	{Name: "MPag", Kind: KindGaugePressure, Factor: 1e6},
	{Name: "MPaa", Kind: KindPressure, Factor: 1e6, UCUM: "MPa"},
	{Name: "micron", Kind: KindPressure, Factor: mmHg / 1000, UCUM: "um[Hg]", Note: "absolute, thousandths of a millimetre of mercury"},

	{Name: "delta_psi", Kind: KindPressureDiff, Factor: psi},
	{Name: "delta_kPa", Kind: KindPressureDiff, Factor: 1e3},
	{Name: "inH2O", Kind: KindPressureDiff, Factor: inH2O, UCUM: "[in_i'H2O]", Note: "static pressure of air in a duct over that around it"},
	{Name: "Pa", Kind: KindPressureDiff, Factor: 1, UCUM: "Pa", Note: "a difference, such as static pressure; Paa is absolute"},

	{Name: "ft", Kind: KindLength, Factor: foot, UCUM: "[ft_i]"},
	{Name: "in", Kind: KindLength, Factor: inch, UCUM: "[in_i]"},
	{Name: "m", Kind: KindLength, Factor: 1, UCUM: "m"},
	{Name: "mm", Kind: KindLength, Factor: 1e-3, UCUM: "mm"},

	{Name: "lb", Kind: KindMass, Factor: pound, UCUM: "[lb_av]"},
	{Name: "oz", Kind: KindMass, Factor: pound / 16, UCUM: "[oz_av]"},
	{Name: "kg", Kind: KindMass, Factor: 1, UCUM: "kg"},
	{Name: "g", Kind: KindMass, Factor: 1e-3, UCUM: "g"},

	{Name: "ft3", Kind: KindVolume, Factor: foot * foot * foot, UCUM: "[cft_i]"},
	{Name: "in3", Kind: KindVolume, Factor: inch * inch * inch, UCUM: "[cin_i]"},
	{Name: "L", Kind: KindVolume, Factor: 1e-3, UCUM: "L"},
	{Name: "mL", Kind: KindVolume, Factor: 1e-6, UCUM: "mL"},

	{Name: "ft2", Kind: KindArea, Factor: foot * foot, UCUM: "[sft_i]"},
	{Name: "m2", Kind: KindArea, Factor: 1, UCUM: "m2"},

	{Name: "h", Kind: KindTime, Factor: 3600, UCUM: "h"},
	{Name: "min", Kind: KindTime, Factor: 60, UCUM: "min"},
	{Name: "s", Kind: KindTime, Factor: 1, UCUM: "s"},

	{Name: "cfm", Kind: KindAirFlow, Factor: foot * foot * foot / 60, UCUM: "[cft_i]/min"},
	{Name: "m3/h", Kind: KindAirFlow, Factor: 1. / 3600, UCUM: "m3/h"},

	{Name: "Btu/h", Kind: KindPower, Factor: btu / 3600, UCUM: "[Btu_IT]/h"},
	{Name: "ton", Kind: KindPower, Factor: ton, Note: "ton of refrigeration, 12000 Btu/h"},
	{Name: "kW", Kind: KindPower, Factor: 1e3, UCUM: "kW"},

	{Name: "lb/ft3", Kind: KindDensity, Factor: pound / (foot * foot * foot), UCUM: "[lb_av]/[cft_i]"},
	{Name: "kg/m3", Kind: KindDensity, Factor: 1, UCUM: "kg/m3"},

	{Name: "ft3/lb", Kind: KindSpecificVolume, Factor: foot * foot * foot / pound, UCUM: "[cft_i]/[lb_av]"},
	{Name: "m3/kg", Kind: KindSpecificVolume, Factor: 1, UCUM: "m3/kg"},

	{Name: "Btu/lb", Kind: KindSpecificEnergy, Factor: 2326, UCUM: "[Btu_IT]/[lb_av]"},
	{Name: "kJ/kg", Kind: KindSpecificEnergy, Factor: 1e3, UCUM: "kJ/kg"},

	{Name: "Btu/(lb.degF)", Kind: KindSpecificEntropy, Factor: 4186.8},
	{Name: "kJ/(kg.K)", Kind: KindSpecificEntropy, Factor: 1e3, UCUM: "kJ/(kg.K)"},

	{Name: "gr/lb", Kind: KindHumidityRatio, Factor: 1. / poundPerG, UCUM: "[gr]/[lb_av]", Note: "grains of water a pound of dry air"},
	{Name: "g/kg", Kind: KindHumidityRatio, Factor: 1e-3, UCUM: "g/kg", Note: "grams of water a kilogram of dry air"},

	{Name: "oz/ft", Kind: KindMassPerLength, Factor: pound / 16 / foot, UCUM: "[oz_av]/[ft_i]"},
	{Name: "g/m", Kind: KindMassPerLength, Factor: 1e-3, UCUM: "g/m"},

	{Name: "oz/yr", Kind: KindLeakRate, Factor: pound / 16 / year, UCUM: "[oz_av]/a"},
	{Name: "g/yr", Kind: KindLeakRate, Factor: 1e-3 / year, UCUM: "g/a"},

	{Name: "micron.L/s", Kind: KindThroughput, Factor: mmHg / 1000 * 1e-3, UCUM: "um[Hg].L/s"},

	{Name: "micron/min", Kind: KindRiseRate, Factor: mmHg / 1000 / 60, UCUM: "um[Hg]/min"},

	{Name: "percent", Kind: KindRatio, Factor: 0.01, UCUM: "%"},
	{Name: "fraction", Kind: KindRatio, Factor: 1, UCUM: "1"},
	{Name: "ppm", Kind: KindRatio, Factor: 1e-6, UCUM: "[ppm]", Note: "parts per million; of volume where it is gas in air"},
}

var byName = func() map[string]Unit {
	m := make(map[string]Unit, len(table))
	for _, u := range table {
		m[u.Name] = u
	}
	return m
}()

// All lists every unit of the wire, grouped by kind.
func All() []Unit { return slices.Clone(table) }

// Lookup finds a unit by its exact spelling.
func Lookup(name string) (Unit, bool) {
	u, ok := byName[name]
	return u, ok
}

// ToSI converts a value in u to the coherent SI unit of its kind.
func (u Unit) ToSI(value float64) float64 { return (value + u.Offset) * u.Factor }

// FromSI is the inverse of ToSI.
func (u Unit) FromSI(si float64) float64 { return si/u.Factor - u.Offset }

// SpanToSI converts a width (an accuracy, an uncertainty) given in u: offsets
// and signs drop out.
func (u Unit) SpanToSI(width float64) float64 { return width * math.Abs(u.Factor) }

// SpanFromSI is the inverse of SpanToSI.
func (u Unit) SpanFromSI(si float64) float64 { return si / math.Abs(u.Factor) }
