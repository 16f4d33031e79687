package plant

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

// ErrFluid reports a refrigerant that the model cannot run with: no curve, a
// critical point too low for a condenser in summer air, or properties that the
// equation of state does not give.
var ErrFluid = errors.New("plant: refrigerant not usable")

// ErrStopped reports that the caller asked the making of a Fluid to stop.
var ErrStopped = errors.New("plant: stopped")

// Fluid is a refrigerant as the plant needs it: saturation from the curve,
// superheated vapour and subcooled liquid from surfaces fitted to the equation
// of state, everything a kilogram. It is immutable and safe for concurrent use;
// making one costs some tens of milliseconds.
//
// Between bubble and dew point the temperature is taken as linear in the
// enthalpy, and the phases as having the densities of the two lines.
type Fluid struct {
	system *equilibrium.System
	curve  *saturation.Curve
	molar  float64 // kg/mol
	gas    float64 // J/(kg K)
	// coldest and hottest bound the dew temperatures of the surfaces, lowest
	// and highest the pressures.
	coldest, hottest, lowest, highest float64
	origin                            float64
	criticalT, criticalP, acentric    float64
	vapor, liquid                     surface
	// beyond is d ln p/dT at the highest pressure.
	beyond float64
}

const (
	// coldestDew is where the surfaces begin, K.
	coldestDew = 220
	// hottestReduced is where they end, as a share of the critical temperature.
	hottestReduced = 0.988
	// leastCritical is the lowest critical temperature of a refrigerant that
	// still condenses in summer air, K.
	leastCritical = 335
)

// NewFluid fits the surfaces. stop, which may be nil, is asked now and then;
// where it reports true NewFluid returns ErrStopped. It returns ErrFluid for a
// refrigerant that cannot be used.
func NewFluid(s *equilibrium.System, lines saturation.Lines, stop func() bool) (*Fluid, error) {
	curve := lines.Curve()
	if curve == nil {
		return nil, fmt.Errorf("%w: no saturation curve", ErrFluid)
	}
	c, err := s.Critical()
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrFluid, err)
	}
	if !(c.Temperature > leastCritical) {
		return nil, fmt.Errorf("%w: critical temperature %.5g K", ErrFluid, c.Temperature)
	}
	f := &Fluid{system: s, curve: curve, molar: s.MolarMass(), criticalT: c.Temperature, criticalP: c.Pressure, origin: c.Temperature + 1}
	f.gas = s.Mixture().GasConstant() / f.molar
	f.coldest, f.hottest = coldestDew, hottestReduced*c.Temperature
	var ok bool
	if f.lowest, ok = curve.DewPressure(f.coldest); !ok {
		return nil, fmt.Errorf("%w: no dew point at %v K", ErrFluid, f.coldest)
	}
	if f.highest, ok = curve.DewPressure(f.hottest); !ok {
		return nil, fmt.Errorf("%w: no dew point at %.5g K", ErrFluid, f.hottest)
	}
	p, ok := curve.DewPressure(0.7 * c.Temperature)
	if !ok {
		return nil, fmt.Errorf("%w: no dew point at %.5g K", ErrFluid, 0.7*c.Temperature)
	}
	f.acentric = -math.Log10(p/c.Pressure) - 1
	near, ok := curve.DewPressure(f.hottest - 0.5)
	if !ok {
		return nil, fmt.Errorf("%w: no dew point at %.5g K", ErrFluid, f.hottest)
	}
	f.beyond = math.Log(f.highest/near) / 0.5
	if f.vapor, err = fitSurface(f, equilibrium.Vapor, stop); err != nil {
		return nil, err
	}
	if f.liquid, err = fitSurface(f, equilibrium.Liquid, stop); err != nil {
		return nil, err
	}
	return f, nil
}

// Saturation gives dew and bubble temperature in K at a pressure in Pa, false
// off the ends of the curve.
func (f *Fluid) Saturation(p float64) (dew, bubble float64, ok bool) {
	dew, okDew := f.curve.DewTemperature(p)
	bubble, okBubble := f.curve.BubbleTemperature(p)
	return dew, bubble, okDew && okBubble
}

func (f *Fluid) saturationPressure(side equilibrium.Side, t float64) (float64, bool) {
	if side == equilibrium.Liquid {
		return f.curve.BubblePressure(t)
	}
	return f.curve.DewPressure(t)
}

// saturated are both lines at one pressure.
type saturated struct {
	p                  float64
	bubble, dew        float64 // K
	hf, hg, sf, sg     float64 // J/kg, J/(kg K)
	liquid, vapor      float64 // kg/m3
	vaporBar, liquidAt isobar
}

// at gives both lines at a pressure in Pa. Beyond the ends of the surfaces
// everything but the pressure and the temperatures keeps to the end, so that a
// solver on its way can step there; an answer must not lie there.
func (f *Fluid) at(p float64) saturated {
	q := min(max(p, f.lowest), f.highest)
	s := saturated{p: p}
	s.bubble, _ = f.curve.BubbleTemperature(q)
	s.dew, _ = f.curve.DewTemperature(q)
	b, _ := f.curve.Properties(equilibrium.BubbleLine, s.bubble)
	d, _ := f.curve.Properties(equilibrium.DewLine, s.dew)
	s.hf, s.hg = b.Enthalpy/f.molar, d.Enthalpy/f.molar
	s.sf, s.sg = b.Entropy/f.molar, d.Entropy/f.molar
	s.liquid, s.vapor = b.Density*f.molar, d.Density*f.molar
	s.vaporBar, s.liquidAt = f.vapor.at(s.dew), f.liquid.at(s.bubble)
	if p != q {
		shift := math.Log(p/q) / f.beyond
		if p < q {
			shift = max(shift, -30)
		}
		s.bubble += shift
		s.dew += shift
		s.vaporBar.tSat += shift
		s.liquidAt.tSat += shift
		s.vapor *= p / q
	}
	return s
}

// inside reports whether a pressure lies on the surfaces.
func (f *Fluid) inside(p float64) bool { return p >= f.lowest && p <= f.highest }

// quality is the share of vapour, below 0 for subcooled liquid and above 1 for
// superheated vapour.
func (s *saturated) quality(h float64) float64 { return (h - s.hf) / (s.hg - s.hf) }

// temperature at an enthalpy, K.
func (s *saturated) temperature(h float64) float64 {
	switch {
	case h >= s.hg:
		return s.vaporBar.temperature(enthalpy, h)
	case h <= s.hf:
		return s.liquidAt.temperature(enthalpy, h)
	}
	return s.bubble + (s.dew-s.bubble)*s.quality(h)
}

// density at an enthalpy and its temperature, kg/m3, phases moving together
// where there are two.
func (f *Fluid) density(s *saturated, h, t float64) float64 {
	switch {
	case h >= s.hg:
		return s.p / (s.vaporBar.of(compressibility, t) * f.gas * t)
	case h <= s.hf:
		return s.p / (s.liquidAt.of(compressibility, t) * f.gas * t)
	}
	x := s.quality(h)
	return 1 / (x/s.vapor + (1-x)/s.liquid)
}

// entropyOf a state, J/(kg K).
func (s *saturated) entropyOf(h, t float64) float64 {
	switch {
	case h >= s.hg:
		return s.vaporBar.of(entropy, t)
	case h <= s.hf:
		return s.liquidAt.of(entropy, t)
	}
	return s.sf + (s.sg-s.sf)*s.quality(h)
}

// isentrope gives enthalpy and density at an entropy.
func (f *Fluid) isentrope(s *saturated, entropyValue float64) (h, rho float64) {
	if entropyValue < s.sg {
		x := (entropyValue - s.sf) / (s.sg - s.sf)
		h = s.hf + x*(s.hg-s.hf)
		return h, 1 / (x/s.vapor + (1-x)/s.liquid)
	}
	t := s.vaporBar.temperature(entropy, entropyValue)
	return s.vaporBar.of(enthalpy, t), s.p / (s.vaporBar.of(compressibility, t) * f.gas * t)
}

// dewPressure at a temperature, continued above the curve by its last slope.
func (f *Fluid) dewPressure(t float64) float64 {
	switch {
	case t > f.hottest:
		return f.highest * math.Exp(f.beyond*(t-f.hottest))
	case t < f.coldest:
		return f.lowest * math.Exp((t-f.coldest)*0.05)
	}
	p, _ := f.curve.DewPressure(t)
	return p
}

// liquidViscosity of the saturated liquid in Pa s by corresponding states:
// Letsou & Stiel (1973), AIChE J. 19:409, as given in Reid, Prausnitz & Poling,
// The Properties of Gases and Liquids, 4th ed.; constants from memory,
// unverified. It enters only in weak powers.
func (f *Fluid) liquidViscosity(t float64) float64 {
	tr := min(max(t/f.criticalT, 0.7), 0.98)
	m, p := f.molar*1e3, f.criticalP*1e-5
	xi := 0.176 * math.Pow(f.criticalT/(m*m*m*p*p*p*p), 1./6)
	zero := 2.648 - 3.725*tr + 1.309*tr*tr
	one := 7.425 - 13.39*tr + 5.933*tr*tr
	return (zero + f.acentric*one) * 1e-3 / xi * 1e-3
}
