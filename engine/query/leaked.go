package query

import (
	"errors"
	"fmt"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/leak"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
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
} //@name LeakedBlend

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

// Where the shift is judged when no pressures are given: the nominal blend
// evaporating at 40 degF and condensing at 105 degF, common practice in comfort
// cooling, no single source.
const (
	usualEvaporating = (40 + 459.67) / 1.8
	usualCondensing  = (105 + 459.67) / 1.8
)

// LeakedBlend answers POST /v1/leaked-blend. It returns *Refusal or ErrStopped.
func (e *Engine) LeakedBlend(q LeakedBlendQuestion, as Presentation) (LeakedBlendAnswer, error) {
	t := newTrail(as)
	var r Refusal
	c := intake.Take(q.Visit, e.catalogue, &r)
	f, air, readings := c.Refrigerant, c.Air, c.Readings
	t.visit(c)
	temp, okTemp := r.Resolve(q.Temperature, intake.At("/temperature"), unit.KindTemperature)
	lost, okLost := r.Resolve(q.FractionLost, intake.At("/fraction_lost"), unit.KindRatio)
	for _, m := range []struct {
		name string
		q    *Quantity
	}{{"temperature", q.Temperature}, {"fraction_lost", q.FractionLost}} {
		if m.q == nil {
			r.Refuse(intake.At("/"+m.name), CodeMissing, "the "+words(m.name)+" is missing")
		}
	}
	if okLost && !(lost.SI >= 0 && lost.SI < 1) {
		r.Refuse(intake.At("/fraction_lost/value"), CodeOutOfRange, "the share lost lies from 0 to below 100 percent")
	}
	r.OneOf(intake.At("/phase_leaving"), q.PhaseLeaving, "vapor", "liquid")
	if q.PhaseLeaving == "" {
		r.Refuse(intake.At("/phase_leaving"), CodeMissing, "does vapor or liquid leave?")
	}
	fill := vesselOf(q, c, &r)
	if err := r.Err(); err != nil || !okTemp {
		return LeakedBlendAnswer{}, err
	}
	s := f.System()
	vessel, amounts, err := fill(s, temp.SI)
	if err != nil {
		if errors.Is(err, equilibrium.ErrNoPhase) {
			r.Refuse(intake.At("/charge"), CodeOutOfRange, "at this temperature the charge in this volume is liquid or vapor alone: a single phase leaks without changing")
			return LeakedBlendAnswer{}, &r
		}
		refuseAs(&r, intake.At("/temperature"), noSaturation(t.as, f, err))
		return LeakedBlendAnswer{}, &r
	}
	leaving := leak.Vapor
	if q.PhaseLeaving == "liquid" {
		leaving = leak.Liquid
	}
	molar := make([]float64, len(amounts))
	for i := range molar {
		molar[i] = s.Mixture().Fluid(i).MolarMass
	}
	path, err := leak.Follow(vessel, amounts, molar, leaving, stations(lost.SI), air.Site.Pascal(), e.stop)
	switch {
	case errors.Is(err, leak.ErrStopped):
		return LeakedBlendAnswer{}, ErrStopped
	case err != nil:
		r.Refuse(intake.At("/fraction_lost"), CodeNotConverged, "the balance of this leak could not be followed so far")
		return LeakedBlendAnswer{}, &r
	}
	t.refrigerant(f)
	t.source(mixtureModel, "")
	t.assume(leakIsothermal, nil)
	t.assume(leakWellMixed, nil)
	a := LeakedBlendAnswer{Refrigerant: f.Designation, Nominal: t.as.shares(f), Ending: "reached"}
	end := path.Points[len(path.Points)-1]
	if path.Ending == leak.Balanced {
		a.Ending = "pressure_balanced"
	}
	if !math.IsNaN(path.LiquidGone) {
		m := t.as.measure(unit.KindRatio, path.LiquidGone)
		a.LiquidGone = &m
	}
	a.FractionLost = t.as.measure(unit.KindRatio, end.Lost)
	a.Pressure = t.as.measure(unit.KindPressure, end.Pressure)
	w := massShares(end.Amounts, molar)
	a.Remaining = entries(f, w, molar)
	a.Released = entries(f, released(amounts, end.Amounts, molar), molar)
	for _, p := range path.Points {
		a.Path = append(a.Path, LeakPoint{
			FractionLost: t.as.measure(unit.KindRatio, p.Lost), Pressure: t.as.measure(unit.KindPressure, p.Pressure),
			LiquidVolume: t.as.measure(unit.KindRatio, p.LiquidVolume), Remaining: entries(f, massShares(p.Amounts, molar), molar),
		})
	}
	a.WithinTolerance = within(f, w)
	nominal := make([]float64, len(w))
	topped := make([]float64, len(w))
	for i, c := range f.Components {
		nominal[i] = c.MassFraction
		topped[i] = (1-end.Lost)*w[i] + end.Lost*nominal[i]
	}
	a.ToppedUp = ToppedUp{Composition: entries(f, topped, molar), WithinTolerance: within(f, topped)}
	if err := e.shifts(&a, t, f, end, servicePressures{readings[circuit.SuctionPressure].Value, readings[circuit.LiquidPressure].Value}); err != nil {
		return LeakedBlendAnswer{}, err
	}
	t.caution(noVenting, chargeBlendAsLiquid, recoverBeforeOpening)
	a.Common = t.common()
	return a, nil
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
		r.Refuse(intake.At("/fill_fraction"), CodeContradiction, "give the liquid share of the volume, or volume and charge, not both")
	case okShare && !(share.SI > 0 && share.SI < 1):
		r.Refuse(intake.At("/fill_fraction/value"), CodeOutOfRange, "the liquid share of the volume lies between 0 and 100 percent")
	case okShare:
		return func(s *equilibrium.System, t float64) (leak.Vessel, []float64, error) {
			return leak.Filled(s, t, share.SI)
		}
	case okVolume && okCharge && volume.SI > 0 && charge.SI > 0 && c.Refrigerant != nil:
		rho := charge.SI / volume.SI / c.Refrigerant.MolarMass()
		return func(s *equilibrium.System, t float64) (leak.Vessel, []float64, error) { return leak.Charged(s, t, rho) }
	case q.FillFraction == nil:
		r.Refuse(intake.At("/fill_fraction"), CodeMissing, "how full: give fill_fraction, or volume and charge")
	}
	return nil
}

// stations are the fractions at which the path is kept: a dozen even steps and
// the end.
func stations(end float64) []float64 {
	const steps = 12
	var out []float64
	for i := range steps {
		if f := end * float64(i) / steps; i == 0 || f > out[len(out)-1] {
			out = append(out, f)
		}
	}
	if end > out[len(out)-1] {
		out = append(out, end)
	}
	return out
}

func massShares(amounts, molar []float64) []float64 {
	w := make([]float64, len(amounts))
	var sum float64
	for i := range w {
		w[i] = amounts[i] * molar[i]
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// released are the mass shares of what has left, nil where nothing has.
func released(start, end, molar []float64) []float64 {
	gone := make([]float64, len(start))
	var sum float64
	for i := range gone {
		gone[i] = max(0, start[i]-end[i])
		sum += gone[i]
	}
	if sum == 0 {
		return nil
	}
	return massShares(gone, molar)
}

func entries(f *refrigerant.Refrigerant, w, molar []float64) []ComponentEntry {
	list := []ComponentEntry{}
	var moles float64
	for i := range w {
		moles += w[i] / molar[i]
	}
	for i := range w {
		list = append(list, ComponentEntry{Refrigerant: f.Components[i].Designation, MassPercent: significant(100*w[i], 7), MolePercent: significant(100*w[i]/molar[i]/moles, 7)})
	}
	return list
}

// within judges mass shares by the published tolerances of the designation.
func within(f *refrigerant.Refrigerant, w []float64) Judgement {
	if f.Pure() {
		yes := true
		return Judgement{Value: &yes}
	}
	if f.Facts == nil || len(f.Facts.Tolerances) == 0 {
		return Judgement{Reason: notGiven}
	}
	ok := true
	for i, c := range f.Components {
		k := slices.IndexFunc(f.Facts.Tolerances, func(t refdata.Tolerance) bool { return t.Designation == c.Designation })
		if k < 0 {
			return Judgement{Reason: notGiven}
		}
		d := 100 * (w[i] - c.MassFraction)
		const slack = 1e-6 // of a percent, for rounding
		ok = ok && d <= f.Facts.Tolerances[k].Plus+slack && -d <= f.Facts.Tolerances[k].Minus+slack
	}
	return Judgement{Value: &ok}
}

// servicePressures are those read at the ports, Pa; 0 where none was.
type servicePressures struct{ suction, liquid float64 }

// shifts compares the lines of what is left with the nominal ones.
func (e *Engine) shifts(a *LeakedBlendAnswer, t *trail, f *refrigerant.Refrigerant, end leak.Point, read servicePressures) error {
	nominal, err := e.lines(f)
	if err != nil {
		return err
	}
	x := slices.Clone(end.Amounts)
	var sum float64
	for _, n := range x {
		sum += n
	}
	for i := range x {
		x[i] /= sum
	}
	rest, err := equilibrium.New(f.System().Mixture(), x)
	if err != nil {
		return fmt.Errorf("query: what is left: %w", err)
	}
	// One composition, two points: not worth a curve.
	left := saturation.Rigorous(rest)
	a.Shifts = []Shift{}
	for _, l := range []struct {
		side    equilibrium.Line
		name    string
		step    phrase.Code
		p       float64
		usual   float64
		into    **Measure
		reverse bool
	}{
		{equilibrium.DewLine, "dew", stepDewShift, read.suction, usualEvaporating, &a.SuperheatError, false},
		{equilibrium.BubbleLine, "bubble", stepBubbleShift, read.liquid, usualCondensing, &a.SubcoolingError, true},
	} {
		p := l.p
		if p == 0 {
			at, err := nominal.AtTemperature(l.side, l.usual)
			if err != nil {
				continue
			}
			p = at.Pressure
			t.assume(usualServiceTemperatures, nil)
		}
		n, err1 := nominal.AtPressure(l.side, p)
		m, err2 := left.AtPressure(l.side, p)
		if err1 != nil || err2 != nil {
			continue
		}
		d := m.Temperature - n.Temperature
		shift := Shift{
			Line: l.name, Pressure: t.as.measure(unit.KindPressure, p), Nominal: t.as.measure(unit.KindTemperature, n.Temperature),
			Remaining: t.as.measure(unit.KindTemperature, m.Temperature), Shift: t.as.measure(unit.KindTemperatureDiff, d),
		}
		a.Shifts = append(a.Shifts, shift)
		// Superheat counts up from the dew point, subcooling down from the
		// bubble point.
		readError := d
		if l.reverse {
			readError = -d
		}
		v := t.as.measure(unit.KindTemperatureDiff, readError)
		*l.into = &v
		t.step(l.name+"_shift", l.step, "saturation of what is left - nominal saturation, at the same pressure", mixtureModel, func() phrase.Params {
			return phrase.Params{"pressure": phrase.Quantity(shift.Pressure), "nominal": phrase.Quantity(shift.Nominal), "remaining": phrase.Quantity(shift.Remaining)}
		})
	}
	return nil
}
