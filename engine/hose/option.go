package hose

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Way is a way of taking the hoses off.
type Way string

// The ways.
const (
	// DisconnectAsIs takes the hoses off with what is in them.
	DisconnectAsIs Way = "disconnect_as_is"
	// DrawBackToSuction lets the high-side hose empty into the running low side
	// first. It ends with vapour at suction pressure in all hoses.
	DrawBackToSuction Way = "draw_back_to_suction"
	// RecoverToCylinder empties the hoses with a recovery machine.
	RecoverToCylinder Way = "recover_to_cylinder"
)

// Reason is why a way is not open.
type Reason string

// The reasons.
const (
	CompressorNotRunning Reason = "compressor_not_running"
	// NoHighHose and NoSuctionHose: a hose that drawing back needs is not there.
	NoHighHose    Reason = "no_high_side_hose"
	NoSuctionHose Reason = "no_suction_hose"
	// HighHoseNotClosed: the high-side hose cannot be closed off from the liquid
	// line while it is emptied.
	HighHoseNotClosed Reason = "high_side_hose_cannot_be_closed_off"
	// HoseNotClosed: a hose cannot be closed off from the system.
	HoseNotClosed Reason = "hose_cannot_be_closed_off"
	// HeatingVaporPort: in heating the vapour service port is at discharge
	// pressure.
	HeatingVaporPort Reason = "vapor_port_at_discharge_pressure"
	// NoPressureDifference: suction does not lie below the pressure in the
	// high-side hose by more than the uncertainty.
	NoPressureDifference Reason = "no_pressure_difference"
	// SuctionAboveGaugeLimit and SuctionAboveRating: suction pressure is more
	// than the low-side gauge, a hose bears.
	SuctionAboveGaugeLimit Reason = "suction_above_gauge_limit"
	SuctionAboveRating     Reason = "suction_above_hose_rating"
	// LiquidStays: a hose is so cold that liquid would stay in it at the end.
	LiquidStays Reason = "liquid_stays_in_cold_hose"
	// NothingToGain: no less would be released than by disconnecting as is.
	NothingToGain Reason = "nothing_to_gain"
	// EndStateUnknown: the equation has no state for what would stay.
	EndStateUnknown Reason = "end_state_unknown"
)

// Step is a step of working; its words are in the reference data.
type Step string

// The steps.
const (
	WearProtection      Step = "wear_goggles_and_gloves"
	CloseManifold       Step = "close_manifold_valves"
	KeepRunning         Step = "keep_compressor_running"
	SuctionOffFirst     Step = "take_suction_hose_off_first"
	SuctionOffLast      Step = "take_suction_hose_off_last"
	VaporPortOff        Step = "take_low_hose_off"
	CapSuction          Step = "cap_suction_port"
	CapVapor            Step = "cap_vapor_port"
	BackSeatHigh        Step = "back_seat_high_valve"
	CloseBall           Step = "close_hose_ball_valve"
	SelfClosingOff      Step = "take_self_closing_end_off_core"
	TurnCoupler         Step = "turn_back_coupler"
	HighOffQuickly      Step = "take_high_hose_off_quickly"
	HighOff             Step = "take_high_hose_off"
	CapHigh             Step = "cap_high_port"
	TrueSuctionPort     Step = "use_true_suction_port"
	RaiseHigh           Step = "raise_high_hose"
	KeepCenterShut      Step = "keep_center_hose_shut"
	OpenLow             Step = "open_low_valve"
	CrackHigh           Step = "crack_high_valve_slowly"
	WaitEqual           Step = "wait_for_equal_pressures"
	IsolateBoth         Step = "isolate_both_ports"
	ConnectMachine      Step = "connect_recovery_machine"
	RightCylinder       Step = "use_cylinder_for_this_refrigerant"
	RecoverHoses        Step = "recover_from_hoses"
	WeighCylinder       Step = "close_and_weigh_cylinder"
	EmptyBeforeStoring  Step = "empty_hoses_before_storing"
	HosesStillHoldVapor Step = "hoses_still_hold_vapor"
	WipeOil             Step = "wipe_oil"
	LeakCheck           Step = "leak_check_ports"
)

// Balance is where the refrigerant goes, in kg: Released + Returned is what all
// hoses and the manifold hold.
type Balance struct {
	// Released is all that does not go back to the system or to a cylinder:
	// AtOnce when the ends come off, and KeptInHoses, which gets out when they
	// are next opened.
	Released, AtOnce, KeptInHoses gum.Uncertain
	// Returned to the system, or to the cylinder.
	Returned gum.Uncertain
	// LiquidReleased is the part of Released that leaves as liquid.
	LiquidReleased gum.Uncertain
	// ShareOfCharge is Released over the charge, nil where that is unknown.
	ShareOfCharge *gum.Uncertain
	// CO2Equivalent of Released in kg, nil where the GWP is unknown.
	CO2Equivalent *gum.Uncertain
}

// Option is one way with what speaks against it, or what it does.
type Option struct {
	Way       Way
	Available bool
	// Because says why it is not available.
	Because []Reason
	// Balance and Steps, in order, of a way that is available.
	Balance *Balance
	Steps   []Step
}

func (w *work) options() {
	atOnce, liquid := gum.Exact(0), gum.Exact(0)
	for _, h := range w.hoses {
		liquid = liquid.Plus(w.liquidMass(h))
		switch {
		case h.vents():
			atOnce = atOnce.Plus(w.mass(h))
		case h.hose.Side != Center:
			behind, _ := w.behind(h)
			atOnce = atOnce.Plus(behind)
		}
		if ok, _ := h.closable(); h.hose.Side != Center && !ok {
			w.assume(SprayNotCounted)
		}
	}
	for _, h := range w.chambers() {
		half := w.manifold.Times(0.5)
		liquid = liquid.Plus(half.Mul(h.loadingOfLiquid()))
		// A chamber of the closed manifold is open to its hose.
		if h.vents() {
			atOnce = atOnce.Plus(half.Mul(h.loading()))
		}
	}
	w.out.Options = []Option{
		{Way: DisconnectAsIs, Available: true, Balance: w.balance(w.total, atOnce, liquid), Steps: w.disconnectSteps()},
		w.drawBack(),
		w.toCylinder(),
	}
}

func (w *work) balance(released, atOnce, liquid gum.Estimate) *Balance {
	b := &Balance{
		Released: w.inputs.Of(released), AtOnce: w.inputs.Of(atOnce), KeptInHoses: w.inputs.Of(released.Minus(atOnce)),
		Returned: w.inputs.Of(w.total.Minus(released)), LiquidReleased: w.inputs.Of(liquid),
	}
	if c := w.in.Charge; c != nil {
		e := w.inputs.Of(released.Over(w.inputs.Take(axisCharge, *c)))
		b.ShareOfCharge = &e
	}
	if g := w.in.GWP; g != nil {
		e := w.inputs.Of(released.Times(*g))
		b.CO2Equivalent = &e
	}
	return b
}

func (h *held) selfClosing() bool {
	return h.hose.Shutoff == LowLoss || h.hose.Shutoff == BallValve
}

// vents tells whether what the hose holds gets out when it comes off its port.
func (h *held) vents() bool { return h.hose.Side != Center && !h.selfClosing() }

// closable tells whether the hose can be closed off from its port with what it
// holds, and whether what stands behind its shut-off is lost in doing so.
func (h *held) closable() (ok, losesEnd bool) {
	switch h.hose.Port {
	case BackSeatValve, QuickCoupler:
		return true, false
	default:
		return h.selfClosing(), true
	}
}

// rest is what vapour at pressure p leaves in all hoses and the manifold, apart
// from what is behind the shut-offs of the hoses in lost; open is the part of
// it that gets out when the hoses come off.
func (w *work) rest(p gum.Estimate, lost func(*held) bool) (all, open gum.Estimate, reasons []Reason) {
	all, open = gum.Exact(0), gum.Exact(0)
	dew, _, err := w.in.Lines.Dew(unit.Pascal(p.Value))
	coldest := dew.Kelvin()
	switch {
	case errors.Is(err, equilibrium.ErrAboveCritical), errors.Is(err, equilibrium.ErrNearCritical):
		coldest = 0
	case errors.Is(err, equilibrium.ErrBelowRange):
		// Below the pressure of the coldest dew point it is vapour anywhere.
		coldest = w.in.System.MinTemperature()
	case err != nil:
		return all, open, []Reason{EndStateUnknown}
	}
	add := func(h *held, volume gum.Estimate) {
		if !(h.t.Value > coldest) {
			reasons = []Reason{LiquidStays}
			return
		}
		rho, err := w.density(h.t, p, equilibrium.Vapor)
		if err != nil {
			reasons = []Reason{EndStateUnknown}
			return
		}
		m := volume.Mul(rho)
		all = all.Plus(m)
		if h.vents() {
			open = open.Plus(m)
		}
	}
	for _, h := range w.hoses {
		v := h.volume0
		if lost(h) {
			v = v.Minus(h.end)
		}
		add(h, w.grown(v, p))
	}
	for _, h := range w.chambers() {
		add(h, w.manifold.Times(0.5))
	}
	return all, open, reasons
}

// leave weighs a way that ends with vapour at pressure p everywhere. What
// stands behind the shut-offs of the hoses in lost gets out at the start.
func (w *work) leave(o Option, p gum.Estimate, lost func(*held) bool, steps []Step) Option {
	released, atOnce, reasons := w.rest(p, lost)
	if len(reasons) > 0 {
		o.Because = reasons
		return o
	}
	liquid := gum.Exact(0)
	for _, h := range w.hoses {
		if lost(h) {
			m, l := w.behind(h)
			released, atOnce, liquid = released.Plus(m), atOnce.Plus(m), liquid.Plus(l)
		}
	}
	if !(released.Value < w.total.Value) {
		o.Because = []Reason{NothingToGain}
		return o
	}
	o.Available = true
	o.Balance, o.Steps = w.balance(released, atOnce, liquid), steps
	return o
}

func (w *work) drawBack() Option {
	o := Option{Way: DrawBackToSuction}
	because := func(r Reason) { o.Because = append(o.Because, r) }
	if !w.in.Running {
		because(CompressorNotRunning)
	}
	high, low := w.first(High), w.first(Low)
	if high == nil {
		because(NoHighHose)
	}
	for _, h := range w.hoses {
		if ok, _ := h.closable(); h.hose.Side == High && !ok {
			because(HighHoseNotClosed)
			break
		}
	}
	if low == nil {
		because(NoSuctionHose)
		return o
	}
	if w.in.Heating && !low.hose.TrueSuction {
		because(HeatingVaporPort)
	}
	if high != nil && !w.positive(high.p.Minus(low.p)) {
		because(NoPressureDifference)
	}
	gauge := low.p.Value - w.atmosphere
	if l := w.in.Manifold.LowGaugeLimit; l == nil {
		w.assume(RatingNotGiven)
	} else if gauge > l.Pascal() {
		because(SuctionAboveGaugeLimit)
	}
	over := false
	for _, h := range w.hoses {
		r := h.hose.WorkingPressure
		if r == nil {
			w.assume(RatingNotGiven)
		}
		over = over || r != nil && gauge > r.Pascal()
	}
	if over {
		because(SuctionAboveRating)
	}
	if len(o.Because) > 0 {
		return o
	}

	return w.leave(o, low.p, func(h *held) bool {
		_, loses := h.closable()
		return h.hose.Side == High && loses
	}, w.drawBackSteps())
}

func (w *work) toCylinder() Option {
	o := Option{Way: RecoverToCylinder}
	for _, h := range w.hoses {
		if ok, _ := h.closable(); h.hose.Side != Center && !ok {
			o.Because = append(o.Because, HoseNotClosed)
			return o
		}
	}
	end := w.in.RecoveryEnd.Pascal()
	if w.in.RecoveryEnd.IsZero() {
		end = w.atmosphere
		w.assume(RecoveredToAtmosphere)
		w.figure("recovery_end_pressure")
	}
	return w.leave(o, gum.Exact(end), func(h *held) bool {
		_, loses := h.closable()
		return h.hose.Side != Center && loses
	}, w.recoverSteps())
}

// closing is the step that closes a high-side hose off from its port, or takes
// it off as it is.
func (h *held) closing() Step {
	switch {
	case h.hose.Port == BackSeatValve:
		return BackSeatHigh
	case h.hose.Port == QuickCoupler:
		return TurnCoupler
	case h.hose.Shutoff == BallValve:
		return CloseBall
	case h.hose.Shutoff == LowLoss:
		return SelfClosingOff
	default:
		return HighOffQuickly
	}
}

// highOff are the steps for the high-side hoses, one set for each way that
// they close.
func (w *work) highOff(after ...Step) []Step {
	var steps []Step
	seen := map[Step]bool{}
	for _, h := range w.hoses {
		if c := h.closing(); h.hose.Side == High && !seen[c] {
			seen[c] = true
			steps = append(steps, c)
			if c == BackSeatHigh || c == TurnCoupler {
				steps = append(steps, after...)
			}
		}
	}
	return steps
}

func (w *work) disconnectSteps() []Step {
	steps := []Step{WearProtection, CloseManifold}
	low, high := w.first(Low), w.first(High)
	vaporPort := w.in.Heating && low != nil && !low.hose.TrueSuction
	switch {
	case low == nil:
	case vaporPort:
		steps = append(steps, VaporPortOff, CapVapor)
	default:
		if w.in.Running {
			steps = append(steps, KeepRunning)
		}
		steps = append(steps, SuctionOffFirst, CapSuction)
	}
	if high != nil {
		steps = append(steps, w.highOff(HighOff)...)
		steps = append(steps, CapHigh)
	}
	for _, h := range w.hoses {
		if h.selfClosing() && h.phase != Empty {
			steps = append(steps, EmptyBeforeStoring)
			break
		}
	}
	return append(steps, WipeOil, LeakCheck)
}

func (w *work) drawBackSteps() []Step {
	steps := []Step{WearProtection, CloseManifold, KeepRunning}
	if w.in.Heating {
		steps = append(steps, TrueSuctionPort)
	}
	high := w.highOff()
	steps = append(steps, high...)
	stays := false // the hose stays on its closed port
	for _, s := range high {
		stays = stays || s == BackSeatHigh || s == TurnCoupler
	}
	if !stays {
		steps = append(steps, CapHigh, RaiseHigh)
	}
	for _, h := range w.hoses {
		if h.phase == Empty {
			steps = append(steps, KeepCenterShut)
			break
		}
	}
	steps = append(steps, OpenLow, CrackHigh, WaitEqual, CloseManifold)
	if stays {
		steps = append(steps, HighOff, CapHigh)
	}
	return append(steps, SuctionOffLast, CapSuction, HosesStillHoldVapor, WipeOil, LeakCheck)
}

func (w *work) recoverSteps() []Step {
	return []Step{
		WearProtection, CloseManifold, IsolateBoth, RightCylinder, ConnectMachine, RecoverHoses, WeighCylinder,
		HosesStillHoldVapor, CapSuction, CapHigh, WipeOil, LeakCheck,
	}
}
