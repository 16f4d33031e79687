// Package gum carries uncertainty from inputs to results by the law of
// propagation to first order: JCGM 100:2008 (GUM) 5.1.2, 5.2.2 and F.1.2. It must
// not know what is measured, in which unit, or with which instrument.
//
// Every input of a calculation has an axis, a small number from zero up that the
// calculation gives out. An [Estimate] is a value with its derivatives along the
// axes, so that what two results share through an input stays shared; [Inputs]
// says how uncertain each input is.
package gum

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// Coverage is the factor from a standard uncertainty to the half-width of the
// 95 % interval of the normal distribution (GUM annex G).
const Coverage = 1.96

// Uncertain is a value with its standard uncertainty: one standard deviation, 0
// where the value is exact.
type Uncertain struct{ Value, Standard float64 }

// Evenly is a value with the standard uncertainty of an error that is spread
// evenly over a band of that width (GUM 4.3.7).
func Evenly(value, width float64) Uncertain { return Uncertain{value, width / math.Sqrt(12)} }

// Gradient holds the derivatives of a quantity along the axes. The zero value
// belongs to a constant.
type Gradient struct{ by []float64 }

// Along is the gradient of the input of an axis itself.
func Along(axis int) Gradient {
	by := make([]float64, axis+1)
	by[axis] = 1
	return Gradient{by}
}

// By is the derivative along one axis.
func (g Gradient) By(axis int) float64 {
	if axis >= len(g.by) {
		return 0
	}
	return g.by[axis]
}

// Times scales the gradient.
func (g Gradient) Times(f float64) Gradient { return combined(f, g, 0, Gradient{}) }

// Plus adds two gradients.
func (g Gradient) Plus(h Gradient) Gradient { return combined(1, g, 1, h) }

func combined(a float64, g Gradient, b float64, h Gradient) Gradient {
	n := max(len(g.by), len(h.by))
	if n == 0 {
		return Gradient{}
	}
	by := make([]float64, n)
	for i, v := range g.by {
		by[i] = a * v
	}
	for i, v := range h.by {
		by[i] += b * v
	}
	return Gradient{by}
}

// Estimate is a quantity with all that is needed to carry its uncertainty on.
type Estimate struct {
	Value    float64
	Gradient Gradient
}

// Exact is a value without uncertainty.
func Exact(v float64) Estimate { return Estimate{Value: v} }

// Linear is value with the gradient a times that of x plus b times that of y:
// any function of two estimates, a and b its derivatives.
func Linear(value, a float64, x Estimate, b float64, y Estimate) Estimate {
	return Estimate{value, combined(a, x.Gradient, b, y.Gradient)}
}

// Plus adds two estimates; their common inputs stay common.
func (e Estimate) Plus(f Estimate) Estimate { return Linear(e.Value+f.Value, 1, e, 1, f) }

// Minus takes f from e.
func (e Estimate) Minus(f Estimate) Estimate { return Linear(e.Value-f.Value, 1, e, -1, f) }

// Times scales an estimate.
func (e Estimate) Times(f float64) Estimate {
	return Estimate{f * e.Value, e.Gradient.Times(f)}
}

// Mul is the product of two estimates.
func (e Estimate) Mul(f Estimate) Estimate {
	return Linear(e.Value*f.Value, f.Value, e, e.Value, f)
}

// Over is e over f.
func (e Estimate) Over(f Estimate) Estimate {
	return Linear(e.Value/f.Value, 1/f.Value, e, -e.Value/(f.Value*f.Value), f)
}

// Complement is one less e.
func (e Estimate) Complement() Estimate { return Linear(1-e.Value, -1, e, 0, Estimate{}) }

// Inputs are the inputs of a calculation, whose errors are independent of each
// other. The zero value has none.
type Inputs struct{ variance []float64 }

// Take gives an axis to an input and returns it as an estimate.
func (in *Inputs) Take(axis int, m Uncertain) Estimate {
	in.Set(axis, m.Standard)
	return Estimate{m.Value, Along(axis)}
}

// Set says how uncertain the input of an axis is.
func (in *Inputs) Set(axis int, standard float64) {
	for len(in.variance) <= axis {
		in.variance = append(in.variance, 0)
	}
	in.variance[axis] = standard * standard
}

// Covariance of two estimates.
func (in *Inputs) Covariance(e, f Estimate) float64 {
	x, y := e.Gradient.by, f.Gradient.by
	sum := 0.0
	for i := range min(len(x), len(y), len(in.variance)) {
		sum += x[i] * in.variance[i] * y[i]
	}
	return sum
}

// CovarianceMatrix is that of several estimates, in the order given.
func (in *Inputs) CovarianceMatrix(es ...Estimate) [][]float64 {
	m := make([][]float64, len(es))
	for i := range m {
		m[i] = make([]float64, len(es))
		for j := range i + 1 {
			m[i][j] = in.Covariance(es[i], es[j])
			m[j][i] = m[i][j]
		}
	}
	return m
}

// Standard is the standard uncertainty of an estimate; half the width of its
// 95 % interval is that times [Coverage].
func (in *Inputs) Standard(e Estimate) float64 { return math.Sqrt(in.Covariance(e, e)) }

// Of is an estimate with its standard uncertainty.
func (in *Inputs) Of(e Estimate) Uncertain { return Uncertain{e.Value, in.Standard(e)} }

// ProbabilityBelow is the chance that the true value of e lies below x, the
// errors being normal.
func (in *Inputs) ProbabilityBelow(e Estimate, x float64) float64 {
	u := in.Standard(e)
	switch {
	case u > 0:
		return numeric.Below(x, e.Value, u)
	case e.Value < x:
		return 1
	default:
		return 0
	}
}
