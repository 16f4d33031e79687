package plant

import "math"

// line is a refrigerant line.
type line struct {
	length, bore float64 // m
	gain         float64 // W/K to the air around
}

func (l *line) volume() float64 { return 0.25 * math.Pi * l.bore * l.bore * l.length }

// drop in Pa after Darcy and Weisbach with McAdams' friction 0.184 Re^-0.2.
func (l *line) drop(flow, rho, viscosity float64) float64 {
	re := 4 * flow / (math.Pi * l.bore * viscosity)
	d2 := l.bore * l.bore
	return 8 * 0.184 * math.Pow(re, -0.2) * l.length * flow * flow / (math.Pi * math.Pi * rho * d2 * d2 * l.bore)
}

// vaporViscosity is that of halocarbon vapour in an air conditioner's suction
// line, Pa s; only its fifth root counts. From memory, unverified.
const vaporViscosity = 1.25e-5

// sump is the oil in the compressor. Refrigerant dissolves in it ideally, after
// Raoult: the mole fraction is the pressure over the vapour pressure at the
// oil's temperature, halfway between suction and discharge.
type sump struct {
	oil   float64 // kg
	molar float64 // kg/mol
}

func (s *sump) dissolved(f *Fluid, p, t float64) float64 {
	x := min(p/f.dewPressure(t), 0.9)
	return s.oil / s.molar * x / (1 - x) * f.molar
}

// accumulator holds liquid in proportion to what its bleed hole must return.
type accumulator struct {
	volume float64 // m3, zero where there is none
	bleed  float64 // share of liquid in the flow at which it is full
}

// holds is its content in kg where gas of a density flows in with a quality.
func (a *accumulator) holds(s *saturated, quality, gas float64) float64 {
	full := 0.0
	if a.bleed > 0 {
		full = min(max((1-quality)/a.bleed, 0), 1)
	}
	return a.volume * ((1-full)*min(gas, s.vapor) + full*s.liquid)
}
