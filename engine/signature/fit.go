package signature

import (
	"errors"
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// Sample is one solved system.
type Sample struct {
	Air    Air
	Traits Traits
	At     Vector
	// Weight is how often such a system is met.
	Weight float64
}

// ErrTooFew reports samples that do not determine a component.
var ErrTooFew = errors.New("signature: too few samples")

// Fit makes means, by least squares, and the covariance of what they leave.
// Weight and Kept stay zero. It returns ErrTooFew for fewer than ten samples a term.
func Fit(faults []equipment.Fault, bands []Band, samples []Sample) (Component, error) {
	c := Component{Faults: faults, Bands: bands}
	if len(samples) < 10*basisSize {
		return c, fmt.Errorf("%w: %d for %v", ErrTooFew, len(samples), faults)
	}
	rows := make([]basis, len(samples))
	var normal [basisSize * basisSize]float64
	var right [Coordinates]basis
	whole := 0.0
	for n, s := range samples {
		rows[n] = scale(s.Air, s.Traits).terms()
		r := &rows[n]
		whole += s.Weight
		for i := range basisSize {
			for j := range i + 1 {
				normal[i*basisSize+j] += s.Weight * r[i] * r[j]
			}
			for k := range Coordinates {
				right[k][i] += s.Weight * r[i] * s.At[k]
			}
		}
	}
	// A ridge of a millionth keeps terms that hardly differ apart.
	for i := range basisSize {
		normal[i*basisSize+i] *= 1 + 1e-6
	}
	if numeric.Cholesky(normal[:], basisSize, basisSize, 0) < basisSize {
		return c, fmt.Errorf("%w: the terms are not independent", ErrTooFew)
	}
	for k := range Coordinates {
		b := right[k]
		for i := range basisSize {
			for j := range i {
				b[i] -= normal[i*basisSize+j] * b[j]
			}
			b[i] /= normal[i*basisSize+i]
		}
		for i := basisSize - 1; i >= 0; i-- {
			for j := i + 1; j < basisSize; j++ {
				b[i] -= normal[j*basisSize+i] * b[j]
			}
			b[i] /= normal[i*basisSize+i]
		}
		c.mean[k] = b
	}
	for n, s := range samples {
		var left Vector
		for k := range Coordinates {
			left[k] = s.At[k] - c.mean[k].dot(&rows[n])
		}
		for k := range Coordinates {
			for l := range k + 1 {
				c.cov[k][l] += s.Weight * left[k] * left[l]
			}
		}
	}
	for k := range Coordinates {
		for l := range k + 1 {
			c.cov[k][l] /= whole * (1 - basisSize/float64(len(samples)))
			c.cov[l][k] = c.cov[k][l]
		}
	}
	return c, nil
}
