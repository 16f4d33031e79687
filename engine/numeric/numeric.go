// Package numeric has the few numerical methods that several packages of the
// physics share: linear equations, a covariance's Cholesky factor, polynomials
// through Chebyshev nodes, bracketed roots, the normal distribution. It must not
// know what the numbers stand for, and no method here returns a number that it
// has not found.
package numeric

import (
	"errors"
	"math"
)

// ErrNotConverged reports a search that ran out of steps, or that had no change
// of sign to begin with.
var ErrNotConverged = errors.New("numeric: not converged")

// Below is the chance that a normally distributed quantity lies below x.
func Below(x, mean, standard float64) float64 {
	return math.Erfc((mean-x)/(standard*math.Sqrt2)) / 2
}

// Above is the chance that a normally distributed quantity lies above x; far
// out it keeps the digits that 1 - Below loses.
func Above(x, mean, standard float64) float64 {
	return math.Erfc((x-mean)/(standard*math.Sqrt2)) / 2
}
