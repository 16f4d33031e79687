package circuit

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/numeric"
)

const (
	siteAxis  = int(readingCount)
	axisCount = int(readingCount) + 1
)

// Gradient holds the partial derivatives of a quantity with respect to every
// reading and the site pressure, in coherent SI units. The zero value belongs
// to a constant.
type Gradient struct{ by [axisCount]float64 }

// Along is the gradient of the reading r itself, as it is used here: one for r
// and nothing else. For a gauge's reading take [State.Reading], which knows of
// the site pressure too.
func Along(r Reading) Gradient {
	var g Gradient
	g.by[r] = 1
	return g
}

// AlongSite is the gradient of the site pressure.
func AlongSite() Gradient {
	var g Gradient
	g.by[siteAxis] = 1
	return g
}

// Times scales the gradient.
func (g Gradient) Times(f float64) Gradient {
	for i := range g.by {
		g.by[i] *= f
	}
	return g
}

// Plus adds two gradients.
func (g Gradient) Plus(h Gradient) Gradient {
	for i := range g.by {
		g.by[i] += h.by[i]
	}
	return g
}

// By is the derivative with respect to one reading.
func (g Gradient) By(r Reading) float64 { return g.by[r] }

// BySite is the derivative with respect to the site pressure.
func (g Gradient) BySite() float64 { return g.by[siteAxis] }

// Estimate is a quantity with all that is needed to carry its uncertainty on:
// the value in coherent SI units and its gradient with respect to the inputs.
type Estimate struct {
	Value    float64
	Gradient Gradient
}

// Times scales an estimate.
func (e Estimate) Times(f float64) Estimate {
	return Estimate{f * e.Value, e.Gradient.Times(f)}
}

// Plus adds two estimates; their common inputs stay common.
func (e Estimate) Plus(f Estimate) Estimate {
	return Estimate{e.Value + f.Value, e.Gradient.Plus(f.Gradient)}
}

// Covariance of two estimates made from the readings of s: the law of
// propagation of uncertainty to first order, JCGM 100:2008 (GUM) 5.2 and F.1.2.
// Instrument errors count as independent; what gauges share through the site
// pressure, and quantities through a reading, is kept.
func (s *State) Covariance(a, b Estimate) float64 {
	sum := 0.0
	for i, v := range s.variance {
		sum += a.Gradient.by[i] * v * b.Gradient.by[i]
	}
	return sum
}

// Standard is the standard uncertainty of an estimate; its 95 % interval is
// that times the coverage factor of the normal distribution, 1.96.
func (s *State) Standard(e Estimate) float64 { return math.Sqrt(s.Covariance(e, e)) }

// CovarianceMatrix is that of several estimates, in the order given.
func (s *State) CovarianceMatrix(es ...Estimate) [][]float64 {
	m := make([][]float64, len(es))
	for i := range m {
		m[i] = make([]float64, len(es))
		for j := range i + 1 {
			m[i][j] = s.Covariance(es[i], es[j])
			m[j][i] = m[i][j]
		}
	}
	return m
}

// ProbabilityBelow is the chance that the true value lies below x, the errors
// being normal. For superheat and subcooling with x = 0 it is the chance that
// two phases, or a wrong reading, stand behind the figure.
func (s *State) ProbabilityBelow(e Estimate, x float64) float64 {
	u := s.Standard(e)
	switch {
	case u > 0:
		return numeric.Below(x, e.Value, u)
	case e.Value < x:
		return 1
	default:
		return 0
	}
}
