package plant

import "math"

// coil is one heat exchanger. Air crosses tubes along which the refrigerant
// flows, so that every piece of the coil meets fresh air: cross flow with the
// refrigerant mixed and the air unmixed, of which the effectiveness-NTU
// relation (Kays & London; ASHRAE Handbook-Fundamentals, heat transfer) is what
// integration over a zone gives. Conductances are in series; the air's goes
// with a power of its flow, the refrigerant's with flow^0.8 (Shah 1979, Int. J.
// Heat Mass Transfer 22:547 for condensing, Dittus & Boelter for one phase).
type coil struct {
	outer     float64 // air-side conductance at the rated air flow, W/K
	tube      float64 // two-phase refrigerant-side conductance at the rated flow, W/K
	gas       float64 // superheated zone's over the two-phase one
	fill      float64 // subcooled zone's over the two-phase one
	exponent  float64 // of the air flow
	airMass   float64 // rated air flow, kg/s dry
	flow      float64 // rated refrigerant flow, kg/s
	volume    float64 // m3 inside the tubes
	flux      float64 // rated mass flux in a tube, kg/(m2 s)
	bore      float64 // m
	resistant float64 // of the pressure drop: Pa kg/m3 at the rated flow
}

const (
	tubeExponent = 0.8
	// dropExponent is that of turbulent flow after Blasius.
	dropExponent = 1.75
	// leastDifference keeps the driving difference positive where a state on a
	// solver's way has none, K.
	leastDifference = 0.02
)

// conducting are the conductances at the flows of the moment, W/K.
type conducting struct{ air, tube, gas, liquid float64 }

func (c *coil) conducting(airMass, flow float64) conducting {
	inner := c.tube * math.Pow(flow/c.flow, tubeExponent)
	return conducting{c.outer * math.Pow(airMass/c.airMass, c.exponent), inner, c.gas * inner, c.fill * inner}
}

// drop is the pressure drop at a flow and the density of the vapour.
func (c *coil) drop(flow, vapor float64) float64 {
	return c.resistant * math.Pow(flow/c.flow, dropExponent) / vapor
}

// whole gives the heat a kelvin that dry air takes up from the whole coil if
// every piece had one refrigerant temperature: C (1 - exp(-NTU)).
func whole(capacity, outer, inner float64) float64 {
	return capacity * (1 - math.Exp(-outer*inner/(outer+inner)/capacity))
}

// zone is a part of a coil along which the driving difference goes evenly with
// the refrigerant's enthalpy.
type zone struct {
	first, last float64 // driving differences at its ends, > 0
	need        float64 // share of the coil that the whole change takes
}

func newZone(first, last, change, rate, least float64) zone {
	z := zone{first: max(first, least), last: max(last, least)}
	r := z.last / z.first
	mean := z.first * (1 + (r-1)/2)
	if d := r - 1; math.Abs(d) > 1e-7 {
		mean = z.first * d / math.Log(r)
	}
	z.need = change / (rate * mean)
	return z
}

// after is the share of the change done after a share of the coil.
func (z *zone) after(share float64) float64 {
	r := z.last / z.first
	e := share / z.need
	if d := r - 1; math.Abs(d) > 1e-7 {
		return math.Expm1(e*math.Log(r)) / d
	}
	return e
}

// faster reports whether more is done by z than by o in one coil.
func (z *zone) faster(o *zone) bool {
	if z.need <= 1 || o.need <= 1 {
		return z.need < o.need
	}
	return z.after(1) > o.after(1)
}

// condensed is what a condenser does.
type condensed struct {
	out    saturated // at the outlet's pressure of the refrigerant alone
	h, t   float64   // J/kg, K at the outlet
	heat   float64   // W to the air
	shares [3]float64
	mass   float64 // kg of refrigerant
	liquid float64 // m3 filled with it
	airOut float64 // K after the coil, before the fan
}

// condense runs superheated vapour through three zones. in is at the inlet's
// pressure of the refrigerant alone.
func (c *coil) condense(f *Fluid, in *saturated, h, t, flow float64, a *air) condensed {
	g := c.conducting(a.mass, flow)
	capacity := a.mass * a.heat
	var r condensed
	r.out = f.at(in.p - min(c.drop(flow, in.vapor), 0.3*in.p))
	left := 1.0
	gasDensity := in.vapor
	top := h
	if h > in.hg {
		rate := whole(capacity, g.air, g.gas) / flow
		z := newZone(t-a.t, in.dew-a.t, h-in.hg, rate, leastDifference)
		r.shares[0] = min(z.need, 1)
		left -= r.shares[0]
		exit := in.hg
		if z.need > 1 {
			exit = h - (h-in.hg)*z.after(1)
		}
		tx := in.vaporBar.temperature(enthalpy, exit)
		gasDensity = 0.5 * (f.density(in, h, t) + f.density(in, exit, tx))
		top, r.h = in.hg, exit
	}
	w := f.hughmark(&r.out, c.flux*flow/c.flow, c.bore)
	phases := w.vapor
	if left > 0 {
		rate := whole(capacity, g.air, g.tube) / flow
		x0 := min(in.quality(top), 1)
		from := in.bubble + (in.dew-in.bubble)*x0
		z := newZone(from-a.t, r.out.bubble-a.t, top-r.out.hf, rate, leastDifference)
		r.shares[1] = min(z.need, left)
		x1 := 0.0
		r.h = r.out.hf
		if z.need > left {
			r.h = top - (top-r.out.hf)*z.after(left)
			x1 = r.out.quality(r.h)
		}
		left -= r.shares[1]
		phases = w.mean(x0, x1)
	}
	r.t = r.out.temperature(r.h)
	liquid := r.out.liquid
	if left > 0 {
		r.shares[2] = left
		low := min(a.t, r.out.bubble)
		cp := r.out.liquidHeat()
		r.t = low + (r.out.bubble-low)*math.Exp(-left*whole(capacity, g.air, g.liquid)/(flow*cp))
		r.h = r.out.liquidAt.of(enthalpy, r.t)
		liquid = 0.5 * (liquid + f.density(&r.out, r.h, r.t))
	}
	r.heat = flow * (h - r.h)
	r.airOut = a.t + r.heat/capacity
	r.mass = c.volume * (r.shares[0]*gasDensity + r.shares[1]*phases + r.shares[2]*liquid)
	r.liquid = c.volume * (r.shares[2] + r.shares[1]*(phases-w.vapor)/(w.liquid-w.vapor))
	return r
}

// liquidHeat is the heat capacity of the liquid near its bubble point, J/(kg K).
func (s *saturated) liquidHeat() float64 {
	return (s.hf - s.liquidAt.of(enthalpy, s.bubble-8)) / 8
}

// evaporated is what an evaporator does.
type evaporated struct {
	h       float64 // J/kg at the outlet
	heat    float64 // W from the air
	shares  [2]float64
	mass    float64 // kg of refrigerant
	surface float64 // K, coldest of the wetted zone
	wet     bool
	airT    float64 // K after the coil, before the blower
	airW    float64 // kg/kg there
}

// evaporate runs a two-phase mixture through two zones. in and out are at the
// pressures of inlet and outlet. Where the coil is wet the potential is the
// enthalpy of the air less that of saturated air at the refrigerant's
// temperature, with the conductances in series through the slope c_s of the
// saturation enthalpy (Threlkeld; Braun, Klein & Mitchell 1989, ASHRAE Trans.
// 95(2):164), and of the dry and the wet heat the larger one counts, as there.
func (c *coil) evaporate(f *Fluid, in, out *saturated, h, flow float64, a *air) evaporated {
	g := c.conducting(a.mass, flow)
	capacity := a.mass * a.heat
	var r evaporated
	left := 1.0
	r.h = h
	mean := out.vapor
	var cooled, dried float64 // of the air, weighted with the share of the coil
	if h < out.hg {
		t0 := in.temperature(h)
		span := out.hg - h
		dryRate := whole(capacity, g.air, g.tube) / flow
		z := newZone(a.t-t0, a.t-out.dew, span, dryRate, leastDifference)
		middle := 0.5 * (t0 + out.dew)
		r.surface = min(t0, out.dew) + flow*span/z.need/g.tube
		_, h0 := saturatedAir(t0, a.pressure)
		_, h1 := saturatedAir(out.dew, a.pressure)
		_, hm := saturatedAir(middle, a.pressure)
		rise := 4.0
		var wetZone zone
		for range 8 {
			_, hs := saturatedAir(middle+rise, a.pressure)
			cs := (hs - hm) / rise
			mass := g.air / a.heat / (1 + g.air*cs/(a.heat*g.tube))
			rate := a.mass * (1 - math.Exp(-mass/a.mass)) / flow
			wetZone = newZone(a.h-h0, a.h-h1, span, rate, leastDifference*a.heat)
			next := flow * span / wetZone.need / g.tube
			if math.Abs(next-rise) < 1e-10*rise {
				break
			}
			rise = max(next, 1e-3)
		}
		if wetZone.faster(&z) {
			z, r.wet = wetZone, true
			r.surface = min(t0, out.dew) + rise
		}
		r.shares[0] = min(z.need, 1)
		r.h = out.hg
		if z.need > 1 {
			r.h = h + span*z.after(1)
		}
		left -= r.shares[0]
		heat := flow * (r.h - h)
		part := r.shares[0]
		if r.wet {
			// Leaving air lies on the line from the entering air towards
			// saturated air at an effective surface temperature.
			leaving := a.h - heat/(a.mass*part)
			reach := 1 - math.Exp(-g.air/capacity)
			hs := a.h - (a.h-leaving)/reach
			ts := temperatureOfSaturated(hs, a.pressure, middle)
			t := ts + (a.t-ts)*(1-reach)
			w := (leaving - airHeat*(t-freezingPoint)) / (vaporisation + waterHeat*(t-freezingPoint))
			cooled += part * (a.t - t)
			dried += part * max(a.w-w, 0)
		} else {
			cooled += heat / capacity
		}
		flows := f.hughmark(out, c.flux*flow/c.flow, c.bore)
		mean = flows.mean(max(in.quality(h), 0), min(out.quality(r.h), 1))
	}
	gasDensity := out.vapor
	if left > 0 && r.h >= out.hg {
		r.shares[1] = left
		t0 := out.temperature(r.h)
		top := max(a.t, t0)
		cp := (out.vaporBar.of(enthalpy, t0+6) - r.h) / 6
		t := top - (top-t0)*math.Exp(-left*whole(capacity, g.air, g.gas)/(flow*cp))
		before := r.h
		r.h = out.vaporBar.of(enthalpy, t)
		cooled += flow * (r.h - before) / capacity
		gasDensity = 0.5 * (f.density(out, before, t0) + f.density(out, r.h, t))
	}
	r.heat = flow * (r.h - h)
	// What leaves carries exactly the heat: the humidity decides its temperature.
	r.airW = a.w - dried
	r.airT = a.t - cooled
	if r.wet {
		leaving := a.h - r.heat/a.mass
		r.airT = freezingPoint + (leaving-r.airW*vaporisation)/(airHeat+waterHeat*r.airW)
	}
	r.mass = c.volume * (r.shares[0]*mean + r.shares[1]*gasDensity)
	return r
}
