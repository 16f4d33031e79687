package query

import (
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// MoistAirQuestion brings a dry bulb and one measure of humidity.
type MoistAirQuestion struct {
	Site             Site      `json:"site"`
	DryBulb          *Quantity `json:"dry_bulb" binding:"required"`
	WetBulb          *Quantity `json:"wet_bulb,omitempty"`
	RelativeHumidity *Quantity `json:"relative_humidity,omitempty"`
	DewPoint         *Quantity `json:"dew_point,omitempty"`
	HumidityRatio    *Quantity `json:"humidity_ratio,omitempty"`
} //@name MoistAirQuestion

// MoistAirAnswer is the state of the air. Uncertainties are given where the
// question gave accuracies.
type MoistAirAnswer struct {
	AtmosphericPressure Measure `json:"atmospheric_pressure"`
	DryBulb             Measure `json:"dry_bulb"`
	// WetBulb is the thermodynamic wet bulb, an ice bulb below freezing.
	WetBulb Measure `json:"wet_bulb"`
	// DewPoint is a frost point below freezing; null where the air is too dry for one above -100 degC.
	DewPoint         *Measure `json:"dew_point" extensions:"x-nullable"`
	RelativeHumidity Measure  `json:"relative_humidity"`
	HumidityRatio    Measure  `json:"humidity_ratio"`
	VaporPressure    Measure  `json:"vapor_pressure"`
	// Enthalpy a unit mass of dry air, zero for dry air at 0 degC.
	Enthalpy Measure `json:"enthalpy"`
	// SpecificVolume a unit mass of dry air.
	SpecificVolume Measure `json:"specific_volume"`
	// Density of the moist air.
	Density Measure `json:"density"`
	// DegreeOfSaturation is the humidity ratio over that of saturated air; null above the boiling point of water.
	DegreeOfSaturation *Measure `json:"degree_of_saturation" extensions:"x-nullable"`
	Common
} //@name MoistAirAnswer

// humidity is one measure of the humidity of air.
type humidity struct {
	member string
	typed  *Quantity
	kind   unit.Kind
	from   func(p unit.Pressure, dry unit.Temperature, v float64) (moistair.State, error)
}

func (q MoistAirQuestion) humidities() []humidity {
	return []humidity{
		{"/wet_bulb", q.WetBulb, unit.KindTemperature, func(p unit.Pressure, dry unit.Temperature, v float64) (moistair.State, error) {
			return moistair.FromWetBulb(p, dry, unit.Kelvin(v))
		}},
		{"/relative_humidity", q.RelativeHumidity, unit.KindRatio, func(p unit.Pressure, dry unit.Temperature, v float64) (moistair.State, error) {
			return moistair.FromRelativeHumidity(p, dry, unit.Fraction(v))
		}},
		{"/dew_point", q.DewPoint, unit.KindTemperature, func(p unit.Pressure, dry unit.Temperature, v float64) (moistair.State, error) {
			return moistair.FromDewPoint(p, dry, unit.Kelvin(v))
		}},
		{"/humidity_ratio", q.HumidityRatio, unit.KindHumidityRatio, func(p unit.Pressure, dry unit.Temperature, v float64) (moistair.State, error) {
			return moistair.FromHumidityRatio(p, dry, unit.KilogramPerKilogram(v))
		}},
	}
}

// airTaken is a question about air resolved.
type airTaken struct {
	air           intake.Air
	dry, humidity intake.Value
	from          func(p unit.Pressure, dry unit.Temperature, v float64) (moistair.State, error)
}

// take resolves a question. Its errors stand in r.
func (q MoistAirQuestion) take(r *Refusal) airTaken {
	a := airTaken{air: intake.TakeSite(q.Site, intake.At("/site"), r)}
	a.dry, _ = r.Resolve(q.DryBulb, intake.At("/dry_bulb"), unit.KindTemperature)
	if q.DryBulb == nil {
		r.Refuse(intake.At("/dry_bulb"), CodeMissing, "dry_bulb_missing", nil)
	}
	for _, h := range q.humidities() {
		if h.typed == nil {
			continue
		}
		if a.from != nil {
			r.Refuse(intake.At(h.member), CodeContradiction, "one_humidity_only", nil)
		}
		a.humidity, _ = r.Resolve(h.typed, intake.At(h.member), h.kind)
		a.from = h.from
	}
	if a.from == nil {
		r.Refuse(intake.At("/relative_humidity"), CodeMissing, "humidity_missing", nil)
	}
	return a
}

// MoistAir answers POST /v1/moist-air. It returns *Refusal.
func (e *Engine) MoistAir(q MoistAirQuestion, as Presentation) (MoistAirAnswer, error) {
	t := newTrail(as)
	var r Refusal
	taken := q.take(&r)
	t.air(taken.air)
	if err := r.Err(); err != nil {
		return MoistAirAnswer{}, err
	}
	s, err := taken.from(taken.air.Site, unit.Kelvin(taken.dry.SI), taken.humidity.SI)
	if err != nil {
		return MoistAirAnswer{}, refuse(t, err, &r, intake.Asked{Question: q, Air: taken.air.Site, Unsolved: unsolvedAir}, moistAirOrigins.Of)
	}
	w := airWriter{t: t, s: s, uncertain: taken.dry.Stated || taken.humidity.Stated}
	w.inputs.Set(dryBulbAxis, taken.dry.Standard)
	w.inputs.Set(humidityAxis, taken.humidity.Standard)
	w.inputs.Set(pressureAxis, taken.air.SiteStandard)
	a := w.answer()
	a.AtmosphericPressure = t.as.measure(unit.KindPressure, taken.air.Site.Pascal())
	if w.uncertain {
		t.uncertain()
	}
	t.assume(idealMoistAir, nil)
	t.source("ashrae-handbook-2017", "")
	t.step("wet_bulb", stepMoistAir, "psychrometric balance, eqs. 33 and 35", "ashrae-handbook-2017", phrase.Params{
		"dry_bulb": phrase.Quantity(a.DryBulb), "wet_bulb": phrase.Quantity(a.WetBulb),
		"humidity_ratio": phrase.Quantity(a.HumidityRatio), "relative_humidity": phrase.Quantity(a.RelativeHumidity),
	})
	a.Common = t.common()
	return a, nil
}

// airWriter writes quantities of an air state, with uncertainty where the
// question gave accuracies.
type airWriter struct {
	t         *trail
	s         moistair.State
	uncertain bool
	inputs    gum.Inputs
}

// The inputs of a state of air.
const (
	dryBulbAxis = iota
	humidityAxis
	pressureAxis
)

// answer writes all quantities of the state.
func (w airWriter) answer() MoistAirAnswer {
	return MoistAirAnswer{
		DryBulb: *w.of(unit.KindTemperature, func(s moistair.State) (float64, error) { return s.DryBulb().Kelvin(), nil }),
		WetBulb: *w.of(unit.KindTemperature, func(s moistair.State) (float64, error) { return s.WetBulb().Kelvin(), nil }),
		DewPoint: w.of(unit.KindTemperature, func(s moistair.State) (float64, error) {
			d, err := s.DewPoint()
			return d.Kelvin(), err
		}),
		RelativeHumidity: *w.of(unit.KindRatio, func(s moistair.State) (float64, error) { return s.RelativeHumidity().Fraction(), nil }),
		HumidityRatio:    *w.of(unit.KindHumidityRatio, func(s moistair.State) (float64, error) { return s.HumidityRatio().KilogramPerKilogram(), nil }),
		VaporPressure:    *w.of(unit.KindPressure, func(s moistair.State) (float64, error) { return s.VaporPressure().Pascal(), nil }),
		Enthalpy:         *w.of(unit.KindSpecificEnergy, func(s moistair.State) (float64, error) { return s.Enthalpy().JoulePerKilogram(), nil }),
		SpecificVolume:   *w.of(unit.KindSpecificVolume, func(s moistair.State) (float64, error) { return s.SpecificVolume().CubicMetrePerKilogram(), nil }),
		Density:          *w.of(unit.KindDensity, func(s moistair.State) (float64, error) { return s.Density().KilogramPerCubicMetre(), nil }),
		DegreeOfSaturation: w.of(unit.KindRatio, func(s moistair.State) (float64, error) {
			d, err := s.DegreeOfSaturation()
			return d.Fraction(), err
		}),
	}
}

func (w airWriter) of(kind unit.Kind, of func(moistair.State) (float64, error)) *Measure {
	v, err := of(w.s)
	if err != nil {
		return nil
	}
	m := w.t.as.measure(kind, v)
	if w.uncertain {
		if g, err := w.s.Slopes(of); err == nil {
			e := g.Carry(v, gum.Along(dryBulbAxis), gum.Along(humidityAxis), gum.Along(pressureAxis))
			m = w.t.as.measure(kind, v).within(w.inputs.Standard(e))
		}
	}
	return &m
}
