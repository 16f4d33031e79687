package hose

import (
	"errors"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Phase is what is in a hose.
type Phase string

// The phases.
const (
	SubcooledLiquid  Phase = "subcooled_liquid"
	SuperheatedVapor Phase = "superheated_vapor"
	TwoPhase         Phase = "two_phase"
	Supercritical    Phase = "supercritical"
	Empty            Phase = "empty"
)

// Basis is why a hose holds that.
type Basis string

// The grounds. A hose is a dead end: it stays at the pressure of its port and
// comes to its own temperature, and the equation of state decides between
// liquid and vapour at that pair.
const (
	// FilledWithLiquid: liquid at the port, the hose colder than the bubble point.
	FilledWithLiquid Basis = "filled_with_liquid"
	// BoiledBack: liquid at the port, but the hose warmer than the dew point, so
	// that it boils and pushes itself back into the line.
	BoiledBack Basis = "boiled_back"
	// VaporAtHoseTemperature: vapour at the port and in the hose.
	VaporAtHoseTemperature Basis = "vapor_at_hose_temperature"
	// Condensing: vapour at the port and the hose colder than the dew point:
	// liquid gathers until the hose is full; how far that went is not known.
	Condensing Basis = "condensing"
	// NearSaturation: within its uncertainty the hose may lie on either side of
	// saturation, or lies between bubble and dew point.
	NearSaturation Basis = "near_saturation"
	// AboveCritical: one phase at a pressure above the critical.
	AboveCritical Basis = "one_phase_above_critical"
	// NothingInIt: no pressure was given for a center hose.
	NothingInIt Basis = "nothing_in_it"
	// LikeItsHoses: a manifold holds what its hoses hold.
	LikeItsHoses Basis = "like_its_hoses"
)

// Content is what one hose, or the manifold, holds.
type Content struct {
	// Hose is the index of the hose, -1 for the manifold.
	Hose  int
	Name  string
	Phase Phase
	Basis Basis
	// Volume in m3 at the pressure inside; Density in kg/m3 is Mass over Volume.
	Volume, Density gum.Uncertain
	// Mass of refrigerant in kg, LiquidMass the part of it that is liquid,
	// OilMass the oil in that liquid.
	Mass, LiquidMass, OilMass gum.Uncertain
	// LiquidShare of the volume, 0 to 1.
	LiquidShare gum.Uncertain
	// Pressure in Pa (absolute) and Temperature in K inside; zero where empty,
	// and for a manifold, whose halves differ.
	Pressure, Temperature gum.Uncertain
}

// held is a hose under calculation.
type held struct {
	hose           *Hose
	index          int
	phase          Phase
	basis          Basis
	volume0        gum.Estimate // m3 at the atmosphere
	end            gum.Estimate // m3 of it behind the shut-off
	p, t           gum.Estimate
	share          gum.Estimate // liquid of the volume
	liquid, vapor  gum.Estimate // kg/m3
	oil            gum.Estimate // share of the liquid's mass
	leastFill, top float64
}

// work is one assessment on its way.
type work struct {
	in         Input
	inputs     gum.Inputs
	atmosphere float64
	figures    refdata.Figures
	compliance gum.Estimate
	hoses      []*held
	manifold   gum.Estimate // m3
	total      gum.Estimate
	out        Answer
}

func newWork(in Input) *work {
	w := &work{in: in, atmosphere: in.Atmosphere.Pascal(), figures: refdata.HoseFigures()}
	w.compliance = w.allowance(axisCompliance, "volume_per_pressure")
	return w
}

func (w *work) assume(a Assumption) {
	if !slices.Contains(w.out.Assumptions, a) {
		w.out.Assumptions = append(w.out.Assumptions, a)
	}
}

// figure finds a figure and notes that it was used.
func (w *work) figure(code string) refdata.Figure {
	f, ok := w.figures.Get(code)
	if !ok {
		panic("hose: no figure " + code)
	}
	if !slices.ContainsFunc(w.out.Figures, func(g refdata.Figure) bool { return g.Code == code }) {
		w.out.Figures = append(w.out.Figures, f)
	}
	return f
}

// band is a figure in SI units with its ends.
func (w *work) band(code string) (value, low, high float64) {
	f := w.figure(code)
	if value = figure.SI(f); f.Low == nil || f.High == nil {
		return value, value, value
	}
	return value, figure.Low(f), figure.High(f)
}

// allowance is a figure as an input whose error is spread evenly over its band
// (GUM 4.3.7).
func (w *work) allowance(axis int, code string) gum.Estimate {
	v, low, high := w.band(code)
	return w.inputs.Take(axis, gum.Evenly(v, high-low))
}

func (w *work) weigh() error {
	var bad input.Errors[Given]
	w.assume(PortPressureReached)
	w.assume(ComplianceAllowance)
	for i := range w.in.Hoses {
		h, err := w.hose(i)
		if err != nil {
			bad = append(bad, err)
			continue
		}
		if h != nil {
			w.hoses = append(w.hoses, h)
			w.out.Held = append(w.out.Held, w.content(h))
		}
	}
	if err := bad.Join(); err != nil || len(w.out.Needs) > 0 {
		return err
	}
	liquid := gum.Exact(0)
	w.total = gum.Exact(0)
	for _, h := range w.hoses {
		w.total = w.total.Plus(w.mass(h))
		liquid = liquid.Plus(w.liquidMass(h))
	}
	w.manifold = w.manifoldVolume()
	if w.manifold.Value > 0 {
		c, m, l := w.manifoldContent()
		w.total, liquid = w.total.Plus(m), liquid.Plus(l)
		w.out.Manifold = &c
	}
	w.out.Total, w.out.TotalLiquid = w.inputs.Of(w.total), w.inputs.Of(liquid)
	return nil
}

// hose reads one hose and decides what is in it; nil where a need was noted.
func (w *work) hose(i int) (*held, error) {
	in := &w.in.Hoses[i]
	h := &held{hose: in, index: i, share: gum.Exact(0), liquid: gum.Exact(0), vapor: gum.Exact(0), oil: gum.Exact(0), end: gum.Exact(0)}
	if err := w.size(h); err != nil {
		return nil, err
	}
	warm := w.temperature(h)
	if in.Pressure == nil {
		if in.Side != Center {
			w.out.Needs = append(w.out.Needs, Need{i, HosePressure})
			return nil, nil
		}
		w.assume(CenterHoseEmpty)
		h.phase, h.basis, h.p = Empty, NothingInIt, gum.Exact(w.atmosphere)
		if !warm {
			return nil, nil
		}
		return h, nil
	}
	if !warm {
		return nil, nil
	}
	h.p = w.inputs.Take(axis(i, ofPressure), *in.Pressure)
	if err := w.inRange(h); err != nil {
		return nil, err
	}
	if err := w.settle(h); err != nil {
		return nil, &InputError{Input: HosePressure, Index: i, Reason: input.Unsolved, Err: err}
	}
	if h.share.Value > 0 {
		if in.OilShare != nil {
			h.oil = w.inputs.Take(axis(i, ofOil), *in.OilShare)
		} else {
			h.oil = w.allowance(axisOil, "liquid_oil_share")
			w.assume(DefaultOilShare)
		}
	}
	return h, nil
}

// size takes the volumes of a hose and of its end beyond the shut-off.
func (w *work) size(h *held) error {
	in, i := h.hose, h.index
	var bore gum.Estimate
	if in.Bore != nil {
		bore = w.inputs.Take(axis(i, ofBore), *in.Bore)
	} else {
		bore = w.allowance(axisBore, "bore_nominal_quarter_inch")
		w.assume(DefaultBore)
	}
	h.volume0 = bore.Mul(bore).Mul(w.inputs.Take(axis(i, ofLength), in.Length)).Times(math.Pi / 4)
	if in.Shutoff != LowLoss && in.Shutoff != BallValve {
		return nil
	}
	if in.ShutoffToEnd != nil {
		h.end = w.inputs.Take(axis(i, ofEnd), *in.ShutoffToEnd)
	} else {
		h.end = w.allowance(axisEnd, "shutoff_end_volume")
		w.assume(DefaultShutoffVolume)
	}
	if !(h.end.Value <= h.volume0.Value) {
		return &InputError{Input: HoseShutoffToEnd, Index: i, Reason: EndTooLarge}
	}
	return nil
}

// temperature takes that of a hose, or of the air around it; false where a need
// was noted.
func (w *work) temperature(h *held) bool {
	own, ambient := h.hose.Temperature, w.in.Ambient
	switch {
	case own != nil:
		h.t = w.inputs.Take(axis(h.index, ofTemperature), *own)
	case ambient != nil:
		around, _, _ := w.band("hose_temperature_from_air")
		h.t = w.inputs.Take(axisAmbient, *ambient).Plus(w.inputs.Take(axis(h.index, ofTemperature), gum.Uncertain{Standard: around / math.Sqrt(3)}))
		w.assume(HoseAtAmbient)
	default:
		w.out.Needs = append(w.out.Needs, Need{h.index, HoseTemperature})
		return false
	}
	return true
}

// inRange refuses what the equations of the refrigerant do not reach.
func (w *work) inRange(h *held) error {
	s := w.in.System
	switch {
	case h.t.Value >= s.MinTemperature() && h.t.Value <= s.MaxTemperature():
	case h.hose.Temperature == nil:
		return &InputError{Input: AirTemperature, Index: -1, Reason: input.Unsolved, Err: equilibrium.ErrOutside}
	default:
		return &InputError{Input: HoseTemperature, Index: h.index, Reason: input.Unsolved, Err: equilibrium.ErrOutside}
	}
	if !(h.p.Value <= s.MaxPressure()) {
		return &InputError{Input: HosePressure, Index: h.index, Reason: input.Unsolved, Err: equilibrium.ErrOutside}
	}
	return nil
}

// settle finds the phases of a hose at its pressure and temperature.
func (w *work) settle(h *held) error {
	line, p := w.in.Lines, unit.Pascal(h.p.Value)
	bubble, slope, err := line.Bubble(p)
	if errors.Is(err, equilibrium.ErrAboveCritical) || errors.Is(err, equilibrium.ErrNearCritical) {
		return w.settleAbove(h)
	}
	if err != nil {
		return err
	}
	dew, dewSlope, err := line.Dew(p)
	if err != nil {
		return err
	}
	colder := gum.Linear(bubble.Kelvin()-h.t.Value, slope, h.p, -1, h.t)
	warmer := gum.Linear(h.t.Value-dew.Kelvin(), 1, h.t, -dewSlope, h.p)
	hoseLiquid, hoseVapor := w.positive(colder), w.positive(warmer)

	portLiquid, portVapor := w.atPort(h, bubble, dew, hoseLiquid, hoseVapor)
	switch {
	case hoseVapor:
		h.phase, h.basis = SuperheatedVapor, VaporAtHoseTemperature
		if portLiquid {
			h.basis = BoiledBack
		}
		h.vapor, err = w.density(h.t, h.p, equilibrium.Vapor)
		return err
	case hoseLiquid && portLiquid:
		h.phase, h.basis = SubcooledLiquid, FilledWithLiquid
		h.share = w.allowance(axis(h.index, ofFill), "liquid_fill")
		_, h.leastFill, h.top = w.band("liquid_fill")
		w.assume(FillAllowance)
	default:
		h.phase, h.basis = TwoPhase, NearSaturation
		if hoseLiquid || portVapor && h.t.Value < dew.Kelvin() {
			h.basis = Condensing
		}
		h.share = w.inputs.Take(axis(h.index, ofFill), gum.Evenly(0.5, 1))
		h.leastFill, h.top = 0, 1
		w.assume(FillAllowance)
	}
	if colder.Value > 0 {
		h.liquid, err = w.density(h.t, h.p, equilibrium.Liquid)
	} else {
		h.liquid, err = w.saturated(equilibrium.BubbleLine, h.p)
	}
	if err != nil {
		return err
	}
	if warmer.Value > 0 {
		h.vapor, err = w.density(h.t, h.p, equilibrium.Vapor)
	} else {
		h.vapor, err = w.saturated(equilibrium.DewLine, h.p)
	}
	return err
}

// atPort says what comes out of the port that a hose is on: what the line behind
// it holds, or else what its side usually does.
func (w *work) atPort(h *held, bubble, dew unit.Temperature, hoseLiquid, hoseVapor bool) (liquid, vapor bool) {
	switch t := h.hose.LineTemperature; {
	case t != nil && h.hose.Side != Center:
		return t.Value < bubble.Kelvin(), t.Value > dew.Kelvin()
	case h.hose.Side == High:
		w.assume(LiquidAtHighPort)
		return true, false
	case h.hose.Side == Low:
		w.assume(VaporAtLowPort)
		return false, true
	}
	// Shut off from everything, a center hose is what its own state says.
	return hoseLiquid, hoseVapor
}

// settleAbove is for a pressure beyond the saturation lines: one phase. Colder
// than where the lines end it is counted as liquid, filling the hose.
func (w *work) settleAbove(h *held) error {
	end, err := w.in.System.End(equilibrium.BubbleLine)
	if err != nil {
		return err
	}
	h.basis = AboveCritical
	if h.t.Value < end.Temperature {
		h.phase, h.share, h.leastFill, h.top = SubcooledLiquid, gum.Exact(1), 1, 1
		h.liquid, err = w.density(h.t, h.p, equilibrium.Liquid)
		return err
	}
	h.phase = Supercritical
	h.vapor, err = w.density(h.t, h.p, equilibrium.Vapor)
	return err
}

// density of one phase in kg/m3.
func (w *work) density(t, p gum.Estimate, side equilibrium.Side) (gum.Estimate, error) {
	s := w.in.System
	rho, err := s.Density(t.Value, p.Value, side)
	if err != nil {
		return gum.Estimate{}, err
	}
	_, byRho, byT := s.Mixture().Pressure(t.Value, rho, s.Composition())
	m := s.MolarMass()
	return gum.Linear(rho*m, m/byRho, p, -m*byT/byRho, t), nil
}

// saturated is the density of the phase that has the composition on a line.
func (w *work) saturated(line equilibrium.Line, p gum.Estimate) (gum.Estimate, error) {
	const step = 1e-4 // of the pressure, for the slope
	at, err := w.in.Lines.AtPressure(line, p.Value)
	if err != nil {
		return gum.Estimate{}, err
	}
	below, err := w.in.Lines.AtPressure(line, p.Value*(1-step))
	if err != nil {
		return gum.Estimate{}, err
	}
	m := w.in.System.MolarMass()
	return gum.Linear(at.Density*m, (at.Density-below.Density)*m/(p.Value*step), p, 0, gum.Estimate{}), nil
}

// positive tells whether e lies above zero by more than its uncertainty.
func (w *work) positive(e gum.Estimate) bool { return e.Value > gum.Coverage*w.inputs.Standard(e) }

// grown is a volume of hose, given at the atmosphere, at a pressure.
func (w *work) grown(volume, p gum.Estimate) gum.Estimate {
	return volume.Mul(gum.Exact(1).Plus(w.compliance.Mul(p.Minus(gum.Exact(w.atmosphere)))))
}

func (w *work) volume(h *held) gum.Estimate { return w.grown(h.volume0, h.p) }

// loading is the mass of refrigerant a volume, kg/m3.
func (h *held) loading() gum.Estimate {
	return h.loadingOfLiquid().Plus(h.share.Complement().Mul(h.vapor))
}

func (h *held) loadingOfLiquid() gum.Estimate {
	return h.share.Mul(h.liquid).Mul(h.oil.Complement())
}

func (w *work) mass(h *held) gum.Estimate       { return w.volume(h).Mul(h.loading()) }
func (w *work) liquidMass(h *held) gum.Estimate { return w.volume(h).Mul(h.loadingOfLiquid()) }

// behind is what stands between the shut-off and the port.
func (w *work) behind(h *held) (mass, liquid gum.Estimate) {
	v := w.grown(h.end, h.p)
	return v.Mul(h.loading()), v.Mul(h.loadingOfLiquid())
}

func (w *work) content(h *held) Content {
	c := Content{
		Hose: h.index, Name: h.hose.Name, Phase: h.phase, Basis: h.basis,
		Volume: w.inputs.Of(w.volume(h)), Density: w.inputs.Of(h.loading()),
		Mass: w.inputs.Of(w.mass(h)), LiquidMass: w.inputs.Of(w.liquidMass(h)),
		OilMass:     w.inputs.Of(w.volume(h).Mul(h.share).Mul(h.liquid).Mul(h.oil)),
		LiquidShare: w.inputs.Of(h.share),
	}
	if h.phase != Empty {
		c.Pressure, c.Temperature = w.inputs.Of(h.p), w.inputs.Of(h.t)
	}
	return c
}

func (w *work) manifoldVolume() gum.Estimate {
	if v := w.in.Manifold.Volume; v != nil {
		return w.inputs.Take(axisManifold, *v)
	}
	w.assume(DefaultManifoldVolume)
	return w.allowance(axisManifold, "manifold_volume")
}

// first is the first hose on a side, nil where there is none.
func (w *work) first(side Side) *held {
	for _, h := range w.hoses {
		if h.hose.Side == side {
			return h
		}
	}
	return nil
}

// chambers are the hoses that fill the two halves of the closed manifold.
func (w *work) chambers() [2]*held {
	low, high := w.first(Low), w.first(High)
	switch {
	case low == nil && high == nil:
		low, high = w.hoses[0], w.hoses[0]
	case low == nil:
		low = high
	case high == nil:
		high = low
	}
	return [2]*held{low, high}
}

func (w *work) manifoldContent() (c Content, mass, liquid gum.Estimate) {
	mass, liquid = gum.Exact(0), gum.Exact(0)
	oil, share := gum.Exact(0), gum.Exact(0)
	half := w.manifold.Times(0.5)
	halves := w.chambers()
	for _, h := range halves {
		mass = mass.Plus(half.Mul(h.loading()))
		liquid = liquid.Plus(half.Mul(h.loadingOfLiquid()))
		oil = oil.Plus(half.Mul(h.share).Mul(h.liquid).Mul(h.oil))
		share = share.Plus(h.share.Times(0.5))
	}
	c = Content{
		Hose: -1, Phase: halves[0].phase, Basis: LikeItsHoses,
		Volume: w.inputs.Of(w.manifold), Density: w.inputs.Of(mass.Over(w.manifold)),
		Mass: w.inputs.Of(mass), LiquidMass: w.inputs.Of(liquid), OilMass: w.inputs.Of(oil), LiquidShare: w.inputs.Of(share),
	}
	if c.Phase != halves[1].phase {
		c.Phase = TwoPhase
	}
	return c, mass, liquid
}
