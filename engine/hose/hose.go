// Package hose tells what service hoses hold, what each way of taking them off
// releases, and what a hose that was shut does when it gets warm. It works from
// the real states of the refrigerant and must not know designations, the wire,
// or the words in which a step is told.
package hose

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Side is where a hose hangs.
type Side string

// The sides.
const (
	// Low is the suction side; in heating, unless said otherwise, the vapour
	// service port, which is at discharge pressure then.
	Low Side = "low"
	// High is the liquid line.
	High Side = "high"
	// Center is the utility hose of the manifold, on no port of the system.
	Center Side = "center"
)

// Port is what the hose is connected to.
type Port string

// The ports.
const (
	// Core is a spring-loaded valve core that the hose holds open.
	Core Port = "core"
	// FrontSeatValve is a service valve that closes the line but not its gauge
	// port, which has a core.
	FrontSeatValve Port = "front_seat_valve"
	// BackSeatValve is a service valve that closes its gauge port when turned
	// fully back.
	BackSeatValve Port = "back_seat_valve"
	// QuickCoupler is a coupler whose knob lets the core of the port close.
	QuickCoupler Port = "quick_coupler"
)

// Shutoff is what closes the end of the hose.
type Shutoff string

// The shut-offs.
const (
	Open      Shutoff = "none"
	LowLoss   Shutoff = "low_loss"
	BallValve Shutoff = "ball_valve"
)

// Sides, Ports and Shutoffs list the codes in the order of the wire.
func Sides() []Side { return []Side{Low, High, Center} }

// Ports lists the ports.
func Ports() []Port { return []Port{Core, FrontSeatValve, BackSeatValve, QuickCoupler} }

// Shutoffs lists the shut-offs.
func Shutoffs() []Shutoff { return []Shutoff{Open, LowLoss, BallValve} }

// Hose is one hose as it hangs. Values are in the SI unit that their field
// names; fields that are nil were not given.
type Hose struct {
	Name    string
	Side    Side
	Port    Port    // of no meaning for a center hose
	Shutoff Shutoff // empty is taken as none
	Length  gum.Uncertain
	// Bore in m; where nil that of a nominal 1/4 in hose, from memory.
	Bore *gum.Uncertain
	// ShutoffToEnd is the volume in m3 between the shut-off and the port; where
	// nil and there is a shut-off, a customary one from memory.
	ShutoffToEnd *gum.Uncertain
	// WorkingPressure is the hose's rating; nil where unknown.
	WorkingPressure *unit.GaugePressure
	// Pressure at its port in Pa, absolute. A hose on a port cannot be weighed
	// without; a center hose without is taken as empty.
	Pressure *gum.Uncertain
	// LineTemperature in K of the line at its port; a center hose has none.
	LineTemperature *gum.Uncertain
	// Temperature of the hose in K; the air's stands in where nil.
	Temperature *gum.Uncertain
	// OilShare of the mass of liquid in it, a fraction of 1; nil for a customary
	// one from memory.
	OilShare *gum.Uncertain
	// TrueSuction tells that a low-side hose is on a port at suction pressure in
	// heating too.
	TrueSuction bool
}

// Manifold joins the hoses.
type Manifold struct {
	// Volume in m3 of its passages and gauges; nil for a customary one from
	// memory, zero for none.
	Volume *gum.Uncertain
	// LowGaugeLimit and HighGaugeLimit are the ends of scale or ratings of its
	// gauges or sensors; nil where unknown.
	LowGaugeLimit, HighGaugeLimit *unit.GaugePressure
}

// Input is all that is known when the gauges are to come off.
type Input struct {
	System *equilibrium.System
	// Lines of System; the zero value means those of the rigorous solver.
	Lines saturation.Lines
	// Running tells that the compressor runs, Heating that the outdoor coil
	// evaporates.
	Running, Heating bool
	Hoses            []Hose
	Manifold         Manifold
	// Atmosphere at the site.
	Atmosphere unit.Pressure
	// Ambient is the air around the hoses in K, nil where unknown.
	Ambient *gum.Uncertain
	// Storage is the temperature that shut hoses may reach; zero asks for none.
	Storage unit.Temperature
	// RecoveryEnd is the pressure down to which a recovery machine empties the
	// hoses; zero for the atmosphere.
	RecoveryEnd unit.Pressure
	// Charge of the system in kg, nil where unknown.
	Charge *gum.Uncertain
	// GWP is kg of CO2 a kg of refrigerant, nil where unknown.
	GWP *float64
}

// ErrInput is wrapped by every error about an input that cannot be one.
var ErrInput = errors.New("hose: not a possible input")

// FieldError says which input is at fault. Hose is its index, -1 where the
// field belongs to none. Err is the solver's error where physics refused.
type FieldError struct {
	Hose   int
	Field  string // as on the wire: bore, working_pressure, …
	Reason string
	Err    error
}

func (e *FieldError) Error() string {
	if e.Hose < 0 {
		return fmt.Sprintf("%v: %s %s", ErrInput, e.Field, e.Reason)
	}
	return fmt.Sprintf("%v: %s of hose %d %s", ErrInput, e.Field, e.Hose+1, e.Reason)
}

// Unwrap makes errors.Is hold for ErrInput and for the solver's error.
func (e *FieldError) Unwrap() []error {
	if e.Err == nil {
		return []error{ErrInput}
	}
	return []error{ErrInput, e.Err}
}

// Need is an input without which a hose cannot be weighed.
type Need struct {
	Hose  int
	Field string
}

// Assumption is the stable code of something taken for granted.
type Assumption string

// The assumptions that Assess can make.
const (
	// DefaultBore: the bore of a nominal 1/4 in hose, from memory.
	DefaultBore Assumption = "default_hose_bore"
	// DefaultManifoldVolume: the volume of a two-valve manifold, from memory.
	DefaultManifoldVolume Assumption = "default_manifold_volume"
	// DefaultShutoffVolume: the volume behind a shut-off, from memory.
	DefaultShutoffVolume Assumption = "default_shutoff_volume"
	// DefaultOilShare: the oil in the liquid of a hose, from memory.
	DefaultOilShare Assumption = "default_oil_share"
	// HoseAtAmbient: a hose has the temperature of the air within an allowance.
	HoseAtAmbient Assumption = "hose_at_ambient_temperature"
	// LiquidAtHighPort: the high-side port stands in liquid, the worse case.
	LiquidAtHighPort Assumption = "liquid_at_high_port"
	// VaporAtLowPort: the low-side port stands in vapour.
	VaporAtLowPort Assumption = "vapor_at_low_port"
	// CenterHoseEmpty: a center hose without a pressure holds no refrigerant.
	CenterHoseEmpty Assumption = "center_hose_empty"
	// FillAllowance: how full of liquid a hose is has an assumed range.
	FillAllowance Assumption = "liquid_fill_allowance"
	// ComplianceAllowance: how a hose grows with pressure and temperature is
	// assumed, from memory.
	ComplianceAllowance Assumption = "hose_compliance_allowance"
	// PortPressureReached: hoses have settled to the pressure of their ports and
	// to their own temperature.
	PortPressureReached Assumption = "hoses_settled"
	// SprayNotCounted: what leaves the system itself while an end is unscrewed
	// is not counted.
	SprayNotCounted Assumption = "spray_while_unscrewing_not_counted"
	// RatingNotGiven: suction was not compared with a rating that is unknown.
	RatingNotGiven Assumption = "suction_not_compared_with_unknown_rating"
	// RecoveredToAtmosphere: a recovery machine goes down to the atmosphere.
	RecoveredToAtmosphere Assumption = "hoses_recovered_to_atmosphere"
)

// Assumptions lists all of them.
func Assumptions() []Assumption {
	return []Assumption{
		DefaultBore, DefaultManifoldVolume, DefaultShutoffVolume, DefaultOilShare, HoseAtAmbient, LiquidAtHighPort,
		VaporAtLowPort, CenterHoseEmpty, FillAllowance, ComplianceAllowance, PortPressureReached, SprayNotCounted,
		RatingNotGiven, RecoveredToAtmosphere,
	}
}

// Answer is what follows. Where Needs is not empty, Held lists the hoses that
// could be weighed, and there is no total, no option and no shut hose.
type Answer struct {
	Held []Content
	// Manifold is what the manifold holds, nil where it has no volume.
	Manifold *Content
	// Total of refrigerant in kg, and how much of it is liquid.
	Total, TotalLiquid gum.Uncertain
	Options            []Option
	Capped             []Capped
	Needs              []Need
	Assumptions        []Assumption
	// Figures of the reference data that the answer rests on.
	Figures []refdata.Figure
}

// Assess weighs what the hoses hold, what each way of taking them off releases,
// and what they do when shut and warmed. It returns joined *FieldError, one for
// every input at fault, or a solver's error.
func Assess(in Input) (Answer, error) {
	if err := validate(in); err != nil {
		return Answer{}, err
	}
	if in.Lines == (saturation.Lines{}) {
		in.Lines = saturation.Rigorous(in.System)
	}
	w := newWork(in)
	if err := w.weigh(); err != nil {
		return Answer{}, err
	}
	if len(w.out.Needs) > 0 {
		return w.out, nil
	}
	w.options()
	if err := w.capped(); err != nil {
		return Answer{}, err
	}
	return w.out, nil
}

func validate(in Input) error {
	var faults []error
	fault := func(hose int, field, reason string) {
		faults = append(faults, &FieldError{Hose: hose, Field: field, Reason: reason})
	}
	finite := func(v float64) bool { return math.Abs(v) <= math.MaxFloat64 }
	measured := func(hose int, field string, m *gum.Uncertain, least, most float64, zero bool) {
		switch {
		case m == nil:
		case !(m.Standard >= 0 && finite(m.Standard)):
			fault(hose, field, "has a standard uncertainty that is not a finite number from zero up")
		case !(m.Value > least && m.Value <= most) && !(zero && m.Value == least):
			fault(hose, field, fmt.Sprintf("lies outside its range from %g to %g (SI)", least, most))
		}
	}
	limit := func(hose int, field string, p *unit.GaugePressure) {
		if p != nil && !(p.Pascal() > 0 && finite(p.Pascal())) {
			fault(hose, field, "is not a finite pressure above zero")
		}
	}
	if in.System == nil {
		fault(-1, "refrigerant", "is missing")
	}
	if len(in.Hoses) == 0 {
		fault(-1, "hoses", "is empty")
	}
	for i, h := range in.Hoses {
		if h.Side != Low && h.Side != High && h.Side != Center {
			fault(i, "side", fmt.Sprintf("%.40q is not known", h.Side))
		}
		switch h.Port {
		case Core, FrontSeatValve, BackSeatValve, QuickCoupler:
		default:
			if h.Side != Center || h.Port != "" {
				fault(i, "port", fmt.Sprintf("%.40q is not known", h.Port))
			}
		}
		switch h.Shutoff {
		case "", Open, LowLoss, BallValve:
		default:
			fault(i, "shutoff", fmt.Sprintf("%.40q is not known", h.Shutoff))
		}
		measured(i, "length", &h.Length, 0, 100, false)
		measured(i, "bore", h.Bore, 0, 0.1, false)
		measured(i, "shutoff_to_end_volume", h.ShutoffToEnd, 0, 1, true)
		limit(i, "working_pressure", h.WorkingPressure)
		measured(i, "pressure", h.Pressure, 0, 1e9, false)
		measured(i, "line_temperature", h.LineTemperature, 0, 2000, false)
		measured(i, "temperature", h.Temperature, 0, 2000, false)
		measured(i, "oil_fraction", h.OilShare, 0, 0.9, true)
	}
	measured(-1, "manifold_volume", in.Manifold.Volume, 0, 1, true)
	limit(-1, "low_gauge_limit", in.Manifold.LowGaugeLimit)
	limit(-1, "high_gauge_limit", in.Manifold.HighGaugeLimit)
	measured(-1, "ambient", in.Ambient, 0, 2000, false)
	measured(-1, "charge", in.Charge, 0, math.MaxFloat64, false)
	if p := in.Atmosphere.Pascal(); !(p > 0 && p <= 2e5) {
		fault(-1, "atmosphere", "is not a pressure of the air")
	}
	if p := in.RecoveryEnd; !p.IsZero() && !(p.Pascal() > 0 && finite(p.Pascal())) {
		fault(-1, "recovery_end", "is not a finite pressure above zero")
	}
	if t := in.Storage; !t.IsZero() && !(t.Kelvin() > 0 && finite(t.Kelvin())) {
		fault(-1, "storage_temperature", "is not above absolute zero")
	}
	if in.GWP != nil && !(*in.GWP >= 0 && finite(*in.GWP)) {
		fault(-1, "gwp", "is not a finite number from zero up")
	}
	return errors.Join(faults...)
}
