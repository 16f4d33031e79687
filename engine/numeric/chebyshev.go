package numeric

import "math"

// Nodes are the n Chebyshev nodes of the first kind on [-1, 1], from the high
// end to the low.
func Nodes(n int) []float64 {
	x := make([]float64, n)
	for j := range x {
		x[j] = math.Cos(math.Pi * (float64(j) + 0.5) / float64(n))
	}
	return x
}

// Transform takes values at the n nodes to the coefficients of the Chebyshev
// polynomials T_k: row k, column j.
func Transform(n int) [][]float64 {
	m := square(n)
	for k := range m {
		for j := range m[k] {
			m[k][j] = 2 / float64(n) * math.Cos(math.Pi*float64(k)*(float64(j)+0.5)/float64(n))
			if k == 0 {
				m[k][j] /= 2
			}
		}
	}
	return m
}

// Powers has in row k the coefficients of T_k in powers, k below n.
func Powers(n int) [][]float64 {
	t := square(n)
	t[0][0] = 1
	if n > 1 {
		t[1][1] = 1
	}
	for k := 2; k < n; k++ {
		for i := range t[k] {
			if i > 0 {
				t[k][i] = 2 * t[k-1][i-1]
			}
			t[k][i] -= t[k-2][i]
		}
	}
	return t
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// Slope is the derivative at x of the polynomial with coefficients c of rising
// powers.
func Slope(c []float64, x float64) float64 {
	s := 0.0
	for k := len(c) - 1; k >= 1; k-- {
		s = s*x + float64(k)*c[k]
	}
	return s
}
