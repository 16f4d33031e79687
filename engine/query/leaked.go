package query

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/leak"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// LeakedBlendQuestion asks what a blend has become after a leak.
type LeakedBlendQuestion struct {
	Visit
	// FillFraction is the share of the volume that liquid fills at the start; or give volume and charge.
	FillFraction *Quantity `json:"fill_fraction,omitempty"`
	// Volume of the whole vessel or circuit.
	Volume *Quantity `json:"volume,omitempty"`
	// Charge in it at the start; the system's charge serves where this is absent.
	Charge *Quantity `json:"charge,omitempty"`
	// Temperature at which it leaks, the same all over and all the time.
	Temperature *Quantity `json:"temperature" binding:"required"`
	// PhaseLeaving through the leak.
	PhaseLeaving string `json:"phase_leaving" binding:"required" enums:"vapor,liquid"`
	// FractionLost of the mass.
	FractionLost *Quantity `json:"fraction_lost" binding:"required"`
} //@name LeakedBlendQuestion

// LeakedBlendAnswer is the blend after the leak and what reading it by the
// nominal table would do.
type LeakedBlendAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-407C"`
	// FractionLost that was reached.
	FractionLost Measure `json:"fraction_lost"`
	// Ending: reached, or pressure_balanced where the pressure came down to the atmosphere's before.
	Ending string `json:"ending" enums:"reached,pressure_balanced"`
	// LiquidGone is the fraction lost at which no liquid was left; null where some is.
	LiquidGone *Measure `json:"liquid_gone" extensions:"x-nullable"`
	// Pressure left in the vessel at the temperature.
	Pressure Measure `json:"pressure"`
	// Nominal, Remaining and Released compositions.
	Nominal   []ComponentEntry `json:"nominal"`
	Remaining []ComponentEntry `json:"remaining"`
	Released  []ComponentEntry `json:"released"`
	// Shifts of the saturation lines of what is left against the nominal blend.
	Shifts []Shift `json:"shifts"`
	// SuperheatError is what superheat read by the nominal table exceeds the true one by.
	SuperheatError *Measure `json:"superheat_error" extensions:"x-nullable"`
	// SubcoolingError is what subcooling read by the nominal table exceeds the true one by.
	SubcoolingError *Measure `json:"subcooling_error" extensions:"x-nullable"`
	// WithinTolerance of the designation; null where no tolerance is published.
	WithinTolerance Judgement `json:"within_tolerance"`
	// ToppedUp is what filling up to the first mass with nominal blend gives.
	ToppedUp ToppedUp `json:"topped_up"`
	// Path on the way there.
	Path []LeakPoint `json:"path"`
	Common
} //@name LeakedBlendAnswer

// Shift is how far a saturation line moved at a pressure.
type Shift struct {
	Line     string  `json:"line" enums:"bubble,dew"`
	Pressure Measure `json:"pressure"`
	// Nominal and Remaining saturation temperature at that pressure.
	Nominal   Measure `json:"nominal_temperature"`
	Remaining Measure `json:"remaining_temperature"`
	Shift     Measure `json:"shift"`
} //@name Shift

// Judgement is yes or no, or null with the reason.
type Judgement struct {
	Value  *bool  `json:"value" extensions:"x-nullable"`
	Reason string `json:"reason,omitempty"`
} //@name Judgement

// ToppedUp is a composition after topping up.
type ToppedUp struct {
	Composition     []ComponentEntry `json:"composition"`
	WithinTolerance Judgement        `json:"within_tolerance"`
} //@name ToppedUp

// LeakPoint is a moment on the way.
type LeakPoint struct {
	FractionLost Measure          `json:"fraction_lost"`
	Pressure     Measure          `json:"pressure"`
	LiquidVolume Measure          `json:"liquid_volume"`
	Remaining    []ComponentEntry `json:"remaining"`
} //@name LeakPoint

// leakedBlend is a question resolved.
type leakedBlend struct {
	intake.Case
	// vessel makes the vessel at a temperature in K.
	vessel      func(s *equilibrium.System, t float64) (leak.Vessel, []float64, error)
	temperature float64 // K
	leaving     leak.Phase
	lost        float64
}

// takeLeak resolves a question. Its errors stand in r.
func (e *Engine) takeLeak(q LeakedBlendQuestion, r *Refusal) leakedBlend {
	l := leakedBlend{Case: intake.Take(q.Visit, e.catalogue, r), leaving: leak.Vapor}
	temperature, _ := r.Resolve(q.Temperature, intake.At("/temperature"), unit.KindTemperature)
	lost, okLost := r.Resolve(q.FractionLost, intake.At("/fraction_lost"), unit.KindRatio)
	l.temperature, l.lost = temperature.SI, lost.SI
	if q.Temperature == nil {
		r.Refuse(intake.At("/temperature"), CodeMissing, "temperature_missing", nil)
	}
	if q.FractionLost == nil {
		r.Refuse(intake.At("/fraction_lost"), CodeMissing, "fraction_lost_missing", nil)
	}
	if okLost && !(lost.SI >= 0 && lost.SI < 1) {
		r.Refuse(intake.At("/fraction_lost/value"), CodeOutOfRange, "fraction_lost_out_of_range", nil)
	}
	r.OneOf(intake.At("/phase_leaving"), q.PhaseLeaving, "vapor", "liquid")
	switch q.PhaseLeaving {
	case "":
		r.Refuse(intake.At("/phase_leaving"), CodeMissing, "phase_leaving_missing", nil)
	case "liquid":
		l.leaving = leak.Liquid
	}
	l.vessel = vesselOf(q, l.Case, r)
	return l
}

// LeakedBlend answers POST /v1/leaked-blend. It returns *Refusal or ErrStopped.
func (e *Engine) LeakedBlend(q LeakedBlendQuestion, as Presentation) (LeakedBlendAnswer, error) {
	t := newTrail(as)
	var r Refusal
	l := e.takeLeak(q, &r)
	t.visit(l.Case)
	if err := r.Err(); err != nil {
		return LeakedBlendAnswer{}, err
	}
	path, err := l.follow(e.stop)
	if errors.Is(err, leak.ErrStopped) {
		return LeakedBlendAnswer{}, ErrStopped
	}
	if err != nil {
		asked := t.asked(q, l.Case)
		asked.Unsolved = unsolvedLeak(as, l.Refrigerant)
		return LeakedBlendAnswer{}, refuse(t, err, &r, asked, leakOrigins.Of)
	}
	t.refrigerant(l.Refrigerant)
	t.source(mixtureModel, "")
	t.assume(leakIsothermal, nil)
	t.assume(leakWellMixed, nil)
	a := t.leaked(l.Refrigerant, path)
	if err := e.shifts(&a, t, l.Case, path.Points[len(path.Points)-1]); err != nil {
		return LeakedBlendAnswer{}, err
	}
	t.caution(noVenting, chargeBlendAsLiquid, recoverBeforeOpening)
	a.Common = t.common()
	return a, nil
}

// follow lets the blend leak.
func (l leakedBlend) follow(stop func() bool) (leak.Path, error) {
	vessel, amounts, err := l.vessel(l.Refrigerant.System(), l.temperature)
	if err != nil {
		return leak.Path{}, err
	}
	return leak.Follow(vessel, amounts, l.Refrigerant.MolarMasses(), l.leaving, leak.Fractions(l.lost), l.Air.Site.Pascal(), stop)
}

// unsolvedLeak notes what a leak has no answer for.
func unsolvedLeak(as Presentation, f *refrigerant.Refrigerant) func(*Refusal, intake.Place, error) {
	return func(r *Refusal, at intake.Place, err error) {
		if errors.Is(err, leak.ErrNotFollowed) {
			r.Refuse(at, CodeNotConverged, "leak_not_followed", nil)
			return
		}
		unsolvedBy(as, f)(r, at, err)
	}
}

// leaked writes the blend on its way and at the end.
func (t *trail) leaked(f *refrigerant.Refrigerant, path leak.Path) LeakedBlendAnswer {
	molar := f.MolarMasses()
	start, end := path.Points[0], path.Points[len(path.Points)-1]
	a := LeakedBlendAnswer{
		Refrigerant: f.Designation, Nominal: t.as.shares(f), Ending: "reached",
		FractionLost: t.as.measure(unit.KindRatio, end.Lost), Pressure: t.as.measure(unit.KindPressure, end.Pressure),
	}
	if path.Ending == leak.Balanced {
		a.Ending = "pressure_balanced"
	}
	a.LiquidGone = t.as.known(unit.KindRatio, path.LiquidGone)
	for _, p := range path.Points {
		a.Path = append(a.Path, LeakPoint{
			FractionLost: t.as.measure(unit.KindRatio, p.Lost), Pressure: t.as.measure(unit.KindPressure, p.Pressure),
			LiquidVolume: t.as.measure(unit.KindRatio, p.LiquidVolume), Remaining: entries(f, leak.MassFractions(p.Amounts, molar)),
		})
	}
	rest := leak.MassFractions(end.Amounts, molar)
	a.Remaining, a.WithinTolerance = entries(f, rest), within(f, rest)
	a.Released = entries(f, leak.Released(start.Amounts, end.Amounts, molar))
	topped := leak.ToppedUp(rest, f.MassFractions(), end.Lost)
	a.ToppedUp = ToppedUp{Composition: entries(f, topped), WithinTolerance: within(f, topped)}
	return a
}

// vesselOf resolves how full the vessel is: a liquid share of its volume, or a
// charge in a volume.
func vesselOf(q LeakedBlendQuestion, c intake.Case, r *Refusal) func(*equilibrium.System, float64) (leak.Vessel, []float64, error) {
	share, okShare := r.Resolve(q.FillFraction, intake.At("/fill_fraction"), unit.KindRatio)
	volume, okVolume := r.Resolve(q.Volume, intake.At("/volume"), unit.KindVolume)
	charge, okCharge := r.Resolve(q.Charge, intake.At("/charge"), unit.KindMass)
	if q.Charge == nil && q.FillFraction == nil && c.Charge != nil {
		charge, okCharge = *c.Charge, true
	}
	switch {
	case q.FillFraction != nil && (q.Volume != nil || q.Charge != nil):
		r.Refuse(intake.At("/fill_fraction"), CodeContradiction, "fill_fraction_or_charge", nil)
	case okShare && !(share.SI > 0 && share.SI < 1):
		r.Refuse(intake.At("/fill_fraction/value"), CodeOutOfRange, "fill_fraction_out_of_range", nil)
	case okShare:
		return func(s *equilibrium.System, t float64) (leak.Vessel, []float64, error) {
			return leak.Filled(s, t, share.SI)
		}
	case okVolume && okCharge && volume.SI > 0 && charge.SI > 0 && c.Refrigerant != nil:
		rho := charge.SI / volume.SI / c.Refrigerant.MolarMass()
		return func(s *equilibrium.System, t float64) (leak.Vessel, []float64, error) { return leak.Charged(s, t, rho) }
	case q.FillFraction == nil:
		r.Refuse(intake.At("/fill_fraction"), CodeMissing, "fill_missing", nil)
	}
	return nil
}

// entries write mass fractions of the components of f.
func entries(f *refrigerant.Refrigerant, mass []float64) []ComponentEntry {
	list := []ComponentEntry{}
	for i, x := range f.MoleFractions(mass) {
		list = append(list, ComponentEntry{Refrigerant: f.Components[i].Designation, MassPercent: significant(100*mass[i], 7), MolePercent: significant(100*x, 7)})
	}
	return list
}

// within judges mass fractions by the published tolerances of the designation.
func within(f *refrigerant.Refrigerant, mass []float64) Judgement {
	yes, published := f.WithinTolerance(mass)
	if !published {
		return Judgement{Reason: notGiven}
	}
	return Judgement{Value: &yes}
}

// shifts compares the lines of what is left with the nominal ones, at the
// pressures that were read or at customary ones.
func (e *Engine) shifts(a *LeakedBlendAnswer, t *trail, c intake.Case, end leak.Point) error {
	nominal, err := e.lines(c.Refrigerant)
	if err != nil {
		return err
	}
	rest, err := end.System(c.Refrigerant.System().Mixture())
	if err != nil {
		return err
	}
	// One composition, two points: not worth a curve.
	left := saturation.Rigorous(rest)
	a.Shifts = []Shift{}
	for _, line := range []struct {
		of   equilibrium.Line
		read circuit.Reading
		into **Measure
	}{
		{equilibrium.DewLine, circuit.SuctionPressure, &a.SuperheatError},
		{equilibrium.BubbleLine, circuit.LiquidPressure, &a.SubcoolingError},
	} {
		p := c.Readings[line.read].Value
		if p == 0 {
			usual, from := leak.UsualTemperature(line.of)
			at, err := nominal.AtTemperature(line.of, usual)
			if err != nil {
				continue
			}
			p = at.Pressure
			t.assume(usualServiceTemperatures, nil)
			t.source(from.Source, from.Status)
		}
		if s, ok := leak.ShiftOf(nominal, left, line.of, p); ok {
			*line.into = new(t.as.measure(unit.KindTemperatureDiff, s.ReadError()))
			a.Shifts = append(a.Shifts, t.shift(s))
		}
	}
	return nil
}

// shift writes how far a line moved.
func (t *trail) shift(s leak.Shift) Shift {
	name, step := "dew", stepDewShift
	if s.Line == equilibrium.BubbleLine {
		name, step = "bubble", stepBubbleShift
	}
	out := Shift{
		Line: name, Pressure: t.as.measure(unit.KindPressure, s.Pressure), Nominal: t.as.measure(unit.KindTemperature, s.Nominal),
		Remaining: t.as.measure(unit.KindTemperature, s.Rest), Shift: t.as.measure(unit.KindTemperatureDiff, s.Kelvin()),
	}
	t.step(name+"_shift", step, "saturation of what is left - nominal saturation, at the same pressure", mixtureModel, phrase.Params{
		"pressure": phrase.Quantity(out.Pressure), "nominal": phrase.Quantity(out.Nominal), "remaining": phrase.Quantity(out.Remaining),
	})
	return out
}
