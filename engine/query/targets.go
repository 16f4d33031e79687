package query

import (
	"errors"
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/moistair"
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
	Reason string `json:"reason,omitempty"`
	Detail string `json:"detail,omitempty"`
	// Alternatives where there is no target.
	Alternatives []Note `json:"alternatives,omitempty"`
	Needs        []Need `json:"needs"`
	Common
} //@name TargetSuperheat

// wetBulb is the return air's wet bulb with its standard uncertainty, K, and,
// where it was computed, what it hangs on.
type wetBulb struct {
	k, u   float64
	slopes moistair.Slopes
}

// carried is the wet bulb along the readings that it was computed from and the
// air's pressure.
func (w wetBulb) carried(pressure gum.Gradient) gum.Estimate {
	return w.slopes.Carry(w.k, gum.Along(circuit.ReturnDryBulb.Axis()), gum.Along(circuit.ReturnRelativeHumidity.Axis()), pressure)
}

// returnWetBulb takes the wet bulb as read, or makes it from dry bulb and
// relative humidity at the site's pressure. A fault of the readings is noted
// in r.
func (t *trail) returnWetBulb(readings map[circuit.Reading]circuit.Measured, air atmosphere, r *Refusal) (wetBulb, bool) {
	if m, ok := readings[circuit.ReturnWetBulb]; ok {
		return wetBulb{k: m.Value, u: m.Standard}, true
	}
	dry, okDry := readings[circuit.ReturnDryBulb]
	rh, okRH := readings[circuit.ReturnRelativeHumidity]
	if !okDry || !okRH {
		return wetBulb{}, false
	}
	s, err := moistair.FromRelativeHumidity(air.site, unit.Kelvin(dry.Value), unit.Fraction(rh.Value))
	if err != nil {
		r.invalid(place{pointer: "/readings/return_relative_humidity"}, CodeOutOfRange, airFault(err))
		return wetBulb{}, false
	}
	g, err := s.Slopes(func(s moistair.State) (float64, error) { return s.WetBulb().Kelvin(), nil })
	if err != nil {
		r.invalid(place{pointer: "/readings/return_relative_humidity"}, CodeOutOfRange, airFault(err))
		return wetBulb{}, false
	}
	t.source("ashrae-handbook-2017", "")
	t.step("return_wet_bulb", "psychrometric balance at the site's pressure", "ashrae-handbook-2017", func() string {
		return fmt.Sprintf("Return air of %s and %.0f %% relative humidity has a wet bulb of %s.", t.as.say(unit.KindTemperature, dry.Value, dry.Standard), 100*rh.Value, t.as.say(unit.KindTemperature, s.WetBulb().Kelvin(), 0.1))
	})
	w := wetBulb{k: s.WetBulb().Kelvin(), slopes: g}
	var inputs gum.Inputs
	inputs.Set(circuit.ReturnDryBulb.Axis(), dry.Standard)
	inputs.Set(circuit.ReturnRelativeHumidity.Axis(), rh.Standard)
	inputs.Set(circuit.SiteAxis, air.u)
	w.u = inputs.Standard(w.carried(gum.Along(circuit.SiteAxis)))
	return w, true
}

// airFault words a psychrometric error.
func airFault(err error) string {
	for _, f := range []struct {
		err  error
		text string
	}{
		{moistair.ErrWetBulbAboveDryBulb, "a wet bulb cannot lie above the dry bulb"},
		{moistair.ErrWetBulbTooLow, "this wet bulb lies below that of perfectly dry air"},
		{moistair.ErrDewPointAboveDryBulb, "a dew point cannot lie above the dry bulb"},
		{moistair.ErrRelativeHumidity, "relative humidity lies between 0 and 100 percent"},
		{moistair.ErrHumidityRatio, "a humidity ratio is not negative"},
		{moistair.ErrSupersaturated, "this is more water than saturated air holds"},
		{moistair.ErrAboveBoiling, "water would boil at this temperature and pressure"},
		{moistair.ErrNoDewPoint, "this air is too dry for a dew point above -100 degC (-148 degF)"},
		{moistair.ErrNoWetBulb, "the wet bulb would lie below -100 degC (-148 degF)"},
	} {
		if errors.Is(err, f.err) {
			return f.text
		}
	}
	var out *moistair.RangeError
	if errors.As(err, &out) {
		return fmt.Sprintf("%s: the correlations hold from %g to %g %s", out.Quantity, out.Min, out.Max, out.Unit)
	}
	return "the air's state was not found"
}

// TargetSuperheat answers POST /v1/target-superheat. It returns *Refusal.
func (e *Engine) TargetSuperheat(q TargetSuperheatQuestion, as Presentation) (TargetSuperheatAnswer, error) {
	t := newTrail(as)
	var r Refusal
	q.System.check(&r)
	air := t.atmosphereOf(q.Site, place{pointer: "/site"}, &r)
	readings := t.measured(q.Visit, air, &r)
	if err := r.orNil(); err != nil {
		return TargetSuperheatAnswer{}, err
	}
	a := TargetSuperheatAnswer{Needs: []Need{}}
	outdoor, okOutdoor := readings[circuit.OutdoorDryBulb]
	wet, okWet := t.returnWetBulb(readings, air, &r)
	if err := r.orNil(); err != nil {
		return TargetSuperheatAnswer{}, err
	}
	const purpose = "target_superheat"
	if okOutdoor {
		m := t.measured95(unit.KindTemperature, outdoor.Value, outdoor.Standard)
		a.OutdoorDryBulb = &m
	} else {
		a.Needs = wants(a.Needs, circuit.OutdoorDryBulb.String(), purpose)
	}
	if okWet {
		m := t.measured95(unit.KindTemperature, wet.k, wet.u)
		a.ReturnWetBulb = &m
	} else {
		a.Needs = wants(a.Needs, circuit.ReturnWetBulb.String(), purpose)
	}
	t.uncertain()
	t.caution("manufacturer_figure_wins")
	switch manufacturer, ok := resolve(q.System.TargetSuperheat, place{pointer: "/system/target_superheat"}, &r, unit.KindTemperatureDiff); {
	case ok:
		m, tolerance := t.manufacturerTarget(q.System.TargetSuperheatTolerance, manufacturer, &r)
		a.TargetSuperheat, a.Tolerance, a.Basis = &m, &tolerance, "manufacturer"
	case len(a.Needs) == 2:
		r.invalid(place{pointer: "/readings"}, CodeMissing, "the target needs the outdoor dry bulb and the return wet bulb (or return dry bulb and relative humidity)")
		return TargetSuperheatAnswer{}, &r
	case len(a.Needs) > 0:
		a.Reason, a.Detail = "readings_missing", codeText("readings_missing")
	default:
		t.chartTarget(&a, outdoor, wet)
	}
	a.Common = t.common()
	return a, nil
}

// manufacturerTarget is the manufacturer's figure with the manufacturer's tolerance, or that of the
// published procedure.
func (t *trail) manufacturerTarget(tolerance *Quantity, manufacturer reading, r *Refusal) (Measure, Measure) {
	m := t.as.measure(unit.KindTemperatureDiff, manufacturer.si)
	if v, ok := resolve(tolerance, place{}, r, unit.KindTemperatureDiff); ok {
		return m, t.as.measure(unit.KindTemperatureDiff, v.si)
	}
	usual, source, status := target.SuperheatTolerance()
	t.source(source, status)
	return m, t.as.measure(unit.KindTemperatureDiff, usual.Kelvin())
}

func (t *trail) chartTarget(a *TargetSuperheatAnswer, outdoor circuit.Measured, wet wetBulb) {
	g, err := target.Superheat(unit.Kelvin(outdoor.Value), unit.Kelvin(wet.k))
	var none *target.UnavailableError
	if errors.As(err, &none) {
		a.Reason, a.Detail, a.Alternatives = t.unavailableTarget(none)
		return
	}
	if err != nil {
		a.Reason, a.Detail = CodeNotConverged, codeText(CodeNotConverged)
		return
	}
	u := g.Within(unit.KelvinDiff(outdoor.Standard), unit.KelvinDiff(wet.u)).Kelvin()
	m := t.measured95(unit.KindTemperatureDiff, g.Value.Kelvin(), u)
	tolerance := t.as.measure(unit.KindTemperatureDiff, g.Tolerance.Kelvin())
	a.TargetSuperheat, a.Tolerance, a.Basis = &m, &tolerance, "charging_chart"
	t.source(g.Source, g.Status)
	t.assume("nominal_airflow", codeText("nominal_airflow"))
	t.step("target_superheat", "table RA3.2-2, bilinear between its cells", g.Source, func() string {
		return fmt.Sprintf("With %s outdoors and a return wet bulb of %s a fixed metering device should show %s of superheat, give or take %s (95 %%).",
			t.as.say(unit.KindTemperature, outdoor.Value, outdoor.Standard), t.as.say(unit.KindTemperature, wet.k, wet.u),
			t.as.say(unit.KindTemperatureDiff, g.Value.Kelvin(), CoverageFactor*u), t.as.say(unit.KindTemperatureDiff, CoverageFactor*u, CoverageFactor*u))
	})
}

// unavailableTarget words why a table has no target.
func (t *trail) unavailableTarget(none *target.UnavailableError) (reason, detail string, alternatives []Note) {
	reason, detail = string(none.Reason), codeText(string(none.Reason))
	for _, l := range none.Limits {
		detail += fmt.Sprintf(" %s is %s, the table ends at %s.", spoken(l.Input), t.as.say(unit.KindTemperature, l.Value.Kelvin(), 0.1), t.as.say(unit.KindTemperature, l.Limit.Kelvin(), 0.5))
	}
	for _, alt := range none.Alternatives {
		alternatives = append(alternatives, *note(string(alt)))
	}
	return reason, detail, alternatives
}
