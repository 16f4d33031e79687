package equilibrium

import (
	"errors"
	"fmt"
	"math"
)

// endRatio is ln(ρ_L/ρ_V) at which the saturation lines of a mixture end:
// beyond it the answer is ErrNearCritical.
var endRatio = math.Log(1.5)

const (
	// pureEndRatio is where following a pure fluid's line ends, a few
	// millikelvins below its critical point: rounding in the pressures takes
	// over beyond.
	pureEndRatio = 0.012
	// pureGap is how far below the critical temperature or pressure a failure
	// is put down to nearness, relative; the line itself goes on to 0.01 K.
	pureGap  = 3e-4
	maxSteps = 400
)

// End is where a saturation line stops: at ρ_L/ρ_V = 1.5 for a mixture, at the
// critical point for a pure fluid.
type End struct {
	// Temperature in K and Pressure in Pa at the end.
	Temperature, Pressure float64
	// MaxTemperature and MaxPressure are the largest met on the way: above
	// those at the end where the line turns back (retrograde).
	MaxTemperature, MaxPressure float64
}

// End of the line; ErrNotConverged where it cannot be followed.
func (s *System) End(line Line) (End, error) { return s.ends[line]() }

func (s *System) lastRatio() float64 {
	if s.Pure() {
		return pureEndRatio
	}
	return endRatio
}

// easy solves one point in the middle of the line, from where it is followed.
func (s *System) easy(n *newton, line Line) (edge, error) {
	var tc float64
	for i, x := range s.x {
		tc += x * s.m.Fluid(i).CriticalTemperature
	}
	var last error
	for _, tr := range [...]float64{0.7, 0.6, 0.8, 0.5, 0.65, 0.75, 0.55, 0.85, 0.45, 0.4} {
		t := tr * tc
		e, err := s.guess(n, line, t, s.idealPressure(line, t))
		if err == nil {
			err = n.solve(&e, specT, math.Log(t))
		}
		if err == nil && n.ratio > endRatio {
			return e, nil
		}
		last = err
	}
	return edge{}, fmt.Errorf("%w: no easy state on the line (%v)", ErrNotConverged, last)
}

// walk follows the line from e in the variable ln(ρ_L/ρ_V), in which it is
// smooth through every turn of temperature and pressure, towards the given
// ratio. At each converged point it calls visit with the edge before and
// after; visit returns true to stop.
func (s *System) walk(n *newton, e edge, ratio float64, visit func(before, after edge) bool) error {
	size := len(s.x) + 2
	n.assemble(&e, specT, e.w[0])
	r := n.ratio
	h := 0.15 * r
	for range maxSteps {
		if r == ratio {
			return nil
		}
		d, ok := n.tangent(&e, specRatio, r)
		if !ok {
			return n.failed(&e, "no tangent")
		}
		for {
			next := r - h
			if ratio > r {
				next = r + h
			}
			if (ratio > r) == (next >= ratio) {
				next = ratio
			}
			try := e
			for k := range size {
				try.w[k] += (next - r) * d[k]
			}
			if err := n.solve(&try, specRatio, next); err == nil && math.Abs(try.w[0]-e.w[0]) < 0.2 {
				if visit(e, try) {
					return nil
				}
				e, r = try, next
				h = min(1.5*h, 0.25*r)
				break
			}
			if h *= 0.4; h < 1e-5*r {
				return n.failed(&e, "the line cannot be followed further")
			}
		}
	}
	return n.failed(&e, "too many steps along the line")
}

// quantity is the spec's variable at e.
func (n *newton) quantity(e *edge, sp spec) float64 {
	if sp == specT {
		return e.w[0]
	}
	n.assemble(e, specT, e.w[0])
	return n.lnP
}

// follow reaches the spec by walking from an easy state.
func (s *System) follow(n *newton, line Line, sp spec, value float64) (edge, error) {
	start, err := s.easy(n, line)
	if err != nil {
		return edge{}, err
	}
	target := math.Log(value)
	q := n.quantity(&start, sp)
	ratio := s.lastRatio()
	if target < q {
		ratio = 80 // further down than any density ratio goes
	}
	var found edge
	err = fmt.Errorf("%w: the line does not reach it", ErrAboveCritical)
	walked := s.walk(n, start, ratio, func(before, after edge) bool {
		a, b := n.quantity(&before, sp), n.quantity(&after, sp)
		if (target-a)*(target-b) > 0 {
			return false
		}
		found, err = s.between(n, before, after, sp, target)
		return true
	})
	if err != nil && walked != nil {
		err = walked
	}
	return found, err
}

// between solves for a spec that lies between two converged points, halving
// the stretch where Newton's method does not settle at once.
func (s *System) between(n *newton, a, b edge, sp spec, target float64) (edge, error) {
	size := len(s.x) + 2
	var err error
	for range 40 {
		qa, qb := n.quantity(&a, sp), n.quantity(&b, sp)
		f := 0.5
		if qa != qb {
			f = (target - qa) / (qb - qa)
		}
		e := a
		for k := range size {
			e.w[k] += f * (b.w[k] - a.w[k])
		}
		try := e
		if err = n.solve(&try, sp, target); err == nil {
			return try, nil
		}
		n.assemble(&a, specT, a.w[0])
		ra := n.ratio
		n.assemble(&b, specT, b.w[0])
		mid := 0.5 * (ra + n.ratio)
		if err := n.solve(&e, specRatio, mid); err != nil {
			return edge{}, err
		}
		if (n.quantity(&e, sp)-target)*(qa-target) > 0 {
			a = e
		} else {
			b = e
		}
	}
	return edge{}, err
}

func (s *System) findEnd(side Side) (End, error) {
	if s.Pure() {
		c, err := s.Critical()
		return End{c.Temperature, c.Pressure, c.Temperature, c.Pressure}, err
	}
	n := &newton{s: s}
	e, err := s.easy(n, side)
	if err != nil {
		return End{}, err
	}
	var end End
	note := func(e edge) {
		end.Temperature, end.Pressure = math.Exp(e.w[0]), math.Exp(n.quantity(&e, specP))
		end.MaxTemperature = max(end.MaxTemperature, end.Temperature)
		end.MaxPressure = max(end.MaxPressure, end.Pressure)
	}
	note(e)
	err = s.walk(n, e, s.lastRatio(), func(_, after edge) bool {
		note(after)
		return false
	})
	return end, err
}

// classify says why a saturation question has no answer.
func (s *System) classify(line Line, sp spec, value float64, cause error) error {
	name, unit := "temperature", "K"
	if sp == specP {
		name, unit = "pressure", "Pa"
	}
	if c, err := s.Critical(); err == nil {
		limit := c.Temperature
		if sp == specP {
			limit = c.Pressure
		}
		if end, err := s.End(line); err == nil {
			top, last := end.MaxTemperature, end.Temperature
			if sp == specP {
				top, last = end.MaxPressure, end.Pressure
			}
			if s.Pure() {
				last = limit * (1 - pureGap)
			}
			switch {
			case value >= max(limit, top):
				return fmt.Errorf("%w: %s %.6g %s, critical %.6g %s", ErrAboveCritical, name, value, unit, limit, unit)
			case value >= min(last, limit):
				return fmt.Errorf("%w: %s %.6g %s, critical %.6g %s", ErrNearCritical, name, value, unit, limit, unit)
			}
		} else if value >= limit {
			return fmt.Errorf("%w: %s %.6g %s, critical %.6g %s", ErrAboveCritical, name, value, unit, limit, unit)
		}
	}
	if s.below(line, sp, value) {
		return fmt.Errorf("%w: %s %.6g %s", ErrBelowRange, name, value, unit)
	}
	if errors.Is(cause, ErrTwoLiquids) {
		return fmt.Errorf("%w (%s %.6g %s)", cause, name, value, unit)
	}
	return fmt.Errorf("%w: %s %.6g %s: %v", ErrNotConverged, name, value, unit, cause)
}

// below reports whether a value lies below the coldest point of the equation.
func (s *System) below(line Line, sp spec, value float64) bool {
	coldest := s.MinTemperature()
	if sp == specT {
		return value < coldest
	}
	n := &newton{s: s}
	e, err := s.guess(n, line, coldest, s.idealPressure(line, coldest))
	if err == nil {
		err = n.solve(&e, specT, math.Log(coldest))
	}
	return err == nil && math.Log(value) < n.lnP
}
