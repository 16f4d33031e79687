package query

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// TargetSuperheatQuestion brings the outdoor dry bulb and the return wet bulb,
// or dry bulb and humidity in its place.
type TargetSuperheatQuestion struct {
	Visit
} //@name TargetSuperheatQuestion

// TargetSuperheatAnswer is the superheat that a system with a fixed metering
// device should show.
type TargetSuperheatAnswer struct {
	// TargetSuperheat at the suction service port, null where the method gives none.
	TargetSuperheat *Measure `json:"target_superheat" extensions:"x-nullable"`
	// Tolerance within which the procedure passes a reading.
	Tolerance *Measure `json:"tolerance,omitempty"`
	// ReturnWetBulb that was used, read or computed.
	ReturnWetBulb  *Measure `json:"return_wet_bulb,omitempty"`
	OutdoorDryBulb *Measure `json:"outdoor_dry_bulb,omitempty"`
	// Basis of the target.
	Basis string `json:"basis,omitempty" enums:"manufacturer,charging_chart"`
	// Reason why there is no target.
	Reason *Note `json:"reason,omitempty"`
	// Limits of the table that the conditions lie beyond.
	Limits []Note `json:"limits,omitempty"`
	// Alternatives where there is no target.
	Alternatives []Note `json:"alternatives,omitempty"`
	Needs        []Need `json:"needs"`
	Common
} //@name TargetSuperheatAnswer

// returnWetBulb is the wet bulb of the return air where the readings lead to one.
// What is wrong with them is noted in r.
func (t *trail) returnWetBulb(taken intake.Taken, air intake.Air, r *Refusal) (circuit.WetBulb, bool) {
	w, known, err := circuit.WetBulbOf(taken.Readings, gum.Uncertain{Value: air.Site.Pascal(), Standard: air.SiteStandard})
	if err != nil {
		_ = refuse(t, err, r, intake.Asked{ReadingsAt: taken.ReadingsAt, Unsolved: unsolvedAir}, returnAirOrigins.Of)
		return circuit.WetBulb{}, false
	}
	if !w.Computed {
		return w, known
	}
	t.source("ashrae-handbook-2017", "")
	dry, humidity := taken.Readings[circuit.ReturnDryBulb], taken.Readings[circuit.ReturnRelativeHumidity]
	t.step("return_wet_bulb", stepReturnWetBulb, "psychrometric balance at the site's pressure", "ashrae-handbook-2017", phrase.Params{
		"return_dry_bulb":          t.as.said(unit.KindTemperature, dry.Value, dry.Standard),
		"return_relative_humidity": t.as.said(unit.KindRatio, humidity.Value, humidity.Standard),
		"return_wet_bulb":          t.as.said(unit.KindTemperature, w.Value, w.Standard),
	})
	return w, known
}

// unsolvedAir notes what psychrometrics has no answer for.
func unsolvedAir(r *Refusal, at intake.Place, err error) {
	for _, f := range []struct {
		err error
		why phrase.Code
	}{
		{moistair.ErrWetBulbAboveDryBulb, "wet_bulb_above_dry_bulb"},
		{moistair.ErrWetBulbTooLow, "wet_bulb_of_no_air"},
		{moistair.ErrDewPointAboveDryBulb, "dew_point_above_dry_bulb"},
		{moistair.ErrRelativeHumidity, "relative_humidity_out_of_range"},
		{moistair.ErrHumidityRatio, "humidity_ratio_negative"},
		{moistair.ErrSupersaturated, "more_than_saturated"},
		{moistair.ErrAboveBoiling, "above_boiling"},
		{moistair.ErrNoDewPoint, "too_dry_for_dew_point"},
		{moistair.ErrNoWetBulb, "wet_bulb_too_cold"},
	} {
		if errors.Is(err, f.err) {
			r.Refuse(at, CodeOutOfRange, f.why, nil)
			return
		}
	}
	r.Refuse(at, CodeOutOfRange, "air_state_not_found", nil)
}

// TargetSuperheat answers POST /v1/target-superheat. It returns *Refusal.
func (e *Engine) TargetSuperheat(q TargetSuperheatQuestion, as Presentation) (TargetSuperheatAnswer, error) {
	t := newTrail(as)
	var r Refusal
	kit := intake.TakeSystem(q.System, intake.At("/system"), &r)
	air := intake.TakeSite(q.Site, intake.At("/site"), &r)
	taken := intake.TakeReadings(q.Readings, q.Instruments, air, intake.At("/readings"), intake.At("/instruments"), &r)
	t.air(air)
	t.instruments(taken)
	if err := r.Err(); err != nil {
		return TargetSuperheatAnswer{}, err
	}
	a := TargetSuperheatAnswer{Needs: []Need{}}
	outdoor, okOutdoor := taken.Readings[circuit.OutdoorDryBulb]
	wet, okWet := t.returnWetBulb(taken, air, &r)
	if err := r.Err(); err != nil {
		return TargetSuperheatAnswer{}, err
	}
	condition := func(of circuit.Reading, u gum.Uncertain, known bool) *Measure {
		if !known {
			a.Needs = wants(a.Needs, of.String(), "target_superheat")
			return nil
		}
		return t.as.some(unit.KindTemperature, &u)
	}
	a.OutdoorDryBulb = condition(circuit.OutdoorDryBulb, outdoor.Uncertain(), okOutdoor)
	a.ReturnWetBulb = condition(circuit.ReturnWetBulb, wet.Uncertain, okWet)
	t.uncertain()
	t.caution(manufacturerFigureWins)
	switch {
	case kit.Superheat != nil:
		t.manufacturerTarget(&a, *kit.Superheat)
	case len(a.Needs) == 2:
		r.Refuse(intake.At("/readings"), CodeMissing, "target_readings_missing", nil)
		return TargetSuperheatAnswer{}, &r
	case len(a.Needs) > 0:
		a.Reason = new(note(readingsMissing))
	default:
		t.chartTarget(&a, outdoor, wet)
	}
	a.Common = t.common()
	return a, nil
}

// manufacturerTarget is the manufacturer's figure with the manufacturer's
// tolerance, or that of the published procedure.
func (t *trail) manufacturerTarget(a *TargetSuperheatAnswer, figure intake.Target) {
	tolerance, source, status := target.SuperheatTolerance()
	if figure.Tolerance != nil {
		tolerance, source = *figure.Tolerance, ""
	}
	t.source(source, status)
	a.Basis = "manufacturer"
	a.TargetSuperheat = new(t.as.measure(unit.KindTemperatureDiff, figure.Value.Kelvin()))
	a.Tolerance = new(t.as.measure(unit.KindTemperatureDiff, tolerance.Kelvin()))
}

// chartTarget is the target of the published table, or why it has none.
func (t *trail) chartTarget(a *TargetSuperheatAnswer, outdoor circuit.Measured, wet circuit.WetBulb) {
	g, err := target.Superheat(unit.Kelvin(outdoor.Value), unit.Kelvin(wet.Value))
	if err != nil {
		a.Reason, a.Limits, a.Alternatives = t.unavailableTarget(err)
		return
	}
	u := g.Within(unit.KelvinDiff(outdoor.Standard), unit.KelvinDiff(wet.Standard)).Kelvin()
	a.Basis = "charging_chart"
	a.TargetSuperheat = new(t.as.measure(unit.KindTemperatureDiff, g.Value.Kelvin()).within(u))
	a.Tolerance = new(t.as.measure(unit.KindTemperatureDiff, g.Tolerance.Kelvin()))
	t.source(g.Source, g.Status)
	t.assume(nominalAirflow, nil)
	t.step("target_superheat", stepTargetSuperheat, "table RA3.2-2, bilinear between its cells", g.Source, phrase.Params{
		"outdoor_dry_bulb": t.as.said(unit.KindTemperature, outdoor.Value, outdoor.Standard),
		"return_wet_bulb":  t.as.said(unit.KindTemperature, wet.Value, wet.Standard),
		"target_superheat": phrase.Quantity(*a.TargetSuperheat),
	})
}

// targetReadings are what tables of targets are read by.
var targetReadings = map[target.Given]circuit.Reading{
	target.OutdoorDryBulb: circuit.OutdoorDryBulb, target.ReturnDryBulb: circuit.ReturnDryBulb, target.ReturnWetBulb: circuit.ReturnWetBulb,
}

// unavailableTarget words why a table has no target.
func (t *trail) unavailableTarget(err error) (reason *Note, limits, alternatives []Note) {
	none, ok := errors.AsType[*target.UnavailableError](err)
	if !ok {
		return new(note(targetNotFound)), nil, nil
	}
	for _, l := range none.Limits {
		limits = append(limits, say(beyondTable, phrase.Params{
			"reading": targetReadings[l.Input].String(), "value": t.as.said(unit.KindTemperature, l.Value.Kelvin(), 0), "limit": t.as.said(unit.KindTemperature, l.Limit.Kelvin(), 0),
		}))
	}
	return new(note(none.Reason)), limits, notes(none.Alternatives)
}
