package intake

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/phrase"
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

// Value is a quantity resolved to SI.
type Value struct {
	SI float64
	// Gauge: SI counts from the atmosphere.
	Gauge bool
	// Standard uncertainty; 0 where none was Stated.
	Standard float64
	Stated   bool
	// Unit of the question.
	Unit string
}

// Unit finds a unit of the kinds allowed and notes its error.
func (r *Refusal) Unit(name string, at Place, kinds ...unit.Kind) unit.Unit {
	u, err := unit.Resolve(name, kinds...)
	if err == nil {
		return u
	}
	e, readable := UnitError(name, u, err, kinds)
	r.Unreadable = r.Unreadable || !readable
	r.add(at, e)
	return u
}

// UnitError tells what is wrong with the unit of a quantity of some kinds;
// readable is false where it is no unit at all.
func UnitError(name string, u unit.Unit, err error, kinds []unit.Kind) (e RequestError, readable bool) {
	allowed := unit.Names(kinds...)
	if unknown, ok := errors.AsType[*unit.UnknownUnitError](err); ok {
		if unknown.Nearest != "" {
			return Because(CodeUnknownUnit, "unit_unknown_near", phrase.Params{"given": Typed(name), "suggestion": unknown.Nearest}).suggesting(unknown.Nearest), false
		}
		return Because(CodeUnknownUnit, "unit_unknown", phrase.Params{"given": Typed(name), "allowed": allowed}).allowing(allowed), false
	}
	if errors.Is(err, unit.ErrMissingUnit) {
		return Because(CodeMissingUnit, "unit_missing", phrase.Params{"allowed": allowed}).allowing(allowed), false
	}
	measures := strings.ReplaceAll(string(u.Kind), "_", " ")
	return Because(CodeWrongKind, "unit_of_another_kind", phrase.Params{"given": Typed(name), "measures": measures, "allowed": allowed}).allowing(allowed), true
}

// Resolve turns q into SI, noting every error at its place. A nil q is none;
// ok tells whether there is a usable value.
func (r *Refusal) Resolve(q *Quantity, at Place, kinds ...unit.Kind) (v Value, ok bool) {
	if q == nil {
		return Value{}, false
	}
	before := len(r.Errors)
	u := r.Unit(q.Unit, at.Member("unit"), kinds...)
	if q.Value == nil {
		r.Misread(at.Member("value"), CodeMissingValue, "value_missing", nil)
	}
	if q.Accuracy != nil {
		r.accuracy(*q.Accuracy, u, at.Member("accuracy"))
	}
	r.basis(at, q.AccuracyBasis)
	if len(r.Errors) > before {
		return Value{}, false
	}
	si, ok := r.Number(*q.Value, u, at.Member("value"))
	if !ok {
		return Value{}, false
	}
	v = Value{SI: si, Gauge: u.Kind == unit.KindGaugePressure, Unit: u.Name}
	if q.Accuracy != nil {
		v.Stated = true
		v.Standard = standard(u.SpanToSI(*q.Accuracy), q.AccuracyBasis)
	}
	return v, true
}

// Uncertain is Resolve for what may be left out: nil where there is no usable
// value.
func (r *Refusal) Uncertain(q *Quantity, at Place, kinds ...unit.Kind) *gum.Uncertain {
	v, ok := r.Resolve(q, at, kinds...)
	if !ok {
		return nil
	}
	return &gum.Uncertain{Value: v.SI, Standard: v.Standard}
}

// Number turns a number in a unit into SI, noting one that the unit cannot
// have.
func (r *Refusal) Number(v float64, u unit.Unit, at Place) (si float64, ok bool) {
	si, err := u.Value(v)
	if err != nil {
		r.add(at, NumberError(v, u, err))
	}
	return si, err == nil
}

// NumberError tells of a number that a unit cannot have.
func NumberError(v float64, u unit.Unit, err error) RequestError {
	why := phrase.Code("number_not_finite")
	switch {
	case u.Factor < 0:
		why = "vacuum_depth_negative"
	case errors.Is(err, unit.ErrBelowAbsoluteZero):
		why = "number_below_least"
	}
	return Because(CodeOutOfRange, why, phrase.Params{"given": strconv.FormatFloat(v, 'g', -1, 64) + " " + phrase.Unit(u.Name)})
}

// round keeps six digits of a value that is told.
func round(v float64) float64 {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return rounded + 0 // no negative zero
}

// told is another value of the same kind, in the unit of v.
func (v Value) told(si float64) phrase.Quantity {
	u, _ := unit.Lookup(v.Unit)
	return phrase.Quantity{Value: round(u.FromSI(si)), Unit: v.Unit}
}

// The widest accuracy that says anything about a value, in SI.
var widest = map[unit.Kind]float64{
	unit.KindTemperature: 100, unit.KindTemperatureDiff: 100,
	unit.KindPressure: highestPressure, unit.KindGaugePressure: highestPressure, unit.KindPressureDiff: highestPressure,
	unit.KindAirFlow: largestAirflow, unit.KindRatio: 1, unit.KindHumidityRatio: 1,
}

// accuracy notes a half-width that is none; u is the zero unit where that is
// an error of its own.
func (r *Refusal) accuracy(halfWidth float64, u unit.Unit, at Place) {
	limit, ok := widest[u.Kind]
	if !ok {
		limit = math.MaxFloat64
	}
	switch {
	case !(halfWidth >= 0):
		r.Refuse(at, CodeOutOfRange, "accuracy_negative", nil)
	case !(u.SpanToSI(halfWidth) <= limit):
		r.Refuse(at, CodeOutOfRange, "accuracy_too_wide", nil)
	}
}

func (r *Refusal) basis(at Place, basis string) {
	r.OneOf(at.Member("accuracy_basis"), basis, "limit_of_error", "normal_95")
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
