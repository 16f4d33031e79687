package query

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/stability"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// StabilityQuestion brings readings over time.
type StabilityQuestion struct {
	// Series, one a reading.
	Series []SeriesQuestion `json:"series" binding:"required"`
	// RunningTime at the last sample, where it is known.
	RunningTime *Quantity `json:"running_time,omitempty"`
} //@name StabilityQuestion

// SeriesQuestion is one reading over time: 1 s to 1 min apart, gaps allowed.
type SeriesQuestion struct {
	// Reading by its name.
	Reading string `json:"reading" binding:"required" example:"suction_line_temperature"`
	// Unit of the values.
	Unit string `json:"unit" binding:"required" example:"degF"`
	// Times of the samples in seconds, rising.
	Times []float64 `json:"times" binding:"required"`
	// Values of the samples.
	Values []float64 `json:"values" binding:"required"`
	// Tolerance within which the reading has to hold, a difference; a customary one where it is absent.
	Tolerance *Quantity `json:"tolerance,omitempty"`
} //@name SeriesQuestion

// StabilityAnswer says whether the readings have settled.
type StabilityAnswer struct {
	// Status of all series together.
	Status string `json:"status" enums:"steady,settling,cycling,too_short"`
	// SteadyIn is when all will be steady; null where that cannot be said, or is so already.
	SteadyIn *Measure       `json:"steady_in" extensions:"x-nullable"`
	Series   []SeriesAnswer `json:"series"`
	Common
} //@name StabilityAnswer

// SeriesAnswer is one series.
type SeriesAnswer struct {
	Reading string  `json:"reading" example:"suction_line_temperature"`
	Status  string  `json:"status" enums:"steady,settling,cycling,too_short"`
	Text    string  `json:"text"`
	Value   Measure `json:"value"`
	// TrendPerMinute is the change a minute now, a difference.
	TrendPerMinute *Measure `json:"trend_per_minute,omitempty"`
	// Drift is the change expected over the next 15 minutes.
	Drift *Measure `json:"drift,omitempty"`
	// Final value of the approach, where one is seen.
	Final *Measure `json:"final,omitempty"`
	// TimeConstant of the approach, where one is seen.
	TimeConstant *Measure `json:"time_constant,omitempty"`
	SteadyIn     *Measure `json:"steady_in,omitempty"`
	// Amplitude of cycling, half of peak to peak.
	Amplitude *Measure `json:"amplitude,omitempty"`
	Tolerance Measure  `json:"tolerance"`
	// ToleranceBasis is asked or common_practice.
	ToleranceBasis string `json:"tolerance_basis" enums:"asked,common_practice"`
	// LeftOut are the positions of samples taken as outliers.
	LeftOut []int `json:"left_out"`
} //@name SeriesAnswer

const (
	maxSeries  = 20
	maxSamples = 5000
)

// Stability answers POST /v1/stability. It returns *Refusal.
func (e *Engine) Stability(q StabilityQuestion, as Presentation) (StabilityAnswer, error) {
	return q.ask(intake.At(""), newTrail(as))
}

// ask judges series that stand at a place.
func (q StabilityQuestion) ask(at intake.Place, t *trail) (StabilityAnswer, error) {
	var r Refusal
	r.Resolve(q.RunningTime, at.Member("running_time"), unit.KindTime)
	switch {
	case len(q.Series) == 0:
		r.Refuse(at.Member("series"), CodeMissing, "series_missing", nil)
	case len(q.Series) > maxSeries:
		r.Refuse(at.Member("series"), CodeTooMany, "too_many_series", phrase.Params{"given": len(q.Series), "most": maxSeries})
		return StabilityAnswer{}, &r
	}
	a := StabilityAnswer{Series: make([]SeriesAnswer, len(q.Series))}
	judged := make([]stability.Judgement, len(q.Series))
	for i, s := range q.Series {
		judged[i] = t.series(&a.Series[i], s, at.Member("series").Item(i), &r)
	}
	if err := r.Err(); err != nil {
		return StabilityAnswer{}, err
	}
	status, wait := stability.Together(judged)
	a.Status = string(status)
	a.SteadyIn = t.as.known(unit.KindTime, wait)
	t.uncertain()
	t.assume(steadyMeans, nil)
	t.assume(runTimeStillCounts, nil)
	t.source("cec-ra3-2008", "")
	a.Common = t.common()
	return a, nil
}

// series judges one series, which stands at a place, and writes its answer.
func (t *trail) series(a *SeriesAnswer, s SeriesQuestion, at intake.Place, r *Refusal) stability.Judgement {
	taken, ok := s.take(at, r)
	if !ok {
		return stability.Judgement{}
	}
	basis := "asked"
	if s.Tolerance == nil {
		var from refdata.Figure
		taken.Tolerance, from = stability.Usual(courseOf(taken.reading), taken.Values[len(taken.Values)-1])
		basis = "common_practice"
		t.assume(steadyTolerances, nil)
		t.source(from.Source, from.Status)
	}
	j, err := stability.Judge(taken.Series)
	if err != nil {
		_ = refuse(t, err, r, intake.Asked{At: at}, stabilityOrigins.Of)
		return stability.Judgement{}
	}
	t.writeSeries(a, taken, basis, j)
	t.explainSeries(*a, j)
	return j
}

// seriesTaken is a series resolved.
type seriesTaken struct {
	stability.Series // values and tolerance in SI
	reading          circuit.Reading
	kind             unit.Kind
}

// take resolves a series. Its errors stand in r; ok tells that there are none.
func (s SeriesQuestion) take(at intake.Place, r *Refusal) (taken seriesTaken, ok bool) {
	before := len(r.Errors)
	reading, known := circuit.ParseReading(s.Reading)
	if !known {
		if s.Reading == "" {
			r.Refuse(at.Member("reading"), CodeMissing, "series_reading_missing", nil)
		} else {
			r.OneOf(at.Member("reading"), s.Reading, namesOf(circuit.Readings())...)
		}
		return taken, false
	}
	u := r.Unit(s.Unit, at.Member("unit"), intake.KindsOf(reading)...)
	s.check(at, r)
	taken = seriesTaken{Series: stability.Series{Times: s.Times}, reading: reading, kind: u.Kind}
	taken.Tolerance = steadyTolerance(s.Tolerance, reading, at.Member("tolerance"), r)
	if len(r.Errors) > before {
		return taken, false
	}
	taken.Values = make([]float64, len(s.Values))
	for i, v := range s.Values {
		if taken.Values[i], ok = r.Number(v, u, at.Member("values").Item(i)); !ok {
			return taken, false
		}
	}
	return taken, true
}

// check notes samples that make no series.
func (s SeriesQuestion) check(at intake.Place, r *Refusal) {
	switch {
	case len(s.Times) != len(s.Values):
		r.Refuse(at.Member("values"), CodeContradiction, "times_and_values_differ", phrase.Params{"times": len(s.Times), "values": len(s.Values)})
	case len(s.Values) == 0:
		r.Refuse(at.Member("values"), CodeMissing, "series_empty", nil)
	case len(s.Values) > maxSamples:
		r.Refuse(at.Member("values"), CodeTooMany, "too_many_samples", phrase.Params{"given": len(s.Values), "most": maxSamples})
	}
	for i := 1; i < min(len(s.Times), maxSamples); i++ {
		if !(s.Times[i] > s.Times[i-1]) {
			r.Refuse(at.Member("times").Item(i), CodeOutOfRange, "times_not_rising", nil)
			break
		}
	}
}

// writeSeries writes what is known of a series.
func (t *trail) writeSeries(a *SeriesAnswer, s seriesTaken, basis string, j stability.Judgement) {
	difference := differenceOf(s.kind)
	a.Reading, a.Status, a.Text = s.reading.String(), string(j.Status), text(j.Status)
	a.Value = t.as.measure(s.kind, j.Value).within(j.ValueStandard)
	a.Tolerance, a.ToleranceBasis = t.as.measure(difference, s.Tolerance), basis
	a.LeftOut = listed(j.Outliers)
	if j.Status == stability.Cycling {
		a.Amplitude = new(t.as.measure(difference, j.Amplitude))
	}
	if j.Status == stability.Steady || j.Status == stability.Settling {
		a.TrendPerMinute = new(t.as.measure(difference, 60*j.Trend).within(60 * j.TrendStandard))
		a.Drift = new(t.as.measure(difference, j.Drift).within(j.DriftStandard))
	}
	if j.Status == stability.Settling && !math.IsNaN(j.TimeConstant) {
		a.Final, a.TimeConstant = new(t.as.measure(s.kind, j.Final)), new(t.as.measure(unit.KindTime, j.TimeConstant))
	}
	a.SteadyIn = t.as.known(unit.KindTime, j.Remaining)
}

// explainSeries puts the working on the board.
func (t *trail) explainSeries(a SeriesAnswer, j stability.Judgement) {
	t.step(a.Reading, stepSteadiness, "v = f + a exp(-t/τ), judged over the next 15 minutes", "", phrase.Params{
		"reading": a.Reading, "status": a.Status,
	})
	if a.Drift != nil {
		t.step(a.Reading, stepDrift, "", "", phrase.Params{"drift": phrase.Quantity(*a.Drift)})
	}
	if a.SteadyIn != nil {
		t.step(a.Reading, stepSteadyIn, "", "", phrase.Params{"steady_in": t.as.said(unit.KindTime, 60*math.Ceil(j.Remaining/60), 0)})
	}
}

// differenceOf is what a difference of two values of a kind measures.
func differenceOf(kind unit.Kind) unit.Kind {
	switch kind {
	case unit.KindTemperature:
		return unit.KindTemperatureDiff
	case unit.KindPressure, unit.KindGaugePressure:
		return unit.KindPressureDiff
	}
	return kind
}

// steadyTolerance is what was asked for in SI; 0 where nothing usable was.
func steadyTolerance(q *Quantity, of circuit.Reading, at intake.Place, r *Refusal) float64 {
	if q == nil {
		return 0
	}
	w := r.Unit(q.Unit, at.Member("unit"), differenceOf(of.Kind()))
	switch {
	case q.Value == nil:
		r.Misread(at.Member("value"), CodeMissingValue, "tolerance_value_missing", nil)
	case !(*q.Value > 0) || math.IsInf(*q.Value, 0):
		r.Refuse(at.Member("value"), CodeOutOfRange, "tolerance_not_positive", nil)
	default:
		return w.SpanToSI(*q.Value)
	}
	return 0
}

// courseOf is how a reading counts for steadiness.
func courseOf(reading circuit.Reading) stability.Course {
	switch reading.Kind() {
	case unit.KindPressure:
		if reading == circuit.SuctionPressure {
			return stability.SuctionPressure
		}
		return stability.HighSidePressure
	case unit.KindRatio:
		return stability.Humidity
	case unit.KindAirFlow:
		return stability.Airflow
	}
	return stability.Temperature
}
