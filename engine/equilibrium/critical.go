package equilibrium

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

// CriticalPoint is the critical point that the equation itself has, which can
// differ from the one listed with it by some tenths of a kelvin.
type CriticalPoint struct {
	// Temperature in K, Pressure in Pa, Density in mol/m3.
	Temperature, Pressure, Density float64
}

// Critical computes the critical point; ErrNotConverged where none is found.
func (s *System) Critical() (CriticalPoint, error) { return s.critical() }

const (
	maxCritical = 60
	tolCritical = 1e-10
)

func (s *System) findCritical() (CriticalPoint, error) {
	if s.Pure() && s.m.Fluid(0).Residual.Nonanalytic() {
		// These equations are made so that their critical point is the
		// reducing point; their derivatives are singular there.
		f := s.m.Fluid(0)
		return s.criticalAt(f.ReducingTemperature, f.ReducingDensity), nil
	}
	n := &newton{s: s}
	e, err := s.easy(n, BubbleLine)
	if err != nil {
		return CriticalPoint{}, err
	}
	last := e
	// As near as the line can be followed; the rest is the critical solver's.
	_ = s.walk(n, e, 0.2, func(_, after edge) bool {
		last = after
		return false
	})
	n.assemble(&last, specT, last.w[0])
	t := math.Exp(last.w[0])
	rho := math.Sqrt(n.sumI * math.Exp(last.w[1]))
	var conditions func(lnT, lnRho float64) (float64, float64, bool)
	if s.Pure() {
		conditions = s.pureCritical
	} else {
		conditions = s.mixtureCritical(n)
	}
	lnT, lnRho, err := newton2(conditions, math.Log(t), math.Log(rho))
	if err != nil {
		return CriticalPoint{}, fmt.Errorf("%w: critical point near %.6g K", err, t)
	}
	return s.criticalAt(math.Exp(lnT), math.Exp(lnRho)), nil
}

func (s *System) criticalAt(t, rho float64) CriticalPoint {
	return CriticalPoint{Temperature: t, Density: rho, Pressure: s.Pressure(t, rho)}
}

// pureCritical are ∂p/∂ρ and ρ ∂²p/∂ρ² over RT.
func (s *System) pureCritical(lnT, lnRho float64) (float64, float64, bool) {
	a := s.m.Residual(math.Exp(lnT), math.Exp(lnRho), s.x)
	return 1 + 2*a.D + a.DD, 2*a.D + 4*a.DD + a.DDD, true
}

// mixtureCritical are the two conditions of a critical point in isochoric
// form: the Hessian of the Helmholtz energy density by the ρ_i, scaled by
// √ρ_iρ_j, is singular with null vector u, and so is its derivative along u
// (Heidemann & Khalil 1980, doi 10.1002/aic.690260510, written for component
// densities). Singularity is measured by a bordered system, which is smooth
// where an eigenvalue is not.
func (s *System) mixtureCritical(n *newton) func(lnT, lnRho float64) (float64, float64, bool) {
	c := len(s.x)
	var border [helmholtz.MaxComponents]float64
	var norm float64
	for i := range c {
		border[i] = (n.rhoG[i] - n.rhoI[i]) / math.Sqrt(n.rhoG[i])
		norm += border[i] * border[i]
	}
	norm = math.Sqrt(norm)
	for i := range c {
		border[i] /= norm
	}
	var q helmholtz.Potentials
	return func(lnT, lnRho float64) (float64, float64, bool) {
		t, rho := math.Exp(lnT), math.Exp(lnRho)
		var r, root [helmholtz.MaxComponents]float64
		for i := range c {
			r[i] = rho * s.x[i]
			root[i] = math.Sqrt(r[i])
		}
		s.m.PotentialsAt(&q, t, r[:c])
		var a square
		var b vector
		for i := range c {
			row := a.row(i)
			for j := range c {
				row[j] = root[i] * root[j] * q.Hess[i][j]
			}
			row[i]++
			row[c], a.row(c)[i] = border[i], border[i]
		}
		b[c] = 1
		if !a.solve(b[:c+1]) {
			return 0, 0, false
		}
		singular := b[c]
		var length float64
		for i := range c {
			length += b[i] * b[i]
		}
		length = math.Sqrt(length)

		// Along w = √ρ u: the second directional derivative of the energy
		// density, differenced once more.
		var w [helmholtz.MaxComponents]float64
		largest := 0.0
		for i := range c {
			w[i] = root[i] * b[i] / length
			largest = max(largest, math.Abs(w[i]/r[i]))
		}
		const relative = 1e-4
		h := relative / largest
		along := func(sigma float64) float64 {
			var moved [helmholtz.MaxComponents]float64
			for i := range c {
				moved[i] = r[i] + sigma*w[i]
			}
			s.m.PotentialsAt(&q, t, moved[:c])
			var sum float64
			for i := range c {
				sum += w[i] * w[i] / moved[i]
				for j := range c {
					sum += w[i] * w[j] * q.Hess[i][j]
				}
			}
			return sum
		}
		third := (along(h) - along(-h)) / (2 * h) / largest
		return singular, third, true
	}
}

// newton2 solves two equations in two unknowns with differenced derivatives
// and short steps.
func newton2(f func(x, y float64) (float64, float64, bool), x, y float64) (float64, float64, error) {
	const h = 1e-6
	for range maxCritical {
		a, b, ok := f(x, y)
		ax, bx, ok1 := f(x+h, y)
		mx, nx, ok2 := f(x-h, y)
		ay, by, ok3 := f(x, y+h)
		my, ny, ok4 := f(x, y-h)
		if !(ok && ok1 && ok2 && ok3 && ok4) {
			return 0, 0, ErrNotConverged
		}
		j11, j21 := (ax-mx)/(2*h), (bx-nx)/(2*h)
		j12, j22 := (ay-my)/(2*h), (by-ny)/(2*h)
		det := j11*j22 - j12*j21
		dx, dy := -(a*j22-b*j12)/det, -(b*j11-a*j21)/det
		if !(math.Abs(dx) < 1e3 && math.Abs(dy) < 1e3) {
			return 0, 0, ErrNotConverged
		}
		limit := min(1, 0.02/math.Abs(dx), 0.1/math.Abs(dy))
		x += limit * dx
		y += limit * dy
		if math.Abs(dx) < tolCritical && math.Abs(dy) < 1e3*tolCritical {
			return x, y, nil
		}
	}
	return 0, 0, ErrNotConverged
}
