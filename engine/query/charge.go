package query

import (
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/charge"
	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// LineSetChargeQuestion brings the line set in system.line_set.
type LineSetChargeQuestion struct {
	Visit
	// FactoryAllowance is the mass in the factory charge that is meant for the line set, instead of system.line_set.factory_included_length.
	FactoryAllowance *Quantity `json:"factory_allowance,omitempty"`
	// ManufacturerRate is the manufacturer's own charge for a length of line.
	ManufacturerRate *Quantity `json:"manufacturer_rate,omitempty"`
} //@name LineSetChargeQuestion

// LineSetChargeAnswer is the correction of the charge for the line set.
type LineSetChargeAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// Correction to add, or if negative to remove; null without an included length or allowance.
	Correction *Measure  `json:"correction" extensions:"x-nullable"`
	LiquidLine LineEntry `json:"liquid_line"`
	// VaporLine holds little and is not part of the correction.
	VaporLine *LineEntry `json:"vapor_line,omitempty"`
	// Published figures of manufacturers for this refrigerant and size; null where none is known.
	Published *PublishedCharge `json:"published" extensions:"x-nullable"`
	// ByManufacturerRate is the correction by the manufacturer's own rate, which holds before all others.
	ByManufacturerRate *Measure `json:"by_manufacturer_rate,omitempty"`
	Needs              []Need   `json:"needs"`
	Common
} //@name LineSetCharge

// LineEntry is what one line holds.
type LineEntry struct {
	OutsideDiameter Measure `json:"outside_diameter"`
	Bore            Measure `json:"bore"`
	Temperature     Measure `json:"temperature"`
	Pressure        Measure `json:"pressure"`
	Density         Measure `json:"density"`
	PerLength       Measure `json:"per_length"`
} //@name LineCharge

// PublishedCharge is what manufacturers print for a size, and the correction by it.
type PublishedCharge struct {
	Low            Measure  `json:"low"`
	High           Measure  `json:"high"`
	CorrectionLow  *Measure `json:"correction_low" extensions:"x-nullable"`
	CorrectionHigh *Measure `json:"correction_high" extensions:"x-nullable"`
	Source         string   `json:"source"`
	Status         string   `json:"status"`
} //@name PublishedCharge

// LineSetCharge answers POST /v1/line-set-charge. It returns *Refusal or
// ErrStopped.
func (e *Engine) LineSetCharge(q LineSetChargeQuestion, as Presentation) (LineSetChargeAnswer, error) {
	t := newTrail(as)
	var r Refusal
	q.System.check(&r)
	f := e.refrigerantOf(q.System, &r)
	air := t.atmosphereOf(q.Site, place{pointer: "/site"}, &r)
	readings := t.measured(q.Visit, air, &r)
	at := place{pointer: "/system/line_set"}
	in := charge.LineSet{}
	var ignored Refusal // the system's own check notes the faults of its line set
	length := func(q *Quantity) (unit.Length, bool) {
		v, ok := resolve(q, place{}, &ignored, unit.KindLength)
		return unit.Metre(v.si), ok
	}
	if l := q.System.LineSet; l == nil {
		r.invalid(at, CodeMissing, "the line set is missing: length and liquid_outside_diameter")
	} else {
		in.Length, _ = length(l.Length)
		in.Liquid.OutsideDiameter, _ = length(l.LiquidOutsideDiameter)
		if l.Length == nil {
			r.invalid(at.member("length"), CodeMissing, "how long is the line set?")
		}
		if l.LiquidOutsideDiameter == nil {
			r.invalid(at.member("liquid_outside_diameter"), CodeMissing, "the liquid line's outside diameter is missing")
		}
		if included, ok := length(l.FactoryIncludedLength); ok {
			in.Included = &included
		}
		in.Liquid.Wall, _ = length(l.WallThickness)
		if outside, ok := length(l.VaporOutsideDiameter); ok {
			in.Vapor = &charge.Tube{OutsideDiameter: outside}
		}
	}
	if v, ok := resolve(q.FactoryAllowance, place{pointer: "/factory_allowance"}, &r, unit.KindMass); ok {
		m := unit.Kilogram(v.si)
		in.Allowance = &m
	}
	if in.Included != nil && in.Allowance != nil {
		r.invalid(place{pointer: "/factory_allowance"}, CodeContradiction, "give the length that the factory charge covers, or the mass meant for the line set, not both")
	}
	if v, ok := resolve(q.ManufacturerRate, place{pointer: "/manufacturer_rate"}, &r, unit.KindMassPerLength); ok {
		in.Rate = &v.si
	}
	in.LiquidState = lineState(readings, circuit.LiquidPressure, circuit.LiquidLineTemperature)
	in.VaporState = lineState(readings, circuit.SuctionPressure, circuit.SuctionLineTemperature)
	if err := r.orNil(); err != nil {
		return LineSetChargeAnswer{}, err
	}
	in.System, in.Designation = f.System(), f.Designation
	var err error
	if in.Lines, err = e.lines(f); err != nil {
		return LineSetChargeAnswer{}, err
	}
	found, err := charge.CorrectLineSet(in)
	if err != nil {
		return LineSetChargeAnswer{}, refuse(err, &r, asked{q, as, air.zero, unsolvedBy(f)}, func(bad *charge.LineSetError) origin { return lineSetOrigins[bad.Input] })
	}
	t.refrigerant(f)
	t.basis(found.Basis)
	a := LineSetChargeAnswer{Refrigerant: f.Designation, LiquidLine: t.line(found.Liquid), Needs: []Need{}}
	a.Correction = t.chargeOf(found.Liquid.Correction)
	if found.Vapor != nil {
		v := t.line(*found.Vapor)
		a.VaporLine = &v
	}
	if p := found.Published; p != nil {
		a.Published = &PublishedCharge{
			Low: t.as.measure(unit.KindMassPerLength, p.Low), High: t.as.measure(unit.KindMassPerLength, p.High),
			CorrectionLow: t.massOf(p.CorrectionLow), CorrectionHigh: t.massOf(p.CorrectionHigh), Source: p.Figure.Source, Status: p.Figure.Status,
		}
		t.source(p.Figure.Source, p.Figure.Status)
	}
	a.ByManufacturerRate = t.massOf(found.ByRate)
	if found.NeedsIncluded {
		a.Needs = wants(a.Needs, "factory_included_length", "correction")
	}
	t.uncertain()
	t.caution("manufacturer_figure_wins", "charge_blend_as_liquid", "certified_work_only", "liquid_contact_burns")
	t.step("line_set_charge", "density of the liquid x π/4 bore² x (length - included length)", "", func() string {
		l := found.Liquid
		text := fmt.Sprintf("Liquid of %s at %s in a bore of %.3g mm weighs %s.", f.Designation, t.as.say(unit.KindTemperature, l.Temperature.Kelvin(), 0.5), 1e3*l.Bore.Metre(),
			sayMeasure(t.as.measure(unit.KindMassPerLength, l.PerLength.Value), max(l.PerLength.Standard, 1e-4)))
		if l.Correction != nil {
			text += fmt.Sprintf(" For the length that the factory charge does not cover that is %s.", t.as.saySmall(unit.KindMass, l.Correction.Value, max(l.Correction.Standard, 1e-3)))
		}
		return text
	})
	a.Common = t.common()
	return a, nil
}

func lineState(readings map[circuit.Reading]circuit.Measured, pressure, temperature circuit.Reading) *charge.State {
	k, ok := readings[temperature]
	if !ok {
		return nil
	}
	return &charge.State{Temperature: unit.Kelvin(k.Value), Pressure: unit.Pascal(readings[pressure].Value)}
}

func (t *trail) line(l charge.Line) LineEntry {
	bore := Measure{Value: significant(1e3*l.Bore.Metre(), 6), Unit: "mm"}
	outside := Measure{Value: significant(1e3*l.OutsideDiameter.Metre(), 6), Unit: "mm"}
	if !t.as.si() {
		u, _ := unit.Lookup("in")
		bore = Measure{Value: significant(u.FromSI(l.Bore.Metre()), 6), Unit: u.Name}
		outside = Measure{Value: significant(u.FromSI(l.OutsideDiameter.Metre()), 6), Unit: u.Name}
	}
	return LineEntry{
		OutsideDiameter: outside, Bore: bore,
		Temperature: t.as.measure(unit.KindTemperature, l.Temperature.Kelvin()), Pressure: t.as.measure(unit.KindPressure, l.Pressure.Pascal()),
		Density:   t.as.measure(unit.KindDensity, l.Density.KilogramPerCubicMetre()),
		PerLength: t.measured95(unit.KindMassPerLength, l.PerLength.Value, l.PerLength.Standard),
	}
}

// chargeOf writes a small mass with its interval, nil for nil.
func (t *trail) chargeOf(e *gum.Uncertain) *Measure {
	if e == nil {
		return nil
	}
	m := t.as.small(unit.KindMass, e.Value)
	if e.Standard > 0 {
		m = within95(m, CoverageFactor*e.Standard)
	}
	return &m
}

func (t *trail) massOf(kg *float64) *Measure {
	if kg == nil {
		return nil
	}
	m := t.as.small(unit.KindMass, *kg)
	return &m
}

// basis notes what an answer about charge rests on.
func (t *trail) basis(b charge.Basis) {
	for _, code := range b.Assumptions {
		t.assume(string(code), codeText(string(code)))
	}
	for _, f := range b.Figures {
		t.source(f.Source, f.Status)
	}
	for _, tube := range b.Tubes {
		t.source(tube.Source, tube.Status)
	}
}

// CylinderFillQuestion brings a refillable cylinder and what is to go into it.
type CylinderFillQuestion struct {
	// Refrigerant by designation, or a composition.
	Refrigerant string  `json:"refrigerant,omitempty" example:"R-410A"`
	Composition []Share `json:"composition,omitempty"`
	Site        Site    `json:"site"`
	// WaterCapacity stamped on it, as a mass of water; or give its volume.
	WaterCapacity *Quantity `json:"water_capacity,omitempty"`
	Volume        *Quantity `json:"volume,omitempty"`
	// Tare weight stamped on it.
	Tare *Quantity `json:"tare" binding:"required"`
	// GrossWeight as it stands on the scale.
	GrossWeight *Quantity `json:"gross_weight,omitempty"`
	// RefrigerantInside already; the same is assumed where it is absent.
	RefrigerantInside string `json:"refrigerant_inside,omitempty"`
	// SpecificGravity of the liquid at 77 degF as published; that of the equation of state where it is absent.
	SpecificGravity *float64 `json:"specific_gravity,omitempty"`
	// MaximumTemperature that it may reach; a customary one where it is absent.
	MaximumTemperature *Quantity `json:"maximum_temperature,omitempty"`
	// ServicePressure stamped on it.
	ServicePressure *Quantity `json:"service_pressure,omitempty"`
} //@name CylinderFillQuestion

// CylinderFillAnswer is how much the cylinder may hold.
type CylinderFillAnswer struct {
	Refrigerant string  `json:"refrigerant" example:"R-410A"`
	Volume      Measure `json:"volume"`
	// SpecificGravity of the liquid at the reference temperature.
	SpecificGravity      float64 `json:"specific_gravity" example:"1.06"`
	ReferenceTemperature Measure `json:"reference_temperature"`
	// LiquidShare of the volume that liquid may take there.
	LiquidShare  Measure `json:"liquid_share"`
	AllowedNet   Measure `json:"allowed_net"`
	AllowedGross Measure `json:"allowed_gross"`
	// LimitedBy what.
	LimitedBy Note `json:"limited_by"`
	// Net is what is in it; null where it was not weighed.
	Net *Measure `json:"net" extensions:"x-nullable"`
	// Fits is what may still go in, or if negative what is too much.
	Fits *Measure `json:"fits" extensions:"x-nullable"`
	// AtMaximum is the cylinder filled to the limit at its highest temperature.
	AtMaximum CylinderLevel `json:"at_maximum"`
	// AtMaximumNow is the same with what is in it.
	AtMaximumNow *CylinderLevel `json:"at_maximum_now" extensions:"x-nullable"`
	// LiquidFullNow: with what is in it, it would be full of liquid below its highest temperature.
	LiquidFullNow         bool   `json:"liquid_full_now"`
	VersusServicePressure string `json:"versus_service_pressure" enums:"above,below_by_estimate,rating_unknown"`
	Needs                 []Need `json:"needs"`
	Common
} //@name CylinderFill

// CylinderLevel is how full the cylinder is at a temperature.
type CylinderLevel struct {
	Temperature Measure `json:"temperature"`
	Pressure    Measure `json:"pressure"`
	LiquidShare Measure `json:"liquid_share"`
} //@name CylinderLevel

// CylinderFill answers POST /v1/cylinder-fill. It returns *Refusal or
// ErrStopped.
func (e *Engine) CylinderFill(q CylinderFillQuestion, as Presentation) (CylinderFillAnswer, error) {
	t := newTrail(as)
	var r Refusal
	f := e.refrigerantAt(q.Refrigerant, q.Composition, place{}, &r)
	air := t.atmosphereOf(q.Site, place{pointer: "/site"}, &r)
	in := charge.Cylinder{Atmosphere: air.site, SpecificGravity: q.SpecificGravity}
	measured := func(name string, of *Quantity, kind unit.Kind) *gum.Uncertain {
		v, ok := resolve(of, place{pointer: "/" + name}, &r, kind)
		if !ok {
			return nil
		}
		return &gum.Uncertain{Value: v.si, Standard: v.u}
	}
	in.WaterCapacity = measured("water_capacity", q.WaterCapacity, unit.KindMass)
	in.Volume = measured("volume", q.Volume, unit.KindVolume)
	in.Gross = measured("gross_weight", q.GrossWeight, unit.KindMass)
	if m := measured("tare", q.Tare, unit.KindMass); m != nil {
		in.Tare = *m
	} else if q.Tare == nil {
		r.invalid(place{pointer: "/tare"}, CodeMissing, "the tare weight is missing")
	}
	switch {
	case q.WaterCapacity == nil && q.Volume == nil:
		r.invalid(place{pointer: "/water_capacity"}, CodeMissing, "how large is it: water_capacity or volume")
	case q.WaterCapacity != nil && q.Volume != nil:
		r.invalid(place{pointer: "/volume"}, CodeContradiction, "give the water capacity or the volume, not both")
	}
	if q.RefrigerantInside != "" {
		if inside := e.refrigerantAt(q.RefrigerantInside, nil, place{pointer: ""}, &Refusal{}); inside != nil {
			in.Inside = inside.System()
		} else {
			_, err := e.catalogue.Find(q.RefrigerantInside)
			r.invalid(place{pointer: "/refrigerant_inside"}, CodeUnknownRefrigerant, unknown(err))
		}
	}
	if v, ok := resolve(q.MaximumTemperature, place{pointer: "/maximum_temperature"}, &r, unit.KindTemperature); ok {
		in.Maximum = unit.Kelvin(v.si)
	}
	in.ServicePressure = gaugeLimit(q.ServicePressure, place{pointer: "/service_pressure"}, air, &r)
	if err := r.orNil(); err != nil {
		return CylinderFillAnswer{}, err
	}
	in.System = f.System()
	var err error
	if in.Lines, err = e.lines(f); err != nil {
		return CylinderFillAnswer{}, err
	}
	found, err := charge.FillCylinder(in)
	if err != nil {
		return CylinderFillAnswer{}, refuse(err, &r, asked{q, as, air.zero, unsolvedBy(f)}, func(bad *charge.CylinderError) origin { return cylinderOrigins[bad.Input] })
	}
	t.refrigerant(f)
	t.basis(found.Basis)
	if q.ServicePressure == nil {
		t.withoutAir(nil)
	}
	mass := func(e gum.Uncertain) Measure {
		m := t.as.measure(unit.KindMass, e.Value)
		if e.Standard > 0 {
			m = within95(m, CoverageFactor*e.Standard)
		}
		return m
	}
	a := CylinderFillAnswer{
		Refrigerant: f.Designation, Volume: t.as.measure(unit.KindVolume, found.Volume.Value),
		SpecificGravity: significant(found.SpecificGravity, 6), ReferenceTemperature: t.as.measure(unit.KindTemperature, found.Reference.Kelvin()),
		LiquidShare: t.as.measure(unit.KindRatio, found.LiquidShare), AllowedNet: mass(found.AllowedNet), AllowedGross: mass(found.AllowedGross),
		LimitedBy: *note(string(found.LimitedBy)), AtMaximum: t.level(found.AtMaximum), LiquidFullNow: found.FullNow,
		VersusServicePressure: string(found.ServicePressure), Needs: []Need{},
	}
	if found.Net != nil {
		m := mass(*found.Net)
		a.Net = &m
	} else {
		a.Needs = wants(a.Needs, "gross_weight", "fits")
	}
	if found.Fits != nil {
		m := mass(*found.Fits)
		a.Fits = &m
	}
	if found.AtMaximumNow != nil {
		l := t.level(*found.AtMaximumNow)
		a.AtMaximumNow = &l
	}
	t.uncertain()
	t.caution("cylinder_fill_limit", "cylinder_temperature", "refillable_cylinders_only", "trapped_liquid", "unknown_gas", "certified_work_only")
	t.step("allowed_net", "liquid share x volume x density of the liquid at the reference temperature", "ahri-guideline-k", func() string {
		text := fmt.Sprintf("%.0f %% of the cylinder as liquid of specific gravity %.3f: %s net, %s on the scale.", 100*found.LiquidShare, found.SpecificGravity,
			t.as.say(unit.KindMass, found.AllowedNet.Value, 0.02), t.as.say(unit.KindMass, found.AllowedGross.Value, 0.02))
		if found.Fits != nil {
			text += fmt.Sprintf(" Of that %s may still go in.", t.as.say(unit.KindMass, max(0, found.Fits.Value), 0.02))
		}
		return text
	})
	a.Common = t.common()
	return a, nil
}

func (t *trail) level(l charge.Level) CylinderLevel {
	return CylinderLevel{
		Temperature: t.as.measure(unit.KindTemperature, l.Temperature.Kelvin()), Pressure: t.as.measure(unit.KindPressure, l.Pressure.Pascal()),
		LiquidShare: t.as.measure(unit.KindRatio, l.LiquidShare),
	}
}
