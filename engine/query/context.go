package query

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// place says where in a question a value stands: a JSON pointer, or a
// parameter of the query string.
type place struct{ pointer, parameter string }

func (p place) member(name string) place {
	if p.parameter != "" {
		return p
	}
	return place{pointer: p.pointer + "/" + pointerEscape.Replace(name)}
}

// pointerEscape spells a member's name inside a JSON pointer: RFC 6901 section 3.
var pointerEscape = strings.NewReplacer("~", "~0", "/", "~1")

// enum checks a closed set of names; the empty name is "not given".
func enum(r *Refusal, at place, value string, allowed ...string) {
	if value == "" {
		return
	}
	for _, a := range allowed {
		if value == a {
			return
		}
	}
	detail := fmt.Sprintf("%.40q is none of %s", value, strings.Join(allowed, ", "))
	least := 1 + len(value)/2
	for _, a := range allowed {
		if d := unit.Distance(strings.ToLower(value), a); d < least {
			least = d
			detail = fmt.Sprintf("%.40q is unknown, did you mean %q?", value, a)
		}
	}
	r.unreadable(at, CodeUnknownName, detail)
}

// check validates the parts of a system that are plain words and numbers.
func (s *System) check(r *Refusal) {
	at := place{pointer: "/system"}
	enum(r, at.member("mode"), s.Mode, "cooling", "heating")
	enum(r, at.member("metering_device"), s.MeteringDevice, "fixed_orifice", "capillary_tube", "thermostatic_valve", "electronic_valve")
	enum(r, at.member("kind"), s.Kind, "split", "packaged")
	enum(r, at.member("condenser_coil"), s.CondenserCoil, "fin_tube", "microchannel")
	s.checkStages(at, r)
	if e := s.RatedEfficiency; e != nil {
		p := at.member("rated_efficiency")
		enum(r, p.member("metric"), e.Metric, "SEER", "SEER2", "EER")
		if e.Metric == "" {
			r.unreadable(p.member("metric"), CodeMissing, "the metric is missing: SEER, SEER2 or EER")
		}
		if e.Value == nil {
			r.unreadable(p.member("value"), CodeMissingValue, "the rated efficiency needs a value")
		} else if !(*e.Value > 0 && *e.Value < 100) {
			r.invalid(p.member("value"), CodeOutOfRange, "a rated efficiency lies between 0 and 100")
		}
	}
	for _, d := range []struct {
		name string
		q    *Quantity
		kind unit.Kind
	}{
		{"nominal_capacity", s.NominalCapacity, unit.KindPower}, {"charge", s.Charge, unit.KindMass},
		{"target_subcooling", s.TargetSubcooling, unit.KindTemperatureDiff}, {"target_superheat", s.TargetSuperheat, unit.KindTemperatureDiff},
		{"target_subcooling_tolerance", s.TargetSubcoolingTolerance, unit.KindTemperatureDiff}, {"target_superheat_tolerance", s.TargetSuperheatTolerance, unit.KindTemperatureDiff},
	} {
		v, ok := resolve(d.q, at.member(d.name), r, d.kind)
		if ok && d.kind == unit.KindTemperatureDiff && !(v.si >= 0 && v.si <= 50) {
			r.invalid(at.member(d.name).member("value"), CodeOutOfRange, "a manufacturer's superheat, subcooling or tolerance lies between 0 and 90 delta_degF (50 delta_K)")
		}
		if ok && d.kind == unit.KindPower && !(v.si >= smallestCapacity && v.si <= largestCapacity) {
			r.invalid(at.member(d.name).member("value"), CodeOutOfRange, "a capacity lies between 100 W and 10 MW (0.03 and 2800 ton)")
		}
	}
	if l := s.LineSet; l != nil {
		p := at.member("line_set")
		for _, d := range []struct {
			name string
			q    *Quantity
		}{
			{"length", l.Length}, {"factory_included_length", l.FactoryIncludedLength},
			{"liquid_outside_diameter", l.LiquidOutsideDiameter}, {"vapor_outside_diameter", l.VaporOutsideDiameter}, {"wall_thickness", l.WallThickness},
		} {
			if v, ok := resolve(d.q, p.member(d.name), r, unit.KindLength); ok && !(v.si >= 0) {
				r.invalid(p.member(d.name).member("value"), CodeOutOfRange, "a length is not negative")
			}
		}
	}
}

// checkStages notes stages that a unit cannot have.
func (s *System) checkStages(at place, r *Refusal) {
	const most = 10
	if s.Stages != nil && !(*s.Stages >= 1 && *s.Stages <= most) {
		r.invalid(at.member("stages"), CodeOutOfRange, "a unit has between 1 and 10 stages")
	}
	if s.Stage == nil {
		return
	}
	switch {
	case !(*s.Stage >= 1 && *s.Stage <= most):
		r.invalid(at.member("stage"), CodeOutOfRange, "stages count from 1, the lowest, up to 10")
	case s.Stages != nil && *s.Stage > *s.Stages:
		r.invalid(at.member("stage"), CodeContradiction, fmt.Sprintf("a unit of %d stages has no stage %d", *s.Stages, *s.Stage))
	}
}

// capacityFixed tells whether the unit ran at one known capacity; nil where
// nothing is said of it.
func (s *System) capacityFixed() *bool {
	variable := s.VariableSpeed != nil && *s.VariableSpeed
	if s.Stage == nil && s.Stages == nil && s.VariableSpeed == nil {
		return nil
	}
	fixed := s.Stage != nil || !variable && (s.Stages == nil || *s.Stages == 1)
	return &fixed
}

// refrigerantOf finds the refrigerant of a system, nil (with a fault noted)
// where there is none.
func (e *Engine) refrigerantOf(s System, r *Refusal) *refrigerant.Refrigerant {
	return e.refrigerantAt(s.Refrigerant, s.Composition, place{pointer: "/system"}, r)
}

func (e *Engine) refrigerantAt(designation string, composition []Share, at place, r *Refusal) *refrigerant.Refrigerant {
	switch {
	case designation != "" && composition != nil:
		r.invalid(at.member("composition"), CodeContradiction, "give a refrigerant or a composition, not both")
		return nil
	case composition != nil:
		return e.compose(composition, at.member("composition"), r)
	case designation == "":
		r.invalid(at.member("refrigerant"), CodeMissing, "which refrigerant? Give its designation, or a composition")
		return nil
	}
	f, err := e.catalogue.Find(designation)
	if err != nil {
		r.invalid(at.member("refrigerant"), CodeUnknownRefrigerant, unknown(err))
		return nil
	}
	return f
}

// unknown words an unknown designation for the caller.
func unknown(err error) string {
	var u *refrigerant.UnknownError
	if !errors.As(err, &u) {
		return err.Error()
	}
	if len(u.Nearest) == 0 {
		return fmt.Sprintf("%.40q is not in the catalogue", u.Spelling)
	}
	return fmt.Sprintf("%.40q is not in the catalogue, did you mean %s?", u.Spelling, strings.Join(u.Nearest, " or "))
}

func (e *Engine) compose(shares []Share, at place, r *Refusal) *refrigerant.Refrigerant {
	before := len(r.Fields)
	components := make([]refrigerant.Component, len(shares))
	for i, s := range shares {
		p := at.member(fmt.Sprint(i))
		f, err := e.catalogue.Find(s.Refrigerant)
		switch {
		case err != nil:
			r.invalid(p.member("refrigerant"), CodeUnknownRefrigerant, unknown(err))
		case !f.Pure():
			r.invalid(p.member("refrigerant"), CodeOutOfRange, f.Designation+" is a blend: give its components")
		}
		switch {
		case s.MassPercent == nil:
			r.unreadable(p.member("mass_percent"), CodeMissingValue, "the share of a component is missing")
		case !(*s.MassPercent > 0 && *s.MassPercent <= 100):
			r.invalid(p.member("mass_percent"), CodeOutOfRange, "a share lies above 0 and up to 100 percent")
		default:
			components[i] = refrigerant.Component{Designation: s.Refrigerant, MassFraction: *s.MassPercent / 100}
		}
	}
	if len(r.Fields) > before {
		return nil
	}
	f, err := e.catalogue.Compose(components)
	if err != nil {
		r.invalid(at, CodeOutOfRange, strings.TrimPrefix(err.Error(), refrigerant.ErrComposition.Error()+": "))
		return nil
	}
	return f
}

// atmosphere is the air at the gauges.
type atmosphere struct {
	// site is the pressure of the air, zero what gauges count from.
	site, zero unit.Pressure
	// u and zeroU are their standard uncertainties in Pa.
	u, zeroU float64
}

const (
	// weather is the standard deviation of the air's pressure about the
	// standard atmosphere, in Pa; from memory, unverified.
	weather = 800
	// barometer is the standard uncertainty of a pressure given without an
	// accuracy, in Pa.
	barometer = 100
	// disagreement is how far a given pressure may lie from that of a given
	// altitude, in Pa: some 4.5 standard deviations of the weather.
	disagreement = 3600
)

// commonPractice is the source key of figures that the trade uses and nobody
// in particular published.
const commonPractice = "common-practice"

// atmosphereOf resolves a site; at is where its members stand.
func (t *trail) atmosphereOf(s Site, at place, r *Refusal) atmosphere {
	enum(r, at.member("gauge_zero"), s.GaugeZero, "local_atmosphere", "sea_level")
	altitudeAt, pressureAt := at.member("altitude"), at.member("atmospheric_pressure")
	if at.parameter != "" {
		altitudeAt, pressureAt = place{parameter: "altitude"}, place{parameter: "atmospheric_pressure"}
	}
	standardAir := unit.StandardAtmosphere()
	a := atmosphere{site: standardAir, u: weather}
	altitude, okAltitude := resolve(s.Altitude, altitudeAt, r, unit.KindLength)
	pressure, okPressure := resolve(s.AtmosphericPressure, pressureAt, r, unit.KindPressure)
	var byAltitude unit.Pressure
	if okAltitude {
		var err error
		if byAltitude, err = moistair.StandardPressure(unit.Metre(altitude.si)); err != nil {
			r.invalid(altitudeAt.member("value"), CodeOutOfRange, "the standard atmosphere is taken from -5000 to 11000 m (-16400 to 36089 ft)")
			okAltitude = false
		}
	}
	if okPressure && !(pressure.si >= 20e3 && pressure.si <= 120e3) {
		r.invalid(pressureAt.member("value"), CodeOutOfRange, "the air's pressure lies between 20 and 120 kPa; is it gauge?")
		okPressure = false
	}
	switch {
	case okPressure:
		a.site = unit.Pascal(pressure.si)
		a.u = pressure.u
		if !pressure.stated {
			a.u = barometer
			t.assume(barometerAccuracy, phrase.Params{"accuracy": t.as.said(unit.KindPressureDiff, barometer, 0)})
			t.source(commonPractice, refdata.FromMemory)
		}
		if okAltitude && math.Abs(pressure.si-byAltitude.Pascal()) > disagreement {
			r.invalid(pressureAt.member("value"), CodeContradiction, fmt.Sprintf("at this altitude the air has about %.1f kPa, not %.1f kPa: is this a sea-level figure of a weather report?", byAltitude.Pascal()/1e3, pressure.si/1e3))
		}
	case okAltitude:
		a.site = byAltitude
		t.assume(standardAtmosphere, phrase.Params{"pressure": t.as.said(unit.KindPressure, a.site.Pascal(), 0), "weather": t.as.said(unit.KindPressureDiff, weather, 0)})
		t.source("ashrae-handbook-2017", "")
		t.source(commonPractice, refdata.FromMemory)
	case s.Altitude == nil && s.AtmosphericPressure == nil:
		t.assume(seaLevel, phrase.Params{
			"pressure": t.as.said(unit.KindPressure, standardAir.Pascal(), 0), "weather": t.as.said(unit.KindPressureDiff, weather, 0),
			"altitude": t.as.said(unit.KindLength, 1524, 0), "less": t.as.said(unit.KindPressureDiff, 17.2e3, 0),
		})
		t.source(commonPractice, refdata.FromMemory)
	}
	a.zero, a.zeroU = a.site, a.u
	if s.GaugeZero == "sea_level" {
		a.zero, a.zeroU = standardAir, 0
		t.assume(gaugeZeroSeaLevel, phrase.Params{"pressure": t.as.said(unit.KindPressure, standardAir.Pascal(), 0)})
	}
	return a
}

// absolute turns a pressure that was read into an absolute one.
func (a atmosphere) absolute(v reading, at place, r *Refusal) (unit.Pressure, bool) {
	if !v.gauge {
		return unit.Pascal(v.si), true
	}
	p, err := unit.PascalGauge(v.si).Absolute(a.zero)
	if err != nil {
		r.invalid(at.member("value"), CodeOutOfRange, fmt.Sprintf("this lies at or below a perfect vacuum: the air has only %.2f kPa (%.3f psia)", a.zero.Pascal()/1e3, a.zero.PSIA()))
		return unit.Pressure{}, false
	}
	return p, true
}

// pressures are the kinds of a pressure that is read; a gauge's comes first
// where a misspelled unit is nearest to both.
var pressures = []unit.Kind{unit.KindGaugePressure, unit.KindPressure}

// measured resolves all readings into what circuit takes, noting every fault.
func (t *trail) measured(v Visit, a atmosphere, r *Refusal) map[circuit.Reading]circuit.Measured {
	out := map[circuit.Reading]circuit.Measured{}
	var byDefault []string
	for _, f := range fields(v) {
		at := place{pointer: "/readings/" + f.reading.String()}
		kinds := []unit.Kind{f.reading.Kind()}
		if kinds[0] == unit.KindPressure {
			kinds = pressures
		}
		limit, stated := t.instrument(f, r, kinds)
		value, ok := resolve(f.quantity, at, r, kinds...)
		if !ok {
			continue
		}
		if !plausible(f.reading, value, at, r) {
			continue
		}
		m := circuit.Measured{Value: value.si, Gauge: value.gauge}
		if f.reading.Kind() == unit.KindPressure {
			p, ok := a.absolute(value, at, r)
			if !ok {
				continue
			}
			if !(p.Pascal() >= lowestPressure) {
				r.invalid(at.member("value"), CodeOutOfRange, "this is nearer to a perfect vacuum than instruments of the trade tell (1 micron)")
				continue
			}
			m.Value = p.Pascal()
		}
		switch {
		case value.stated:
			m.Standard = value.u
		case stated:
			m.Standard = limit(value)
		default:
			high := f.reading == circuit.LiquidPressure || f.reading == circuit.DischargePressure
			kind := f.reading.Kind()
			l := instrument.Default(kind, high, value.si)
			m.Standard = l.Standard()
			t.source(l.Source, l.Status)
			byDefault = append(byDefault, f.reading.String())
		}
		if f.reading.Kind() == unit.KindPressure && !(CoverageFactor*m.Standard < m.Value) {
			// First-order propagation means nothing here, and neither does the reading.
			r.invalid(at.member("value"), CodeOutOfRange, "within the instrument's accuracy this could be a perfect vacuum: a finer gauge is needed")
			continue
		}
		out[f.reading] = m
	}
	if len(byDefault) > 0 {
		t.assume(defaultInstruments, t.defaultLimits(byDefault))
	}
	return out
}

// defaultLimits are the limits of error that are assumed for readings.
func (t *trail) defaultLimits(readings []string) phrase.Params {
	limit := func(kind, difference unit.Kind, high bool, at float64) phrase.Quantity {
		return t.as.said(difference, instrument.Default(kind, high, at).SI, 0)
	}
	room := unit.Fahrenheit(70).Kelvin()
	return phrase.Params{
		"readings":     readings,
		"suction":      limit(unit.KindPressure, unit.KindPressureDiff, false, 1e6),
		"high_side":    limit(unit.KindPressure, unit.KindPressureDiff, true, 1e6),
		"thermometers": limit(unit.KindTemperature, unit.KindTemperatureDiff, false, room),
		"at":           t.as.said(unit.KindTemperature, room, 0),
		"humidity":     limit(unit.KindRatio, unit.KindRatio, false, 0.5),
		"airflow":      t.as.said(unit.KindRatio, instrument.Default(unit.KindAirFlow, false, 1).SI, 0), // of an airflow of one
	}
}

// field is one reading with its instrument.
type field struct {
	reading    circuit.Reading
	quantity   *Quantity
	instrument *Instrument
}

func fields(v Visit) []field {
	q, i := v.Readings, v.Instruments
	return []field{
		{circuit.SuctionPressure, q.SuctionPressure, i.SuctionPressure},
		{circuit.SuctionLineTemperature, q.SuctionLineTemperature, i.SuctionLineTemperature},
		{circuit.LiquidPressure, q.LiquidPressure, i.LiquidPressure},
		{circuit.LiquidLineTemperature, q.LiquidLineTemperature, i.LiquidLineTemperature},
		{circuit.DischargePressure, q.DischargePressure, i.DischargePressure},
		{circuit.DischargeLineTemperature, q.DischargeLineTemperature, i.DischargeLineTemperature},
		{circuit.OutdoorDryBulb, q.OutdoorDryBulb, i.OutdoorDryBulb},
		{circuit.ReturnDryBulb, q.ReturnDryBulb, i.ReturnDryBulb},
		{circuit.ReturnWetBulb, q.ReturnWetBulb, i.ReturnWetBulb},
		{circuit.ReturnRelativeHumidity, q.ReturnRelativeHumidity, i.ReturnRelativeHumidity},
		{circuit.SupplyDryBulb, q.SupplyDryBulb, i.SupplyDryBulb},
		{circuit.SupplyWetBulb, q.SupplyWetBulb, i.SupplyWetBulb},
		{circuit.IndoorAirflow, q.IndoorAirflow, i.IndoorAirflow},
		{circuit.DrierOutletTemperature, q.DrierOutletTemperature, i.DrierOutletTemperature},
	}
}

// Limits of what is read and rated, in SI: beyond them a unit or a decimal
// point is wrong.
const (
	highestPressure  = 20e6
	lowestPressure   = 0.1 // some thousandth of a millimetre of mercury
	widestSpan       = 100e6
	largestAirflow   = 100
	largestCapacity  = 10e6
	smallestCapacity = 100
)

// plausible refuses readings that no instrument of the trade shows: far
// outside them, a unit or a decimal point is wrong.
func plausible(of circuit.Reading, v reading, at place, r *Refusal) bool {
	lo, hi, say := 0.0, math.Inf(1), ""
	switch of.Kind() {
	case unit.KindTemperature:
		lo, hi, say = 173.15, 523.15, "between -148 and 482 degF (-100 and 250 degC)"
	case unit.KindRatio:
		lo, hi, say = 0, 1, "between 0 and 100 percent"
	case unit.KindPressure:
		lo, hi, say = math.Inf(-1), highestPressure, "up to 200 bar"
	case unit.KindAirFlow:
		lo, hi, say = 0, largestAirflow, "up to 210000 cfm (360000 m3/h)"
	}
	if v.si >= lo && v.si <= hi {
		return true
	}
	r.invalid(at.member("value"), CodeOutOfRange, "expected "+say)
	return false
}

// instrument resolves what is said of the instrument behind a reading; the
// function gives the standard uncertainty at a value.
func (t *trail) instrument(f field, r *Refusal, kinds []unit.Kind) (func(reading) float64, bool) {
	i := f.instrument
	if i == nil {
		return nil, false
	}
	at := place{pointer: "/instruments/" + f.reading.String()}
	if i.AccuracyClass != "" && i.Accuracy != nil {
		r.invalid(at, CodeContradiction, "give an accuracy class or an accuracy, not both")
		return nil, false
	}
	if i.Accuracy != nil {
		allowed := kinds
		if kinds[0] == unit.KindTemperature {
			allowed = []unit.Kind{unit.KindTemperatureDiff}
		}
		before := len(r.Fields)
		u, _ := unit.Resolve(i.Accuracy.Unit, allowed...)
		resolve(&Quantity{Value: i.Accuracy.Value, Unit: i.Accuracy.Unit}, at.member("accuracy"), r, allowed...)
		enumBasis(r, at.member("accuracy"), i.Accuracy.AccuracyBasis)
		if i.Accuracy.Accuracy != nil {
			r.invalid(at.member("accuracy").member("accuracy"), CodeContradiction, "an accuracy has none of its own: give it as the value")
		}
		if i.Accuracy.Value != nil {
			accuracy(*i.Accuracy.Value, u, at.member("accuracy").member("value"), r)
		}
		if len(r.Fields) > before {
			return nil, false
		}
		s := standard(u.SpanToSI(*i.Accuracy.Value), i.Accuracy.AccuracyBasis)
		return func(reading) float64 { return s }, true
	}
	if i.AccuracyClass == "" {
		r.invalid(at.member("accuracy_class"), CodeMissing, "an instrument is described by an accuracy class or by an accuracy")
		return nil, false
	}
	var span float64
	if i.Span != nil {
		v, ok := resolve(i.Span, at.member("span"), r, kinds...)
		if !ok {
			return nil, false
		}
		if !(v.si > 0 && v.si <= widestSpan) {
			r.invalid(at.member("span").member("value"), CodeOutOfRange, "a gauge's full scale lies above zero and up to 1000 bar")
			return nil, false
		}
		span = v.si
	}
	// The class is judged here, so that a fault is noted even where the
	// reading is not there yet.
	probe := 290.0
	if f.reading.Kind() == unit.KindPressure {
		probe = 0.5 * span
	}
	if _, err := instrument.Of(i.AccuracyClass, kinds[0], probe, span); err != nil {
		switch {
		case errors.Is(err, instrument.ErrUnknownClass):
			enum(r, at.member("accuracy_class"), i.AccuracyClass, instrument.Classes()...)
		case errors.Is(err, instrument.ErrSpan):
			r.invalid(at.member("span"), CodeMissing, "this class counts by the span of the gauge: give its full scale")
		default:
			r.invalid(at.member("accuracy_class"), CodeContradiction, "this class is of another kind of instrument")
		}
		return nil, false
	}
	return func(v reading) float64 {
		l, err := instrument.Of(i.AccuracyClass, kinds[0], v.si, span)
		if err != nil {
			r.invalid(place{pointer: "/readings/" + f.reading.String()}.member("value"), CodeOutOfRange, "the reading lies beyond the gauge's span")
			return 0
		}
		t.source(l.Source, l.Status)
		return l.Standard()
	}, true
}

// saturationFault words a solver's error for the reader.
func saturationFault(as Presentation, f *refrigerant.Refrigerant, err error) (code, detail string) {
	n := noSaturation(as, f, err)
	return string(n.Code), n.Text
}

// noSaturation says why a refrigerant has no boiling or condensing somewhere.
func noSaturation(as Presentation, f *refrigerant.Refrigerant, err error) Note {
	params := phrase.Params{"refrigerant": f.Designation}
	critical := func(code, unknown phrase.Code) Note {
		c, err := f.System().Critical()
		if err != nil {
			return say(unknown, params)
		}
		params["temperature"] = as.said(unit.KindTemperature, c.Temperature, 0)
		params["pressure"] = as.said(unit.KindPressure, c.Pressure, 0)
		return say(code, params)
	}
	switch {
	case errors.Is(err, equilibrium.ErrAboveCritical):
		return critical(CodeAboveCritical, aboveUnknownCritical)
	case errors.Is(err, equilibrium.ErrNearCritical):
		return critical(CodeNearCritical, nearUnknownCritical)
	case errors.Is(err, equilibrium.ErrBelowRange):
		return say(CodeBelowRange, params)
	case errors.Is(err, equilibrium.ErrTwoLiquids):
		return say(CodeTwoLiquids, params)
	}
	return say(CodeNotConverged, params)
}
