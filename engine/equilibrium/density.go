package equilibrium

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

// Density in mol/m3 of the named side at t (K) and p (Pa). Above the critical
// temperature both sides are the same root. It returns ErrNoPhase where the
// side does not exist there (not even as a metastable state), ErrOutside for
// arguments that are not positive, ErrNotConverged.
func (s *System) Density(t, p float64, side Side) (float64, error) {
	if !(t > 0 && p > 0) || math.IsInf(t, 0) || math.IsInf(p, 0) {
		return 0, fmt.Errorf("%w: density at %v K, %v Pa", ErrOutside, t, p)
	}
	rho, err := density(s.m, t, p, s.x, side)
	if err != nil {
		return 0, err
	}
	// Some equations have loops between their spinodals that a step can leap
	// into: on the named side pressure rises all the way from outside.
	outside := rho / 1.5
	if side == Vapor {
		outside = min(0.5*p/(s.m.GasConstant()*t), outside)
	} else {
		outside = max(liquidDensity(s.m, t, s.x), rho)
	}
	const samples = 40
	for i := range samples {
		at := outside * math.Pow(rho/outside, float64(i)/samples)
		if _, slope, _ := s.m.Pressure(t, at, s.x); !(slope > 0) {
			return 0, fmt.Errorf("%w: %s at %g K, %g Pa", ErrNoPhase, side, t, p)
		}
	}
	return rho, nil
}

const (
	maxDensityIterations = 200
	tolDensity           = 1e-14
)

// density walks from outside towards the root of its side and never leaves
// the stretch where ∂p/∂ρ > 0, so the spurious roots that equations have
// between their spinodals are not met.
func density(m *helmholtz.Mixture, t, p float64, x []float64, side Side) (float64, error) {
	rt := m.GasConstant() * t
	rho := p / rt
	if side == Liquid {
		rho = liquidDensity(m, t, x)
	} else {
		// Far above the critical pressure the ideal gas is denser than any liquid.
		rho = min(rho, 0.5*liquidDensity(m, t, x))
	}
	if !(rho > 0) {
		return 0, fmt.Errorf("%w: no start for the density at %g K, %g Pa", ErrNotConverged, t, p)
	}
	eval := func(rho float64) (f, slope float64) {
		f, slope, _ = m.Pressure(t, rho, x)
		return f - p, slope
	}
	f, slope := eval(rho)
	if side == Liquid {
		for i := 0; !(slope > 0 && f >= 0); i++ {
			if i == 80 {
				return 0, fmt.Errorf("%w: no liquid start at %g K, %g Pa", ErrNotConverged, t, p)
			}
			rho *= 1.02
			f, slope = eval(rho)
		}
	} else {
		for i := 0; !(slope > 0 && f <= 0); i++ {
			if i == 200 {
				return 0, fmt.Errorf("%w: no vapor start at %g K, %g Pa", ErrNotConverged, t, p)
			}
			rho *= 0.8
			f, slope = eval(rho)
		}
	}

	// good holds the last density on the right branch; bad, once met, one
	// beyond the root (crossed) or beyond the spinodal.
	good, goodF, goodSlope := rho, f, slope
	bad, crossed := math.NaN(), false
	for range maxDensityIterations {
		step := -goodF / goodSlope
		// Short steps: none may leap over both spinodals to the other branch.
		step = min(max(step, -0.12*good), 0.12*good)
		next := good + step
		if crossed || !math.IsNaN(bad) {
			lo, hi := min(good, bad), max(good, bad)
			if !(next > lo && next < hi) {
				next = 0.5 * (good + bad)
			}
		}
		if math.Abs(next-good) <= tolDensity*good {
			if !math.IsNaN(bad) && !crossed && math.Abs(goodF) > 1e-6*p {
				return 0, fmt.Errorf("%w: %s at %g K, %g Pa", ErrNoPhase, side, t, p)
			}
			return next, nil
		}
		f, slope := eval(next)
		sameSide := (side == Liquid) == (f > 0)
		switch {
		case !(slope > 0):
			// Beyond the spinodal (NaN counts as that).
			if math.Abs(next-good) < 1e-9*good {
				return 0, fmt.Errorf("%w: %s at %g K, %g Pa", ErrNoPhase, side, t, p)
			}
			bad, crossed = next, false
		case f == 0:
			return next, nil
		case sameSide:
			good, goodF, goodSlope = next, f, slope
		default:
			// Crossed the root: continue from the nearer of the two.
			if math.Abs(f) < math.Abs(goodF) {
				bad, good, goodF, goodSlope = good, next, f, slope
				side = side.other()
			} else {
				bad = next
			}
			crossed = true
		}
	}
	// Rounding in the pressure of a stiff liquid can keep the last digit
	// moving; a remaining step below 1e-10 is converged.
	if math.Abs(goodF/goodSlope) < 1e-10*good {
		return good, nil
	}
	return 0, fmt.Errorf("%w: density at %g K, %g Pa after %d steps", ErrNotConverged, t, p, maxDensityIterations)
}
