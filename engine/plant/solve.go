package plant

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// Solve finds the steady state, starting from the rating point. It returns
// ErrInput, ErrBeyondPressures or ErrNotConverged.
func (u *Unit) Solve(c Conditions, f Faults) (Result, error) {
	return u.solve(c, f, nil)
}

// SolveNear is Solve from a state of the same unit not far away, which takes
// fewer steps. What it finds does not depend on the start beyond rounding.
func (u *Unit) SolveNear(near *Result, c Conditions, f Faults) (Result, error) {
	return u.solve(c, f, &near.start)
}

func (u *Unit) solve(c Conditions, f Faults, near *unknowns) (Result, error) {
	if err := f.check(); err != nil {
		return Result{}, err
	}
	a, err := u.surroundings(c, f)
	if err != nil {
		return Result{}, err
	}
	n := newton{u: u}
	if near != nil {
		x := *near
		if n.settle(&x, &a, f) {
			return u.result(&x, &a, &n.best)
		}
	}
	x := u.rated
	if n.settle(&x, &a, f) {
		return u.result(&x, &a, &n.best)
	}
	if err := n.approach(&x, c, f); err != nil {
		return Result{}, err
	}
	return u.result(&x, &a, &n.best)
}

// newton is a damped Newton method with a differenced Jacobian.
type newton struct {
	u      *Unit
	best   march
	trial  march
	passes int
}

const (
	maxSteps = 60
	settled  = 1e-11
	// maxPressureStep bounds a step in ln p, maxHeatStep one in enthalpy (in
	// heatScale), maxGasStep one in bar of non-condensable gas.
	maxPressureStep = 0.15
	maxHeatStep     = 1.5
	maxGasStep      = 2
	// maxPasses bounds the work of one question.
	maxPasses = 2500
)

func size(r *unknowns) float64 {
	worst := 0.0
	for _, v := range r {
		if !(math.Abs(v) <= worst) {
			worst = math.Abs(v)
		}
	}
	return worst
}

func square(r *unknowns) float64 {
	var s float64
	for _, v := range r {
		s += v * v
	}
	return s
}

// settle iterates from x; false where it does not converge.
func (n *newton) settle(x *unknowns, a *around, f Faults) bool {
	charge := n.u.charge * (1 + f.Charge)
	dims := 3
	if f.NonCondensables > 0 {
		dims = 4
		if !(x[3] > 0) {
			x[3] = f.NonCondensables
		}
	} else {
		x[3] = 0
	}
	pass := func(x *unknowns, m *march) {
		n.passes++
		n.u.march(x, a, &f, charge, m)
	}
	pass(x, &n.best)
	for range maxSteps {
		now := size(&n.best.residual)
		if now <= settled {
			return true
		}
		if !(now < 1e6) || n.passes > maxPasses {
			return false
		}
		var step unknowns
		var jac [len(step) * len(step)]float64
		for k := range dims {
			const h = 1e-6
			y := *x
			// Away from the kink at saturation.
			aside := h
			if k == 1 && x[1] < 0 {
				aside = -h
			}
			y[k] += aside
			pass(&y, &n.trial)
			for i := range dims {
				jac[i*len(step)+k] = (n.trial.residual[i] - n.best.residual[i]) / aside
			}
		}
		for i := range dims {
			step[i] = -n.best.residual[i]
		}
		if !numeric.Solve(jac[:], len(step), step[:dims], 1e-14) {
			return false
		}
		damp := 1.0
		for k, limit := range [4]float64{maxPressureStep, maxHeatStep, maxPressureStep, maxGasStep} {
			damp = min(damp, limit/math.Abs(step[k]))
		}
		start := square(&n.best.residual)
		moved := false
		for range 12 {
			y := *x
			for k := range dims {
				y[k] += damp * step[k]
			}
			pass(&y, &n.trial)
			if got := square(&n.trial.residual); got < start*(1-0.05*damp) || size(&n.trial.residual) <= settled {
				*x, moved = y, true
				n.best, n.trial = n.trial, n.best
				break
			}
			damp *= 0.5
		}
		if !moved {
			// Rounding stops the last digits.
			return now <= 100*settled
		}
	}
	return false
}

// approach goes from the rating point to the question step by step: the
// weather first, then the faults.
func (n *newton) approach(x *unknowns, c Conditions, f Faults) error {
	r := Rating()
	*x = n.u.rated
	at, step := 0.0, 0.25
	last, lastAt := *x, 0.0
	for at < 2 {
		next := min(at+step, 2)
		if at < 1 {
			next = min(next, 1)
		}
		weather, fault := min(next, 1), max(next-1, 0)
		mix := func(from, to float64) float64 { return from + weather*(to-from) }
		faults := f.mixed(fault)
		a, err := n.u.surroundings(Conditions{
			mix(r.OutdoorDryBulb, c.OutdoorDryBulb), mix(r.ReturnDryBulb, c.ReturnDryBulb),
			mix(r.ReturnWetBulb, c.ReturnWetBulb), mix(r.SitePressure, c.SitePressure),
		}, faults)
		if err != nil {
			return err
		}
		y := *x
		if at > lastAt && at != 1 { // along the chord
			for k := range y {
				y[k] += (x[k] - last[k]) * (next - at) / (at - lastAt)
			}
		}
		if !n.settle(&y, &a, faults) {
			y = *x
			if !n.settle(&y, &a, faults) {
				step *= 0.4
				if step >= 1e-3 && n.passes <= maxPasses {
					continue
				}
				if math.Exp(x[2]) > nearHighest*n.u.fluid.highest {
					return fmt.Errorf("%w: condensing at %.4g Pa and rising", ErrBeyondPressures, math.Exp(x[2]))
				}
				return fmt.Errorf("%w: stopped %.3g of the way from the rating point", ErrNotConverged, at/2)
			}
		}
		last, lastAt = *x, at
		*x, at = y, next
		step *= 1.7
	}
	return nil
}

// nearHighest is the share of the highest pressure from which a path that
// stops counts as going beyond it.
const nearHighest = 0.97
