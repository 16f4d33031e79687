package plant

import (
	"fmt"
	"math"
)

// pressureOfMean is the pressure at which the mean of bubble and dew point is t.
func (f *Fluid) pressureOfMean(t float64) float64 {
	return math.Exp(bisect(func(lnP float64) float64 {
		s := f.at(math.Exp(lnP))
		return 0.5*(s.bubble+s.dew) - t
	}, math.Log(f.lowest), math.Log(f.highest)))
}

// bisect finds where f, which rises, crosses zero, to the last digits; at an
// end where it does not.
func bisect(f func(float64) float64, lo, hi float64) float64 {
	for range 200 {
		mid := 0.5 * (lo + hi)
		if mid == lo || mid == hi {
			break
		}
		if f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return 0.5 * (lo + hi)
}

// Design sizes a unit that meets the specification at the rating point, and
// finds its charge there. It returns ErrDesign for a specification that
// contradicts itself.
func Design(f *Fluid, s Spec) (*Unit, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	u := &Unit{
		fluid: f, indoor: s.IndoorAirflow, blower: s.BlowerPower, fan: s.FanPower, outdoor: 1,
		limits: limits{min(s.Limits.HighPressureDew, f.hottest), s.Limits.LowPressureDew, s.Limits.Discharge, s.Limits.Liquid},
	}
	a, err := u.surroundings(Rating(), Faults{})
	if err != nil {
		return nil, err
	}
	ps := f.pressureOfMean(a.ReturnDryBulb - s.EvaporatorDifference)
	pc := f.pressureOfMean(a.OutdoorDryBulb + s.CondensingOverAmbient)
	suction, inlet := f.at(ps), f.at(pc)
	if !(pc > 1.1*ps) {
		return nil, fmt.Errorf("%w: condensing at %.4g Pa, evaporating at %.4g Pa", ErrDesign, pc, ps)
	}

	// The condenser's outlet follows from its drop and the subcooling.
	rho := inlet.vapor
	pOut := f.pressureOfMean(a.OutdoorDryBulb + s.CondensingOverAmbient - s.Condenser.Drop)
	out := f.at(pOut)
	tLiquid := out.bubble - s.Subcooling
	if !(tLiquid > a.OutdoorDryBulb) {
		return nil, fmt.Errorf("%w: liquid of %.5g K from air of %.5g K", ErrDesign, tLiquid, a.OutdoorDryBulb)
	}
	hLiquid := out.liquidAt.of(enthalpy, tLiquid)

	// Flow, lines and the suction state hang together; they settle in a few rounds.
	flow := s.Capacity / (suction.hg - hLiquid)
	var t, h float64
	var exit, entry saturated
	lines := s.Lines
	for range 40 {
		if t == 0 {
			t = suction.dew + s.Superheat
		}
		h = suction.vaporBar.of(enthalpy, t)
		density := f.density(&suction, h, t)
		u.suction = pipe(flow, density, lines.SuctionVelocity, s.LineLength, lines.SuctionGain)
		u.liquid = pipe(flow, f.density(&out, hLiquid, tLiquid), lines.LiquidVelocity, s.LineLength, lines.LiquidGain)
		exit = f.at(ps + u.suction.drop(flow, density, vaporViscosity))
		entry = f.at(f.dewPressure(exit.dew + s.Evaporator.Drop))
		if s.Device.Valve() {
			hExit := exit.vaporBar.of(enthalpy, exit.dew+s.Superheat)
			t = suction.temperature(hExit + u.suction.gain*(a.OutdoorDryBulb-t)/flow)
		}
		h = suction.vaporBar.of(enthalpy, t)
		hExit := h - u.suction.gain*(a.OutdoorDryBulb-t)/flow
		hEntry := hLiquid + u.liquid.gain*(a.OutdoorDryBulb-tLiquid)/flow
		next := s.Capacity / (hExit - hEntry)
		done := math.Abs(next-flow) < 1e-14*flow
		flow = next
		if done {
			break
		}
	}
	hExit := h - u.suction.gain*(a.OutdoorDryBulb-t)/flow
	tExit := exit.temperature(hExit)
	if !(hExit > exit.hg) || !(tExit < a.ReturnDryBulb) || !(entry.p < pOut) {
		return nil, fmt.Errorf("%w: evaporator outlet at %.5g K with dew point %.5g K in air of %.5g K", ErrDesign, tExit, exit.dew, a.ReturnDryBulb)
	}

	c := s.Compressor
	u.compressor = compressor{1, c.Filling, c.Clearance, c.Efficiency, c.BestRatio, c.EfficiencyFall, c.Heating}
	u.compressor.displacement = flow / u.compressor.run(f, &suction, &inlet, h, 0).flow
	p := u.compressor.run(f, &suction, &inlet, h, 0)

	// Air over the condenser, then both coils.
	a.outdoor.mass = flow * (p.h - hLiquid) / (s.CondenserEffectiveness * s.CondensingOverAmbient * a.outdoor.heat)
	u.outdoor = a.outdoor.mass * a.outdoorVolume()
	u.condenser = s.Condenser.coil(s.Capacity, flow, a.outdoor.mass)
	u.condenser.resistant = (pc - pOut) * rho
	u.evaporator = s.Evaporator.coil(s.Capacity, flow, a.indoor.mass)
	u.evaporator.resistant = (entry.p - exit.p) * exit.vapor
	if u.condenser.outer, err = fitted(a.outdoor.mass*a.outdoor.heat, func(outer float64) float64 {
		u.condenser.set(outer, s.Condenser.TubeShare)
		k := u.condenser.condense(f, &inlet, p.h, p.t, flow, &a.outdoor)
		return hLiquid - k.h
	}); err != nil {
		return nil, fmt.Errorf("%w (condenser)", err)
	}
	u.condenser.set(u.condenser.outer, s.Condenser.TubeShare)
	hEntry := hLiquid + u.liquid.gain*(a.OutdoorDryBulb-tLiquid)/flow
	if u.evaporator.outer, err = fitted(a.indoor.mass*a.indoor.heat, func(outer float64) float64 {
		u.evaporator.set(outer, s.Evaporator.TubeShare)
		k := u.evaporator.evaporate(f, &entry, &exit, hEntry, flow, &a.indoor)
		return k.h - hExit
	}); err != nil {
		return nil, fmt.Errorf("%w (evaporator)", err)
	}
	u.evaporator.set(u.evaporator.outer, s.Evaporator.TubeShare)

	up := f.at(pOut - u.liquid.drop(flow, f.density(&out, hLiquid, tLiquid), f.liquidViscosity(tLiquid)))
	if !(up.p > entry.p) {
		return nil, fmt.Errorf("%w: %.4g Pa left before the metering device", ErrDesign, up.p)
	}
	u.metering = metering{kind: s.Device, area: 1, late: s.Orifice.Late, rise: s.Orifice.Rise, length: s.CapillaryLength, bore: s.CapillaryBore}
	m := &u.metering
	before := f.station(&up, hEntry)
	switch {
	case s.Device == CapillaryTube:
		m.area = math.Exp(bisect(func(ln float64) float64 {
			m.area = math.Exp(ln)
			return m.passed(f, &before, entry.p, flow, 0)
		}, math.Log(flow*1e-7), math.Log(flow*1e-2)))
	default:
		drive := 0.0
		if s.Device.Valve() {
			high, low := f.dewPressure(exit.dew+0.5), f.dewPressure(exit.dew-0.5)
			m.steep = high - low
			drive = (f.dewPressure(tExit) - exit.p) / m.steep
			m.opens = s.Valve.Static * drive
			m.span = (drive - m.opens) * (1 + s.Valve.Reserve)
		}
		m.area = 1 / (1 + m.passed(f, &before, entry.p, flow, drive))
	}

	u.discharge = lines.DischargeVolume * s.Capacity
	u.shell = c.Shell * s.Capacity
	u.drier = lines.DrierVolume * s.Capacity
	u.sump = sump{c.Oil * s.Capacity, c.OilMolarMass}
	u.keeps = accumulator{s.Accumulator, lines.AccumulatorBleed}
	u.volume = u.discharge + u.shell + u.drier + u.condenser.volume + u.evaporator.volume + u.liquid.volume() + u.suction.volume() + s.Accumulator
	u.rated = unknowns{math.Log(ps), (h - suction.hg) / heatScale, math.Log(pc)}
	u.charge = 1
	var k march
	u.march(&u.rated, &a, &Faults{}, u.charge, &k)
	u.charge = k.inventory.Total()
	if r := k.residual; !(math.Abs(r[0]) < 1e-6 && math.Abs(r[1]) < 1e-6 && u.charge > 0) || math.IsInf(u.charge, 0) {
		return nil, fmt.Errorf("%w: the rating point does not close: %v", ErrDesign, r)
	}
	return u, nil
}

// pipe has the bore that makes the velocity.
func pipe(flow, density, velocity, length, gain float64) line {
	bore := math.Sqrt(4 * flow / (math.Pi * density * velocity))
	return line{length, bore, gain * math.Pi * bore * length}
}

func (s *CoilSpec) coil(capacity, flow, airMass float64) coil {
	return coil{
		gas: s.GasRatio, fill: s.LiquidRatio, exponent: s.AirExponent, airMass: airMass, flow: flow,
		volume: s.Volume * capacity, flux: s.MassFlux, bore: s.Bore,
	}
}

// set sizes both sides so that the refrigerant has its share of the resistance.
func (c *coil) set(outer, tubeShare float64) {
	c.outer, c.tube = outer, outer*(1-tubeShare)/tubeShare
}

// fitted finds the air-side conductance at which a coil does what it must;
// does rises with it.
func fitted(capacity float64, does func(outer float64) float64) (float64, error) {
	lo, hi := math.Log(1e-2*capacity), math.Log(30*capacity)
	if !(does(math.Exp(lo)) < 0 && does(math.Exp(hi)) > 0) {
		return 0, fmt.Errorf("%w: no size of coil transfers the heat with this air", ErrDesign)
	}
	return math.Exp(bisect(func(ln float64) float64 { return does(math.Exp(ln)) }, lo, hi)), nil
}
