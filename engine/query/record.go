package query

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/canonicaljson"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// VisitRecordQuestion brings what was done and read on one visit, each part as
// far as it was done.
type VisitRecordQuestion struct {
	// Reference of the visit, such as a job number.
	Reference string `json:"reference,omitempty" example:"QW-2031"`
	// IssuedAt is when the document is issued, a date or a time by RFC 3339; the engine has no clock.
	IssuedAt    string      `json:"issued_at" binding:"required" example:"2026-07-14T16:40:00Z"`
	System      System      `json:"system"`
	Site        Site        `json:"site"`
	Instruments Instruments `json:"instruments"`
	// InstrumentList names the instruments used.
	InstrumentList []InstrumentEntry `json:"instrument_list,omitempty"`
	// BeforeStart: pressures and temperatures at rest.
	BeforeStart *AtRest `json:"before_start,omitempty"`
	// Steadiness: readings over time after the start.
	Steadiness *OverTime `json:"steadiness,omitempty"`
	// Running: what was read once steady.
	Running *WhileRunning `json:"running,omitempty"`
	// AfterChange: what was read after something was changed.
	AfterChange *WhileRunning `json:"after_change,omitempty"`
	// GaugesOff: the hoses as they came off.
	GaugesOff *GaugesOff `json:"gauges_off,omitempty"`
	// Ports as they were left.
	Ports []PortLeft `json:"ports,omitempty"`
	// MassAdded to the system.
	MassAdded *Quantity `json:"mass_added,omitempty"`
	// MassRecovered from the system, hoses apart.
	MassRecovered *Quantity `json:"mass_recovered,omitempty"`
	// GWPSet of the CO2 equivalents.
	GWPSet string `json:"gwp_set,omitempty" enums:"ar4,ar5,ar6"`
	// Remarks in the technician's own words.
	Remarks []string `json:"remarks,omitempty"`
} //@name VisitRecordQuestion

// InstrumentEntry is one instrument with its calibration.
type InstrumentEntry struct {
	Name   string `json:"name" binding:"required" example:"digital gauges"`
	Serial string `json:"serial,omitempty"`
	// CalibratedOn and CalibrationDue are dates, YYYY-MM-DD.
	CalibratedOn   string `json:"calibrated_on,omitempty" example:"2026-02-03"`
	CalibrationDue string `json:"calibration_due,omitempty" example:"2027-02-03"`
} //@name InstrumentEntry

// AtRest is what was read before the start.
type AtRest struct {
	Readings Readings  `json:"readings"`
	OffTime  *Quantity `json:"off_time,omitempty"`
} //@name AtRest

// OverTime is readings over time.
type OverTime struct {
	Series      []SeriesQuestion `json:"series" binding:"required"`
	RunningTime *Quantity        `json:"running_time,omitempty"`
} //@name OverTime

// WhileRunning is what was read on the running system.
type WhileRunning struct {
	Readings    Readings           `json:"readings"`
	RunningTime *Quantity          `json:"running_time,omitempty"`
	Prior       map[string]float64 `json:"prior,omitempty"`
} //@name WhileRunning

// GaugesOff is how the gauges came off.
type GaugesOff struct {
	// Readings when they came off; the last ones of the visit where absent.
	Readings           *Readings `json:"readings,omitempty"`
	Running            *bool     `json:"running" binding:"required"`
	Hoses              []Hose    `json:"hoses" binding:"required"`
	Manifold           Manifold  `json:"manifold"`
	AmbientTemperature *Quantity `json:"ambient_temperature,omitempty"`
	StorageTemperature *Quantity `json:"storage_temperature,omitempty"`
	// OptionTaken is the way they were taken off.
	OptionTaken string `json:"option_taken,omitempty" enums:"disconnect_as_is,draw_back_to_suction,recover_to_cylinder"`
} //@name GaugesOff

// PortLeft is how a service port was left.
type PortLeft struct {
	Port string `json:"port" binding:"required" enums:"suction,liquid"`
	Core string `json:"core,omitempty" enums:"tight,leaking,replaced,not_checked"`
	// Cap and Seal are back on.
	Cap  *bool `json:"cap,omitempty"`
	Seal *bool `json:"seal,omitempty"`
	// LeakCheck of the port.
	LeakCheck string `json:"leak_check,omitempty" enums:"no_leak_found,leaking,not_done"`
	// FittingToRebuild: a hose fitting that leaks and is to be rebuilt or replaced.
	FittingToRebuild *bool `json:"fitting_to_rebuild,omitempty"`
} //@name PortLeft

// VisitRecordAnswer is the document. Cautions, assumptions and sources of all
// parts stand once, at its end.
type VisitRecordAnswer struct {
	Reference      string            `json:"reference,omitempty"`
	IssuedAt       string            `json:"issued_at"`
	Refrigerant    string            `json:"refrigerant" example:"R-410A"`
	System         System            `json:"system"`
	Site           Site              `json:"site"`
	Instruments    Instruments       `json:"instruments"`
	InstrumentList []InstrumentEntry `json:"instrument_list"`
	// ReadingsTaken as they were typed in, in the order of the visit; those over time are judged under steadiness and not repeated.
	ReadingsTaken []ReadingsTaken         `json:"readings_taken"`
	BeforeStart   *StandingPressureAnswer `json:"before_start,omitempty"`
	Steadiness    *StabilityAnswer        `json:"steadiness,omitempty"`
	Running       *DiagnosisAnswer        `json:"running,omitempty"`
	AfterChange   *DiagnosisAnswer        `json:"after_change,omitempty"`
	GaugesOff     *HoseRecoveryAnswer     `json:"gauges_off,omitempty"`
	OptionTaken   string                  `json:"option_taken,omitempty"`
	Ports         []PortLeft              `json:"ports"`
	Masses        Masses                  `json:"masses"`
	Remarks       []string                `json:"remarks"`
	// OpenPoints for the next visit.
	OpenPoints []Note `json:"open_points"`
	Common
	// DocumentHash tells whether the document was altered.
	DocumentHash DocumentHash `json:"document_hash"`
} //@name VisitRecordAnswer

// ReadingsTaken are the readings of one part of the visit.
type ReadingsTaken struct {
	Part        string    `json:"part" enums:"before_start,running,after_change,gauges_off"`
	Readings    Readings  `json:"readings"`
	OffTime     *Quantity `json:"off_time,omitempty"`
	RunningTime *Quantity `json:"running_time,omitempty"`
} //@name ReadingsTaken

// Masses moved on the visit.
type Masses struct {
	Added     *MassEntry `json:"added,omitempty"`
	Recovered *MassEntry `json:"recovered,omitempty"`
	// Released by the way in which the gauges came off.
	Released *MassEntry `json:"released,omitempty"`
} //@name Masses

// MassEntry is a mass with its CO2 equivalent; that is null while no GWP is
// known.
type MassEntry struct {
	Mass          Measure  `json:"mass"`
	CO2Equivalent *Measure `json:"co2_equivalent" extensions:"x-nullable"`
} //@name MassEntry

// DocumentHash is over the whole document but for this member itself.
type DocumentHash struct {
	Canonicalization string `json:"canonicalization" enums:"RFC 8785"`
	Algorithm        string `json:"algorithm" enums:"SHA-256"`
	// Value in lower-case hexadecimal.
	Value string `json:"value"`
} //@name DocumentHash

const (
	maxReference = 200
	maxRemark    = 2000
	maxRemarks   = 50
	maxList      = 50
)

// VisitRecord answers POST /v1/visit-record. It returns *Refusal or
// ErrStopped. Equal questions give equal documents.
func (e *Engine) VisitRecord(q VisitRecordQuestion, as Presentation) (VisitRecordAnswer, error) {
	t := newTrail(as)
	var r, shared Refusal
	q.check(&r)
	// The blocks that all parts share are judged even where no part uses them.
	c := intake.Take(q.visit(Readings{}), e.catalogue, &shared)
	r.Join(&shared)
	a := VisitRecordAnswer{
		Reference: q.Reference, IssuedAt: q.IssuedAt, System: q.System, Site: q.Site, Instruments: q.Instruments, ReadingsTaken: q.taken(),
		InstrumentList: listed(q.InstrumentList), Ports: listed(q.Ports), Remarks: listed(q.Remarks),
	}
	if err := e.recordParts(q, recorded{c, q.Instruments, shared}, &a, t, &r); err != nil {
		return VisitRecordAnswer{}, err
	}
	added := r.Uncertain(q.MassAdded, intake.At("/mass_added"), unit.KindMass)
	recovered := r.Uncertain(q.MassRecovered, intake.At("/mass_recovered"), unit.KindMass)
	r.OneOf(intake.At("/gwp_set"), q.GWPSet, "ar4", "ar5", "ar6")
	if err := r.Err(); err != nil {
		return VisitRecordAnswer{}, err
	}
	a.Refrigerant = c.Refrigerant.Designation
	t.refrigerant(c.Refrigerant)
	gwp := t.gwp(c.Refrigerant, q.GWPSet)
	a.Masses = Masses{Added: t.massEntry(added, gwp), Recovered: t.massEntry(recovered, gwp), Released: a.releasedBy(q.GaugesOff)}
	a.OpenPoints = notes(q.open(a))
	a.Common = t.common()
	var err error
	a.DocumentHash, err = documentHash(a)
	return a, err
}

// listed is a list of its own, empty where there is none.
func listed[T any](list []T) []T { return append([]T{}, list...) }

// taken lists the readings of the visit.
func (q VisitRecordQuestion) taken() []ReadingsTaken {
	all := []ReadingsTaken{}
	if p := q.BeforeStart; p != nil {
		all = append(all, ReadingsTaken{Part: "before_start", Readings: p.Readings, OffTime: p.OffTime})
	}
	if p := q.Running; p != nil {
		all = append(all, ReadingsTaken{Part: "running", Readings: p.Readings, RunningTime: p.RunningTime})
	}
	if p := q.AfterChange; p != nil {
		all = append(all, ReadingsTaken{Part: "after_change", Readings: p.Readings, RunningTime: p.RunningTime})
	}
	if p := q.GaugesOff; p != nil && p.Readings != nil {
		all = append(all, ReadingsTaken{Part: "gauges_off", Readings: *p.Readings})
	}
	return all
}

// recorded is what the parts of a visit share, resolved, and what is wrong with it.
type recorded struct {
	intake.Case
	instruments Instruments
	wrong       Refusal
}

// part is the visit with the readings of one of its parts, and what is wrong with
// both.
func (v recorded) part(name string, readings Readings) (intake.Case, *Refusal) {
	r := &Refusal{Unreadable: v.wrong.Unreadable, Errors: slices.Clone(v.wrong.Errors)}
	return v.With(readings, v.instruments, intake.At("/"+name), r), r
}

// recordParts asks the operations behind the parts of the document and hoists
// what they have in common.
func (e *Engine) recordParts(q VisitRecordQuestion, v recorded, a *VisitRecordAnswer, t *trail, r *Refusal) error {
	if p := q.BeforeStart; p != nil {
		c, wrong := v.part("before_start", p.Readings)
		got, err := e.standingPressure(StandingPressureQuestion{Visit: q.visit(p.Readings), OffTime: p.OffTime}, c, newTrail(t.as), wrong)
		if err := t.part(r, &got.Common, err); err != nil {
			return err
		}
		a.BeforeStart = &got
	}
	if p := q.Steadiness; p != nil {
		got, err := StabilityQuestion{Series: p.Series, RunningTime: p.RunningTime}.ask(intake.At("/steadiness"), newTrail(t.as))
		if err := t.part(r, &got.Common, err); err != nil {
			return err
		}
		a.Steadiness = &got
	}
	for _, p := range []struct {
		name string
		of   *WhileRunning
		into **DiagnosisAnswer
	}{{"running", q.Running, &a.Running}, {"after_change", q.AfterChange, &a.AfterChange}} {
		if p.of == nil {
			continue
		}
		c, wrong := v.part(p.name, p.of.Readings)
		got, err := e.diagnose(DiagnosisQuestion{Visit: q.visit(p.of.Readings), RunningTime: p.of.RunningTime, Prior: p.of.Prior}, c, newTrail(t.as), wrong)
		if err := t.part(r, &got.Common, err); err != nil {
			return err
		}
		*p.into = &got
	}
	if p := q.GaugesOff; p != nil {
		asked, read := q.gaugesOff()
		c, wrong := v.part(read, asked.Readings)
		c.At = intake.At("/gauges_off")
		got, err := e.hoseRecovery(asked, c, newTrail(t.as), wrong)
		if err := t.part(r, &got.Common, err); err != nil {
			return err
		}
		a.GaugesOff, a.OptionTaken = &got, p.OptionTaken
	}
	return nil
}

// visit is one part's readings with what all parts share.
func (q VisitRecordQuestion) visit(readings Readings) Visit {
	return Visit{System: q.System, Site: q.Site, Readings: readings, Instruments: q.Instruments}
}

// gaugesOff asks what the hoses hold, by the last readings where it has none of
// its own; read is the part that those are in.
func (q VisitRecordQuestion) gaugesOff() (asked HoseRecoveryQuestion, read string) {
	p := q.GaugesOff
	var last Readings
	switch read = "gauges_off"; {
	case p.Readings != nil:
		last = *p.Readings
	case q.AfterChange != nil:
		read, last = "after_change", q.AfterChange.Readings
	case q.Running != nil:
		read, last = "running", q.Running.Readings
	}
	return HoseRecoveryQuestion{
		Visit: q.visit(last), Running: p.Running, Hoses: p.Hoses, Manifold: p.Manifold,
		AmbientTemperature: p.AmbientTemperature, StorageTemperature: p.StorageTemperature, GWPSet: q.GWPSet,
	}, read
}

// part takes over what a part shares with the whole, or its errors. Any other
// error is returned.
func (t *trail) part(r *Refusal, common *Common, err error) error {
	if refusal, ok := errors.AsType[*Refusal](err); ok {
		r.Join(refusal)
		return nil
	}
	t.hoist(common)
	return err
}

// hoist moves what an answer shares with others to the whole document.
func (t *trail) hoist(c *Common) {
	join := func(list, more []Note) []Note {
		for _, n := range more {
			if !slices.ContainsFunc(list, func(known Note) bool { return known.Code == n.Code && known.Text == n.Text }) {
				list = append(list, n)
			}
		}
		return list
	}
	t.cautions, t.assumptions = join(t.cautions, c.Cautions), join(t.assumptions, c.Assumptions)
	for _, s := range c.Provenance.Sources {
		t.source(s.Key, s.Status)
	}
	c.Cautions, c.Assumptions, c.Provenance.Sources = nil, []Note{}, []Source{}
}

// check validates the plain words of the question.
func (q VisitRecordQuestion) check(r *Refusal) {
	at := func(name string) intake.Place { return intake.At("/" + name) }
	if q.IssuedAt == "" {
		r.Refuse(at("issued_at"), CodeMissing, "issued_at_missing", nil)
	}
	r.Moment(q.IssuedAt, at("issued_at"))
	if len(q.Reference) > maxReference {
		r.Refuse(at("reference"), CodeTooMany, "text_too_long", phrase.Params{"most": maxReference})
	}
	if len(q.Remarks) > maxRemarks {
		r.Refuse(at("remarks"), CodeTooMany, "too_many_remarks", phrase.Params{"most": maxRemarks})
	}
	for i, s := range q.Remarks[:min(len(q.Remarks), maxRemarks)] {
		if len(s) > maxRemark {
			r.Refuse(at("remarks").Item(i), CodeTooMany, "text_too_long", phrase.Params{"most": maxRemark})
		}
	}
	q.checkLists(at, r)
	if g := q.GaugesOff; g != nil {
		r.OneOf(at("gauges_off").Member("option_taken"), g.OptionTaken, "disconnect_as_is", "draw_back_to_suction", "recover_to_cylinder")
	}
}

// checkLists notes what is wrong with instruments and ports.
func (q VisitRecordQuestion) checkLists(at func(string) intake.Place, r *Refusal) {
	if len(q.InstrumentList) > maxList {
		r.Refuse(at("instrument_list"), CodeTooMany, "too_many_instruments", phrase.Params{"most": maxList})
	}
	if len(q.Ports) > maxList {
		r.Refuse(at("ports"), CodeTooMany, "too_many_ports", phrase.Params{"most": maxList})
	}
	for i, m := range q.InstrumentList[:min(len(q.InstrumentList), maxList)] {
		p := at("instrument_list").Item(i)
		if m.Name == "" {
			r.Refuse(p.Member("name"), CodeMissing, "instrument_name_missing", nil)
		}
		r.Date(m.CalibratedOn, p.Member("calibrated_on"))
		r.Date(m.CalibrationDue, p.Member("calibration_due"))
	}
	for i, l := range q.Ports[:min(len(q.Ports), maxList)] {
		p := at("ports").Item(i)
		if l.Port == "" {
			r.Refuse(p.Member("port"), CodeMissing, "port_missing", nil)
		}
		r.OneOf(p.Member("port"), l.Port, "suction", "liquid")
		r.OneOf(p.Member("core"), l.Core, "tight", "leaking", "replaced", "not_checked")
		r.OneOf(p.Member("leak_check"), l.LeakCheck, "no_leak_found", "leaking", "not_done")
	}
}

func (t *trail) massEntry(kg *gum.Uncertain, gwp *float64) *MassEntry {
	if kg == nil {
		return nil
	}
	m := &MassEntry{Mass: *t.as.some(unit.KindMass, kg)}
	if gwp != nil {
		m.CO2Equivalent = new(t.as.measure(unit.KindMass, kg.Value**gwp).within(kg.Standard * *gwp))
	}
	return m
}

// releasedBy is what the way that was taken released, nil where none was named
// or it was not open.
func (a VisitRecordAnswer) releasedBy(g *GaugesOff) *MassEntry {
	if g == nil || a.GaugesOff == nil {
		return nil
	}
	for _, o := range a.GaugesOff.Options {
		if o.Option == g.OptionTaken && o.Released != nil {
			return &MassEntry{Mass: *o.Released, CO2Equivalent: o.CO2Equivalent}
		}
	}
	return nil
}

// open lists what is left for the next visit.
func (q VisitRecordQuestion) open(a VisitRecordAnswer) []phrase.Code {
	var codes []phrase.Code
	add := func(yes bool, code phrase.Code) {
		if yes && !slices.Contains(codes, code) {
			codes = append(codes, code)
		}
	}
	last := a.Running
	if a.AfterChange != nil {
		last = a.AfterChange
	}
	if last != nil {
		add(last.Assessment == "fault_indicated", openFaultIndicated)
		add(last.Assessment == "inconclusive", openInconclusive)
		add(len(last.ReadingChecks) > 0, openReadingChecks)
	}
	add(a.Steadiness != nil && a.Steadiness.Status != "steady", openNotSteady)
	add(a.BeforeStart != nil && a.BeforeStart.Finding != "some_liquid_indicated" && a.BeforeStart.Finding != "supercritical", openStandingPressure)
	if g := q.GaugesOff; g != nil {
		add(g.OptionTaken == "", openGaugesWayUnknown)
		add(g.OptionTaken != "" && a.Masses.Released == nil, openGaugesWayNotAvailable)
	}
	for _, p := range q.Ports {
		add(p.Core == "leaking", openCoreLeaking)
		add(p.LeakCheck == "leaking", openPortLeaking)
		add(p.LeakCheck == "" || p.LeakCheck == "not_done", openLeakCheck)
		add(p.Cap == nil || !*p.Cap, openCapMissing)
		add(p.Seal == nil || !*p.Seal, openSealMissing)
		add(p.FittingToRebuild != nil && *p.FittingToRebuild, openFittingToRebuild)
	}
	add(q.GaugesOff != nil && len(q.Ports) == 0, openPortsNotRecorded)
	for _, m := range q.InstrumentList {
		add(m.CalibrationDue != "" && m.CalibrationDue < q.IssuedAt[:10], openCalibrationOverdue)
		add(m.CalibrationDue == "" && m.CalibratedOn == "", openCalibrationUnknown)
	}
	return codes
}

// documentHash is SHA-256 over the canonical document (RFC 8785) without its
// own member.
func documentHash(a VisitRecordAnswer) (DocumentHash, error) {
	type rest VisitRecordAnswer
	data, err := canonicaljson.Marshal(struct {
		rest
		DocumentHash *struct{} `json:"document_hash,omitempty"`
	}{rest: rest(a)})
	if err != nil {
		return DocumentHash{}, err
	}
	sum := sha256.Sum256(data)
	return DocumentHash{Canonicalization: "RFC 8785", Algorithm: "SHA-256", Value: hex.EncodeToString(sum[:])}, nil
}
