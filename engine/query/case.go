package query

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// commonPractice is the source key of figures that the trade uses and nobody
// in particular published.
const commonPractice = "common-practice"

// visit notes what a case rests on: the air, and the accuracies of instruments.
func (t *trail) visit(c intake.Case) {
	t.air(c.Air)
	t.instruments(c.Taken)
}

// air notes where the pressure of the air comes from.
func (t *trail) air(a intake.Air) {
	pressure := func(p unit.Pressure) phrase.Quantity { return t.as.said(unit.KindPressure, p.Pascal(), 0) }
	difference := func(pa float64) phrase.Quantity { return t.as.said(unit.KindPressureDiff, pa, 0) }
	switch a.Basis {
	case intake.MeasuredWithoutAccuracy:
		t.assume(barometerAccuracy, phrase.Params{"accuracy": difference(a.SiteStandard)})
		t.source(commonPractice, refdata.FromMemory)
	case intake.FromAltitude:
		t.assume(standardAtmosphere, phrase.Params{"pressure": pressure(a.Site), "weather": difference(a.SiteStandard)})
		t.source("ashrae-handbook-2017", "")
		t.source(commonPractice, refdata.FromMemory)
	case intake.SeaLevel:
		high := unit.Foot(5000)
		there, _ := moistair.StandardPressure(high) // well within its range
		t.assume(seaLevel, phrase.Params{
			"pressure": pressure(a.Site), "weather": difference(a.SiteStandard),
			"altitude": t.as.said(unit.KindLength, high.Metre(), 0), "less": difference(a.Site.Pascal() - there.Pascal()),
		})
		t.source(commonPractice, refdata.FromMemory)
	}
	if a.GaugesCountFromSeaLevel {
		t.assume(gaugeZeroSeaLevel, phrase.Params{"pressure": pressure(a.Zero)})
	}
}

// instruments notes which accuracies were assumed, and where the others come
// from.
func (t *trail) instruments(taken intake.Taken) {
	for _, l := range taken.Limits {
		t.source(l.Source, l.Status)
	}
	if len(taken.ByDefault) == 0 {
		return
	}
	t.assume(defaultInstruments, t.defaultLimits(namesOf(taken.ByDefault)))
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

// refuseAs notes a reason at a place.
func refuseAs(r *Refusal, at intake.Place, why Note) { r.RefuseWith(at, why.Code, why.Params) }

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
