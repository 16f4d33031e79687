package hose

import "math"

// The inputs whose errors are carried through: those that all hoses share,
// then those of each hose. What is assumed about the make of the hoses is
// shared, since a set is of one make.
const (
	axisBore = iota
	axisManifold
	axisOil
	axisEnd
	axisCompliance
	axisAmbient
	axisCharge
	sharedAxes
)

const (
	ofLength = iota
	ofBore
	ofEnd
	ofPressure
	ofTemperature
	ofOil
	ofFill
	hoseAxes
)

func axis(hose, of int) int { return sharedAxes + hose*hoseAxes + of }

// number is a value with, for every axis, its derivative times the standard
// uncertainty of that input: the terms whose squares add up (GUM 5.1.2).
type number struct {
	v  float64
	by []float64 // nil for what is exact
}

func exact(v float64) number { return number{v: v} }

// along is an input of its own.
func along(axes, axis int, m Measured) number {
	n := number{m.Value, make([]float64, axes)}
	n.by[axis] = m.Standard
	return n
}

// linear is v + a·(terms of n) + b·(terms of m).
func linear(v, a float64, n number, b float64, m number) number {
	out := number{v: v}
	if n.by == nil && m.by == nil {
		return out
	}
	out.by = make([]float64, max(len(n.by), len(m.by)))
	for i := range n.by {
		out.by[i] += a * n.by[i]
	}
	for i := range m.by {
		out.by[i] += b * m.by[i]
	}
	return out
}

func (n number) plus(m number) number         { return linear(n.v+m.v, 1, n, 1, m) }
func (n number) minus(m number) number        { return linear(n.v-m.v, 1, n, -1, m) }
func (n number) times(f float64) number       { return linear(n.v*f, f, n, 0, number{}) }
func (n number) mul(m number) number          { return linear(n.v*m.v, m.v, n, n.v, m) }
func (n number) over(m number) number         { return linear(n.v/m.v, 1/m.v, n, -n.v/(m.v*m.v), m) }
func (n number) complement() number           { return linear(1-n.v, -1, n, 0, number{}) }
func (n number) estimate() Estimate           { return Estimate{n.v, n.standard()} }
func (n number) resolvedAbove(x float64) bool { return n.v-x > coverage*n.standard() }

// coverage is that of the 95 % interval of the normal distribution.
const coverage = 1.96

func (n number) standard() float64 {
	sum := 0.0
	for _, u := range n.by {
		sum += u * u
	}
	return math.Sqrt(sum)
}
