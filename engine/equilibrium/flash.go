package equilibrium

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

// State is an equilibrium state of the system, of one phase or two.
type State struct {
	// Temperature in K, Pressure in Pa, Density in mol/m3, Enthalpy in J/mol,
	// Entropy in J/(mol K) of the whole.
	Temperature, Pressure, Density, Enthalpy, Entropy float64
	// TwoPhase is set where liquid and vapour stand side by side; VaporFraction
	// (of the amount) and the phases are given then only.
	TwoPhase      bool
	VaporFraction float64
	Liquid, Vapor Phase
}

// split is a two-phase state on the way to be solved: [0] ln T, then ln ρ_i of
// the liquid, then of the vapour.
type split struct {
	w    vector
	beta float64
}

// splitter solves two-phase states at a given vapour fraction, which stays
// well posed for pure fluids and azeotropes, where bubble and dew meet.
type splitter struct {
	s             *System
	liquid, vapor helmholtz.Potentials
	rho           [2][helmholtz.MaxComponents]float64
	sum           [2]float64
	lnP           float64
}

func (n *splitter) solve(e *split, sp spec, value float64) error {
	s := n.s
	c := len(s.x)
	size := 2*c + 1
	for range maxNewton {
		t := math.Exp(e.w[0])
		for side := range n.sum {
			n.sum[side] = 0
			for i := range c {
				n.rho[side][i] = math.Exp(e.w[1+side*c+i])
				n.sum[side] += n.rho[side][i]
			}
		}
		l, v := &n.liquid, &n.vapor
		s.m.PotentialsAt(l, t, n.rho[0][:c])
		s.m.PotentialsAt(v, t, n.rho[1][:c])

		var a square
		var step vector
		scale := 1 / n.sum[0]
		for i := range c {
			// Equal fugacities.
			step[i] = -(e.w[1+i] + l.Grad[i] - e.w[1+c+i] - v.Grad[i])
			equal, pressures := a.row(i), a.row(c)
			equal[0] = l.GradT[i] - v.GradT[i]
			for k := range c {
				equal[1+k] = n.rho[0][k] * l.Hess[i][k]
				equal[1+c+k] = -n.rho[1][k] * v.Hess[i][k]
				// Equal pressures.
				pressures[1+k] = n.rho[0][k] * l.ZRho[k] * scale
				pressures[1+c+k] = -n.rho[1][k] * v.ZRho[k] * scale
			}
			equal[1+i]++
			equal[1+c+i]--
		}
		step[c] = -(l.Z - v.Z) * scale
		a.row(c)[0] = (l.ZT - v.ZT) * scale
		// Amounts of all components but the last.
		for i := range c - 1 {
			row := c + 1 + i
			amount := a.row(row)
			x, y := n.rho[0][i]/n.sum[0], n.rho[1][i]/n.sum[1]
			step[row] = s.x[i] - (1-e.beta)*x - e.beta*y
			for k := range c {
				dx, dy := -x*n.rho[0][k]/n.sum[0], -y*n.rho[1][k]/n.sum[1]
				if k == i {
					dx += x
					dy += y
				}
				amount[1+k] = (1 - e.beta) * dx
				amount[1+c+k] = e.beta * dy
			}
		}
		n.lnP = math.Log(v.Z*s.m.GasConstant()) + e.w[0]
		last := size - 1
		given := a.row(last)
		if sp == specT {
			step[last] = value - e.w[0]
			given[0] = 1
		} else {
			step[last] = value - n.lnP
			given[0] = 1 + v.ZT/v.Z
			for k := range c {
				given[1+c+k] = n.rho[1][k] * v.ZRho[k] / v.Z
			}
		}
		if !a.solve(step[:size]) {
			return fmt.Errorf("%w: two-phase state near %.6g K", ErrNotConverged, t)
		}
		worst, ok := advance(&e.w, &step, size)
		if !ok {
			break
		}
		if worst < tolNewton {
			if n.sum[0] > n.sum[1]*(1+trivialRatio) {
				return nil
			}
			break
		}
	}
	return fmt.Errorf("%w: two-phase state near %.6g K at vapor fraction %.4g", ErrNotConverged, math.Exp(e.w[0]), e.beta)
}

// state reads the result out of a converged split.
func (n *splitter) state(e *split) State {
	s := n.s
	c := len(s.x)
	st := State{Temperature: math.Exp(e.w[0]), Pressure: math.Exp(n.lnP), TwoPhase: true, VaporFraction: e.beta}
	phase := func(side int) Phase {
		p := Phase{Density: n.sum[side], X: make([]float64, c)}
		for i := range c {
			p.X[i] = n.rho[side][i] / n.sum[side]
		}
		return p
	}
	st.Liquid, st.Vapor = phase(0), phase(1)
	l := s.m.Caloric(st.Temperature, st.Liquid.Density, st.Liquid.X)
	v := s.m.Caloric(st.Temperature, st.Vapor.Density, st.Vapor.X)
	b := e.beta
	st.Density = 1 / ((1-b)/st.Liquid.Density + b/st.Vapor.Density)
	st.Enthalpy = (1-b)*l.Enthalpy + b*v.Enthalpy
	st.Entropy = (1-b)*l.Entropy + b*v.Entropy
	return st
}

func (s *System) single(t, rho float64) State {
	c := s.Caloric(t, rho)
	return State{Temperature: t, Pressure: s.Pressure(t, rho), Density: rho, Enthalpy: c.Enthalpy, Entropy: c.Entropy}
}

func splitAt(p Point, beta float64) split {
	e := split{beta: beta}
	c := len(p.Liquid.X)
	e.w[0] = math.Log(p.Temperature)
	for i := range c {
		e.w[1+i] = math.Log(p.Liquid.Density * p.Liquid.X[i])
		e.w[1+c+i] = math.Log(p.Vapor.Density * p.Vapor.X[i])
	}
	return e
}

// AtVaporFraction finds the two-phase state at t (K) with the given share of
// the amount in the vapour, 0 to 1.
func (s *System) AtVaporFraction(t, beta float64) (State, error) {
	if !(beta >= 0 && beta <= 1) {
		return State{}, fmt.Errorf("%w: vapor fraction %v", ErrOutside, beta)
	}
	bubble, err := s.AtTemperature(BubbleLine, t)
	if err != nil {
		return State{}, err
	}
	dew, err := s.AtTemperature(DewLine, t)
	if err != nil {
		return State{}, err
	}
	n := &splitter{s: s}
	e := mixSplit(splitAt(bubble, beta), splitAt(dew, beta), beta)
	if err := n.solve(&e, specT, math.Log(t)); err != nil {
		return State{}, err
	}
	return n.state(&e), nil
}

// mixSplit interpolates between the bubble and the dew point.
func mixSplit(bubble, dew split, beta float64) split {
	e := split{beta: beta}
	for k := range e.w {
		e.w[k] = (1-beta)*bubble.w[k] + beta*dew.w[k]
	}
	return e
}

const (
	maxFlash = 100
	tolFlash = 1e-11
)

// inside finds the vapour fraction at which measure, rising with it, equals
// the target; below and above are its values at the bubble and the dew point.
func (s *System) inside(bubble, dew Point, sp spec, value float64, measure func(State) float64, target, below, above float64) (State, error) {
	n := &splitter{s: s}
	b0, b1 := splitAt(bubble, 0), splitAt(dew, 1)
	lo, hi, flo, fhi := 0.0, 1.0, below-target, above-target
	beta := -flo / (fhi - flo)
	e := mixSplit(b0, b1, beta)
	for i := range maxFlash {
		e.beta = beta
		if err := n.solve(&e, sp, value); err != nil {
			// Back to the chord between the end points.
			e = mixSplit(b0, b1, beta)
			if err := n.solve(&e, sp, value); err != nil {
				return State{}, err
			}
		}
		st := n.state(&e)
		f := measure(st) - target
		if math.Abs(f) <= tolFlash*math.Max(math.Abs(target), math.Abs(above-below)) || hi-lo < 1e-15 {
			return st, nil
		}
		if f < 0 {
			lo, flo = beta, f
		} else {
			hi, fhi = beta, f
		}
		beta = lo - flo*(hi-lo)/(fhi-flo)
		// Regula falsi can creep from one end: halve now and then.
		if i%3 == 2 || !(beta > lo && beta < hi) {
			beta = 0.5 * (lo + hi)
		}
	}
	return State{}, fmt.Errorf("%w: vapor fraction between %.6g and %.6g", ErrNotConverged, lo, hi)
}

// AtTemperatureDensity finds the state at t (K) and rho (mol/m3), one phase or
// two: what a closed volume holds. It returns ErrOutside for arguments that
// are not positive, ErrNearCritical where the lines end, ErrNotConverged.
func (s *System) AtTemperatureDensity(t, rho float64) (State, error) {
	if !(t > 0 && rho > 0) || math.IsInf(t, 0) || math.IsInf(rho, 0) {
		return State{}, fmt.Errorf("%w: state at %v K, %v mol/m3", ErrOutside, t, rho)
	}
	bubble, err := s.AtTemperature(BubbleLine, t)
	if errors.Is(err, ErrAboveCritical) {
		return s.single(t, rho), nil
	}
	if err != nil {
		return State{}, err
	}
	dew, err := s.AtTemperature(DewLine, t)
	if err != nil {
		return State{}, err
	}
	const boundary = 1e-12 // states on a line belong to the single phase
	if rho >= bubble.Liquid.Density*(1-boundary) || rho <= dew.Vapor.Density*(1+boundary) {
		return s.single(t, rho), nil
	}
	volume := func(st State) float64 { return 1 / st.Density }
	return s.inside(bubble, dew, specT, math.Log(t), volume, 1/rho, 1/bubble.Liquid.Density, 1/dew.Vapor.Density)
}

// caloricOf selects the property that a flash at constant pressure is asked
// for.
type caloricOf struct {
	name string
	// of gives the property, slope its derivative by temperature at constant
	// pressure.
	of    func(helmholtz.Caloric) float64
	slope func(c helmholtz.Caloric, t float64) float64
	whole func(State) float64
}

var (
	byEnthalpy = caloricOf{
		name:  "enthalpy",
		of:    func(c helmholtz.Caloric) float64 { return c.Enthalpy },
		slope: func(c helmholtz.Caloric, _ float64) float64 { return c.Cp },
		whole: func(s State) float64 { return s.Enthalpy },
	}
	byEntropy = caloricOf{
		name:  "entropy",
		of:    func(c helmholtz.Caloric) float64 { return c.Entropy },
		slope: func(c helmholtz.Caloric, t float64) float64 { return c.Cp / t },
		whole: func(s State) float64 { return s.Entropy },
	}
)

// AtPressureEnthalpy finds the state at p (Pa) and h (J/mol, the equation's
// own zero). It returns ErrOutside where no temperature between half the
// lowest and 1.5 times the highest of the equation's has this enthalpy,
// ErrNearCritical, ErrNotConverged.
func (s *System) AtPressureEnthalpy(p, h float64) (State, error) {
	return s.atPressure(p, h, byEnthalpy)
}

// AtPressureEntropy is AtPressureEnthalpy for the entropy, J/(mol K).
func (s *System) AtPressureEntropy(p, entropy float64) (State, error) {
	return s.atPressure(p, entropy, byEntropy)
}

func (s *System) atPressure(p, target float64, q caloricOf) (State, error) {
	if !(p > 0) || math.IsInf(p, 0) || math.IsNaN(target) || math.IsInf(target, 0) {
		return State{}, fmt.Errorf("%w: state at %v Pa, %s %v", ErrOutside, p, q.name, target)
	}
	coldest, hottest := 0.5*s.MinTemperature(), 1.5*s.MaxTemperature()
	bubble, err := s.AtPressure(BubbleLine, p)
	if errors.Is(err, ErrAboveCritical) {
		return s.along(p, target, q, Liquid, coldest, hottest)
	}
	if err != nil {
		return State{}, err
	}
	dew, err := s.AtPressure(DewLine, p)
	if err != nil {
		return State{}, err
	}
	below := q.of(s.Caloric(bubble.Temperature, bubble.Liquid.Density))
	above := q.of(s.Caloric(dew.Temperature, dew.Vapor.Density))
	switch {
	case target <= below:
		return s.along(p, target, q, Liquid, coldest, bubble.Temperature)
	case target >= above:
		return s.along(p, target, q, Vapor, dew.Temperature, hottest)
	}
	return s.inside(bubble, dew, specP, math.Log(p), q.whole, target, below, above)
}

// along finds the temperature on an isobar of one phase between lo and hi,
// where enthalpy and entropy rise with it.
func (s *System) along(p, target float64, q caloricOf, side Side, lo, hi float64) (State, error) {
	// From the saturated end, or from the middle of a supercritical isobar.
	t := hi
	switch {
	case side == Vapor:
		t = lo
	case hi > s.MaxTemperature():
		t = 0.5 * (s.MinTemperature() + s.MaxTemperature())
	}
	var cold, hot bool // a temperature below, above the root has been met
	for i := range maxFlash {
		rho, err := density(s.m, t, p, s.x, side)
		if err != nil {
			return State{}, err
		}
		c := s.Caloric(t, rho)
		f := q.of(c) - target
		step := -f / q.slope(c, t)
		if math.Abs(step) <= tolFlash*t {
			return s.single(t, rho), nil
		}
		if f < 0 {
			lo, cold = t, true
		} else {
			hi, hot = t, true
		}
		if next := t + step; next > lo && next < hi && i%4 != 3 {
			t = next
			continue
		}
		if hi-lo <= 10*tolFlash*t {
			if cold && hot {
				return s.single(t, rho), nil
			}
			return State{}, fmt.Errorf("%w: %s %.6g at %.6g Pa", ErrOutside, q.name, target, p)
		}
		t = 0.5 * (lo + hi)
	}
	return State{}, fmt.Errorf("%w: %s %.6g at %.6g Pa", ErrNotConverged, q.name, target, p)
}
