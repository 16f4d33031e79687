package query

import (
	"sync"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/hose"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// HoseRecoveryQuestion brings the hoses as they hang when the gauges are to
// come off.
type HoseRecoveryQuestion struct {
	Visit
	// Running compressor.
	Running *bool `json:"running" binding:"required"`
	// Hoses on the system and the center hose.
	Hoses    []Hose   `json:"hoses" binding:"required"`
	Manifold Manifold `json:"manifold"`
	// AmbientTemperature of the air around the hoses; outdoor_dry_bulb stands in for it.
	AmbientTemperature *Quantity `json:"ambient_temperature,omitempty"`
	// StorageTemperature that capped hoses may reach, as in a van in the sun.
	StorageTemperature *Quantity `json:"storage_temperature,omitempty"`
	// GWPSet of the CO2 equivalent.
	GWPSet string `json:"gwp_set,omitempty" enums:"ar4,ar5,ar6"`
} //@name HoseRecoveryQuestion

// Hose is one hose.
type Hose struct {
	Name   string    `json:"name" binding:"required" example:"red"`
	Side   string    `json:"side" binding:"required" enums:"low,high,center"`
	Length *Quantity `json:"length" binding:"required"`
	// Bore inside; a customary one from memory where it is absent.
	Bore *Quantity `json:"bore,omitempty"`
	// Port that it is on; of no meaning for a center hose.
	Port    string `json:"port,omitempty" enums:"core,front_seat_valve,back_seat_valve,quick_coupler"`
	Shutoff string `json:"shutoff,omitempty" enums:"none,low_loss,ball_valve"`
	// ShutoffToEndVolume between the shut-off and the port.
	ShutoffToEndVolume *Quantity `json:"shutoff_to_end_volume,omitempty"`
	// WorkingPressure that the hose is rated for.
	WorkingPressure *Quantity `json:"working_pressure,omitempty"`
	// Pressure at its port; the reading of its side stands in.
	Pressure *Quantity `json:"pressure,omitempty"`
	// Temperature of the hose; that of the air stands in.
	Temperature *Quantity `json:"temperature,omitempty"`
	// OilFraction of the mass of liquid in it.
	OilFraction *Quantity `json:"oil_fraction,omitempty"`
	// TrueSuctionPort: a low-side hose that is at suction pressure in heating too.
	TrueSuctionPort *bool `json:"true_suction_port,omitempty"`
} //@name Hose

// Manifold joins the hoses.
type Manifold struct {
	// Volume of its passages and gauges; a customary one from memory where it is absent.
	Volume *Quantity `json:"volume,omitempty"`
	// LowGaugeLimit is the end of scale or rating of the low-side gauge.
	LowGaugeLimit *Quantity `json:"low_gauge_limit,omitempty"`
	// HighGaugeLimit of the high-side gauge.
	HighGaugeLimit *Quantity `json:"high_gauge_limit,omitempty"`
} //@name Manifold

// HoseRecoveryAnswer says what the hoses hold, what each way of taking them
// off releases, and what a capped hose does in the heat.
type HoseRecoveryAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// Held by each hose, and by the manifold last.
	Held []Held `json:"held"`
	// HeldTotal of refrigerant; null while a hose cannot be weighed.
	HeldTotal *Measure `json:"held_total" extensions:"x-nullable"`
	// LiquidTotal is how much of it is liquid.
	LiquidTotal *Measure     `json:"liquid_total" extensions:"x-nullable"`
	Options     []HoseOption `json:"options"`
	CappedHose  []CappedHose `json:"capped_hose"`
	Needs       []Need       `json:"needs"`
	Common
} //@name HoseRecoveryAnswer

// Held is what one hose holds.
type Held struct {
	Hose string `json:"hose" example:"red"`
	// Phase inside.
	Phase string `json:"phase" enums:"subcooled_liquid,superheated_vapor,two_phase,supercritical,empty"`
	// Basis is why.
	Basis   Note    `json:"basis"`
	Density Measure `json:"density"`
	Mass    Measure `json:"mass"`
	Volume  Measure `json:"volume"`
	// LiquidMass is the part of the mass that is liquid.
	LiquidMass Measure `json:"liquid_mass"`
	OilMass    Measure `json:"oil_mass"`
} //@name Held

// HoseOption is one way of taking the hoses off.
type HoseOption struct {
	Option             string `json:"option" enums:"disconnect_as_is,draw_back_to_suction,recover_to_cylinder"`
	Text               string `json:"text"`
	Available          bool   `json:"available"`
	UnavailableBecause []Note `json:"unavailable_because"`
	// Released is all that does not go back: at once, and what stays in the hoses and gets out when they are next opened.
	Released       *Measure `json:"released,omitempty"`
	ReleasedAtOnce *Measure `json:"released_at_once,omitempty"`
	KeptInHoses    *Measure `json:"kept_in_hoses,omitempty"`
	// Returned to the system, or to the cylinder.
	Returned *Measure `json:"returned,omitempty"`
	// LiquidReleased is the part of what is released that leaves as liquid.
	LiquidReleased *Measure `json:"liquid_released,omitempty"`
	// ShareOfCharge that is released; absent while the charge is unknown.
	ShareOfCharge *Measure `json:"share_of_charge,omitempty"`
	// CO2Equivalent of what is released; absent while no GWP is known.
	CO2Equivalent *Measure `json:"co2_equivalent,omitempty"`
	// Steps in order.
	Steps []Note `json:"steps"`
} //@name HoseOption

// CappedHose is what a hose does at the storage temperature when it was
// capped with what is in it.
type CappedHose struct {
	Hose string `json:"hose" example:"red"`
	Case string `json:"case" enums:"liquid_left_in,vapor_left_in"`
	Text string `json:"text"`
	// Phase inside at the storage temperature.
	Phase string `json:"phase,omitempty" example:"subcooled_liquid"`
	// Pressure there; null beyond the limit of the equation, or where it is not resolved.
	Pressure *Band `json:"pressure" extensions:"x-nullable"`
	// PressureReason says why there is no pressure.
	PressureReason string `json:"pressure_reason,omitempty" enums:"beyond_the_equation,not_resolved"`
	// LiquidFullTemperature at which it becomes full of liquid; null where it does not.
	LiquidFullTemperature *Band  `json:"liquid_full_temperature" extensions:"x-nullable"`
	VersusWorkingPressure string `json:"versus_working_pressure" enums:"above,not_resolved,below_by_estimate,rating_unknown"`
	VersusGaugeLimit      string `json:"versus_gauge_limit" enums:"above,not_resolved,below_by_estimate,rating_unknown"`
} //@name CappedHose

// Band is an estimate between the ends that fill, give and readings allow;
// no statistical interval. High is null where it has no end.
type Band struct {
	Value Measure  `json:"value"`
	Low   Measure  `json:"low"`
	High  *Measure `json:"high" extensions:"x-nullable"`
} //@name Band

// take resolves what hangs on a system. Its errors stand in r.
func (q HoseRecoveryQuestion) take(c intake.Case, r *Refusal) hose.Input {
	in := hose.Input{Heating: c.Heating, Atmosphere: c.Air.Site}
	if q.Running == nil {
		r.Refuse(c.At.Member("running"), CodeMissing, "running_missing", nil)
	} else {
		in.Running = *q.Running
	}
	in.Hoses = q.takeHoses(c, r)
	at := c.At.Member("manifold")
	in.Manifold.Volume = r.Uncertain(q.Manifold.Volume, at.Member("volume"), unit.KindVolume)
	in.Manifold.LowGaugeLimit = c.Air.Rating(q.Manifold.LowGaugeLimit, at.Member("low_gauge_limit"), r)
	in.Manifold.HighGaugeLimit = c.Air.Rating(q.Manifold.HighGaugeLimit, at.Member("high_gauge_limit"), r)
	in.Ambient = r.Uncertain(q.AmbientTemperature, c.At.Member("ambient_temperature"), unit.KindTemperature)
	if in.Ambient == nil {
		in.Ambient = taken(c.Readings, circuit.OutdoorDryBulb)
	}
	if v, ok := r.Resolve(q.StorageTemperature, c.At.Member("storage_temperature"), unit.KindTemperature); ok {
		in.Storage = unit.Kelvin(v.SI)
	}
	if v := c.Charge; v != nil && v.SI > 0 {
		in.Charge = &gum.Uncertain{Value: v.SI, Standard: v.Standard}
	}
	r.OneOf(intake.At("/gwp_set"), q.GWPSet, "ar4", "ar5", "ar6")
	return in
}

func (q HoseRecoveryQuestion) takeHoses(c intake.Case, r *Refusal) []hose.Hose {
	var list []hose.Hose
	if len(q.Hoses) == 0 {
		r.Refuse(c.At.Member("hoses"), CodeMissing, "hoses_missing", nil)
	}
	names := map[string]bool{}
	for i, h := range q.Hoses {
		at := c.At.Member("hoses").Item(i)
		if names[h.Name] {
			r.Refuse(at.Member("name"), CodeContradiction, "hose_name_repeated", nil)
		}
		names[h.Name] = true
		list = append(list, h.take(c, at, r))
	}
	return list
}

// taken is a reading, nil where it was not taken.
func taken(readings map[circuit.Reading]circuit.Measured, r circuit.Reading) *gum.Uncertain {
	if m, ok := readings[r]; ok {
		return new(m.Uncertain())
	}
	return nil
}

// HoseRecovery answers POST /v1/hose-recovery. It returns *Refusal or
// ErrStopped.
func (e *Engine) HoseRecovery(q HoseRecoveryQuestion, as Presentation) (HoseRecoveryAnswer, error) {
	var r Refusal
	return e.hoseRecovery(q, intake.Take(q.Visit, e.catalogue, &r), newTrail(as), &r)
}

// hoseRecovery answers for a visit resolved, whose errors stand in r.
func (e *Engine) hoseRecovery(q HoseRecoveryQuestion, c intake.Case, t *trail, r *Refusal) (HoseRecoveryAnswer, error) {
	t.visit(c)
	in := q.take(c, r)
	if err := r.Err(); err != nil {
		return HoseRecoveryAnswer{}, err
	}
	f := c.Refrigerant
	in.System = f.System()
	in.GWP = t.gwp(f, q.GWPSet)
	var err error
	if in.Lines, err = e.lines(f); err != nil {
		return HoseRecoveryAnswer{}, err
	}
	found, err := hose.Assess(in)
	if err != nil {
		return HoseRecoveryAnswer{}, refuse(t, err, r, t.asked(q, c), q.origin)
	}
	t.refrigerant(f)
	a := t.hoses(q.Hoses, found)
	a.Refrigerant = f.Designation
	t.uncertain()
	t.caution(liquidContactBurns, openValvesSlowly, trappedLiquid, hoseWorkingPressure, displacesOxygen, certifiedWorkOnly)
	t.whatChanges(f)
	a.Common = t.common()
	return a, nil
}

// origin is where the question brings an input.
func (q HoseRecoveryQuestion) origin(bad *hose.InputError) intake.Origin {
	if o, ok := highHoseOrigins[bad.Input]; ok && q.Hoses[bad.Index].Side == string(hose.High) {
		return o
	}
	return hoseOrigins.Of(bad)
}

// whatChanges says what the refrigerant changes about letting a trace of it go.
// Ammonia, toxic and flammable groups have cautions of their own already.
func (t *trail) whatChanges(f *refrigerant.Refrigerant) {
	if e, exempt := refdata.VentingExemptionOf(f.Designation); exempt {
		t.assume(phrase.Code(e.Code), nil)
		t.source(e.Source, e.Status)
		if !e.ListedUsesOnly {
			return
		}
	}
	t.caution(noVenting)
}

// take resolves one hose that stands at a place; readings of its side stand in
// for what it lacks.
func (q Hose) take(c intake.Case, at intake.Place, r *Refusal) hose.Hose {
	q.check(at, r)
	h := hose.Hose{Name: q.Name, Side: hose.Side(q.Side), Port: hose.Port(q.Port), Shutoff: hose.Shutoff(q.Shutoff)}
	if l := r.Uncertain(q.Length, at.Member("length"), unit.KindLength); l != nil {
		h.Length = *l
	}
	h.Bore = r.Uncertain(q.Bore, at.Member("bore"), unit.KindLength)
	h.ShutoffToEnd = r.Uncertain(q.ShutoffToEndVolume, at.Member("shutoff_to_end_volume"), unit.KindVolume)
	h.Temperature = r.Uncertain(q.Temperature, at.Member("temperature"), unit.KindTemperature)
	h.OilShare = r.Uncertain(q.OilFraction, at.Member("oil_fraction"), unit.KindRatio)
	h.WorkingPressure = c.Air.Rating(q.WorkingPressure, at.Member("working_pressure"), r)
	h.TrueSuction = q.TrueSuctionPort != nil && *q.TrueSuctionPort
	if v, ok := c.Air.Pressure(q.Pressure, at.Member("pressure"), r); ok {
		h.Pressure = &gum.Uncertain{Value: v.SI, Standard: v.Standard}
	}
	pressure, line := circuit.SuctionPressure, circuit.SuctionLineTemperature
	if h.Side == hose.High {
		pressure, line = circuit.LiquidPressure, circuit.LiquidLineTemperature
	}
	if h.Side != hose.Center {
		if q.Pressure == nil {
			h.Pressure = taken(c.Readings, pressure)
		}
		h.LineTemperature = taken(c.Readings, line)
	}
	return h
}

// check notes names that are none, and what every hose has to have.
func (q Hose) check(at intake.Place, r *Refusal) {
	if q.Name == "" {
		r.Refuse(at.Member("name"), CodeMissing, "hose_name_missing", nil)
	}
	r.OneOf(at.Member("side"), q.Side, codesOf(hose.Sides())...)
	r.OneOf(at.Member("port"), q.Port, codesOf(hose.Ports())...)
	r.OneOf(at.Member("shutoff"), q.Shutoff, codesOf(hose.Shutoffs())...)
	if q.Side == "" {
		r.Refuse(at.Member("side"), CodeMissing, "hose_side_missing", nil)
	}
	if q.Port == "" && q.Side != "center" && q.Side != "" {
		r.Refuse(at.Member("port"), CodeMissing, "hose_port_missing", nil)
	}
	if q.Length == nil {
		r.Refuse(at.Member("length"), CodeMissing, "hose_length_missing", nil)
	}
}

// gwp is the potential by the set asked for, nil where none is known.
func (t *trail) gwp(f *refrigerant.Refrigerant, set string) *float64 {
	var n *refdata.Number
	name := gwpAR4
	if facts := f.Facts; facts != nil {
		switch n = facts.GWPAR4; set {
		case "ar5":
			n, name = facts.GWPAR5, gwpAR5
		case "ar6":
			n, name = facts.GWPAR6, gwpAR6
		}
	}
	if n == nil {
		t.assume(noGWP, nil)
		return nil
	}
	t.source(n.Source, n.Status)
	t.assume(name, nil)
	return &n.Value
}

// hoses write what hoses hold and what comes of taking them off.
func (t *trail) hoses(asked []Hose, found hose.Answer) HoseRecoveryAnswer {
	a := HoseRecoveryAnswer{Held: []Held{}, Options: []HoseOption{}, CappedHose: []CappedHose{}, Needs: []Need{}}
	for _, h := range found.Held {
		a.Held = append(a.Held, t.held(h.Name, h))
	}
	if found.Manifold != nil {
		a.Held = append(a.Held, t.held("manifold", *found.Manifold))
	}
	for _, n := range found.Needs {
		a.Needs = wants(a.Needs, "hoses/"+asked[n.Hose].Name+"/"+hoseNeeds[n.Given], "held")
	}
	if len(found.Needs) == 0 {
		a.HeldTotal, a.LiquidTotal = t.smallMass(found.Total), t.smallMass(found.TotalLiquid)
	}
	for _, o := range found.Options {
		a.Options = append(a.Options, t.hoseOption(o))
	}
	for _, c := range found.Capped {
		a.CappedHose = append(a.CappedHose, t.capped(c))
	}
	assumeAll(t, found.Assumptions)
	for _, f := range found.Figures {
		t.source(f.Source, f.Status)
	}
	return a
}

// smallMass is a mass as hoses hold it.
func (t *trail) smallMass(e gum.Uncertain) *Measure {
	return new(t.as.small(unit.KindMass, e.Value).between(e.Standard))
}

// held writes what one hose, or the manifold, holds.
func (t *trail) held(name string, h hose.Content) Held {
	entry := Held{
		Hose: name, Phase: string(h.Phase), Basis: note(h.Basis),
		Density: t.as.measure(unit.KindDensity, h.Density.Value).within(h.Density.Standard),
		Mass:    *t.smallMass(h.Mass), LiquidMass: *t.smallMass(h.LiquidMass), OilMass: *t.smallMass(h.OilMass),
		Volume: t.as.small(unit.KindVolume, h.Volume.Value).between(h.Volume.Standard),
	}
	t.step("held_"+name, stepHeld, "density of the real state x π/4 bore² x length", "", phrase.Params{
		"hose": name, "phase": entry.Phase, "mass": phrase.Quantity(entry.Mass), "volume": phrase.Quantity(entry.Volume), "basis": string(h.Basis),
	})
	return entry
}

// hoseOption writes one way of taking hoses off.
func (t *trail) hoseOption(o hose.Option) HoseOption {
	entry := HoseOption{Option: string(o.Way), Text: text(o.Way), Available: o.Available, UnavailableBecause: notes(o.Because), Steps: notes(o.Steps)}
	if b := o.Balance; b != nil {
		entry.Released, entry.ReleasedAtOnce, entry.KeptInHoses = t.smallMass(b.Released), t.smallMass(b.AtOnce), t.smallMass(b.KeptInHoses)
		entry.Returned, entry.LiquidReleased = t.smallMass(b.Returned), t.smallMass(b.LiquidReleased)
		entry.ShareOfCharge, entry.CO2Equivalent = t.as.some(unit.KindRatio, b.ShareOfCharge), t.as.some(unit.KindMass, b.CO2Equivalent)
		t.step(entry.Option, stepHoseOption, "held = released + returned", "", phrase.Params{
			"option": entry.Option, "released": phrase.Quantity(*entry.Released), "returned": phrase.Quantity(*entry.Returned),
		})
	}
	for _, s := range o.Steps {
		step := hoseSteps()[string(s)]
		t.source(step.Source, step.Status)
	}
	return entry
}

// capped writes what a shut hose does in the heat.
func (t *trail) capped(c hose.Capped) CappedHose {
	entry := CappedHose{
		Hose: c.Name, Case: string(c.Case), Text: text(c.Case), Phase: string(c.Phase),
		VersusWorkingPressure: string(c.WorkingPressure), VersusGaugeLimit: string(c.GaugeLimit),
		Pressure: t.band(unit.KindPressure, c.Pressure), LiquidFullTemperature: t.band(unit.KindTemperature, c.LiquidFull),
	}
	switch {
	case c.Unresolved:
		entry.PressureReason = "not_resolved"
	case c.Pressure == nil:
		entry.PressureReason = "beyond_the_equation"
	}
	return entry
}

// hoseNeeds are the members of a hose that it cannot be weighed without.
var hoseNeeds = map[hose.Given]string{hose.HoseTemperature: "temperature", hose.HosePressure: "pressure"}

// hoseSteps are the steps by code.
var hoseSteps = sync.OnceValue(func() map[string]refdata.HoseStep {
	all := map[string]refdata.HoseStep{}
	for _, s := range refdata.HoseSteps() {
		all[s.Code] = s
	}
	return all
})

func (t *trail) band(kind unit.Kind, b *hose.Band) *Band {
	if b == nil {
		return nil
	}
	e := &Band{Value: t.as.measure(kind, b.Value), Low: t.as.measure(kind, b.Low)}
	if !b.Unbounded {
		e.High = new(t.as.measure(kind, b.High))
	}
	return e
}
