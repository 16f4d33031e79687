package numeric

import (
	"fmt"
	"math"
)

// Root finds x between lo and hi, where f changes sign, to within tolerance, by
// regula falsi with the weights of Anderson and Björck (BIT 13, 1973, 253). An
// error of f ends the search and is returned as it is; else the error is
// ErrNotConverged.
func Root(f func(float64) (float64, error), lo, hi, tolerance float64) (float64, error) {
	a, err := f(lo)
	if err != nil {
		return 0, err
	}
	b, err := f(hi)
	if err != nil {
		return 0, err
	}
	switch {
	case a == 0:
		return lo, nil
	case b == 0:
		return hi, nil
	case !(a > 0 && b < 0 || a < 0 && b > 0):
		return 0, fmt.Errorf("%w: no change of sign between %g and %g", ErrNotConverged, lo, hi)
	}
	for i := range 200 {
		x := hi - b*(hi-lo)/(b-a)
		if i%8 == 7 || !(x > min(lo, hi) && x < max(lo, hi)) {
			x = lo + (hi-lo)/2
		}
		y, err := f(x)
		if err != nil {
			return 0, err
		}
		if y == 0 || math.Abs(hi-lo) <= tolerance {
			return x, nil
		}
		if y > 0 && b < 0 || y < 0 && b > 0 {
			lo, a = hi, b
		} else if m := 1 - y/b; m > 0 {
			a *= m
		} else {
			a *= 0.5
		}
		if math.Abs(x-hi) <= tolerance/2 && math.Abs(y) <= math.Abs(b) {
			return x, nil
		}
		hi, b = x, y
	}
	return 0, fmt.Errorf("%w: root between %g and %g", ErrNotConverged, min(lo, hi), max(lo, hi))
}

// RisingRoot finds the zero of a rising function by Newton steps from start that
// are kept inside [lo, hi] by halving, to within tolerance times 1 + |x|. The
// caller knows that the function changes sign there, up to rounding at an end
// that is itself the root. It returns ErrNotConverged where f has no number, or
// after a hundred steps.
func RisingRoot(f func(float64) (y, slope float64), lo, hi, start, tolerance float64) (float64, error) {
	x := start
	for range 100 {
		y, slope := f(x)
		if math.IsNaN(y) {
			break
		}
		if y > 0 {
			hi = x
		} else {
			lo = x
		}
		near := tolerance * (1 + math.Abs(x))
		step := y / slope
		if math.Abs(step) <= near {
			return min(max(x-step, lo), hi), nil // rounding at an end must not leave the bracket
		}
		if hi-lo <= near {
			return x, nil
		}
		next := x - step
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		x = next
	}
	return 0, fmt.Errorf("%w: root between %g and %g", ErrNotConverged, lo, hi)
}

// Halved finds where f, which rises, crosses zero between lo and hi, to the
// last digit; at an end where it does not.
func Halved(f func(float64) float64, lo, hi float64) float64 {
	for range 200 {
		mid := 0.5 * (lo + hi)
		if mid == lo || mid == hi {
			break
		}
		if f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return 0.5 * (lo + hi)
}
