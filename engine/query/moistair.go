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

// MoistAir answers POST /v1/moist-air. It returns *Refusal.
func (e *Engine) MoistAir(q MoistAirQuestion, as Presentation) (MoistAirAnswer, error) {
	t := newTrail(as)
	var r Refusal
	air := intake.TakeSite(q.Site, intake.At("/site"), &r)
	t.air(air)
	dry, okDry := r.Resolve(q.DryBulb, intake.At("/dry_bulb"), unit.KindTemperature)
	if q.DryBulb == nil {
		r.Refuse(intake.At("/dry_bulb"), CodeMissing, "dry_bulb_missing", nil)
	}
	var humidity intake.Value
	var at intake.Place
	var from func(v float64) (moistair.State, error)
	given := 0
	p, d := air.Site, unit.Kelvin(dry.SI)
	for _, m := range []struct {
		name string
		q    *Quantity
		kind unit.Kind
		from func(v float64) (moistair.State, error)
	}{
		{"wet_bulb", q.WetBulb, unit.KindTemperature, func(v float64) (moistair.State, error) { return moistair.FromWetBulb(p, d, unit.Kelvin(v)) }},
		{"relative_humidity", q.RelativeHumidity, unit.KindRatio, func(v float64) (moistair.State, error) {
			return moistair.FromRelativeHumidity(p, d, unit.Fraction(v))
		}},
		{"dew_point", q.DewPoint, unit.KindTemperature, func(v float64) (moistair.State, error) { return moistair.FromDewPoint(p, d, unit.Kelvin(v)) }},
		{"humidity_ratio", q.HumidityRatio, unit.KindHumidityRatio, func(v float64) (moistair.State, error) {
			return moistair.FromHumidityRatio(p, d, unit.KilogramPerKilogram(v))
		}},
	} {
		if m.q == nil {
			continue
		}
		if given++; given > 1 {
			r.Refuse(intake.At("/"+m.name), CodeContradiction, "one_humidity_only", nil)
		}
		at, from = intake.At("/"+m.name), m.from
		humidity, _ = r.Resolve(m.q, at, m.kind)
	}
	if given == 0 {
		r.Refuse(intake.At("/relative_humidity"), CodeMissing, "humidity_missing", nil)
	}
	if err := r.Err(); err != nil || !okDry {
		return MoistAirAnswer{}, err
	}
	s, err := from(humidity.SI)
	if err != nil {
		return MoistAirAnswer{}, refuse(err, &r, asked{q, as, air.Site, unsolvedAir}, func(bad *moistair.InputError) origin { return moistAirOrigins[bad.Input] })
	}

	w := airWriter{t: t, s: s, uncertain: dry.Stated || humidity.Stated}
	w.inputs.Set(dryBulbAxis, dry.Standard)
	w.inputs.Set(humidityAxis, humidity.Standard)
	w.inputs.Set(pressureAxis, air.SiteStandard)
	a := MoistAirAnswer{
		AtmosphericPressure: t.as.measure(unit.KindPressure, air.Site.Pascal()),
		DryBulb:             *w.of(unit.KindTemperature, func(s moistair.State) (float64, error) { return s.DryBulb().Kelvin(), nil }),
		WetBulb:             *w.of(unit.KindTemperature, func(s moistair.State) (float64, error) { return s.WetBulb().Kelvin(), nil }),
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
	if w.uncertain {
		t.uncertain()
	}
	t.assume(idealMoistAir, nil)
	t.source("ashrae-handbook-2017", "")
	t.step("wet_bulb", stepMoistAir, "psychrometric balance, eqs. 33 and 35", "ashrae-handbook-2017", func() phrase.Params {
		return phrase.Params{
			"dry_bulb": phrase.Quantity(a.DryBulb), "wet_bulb": phrase.Quantity(a.WetBulb),
			"humidity_ratio": phrase.Quantity(a.HumidityRatio), "relative_humidity": phrase.Quantity(a.RelativeHumidity),
		}
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

func (w airWriter) of(kind unit.Kind, of func(moistair.State) (float64, error)) *Measure {
	v, err := of(w.s)
	if err != nil {
		return nil
	}
	m := w.t.as.measure(kind, v)
	if w.uncertain {
		if g, err := w.s.Slopes(of); err == nil {
			e := g.Carry(v, gum.Along(dryBulbAxis), gum.Along(humidityAxis), gum.Along(pressureAxis))
			m = w.t.measured95(kind, v, w.inputs.Standard(e))
		}
	}
	return &m
}
