package query

import (
	"github.com/knurl-hvacr/knurl/engine/charge"
	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
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
	Correction *Measure   `json:"correction" extensions:"x-nullable"`
	LiquidLine LineCharge `json:"liquid_line"`
	// VaporLine holds little and is not part of the correction.
	VaporLine *LineCharge `json:"vapor_line,omitempty"`
	// Published figures of manufacturers for this refrigerant and size; null where none is known.
	Published *PublishedCharge `json:"published" extensions:"x-nullable"`
	// ByManufacturerRate is the correction by the manufacturer's own rate, which holds before all others.
	ByManufacturerRate *Measure `json:"by_manufacturer_rate,omitempty"`
	Needs              []Need   `json:"needs"`
	Common
} //@name LineSetChargeAnswer

// LineCharge is what one line holds.
type LineCharge struct {
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

// take resolves the line set of a visit. Its errors stand in r.
func (q LineSetChargeQuestion) take(c intake.Case, r *Refusal) charge.LineSet {
	in := charge.LineSet{}
	at := intake.At("/system/line_set")
	if l := c.LineSet; l == nil {
		r.Refuse(at, CodeMissing, "line_set_missing", nil)
	} else {
		in.Length, in.Liquid.OutsideDiameter, in.Liquid.Wall = orZero(l.Length), orZero(l.LiquidOutside), orZero(l.Wall)
		in.Included = l.FactoryIncluded
		if l.VaporOutside != nil {
			in.Vapor = &charge.Tube{OutsideDiameter: *l.VaporOutside}
		}
		if q.System.LineSet.Length == nil {
			r.Refuse(at.Member("length"), CodeMissing, "line_set_length_missing", nil)
		}
		if q.System.LineSet.LiquidOutsideDiameter == nil {
			r.Refuse(at.Member("liquid_outside_diameter"), CodeMissing, "liquid_line_diameter_missing", nil)
		}
	}
	if v, ok := r.Resolve(q.FactoryAllowance, intake.At("/factory_allowance"), unit.KindMass); ok {
		in.Allowance = new(unit.Kilogram(v.SI))
	}
	if in.Included != nil && in.Allowance != nil {
		r.Refuse(intake.At("/factory_allowance"), CodeContradiction, "factory_length_or_allowance", nil)
	}
	if v, ok := r.Resolve(q.ManufacturerRate, intake.At("/manufacturer_rate"), unit.KindMassPerLength); ok {
		in.Rate = &v.SI
	}
	in.LiquidState = lineState(c.Readings, circuit.LiquidPressure, circuit.LiquidLineTemperature)
	in.VaporState = lineState(c.Readings, circuit.SuctionPressure, circuit.SuctionLineTemperature)
	return in
}

// LineSetCharge answers POST /v1/line-set-charge. It returns *Refusal or
// ErrStopped.
func (e *Engine) LineSetCharge(q LineSetChargeQuestion, as Presentation) (LineSetChargeAnswer, error) {
	t := newTrail(as)
	var r Refusal
	c := intake.Take(q.Visit, e.catalogue, &r)
	t.visit(c)
	in := q.take(c, &r)
	if err := r.Err(); err != nil {
		return LineSetChargeAnswer{}, err
	}
	f := c.Refrigerant
	in.System, in.Designation = f.System(), f.Designation
	var err error
	if in.Lines, err = e.lines(f); err != nil {
		return LineSetChargeAnswer{}, err
	}
	found, err := charge.CorrectLineSet(in)
	if err != nil {
		return LineSetChargeAnswer{}, refuse(t, err, &r, t.asked(q, c), lineSetOrigins.Of)
	}
	t.refrigerant(f)
	t.basis(found.Basis)
	a := t.lineSet(found)
	a.Refrigerant = f.Designation
	t.uncertain()
	t.caution(manufacturerFigureWins, chargeBlendAsLiquid, certifiedWorkOnly, liquidContactBurns)
	t.explainLineSet(a)
	a.Common = t.common()
	return a, nil
}

// lineSet writes what a line set needs.
func (t *trail) lineSet(found charge.LineCorrection) LineSetChargeAnswer {
	a := LineSetChargeAnswer{
		LiquidLine: t.line(found.Liquid), Correction: t.chargeOf(found.Liquid.Correction), ByManufacturerRate: t.massOf(found.ByRate), Needs: []Need{},
	}
	if found.Vapor != nil {
		a.VaporLine = new(t.line(*found.Vapor))
	}
	if p := found.Published; p != nil {
		a.Published = &PublishedCharge{
			Low: t.as.measure(unit.KindMassPerLength, p.Low), High: t.as.measure(unit.KindMassPerLength, p.High),
			CorrectionLow: t.massOf(p.CorrectionLow), CorrectionHigh: t.massOf(p.CorrectionHigh), Source: p.Figure.Source, Status: p.Figure.Status,
		}
		t.source(p.Figure.Source, p.Figure.Status)
	}
	if found.NeedsIncluded {
		a.Needs = wants(a.Needs, "factory_included_length", "correction")
	}
	return a
}

// explainLineSet puts the working on the board.
func (t *trail) explainLineSet(a LineSetChargeAnswer) {
	l := a.LiquidLine
	t.step("line_set_charge", stepLineWeight, "density of the liquid x π/4 bore²", "", phrase.Params{
		"refrigerant": a.Refrigerant, "temperature": phrase.Quantity(l.Temperature), "bore": phrase.Quantity(l.Bore), "per_length": phrase.Quantity(l.PerLength),
	})
	if a.Correction != nil {
		t.step("line_set_charge", stepLineCorrection, "charge for a length x (length - included length)", "", phrase.Params{
			"correction": phrase.Quantity(*a.Correction),
		})
	}
}

func lineState(readings map[circuit.Reading]circuit.Measured, pressure, temperature circuit.Reading) *charge.State {
	k, ok := readings[temperature]
	if !ok {
		return nil
	}
	return &charge.State{Temperature: unit.Kelvin(k.Value), Pressure: unit.Pascal(readings[pressure].Value)}
}

func (t *trail) line(l charge.Line) LineCharge {
	size := func(l unit.Length) Measure {
		m := t.as.small(unit.KindLength, l.Metre())
		m.Value = significant(m.Value, 6)
		return m
	}
	return LineCharge{
		OutsideDiameter: size(l.OutsideDiameter), Bore: size(l.Bore),
		Temperature: t.as.measure(unit.KindTemperature, l.Temperature.Kelvin()), Pressure: t.as.measure(unit.KindPressure, l.Pressure.Pascal()),
		Density:   t.as.measure(unit.KindDensity, l.Density.KilogramPerCubicMetre()),
		PerLength: t.as.measure(unit.KindMassPerLength, l.PerLength.Value).within(l.PerLength.Standard),
	}
}

// chargeOf writes a small mass with its interval, nil for nil.
func (t *trail) chargeOf(e *gum.Uncertain) *Measure {
	if e == nil {
		return nil
	}
	return new(t.as.small(unit.KindMass, e.Value).within(e.Standard))
}

func (t *trail) massOf(kg *float64) *Measure {
	if kg == nil {
		return nil
	}
	return new(t.as.small(unit.KindMass, *kg))
}

// basis notes what an answer about charge rests on.
func (t *trail) basis(b charge.Basis) {
	assumeAll(t, b.Assumptions)
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
} //@name CylinderFillAnswer

// CylinderLevel is how full the cylinder is at a temperature.
type CylinderLevel struct {
	Temperature Measure `json:"temperature"`
	Pressure    Measure `json:"pressure"`
	LiquidShare Measure `json:"liquid_share"`
} //@name CylinderLevel

// orZero is a length, or zero where it was not said.
func orZero(l *unit.Length) unit.Length {
	if l == nil {
		return unit.Length{}
	}
	return *l
}

// take resolves a cylinder in some air. Its errors stand in r.
func (q CylinderFillQuestion) take(catalogue *refrigerant.Catalogue, air intake.Air, r *Refusal) charge.Cylinder {
	in := charge.Cylinder{Atmosphere: air.Site, SpecificGravity: q.SpecificGravity}
	in.WaterCapacity = r.Uncertain(q.WaterCapacity, intake.At("/water_capacity"), unit.KindMass)
	in.Volume = r.Uncertain(q.Volume, intake.At("/volume"), unit.KindVolume)
	in.Gross = r.Uncertain(q.GrossWeight, intake.At("/gross_weight"), unit.KindMass)
	if m := r.Uncertain(q.Tare, intake.At("/tare"), unit.KindMass); m != nil {
		in.Tare = *m
	} else if q.Tare == nil {
		r.Refuse(intake.At("/tare"), CodeMissing, "tare_missing", nil)
	}
	switch {
	case q.WaterCapacity == nil && q.Volume == nil:
		r.Refuse(intake.At("/water_capacity"), CodeMissing, "cylinder_size_missing", nil)
	case q.WaterCapacity != nil && q.Volume != nil:
		r.Refuse(intake.At("/volume"), CodeContradiction, "water_capacity_or_volume", nil)
	}
	if q.RefrigerantInside != "" {
		if inside := intake.Find(catalogue, q.RefrigerantInside, intake.At("/refrigerant_inside"), r); inside != nil {
			in.Inside = inside.System()
		}
	}
	if v, ok := r.Resolve(q.MaximumTemperature, intake.At("/maximum_temperature"), unit.KindTemperature); ok {
		in.Maximum = unit.Kelvin(v.SI)
	}
	in.ServicePressure = air.Rating(q.ServicePressure, intake.At("/service_pressure"), r)
	return in
}

// CylinderFill answers POST /v1/cylinder-fill. It returns *Refusal or
// ErrStopped.
func (e *Engine) CylinderFill(q CylinderFillQuestion, as Presentation) (CylinderFillAnswer, error) {
	t := newTrail(as)
	var r Refusal
	f := intake.TakeRefrigerant(e.catalogue, q.Refrigerant, q.Composition, intake.At(""), &r)
	air := intake.TakeSite(q.Site, intake.At("/site"), &r)
	in := q.take(e.catalogue, air, &r)
	if err := r.Err(); err != nil {
		return CylinderFillAnswer{}, err
	}
	in.System = f.System()
	var err error
	if in.Lines, err = e.lines(f); err != nil {
		return CylinderFillAnswer{}, err
	}
	found, err := charge.FillCylinder(in)
	if err != nil {
		return CylinderFillAnswer{}, refuse(t, err, &r, t.asked(q, intake.Case{Refrigerant: f, Air: air}), cylinderOrigins.Of)
	}
	if q.ServicePressure != nil {
		t.air(air)
	}
	t.refrigerant(f)
	t.basis(found.Basis)
	a := t.fill(found)
	a.Refrigerant = f.Designation
	t.uncertain()
	t.caution(cylinderFillLimit, cylinderTemperature, refillableCylindersOnly, trappedLiquid, unknownGas, certifiedWorkOnly)
	t.explainFill(a, found)
	a.Common = t.common()
	return a, nil
}

// fill writes how much a cylinder may hold.
func (t *trail) fill(found charge.Fill) CylinderFillAnswer {
	a := CylinderFillAnswer{
		Volume: t.as.measure(unit.KindVolume, found.Volume.Value), SpecificGravity: significant(found.SpecificGravity, 6),
		ReferenceTemperature: t.as.measure(unit.KindTemperature, found.Reference.Kelvin()), LiquidShare: t.as.measure(unit.KindRatio, found.LiquidShare),
		AllowedNet:   t.as.measure(unit.KindMass, found.AllowedNet.Value).within(found.AllowedNet.Standard),
		AllowedGross: t.as.measure(unit.KindMass, found.AllowedGross.Value).within(found.AllowedGross.Standard),
		Net:          t.as.some(unit.KindMass, found.Net), Fits: t.as.some(unit.KindMass, found.Fits),
		LimitedBy: note(found.LimitedBy), AtMaximum: t.level(found.AtMaximum), LiquidFullNow: found.FullNow,
		VersusServicePressure: string(found.ServicePressure), Needs: []Need{},
	}
	if a.Net == nil {
		a.Needs = wants(a.Needs, "gross_weight", "fits")
	}
	if found.AtMaximumNow != nil {
		a.AtMaximumNow = new(t.level(*found.AtMaximumNow))
	}
	return a
}

// explainFill puts the working on the board.
func (t *trail) explainFill(a CylinderFillAnswer, found charge.Fill) {
	t.step("allowed_net", stepAllowedNet, "liquid share x volume x density of the liquid at the reference temperature", "ahri-guideline-k", phrase.Params{
		"liquid_share": phrase.Quantity(a.LiquidShare), "specific_gravity": a.SpecificGravity,
		"net": phrase.Quantity(a.AllowedNet), "gross": phrase.Quantity(a.AllowedGross),
	})
	if found.Fits != nil {
		t.step("fits", stepFits, "allowed net - net", "", phrase.Params{"fits": t.as.said(unit.KindMass, max(0, found.Fits.Value), found.Fits.Standard)})
	}
}

func (t *trail) level(l charge.Level) CylinderLevel {
	return CylinderLevel{
		Temperature: t.as.measure(unit.KindTemperature, l.Temperature.Kelvin()), Pressure: t.as.measure(unit.KindPressure, l.Pressure.Pascal()),
		LiquidShare: t.as.measure(unit.KindRatio, l.LiquidShare),
	}
}
