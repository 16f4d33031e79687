package query

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// MeasurementPlanQuestion brings what was read so far, gauges or not.
type MeasurementPlanQuestion struct {
	Visit
	// RunningTime since the start, or since the last change.
	RunningTime *Quantity `json:"running_time,omitempty"`
	// Prior and Losses as for a diagnosis.
	Prior  map[string]float64 `json:"prior,omitempty"`
	Losses map[string]float64 `json:"losses,omitempty"`
	// Hoses that would be connected: what they would release is told beside what gauges would tell.
	Hoses    []Hose   `json:"hoses,omitempty"`
	Manifold Manifold `json:"manifold"`
} //@name MeasurementPlanQuestion

// MeasurementPlanAnswer says what each further reading would tell.
type MeasurementPlanAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// Assessment of the readings so far, as a diagnosis would give it.
	Assessment          string `json:"assessment" enums:"no_fault_indicated,fault_indicated,inconclusive"`
	InconclusiveBecause []Note `json:"inconclusive_because"`
	// Leaning is what the probabilities alone would have one say, however few the readings are: advice that further readings may change. It is no assessment.
	Leaning string       `json:"leaning,omitempty" enums:"no_fault_indicated,fault_indicated,inconclusive"`
	NoFault *Probability `json:"no_fault,omitempty"`
	// LikeliestFault so far.
	LikeliestFault *PlanFault     `json:"likeliest_fault,omitempty"`
	ReadingChecks  []ReadingCheck `json:"reading_checks"`
	// Measurements not yet taken, the most telling first; empty where the method does not hold.
	Measurements []PlannedMeasurement `json:"measurements"`
	// Gauges on both ports, while neither pressure is read.
	Gauges *PlannedGauges `json:"gauges" extensions:"x-nullable"`
	Common
} //@name MeasurementPlanAnswer

// PlanFault is the likeliest fault before a further reading.
type PlanFault struct {
	Fault       string  `json:"fault" example:"undercharge"`
	Text        string  `json:"text"`
	Probability float64 `json:"probability" example:"0.41"`
} //@name PlanFault

// PlannedMeasurement is a reading not yet taken.
type PlannedMeasurement struct {
	Reading string `json:"reading" example:"discharge_line_temperature"`
	// For is the quantity that it leads to.
	For string `json:"for" example:"discharge_superheat"`
	// Information is the mean loss of doubt (entropy of the hypotheses) in nats.
	Information float64 `json:"information" example:"0.21"`
	// ChangesAdviceProbability is the chance that the leaning, or the likeliest fault in it, becomes another.
	ChangesAdviceProbability float64 `json:"changes_advice_probability" example:"0.18"`
} //@name PlannedMeasurement

// PlannedGauges is what connecting gauges would tell, and cost.
type PlannedGauges struct {
	// Advice weighs the chance that gauges change what is said.
	Advice                   Note    `json:"advice"`
	Information              float64 `json:"information" example:"0.6"`
	ChangesAdviceProbability float64 `json:"changes_advice_probability" example:"0.4"`
	// SuctionPressure and LiquidPressure that are expected, as gauges at the site would show them.
	SuctionPressure *Measure `json:"suction_pressure,omitempty"`
	LiquidPressure  *Measure `json:"liquid_pressure,omitempty"`
	// HeldTotal is what the hoses would hold then; both are absent without hoses.
	HeldTotal *Measure `json:"held_total,omitempty"`
	// Disconnecting lists what each way of taking the hoses off would release.
	Disconnecting []PlannedRelease `json:"disconnecting,omitempty"`
} //@name PlannedGauges

// PlannedRelease is one way of taking the hoses off; POST /v1/hose-recovery says
// how, and when it is open.
type PlannedRelease struct {
	Option        string   `json:"option" enums:"disconnect_as_is,draw_back_to_suction,recover_to_cylinder"`
	Text          string   `json:"text"`
	Available     bool     `json:"available"`
	Released      *Measure `json:"released,omitempty"`
	ShareOfCharge *Measure `json:"share_of_charge,omitempty"`
} //@name PlannedRelease

// The advice on gauges.
const (
	worthConnecting       = "worth_connecting"
	hardlyWorthConnecting = "hardly_worth_connecting"
)

// MeasurementPlan answers POST /v1/measurement-plan. It returns *Refusal.
func (e *Engine) MeasurementPlan(q MeasurementPlanQuestion, as Presentation) (MeasurementPlanAnswer, error) {
	t := newTrail(as)
	var r Refusal
	c := intake.Take(q.Visit, e.catalogue, &r)
	run, err := e.infer(c, q.RunningTime, q.Prior, q.Losses, t, &r)
	if err != nil {
		return MeasurementPlanAnswer{}, err
	}
	if len(q.Hoses) > 0 { // whatever is said of them later, they are to be right
		if _, err := e.hoseRecovery(q.hoses(q.Visit), c, newTrail(as), &r); err != nil {
			return MeasurementPlanAnswer{}, err
		}
	}
	d, list, err := diagnosis.Plan(run.in)
	if err != nil {
		return MeasurementPlanAnswer{}, inputFaults(err, c.At, &r)
	}
	a := t.plan(run, d)
	for _, m := range list {
		if len(m.Readings) == 1 {
			a.Measurements = append(a.Measurements, PlannedMeasurement{
				Reading: m.Readings[0].String(), For: m.For,
				Information: significant(m.Information, 3), ChangesAdviceProbability: significant(m.ChangesAdvice, 3),
			})
		} else if a.Gauges, err = e.gauges(run, q, m, t); err != nil {
			return MeasurementPlanAnswer{}, err
		}
	}
	t.atWork()
	t.caution(noVenting)
	a.Common = t.common()
	return a, nil
}

// plan writes what the readings so far say.
func (t *trail) plan(run inference, d diagnosis.Result) MeasurementPlanAnswer {
	a := MeasurementPlanAnswer{
		Refrigerant: run.Refrigerant.Designation, Assessment: string(d.Assessment), InconclusiveBecause: notes(d.Because),
		ReadingChecks: t.checks(run.running), Measurements: []PlannedMeasurement{},
	}
	assumeAll(t, d.Assumptions)
	if d.Weighed {
		a.Leaning, a.NoFault = string(d.Leaning), &Probability{significant(d.NoFault, 4)}
		f := d.Findings[0]
		a.LikeliestFault = &PlanFault{string(f.Fault), text(f.Fault), significant(f.Probability, 4)}
		t.inferred()
	}
	return a
}

// hoses asks what they would hold with the compressor running.
func (q MeasurementPlanQuestion) hoses(v Visit) HoseRecoveryQuestion {
	return HoseRecoveryQuestion{Visit: v, Running: new(true), Hoses: q.Hoses, Manifold: q.Manifold}
}

// gauges weighs what both pressures would tell against what the hoses release.
func (e *Engine) gauges(run inference, q MeasurementPlanQuestion, m diagnosis.Measurement, t *trail) (*PlannedGauges, error) {
	g := &PlannedGauges{Advice: note(hardlyWorthConnecting), Information: significant(m.Information, 3), ChangesAdviceProbability: significant(m.ChangesAdvice, 3)}
	if m.Worth() {
		g.Advice = note(worthConnecting)
	}
	curve := run.lines.Curve() // there is one, or nothing would have been weighed
	suction, okSuction := m.Expected[0].On(curve.DewPressure)
	liquid, okLiquid := m.Expected[1].On(curve.BubblePressure)
	if !okSuction || !okLiquid {
		return g, nil
	}
	t.assume(gaugesExpected, nil)
	zero := run.Air.Zero.Pascal()
	g.SuctionPressure = new(t.as.measure(unit.KindGaugePressure, suction.Value-zero).within(suction.Standard))
	g.LiquidPressure = new(t.as.measure(unit.KindGaugePressure, liquid.Value-zero).within(liquid.Standard))
	if len(q.Hoses) == 0 {
		return g, nil
	}
	return g, e.releases(g, q, run.Case, suction, liquid, t)
}

// releases writes what the hoses would hold at the pressures that are expected,
// and what each way of taking them off would release.
func (e *Engine) releases(g *PlannedGauges, q MeasurementPlanQuestion, c intake.Case, suction, liquid gum.Uncertain, t *trail) error {
	read := func(p gum.Uncertain) *Quantity {
		return &Quantity{Value: &p.Value, Unit: "Paa", Accuracy: new(CoverageFactor * p.Standard), AccuracyBasis: "normal_95"}
	}
	visit := q.Visit
	visit.Readings.SuctionPressure, visit.Readings.LiquidPressure = read(suction), read(liquid)
	var r Refusal
	hoses, err := e.hoseRecovery(q.hoses(visit), c.With(visit.Readings, visit.Instruments, c.At, &r), newTrail(t.as), &r)
	if _, refused := errors.AsType[*Refusal](err); refused {
		return nil // at the pressures expected there is no answer; nobody typed those
	} else if err != nil {
		return err
	}
	g.HeldTotal = hoses.HeldTotal
	for _, o := range hoses.Options {
		g.Disconnecting = append(g.Disconnecting, PlannedRelease{o.Option, o.Text, o.Available, o.Released, o.ShareOfCharge})
	}
	for _, s := range hoses.Provenance.Sources {
		t.source(s.Key, s.Status)
	}
	for _, c := range hoses.Cautions {
		t.caution(c.Code)
	}
	for _, s := range hoses.Assumptions {
		t.take(s)
	}
	return nil
}
