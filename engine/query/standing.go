package query

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/standing"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// StandingPressureQuestion brings what gauges and thermometers show on a
// system at rest.
type StandingPressureQuestion struct {
	Visit
	// OffTime since the compressor stopped.
	OffTime *Quantity `json:"off_time,omitempty"`
} //@name StandingPressureQuestion

// StandingPressureAnswer says whether refrigerant is there.
type StandingPressureAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// Finding of all ports together.
	Finding string `json:"finding" enums:"no_pressure,vapor_only,some_liquid_indicated,above_saturation,not_equalized,supercritical,port_not_open_suspected"`
	// Means what the finding could come from.
	Means []Note `json:"means"`
	// DoesNotTell what the finding leaves open.
	DoesNotTell []Note `json:"does_not_tell"`
	// Band of pressures that liquid in the system would hold; null where no part is below the critical temperature.
	Band *PressureBand `json:"band" extensions:"x-nullable"`
	// Ports with a gauge.
	Ports []PortFinding `json:"ports"`
	// Doubts weaken the finding.
	Doubts []Note `json:"doubts"`
	// AlsoConsistentWith are common refrigerants whose band holds this pressure as well.
	AlsoConsistentWith []string `json:"also_consistent_with"`
	Needs              []Need   `json:"needs"`
	Common
} //@name StandingPressureAnswer

// PressureBand runs from the dew pressure at the coldest part to the bubble
// pressure at the warmest, each with its uncertainty.
type PressureBand struct {
	Low Measure `json:"low"`
	// High is null where the warmest part lies above the critical temperature.
	High      *Measure `json:"high" extensions:"x-nullable"`
	LowGauge  Measure  `json:"low_gauge"`
	HighGauge *Measure `json:"high_gauge" extensions:"x-nullable"`
	// Margin on both sides within which a pressure still counts as saturated.
	Margin  Measure `json:"margin"`
	Coldest string  `json:"coldest" example:"return_dry_bulb"`
	Warmest string  `json:"warmest" example:"outdoor_dry_bulb"`
} //@name PressureBand

// PortFinding is what one gauge shows against the band.
type PortFinding struct {
	Port       string  `json:"port" enums:"suction,liquid"`
	Pressure   Measure `json:"pressure"`
	NoPressure bool    `json:"no_pressure"`
	// Below, Within and Above the band with its margin: probabilities; absent without a band or a pressure.
	Below  *float64 `json:"below_probability,omitempty"`
	Within *float64 `json:"within_probability,omitempty"`
	Above  *float64 `json:"above_probability,omitempty"`
} //@name PortFinding

// standingParts are the readings that tell the temperature of a part of a system
// at rest; those of the air are asked for.
var standingParts = []struct {
	reading circuit.Reading
	needed  bool
}{{circuit.OutdoorDryBulb, true}, {circuit.ReturnDryBulb, true}, {circuit.SuctionLineTemperature, false}, {circuit.LiquidLineTemperature, false}}

// standingPorts are the gauges of a system at rest.
var standingPorts = []struct {
	port    standing.Port
	reading circuit.Reading
}{{standing.Suction, circuit.SuctionPressure}, {standing.Liquid, circuit.LiquidPressure}}

// take resolves a system at rest, and what could still be read of it. Its errors
// stand in r.
func (q StandingPressureQuestion) take(c intake.Case, r *Refusal) (in standing.Input, needs []Need) {
	const purpose = "standing_pressure"
	needs = []Need{}
	in = standing.Input{Atmosphere: c.Air.Zero.Pascal(), AtmosphereStandard: c.Air.ZeroStandard, OffTime: math.NaN()}
	if v, ok := r.Resolve(q.OffTime, c.At.Member("off_time"), unit.KindTime); ok {
		in.OffTime = v.SI
	}
	for _, g := range standingPorts {
		if m, ok := c.Readings[g.reading]; ok {
			in.Gauges = append(in.Gauges, standing.Gauge{Port: g.port, Absolute: m.Value, Standard: m.Standard, FromAtmosphere: m.Gauge})
		} else {
			needs = wants(needs, g.reading.String(), purpose)
		}
	}
	for _, p := range standingParts {
		if m, ok := c.Readings[p.reading]; ok {
			in.Parts = append(in.Parts, standing.Part{Name: p.reading.String(), Temperature: m.Value, Standard: m.Standard})
		} else if p.needed {
			needs = wants(needs, p.reading.String(), purpose)
		}
	}
	if len(r.Errors) == 0 && len(in.Gauges) == 0 {
		r.Refuse(c.ReadingsAt.Member("suction_pressure"), CodeMissing, "pressure_missing", nil)
	}
	if len(r.Errors) == 0 && len(in.Parts) == 0 {
		r.Refuse(c.ReadingsAt.Member("outdoor_dry_bulb"), CodeMissing, "part_temperature_missing", nil)
	}
	return in, needs
}

// StandingPressure answers POST /v1/standing-pressure. It returns *Refusal or
// ErrStopped.
func (e *Engine) StandingPressure(q StandingPressureQuestion, as Presentation) (StandingPressureAnswer, error) {
	var r Refusal
	return e.standingPressure(q, intake.Take(q.Visit, e.catalogue, &r), newTrail(as), &r)
}

// standingPressure answers for a visit resolved, whose errors stand in r.
func (e *Engine) standingPressure(q StandingPressureQuestion, c intake.Case, t *trail, r *Refusal) (StandingPressureAnswer, error) {
	t.visit(c)
	in, needs := q.take(c, r)
	if err := r.Err(); err != nil {
		return StandingPressureAnswer{}, err
	}
	f := c.Refrigerant
	in.Critical = standing.Critical(f.System())
	lines, err := e.lines(f)
	if err != nil {
		return StandingPressureAnswer{}, err
	}
	found, err := standing.Judge(in, standing.Of(lines))
	if err != nil {
		return StandingPressureAnswer{}, refuse(t, err, r, t.asked(q, c), standingOrigin(in))
	}
	t.refrigerant(f)
	t.uncertain()
	a := t.standing(in, found)
	a.Refrigerant, a.Needs = f.Designation, needs
	if found.Finding != standing.NoPressure && found.Finding != standing.Supercritical {
		a.AlsoConsistentWith = e.alsoConsistent(f.Designation, in)
	}
	a.Common = t.common()
	return a, nil
}

// standingOrigin is where the question brings an input.
func standingOrigin(in standing.Input) func(*standing.InputError) intake.Origin {
	return func(bad *standing.InputError) intake.Origin {
		switch bad.Input {
		case standing.GaugePressure:
			return intake.Origin{gaugeOrigins[in.Gauges[bad.Index].Port]}
		case standing.PartTemperature:
			return intake.Origin{"/readings/" + in.Parts[bad.Index].Name}
		}
		return standingOrigins.Of(bad)
	}
}

// standing writes a result.
func (t *trail) standing(in standing.Input, found standing.Result) StandingPressureAnswer {
	a := StandingPressureAnswer{
		Finding: string(found.Finding), Means: notes(meanings[found.Finding]), DoesNotTell: notes(openQuestions[found.Finding]), Doubts: notes(found.Doubts),
		Band: t.pressureBand(in, found.Band), Ports: []PortFinding{}, AlsoConsistentWith: []string{},
	}
	for i, j := range found.Judgements {
		a.Ports = append(a.Ports, t.portFinding(in.Gauges[i], j, a.Band != nil))
	}
	t.assume(standingMargin, nil)
	t.source(commonPractice, "from memory, unverified")
	t.source("us-army-tm-9-4120-381-14", "")
	switch found.Finding {
	case standing.NoPressure, standing.VaporOnly, standing.PortNotOpenSuspected:
		t.caution(doNotEnergizeCompressor)
	case standing.AboveSaturation:
		t.caution(unknownGas)
	case standing.Supercritical:
		t.caution(phrase.Code(refrigerant.CarbonDioxidePressure))
	}
	t.atWork()
	t.explainStanding(&a, in, found)
	return a
}

// pressureBand writes the band of saturation, nil where there is none.
func (t *trail) pressureBand(in standing.Input, b standing.Band) *PressureBand {
	if !(b.Low > 0) {
		return nil
	}
	gauge := func(p, standard float64) Measure {
		over := in.OverAir(p, standard)
		return t.as.measure(unit.KindGaugePressure, over.Value).within(over.Standard)
	}
	out := &PressureBand{
		Low: t.as.measure(unit.KindPressure, b.Low).within(b.LowStandard), LowGauge: gauge(b.Low, b.LowStandard),
		Margin: t.as.measure(unit.KindPressureDiff, b.LowMargin), Coldest: b.Coldest, Warmest: b.Warmest,
	}
	if !math.IsNaN(b.High) {
		out.High, out.HighGauge = new(t.as.measure(unit.KindPressure, b.High).within(b.HighStandard)), new(gauge(b.High, b.HighStandard))
	}
	return out
}

// portFinding writes what one gauge says against the band, if there is one.
func (t *trail) portFinding(g standing.Gauge, j standing.Judgement, band bool) PortFinding {
	p := PortFinding{Port: string(j.Port), Pressure: t.as.measure(unit.KindPressure, g.Absolute).within(j.Standard), NoPressure: j.NoPressure}
	if !j.NoPressure && band {
		p.Below, p.Within, p.Above = new(significant(j.Below, 3)), new(significant(j.Within, 3)), new(significant(j.Above, 3))
	}
	return p
}

// explainStanding puts the working on the board.
func (t *trail) explainStanding(a *StandingPressureAnswer, in standing.Input, found standing.Result) {
	const quantity, formula, source = "standing_pressure", "liquid anywhere holds the pressure between dew at the coldest and bubble at the warmest part", "us-army-tm-9-4120-381-14"
	if b := a.Band; b != nil {
		if b.HighGauge != nil {
			t.step(quantity, stepStandingBand, formula, source, phrase.Params{"low": phrase.Quantity(b.LowGauge), "high": phrase.Quantity(*b.HighGauge)})
		} else {
			t.step(quantity, stepStandingBandOpen, formula, source, phrase.Params{"low": phrase.Quantity(b.LowGauge)})
		}
		for _, g := range in.Gauges {
			t.step(quantity, stepStandingPort, "", "", phrase.Params{
				"port": string(g.Port), "pressure": t.as.said(unit.KindGaugePressure, g.Absolute-in.Atmosphere, g.Standard),
			})
		}
	}
	t.step(quantity, phrase.Code(found.Finding), "", "", nil)
}

var meanings = map[standing.Finding][]phrase.Code{
	standing.NoPressure:           {meansEmpty, meansPortNotOpen, meansValveFrontSeated},
	standing.VaporOnly:            {meansLittleRefrigerant, meansHoldingCharge, meansColderPart},
	standing.SomeLiquid:           {meansSomeLiquid},
	standing.AboveSaturation:      {meansNonCondensables, meansHoldingCharge, meansOtherRefrigerant, meansWarmerPart},
	standing.NotEqualized:         {meansNotEqualized, meansPortNotOpen},
	standing.Supercritical:        {meansSupercritical},
	standing.PortNotOpenSuspected: {meansPortNotOpen, meansValveFrontSeated, meansSideEmpty},
}

var openQuestions = map[standing.Finding][]phrase.Code{
	standing.NoPressure:           {tellsNotWhetherEmpty},
	standing.VaporOnly:            {tellsNotHowMuch, tellsNotWhichGas},
	standing.SomeLiquid:           {tellsNotHowMuch, tellsNotPurity},
	standing.AboveSaturation:      {tellsNotHowMuch, tellsNotWhichGas},
	standing.NotEqualized:         {tellsNotHowMuch},
	standing.Supercritical:        {tellsNotHowMuch},
	standing.PortNotOpenSuspected: {tellsNotHowMuch},
}

// alsoConsistent lists other common refrigerants whose band holds the pressure.
func (e *Engine) alsoConsistent(asked string, in standing.Input) []string {
	list := []string{}
	for _, name := range refdata.CommonRefrigerants().Designations {
		f, err := e.catalogue.Find(name)
		if err != nil || f.Designation == asked {
			continue
		}
		if standing.Consistent(in, f.System()) {
			list = append(list, f.Designation)
		}
	}
	return list
}
