package query

import (
	"math"
	"strconv"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Measure is a value that an answer gives.
type Measure struct {
	// Value in the unit named beside it.
	Value float64 `json:"value" example:"40.1"`
	// Unit as GET /v1/units spells it.
	Unit string `json:"unit" example:"degF"`
	// Uncertainty is the half-width of the 95 % interval, in the same unit as a difference.
	Uncertainty *float64 `json:"uncertainty,omitempty" example:"1.4"`
} //@name Measure

// Presentation says how an answer is to be given; it never changes what is
// computed.
type Presentation struct {
	// Units is "ip" (the default) or "si".
	Units string
	// Explain adds the working, step by step, rounded as read aloud.
	Explain bool
}

func (p Presentation) si() bool { return p.Units == "si" }

// The unit in which each kind is answered, inch-pound and SI.
var answerUnits = map[unit.Kind][2]string{
	unit.KindTemperature:     {"degF", "degC"},
	unit.KindTemperatureDiff: {"delta_degF", "delta_K"},
	unit.KindPressure:        {"psia", "kPaa"},
	unit.KindGaugePressure:   {"psig", "kPag"},
	unit.KindLength:          {"ft", "m"},
	unit.KindMass:            {"lb", "kg"},
	unit.KindVolume:          {"ft3", "L"},
	unit.KindTime:            {"min", "min"},
	unit.KindAirFlow:         {"cfm", "m3/h"},
	unit.KindPower:           {"Btu/h", "kW"},
	unit.KindDensity:         {"lb/ft3", "kg/m3"},
	unit.KindSpecificVolume:  {"ft3/lb", "m3/kg"},
	unit.KindSpecificEnergy:  {"Btu/lb", "kJ/kg"},
	unit.KindSpecificEntropy: {"Btu/(lb.degF)", "kJ/(kg.K)"},
	unit.KindHumidityRatio:   {"gr/lb", "g/kg"},
	unit.KindRatio:           {"percent", "percent"},
	unit.KindMassPerLength:   {"oz/ft", "g/m"},
	unit.KindPressureDiff:    {"delta_psi", "delta_kPa"},
	unit.KindArea:            {"ft2", "m2"},
	unit.KindLeakRate:        {"oz/yr", "g/yr"},
	unit.KindThroughput:      {"micron.L/s", "micron.L/s"},
	unit.KindRiseRate:        {"micron/min", "micron/min"},
}

// Units for amounts such as a hose holds.
var smallUnits = map[unit.Kind][2]string{
	unit.KindMass:   {"oz", "g"},
	unit.KindVolume: {"in3", "mL"},
}

// measure writes an SI value in the unit of the presentation: temperatures
// and differences to 0.0001, everything else to nine significant digits.
func (p Presentation) measure(kind unit.Kind, si float64) Measure {
	return p.measureIn(answerUnits[kind], kind, si)
}

// pointer is measure for what may be absent.
func (p Presentation) pointer(kind unit.Kind, si float64) *Measure {
	m := p.measure(kind, si)
	return &m
}

// small is measure in units for small amounts.
func (p Presentation) small(kind unit.Kind, si float64) Measure {
	return p.measureIn(smallUnits[kind], kind, si)
}

func (p Presentation) measureIn(units [2]string, kind unit.Kind, si float64) Measure {
	i := 0
	if p.si() {
		i = 1
	}
	u, _ := unit.Lookup(units[i])
	v := u.FromSI(si)
	if kind == unit.KindTemperature || kind == unit.KindTemperatureDiff {
		v = math.Round(v*1e4) / 1e4
	} else {
		v = significant(v, 9)
	}
	return Measure{Value: v + 0, Unit: u.Name} // no negative zero
}

// measureWithin adds the half-width of the 95 % interval, in SI, to two
// significant digits more than one would say.
func (p Presentation) measureWithin(kind unit.Kind, si, halfWidth float64) Measure {
	return within95(p.measure(kind, si), halfWidth)
}

// said is a value as texts take it: in the unit of the presentation, with the
// half-width of its 95 % interval in SI, 0 where it has none.
func (p Presentation) said(kind unit.Kind, si, halfWidth float64) phrase.Quantity {
	return saidWithin(p.measure(kind, si), halfWidth)
}

func saidWithin(m Measure, halfWidth float64) phrase.Quantity {
	if halfWidth > 0 {
		m = within95(m, halfWidth)
	}
	return phrase.Quantity(m)
}

// within95 adds a half-width in SI to a measure.
func within95(m Measure, halfWidth float64) Measure {
	u, _ := unit.Lookup(m.Unit)
	w := significant(u.SpanFromSI(halfWidth), 3)
	m.Uncertainty = &w
	return m
}

func significant(v float64, digits int) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, float64(digits-1)-math.Floor(math.Log10(math.Abs(v))))
	if !(scale > 1e-22 && scale < 1e22) {
		// Beyond these a power of ten is no float64: the longer way is exact.
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
		return v
	}
	return math.Round(v*scale) / scale
}
