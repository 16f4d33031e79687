package gum

import (
	"math"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"
)

// Derivatives of every operation against differences.
func TestGradients(t *testing.T) {
	at := []float64{3, 0.4, 7}
	for name, f := range map[string]func(x, y, z Estimate) Estimate{
		"plus":       func(x, y, z Estimate) Estimate { return x.Plus(y).Plus(x) },
		"minus":      func(x, y, z Estimate) Estimate { return z.Minus(y) },
		"times":      func(x, y, z Estimate) Estimate { return x.Times(-2).Plus(Exact(5)) },
		"mul":        func(x, y, z Estimate) Estimate { return x.Mul(z).Mul(x) },
		"over":       func(x, y, z Estimate) Estimate { return x.Over(y).Over(z) },
		"complement": func(x, y, z Estimate) Estimate { return y.Complement().Mul(z) },
		"linear": func(x, y, z Estimate) Estimate {
			return Linear(math.Hypot(x.Value, z.Value), x.Value/math.Hypot(x.Value, z.Value), x, z.Value/math.Hypot(x.Value, z.Value), z)
		},
	} {
		value := func(axis int, by float64) Estimate {
			var in Inputs
			var es [3]Estimate
			for i, v := range at {
				if i == axis {
					v += by
				}
				es[i] = in.Take(i, Uncertain{v, 0.1})
			}
			return f(es[0], es[1], es[2])
		}
		for axis := range at {
			const h = 1e-6
			want := (value(axis, h).Value - value(axis, -h).Value) / (2 * h)
			if got := value(axis, 0).Gradient.By(axis); !near.Abs(got, want, 1e-7*(1+math.Abs(want))) {
				t.Errorf("%s along %d: %g, by differences %g", name, axis, got, want)
			}
		}
	}
}

// GUM H.2 has a resistance and a reactance of common inputs; here the smallest
// case of it: a sum and a difference of two inputs.
func TestCommonInputsStayCommon(t *testing.T) {
	var in Inputs
	x, y := in.Take(4, Uncertain{10, 3}), in.Take(1, Uncertain{6, 4})
	sum, difference := x.Plus(y), x.Minus(y)
	if got := in.Of(sum); got != (Uncertain{16, 5}) {
		t.Errorf("sum %+v", got)
	}
	if got := in.Of(x.Minus(x)); got != (Uncertain{}) {
		t.Errorf("what is taken from itself leaves %+v", got)
	}
	if got := in.CovarianceMatrix(sum, difference); got[0][1] != 9-16 || got[1][0] != got[0][1] || got[0][0] != 25 {
		t.Errorf("covariances %v", got)
	}
	if got := in.Covariance(x, y); got != 0 {
		t.Errorf("independent inputs have a covariance of %g", got)
	}
	if got := x.Gradient.By(9); got != 0 {
		t.Errorf("along an axis beyond all others %g", got)
	}
}

func TestProbabilityBelow(t *testing.T) {
	var in Inputs
	x := in.Take(0, Uncertain{5, 2})
	if got := in.ProbabilityBelow(x, 5+2*Coverage); !near.Abs(got, 0.975, 3e-6) {
		t.Errorf("within the coverage of 95 percent on one side: %g", got)
	}
	if above, below := in.ProbabilityBelow(Exact(5), 4), in.ProbabilityBelow(Exact(5), 6); above != 0 || below != 1 {
		t.Errorf("without uncertainty: %g and %g", above, below)
	}
}

// GUM 4.3.7: an error anywhere within a half-width a has a standard uncertainty of a/sqrt 3.
func TestEvenly(t *testing.T) {
	if got := Evenly(1, 2*0.3); !near.Abs(got.Standard, 0.3/math.Sqrt(3), 1e-15) || got.Value != 1 {
		t.Errorf("%+v", got)
	}
}
