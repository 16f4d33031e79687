package query

import (
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// RefrigerantsQuestion asks for the whole catalogue.
type RefrigerantsQuestion struct {
}

// RefrigerantQuestion asks for one refrigerant.
type RefrigerantQuestion struct {
	Designation string `json:"-"`
}

// RefrigerantsAnswer lists the catalogue in numerical order.
type RefrigerantsAnswer struct {
	Refrigerants []RefrigerantEntry `json:"refrigerants"`
	Assumptions  []Note             `json:"assumptions"`
	Provenance   Provenance         `json:"provenance"`
} //@name RefrigerantsAnswer

// RefrigerantAnswer is one refrigerant.
type RefrigerantAnswer struct {
	RefrigerantEntry
	// SaturationCurves say how far the fast bubble and dew lines reach; null where there are none.
	SaturationCurves *SaturationCurves `json:"saturation_curves" extensions:"x-nullable"`
	Common
} //@name RefrigerantAnswer

// SaturationCurves are the ranges of the two lines. Beyond them points are
// solved one by one.
type SaturationCurves struct {
	Bubble CurveRange `json:"bubble"`
	Dew    CurveRange `json:"dew"`
} //@name SaturationCurves

// CurveRange is the range of one line.
type CurveRange struct {
	MinTemperature Measure `json:"min_temperature"`
	MaxTemperature Measure `json:"max_temperature"`
	MinPressure    Measure `json:"min_pressure"`
	MaxPressure    Measure `json:"max_pressure"`
	// EndsAt says why it stops at its upper end: near the critical point, or where temperature or pressure turns back.
	EndsAt string `json:"ends_at" enums:"near_critical,retrograde"`
} //@name CurveRange

// RefrigerantEntry is what is known of a refrigerant. What is not given is
// null with a reason.
type RefrigerantEntry struct {
	Designation string           `json:"designation" example:"R-410A"`
	Type        string           `json:"type" enums:"pure,azeotrope,zeotrope"`
	Composition []ComponentEntry `json:"composition"`
	// CompositionStatus tells how far the composition was checked against a source.
	CompositionStatus string        `json:"composition_status"`
	SafetyGroup       Fact          `json:"safety_group"`
	GWP               GWP           `json:"gwp"`
	ODP               Figure        `json:"odp"`
	Critical          CriticalPoint `json:"critical_point"`
	// NormalBubble is where liquid begins to boil at 101.325 kPa.
	NormalBubble *Measure `json:"normal_bubble_temperature" extensions:"x-nullable"`
	// NormalDew is where vapor begins to condense at 101.325 kPa.
	NormalDew *Measure `json:"normal_dew_temperature" extensions:"x-nullable"`
	// NormalReason says why there is no boiling point.
	NormalReason string `json:"normal_boiling_reason,omitempty"`
	// Glide is dew minus bubble temperature at 101.325 kPa.
	Glide     *Measure `json:"glide" extensions:"x-nullable"`
	MolarMass float64  `json:"molar_mass_g_per_mol" example:"72.585"`
	Limits    Limits   `json:"limits"`
	// Reference is the zero of enthalpies and entropies shown.
	Reference string `json:"enthalpy_reference" enums:"iir,normal_boiling_point,none"`
	// EquationUncertainty is that of the published equation.
	EquationUncertainty Fact `json:"equation_uncertainty"`
	// NumericalError bounds what solving the equation adds.
	NumericalError NumericalError `json:"numerical_error"`
	// UnfittedPairs are pairs of components without published mixing parameters.
	UnfittedPairs [][]string `json:"unfitted_pairs"`
	Sources       []string   `json:"sources"`
} //@name RefrigerantEntry

// ComponentEntry is a component's share.
type ComponentEntry struct {
	Refrigerant string  `json:"refrigerant" example:"R-32"`
	MassPercent float64 `json:"mass_percent" example:"50"`
	MolePercent float64 `json:"mole_percent" example:"69.76"`
	// TolerancePlus and ToleranceMinus are the published tolerances of a new blend, in mass percent.
	TolerancePlus  *float64 `json:"tolerance_plus,omitempty"`
	ToleranceMinus *float64 `json:"tolerance_minus,omitempty"`
} //@name ComponentEntry

// Fact is a word with its source, or null with the reason.
type Fact struct {
	Value  *string `json:"value" extensions:"x-nullable"`
	Reason string  `json:"reason,omitempty"`
	Source string  `json:"source,omitempty"`
	Status string  `json:"status,omitempty"`
} //@name Fact

// Figure is a number with its source, or null with the reason.
type Figure struct {
	Value  *float64 `json:"value" extensions:"x-nullable"`
	Reason string   `json:"reason,omitempty"`
	Source string   `json:"source,omitempty"`
	Status string   `json:"status,omitempty"`
} //@name Figure

// GWP are global warming potentials over 100 years by IPCC report.
type GWP struct {
	AR4 Figure `json:"ar4"`
	AR5 Figure `json:"ar5"`
	AR6 Figure `json:"ar6"`
} //@name GWP

// Critical are the critical point that the equation itself has, and the one
// listed with it (pure fluids), which can differ a little.
type CriticalPoint struct {
	Temperature *Measure `json:"temperature" extensions:"x-nullable"`
	Pressure    *Measure `json:"pressure" extensions:"x-nullable"`
	Density     *Measure `json:"density" extensions:"x-nullable"`
	// Reason says why there is none.
	Reason            string   `json:"reason,omitempty"`
	ListedTemperature *Measure `json:"listed_temperature,omitempty"`
	ListedPressure    *Measure `json:"listed_pressure,omitempty"`
} //@name CriticalPoint

// Limits bound the equations' validity.
type Limits struct {
	// MinTemperature is the highest triple point (or lower limit) of the components; below it answers are extrapolated.
	MinTemperature Measure `json:"min_temperature"`
	MaxTemperature Measure `json:"max_temperature"`
	MaxPressure    Measure `json:"max_pressure"`
} //@name Limits

// NumericalError bounds the error of solving the equations and of the curves
// through the solutions, relative: what tests hold every curve to.
type NumericalError struct {
	SaturationPressure float64 `json:"saturation_pressure" example:"1e-7"`
	Density            float64 `json:"density" example:"1e-6"`
} //@name NumericalError

// Why an entry has no figure, or a doubtful one.
const (
	notGiven         = "not_in_the_sources_used"
	solidHere        = "solid_at_this_pressure"
	extrapolatedHere = "extrapolated_below_triple_point"
)

// Refrigerants answers GET /v1/refrigerants.
func (e *Engine) Refrigerants(q RefrigerantsQuestion, as Presentation) (RefrigerantsAnswer, error) {
	t := newTrail(as)
	a := RefrigerantsAnswer{}
	for _, r := range e.catalogue.All() {
		entry := as.entry(r)
		a.Refrigerants = append(a.Refrigerants, entry)
		for _, key := range r.Sources {
			t.source(key, "")
		}
		t.facts(entry, r)
	}
	c := t.common()
	a.Assumptions, a.Provenance = c.Assumptions, c.Provenance
	return a, nil
}

// Refrigerant answers GET /v1/refrigerants/{designation}. An unknown
// designation is a *UnknownRefrigerantError; it can return ErrStopped.
func (e *Engine) Refrigerant(q RefrigerantQuestion, as Presentation) (RefrigerantAnswer, error) {
	r, err := e.catalogue.Find(q.Designation)
	if err != nil {
		return RefrigerantAnswer{}, err
	}
	t := newTrail(as)
	t.refrigerant(r)
	entry := as.entry(r)
	t.facts(entry, r)
	curves, err := e.curveRanges(r, as)
	if err != nil {
		return RefrigerantAnswer{}, err
	}
	return RefrigerantAnswer{entry, curves, t.common()}, nil
}

func (e *Engine) curveRanges(r *refrigerant.Refrigerant, p Presentation) (*SaturationCurves, error) {
	lines, err := e.lines(r)
	if err != nil || lines.Curve() == nil {
		return nil, err
	}
	of := func(side equilibrium.Line) CurveRange {
		coldest, hottest, lowest, highest, ending := lines.Curve().Range(side)
		c := CurveRange{
			MinTemperature: p.measure(unit.KindTemperature, coldest), MaxTemperature: p.measure(unit.KindTemperature, hottest),
			MinPressure: p.measure(unit.KindPressure, lowest), MaxPressure: p.measure(unit.KindPressure, highest), EndsAt: "near_critical",
		}
		if ending == saturation.Retrograde {
			c.EndsAt = "retrograde"
		}
		return c
	}
	return &SaturationCurves{of(equilibrium.BubbleLine), of(equilibrium.DewLine)}, nil
}

// facts notes what the figures of an entry rest on.
func (t *trail) facts(entry RefrigerantEntry, r *refrigerant.Refrigerant) {
	t.source(r.CompositionSource, r.CompositionStatus)
	for _, g := range []Figure{entry.GWP.AR4, entry.GWP.AR5, entry.GWP.AR6, entry.ODP} {
		t.source(g.Source, g.Status)
	}
	t.source(entry.SafetyGroup.Source, entry.SafetyGroup.Status)
	if r.Facts != nil {
		for _, tolerance := range r.Facts.Tolerances {
			t.source(tolerance.Source, tolerance.Status)
		}
	}
	t.mixture(r)
}

// mixtureModel is the source key of the multi-fluid model.
const mixtureModel = "kunz-2012"

// mixture notes the model behind the properties of a blend.
func (t *trail) mixture(r *refrigerant.Refrigerant) {
	if !r.Pure() {
		t.source(mixtureModel, "")
	}
}

func (p Presentation) entry(r *refrigerant.Refrigerant) RefrigerantEntry {
	s := r.System()
	a := RefrigerantEntry{
		Designation: r.Designation, Type: string(r.Kind()), CompositionStatus: r.CompositionStatus,
		MolarMass: significant(1000*r.MolarMass(), 7),
		Limits: Limits{
			MinTemperature: p.measure(unit.KindTemperature, s.MinTemperature()),
			MaxTemperature: p.measure(unit.KindTemperature, s.MaxTemperature()),
			MaxPressure:    p.measure(unit.KindPressure, s.MaxPressure()),
		},
		EquationUncertainty: Fact{Reason: notGiven},
		NumericalError:      NumericalError{SaturationPressure: saturation.PressureError, Density: saturation.DensityError},
		Sources:             r.Sources, UnfittedPairs: [][]string{},
	}
	a.Composition = p.shares(r)
	for i := range a.Composition {
		tolerance(&a.Composition[i], r)
	}
	for _, pair := range r.EstimatedPairs() {
		a.UnfittedPairs = append(a.UnfittedPairs, pair[:])
	}
	facts := r.Facts
	if facts == nil {
		facts = &refdata.Facts{}
	}
	a.GWP, a.ODP = GWP{figure(facts.GWPAR4), figure(facts.GWPAR5), figure(facts.GWPAR6)}, figure(facts.ODP)
	a.SafetyGroup = Fact{Reason: notGiven}
	if g := facts.SafetyGroup; g != nil {
		a.SafetyGroup = Fact{Value: &g.Value, Source: g.Source, Status: g.Status}
	}
	p.critical(&a.Critical, r)
	p.boiling(&a, r)
	a.Reference = "none"
	if ref, err := r.Reference(); err == nil {
		a.Reference = ref.Basis
	}
	return a
}

// tolerance writes the published tolerance of a component, where there is one.
func tolerance(c *ComponentEntry, r *refrigerant.Refrigerant) {
	if r.Facts == nil {
		return
	}
	if k := slices.IndexFunc(r.Facts.Tolerances, func(t refdata.Tolerance) bool { return t.Designation == c.Refrigerant }); k >= 0 {
		c.TolerancePlus, c.ToleranceMinus = &r.Facts.Tolerances[k].Plus, &r.Facts.Tolerances[k].Minus
	}
}

func figure(n *refdata.Number) Figure {
	if n == nil {
		return Figure{Reason: notGiven}
	}
	return Figure{Value: &n.Value, Source: n.Source, Status: n.Status}
}

func (p Presentation) critical(a *CriticalPoint, r *refrigerant.Refrigerant) {
	c, err := r.System().Critical()
	if err != nil {
		a.Reason = string(CodeNotConverged)
	} else {
		a.Temperature, a.Pressure = new(p.measure(unit.KindTemperature, c.Temperature)), new(p.measure(unit.KindPressure, c.Pressure))
		a.Density = new(p.measure(unit.KindDensity, c.Density*r.MolarMass()))
		// At the critical point the pressure hardly depends on the density: of
		// more digits the last ones would differ between processors.
		a.Density.Value = significant(a.Density.Value, 7)
	}
	if r.Pure() {
		f := r.System().Mixture().Fluid(0)
		a.ListedTemperature, a.ListedPressure = new(p.measure(unit.KindTemperature, f.CriticalTemperature)), new(p.measure(unit.KindPressure, f.CriticalPressure))
	}
}

func (p Presentation) boiling(a *RefrigerantEntry, r *refrigerant.Refrigerant) {
	n, err := r.Boiling()
	if err != nil {
		a.NormalReason = string(CodeNotConverged)
		return
	}
	switch {
	case n.BelowTriplePoint && r.Pure():
		a.NormalReason = solidHere
		return
	case n.BelowTriplePoint:
		a.NormalReason = extrapolatedHere
	}
	a.NormalBubble, a.NormalDew = new(p.measure(unit.KindTemperature, n.Bubble)), new(p.measure(unit.KindTemperature, n.Dew))
	a.Glide = new(p.measure(unit.KindTemperatureDiff, n.Dew-n.Bubble))
}

// SaturationQuestion asks for one point of the saturation lines.
type SaturationQuestion struct {
	Designation string
	Pressure    *Quantity
	Temperature *Quantity
	Site        Site
}

// SaturationAnswer is one point.
type SaturationAnswer struct {
	Refrigerant string `json:"refrigerant" example:"R-410A"`
	SaturationPoint
	Common
} //@name SaturationAnswer

// SaturationPoint is a point of the bubble and dew lines: at a pressure their
// temperatures, at a temperature their pressures.
type SaturationPoint struct {
	// Pressure asked for, absolute.
	Pressure *Measure `json:"pressure,omitempty"`
	// Temperature asked for.
	Temperature *Measure `json:"temperature,omitempty"`
	// BubbleTemperature is where liquid begins to boil: subcooling counts from it.
	BubbleTemperature *Measure `json:"bubble_temperature,omitempty"`
	// DewTemperature is where vapor begins to condense: superheat counts from it.
	DewTemperature *Measure `json:"dew_temperature,omitempty"`
	// Glide is dew minus bubble temperature.
	Glide               *Measure `json:"glide,omitempty"`
	BubblePressure      *Measure `json:"bubble_pressure,omitempty"`
	DewPressure         *Measure `json:"dew_pressure,omitempty"`
	BubbleGaugePressure *Measure `json:"bubble_gauge_pressure,omitempty"`
	DewGaugePressure    *Measure `json:"dew_gauge_pressure,omitempty"`
	// LiquidDensity at the bubble point.
	LiquidDensity *Measure `json:"liquid_density,omitempty"`
	// VaporDensity at the dew point.
	VaporDensity *Measure `json:"vapor_density,omitempty"`
	// LatentHeat is dew minus bubble enthalpy at the pressure asked for.
	LatentHeat     *Measure `json:"latent_heat,omitempty"`
	LiquidEnthalpy *Measure `json:"liquid_enthalpy,omitempty"`
	VaporEnthalpy  *Measure `json:"vapor_enthalpy,omitempty"`
	LiquidEntropy  *Measure `json:"liquid_entropy,omitempty"`
	VaporEntropy   *Measure `json:"vapor_entropy,omitempty"`
} //@name SaturationPoint

// Saturation answers GET /v1/refrigerants/{designation}/saturation. It returns
// *UnknownRefrigerantError or *Refusal.
func (e *Engine) Saturation(q SaturationQuestion, as Presentation) (SaturationAnswer, error) {
	f, err := e.catalogue.Find(q.Designation)
	if err != nil {
		return SaturationAnswer{}, err
	}
	t := newTrail(as)
	var r Refusal
	air := intake.TakeSite(q.Site, intake.Parameter("altitude"), &r)
	k := wanted(q.Pressure, q.Temperature, air, intake.Parameter("pressure"), intake.Parameter("temperature"), intake.Parameter("pressure"), &r)
	if err := r.Err(); err != nil {
		return SaturationAnswer{}, err
	}
	lines, err := e.lines(f)
	if err != nil {
		return SaturationAnswer{}, err
	}
	t.airOf(air, k)
	point, fault := t.saturationPoint(f, lines, k)
	if fault != nil {
		return SaturationAnswer{}, &Refusal{Errors: []RequestError{*fault}}
	}
	t.refrigerant(f)
	return SaturationAnswer{Refrigerant: f.Designation, SaturationPoint: point, Common: t.common()}, nil
}

// airOf notes where the air's pressure comes from, where a point has to do with
// it.
func (t *trail) airOf(air intake.Air, points ...wantedPoint) {
	if slices.ContainsFunc(points, func(k wantedPoint) bool { return !k.pressure || k.gauge }) {
		t.air(air)
	}
}

// wantedPoint is a resolved question for one point.
type wantedPoint struct {
	pressure bool // else temperature
	gauge    bool
	si       float64 // Pa absolute or K
	air      intake.Air
	at       intake.Place
}

// wanted resolves exactly one of pressure and temperature.
func wanted(pressure, temperature *Quantity, air intake.Air, pressureAt, temperatureAt, neither intake.Place, r *Refusal) wantedPoint {
	switch {
	case pressure != nil && temperature != nil:
		r.Refuse(temperatureAt, CodeContradiction, "pressure_or_temperature", nil)
	case pressure != nil:
		if v, ok := air.Pressure(pressure, pressureAt, r); ok {
			return wantedPoint{pressure: true, gauge: v.Gauge, si: v.SI, air: air, at: pressureAt}
		}
	case temperature != nil:
		if v, ok := r.Resolve(temperature, temperatureAt, unit.KindTemperature); ok {
			return wantedPoint{si: v.SI, air: air, at: temperatureAt}
		}
	default:
		r.Refuse(neither, CodeMissing, "pressure_or_temperature_missing", nil)
	}
	return wantedPoint{}
}

// saturationPoint computes one point; its error is one of physics.
func (t *trail) saturationPoint(f *refrigerant.Refrigerant, lines saturation.Lines, k wantedPoint) (SaturationPoint, *RequestError) {
	find := lines.AtTemperature
	if k.pressure {
		find = lines.AtPressure
	}
	b, err := find(equilibrium.BubbleLine, k.si)
	var d saturation.Properties
	if err == nil {
		d, err = find(equilibrium.DewLine, k.si)
	}
	if err != nil {
		var r Refusal
		refuseAs(&r, k.at, noSaturation(t.as, f, err))
		return SaturationPoint{}, &r.Errors[0]
	}
	var a SaturationPoint
	if k.pressure {
		a.Pressure = new(t.as.measure(unit.KindPressure, k.si))
		a.BubbleTemperature = new(t.as.measure(unit.KindTemperature, b.Temperature))
		a.DewTemperature = new(t.as.measure(unit.KindTemperature, d.Temperature))
		a.Glide = new(t.as.measure(unit.KindTemperatureDiff, d.Temperature-b.Temperature))
	} else {
		a.Temperature = new(t.as.measure(unit.KindTemperature, k.si))
		a.BubblePressure = new(t.as.measure(unit.KindPressure, b.Pressure))
		a.DewPressure = new(t.as.measure(unit.KindPressure, d.Pressure))
		zero := k.air.Zero.Pascal()
		a.BubbleGaugePressure = new(t.as.measure(unit.KindGaugePressure, b.Pressure-zero))
		a.DewGaugePressure = new(t.as.measure(unit.KindGaugePressure, d.Pressure-zero))
	}
	t.phases(&a, f, b, d)
	if lowest := f.System().MinTemperature(); min(b.Temperature, d.Temperature) < lowest {
		t.assume(belowTriplePoint, phrase.Params{"temperature": t.as.said(unit.KindTemperature, lowest, 0)})
	}
	t.mixture(f)
	t.explainPoint(f, k, b, d)
	return a, nil
}

// phases write densities, and enthalpies and entropies from the reference that
// the refrigerant has.
func (t *trail) phases(a *SaturationPoint, f *refrigerant.Refrigerant, b, d saturation.Properties) {
	m := f.MolarMass()
	a.LiquidDensity = new(t.as.measure(unit.KindDensity, b.Density*m))
	a.VaporDensity = new(t.as.measure(unit.KindDensity, d.Density*m))
	if a.Pressure != nil {
		a.LatentHeat = new(t.as.measure(unit.KindSpecificEnergy, (d.Enthalpy-b.Enthalpy)/m))
	}
	ref, err := f.Reference()
	if err != nil {
		return
	}
	a.LiquidEnthalpy = new(t.as.measure(unit.KindSpecificEnergy, b.Enthalpy/m+ref.Enthalpy))
	a.VaporEnthalpy = new(t.as.measure(unit.KindSpecificEnergy, d.Enthalpy/m+ref.Enthalpy))
	a.LiquidEntropy = new(t.as.measure(unit.KindSpecificEntropy, b.Entropy/m+ref.Entropy))
	a.VaporEntropy = new(t.as.measure(unit.KindSpecificEntropy, d.Entropy/m+ref.Entropy))
	t.reference(f)
}

// explainPoint puts the working on the board.
func (t *trail) explainPoint(f *refrigerant.Refrigerant, k wantedPoint, b, d saturation.Properties) {
	if !t.as.Explain {
		return
	}
	const formula = "equal fugacity of every component in both phases"
	as, key := t.as, f.Sources[0]
	if !k.pressure {
		t.step("bubble_pressure", stepSaturationPressures, formula, key, phrase.Params{
			"temperature": as.said(unit.KindTemperature, k.si, 0), "refrigerant": f.Designation,
			"bubble_pressure": as.said(unit.KindPressure, b.Pressure, 0), "dew_pressure": as.said(unit.KindPressure, d.Pressure, 0),
		})
		return
	}
	t.step("bubble_temperature", stepBubbleTemperature, formula, key, phrase.Params{
		"pressure": as.said(unit.KindPressure, k.si, 0), "refrigerant": f.Designation, "bubble_temperature": as.said(unit.KindTemperature, b.Temperature, 0),
	})
	t.step("dew_temperature", stepDewTemperature, formula, key, phrase.Params{
		"dew_temperature": as.said(unit.KindTemperature, d.Temperature, 0), "glide": as.said(unit.KindTemperatureDiff, d.Temperature-b.Temperature, 0),
	})
}

// SaturationPointsQuestion asks for many points of one refrigerant or typed
// composition.
type SaturationPointsQuestion struct {
	// Refrigerant by designation, or a composition.
	Refrigerant string `json:"refrigerant,omitempty" example:"R-454B"`
	// Composition of a blend that has no designation.
	Composition []Share `json:"composition,omitempty"`
	Site        Site    `json:"site"`
	// Points, each a pressure or a temperature; up to 10000.
	Points []PointQuestion `json:"points" binding:"required"`
} //@name SaturationPointsQuestion

// PointQuestion is a pressure or a temperature.
type PointQuestion struct {
	Pressure    *Quantity `json:"pressure,omitempty"`
	Temperature *Quantity `json:"temperature,omitempty"`
} //@name PointQuestion

// SaturationPointsAnswer holds the points in the order asked.
type SaturationPointsAnswer struct {
	Refrigerant string           `json:"refrigerant" example:"R-454B"`
	Composition []ComponentEntry `json:"composition"`
	Points      []PointAnswer    `json:"points"`
	Common
} //@name SaturationPointsAnswer

// PointAnswer is a point, or the problem that it has.
type PointAnswer struct {
	SaturationPoint
	Problem *RequestError `json:"problem,omitempty"`
} //@name PointAnswer

// MaxPoints bounds the points of one question.
const MaxPoints = 10000

// SaturationPoints answers POST /v1/saturation. It returns *Refusal.
func (e *Engine) SaturationPoints(q SaturationPointsQuestion, as Presentation) (SaturationPointsAnswer, error) {
	t := newTrail(as)
	var r Refusal
	f := intake.TakeRefrigerant(e.catalogue, q.Refrigerant, q.Composition, intake.At(""), &r)
	air := intake.TakeSite(q.Site, intake.At("/site"), &r)
	switch {
	case len(q.Points) == 0:
		r.Refuse(intake.At("/points"), CodeMissing, "points_missing", nil)
	case len(q.Points) > MaxPoints:
		r.Refuse(intake.At("/points"), CodeTooMany, "too_many_points", phrase.Params{"given": len(q.Points), "most": MaxPoints})
		return SaturationPointsAnswer{}, &r
	}
	points := make([]wantedPoint, len(q.Points))
	for i, p := range q.Points {
		at := intake.At("/points").Item(i)
		points[i] = wanted(p.Pressure, p.Temperature, air, at.Member("pressure"), at.Member("temperature"), at, &r)
	}
	if err := r.Err(); err != nil {
		return SaturationPointsAnswer{}, err
	}
	t.airOf(air, points...)
	t.refrigerant(f)
	a := SaturationPointsAnswer{Refrigerant: f.Designation, Points: make([]PointAnswer, len(points))}
	a.Composition = as.shares(f)
	lines, err := e.lines(f)
	if err != nil {
		return SaturationPointsAnswer{}, err
	}
	for i, k := range points {
		a.Points[i].SaturationPoint, a.Points[i].Problem = t.saturationPoint(f, lines, k)
	}
	a.Common = t.common()
	return a, nil
}

func (p Presentation) shares(f *refrigerant.Refrigerant) []ComponentEntry {
	moles := f.System().Composition()
	list := make([]ComponentEntry, len(f.Components))
	for i, c := range f.Components {
		list[i] = ComponentEntry{Refrigerant: c.Designation, MassPercent: significant(100*c.MassFraction, 9), MolePercent: significant(100*moles[i], 7)}
	}
	return list
}
