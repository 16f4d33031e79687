package equilibrium

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// maxUnknowns: ln T and ln ρ_i of two phases.
const maxUnknowns = 2*helmholtz.MaxComponents + 1

// vector holds the unknowns of a bubble or dew point: [0] ln T, [1] ln ρ of
// the phase whose composition is given, [2:] ln ρ_i of the incipient phase.
type vector [maxUnknowns]float64

// square has an equation of Newton's method in each row.
type square [maxUnknowns * maxUnknowns]float64

func (a *square) row(i int) []float64 { return a[i*maxUnknowns : (i+1)*maxUnknowns] }

// solve replaces b by the solution of as many equations, and uses up a; false
// where a is singular or not finite.
func (a *square) solve(b []float64) bool { return numeric.Solve(a[:], maxUnknowns, b, 0) }

// edge is a point of the bubble line (given = Liquid) or the dew line (given
// = Vapor).
type edge struct {
	given Side
	w     vector
}

// spec is the equation that picks one point of a saturation line.
type spec int

const (
	specT     spec = iota // ln T = value
	specP                 // ln p = value
	specRatio             // ln(ρ_liquid/ρ_vapor) = value
)

// newton is the workspace of one solution.
type newton struct {
	s            *System
	given, incip helmholtz.Potentials
	rhoG, rhoI   [helmholtz.MaxComponents]float64
	sumI         float64
	jac          square
	res          vector

	// Of the last assembly:
	lnP      float64
	ratio    float64 // ln(ρ_liquid/ρ_vapor)
	stable   bool    // both phases mechanically stable
	fugacity float64 // worst residual of equal ln fugacity
}

const (
	maxNewton = 60
	tolNewton = 1e-10
	// trivialRatio: below this ln(ρ_L/ρ_V) an iteration is running into the
	// trivial solution of two equal phases.
	trivialRatio = 1e-3
)

// assemble fills the residuals and the Jacobian at e for the given spec.
func (n *newton) assemble(e *edge, sp spec, value float64) {
	s := n.s
	c := len(s.x)
	t := math.Exp(e.w[0])
	rho := math.Exp(e.w[1])
	n.sumI = 0
	for i := range c {
		n.rhoG[i] = rho * s.x[i]
		n.rhoI[i] = math.Exp(e.w[2+i])
		n.sumI += n.rhoI[i]
	}
	g, v := &n.given, &n.incip
	s.m.PotentialsAt(g, t, n.rhoG[:c])
	s.m.PotentialsAt(v, t, n.rhoI[:c])

	n.fugacity = 0
	var gz, vz float64 // ∂Z/∂ln ρ along each phase's own composition
	for i := range c {
		row := n.jac.row(i)
		n.res[i] = math.Log(s.x[i]) + e.w[1] + g.Grad[i] - e.w[2+i] - v.Grad[i]
		n.fugacity = max(n.fugacity, math.Abs(n.res[i]))
		row[0] = g.GradT[i] - v.GradT[i]
		d := 1.0
		for k := range c {
			d += n.rhoG[k] * g.Hess[k][i]
			row[2+k] = -n.rhoI[k] * v.Hess[i][k]
		}
		row[1] = d
		row[2+i]--
		gz += n.rhoG[i] * g.ZRho[i]
		vz += n.rhoI[i] * v.ZRho[i]
	}
	n.stable = gz > 0 && vz > 0

	// Equal pressures, over the denser phase's density so that the row is of
	// order one.
	scale := 1 / max(rho, n.sumI)
	row := n.jac.row(c)
	n.res[c] = (g.Z - v.Z) * scale
	row[0] = (g.ZT - v.ZT) * scale
	row[1] = gz * scale
	for k := range c {
		row[2+k] = -n.rhoI[k] * v.ZRho[k] * scale
	}

	// The vapour's pressure is the accurate one.
	z, zT := g.Z, g.ZT
	n.ratio = math.Log(n.sumI / rho)
	if e.given == Liquid {
		z, zT = v.Z, v.ZT
		n.ratio = -n.ratio
	}
	n.lnP = math.Log(z*s.m.GasConstant()) + e.w[0]

	row = n.jac.row(c + 1)
	clear(row)
	switch sp {
	case specT:
		n.res[c+1] = e.w[0] - value
		row[0] = 1
	case specP:
		n.res[c+1] = n.lnP - value
		row[0] = 1 + zT/z
		if e.given == Liquid {
			for k := range c {
				row[2+k] = n.rhoI[k] * v.ZRho[k] / z
			}
		} else {
			row[1] = gz / z
		}
	case specRatio:
		n.res[c+1] = n.ratio - value
		sign := 1.0
		if e.given == Vapor {
			sign = -1
		}
		row[1] = sign
		for k := range c {
			row[2+k] = -sign * n.rhoI[k] / n.sumI
		}
	}
}

// solve brings e onto the spec by Newton's method. It returns ErrNotConverged
// (with the place) for anything but a converged pair of two different, stable
// phases; e is then undefined.
func (n *newton) solve(e *edge, sp spec, value float64) error {
	c := len(n.s.x)
	size := c + 2
	last := math.Inf(1)
	for i := range maxNewton {
		n.assemble(e, sp, value)
		var step vector
		for k := range size {
			step[k] = -n.res[k]
		}
		a := n.jac
		if !a.solve(step[:size]) {
			return n.failed(e, "singular Jacobian")
		}
		worst, limit := n.measure(e, &step)
		if !(worst < 1e6) {
			return n.failed(e, "step out of bounds")
		}
		for k := range size {
			e.w[k] += limit * step[k]
		}
		if limit == 1 && worst < tolNewton || worst < 1e-7 && worst >= last && n.fugacity < 1e-12 {
			return n.accept(e)
		}
		if limit == 1 {
			last = worst
		}
		if i > 4 && n.ratio < trivialRatio {
			return n.failed(e, "phases became equal")
		}
	}
	return n.failed(e, "too many iterations")
}

// measure gives the largest component of a step and the share of it that may
// be taken: temperature and liquid density are stiff.
func (n *newton) measure(e *edge, step *vector) (worst, limit float64) {
	const maxT, maxLiquid, maxComponent = 0.08, 0.15, 1.0
	c := len(n.s.x)
	liquid := step[1]
	if e.given == Vapor {
		liquid = 0
		for k := range c {
			liquid += n.rhoI[k] / n.sumI * step[2+k]
		}
	}
	limit = min(1, maxT/math.Abs(step[0]), maxLiquid/math.Abs(liquid))
	for k := range c + 2 {
		d := math.Abs(step[k])
		if !(d <= worst) {
			worst = d
		}
		limit = min(limit, maxComponent/d)
	}
	return worst, limit
}

func (n *newton) accept(e *edge) error {
	if !(n.ratio > trivialRatio) {
		return n.failed(e, "phases are equal")
	}
	if !n.stable {
		return n.failed(e, "a phase is mechanically unstable")
	}
	c := len(n.s.x)
	if !stable(&n.given, n.rhoG[:c]) || !stable(&n.incip, n.rhoI[:c]) {
		return fmt.Errorf("%w near %.6g K", ErrTwoLiquids, math.Exp(e.w[0]))
	}
	return nil
}

// stable reports whether a phase resists demixing locally: the Hessian of its
// Helmholtz energy density, scaled to δ_ij + √ρ_iρ_j A_ij, is positive
// definite (Cholesky).
func stable(q *helmholtz.Potentials, rho []float64) bool {
	const stride = helmholtz.MaxComponents
	c := len(rho)
	var a [stride * stride]float64
	for i := range c {
		for j := range i + 1 {
			a[i*stride+j] = math.Sqrt(rho[i]*rho[j]) * q.Hess[i][j]
		}
		a[i*stride+i]++
	}
	return numeric.Cholesky(a[:], stride, c, 0) == c
}

func (n *newton) failed(e *edge, why string) error {
	return fmt.Errorf("%w: saturation near %.6g K: %s", ErrNotConverged, math.Exp(e.w[0]), why)
}

// advance takes a step, shortened so that no unknown moves by more than 0.3, and
// gives the largest of the whole step. It reports false, and moves nothing,
// where the step is astray or no number.
func advance(w, step *vector, size int) (worst float64, ok bool) {
	limit := 1.0
	for k := range size {
		d := math.Abs(step[k])
		if !(d <= worst) {
			worst = d
		}
		limit = min(limit, 0.3/d)
	}
	if !(worst < 1e6) {
		return worst, false
	}
	for k := range size {
		w[k] += limit * step[k]
	}
	return worst, true
}

// tangent is dw/dq along the saturation line where q is the spec's variable.
func (n *newton) tangent(e *edge, sp spec, value float64) (vector, bool) {
	n.assemble(e, sp, value)
	size := len(n.s.x) + 2
	var d vector
	d[size-1] = 1
	a := n.jac
	ok := a.solve(d[:size])
	return d, ok
}
