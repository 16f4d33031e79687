package diagnosis

import "math"

// maxFeatures bounds every vector and matrix here, which thus need no heap.
const maxFeatures = 13

type (
	vector [maxFeatures]float64
	matrix [maxFeatures][maxFeatures]float64
)

// redundant is the share of a variance below which what is left of it, given
// the quantities before, counts as rounding.
const redundant = 1e-12

// logDensity is the logarithm of the normal density of the residual r under
// the covariance s, both of size n, and for every quantity the logarithm of
// its density given all others. A quantity that is wholly determined by those
// before it says nothing new and adds nothing.
func logDensity(n int, s *matrix, r *vector) (all float64, conditional vector) {
	// Cholesky factor, and its rows applied to r on the way.
	var l matrix
	var z vector
	var skip [maxFeatures]bool
	for i := range n {
		for j := range i + 1 {
			sum := s[i][j]
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			switch {
			case j < i:
				if !skip[j] {
					l[i][j] = sum / l[j][j]
				}
			case !(sum > redundant*s[i][i]):
				skip[i] = true
			default:
				l[i][i] = math.Sqrt(sum)
			}
		}
		if skip[i] {
			continue
		}
		sum := r[i]
		for k := range i {
			sum -= l[i][k] * z[k]
		}
		z[i] = sum / l[i][i]
		all -= 0.5*(math.Log(2*math.Pi)+z[i]*z[i]) + math.Log(l[i][i])
	}
	// Column by column of the inverse factor: y = inverse(s) r, d = diagonal
	// of inverse(s).
	for c := range n {
		if skip[c] {
			continue
		}
		var col vector
		var y, d float64
		for i := c; i < n; i++ {
			if skip[i] {
				continue
			}
			sum := 0.0
			if i == c {
				sum = 1
			}
			for k := c; k < i; k++ {
				sum -= l[i][k] * col[k]
			}
			col[i] = sum / l[i][i]
			y += col[i] * z[i]
			d += col[i] * col[i]
		}
		conditional[c] = -0.5 * (math.Log(2*math.Pi/d) + y*y/d)
	}
	return all, conditional
}

// logSum adds numbers given by their logarithms.
func logSum(logs []float64) float64 {
	top := math.Inf(-1)
	for _, v := range logs {
		top = math.Max(top, v)
	}
	if math.IsInf(top, -1) {
		return top
	}
	sum := 0.0
	for _, v := range logs {
		sum += math.Exp(v - top)
	}
	return top + math.Log(sum)
}
