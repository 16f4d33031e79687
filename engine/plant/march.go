package plant

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// around is Conditions worked out for the air flows of a unit.
type around struct {
	Conditions
	indoor, outdoor air
	state           moistair.State // of the return air
	flow            float64        // m3/s of it
	blower, fans    float64        // W of the blower, and of both fans
}

// surroundings works out the air flows. Fans move a volume, so the mass goes
// with the site's pressure and with the temperature before the coil.
func (u *Unit) surroundings(c Conditions, f Faults) (around, error) {
	var r ranges
	r.within("outdoor dry bulb in K", c.OutdoorDryBulb, 275, 330)
	r.within("return dry bulb in K", c.ReturnDryBulb, 283, 320)
	r.within("return wet bulb in K", c.ReturnWetBulb, 270, 320)
	r.within("site pressure in Pa", c.SitePressure, 5e4, 1.1e5)
	if err := r.err(); err != nil {
		return around{}, err
	}
	state, err := moistair.FromWetBulb(unit.Pascal(c.SitePressure), unit.Kelvin(c.ReturnDryBulb), unit.Kelvin(c.ReturnWetBulb))
	if err != nil {
		return around{}, fmt.Errorf("%w: %w", ErrInput, err)
	}
	a := around{Conditions: c, state: state, flow: u.indoor * (1 - f.IndoorAirflow), blower: u.blower * (1 - f.IndoorAirflow)}
	a.fans = a.blower + u.fan
	w := state.HumidityRatio().KilogramPerKilogram()
	a.indoor = air{
		t: c.ReturnDryBulb, w: w, h: enthalpyOfAir(c.ReturnDryBulb, w), heat: airHeat + w*waterHeat,
		pressure: c.SitePressure, mass: a.flow / state.SpecificVolume().CubicMetrePerKilogram(),
	}
	a.outdoor = air{
		t: c.OutdoorDryBulb, h: enthalpyOfAir(c.OutdoorDryBulb, 0), heat: airHeat,
		pressure: c.SitePressure, mass: u.outdoor * (1 - f.OutdoorAirflow) / a.outdoorVolume(),
	}
	return a, nil
}

// outdoorVolume is the specific volume of the outdoor air, m3/kg, as if dry: its
// few grams of water change nothing that is shown.
func (a *around) outdoorVolume() float64 {
	const dryAir = 287.042 // J/(kg K), ASHRAE Handbook-Fundamentals (2017) ch. 1 eq. 1
	return dryAir * a.OutdoorDryBulb / a.SitePressure
}

// unknowns of the equations: ln of the suction pressure, suction enthalpy above
// the dew point's in heatScale, ln of the refrigerant's pressure at the
// condenser's inlet, pressure of the non-condensables in bar.
type unknowns [4]float64

const heatScale = 1e4 // J/kg

// station is a state of the refrigerant somewhere in the circuit.
type station struct {
	saturated
	h, t, rho float64
}

func (f *Fluid) station(s *saturated, h float64) station {
	t := s.temperature(h)
	return station{*s, h, t, f.density(s, h, t)}
}

// march is one pass around the circuit.
type march struct {
	suction, discharge, port, device, outlet station
	pumped                                   pumped
	condensed                                condensed
	evaporated                               evaporated
	superheat                                float64 // K at the evaporator's outlet, negative where wet
	suctionHeat, liquidHeat                  float64 // W that the lines take up
	inventory                                Inventory
	residual                                 unknowns
}

// march goes around the circuit from a guess; the residuals are what does not
// fit. Non-condensables stay in the condenser, where their pressure adds to
// that of the refrigerant; the liquid leaves under both.
func (u *Unit) march(x *unknowns, a *around, f *Faults, charge float64, m *march) {
	fluid := u.fluid
	in := fluid.at(math.Exp(x[0]))
	m.suction = fluid.station(&in, in.hg+heatScale*x[1])
	inlet := fluid.at(math.Exp(x[2]))
	nonCondensable := max(x[3], 0) * 1e5
	head := inlet
	if nonCondensable > 0 {
		head = fluid.at(inlet.p + nonCondensable)
	}
	m.pumped = u.compressor.run(fluid, &in, &head, m.suction.h, f.ValveLeakage)
	m.discharge = station{head, m.pumped.h, m.pumped.t, 0}
	flow := m.pumped.flow
	gas := fluid.station(&inlet, m.pumped.h)
	m.condensed = u.condenser.condense(fluid, &inlet, gas.h, gas.t, flow, &a.outdoor)

	exit := fluid.at(in.p + u.suction.drop(flow, m.suction.rho, vaporViscosity))
	entry := fluid.at(exit.p + u.evaporator.drop(flow, exit.vapor))
	leaves := m.condensed.out.p + nonCondensable
	whole := leaves - entry.p
	port := m.condensed.out
	if p := leaves - f.RestrictionBeforePort*whole; p != port.p {
		port = fluid.at(p)
	}
	m.port = fluid.station(&port, m.condensed.h)
	m.liquidHeat = u.liquid.gain * (a.OutdoorDryBulb - m.port.t)
	up := port.p - f.RestrictionAfterPort*whole - u.liquid.drop(flow, m.port.rho, fluid.liquidViscosity(m.port.t))
	before := fluid.at(max(up, 0.5*entry.p))
	m.device = fluid.station(&before, m.port.h+m.liquidHeat/flow)

	m.suctionHeat = u.suction.gain * (a.OutdoorDryBulb - m.suction.t)
	m.outlet = fluid.station(&exit, m.suction.h-m.suctionHeat/flow)
	drive := u.drive(fluid, &m.outlet)
	m.superheat = m.outlet.t - exit.dew
	if m.outlet.h < exit.hg {
		m.superheat = drive
	}
	m.evaporated = u.evaporator.evaporate(fluid, &entry, &exit, m.device.h, flow, &a.indoor)

	m.inventory = Inventory{
		DischargeLine: u.discharge * gas.rho,
		Condenser:     m.condensed.mass,
		LiquidLine:    (u.liquid.volume() + u.drier) * m.port.rho,
		Evaporator:    m.evaporated.mass,
		SuctionLine:   u.suction.volume() * m.suction.rho,
		Accumulator:   u.keeps.holds(&in, in.quality(m.suction.h), m.suction.rho),
		Shell:         u.shell * m.suction.rho,
		Oil:           u.sump.dissolved(fluid, in.p, 0.5*(m.suction.t+m.pumped.t)),
	}
	m.residual = unknowns{
		u.metering.passed(fluid, &m.device, entry.p, flow, drive),
		(m.evaporated.h - m.outlet.h) / heatScale,
		m.inventory.Total()/charge - 1,
	}
	if f.NonCondensables > 0 {
		room := max(u.discharge+u.condenser.volume-m.condensed.liquid, leastRoom*u.condenser.volume)
		t := 0.5 * (inlet.dew + inlet.bubble)
		filled := f.NonCondensables * unit.StandardAtmosphere().Pascal() * u.volume / fillTemperature
		m.residual[3] = filled*t/room*1e-5 - x[3]
	}
}

const (
	// fillTemperature is that at which the gas a circuit holds is counted, K.
	fillTemperature = 293.15
	// leastRoom is the share of the condenser that liquid leaves to gas at the
	// least, so that a full condenser is a very high pressure and not an infinite one.
	leastRoom = 0.02
)

// drive is the superheat that a valve feels, in kelvins of the rating point: a
// bulb with the circuit's own refrigerant feels a pressure difference.
func (u *Unit) drive(f *Fluid, s *station) float64 {
	if s.h < s.hg {
		return (s.h - s.hg) / s.vaporHeat()
	}
	if !u.metering.kind.Valve() {
		return s.t - s.dew
	}
	return (f.dewPressure(s.t) - s.p) / u.metering.steep
}

// vaporHeat is the heat capacity of vapour near its dew point, J/(kg K).
func (s *saturated) vaporHeat() float64 {
	return (s.vaporBar.of(enthalpy, s.dew+5) - s.hg) / 5
}
