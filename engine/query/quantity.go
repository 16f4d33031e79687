package query

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Quantity is a value that a question brings: a number and its unit, and how
// far the instrument may be off.
type Quantity struct {
	// Value in the unit named beside it.
	Value *float64 `json:"value" binding:"required" example:"118"`
	// Unit as GET /v1/units spells it; gauge or absolute, temperature or difference is always said.
	Unit string `json:"unit" binding:"required" example:"psig"`
	// Accuracy is the instrument's limit of error in the same unit, as a difference.
	Accuracy *float64 `json:"accuracy,omitempty" minimum:"0" example:"1"`
	// AccuracyBasis says what the accuracy is: a limit of error (rectangular, the default) or the half-width of a 95 % interval.
	AccuracyBasis string `json:"accuracy_basis,omitempty" enums:"limit_of_error,normal_95"`
} //@name Quantity

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

// reading is a question's quantity resolved to SI with its standard
// uncertainty, 0 where none was given.
type reading struct {
	si     float64
	gauge  bool
	u      float64
	stated bool
}

// resolveUnit finds a unit of the kinds allowed and notes its fault.
func resolveUnit(name string, at place, r *Refusal, kinds ...unit.Kind) unit.Unit {
	u, err := unit.Resolve(name, kinds...)
	var unknown *unit.UnknownUnitError
	switch {
	case errors.As(err, &unknown):
		r.unreadable(at, CodeUnknownUnit, said(err))
	case errors.Is(err, unit.ErrMissingUnit):
		r.unreadable(at, CodeMissingUnit, said(err))
	case errors.Is(err, unit.ErrKind):
		r.invalid(at, CodeWrongKind, said(err))
	}
	return u
}

// resolve turns q into SI, noting every fault at its place. A nil q is no fault;
// ok tells whether there is a usable value.
func resolve(q *Quantity, at place, r *Refusal, kinds ...unit.Kind) (reading, bool) {
	if q == nil {
		return reading{}, false
	}
	before := len(r.Fields)
	u := resolveUnit(q.Unit, at.member("unit"), r, kinds...)
	if q.Value == nil {
		r.unreadable(at.member("value"), CodeMissingValue, "a quantity needs a value")
	}
	if q.Accuracy != nil {
		accuracy(*q.Accuracy, u, at.member("accuracy"), r)
	}
	enumBasis(r, at, q.AccuracyBasis)
	if len(r.Fields) > before {
		return reading{}, false
	}
	si, err := u.Value(*q.Value)
	if err != nil {
		r.invalid(at.member("value"), CodeOutOfRange, said(err))
		return reading{}, false
	}
	out := reading{si: si, gauge: u.Kind == unit.KindGaugePressure}
	if q.Accuracy != nil {
		out.stated = true
		out.u = standard(u.SpanToSI(*q.Accuracy), q.AccuracyBasis)
	}
	return out, true
}

// said is an error of package unit as a caller reads it.
func said(err error) string { return strings.TrimPrefix(err.Error(), "unit: ") }

// The widest accuracy that says anything about a value, in SI.
var widest = map[unit.Kind]float64{
	unit.KindTemperature: 100, unit.KindTemperatureDiff: 100,
	unit.KindPressure: highestPressure, unit.KindGaugePressure: highestPressure,
	unit.KindAirFlow: largestAirflow, unit.KindRatio: 1, unit.KindHumidityRatio: 1,
}

// accuracy notes a half-width that is none; u is the zero unit where that is
// a fault of its own.
func accuracy(halfWidth float64, u unit.Unit, at place, r *Refusal) {
	limit, ok := widest[u.Kind]
	if !ok {
		limit = math.MaxFloat64
	}
	switch {
	case !(halfWidth >= 0):
		r.invalid(at, CodeOutOfRange, "an accuracy is a half-width and cannot be negative")
	case !(u.SpanToSI(halfWidth) <= limit):
		r.invalid(at, CodeOutOfRange, "an accuracy as wide as this says nothing")
	}
}

func enumBasis(r *Refusal, at place, basis string) {
	enum(r, at.member("accuracy_basis"), basis, "limit_of_error", "normal_95")
}

// CoverageFactor is the k of every 95 % interval in answers and of accuracies
// given as one: the normal distribution's, JCGM 100:2008 (GUM) annex G.
const CoverageFactor = gum.Coverage

// standard is the standard uncertainty behind an accuracy: a/sqrt 3 for a
// limit of error (GUM 4.3.7), a/1.96 for a 95 % half-width.
func standard(a float64, basis string) float64 {
	if basis == "normal_95" {
		return a / CoverageFactor
	}
	return a / math.Sqrt(3)
}
