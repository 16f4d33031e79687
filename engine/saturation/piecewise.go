package saturation

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// degree of every polynomial piece; its coefficients are those of powers of
// the local variable in [-1, 1], which loses nothing here because Chebyshev
// coefficients that fall to 1e-9 within twelve leave powers that fall as well.
const (
	degree = 11
	terms  = degree + 1
)

type coefficients [terms]float64

// at evaluates by Estrin's scheme: the chain of dependent operations is four
// long instead of twelve.
func (c *coefficients) at(u float64) float64 {
	u2 := u * u
	u4 := u2 * u2
	return (c[0] + c[1]*u + (c[2]+c[3]*u)*u2) +
		((c[4]+c[5]*u)+(c[6]+c[7]*u)*u2)*u4 +
		((c[8]+c[9]*u)+(c[10]+c[11]*u)*u2)*(u4*u4)
}

// slopeAt is the derivative by u.
func (c *coefficients) slopeAt(u float64) float64 { return numeric.Slope(c[:], u) }

// piece is a stretch of the axis.
type piece struct{ lo, hi, mid, inverse float64 }

func newPiece(lo, hi float64) piece {
	return piece{lo, hi, 0.5 * (lo + hi), 2 / (hi - lo)}
}

// node is Chebyshev node j of the piece, from its high end to its low end.
func (p piece) node(j int) float64 { return p.mid + 0.5*(p.hi-p.lo)*nodes[j] }

// What takes values at the nodes to coefficients, by Chebyshev polynomials.
var nodes, transform, powers = numeric.Nodes(terms), numeric.Transform(terms), numeric.Powers(terms)

// fit interpolates values at the nodes. tail is what the last three Chebyshev
// coefficients amount to: how much is probably missing.
func fit(values *[terms]float64) (c coefficients, tail float64) {
	for k := range terms {
		var a float64
		for j, v := range values {
			a += transform[k][j] * v
		}
		if k >= terms-3 {
			tail = max(tail, math.Abs(a))
		}
		for i := range k + 1 {
			c[i] += a * powers[k][i]
		}
	}
	return c, tail
}

// axis are adjoining pieces with an index that finds the piece of a value in
// constant time.
type axis struct {
	pieces []piece
	lo, hi float64
	scale  float64
	index  [indexSize]uint8
}

const indexSize = 128

// maxPieces is what the index can count.
const maxPieces = 255

func newAxis(pieces []piece) axis {
	a := axis{pieces: pieces, lo: pieces[0].lo, hi: pieces[len(pieces)-1].hi}
	a.scale = indexSize / (a.hi - a.lo)
	k := 0
	for i := range a.index {
		start := a.lo + float64(i)/a.scale
		for k < len(pieces)-1 && pieces[k].hi <= start {
			k++
		}
		a.index[i] = uint8(k)
	}
	return a
}

// find gives the piece of x and its local variable; x must lie on the axis.
func (a *axis) find(x float64) (k int, u float64) {
	i := int((x - a.lo) * a.scale)
	if i >= indexSize {
		i = indexSize - 1
	}
	k = int(a.index[i])
	for x > a.pieces[k].hi && k < len(a.pieces)-1 {
		k++
	}
	p := &a.pieces[k]
	return k, (x - p.mid) * p.inverse
}

// on reports whether x lies on the axis; NaN does not.
func (a *axis) on(x float64) bool { return x >= a.lo && x <= a.hi }
