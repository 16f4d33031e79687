package diagnosis

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// maxObserved bounds every vector and matrix here, which thus need no heap: the
// coordinates that can be read.
const maxObserved = 13

type (
	vector [maxObserved]float64
	matrix [maxObserved][maxObserved]float64
)

// redundant is the share of a variance below which what is left of it, given
// the quantities before, counts as rounding.
const redundant = 1e-12

// cholesky is a covariance in Cholesky's form.
type cholesky struct {
	n     int
	lower [maxObserved * maxObserved]float64
	// skip marks what is wholly determined by those before: it says nothing new.
	skip [maxObserved]bool
	rank int
	// lnRoot is half the logarithm of the determinant.
	lnRoot float64
}

func (f *cholesky) row(i int) []float64 { return f.lower[i*maxObserved : i*maxObserved+i+1] }

// factorize the leading n rows of s into f.
func (f *cholesky) factorize(n int, s *matrix) {
	for i := range n {
		copy(f.row(i), s[i][:])
	}
	f.n, f.rank = n, numeric.Cholesky(f.lower[:], maxObserved, n, redundant)
	root := 1.0
	for i := range n {
		d := f.row(i)[i]
		if f.skip[i] = d == 0; !f.skip[i] {
			root *= d
		}
	}
	f.lnRoot = math.Log(root)
}

// whiten solves lower z = r; the sum of squares is the quadratic form of r.
func (f *cholesky) whiten(r *vector) (z vector, q float64) {
	for i := range f.n {
		if f.skip[i] {
			continue
		}
		row := f.row(i)
		sum := r[i]
		for k, v := range row[:i] {
			sum -= v * z[k]
		}
		z[i] = sum / row[i]
		q += z[i] * z[i]
	}
	return z, q
}

// student is Student's distribution with a given covariance: a normal one whose
// scale is itself uncertain. With the scale shared by all readings its margins
// are of the same kind, so that a reading not taken drops out exactly.
type student struct {
	freedom float64
	// norms are the logarithms of the constant factor by dimension.
	norms [maxObserved + 1]float64
}

func newStudent(freedom float64) student {
	s := student{freedom: freedom}
	half, _ := math.Lgamma(freedom / 2)
	for n := range s.norms {
		top, _ := math.Lgamma((freedom + float64(n)) / 2)
		s.norms[n] = top - half - 0.5*float64(n)*math.Log((freedom-2)*math.Pi)
	}
	return s
}

// log is the logarithm of the density in n dimensions.
func (s *student) log(n int, lnRoot, q float64) float64 {
	return s.norms[n] - lnRoot - 0.5*(s.freedom+float64(n))*math.Log1p(q/(s.freedom-2))
}

// conditionals gives for every quantity the logarithm of its density given all
// others; z and q are those of the whole.
func (s *student) conditionals(f *cholesky, z *vector, q float64) (c vector) {
	whole := s.log(f.rank, f.lnRoot, q)
	for i := range f.n {
		if f.skip[i] {
			continue
		}
		// Column i of the inverse factor: y = (inverse r) and d = (inverse) at i.
		var col vector
		var y, d float64
		for k := i; k < f.n; k++ {
			if f.skip[k] {
				continue
			}
			sum := 0.0
			if k == i {
				sum = 1
			}
			row := f.row(k)
			for l := i; l < k; l++ {
				sum -= row[l] * col[l]
			}
			col[k] = sum / row[k]
			y += col[k] * z[k]
			d += col[k] * col[k]
		}
		c[i] = whole - s.log(f.rank-1, f.lnRoot+0.5*math.Log(d), max(q-y*y/d, 0))
	}
	return c
}

// widened is the factor on a variance of one more quantity, given n with a
// quadratic form q.
func (s *student) widened(n int, q float64) float64 {
	return (s.freedom - 2 + q) / (s.freedom - 2 + float64(n))
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
