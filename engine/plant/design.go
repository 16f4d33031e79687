package plant

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// pressureOfMean is the pressure at which the mean of bubble and dew point is t.
func (f *Fluid) pressureOfMean(t float64) float64 {
	return math.Exp(numeric.Halved(func(lnP float64) float64 {
		s := f.at(math.Exp(lnP))
		return 0.5*(s.bubble+s.dew) - t
	}, math.Log(f.lowest), math.Log(f.highest)))
}

// Design sizes a unit that meets the specification at the rating point, and
// finds its charge there. It returns ErrDesign for a specification that
// contradicts itself.
func Design(f *Fluid, s Spec) (*Unit, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	u := &Unit{
		fluid: f, indoor: s.IndoorAirflow, blower: s.BlowerPower, fan: s.FanPower,
		discharge: s.Lines.DischargeVolume * s.Capacity, drier: s.Lines.DrierVolume * s.Capacity,
		shell: s.Compressor.Shell * s.Capacity, sump: sump{s.Compressor.Oil * s.Capacity, s.Compressor.OilMolarMass},
		keeps:  accumulator{s.Accumulator, s.Lines.AccumulatorBleed},
		limits: limits{min(s.Limits.HighPressureDew, f.hottest), s.Limits.LowPressureDew, s.Limits.Discharge, s.Limits.Liquid},
	}
	a, err := u.surroundings(Rating(), Faults{})
	if err != nil {
		return nil, err
	}
	p, err := u.ratedPoint(&s, &a)
	if err != nil {
		return nil, err
	}
	if err := u.sizeCoils(&s, &a, p); err != nil {
		return nil, err
	}
	if err := u.sizeMetering(&s, p); err != nil {
		return nil, err
	}
	u.volume = u.discharge + u.shell + u.drier + u.condenser.volume + u.evaporator.volume + u.liquid.volume() + u.suction.volume() + s.Accumulator
	u.rated = unknowns{math.Log(p.suction.p), (p.suction.h - p.suction.hg) / heatScale, math.Log(p.inlet.p)}
	var m march
	u.march(&u.rated, &a, &Faults{}, 1, &m)
	u.charge = m.inventory.Total()
	if r := m.residual; !(math.Abs(r[0]) < 1e-6 && math.Abs(r[1]) < 1e-6 && u.charge > 0) || math.IsInf(u.charge, 0) {
		return nil, fmt.Errorf("%w: the rating point does not close: %.3g, %.3g, %.3g kg", ErrDesign, r[0], r[1], u.charge)
	}
	return u, nil
}

// ratedPoint is the refrigerant at the rating point: at the suction port, before
// the condenser, at the liquid port, and at the ends of the evaporator.
type ratedPoint struct {
	suction, liquid, outlet station
	inlet, exit, entry      saturated
	entryH                  float64 // J/kg, of the entering mixture
	flow                    float64 // kg/s
}

// ratedPoint finds the states that the specification means, and the lines that
// go with them.
func (u *Unit) ratedPoint(s *Spec, a *around) (*ratedPoint, error) {
	f := u.fluid
	var p ratedPoint
	suction := f.at(f.pressureOfMean(a.ReturnDryBulb - s.EvaporatorTemperatureDifference))
	p.inlet = f.at(f.pressureOfMean(a.OutdoorDryBulb + s.CondensingOverAmbient))
	if !(p.inlet.p > 1.1*suction.p) {
		return nil, fmt.Errorf("%w: condensing at %.4g Pa, evaporating at %.4g Pa", ErrDesign, p.inlet.p, suction.p)
	}
	out := f.at(f.pressureOfMean(a.OutdoorDryBulb + s.CondensingOverAmbient - s.Condenser.Drop))
	t := out.bubble - s.Subcooling
	if !(t > a.OutdoorDryBulb) {
		return nil, fmt.Errorf("%w: liquid of %.5g K from air of %.5g K", ErrDesign, t, a.OutdoorDryBulb)
	}
	p.liquid = f.station(&out, out.liquidAt.of(enthalpy, t))

	// Flow, lines and the suction state hang together; they settle in a few rounds.
	p.flow = s.Capacity / (suction.hg - p.liquid.h)
	p.suction = f.station(&suction, suction.vaporBar.of(enthalpy, suction.dew+s.Superheat))
	var heat float64
	for range 40 {
		u.suction = pipe(s.Lines.SuctionBore, p.flow, p.suction.rho, s.Lines.SuctionVelocity, s.LineLength, s.Lines.SuctionGain)
		u.liquid = pipe(s.Lines.LiquidBore, p.flow, p.liquid.rho, s.Lines.LiquidVelocity, s.LineLength, s.Lines.LiquidGain)
		p.exit = f.at(suction.p + u.suction.drop(p.flow, p.suction.rho, vaporViscosity))
		p.entry = f.at(f.dewPressure(p.exit.dew + s.Evaporator.Drop))
		heat = u.suction.gain * (a.OutdoorDryBulb - p.suction.t) / p.flow
		if s.Device.Valve() {
			p.suction = f.station(&suction, p.exit.vaporBar.of(enthalpy, p.exit.dew+s.Superheat)+heat)
			heat = u.suction.gain * (a.OutdoorDryBulb - p.suction.t) / p.flow
		}
		p.entryH = p.liquid.h + u.liquid.gain*(a.OutdoorDryBulb-p.liquid.t)/p.flow
		flow := s.Capacity / (p.suction.h - heat - p.entryH)
		settled := math.Abs(flow-p.flow) < 1e-14*flow
		p.flow = flow
		if settled {
			break
		}
	}
	p.outlet = f.station(&p.exit, p.suction.h-heat)
	if !(p.outlet.h > p.exit.hg && p.outlet.t < a.ReturnDryBulb && p.entry.p < out.p && p.flow > 0) {
		return nil, fmt.Errorf("%w: evaporator outlet at %.5g K, dew point %.5g K, in air of %.5g K", ErrDesign, p.outlet.t, p.exit.dew, a.ReturnDryBulb)
	}
	return &p, nil
}

// sizeCoils finds displacement, outdoor air flow and both coils.
func (u *Unit) sizeCoils(s *Spec, a *around, p *ratedPoint) error {
	f, c := u.fluid, s.Compressor
	u.compressor = compressor{1, c.Filling, c.Clearance, c.Efficiency, c.BestRatio, c.EfficiencyFall, c.Heating}
	u.compressor.displacement = p.flow / u.compressor.run(f, &p.suction.saturated, &p.inlet, p.suction.h, 0).flow
	hot := u.compressor.run(f, &p.suction.saturated, &p.inlet, p.suction.h, 0)

	a.outdoor.mass = p.flow * (hot.h - p.liquid.h) / (s.CondenserEffectiveness * s.CondensingOverAmbient * a.outdoor.heat)
	u.outdoor = a.outdoor.mass * a.outdoorVolume()
	u.condenser = s.Condenser.coil(s.Capacity, p.flow, a.outdoor.mass)
	u.condenser.resistant = (p.inlet.p - p.liquid.p) * p.inlet.vapor
	if err := u.condenser.fit(s.Condenser.TubeShare, a.outdoor.mass*a.outdoor.heat, func() float64 {
		return p.liquid.h - u.condenser.condense(f, &p.inlet, hot.h, hot.t, p.flow, &a.outdoor).h
	}); err != nil {
		return fmt.Errorf("%w: condenser", err)
	}
	u.evaporator = s.Evaporator.coil(s.Capacity, p.flow, a.indoor.mass)
	u.evaporator.resistant = (p.entry.p - p.exit.p) * p.exit.vapor
	if err := u.evaporator.fit(s.Evaporator.TubeShare, a.indoor.mass*a.indoor.heat, func() float64 {
		return u.evaporator.evaporate(f, &p.entry, &p.exit, p.entryH, p.flow, &a.indoor).h - p.outlet.h
	}); err != nil {
		return fmt.Errorf("%w: evaporator", err)
	}
	return nil
}

// sizeMetering finds the area that passes the rated flow.
func (u *Unit) sizeMetering(s *Spec, p *ratedPoint) error {
	f, m := u.fluid, &u.metering
	before := f.at(p.liquid.p - u.liquid.drop(p.flow, p.liquid.rho, f.liquidViscosity(p.liquid.t)))
	if !(before.p > p.entry.p) {
		return fmt.Errorf("%w: %.4g Pa left before the metering device", ErrDesign, before.p)
	}
	up := f.station(&before, p.entryH)
	*m = metering{kind: s.Device, area: 1, delay: s.Orifice.FlashDelay, delayBySubcooling: s.Orifice.FlashDelayBySubcooling, length: s.CapillaryLength, bore: s.CapillaryBore}
	drive := 0.0
	switch {
	case s.Device == equipment.CapillaryTube:
		m.area = math.Exp(numeric.Halved(func(ln float64) float64 {
			m.area = math.Exp(ln)
			return m.passed(f, &up, p.entry.p, p.flow, 0)
		}, math.Log(p.flow*1e-7), math.Log(p.flow*1e-2)))
		return nil
	case s.Device.Valve():
		m.steep = f.dewPressure(p.exit.dew+0.5) - f.dewPressure(p.exit.dew-0.5)
		drive = (f.dewPressure(p.outlet.t) - p.exit.p) / m.steep
		m.opens = s.Valve.Static * drive
		m.span = (drive - m.opens) * (1 + s.Valve.Reserve)
	}
	m.area = 1 / (1 + m.passed(f, &up, p.entry.p, p.flow, drive))
	return nil
}

// pipe has the bore given or, where that is zero, the one that makes the velocity.
func pipe(bore, flow, density, velocity, length, gain float64) line {
	if bore == 0 {
		bore = math.Sqrt(4 * flow / (math.Pi * density * velocity))
	}
	return line{length, bore, gain * math.Pi * bore * length}
}

func (s *CoilSpec) coil(capacity, flow, airMass float64) coil {
	return coil{
		gas: s.GasRatio, fill: s.LiquidRatio, exponent: s.AirExponent, airMass: airMass, flow: flow,
		volume: s.Volume * capacity, flux: s.MassFlux, bore: s.Bore,
	}
}

// fit finds the conductances at which a coil does what it must, the refrigerant
// having its share of the resistance; does rises with them. capacity is that of
// the air, W/K.
func (c *coil) fit(tubeShare, capacity float64, does func() float64) error {
	size := func(ln float64) float64 {
		c.outer = math.Exp(ln)
		c.tube = c.outer * (1 - tubeShare) / tubeShare
		return does()
	}
	lo, hi := math.Log(1e-2*capacity), math.Log(30*capacity)
	if !(size(lo) < 0 && size(hi) > 0) {
		return fmt.Errorf("%w: no size of coil transfers the heat with this air", ErrDesign)
	}
	size(numeric.Halved(size, lo, hi))
	return nil
}
