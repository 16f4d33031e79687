package helmholtz

import (
	"fmt"
	"math"
)

// IdealCoefficients are one family of terms of the ideal part α⁰(τ, δ):
//
//	lead             ln δ + a1 + a2 τ
//	log_tau          a1 ln τ
//	power            Σ n τ^t
//	planck_einstein  Σ n ln(1 - exp(-t τ))
//	offset           a1 + a2 τ, moves the reference state
//	cp0_constant     c = n[0], t[0] = 0: cp0/R = c, integrated from T0
//	cp0_poly         cp0/R = Σ n T^t (T in kelvins), integrated from T0
//
// Tc and T0 are in kelvins; Tc makes T = Tc/τ within the term.
type IdealCoefficients struct {
	Form   string
	A1, A2 float64
	N, T   []float64
	Tc, T0 float64
}

// Ideal is the ideal-gas part of an equation of state.
type Ideal struct{ terms []IdealCoefficients }

// NewIdeal checks published coefficients of the ideal part; it returns
// ErrTerm.
func NewIdeal(families ...IdealCoefficients) (*Ideal, error) {
	for _, c := range families {
		switch c.Form {
		case "lead", "log_tau", "offset":
		case "power", "planck_einstein":
			if len(c.N) != len(c.T) {
				return nil, fmt.Errorf("%w: ideal %s has arrays of unequal length", ErrTerm, c.Form)
			}
		case "cp0_constant", "cp0_poly":
			if len(c.N) != len(c.T) || !(c.Tc > 0) || !(c.T0 > 0) {
				return nil, fmt.Errorf("%w: ideal %s", ErrTerm, c.Form)
			}
			for _, t := range c.T {
				if t == -1 {
					return nil, fmt.Errorf("%w: ideal %s with exponent -1", ErrTerm, c.Form)
				}
			}
		default:
			return nil, fmt.Errorf("%w: unknown ideal form %q", ErrTerm, c.Form)
		}
	}
	return &Ideal{families}, nil
}

// At evaluates α⁰ and its derivatives by τ (scaled as in Alpha); by δ they are
// those of ln δ.
func (f *Ideal) At(tau, delta float64) Alpha {
	s := Alpha{A: math.Log(delta), D: 1, DD: -1, DDD: 2}
	lnTau := math.Log(tau)
	for i := range f.terms {
		c := &f.terms[i]
		switch c.Form {
		case "lead", "offset":
			s.A += c.A1 + c.A2*tau
			s.T += c.A2 * tau
		case "log_tau":
			s.A += c.A1 * lnTau
			s.T += c.A1
			s.TT -= c.A1
		case "power":
			for j, n := range c.N {
				t := c.T[j]
				a := n * math.Exp(t*lnTau)
				s.A += a
				s.T += t * a
				s.TT += t * (t - 1) * a
			}
		case "planck_einstein":
			for j, n := range c.N {
				x := c.T[j] * tau
				e, q := math.Exp(-x), -math.Expm1(-x)
				s.A += n * math.Log(q)
				s.T += n * x * e / q
				s.TT -= n * x * x * e / (q * q)
			}
		case "cp0_constant", "cp0_poly":
			tau0 := c.Tc / c.T0
			for j, n := range c.N {
				t := c.T[j]
				if t == 0 {
					s.A += n * (1 - tau/tau0 + math.Log(tau/tau0))
					s.T += n * (1 - tau/tau0)
					s.TT -= n
					continue
				}
				now, then := math.Pow(c.Tc/tau, t), math.Pow(c.T0, t)
				s.A += n * (then/t - now/(t*(t+1)) - then*c.T0*tau/(c.Tc*(t+1)))
				s.T += n / (t + 1) * (now - then*c.T0*tau/c.Tc)
				s.TT -= n * now
			}
		}
	}
	return s
}
