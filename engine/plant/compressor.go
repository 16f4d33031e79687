package plant

import "math"

// compressor is a hermetic machine with clearance or its like. Its volumetric
// efficiency is the clearance formula with isentropic re-expansion,
//
//	η_v = η_0 (1 - C (ρ_2s/ρ_1 - 1)),
//
// as in the ASHRAE Handbook (HVAC Systems and Equipment, chapter on
// compressors; from memory, unverified). Its overall isentropic efficiency,
// motor included, has a maximum at the pressure ratio it is built for,
//
//	η = η_max/(1 + k ln²(r/r_0)),
//
// the shape that over- and under-compression give (Winandy, Saavedra & Lebrun
// 2002, Appl. Therm. Eng. 22:107; the formula is a plain form of it).
type compressor struct {
	displacement float64 // m3/s
	full         float64 // η_0
	clearance    float64 // C
	best, ratio  float64 // η_max, r_0
	fall         float64 // k
	heatLoss     float64 // share of the power that leaves through the shell
}

// pumped is what the compressor does.
type pumped struct {
	flow  float64 // delivered, kg/s
	power float64 // W
	heat  float64 // W through the shell
	h, t  float64 // discharge enthalpy J/kg and temperature K
}

// run compresses from suction enthalpy h to a discharge at out. leak is the
// share of the pumped flow that returns to the suction side inside the shell:
// it mixes there with its discharge enthalpy, which is found by secant.
func (c *compressor) run(f *Fluid, in, out *saturated, h, leak float64) pumped {
	var p pumped
	ln := math.Log(out.p / in.p / c.ratio)
	efficiency := c.best / (1 + c.fall*ln*ln)
	var pumpedFlow, work float64
	compress := func(mixed float64) float64 {
		t := in.temperature(mixed)
		rho := f.density(in, mixed, t)
		h2s, rho2 := f.isentrope(out, in.entropyOf(mixed, t))
		pumpedFlow = rho * c.displacement * c.full * max(1-c.clearance*(rho2/rho-1), 0.02)
		work = (h2s - mixed) / efficiency
		return mixed + work*(1-c.heatLoss)
	}
	mixed := h
	p.h = compress(mixed)
	if leak > 0 {
		// Root of g = h + leak (discharge(mixed) - h) - mixed.
		x0, g0 := mixed, leak*(p.h-h)
		x1 := h + g0/(1-leak)
		for range 12 {
			p.h = compress(x1)
			g1 := h + leak*(p.h-h) - x1
			if math.Abs(g1) < 1e-9*math.Abs(p.h-h) || g1 == g0 {
				break
			}
			x0, x1, g0 = x1, x1-g1*(x1-x0)/(g1-g0), g1
		}
	}
	p.flow = pumpedFlow * (1 - leak)
	p.power = pumpedFlow * work
	p.heat = c.heatLoss * p.power
	p.h = h + (p.power-p.heat)/p.flow // the balance closes on the flows found last
	p.t = out.temperature(p.h)
	return p
}
