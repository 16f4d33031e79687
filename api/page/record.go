package page

import (
	"html/template"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
)

var recordTemplate = sync.OnceValue(func() *template.Template { return parse("record.html.tmpl") })

// Record writes the record of a visit as one page for paper and screen,
// without script. Whatever somebody wrote into it stands there as text.
func Record(w io.Writer, a query.VisitRecordAnswer) error {
	page := struct {
		Style  template.CSS
		Answer query.VisitRecordAnswer
		Facts  []fact
		Parts  []part
		Masses []mass
		AtRest string
	}{AtRest: taken(a, "before_start"), Style: template.CSS(asset("record.css")), Answer: a, Facts: facts(a), Masses: masses(a.Masses)}
	for _, p := range []struct {
		id, name string
		of       *query.DiagnosisAnswer
	}{{"running", "running", a.Running}, {"changed", "after_change", a.AfterChange}} {
		if p.of != nil {
			part := partOf(p.id, words(p.name), *p.of)
			part.Read = taken(a, p.name)
			page.Parts = append(page.Parts, part)
		}
	}
	return recordTemplate().Execute(w, page)
}

// taken writes the readings of a part as they were typed in.
func taken(a query.VisitRecordAnswer, part string) string {
	i := slices.IndexFunc(a.ReadingsTaken, func(t query.ReadingsTaken) bool { return t.Part == part })
	if i < 0 {
		return ""
	}
	var all []string
	v := reflect.ValueOf(a.ReadingsTaken[i].Readings)
	for f, of := range v.Fields() {
		if q, ok := of.Interface().(*query.Quantity); ok && q != nil {
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			all = append(all, words(name)+" "+asked(*q))
		}
	}
	return strings.Join(all, "; ")
}

type fact struct{ Name, Text string }

// facts are the head of the record.
func facts(a query.VisitRecordAnswer) []fact {
	var all []fact
	add := func(name, text string) {
		if text != "" {
			all = append(all, fact{name, text})
		}
	}
	quantity := func(name string, q *query.Quantity) {
		if q != nil {
			add(name, asked(*q))
		}
	}
	s := a.System
	add("Issued", moment(a.IssuedAt))
	add("Refrigerant", a.Refrigerant)
	add("Mode", words(s.Mode))
	add("Metering device", words(s.MeteringDevice))
	add("Equipment", words(s.Kind))
	add("Condenser coil", words(s.CondenserCoil))
	quantity("Charge on the plate", s.Charge)
	quantity("Nominal capacity", s.NominalCapacity)
	within := func(name string, target, tolerance *query.Quantity) {
		if target == nil {
			return
		}
		text := asked(*target)
		if tolerance != nil {
			text += " ± " + asked(*tolerance)
		}
		add(name, text)
	}
	within("Manufacturer's subcooling", s.TargetSubcooling, s.TargetSubcoolingTolerance)
	within("Manufacturer's superheat", s.TargetSuperheat, s.TargetSuperheatTolerance)
	if s.LineSet != nil {
		quantity("Line set", s.LineSet.Length)
	}
	return all
}

type mass struct {
	Name  string
	Entry query.MassEntry
}

func masses(m query.Masses) []mass {
	var all []mass
	for _, e := range []struct {
		name string
		of   *query.MassEntry
	}{{"Added", m.Added}, {"Recovered", m.Recovered}, {"Released with the hoses", m.Released}} {
		if e.of != nil {
			all = append(all, mass{e.name, *e.of})
		}
	}
	return all
}

// judgement is how something stands to its tolerance: in colour, shape and
// words.
type judgement struct{ Class, Sign string }

var (
	good   = judgement{"good", "●"}
	high   = judgement{"bad", "▲"}
	low    = judgement{"bad", "▼"}
	unsure = judgement{"unsure", "◆"}
)

// part is what was read on the running system, once.
type part struct {
	judgement
	ID, Title, Assessment string
	Because               []query.Note
	Rows                  []row
	Read, Others          string
	Faults                []query.FaultEntry
	Checks                []query.ReadingCheck
	Charge                string
}

// row is a quantity beside its target.
type row struct {
	judgement
	Quantity, Measured, Target, Basis string
	Deviation, Verdict                string
	Bar                               *bar
}

// bar draws a deviation in units of its tolerance: 200 wide, four tolerances
// to each side.
type bar struct {
	BandX, BandW, From, To float64
	Sign                   string
}

// mostFaults are printed; the rest is in the document.
const mostFaults = 3

func partOf(id, title string, d query.DiagnosisAnswer) part {
	p := part{ID: id, Title: title, judgement: unsure, Because: d.InconclusiveBecause, Checks: d.ReadingChecks, Assessment: phrase.Say(phrase.Code(d.Assessment), nil)}
	switch d.Assessment {
	case "no_fault_indicated":
		p.judgement = good
	case "fault_indicated":
		p.judgement = high
	}
	measured := quantities(d.State)
	for _, t := range d.Targets {
		i := slices.IndexFunc(measured, func(m named) bool { return m.name == t.Quantity })
		k := slices.IndexFunc(d.Deviations, func(v query.Deviation) bool { return v.Quantity == t.Quantity })
		if i < 0 || k < 0 {
			continue
		}
		p.Rows = append(p.Rows, rowOf(measured[i].of, t, d.Deviations[k]))
		measured = slices.Delete(measured, i, i+1)
	}
	var others []string
	for _, m := range measured {
		others = append(others, words(m.name)+" "+figure(m.of))
	}
	p.Others = strings.Join(others, "; ")
	if d.Assessment != "no_fault_indicated" {
		for _, f := range d.Faults[:min(mostFaults, len(d.Faults))] {
			if f.Probability >= 0.05 {
				p.Faults = append(p.Faults, f)
			}
		}
	}
	if reason := d.ChargeEstimate.Reason; reason.Code == "other_explanations_open" {
		p.Charge = reason.Text
	}
	if c := d.ChargeEstimate.Direction; c != nil {
		p.Charge = c.Text
		off := d.ChargeEstimate.Mass
		if off == nil {
			off = d.ChargeEstimate.Fraction
		}
		if step := d.ChargeEstimate.FirstStep; off != nil && step != nil {
			first := step.Fraction
			if step.Mass != nil {
				first = *step.Mass
			}
			p.Charge += " " + phrase.Say("charge_off_by", phrase.Params{
				"low": phrase.Quantity(off.Low), "high": phrase.Quantity(off.High), "likely": phrase.Quantity(off.Likely),
				"first_step": phrase.Quantity(first), "wait": phrase.Quantity(step.Wait),
			})
		}
	}
	return p
}

type named struct {
	name string
	of   query.Measure
}

// quantities are those of a state that are there, by their names on the wire.
func quantities(s query.State) []named {
	var all []named
	v := reflect.ValueOf(s)
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		switch m := v.Field(i).Interface().(type) {
		case *query.Measure:
			if m != nil {
				all = append(all, named{name, *m})
			}
		case *query.SignedMeasure:
			if m != nil {
				all = append(all, named{name, m.Measure})
			}
		}
	}
	return all
}

// sure is from when on a probability counts as decided.
const sure = 0.95

func rowOf(measured query.Measure, t query.Target, d query.Deviation) row {
	r := row{Quantity: t.Quantity, Measured: figure(measured), Basis: words(t.Basis), Deviation: figure(d.Deviation)}
	if d.Deviation.Value > 0 {
		r.Deviation = "+" + r.Deviation
	}
	if t.Status != "" && t.Status != "seen" {
		r.Basis += " (" + t.Status + ")"
	}
	at := func(v float64) query.Measure { return query.Measure{Value: v, Unit: t.Target.Unit} }
	r.Target = number(at(t.Target.Value)) + " (" + number(at(t.Target.Value-t.Tolerance.Value)) + " to " + number(at(t.Target.Value+t.Tolerance.Value)) + ")\u00a0" + phrase.Unit(t.Target.Unit)
	p := d.WithinToleranceProbability
	switch {
	case p >= sure:
		r.judgement, r.Verdict = good, "within"
	case p > 1-sure:
		r.judgement, r.Verdict = unsure, percent(p)+" to be within"
	case d.Deviation.Value > 0:
		r.judgement, r.Verdict = high, "above"
	default:
		r.judgement, r.Verdict = low, "below"
	}
	r.Bar = barOf(d.Deviation, t.Tolerance.Value, r.judgement)
	return r
}

func barOf(d query.Measure, tolerance float64, j judgement) *bar {
	if !(tolerance > 0) {
		return nil
	}
	const half, reach = 100., 4.
	x := func(v float64) float64 {
		return round1(half + half*min(max(v/tolerance/reach, -0.97), 0.97))
	}
	var u float64
	if d.Uncertainty != nil {
		u = *d.Uncertainty
	}
	b := &bar{BandX: half - half/reach, BandW: 2 * half / reach, From: x(d.Value - u), To: x(d.Value + u)}
	at := x(d.Value)
	if b.To-b.From < 1 {
		b.From, b.To = at, at
	}
	const y, r = 10., 5.
	switch j {
	case good:
		b.Sign = shape("suction_line", at, y, r)
	case high:
		b.Sign = shape("discharge_line", at, y+1, r)
	case low:
		b.Sign = move(at, y+r) + line(at+1.1*r, y-0.9*r) + line(at-1.1*r, y-0.9*r) + "Z"
	default:
		b.Sign = shape("after_expansion", at, y, math.Round(0.9*r))
	}
	return b
}
