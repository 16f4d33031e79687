package numeric

import "math"

// Matrices are slices by rows, element (i, j) at i*stride + j, so that the
// leading part of a larger one is a matrix too and nothing need be allocated.

// Solve solves a x = b, len(b) equations, by Gaussian elimination with row
// pivoting; x is left in b, and a is used up. It reports false where a pivot is
// not larger than least, or not finite.
func Solve(a []float64, stride int, b []float64, least float64) bool {
	n := len(b)
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i*stride+k]) > math.Abs(a[p*stride+k]) {
				p = i
			}
		}
		pivot := a[k*stride : k*stride+n]
		if p != k {
			other := a[p*stride : p*stride+n]
			for j := k; j < n; j++ {
				pivot[j], other[j] = other[j], pivot[j]
			}
			b[p], b[k] = b[k], b[p]
		}
		if !(math.Abs(pivot[k]) > least) || math.IsInf(pivot[k], 0) {
			return false
		}
		for i := k + 1; i < n; i++ {
			row := a[i*stride : i*stride+n]
			f := row[k] / pivot[k]
			if f == 0 {
				continue
			}
			for j := k + 1; j < n; j++ {
				row[j] -= f * pivot[j]
			}
			b[i] -= f * b[k]
		}
	}
	for k := n - 1; k >= 0; k-- {
		row := a[k*stride : k*stride+n]
		for j := k + 1; j < n; j++ {
			b[k] -= row[j] * b[j]
		}
		b[k] /= row[k]
	}
	return true
}

// Cholesky replaces the lower triangle of the leading n rows of a, which stands
// for a symmetric matrix, by its Cholesky factor and gives the rank. A row of
// which no more than the share redundant of its diagonal is left, once the rows
// before are taken out, hangs on those rows: it becomes zero and does not count.
// A matrix is positive definite where, with redundant zero, the rank is n.
func Cholesky(a []float64, stride, n int, redundant float64) (rank int) {
	for i := range n {
		row := a[i*stride : i*stride+i+1]
		for j := range i {
			other := a[j*stride : j*stride+j+1]
			if other[j] == 0 {
				row[j] = 0
				continue
			}
			sum := row[j]
			for k, v := range other[:j] {
				sum -= row[k] * v
			}
			row[j] = sum / other[j]
		}
		sum := row[i]
		for _, v := range row[:i] {
			sum -= v * v
		}
		if !(sum > redundant*row[i]) {
			clear(row)
			continue
		}
		row[i] = math.Sqrt(sum)
		rank++
	}
	return rank
}
