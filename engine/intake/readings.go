package intake

import (
	"errors"
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Taken are readings in SI with their uncertainty.
type Taken struct {
	Readings map[circuit.Reading]circuit.Measured
	// ReadingsAt is where they stand.
	ReadingsAt Place
	// ByDefault lists those whose instrument's accuracy is assumed.
	ByDefault []circuit.Reading
	// Limits of error behind the others and these, where they have a source.
	Limits []instrument.Limit
}

// pressures are the kinds of a pressure that is read; a gauge's comes first
// where a misspelled unit is nearest to both.
var pressures = []unit.Kind{unit.KindGaugePressure, unit.KindPressure}

// TakeReadings resolves readings and instruments, each of which stand at a
// place, noting every error.
func TakeReadings(readings Readings, instruments Instruments, air Air, at, instrumentsAt Place, r *Refusal) Taken {
	out := Taken{Readings: map[circuit.Reading]circuit.Measured{}, ReadingsAt: at}
	for _, f := range fields(readings, instruments) {
		f.at, f.instrumentAt = at.Member(f.reading.String()), instrumentsAt.Member(f.reading.String())
		if m, ok := out.take(f, air, r); ok {
			out.Readings[f.reading] = m
		}
	}
	return out
}

// take resolves one reading.
func (t *Taken) take(f field, air Air, r *Refusal) (circuit.Measured, bool) {
	pressure := f.reading.Kind() == unit.KindPressure
	limit, stated := t.instrument(f, r)
	value, ok := r.Resolve(f.quantity, f.at, KindsOf(f.reading)...)
	if !ok || !plausible(f.reading, value, f.at, r) {
		return circuit.Measured{}, false
	}
	m := circuit.Measured{Value: value.SI, Gauge: value.Gauge}
	if pressure {
		p, ok := air.Absolute(value, f.at, r)
		if !ok {
			return m, false
		}
		if m.Value = p.Pascal(); !(m.Value >= lowestPressure) {
			r.Refuse(f.at.Member("value"), CodeOutOfRange, "below_a_micron", nil)
			return m, false
		}
	}
	switch {
	case value.Stated:
		m.Standard = value.Standard
	case stated:
		m.Standard = limit(value)
	default:
		high := f.reading == circuit.LiquidPressure || f.reading == circuit.DischargePressure
		l := instrument.Default(f.reading.Kind(), high, value.SI)
		m.Standard = l.Standard()
		t.Limits, t.ByDefault = append(t.Limits, l), append(t.ByDefault, f.reading)
	}
	if pressure && !(CoverageFactor*m.Standard < m.Value) {
		// First-order propagation means nothing here, and neither does the reading.
		r.Refuse(f.at.Member("value"), CodeOutOfRange, "gauge_too_coarse", nil)
		return m, false
	}
	return m, true
}

// field is one reading with its instrument, and where the two stand.
type field struct {
	reading          circuit.Reading
	quantity         *Quantity
	instrument       *Instrument
	at, instrumentAt Place
}

// KindsOf are the kinds of unit that a reading may be given in.
func KindsOf(r circuit.Reading) []unit.Kind {
	if r.Kind() == unit.KindPressure {
		return pressures
	}
	return []unit.Kind{r.Kind()}
}

func fields(q Readings, i Instruments) []field {
	return []field{
		{reading: circuit.SuctionPressure, quantity: q.SuctionPressure, instrument: i.SuctionPressure},
		{reading: circuit.SuctionLineTemperature, quantity: q.SuctionLineTemperature, instrument: i.SuctionLineTemperature},
		{reading: circuit.LiquidPressure, quantity: q.LiquidPressure, instrument: i.LiquidPressure},
		{reading: circuit.LiquidLineTemperature, quantity: q.LiquidLineTemperature, instrument: i.LiquidLineTemperature},
		{reading: circuit.DischargePressure, quantity: q.DischargePressure, instrument: i.DischargePressure},
		{reading: circuit.DischargeLineTemperature, quantity: q.DischargeLineTemperature, instrument: i.DischargeLineTemperature},
		{reading: circuit.OutdoorDryBulb, quantity: q.OutdoorDryBulb, instrument: i.OutdoorDryBulb},
		{reading: circuit.ReturnDryBulb, quantity: q.ReturnDryBulb, instrument: i.ReturnDryBulb},
		{reading: circuit.ReturnWetBulb, quantity: q.ReturnWetBulb, instrument: i.ReturnWetBulb},
		{reading: circuit.ReturnRelativeHumidity, quantity: q.ReturnRelativeHumidity, instrument: i.ReturnRelativeHumidity},
		{reading: circuit.SupplyDryBulb, quantity: q.SupplyDryBulb, instrument: i.SupplyDryBulb},
		{reading: circuit.SupplyWetBulb, quantity: q.SupplyWetBulb, instrument: i.SupplyWetBulb},
		{reading: circuit.IndoorAirflow, quantity: q.IndoorAirflow, instrument: i.IndoorAirflow},
		{reading: circuit.DrierOutletTemperature, quantity: q.DrierOutletTemperature, instrument: i.DrierOutletTemperature},
	}
}

// Limits of what is read, in SI: beyond them a unit or a decimal point is
// wrong.
const (
	highestPressure = 20e6
	lowestPressure  = 0.1 // some thousandth of a millimetre of mercury
	widestSpan      = 100e6
	largestAirflow  = 100
)

// plausible refuses readings that no instrument of the trade shows: far
// outside them, a unit or a decimal point is wrong.
func plausible(of circuit.Reading, v Value, at Place, r *Refusal) bool {
	low, high := 0.0, math.Inf(1)
	switch of.Kind() {
	case unit.KindTemperature:
		low, high = 173.15, 523.15
	case unit.KindRatio:
		high = 1
	case unit.KindPressure:
		low, high = math.Inf(-1), highestPressure
	case unit.KindAirFlow:
		high = largestAirflow
	}
	if v.SI >= low && v.SI <= high {
		return true
	}
	r.Outside(at.Member("value"), v.Between(low, high))
	return false
}

// instrument resolves what is said of the instrument behind a reading; the
// function gives the standard uncertainty at a value.
func (t *Taken) instrument(f field, r *Refusal) (func(Value) float64, bool) {
	i := f.instrument
	if i == nil {
		return nil, false
	}
	switch {
	case i.AccuracyClass != "" && i.Accuracy != nil:
		r.Refuse(f.instrumentAt, CodeContradiction, "class_or_accuracy", nil)
		return nil, false
	case i.Accuracy != nil:
		return f.ownAccuracy(r)
	case i.AccuracyClass == "":
		r.Refuse(f.instrumentAt.Member("accuracy_class"), CodeMissing, "accuracy_missing", nil)
		return nil, false
	}
	return t.classAccuracy(f, r)
}

// ownAccuracy is an accuracy given as a quantity, which is a difference.
func (f field) ownAccuracy(r *Refusal) (func(Value) float64, bool) {
	q, at := f.instrument.Accuracy, f.instrumentAt.Member("accuracy")
	kinds := KindsOf(f.reading)
	switch f.reading.Kind() {
	case unit.KindTemperature:
		kinds = []unit.Kind{unit.KindTemperatureDiff}
	case unit.KindPressure:
		kinds = []unit.Kind{unit.KindPressureDiff}
	}
	before := len(r.Errors)
	v, _ := r.Resolve(&Quantity{Value: q.Value, Unit: q.Unit}, at, kinds...)
	r.basis(at, q.AccuracyBasis)
	if q.Accuracy != nil {
		r.Refuse(at.Member("accuracy"), CodeContradiction, "accuracy_of_an_accuracy", nil)
	}
	if u, ok := unit.Lookup(q.Unit); ok && q.Value != nil {
		r.accuracy(*q.Value, u, at.Member("value"))
	}
	if len(r.Errors) > before {
		return nil, false
	}
	s := standard(v.SI, q.AccuracyBasis)
	return func(Value) float64 { return s }, true
}

// classAccuracy is that of an accuracy class. It is judged here, so that an
// error is noted even where the reading is not there yet.
func (t *Taken) classAccuracy(f field, r *Refusal) (func(Value) float64, bool) {
	i, at, kind := f.instrument, f.instrumentAt, KindsOf(f.reading)[0]
	var span float64
	if i.Span != nil {
		v, ok := r.Resolve(i.Span, at.Member("span"), KindsOf(f.reading)...)
		if !ok {
			return nil, false
		}
		if !(v.SI > 0 && v.SI <= widestSpan) {
			r.Outside(at.Member("span").Member("value"), v.Between(0, widestSpan))
			return nil, false
		}
		span = v.SI
	}
	probe := 290.0
	if f.reading.Kind() == unit.KindPressure {
		probe = 0.5 * span
	}
	if _, err := instrument.Of(i.AccuracyClass, kind, probe, span); err != nil {
		switch {
		case errors.Is(err, instrument.ErrUnknownClass):
			r.OneOf(at.Member("accuracy_class"), i.AccuracyClass, instrument.Classes()...)
		case errors.Is(err, instrument.ErrSpan):
			r.Refuse(at.Member("span"), CodeMissing, "span_missing", nil)
		default:
			r.Refuse(at.Member("accuracy_class"), CodeContradiction, "class_of_another_instrument", nil)
		}
		return nil, false
	}
	return func(v Value) float64 {
		l, err := instrument.Of(i.AccuracyClass, kind, v.SI, span)
		if err != nil {
			r.Refuse(f.at.Member("value"), CodeOutOfRange, "beyond_span", nil)
			return 0
		}
		t.Limits = append(t.Limits, l)
		return l.Standard()
	}, true
}
