package equilibrium

import (
	"fmt"
	"math"
)

// Phase is one of two phases in equilibrium.
type Phase struct {
	// Density in mol/m3.
	Density float64
	// X are mole fractions.
	X []float64
}

// Point is a point of the bubble or the dew line.
type Point struct {
	// Temperature in K, Pressure in Pa.
	Temperature, Pressure float64
	// Slope is dp/dT along the line, Pa/K.
	Slope         float64
	Liquid, Vapor Phase
}

// Line names a saturation line by the phase that has the system's
// composition.
type Line = Side

// The two saturation lines.
const (
	BubbleLine = Liquid
	DewLine    = Vapor
)

// AtTemperature finds the point of the line at t (K). It returns
// ErrAboveCritical, ErrNearCritical, ErrBelowRange, ErrNotConverged, or
// ErrOutside for a t that is not positive.
func (s *System) AtTemperature(line Line, t float64) (Point, error) {
	return s.point(line, specT, t)
}

// AtPressure finds the point of the line at p (Pa); errors as AtTemperature.
func (s *System) AtPressure(line Line, p float64) (Point, error) {
	return s.point(line, specP, p)
}

func (s *System) point(line Line, sp spec, value float64) (Point, error) {
	if !(value > 0) || math.IsInf(value, 0) {
		return Point{}, fmt.Errorf("%w: saturation at %v", ErrOutside, value)
	}
	n := &newton{s: s}
	e, err := s.find(n, line, sp, value)
	if err != nil {
		return Point{}, err
	}
	p, _, err := s.pointOf(n, e)
	return p, err
}

// minPressure bounds what is still called a saturation pressure, Pa; below it
// densities underflow the arithmetic long before they mean anything.
const minPressure = 1e-12

// find solves directly from a first guess, and where that fails follows the
// line from an easy state.
func (s *System) find(n *newton, line Line, sp spec, value float64) (edge, error) {
	t, p := value, value
	if sp == specP {
		t = s.idealTemperature(line, p)
	} else {
		p = s.idealPressure(line, t)
	}
	if sp == specP && p < minPressure {
		return edge{}, fmt.Errorf("%w: %g Pa", ErrBelowRange, p)
	}
	e, err := s.guess(n, line, t, p)
	if err == nil {
		err = n.solve(&e, sp, math.Log(value))
	}
	if err == nil && (s.Pure() || n.ratio >= endRatio) {
		return e, nil
	}
	if e, err := s.follow(n, line, sp, value); err == nil {
		return e, nil
	}
	return edge{}, s.classify(line, sp, value, err)
}

// guess starts a bubble or dew point from the other phase's fugacities at a
// liquid and vapour density that the equation itself gives.
func (s *System) guess(n *newton, line Line, t, p float64) (edge, error) {
	c := len(s.x)
	e := edge{given: line}
	e.w[0] = math.Log(t)
	rho, err := density(s.m, t, p, s.x, line)
	if err != nil {
		return e, err
	}
	e.w[1] = math.Log(rho)
	for i := range c {
		n.rhoG[i] = rho * s.x[i]
	}
	s.m.PotentialsAt(&n.given, t, n.rhoG[:c])
	if line == Liquid {
		// f_i/(RT) of the liquid is ρ_i of an ideal vapour.
		for i := range c {
			e.w[2+i] = math.Log(n.rhoG[i]) + n.given.Grad[i]
		}
		return e, nil
	}
	// Liquid composition from the ideal K, once corrected by fugacities.
	x := make([]float64, c)
	for i := range c {
		x[i] = s.x[i] * p / vaporPressure(s.m.Fluid(i), t)
	}
	for range 2 {
		normalize(x)
		rho, err := density(s.m, t, p, x, Liquid)
		if err != nil {
			return e, err
		}
		for i := range c {
			n.rhoI[i] = rho * x[i]
			e.w[2+i] = math.Log(n.rhoI[i])
		}
		s.m.PotentialsAt(&n.incip, t, n.rhoI[:c])
		for i := range c {
			x[i] *= math.Exp(math.Log(n.rhoG[i]) + n.given.Grad[i] - e.w[2+i] - n.incip.Grad[i])
		}
	}
	return e, nil
}

func normalize(x []float64) {
	var sum float64
	for _, v := range x {
		sum += v
	}
	for i := range x {
		x[i] /= sum
	}
}

// pointOf reads the result out of a converged edge, with the slope of the line
// and its tangent by ln T.
func (s *System) pointOf(n *newton, e edge) (Point, vector, error) {
	c := len(s.x)
	d, ok := n.tangent(&e, specT, e.w[0])
	if !ok {
		return Point{}, vector{}, n.failed(&e, "no tangent")
	}
	given := Phase{Density: math.Exp(e.w[1]), X: s.Composition()}
	other := Phase{Density: n.sumI, X: make([]float64, c)}
	for i := range c {
		other.X[i] = n.rhoI[i] / n.sumI
	}
	// d ln p/d ln T of the vapour.
	z := &n.incip
	if e.given == Vapor {
		z = &n.given
	}
	slope := 1 + z.ZT/z.Z
	for k := range c {
		if e.given == Vapor {
			slope += n.rhoG[k] * z.ZRho[k] * d[1] / z.Z
		} else {
			slope += n.rhoI[k] * z.ZRho[k] * d[2+k] / z.Z
		}
	}
	p := Point{Temperature: math.Exp(e.w[0]), Pressure: math.Exp(n.lnP)}
	p.Slope = slope * p.Pressure / p.Temperature
	if e.given == Liquid {
		p.Liquid, p.Vapor = given, other
	} else {
		p.Liquid, p.Vapor = other, given
	}
	return p, d, nil
}

// Follower finds neighbouring points of one line, each from the one before,
// which costs about half of finding them one by one. It is for one goroutine.
type Follower struct {
	n       newton
	line    Line
	last    edge
	tangent vector
	have    bool
}

// Follow begins to follow a line.
func (s *System) Follow(line Line) *Follower {
	return &Follower{n: newton{s: s}, line: line}
}

// reach is how far in ln T a follower trusts its tangent.
const reach = 0.05

// At finds the point at t (K); errors as AtTemperature.
func (f *Follower) At(t float64) (Point, error) {
	s := f.n.s
	if !(t > 0) || math.IsInf(t, 0) {
		return Point{}, fmt.Errorf("%w: saturation at %v", ErrOutside, t)
	}
	lnT := math.Log(t)
	e, err := f.last, ErrNotConverged
	if step := lnT - f.last.w[0]; f.have && math.Abs(step) < reach {
		for k := range len(s.x) + 2 {
			e.w[k] += step * f.tangent[k]
		}
		if err = f.n.solve(&e, specT, lnT); err == nil && !s.Pure() && f.n.ratio < endRatio {
			err = ErrNotConverged
		}
	}
	if err != nil {
		if e, err = s.find(&f.n, f.line, specT, t); err != nil {
			f.have = false
			return Point{}, err
		}
	}
	p, d, err := s.pointOf(&f.n, e)
	f.last, f.tangent, f.have = e, d, err == nil
	return p, err
}
