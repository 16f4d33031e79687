package query

import (
	"math"
	"strconv"

	"github.com/knurl-hvacr/knurl/engine/gum"
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

// Units for amounts such as a hose holds, and for its bore.
var smallUnits = map[unit.Kind][2]string{
	unit.KindMass:   {"oz", "g"},
	unit.KindVolume: {"in3", "mL"},
	unit.KindLength: {"in", "mm"},
}

// measure writes an SI value in the unit of the presentation: temperatures
// and differences to 0.0001, everything else to nine significant digits.
func (p Presentation) measure(kind unit.Kind, si float64) Measure {
	return p.measureIn(answerUnits[kind], kind, si)
}

// unit is the unit that answers have for a kind.
func (p Presentation) unit(kind unit.Kind) unit.Unit {
	u, _ := unit.Lookup(p.measure(kind, 0).Unit)
	return u
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

// within adds the 95 % interval of a standard uncertainty in SI, to two
// significant digits more than one would say; a value whose standard
// uncertainty is zero is taken as exact, and has none.
func (m Measure) within(standard float64) Measure {
	if standard == 0 {
		return m
	}
	return m.between(standard)
}

// between is within for an estimate, which has an interval even of no width.
func (m Measure) between(standard float64) Measure {
	u, _ := unit.Lookup(m.Unit)
	m.Uncertainty = new(significant(u.SpanFromSI(CoverageFactor*standard), 3))
	return m
}

// some is a value that may be absent.
func (p Presentation) some(kind unit.Kind, e *gum.Uncertain) *Measure {
	if e == nil {
		return nil
	}
	return new(p.measure(kind, e.Value).within(e.Standard))
}

// known is a value that is not a number where there is none.
func (p Presentation) known(kind unit.Kind, si float64) *Measure {
	if math.IsNaN(si) {
		return nil
	}
	return new(p.measure(kind, si))
}

// said is a value as texts take it: in the unit of the presentation, with its
// standard uncertainty in SI, 0 where it has none.
func (p Presentation) said(kind unit.Kind, si, standard float64) phrase.Quantity {
	return phrase.Quantity(p.measure(kind, si).within(standard))
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
