// Package instrument says how far an instrument may be off: accuracy classes
// and the customary limits of gauges and thermometers, as standard
// uncertainties. It must not know what the readings are used for.
package instrument

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Errors of an accuracy class.
var (
	// ErrUnknownClass reports a code that is no accuracy class.
	ErrUnknownClass = errors.New("instrument: unknown accuracy class")
	// ErrKind reports a class of another kind of instrument.
	ErrKind = errors.New("instrument: the class belongs to another kind of instrument")
	// ErrSpan reports a class that counts by the span of a gauge, without a
	// positive span or with a reading beyond it.
	ErrSpan = errors.New("instrument: the class needs the span of the gauge")
)

// Limit is an instrument's limit of error at one reading, in SI as a
// difference, with where it comes from.
type Limit struct {
	SI             float64
	Source, Status string
}

// Standard is the standard uncertainty of a limit of error, taken as a
// rectangular distribution: JCGM 100:2008 (GUM) 4.3.7.
func (l Limit) Standard() float64 { return l.SI / math.Sqrt(3) }

// instruments is the table of classes, copied once.
var instruments = sync.OnceValue(refdata.Instruments)

// Classes lists the codes of the accuracy classes.
func Classes() []string {
	var codes []string
	for _, i := range instruments() {
		codes = append(codes, i.Code)
	}
	return codes
}

// Of gives the limit of an accuracy class. kind is that of the reading
// (gauge or absolute pressure, temperature); value is the reading and span the
// gauge's full scale in Pa, both as the scale shows them (gauge). It returns
// ErrUnknownClass, ErrKind or ErrSpan.
func Of(class string, kind unit.Kind, value, span float64) (Limit, error) {
	all := instruments()
	i := slices.IndexFunc(all, func(c refdata.Instrument) bool { return c.Code == class })
	if i < 0 {
		return Limit{}, fmt.Errorf("%w: %q", ErrUnknownClass, class)
	}
	c := all[i]
	pressure := kind == unit.KindPressure || kind == unit.KindGaugePressure
	if (c.Kind == "pressure") != pressure || !pressure && kind != unit.KindTemperature {
		return Limit{}, fmt.Errorf("%w: %s is for %s", ErrKind, class, c.Kind)
	}
	l := Limit{Source: c.Source, Status: c.Status}
	if len(c.Bands) > 0 {
		if !(span > 0) || math.IsInf(span, 0) {
			return Limit{}, fmt.Errorf("%w: %s", ErrSpan, class)
		}
		part := 100 * value / span
		if !(part <= 100) {
			return Limit{}, fmt.Errorf("%w: the reading lies beyond it", ErrSpan)
		}
		for _, b := range c.Bands {
			if part <= b.To || b.To >= 100 {
				l.SI = b.Percent / 100 * span
				break
			}
		}
		return l, nil
	}
	l.SI = absolute(c, value)
	return l, nil
}

// absolute is the limit of a class that does not count by span.
func absolute(c refdata.Instrument, value float64) float64 {
	scale, _ := unit.Lookup(map[string]string{"psi": "psia", "delta_degF": "delta_degF", "delta_degC": "delta_degC"}[c.Unit])
	limit := scale.SpanToSI(c.Limit)
	if c.PercentOfReading == 0 {
		return limit
	}
	// Of the reading on the scale that the class is written in.
	reading := value
	switch c.Unit {
	case "delta_degF":
		reading = unit.Kelvin(value).Fahrenheit() * 5 / 9
	case "delta_degC":
		reading = unit.Kelvin(value).Celsius()
	}
	part := math.Abs(reading) * c.PercentOfReading / 100
	if c.Combination == "larger" {
		return max(limit, part)
	}
	return limit + part
}

const (
	suctionClass = "charge_verification_suction_pressure"
	liquidClass  = "charge_verification_liquid_pressure"
	thermometer  = "charge_verification_thermometer"
)

// Default is the limit assumed for an instrument of which nothing was said:
// what the published charge-verification procedure asks of digital gauges and
// thermometers, and customary figures for what no class covers. highSide tells liquid and discharge pressures from suction.
func Default(kind unit.Kind, highSide bool, value float64) Limit {
	class := thermometer
	switch kind {
	case unit.KindAirFlow:
		f := figure.Allowance("airflow_meter")
		return Limit{SI: figure.SI(f) * value, Source: f.Source, Status: f.Status}
	case unit.KindRatio:
		f := figure.Allowance("hygrometer")
		return Limit{SI: figure.SI(f), Source: f.Source, Status: f.Status}
	case unit.KindPressure, unit.KindGaugePressure:
		class = suctionClass
		if highSide {
			class = liquidClass
		}
	}
	l, err := Of(class, kind, value, 0)
	if err != nil {
		panic(fmt.Sprintf("instrument: embedded data: %v", err))
	}
	return l
}
