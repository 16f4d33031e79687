package query

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// SaturationTableQuestion asks for rows from one temperature or pressure to
// another.
type SaturationTableQuestion struct {
	Designation string
	From        *Quantity
	To          *Quantity
	Step        *Quantity
	Site        Site
}

// SaturationTableAnswer holds all rows.
type SaturationTableAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	// Rows in the order asked; one that has no saturation carries its problem.
	Rows []PointAnswer `json:"rows"`
	Common
} //@name SaturationTableAnswer

// SaturationRows is a table whose rows are computed when they are asked for,
// so that a long one can be written as it is made.
type SaturationRows struct {
	Refrigerant string
	// Len is the number of rows.
	Len int

	t           *trail
	refrigerant *refrigerant.Refrigerant
	lines       saturation.Lines
	from, step  float64
	pressure    bool
	gauge       bool
	air         intake.Air
}

// MaxRows bounds the rows of one table.
const MaxRows = 10000

// SaturationTable answers GET /v1/refrigerants/{designation}/saturation-table
// with all rows at once. It returns *UnknownRefrigerantError or *Refusal.
func (e *Engine) SaturationTable(q SaturationTableQuestion, as Presentation) (SaturationTableAnswer, error) {
	rows, err := e.SaturationRows(q, as)
	if err != nil {
		return SaturationTableAnswer{}, err
	}
	return rows.answer(), nil
}

// SaturationRows is SaturationTable whose rows are computed one by one. It
// returns *UnknownRefrigerantError or *Refusal.
func (e *Engine) SaturationRows(q SaturationTableQuestion, as Presentation) (*SaturationRows, error) {
	f, err := e.catalogue.Find(q.Designation)
	if err != nil {
		return nil, err
	}
	t := newTrail(as)
	var r Refusal
	a := &SaturationRows{Refrigerant: f.Designation, t: t, refrigerant: f}
	a.air = intake.TakeSite(q.Site, intake.Parameter("altitude"), &r)
	a.take(q, &r)
	if err := r.Err(); err != nil {
		return nil, err
	}
	if a.lines, err = e.lines(f); err != nil {
		return nil, err
	}
	t.air(a.air)
	t.refrigerant(f)
	return a, nil
}

// take resolves the range of a table. Its errors stand in r.
func (a *SaturationRows) take(q SaturationTableQuestion, r *Refusal) {
	from, okFrom := r.Resolve(q.From, intake.Parameter("from"), unit.KindTemperature, unit.KindPressure, unit.KindGaugePressure)
	for _, m := range []struct {
		name string
		q    *Quantity
	}{{"from", q.From}, {"to", q.To}, {"step", q.Step}} {
		if m.q == nil {
			r.Refuse(intake.Parameter(m.name), CodeMissing, "table_range_missing", nil)
		}
	}
	if !okFrom {
		return
	}
	kind := unit.KindTemperature
	if u, _ := unit.Lookup(q.From.Unit); u.Kind != unit.KindTemperature {
		a.pressure, a.gauge, kind = true, from.Gauge, u.Kind
	}
	to, okTo := r.Resolve(q.To, intake.Parameter("to"), kind)
	step, okStep := r.Resolve(q.Step, intake.Parameter("step"), differenceOf(kind))
	if !okTo || !okStep {
		return
	}
	width := math.Abs(step.SI)
	if !(width > 0) {
		r.Refuse(intake.Parameter("step"), CodeOutOfRange, "step_is_zero", nil)
		return
	}
	a.from, a.step = from.SI, math.Copysign(width, to.SI-from.SI)
	// A rounding error must not cost the last row.
	rows := math.Floor(math.Abs(to.SI-from.SI)/width*(1+1e-12)+1e-9) + 1
	if !(rows <= MaxRows) {
		r.Refuse(intake.Parameter("step"), CodeTooMany, "too_many_rows", phrase.Params{"rows": rows, "most": MaxRows})
		return
	}
	a.Len = int(rows)
}

// Row computes row i, from 0 to Len-1.
func (a *SaturationRows) Row(i int) PointAnswer {
	k := wantedPoint{pressure: a.pressure, gauge: a.gauge, si: a.from + float64(i)*a.step, air: a.air, at: intake.Parameter("from")}
	if a.gauge {
		k.si += a.air.Zero.Pascal()
	}
	var row PointAnswer
	row.SaturationPoint, row.Problem = a.t.saturationPoint(a.refrigerant, a.lines, k)
	if row.Problem != nil {
		if a.pressure {
			row.Pressure = new(a.t.as.measure(unit.KindPressure, k.si))
		} else {
			row.Temperature = new(a.t.as.measure(unit.KindTemperature, k.si))
		}
	}
	return row
}

// answer computes the whole table.
func (a *SaturationRows) answer() SaturationTableAnswer {
	out := SaturationTableAnswer{Refrigerant: a.Refrigerant, Rows: make([]PointAnswer, a.Len)}
	for i := range out.Rows {
		out.Rows[i] = a.Row(i)
	}
	a.t.steps = nil // the working of one row is no news in the next
	out.Common = a.t.common()
	return out
}
