package numeric

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"
)

func TestSolve(t *testing.T) {
	const stride = 7
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < stride; n++ {
		var a [stride * stride]float64
		var x, b [stride]float64
		for i := range n {
			x[i] = rng.NormFloat64()
			for j := range n {
				a[i*stride+j] = rng.NormFloat64()
			}
		}
		for i := range n {
			for j := range n {
				b[i] += a[i*stride+j] * x[j]
			}
		}
		if !Solve(a[:], stride, b[:n], 0) {
			t.Fatalf("%d equations: no solution", n)
		}
		for i := range n {
			if !near.Abs(b[i], x[i], 1e-10) {
				t.Errorf("%d equations: x[%d] = %g, want %g", n, i, b[i], x[i])
			}
		}
	}
	for name, a := range map[string][]float64{
		"dependent rows": {1, 2, 2, 4}, "infinite": {math.Inf(1), 1, 1, 1}, "no number": {math.NaN(), 1, math.NaN(), 1}, "nothing": {0, 0, 0, 0},
	} {
		if b := []float64{1, 1}; Solve(a, 2, b, 0) {
			t.Errorf("%s: solved, %v", name, b)
		}
	}
	if b := []float64{1, 1}; Solve([]float64{1, 0, 0, 1e-15}, 2, b, 1e-14) {
		t.Errorf("a pivot below the least: solved, %v", b)
	}
}

func TestCholesky(t *testing.T) {
	const n, stride = 4, 5
	rng := rand.New(rand.NewPCG(3, 4))
	var l [n][n]float64
	for i := range n {
		for j := range i + 1 {
			l[i][j] = rng.NormFloat64()
		}
		l[i][i] = 1 + math.Abs(l[i][i])
	}
	product := func() (a [n * stride]float64) {
		for i := range n {
			for j := range i + 1 {
				for k := range j + 1 {
					a[i*stride+j] += l[i][k] * l[j][k]
				}
			}
		}
		return a
	}
	a := product()
	if rank := Cholesky(a[:], stride, n, 0); rank != n {
		t.Fatalf("rank %d of a positive definite matrix of %d", rank, n)
	}
	for i := range n {
		for j := range i + 1 {
			if !near.Abs(a[i*stride+j], l[i][j], 1e-12) {
				t.Errorf("l[%d][%d] = %g, want %g", i, j, a[i*stride+j], l[i][j])
			}
		}
	}
	// The third is the sum of the first two and says nothing new.
	for j := range n {
		l[2][j] = l[0][j] + l[1][j]
	}
	a = product()
	rank := Cholesky(a[:], stride, n, 1e-12)
	require.Equal(t, n-1, rank, "with a redundant row")
	require.Equal(t, 0.0, a[2*stride+2], "with a redundant row")
	require.Greater(t, a[3*stride+3], 0.0, "with a redundant row")
	if rank := Cholesky([]float64{1, 0, 2, 1}, 2, 2, 0); rank != 1 {
		t.Errorf("an indefinite matrix has rank %d", rank)
	}
	if rank := Cholesky([]float64{math.NaN()}, 1, 1, 0); rank != 0 {
		t.Errorf("what is no number has rank %d", rank)
	}
}

// A polynomial of as many coefficients as nodes comes back from its values.
func TestChebyshev(t *testing.T) {
	for n := 1; n < 13; n++ {
		x, transform, powers := Nodes(n), Transform(n), Powers(n)
		want := make([]float64, n)
		for i := range want {
			want[i] = float64(i%3) - 0.7
		}
		got := make([]float64, n)
		for k := range n {
			a := 0.0
			for j := range n {
				y := 0.0
				for i := n - 1; i >= 0; i-- {
					y = y*x[j] + want[i]
				}
				a += transform[k][j] * y
			}
			for i := range n {
				got[i] += a * powers[k][i]
			}
		}
		for i := range n {
			if !near.Abs(got[i], want[i], 1e-9) {
				t.Errorf("%d nodes: coefficient %d is %g, want %g", n, i, got[i], want[i])
			}
		}
	}
	if got := Slope([]float64{7, 1, 2, 3}, 2); got != 1+2*2*2+3*3*4 {
		t.Errorf("slope %g", got)
	}
}

func TestRoots(t *testing.T) {
	wavy := func(x float64) float64 { return x + 0.9*math.Sin(x) - 20 }
	want := Halved(wavy, -100, 100)
	if !near.Abs(wavy(want), 0, 1e-13) {
		t.Errorf("halving ends at %g, where f is %g", want, wavy(want))
	}
	got, err := Root(func(x float64) (float64, error) { return wavy(x), nil }, -100, 100, 1e-12)
	require.NoError(t, err, "Root")
	if !near.Abs(got, want, 1e-11) {
		t.Errorf("Root: %v, want %v", got, want)
	}
	for _, start := range []float64{-100, 0, 100} {
		got, err = RisingRoot(func(x float64) (float64, float64) { return wavy(x), 1 + 0.9*math.Cos(x) }, -100, 100, start, 1e-13)
		require.NoError(t, err, "RisingRoot from %g", start)
		if !near.Abs(got, want, 1e-11) {
			t.Errorf("RisingRoot from %g: %v, want %v", start, got, want)
		}
	}
	if end := Halved(wavy, 100, 200); !near.Abs(end, 100, 1e-12) {
		t.Errorf("without a crossing halving ends at %g, not at the nearer end", end)
	}
}

func TestRootsThatAreNotThere(t *testing.T) {
	if _, err := Root(func(x float64) (float64, error) { return 1 + x*x, nil }, -1, 1, 1e-9); !errors.Is(err, ErrNotConverged) {
		t.Errorf("no change of sign: %v", err)
	}
	if _, err := Root(func(float64) (float64, error) { return math.NaN(), nil }, -1, 1, 1e-9); !errors.Is(err, ErrNotConverged) {
		t.Errorf("no number: %v", err)
	}
	own := errors.New("out of range")
	if _, err := Root(func(x float64) (float64, error) {
		if x > 0 && x < 1 {
			return 0, own
		}
		return x - 0.5, nil
	}, 0, 1, 1e-9); !errors.Is(err, own) {
		t.Errorf("an error of the function: %v", err)
	}
	if _, err := RisingRoot(func(float64) (float64, float64) { return math.NaN(), 1 }, -1, 1, 0, 1e-9); !errors.Is(err, ErrNotConverged) {
		t.Errorf("no number: %v", err)
	}
}

func TestNormal(t *testing.T) {
	for _, tt := range []struct {
		z, below, within float64
		src              string
	}{
		{0, 0.5, 0, "symmetry"},
		{1.96, 0.97500210485177952, 1e-15, "Abramowitz and Stegun (1964), table 26.1"},
		{-1, 0.15865525393145705, 1e-15, "Abramowitz and Stegun (1964), table 26.1"},
	} {
		if got := Below(7+3*tt.z, 7, 3); !near.Abs(got, tt.below, tt.within+1e-15) {
			t.Errorf("below %g standard deviations: %.17g, want %.17g (%s)", tt.z, got, tt.below, tt.src)
		}
		if got := Above(7-3*tt.z, 7, 3); !near.Abs(got, tt.below, tt.within+1e-15) {
			t.Errorf("above %g standard deviations: %.17g, want %.17g (%s)", -tt.z, got, tt.below, tt.src)
		}
	}
	if got := Above(20, 0, 1); !(got > 0) {
		t.Errorf("far out nothing is left: %g", got)
	}
}
