package equilibrium

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

// vaporPressure is a first guess of a pure fluid's saturation pressure, by the
// corresponding states of Lee & Kesler 1975 (doi 10.1002/aic.690210313) below
// the critical temperature and by Wilson's extrapolation above.
func vaporPressure(f *helmholtz.Fluid, t float64) float64 {
	tr := t / f.CriticalTemperature
	if tr >= 1 {
		return f.CriticalPressure * math.Exp(5.373*(1+f.AcentricFactor)*(1-1/tr))
	}
	l, t6 := math.Log(tr), math.Pow(tr, 6)
	f0 := 5.92714 - 6.09648/tr - 1.28862*l + 0.169347*t6
	f1 := 15.2518 - 15.6875/tr - 13.4721*l + 0.43577*t6
	return f.CriticalPressure * math.Exp(f0+f.AcentricFactor*f1)
}

// liquidDensity is a first guess in mol/m3 by Rackett's rule, volumes added.
func liquidDensity(m *helmholtz.Mixture, t float64, x []float64) float64 {
	var v float64
	for i := range x {
		f := m.Fluid(i)
		vc := 1 / f.ReducingDensity
		if tr := t / f.CriticalTemperature; tr < 1 {
			z := f.CriticalPressure * vc / (f.GasConstant * f.CriticalTemperature)
			vc *= math.Pow(z, math.Pow(1-tr, 2./7.))
		}
		v += x[i] * vc
	}
	return 1 / v
}

// idealPressure is the bubble (given liquid) or dew (given vapour) pressure of
// an ideal mixture, from first guesses of the components.
func (s *System) idealPressure(given Side, t float64) float64 {
	var sum float64
	for i, x := range s.x {
		p := vaporPressure(s.m.Fluid(i), t)
		if given == Liquid {
			sum += x * p
		} else {
			sum += x / p
		}
	}
	if given == Liquid {
		return sum
	}
	return 1 / sum
}

// idealTemperature inverts idealPressure; it is a guess, so a few steps in
// (1/T, ln p), where the curve is nearly straight, suffice.
func (s *System) idealTemperature(given Side, p float64) float64 {
	var t float64
	for i, x := range s.x {
		t += x * s.m.Fluid(i).CriticalTemperature
	}
	t *= 0.7
	for range 30 {
		const h = 1e-4
		l := math.Log(s.idealPressure(given, t))
		slope := (math.Log(s.idealPressure(given, t*(1+h))) - l) / (1/(t*(1+h)) - 1/t)
		next := 1 / max(1/t+(math.Log(p)-l)/slope, 1e-4)
		next = min(max(next, 0.6*t), 1.5*t)
		if math.Abs(next-t) < 1e-3*t {
			return next
		}
		t = next
	}
	return t
}
