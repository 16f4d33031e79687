package diagram

import (
	"errors"
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
)

// Place is where in the circuit a state is; stable codes.
type Place string

// The places, in the order in which the refrigerant comes by.
const (
	SuctionLine    Place = "suction_line"
	DischargeLine  Place = "discharge_line"
	LiquidLine     Place = "liquid_line"
	AfterExpansion Place = "after_expansion"
)

// Process is what leads from one state to the next; stable codes.
type Process string

// The processes.
const (
	Compression   Process = "compression"
	HeatRejection Process = "heat_rejection"
	Expansion     Process = "expansion"
	Evaporation   Process = "evaporation"
)

// Phase of a state; stable codes.
type Phase string

// The phases.
const (
	SubcooledLiquid  Phase = "subcooled_liquid"
	SuperheatedVapor Phase = "superheated_vapor"
	TwoPhase         Phase = "two_phase"
	Supercritical    Phase = "supercritical"
)

// ErrTwoPhase reports readings on the wrong side of the dome, or on it:
// pressure and temperature do not say how much of it is vapor.
var ErrTwoPhase = errors.New("diagram: two phases, so pressure and temperature give no enthalpy")

// State is one state of the circuit.
type State struct {
	Place Place
	// Pressure in Pa, Temperature in K, Enthalpy in J/kg.
	Pressure, Temperature, Enthalpy gum.Estimate
	Phase                           Phase
	// VaporFraction of the mass, where there are two phases.
	VaporFraction gum.Estimate
	// Region holds the state with 95 % probability: a closed outline, empty
	// where the readings count as exact.
	Region []Point
	// NotResolved: the region of pressure and temperature reaches over the
	// dome, where it is cut off; what is beyond can have any enthalpy in the
	// dome at its pressure.
	NotResolved bool
	// Err says why there is no enthalpy: ErrTwoPhase or the solver's error.
	// Pressure and, but for AfterExpansion, Temperature stand nevertheless.
	Err error
}

// Leg joins two states that are there.
type Leg struct {
	Process  Process
	From, To Place
}

// Level is a pressure at which the refrigerant evaporates or condenses.
type Level struct {
	// Process is Evaporation or HeatRejection.
	Process     Process
	Bubble, Dew Saturated
}

// Lack is a reading that is missing for a state.
type Lack struct {
	Place   Place
	Reading circuit.Reading
}

// Circuit is what readings lead to.
type Circuit struct {
	States []State
	Legs   []Leg
	Levels []Level
	Lacks  []Lack
	// LiquidForDischarge and DischargeForLiquid: one high-side pressure stands
	// in for the other.
	LiquidForDischarge, DischargeForLiquid bool
}

// points are all that must lie inside the window.
func (c *Circuit) points() []Point {
	var all []Point
	for _, s := range c.States {
		if s.Err == nil {
			all = append(all, Point{s.Enthalpy.Value, s.Pressure.Value})
			all = append(all, s.Region...)
		}
	}
	for _, l := range c.Levels {
		all = append(all, l.Bubble.Point, l.Dew.Point)
	}
	return all
}

func (f *fluid) circuit(s *circuit.State) Circuit {
	var c Circuit
	suction, hasSuction := s.Reading(circuit.SuctionPressure)
	liquid, hasLiquid := s.Reading(circuit.LiquidPressure)
	discharge, hasDischarge := s.Reading(circuit.DischargePressure)
	hasHigh := hasLiquid || hasDischarge
	if !hasLiquid {
		liquid = discharge
	}
	if !hasDischarge {
		discharge = liquid
	}
	for _, at := range []struct {
		place       Place
		pressure    gum.Estimate
		known       bool
		gauge       circuit.Reading
		thermometer circuit.Reading
		side        equilibrium.Side
	}{
		{SuctionLine, suction, hasSuction, circuit.SuctionPressure, circuit.SuctionLineTemperature, equilibrium.Vapor},
		{DischargeLine, discharge, hasHigh, circuit.LiquidPressure, circuit.DischargeLineTemperature, equilibrium.Vapor},
		{LiquidLine, liquid, hasHigh, circuit.LiquidPressure, circuit.LiquidLineTemperature, equilibrium.Liquid},
	} {
		t, warm := s.Reading(at.thermometer)
		if !at.known {
			c.Lacks = append(c.Lacks, Lack{at.place, at.gauge})
		}
		if !warm {
			c.Lacks = append(c.Lacks, Lack{at.place, at.thermometer})
		}
		if at.known && warm {
			c.States = append(c.States, f.single(s, at.place, at.pressure, t, at.side))
		}
	}
	_, hot := c.state(DischargeLine)
	_, cool := c.state(LiquidLine)
	c.LiquidForDischarge = hot && !hasDischarge
	c.DischargeForLiquid = cool && !hasLiquid
	f.expand(&c, s, suction, hasSuction)
	f.levels(&c, suction, hasSuction, liquid, hasHigh)
	c.join()
	return c
}

func (c *Circuit) state(at Place) (*State, bool) {
	for i := range c.States {
		if c.States[i].Place == at {
			return &c.States[i], true
		}
	}
	return nil, false
}

// join makes the legs between states that have an enthalpy.
func (c *Circuit) join() {
	for _, l := range []Leg{
		{Compression, SuctionLine, DischargeLine}, {HeatRejection, DischargeLine, LiquidLine},
		{Expansion, LiquidLine, AfterExpansion}, {Evaporation, AfterExpansion, SuctionLine},
	} {
		from, ok := c.state(l.From)
		to, ok2 := c.state(l.To)
		if ok && ok2 && from.Err == nil && to.Err == nil {
			c.Legs = append(c.Legs, l)
		}
	}
}

func (f *fluid) levels(c *Circuit, suction gum.Estimate, low bool, liquid gum.Estimate, high bool) {
	for _, l := range []struct {
		process  Process
		pressure float64
		known    bool
	}{{Evaporation, suction.Value, low}, {HeatRejection, liquid.Value, high}} {
		if !l.known {
			continue
		}
		b, err := f.lines.AtPressure(equilibrium.BubbleLine, l.pressure)
		d, err2 := f.lines.AtPressure(equilibrium.DewLine, l.pressure)
		if err == nil && err2 == nil {
			c.Levels = append(c.Levels, Level{l.process, f.onLine(b), f.onLine(d)})
		}
	}
}

// single places a state of one phase by its pressure and temperature.
func (f *fluid) single(s *circuit.State, at Place, p, t gum.Estimate, side equilibrium.Side) State {
	st := State{Place: at, Pressure: p, Temperature: t, Phase: SubcooledLiquid}
	if side == equilibrium.Vapor {
		st.Phase = SuperheatedVapor
	}
	if c := f.critical; c != nil && p.Value > c.Pressure && t.Value > c.Temperature {
		st.Phase = Supercritical
	}
	margin, err := f.margin(p.Value, t.Value, side)
	if err != nil {
		st.Err = err
		return st
	}
	if !(margin > 0) {
		st.Phase, st.NotResolved, st.Err = TwoPhase, true, ErrTwoPhase
		return st
	}
	rho, err := f.density(t.Value, p.Value, side)
	if err != nil {
		st.Err = err
		return st
	}
	c := f.s.Caloric(t.Value, rho)
	_, byDensity, byTemperature := f.s.Mixture().Pressure(t.Value, rho, f.s.Composition())
	byPressure := (1 - t.Value*byTemperature/(rho*byDensity)) / rho // (dh/dp) at constant T, J/(mol Pa)
	st.Enthalpy = gum.Estimate{
		Value:    f.shown(c.Enthalpy),
		Gradient: t.Gradient.Times(c.Cp / f.molar).Plus(p.Gradient.Times(byPressure / f.molar)),
	}
	if st.Region, st.NotResolved, err = f.region(s, p, t, side); err != nil {
		// The state stands; how far its surroundings reach is not known.
		st.Region, st.NotResolved = nil, true
	}
	return st
}

// margin is by how much a temperature is clear of the dome on its side, in K,
// infinite where there is no dome at that pressure.
func (f *fluid) margin(p, t float64, side equilibrium.Side) (float64, error) {
	b, err := f.lines.AtPressure(side, p)
	switch {
	case errors.Is(err, equilibrium.ErrAboveCritical):
		return math.Inf(1), nil
	case err != nil:
		return 0, err
	case side == equilibrium.Vapor:
		return t - b.Temperature, nil
	}
	return b.Temperature - t, nil
}

// expand follows the liquid through the metering device: its enthalpy stays,
// its pressure falls to the suction pressure.
func (f *fluid) expand(c *Circuit, s *circuit.State, suction gum.Estimate, low bool) {
	from, ok := c.state(LiquidLine)
	if !ok || !low {
		if !low {
			c.Lacks = append(c.Lacks, Lack{AfterExpansion, circuit.SuctionPressure})
		}
		for _, l := range c.Lacks {
			if l.Place == LiquidLine {
				c.Lacks = append(c.Lacks, Lack{AfterExpansion, l.Reading})
			}
		}
		return
	}
	st := State{Place: AfterExpansion, Pressure: suction, Phase: TwoPhase, NotResolved: from.NotResolved, Err: from.Err}
	if st.Err == nil {
		st.Enthalpy = from.Enthalpy
		st.Err = f.expanded(&st)
	}
	if st.Err == nil {
		st.Region = ellipse(s, st.Enthalpy, st.Pressure)
	}
	c.States = append(c.States, st)
}

// expanded finds temperature and vapor fraction with their slopes by pressure
// and enthalpy.
func (f *fluid) expanded(st *State) error {
	p, h := st.Pressure, st.Enthalpy
	here, quality, err := f.flash(p.Value, h.Value)
	if err != nil {
		return err
	}
	if !here.TwoPhase {
		st.Phase = SubcooledLiquid
		if here.Enthalpy > f.equations(h.Value) {
			st.Phase = SuperheatedVapor
		}
	}
	const dp = 1e-4 // relative
	dh := 1e-4 * 200e3
	var t, q [2]float64 // slopes by pressure and by enthalpy
	for k, step := range [2]struct{ p, h, by float64 }{{dp * p.Value, 0, 2 * dp * p.Value}, {0, dh, 2 * dh}} {
		up, qUp, err := f.flash(p.Value+step.p, h.Value+step.h)
		if err != nil {
			return err
		}
		down, qDown, err := f.flash(p.Value-step.p, h.Value-step.h)
		if err != nil {
			return err
		}
		t[k], q[k] = (up.Temperature-down.Temperature)/step.by, (qUp-qDown)/step.by
	}
	carry := func(value float64, slopes [2]float64) gum.Estimate {
		return gum.Estimate{Value: value, Gradient: p.Gradient.Times(slopes[0]).Plus(h.Gradient.Times(slopes[1]))}
	}
	st.Temperature, st.VaporFraction = carry(here.Temperature, t), carry(quality, q)
	return nil
}

// flash is the state at p and h with the share of the mass that is vapor.
func (f *fluid) flash(p, h float64) (equilibrium.State, float64, error) {
	st, err := f.s.AtPressureEnthalpy(p, f.equations(h))
	if err != nil {
		return st, 0, err
	}
	if !st.TwoPhase {
		return st, 0, nil
	}
	return st, st.VaporFraction * f.s.Mixture().MolarMass(st.Vapor.X) / f.molar, nil
}
