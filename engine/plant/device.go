package plant

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/equipment"
)

// metering is a device and its size.
type metering struct {
	kind              equipment.MeteringDevice
	area              float64 // m2, discharge coefficient included; fully open for a valve
	delay             float64 // of a short tube, see orifice
	delayBySubcooling float64
	length            float64 // m of a capillary
	bore              float64 // m of a capillary; area is that of all tubes
	// Of a valve: superheat at which it begins to open and by which it is
	// fully open, in kelvins at the rating point, where the slope of the vapour
	// pressure is steep (Pa/K).
	opens, span, steep float64
}

// passed is the flow that the device passes less the flow there is, as a share
// of the latter where small. up is its inlet, down the pressure behind it; flow
// is what the compressor delivers, drive the superheat as a valve feels it, in
// kelvins of the rating point.
func (m *metering) passed(f *Fluid, up *station, down, flow, drive float64) float64 {
	x := max(up.quality(up.h), 0)
	switch m.kind {
	case equipment.CapillaryTube:
		return m.capillary(f, up, x, down, flow)
	case equipment.FixedOrifice:
		return m.area*m.orifice(f, up, x, down)/flow - 1
	default:
		open := opening((drive - m.opens) / m.span)
		return m.area*open*math.Sqrt(2*up.rho*max(up.p-down, 0))/flow - 1
	}
}

// opening is a valve's stroke, rounded at its stops: from shut but for a
// bleed to fully open.
func opening(z float64) float64 {
	const round, bleed = 0.03, 0.02
	soft := func(x float64) float64 { // max(x, 0), rounded
		if x > 30*round {
			return x
		}
		return round * math.Log1p(math.Exp(x/round))
	}
	return bleed + (1-bleed)*(1-soft(1-soft(z)))
}

// orifice gives kg/(m2 s) through a short tube. Liquid leaves it choked, at a
// flashing pressure below the saturation pressure of the entering liquid because
// it flashes late, and less so the colder it is:
//
//	G = (2 ρ (p_up - p_f))^1/2,  p_f = p_sat (1 - delay + b S),
//	S = (T_sat - T)/T_sat, T_sat that of p_up
//
// This is the form of Aaron & Domanski (1990), ASHRAE Trans. 96(1):729, and Kim
// & O'Neal (1994), ASHRAE Trans. 100(2), linear in S; their constants are for
// single refrigerants and not at hand, so delay and its decrease with subcooling are priors. A two-phase
// inlet has the density of both phases moving together, from the same
// difference at no subcooling.
func (m *metering) orifice(f *Fluid, up *station, x, down float64) float64 {
	flash := up.p * (1 - m.delay)
	if x == 0 {
		if p, ok := f.curve.BubblePressure(up.t); ok {
			flash = min(p*(1-m.delay+m.delayBySubcooling*(up.bubble-up.t)/up.bubble), flash)
		}
	}
	return math.Sqrt(2 * up.rho * max(up.p-max(flash, down), 0))
}

// capillary is the tube's length over that at which it would pass the flow,
// roughly to the power by which flow answers to length, less 1. Homogeneous
// adiabatic flow with friction: along the flashing part
//
//	v = v_0 (1 + ω (p_0/p - 1)),  ω = x v_lg/v_0 + c_p T p_0/v_0 (v_lg/h_lg)²
//
// (Leung 1986, AIChE J. 32:1743); momentum is integrated as by Yilmaz & Unal
// (1996, J. Fluids Eng. 118:150, with another expansion law) from saturation to
// the evaporator or to choking at p² = G² v_0 ω p_0. Friction after McAdams,
// 0.184 Re^-0.2.
func (m *metering) capillary(f *Fluid, up *station, x, down, flow float64) float64 {
	g := flow / m.area
	friction := 0.184 * math.Pow(g*m.bore/f.liquidViscosity(up.t), -0.2)
	p0 := up.p
	length := 0.0
	if x == 0 {
		if p, ok := f.curve.BubblePressure(up.t); ok {
			p0 = min(p, up.p)
		}
		length = 2 * m.bore * up.rho * (up.p - p0) / (friction * g * g)
	}
	v0 := 1 / up.rho
	lift := 1/up.vapor - 1/up.liquid
	omega := x*lift/v0 + up.liquidHeat()*up.t*p0/v0*math.Pow(lift/(up.hg-up.hf), 2)
	end := min(max(down, g*math.Sqrt(v0*omega*p0)), p0)
	// ∫ dp/v from end to p0, 1/v = p/(v0 ((1-ω) p + ω p0)).
	integral := 0.0
	for i, at := range gaussAt {
		p := end + (p0-end)*at
		integral += gaussWeight[i] * p / ((1-omega)*p + omega*p0)
	}
	integral *= (p0 - end) / v0
	speed := math.Log(1 + omega*(p0/end-1))
	length += 2 * m.bore / friction * (integral/(g*g) - speed)
	return 0.5 * (length/m.length - 1)
}
