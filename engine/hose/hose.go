// Package hose tells what service hoses hold, what each way of taking them off
// releases, and what a hose that was shut does when it gets warm. It works from
// the real states of the refrigerant and must not know designations, the wire,
// or the words in which a step is told.
package hose

import (
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/input"
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

// Given names what Assess is told.
type Given int

// What is told of the system and the air, of all hoses, of the manifold, and of
// each hose.
const (
	Refrigerant Given = iota
	SystemCharge
	RefrigerantGWP
	AirPressure
	AirTemperature
	StorageTemperature
	RecoveryEndPressure
	AllHoses
	ManifoldVolume
	LowGaugeLimit
	HighGaugeLimit
	HoseSide
	HosePort
	HoseShutoff
	HoseLength
	HoseBore
	HoseShutoffToEnd
	HoseWorkingPressure
	HosePressure
	HoseLineTemperature
	HoseTemperature
	HoseOilShare
	givenCount
)

var givenNames = [givenCount]string{
	"refrigerant", "charge of the system", "GWP of the refrigerant", "pressure of the air", "temperature of the air",
	"storage temperature", "end pressure of the recovery", "hoses", "volume of the manifold", "limit of the low-side gauge",
	"limit of the high-side gauge", "side of hose", "port of hose", "shut-off of hose", "length of hose", "bore of hose",
	"volume behind the shut-off of hose", "working pressure of hose", "pressure of hose", "temperature of the line at hose",
	"temperature of hose", "oil in hose",
}

// String is what it is called in an error.
func (g Given) String() string {
	if g < 0 || g >= givenCount {
		return fmt.Sprintf("hose.Given(%d)", int(g))
	}
	return givenNames[g]
}

// AllGiven lists all that Assess is told.
func AllGiven() []Given {
	all := make([]Given, givenCount)
	for i := range all {
		all[i] = Given(i)
	}
	return all
}

// ErrInput is wrapped by every [InputError].
var ErrInput = input.Err

// InputError says which input is at fault; its Index is that of a hose.
type InputError = input.Error[Given]

// EndTooLarge: the volume behind the shut-off is more than the whole hose holds.
const EndTooLarge input.Reason = "is more than the whole hose holds"

// Need is what a hose cannot be weighed without.
type Need struct {
	Hose  int
	Given Given
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
// and what they do when shut and warmed. It returns joined *InputError, one
// for every input at fault, or a solver's error.
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

// Ranges far beyond what exists, so that what is typed wrong is told apart from
// what is unusual.
var (
	hoseLengths    = input.Limits{Kind: unit.KindLength, Max: 100, Above: true}
	hoseBores      = input.Limits{Kind: unit.KindLength, Max: 0.1, Above: true}
	volumes        = input.Limits{Kind: unit.KindVolume, Max: 1}
	pressures      = input.Limits{Kind: unit.KindPressure, Max: 1e9, Above: true}
	temperatures   = input.Limits{Kind: unit.KindTemperature, Max: 2000, Above: true}
	oilShares      = input.Limits{Kind: unit.KindRatio, Max: 0.9}
	charges        = input.Limits{Kind: unit.KindMass, Max: math.Inf(1), Above: true}
	airPressures   = input.Limits{Kind: unit.KindPressure, Max: 2e5, Above: true}
	ratings        = input.Limits{Kind: unit.KindGaugePressure, Max: math.Inf(1), Above: true}
	anyPressure    = input.Limits{Kind: unit.KindPressure, Max: math.Inf(1), Above: true}
	anyTemperature = input.Limits{Kind: unit.KindTemperature, Max: math.Inf(1), Above: true}
	anyGWP         = input.Limits{Kind: unit.KindRatio, Max: math.Inf(1)}
)

func validate(in Input) error {
	var bad input.Errors[Given]
	if in.System == nil {
		bad.Add(Refrigerant, -1, input.Missing)
	}
	if len(in.Hoses) == 0 {
		bad.Add(AllHoses, -1, input.Missing)
	}
	rating := func(of Given, hose int, p *unit.GaugePressure) {
		if p != nil {
			bad.Within(of, hose, p.Pascal(), ratings)
		}
	}
	for i, h := range in.Hoses {
		if !slices.Contains(Sides(), h.Side) {
			bad.Add(HoseSide, i, input.Unknown)
		}
		if !slices.Contains(Ports(), h.Port) && !(h.Side == Center && h.Port == "") {
			bad.Add(HosePort, i, input.Unknown)
		}
		if h.Shutoff != "" && !slices.Contains(Shutoffs(), h.Shutoff) {
			bad.Add(HoseShutoff, i, input.Unknown)
		}
		bad.Measured(HoseLength, i, &h.Length, hoseLengths)
		bad.Measured(HoseBore, i, h.Bore, hoseBores)
		bad.Measured(HoseShutoffToEnd, i, h.ShutoffToEnd, volumes)
		rating(HoseWorkingPressure, i, h.WorkingPressure)
		bad.Measured(HosePressure, i, h.Pressure, pressures)
		bad.Measured(HoseLineTemperature, i, h.LineTemperature, temperatures)
		bad.Measured(HoseTemperature, i, h.Temperature, temperatures)
		bad.Measured(HoseOilShare, i, h.OilShare, oilShares)
	}
	bad.Measured(ManifoldVolume, -1, in.Manifold.Volume, volumes)
	rating(LowGaugeLimit, -1, in.Manifold.LowGaugeLimit)
	rating(HighGaugeLimit, -1, in.Manifold.HighGaugeLimit)
	bad.Measured(AirTemperature, -1, in.Ambient, temperatures)
	bad.Measured(SystemCharge, -1, in.Charge, charges)
	bad.Within(AirPressure, -1, in.Atmosphere.Pascal(), airPressures)
	if p := in.RecoveryEnd; !p.IsZero() {
		bad.Within(RecoveryEndPressure, -1, p.Pascal(), anyPressure)
	}
	if t := in.Storage; !t.IsZero() {
		bad.Within(StorageTemperature, -1, t.Kelvin(), anyTemperature)
	}
	if in.GWP != nil {
		bad.Within(RefrigerantGWP, -1, *in.GWP, anyGWP)
	}
	return bad.Join()
}
