package helmholtz

import (
	"errors"
	"fmt"
)

// ErrTerm reports coefficients that make no term: an unknown form, arrays of
// unequal length, an exponent outside what the form takes.
var ErrTerm = errors.New("helmholtz: malformed term")

// Coefficients are one family of residual terms as published: a form and
// arrays of equal length. Which arrays a form uses:
//
//	power               n t d l        n τ^t δ^d exp(-δ^l)
//	exponential         n t d g l      n τ^t δ^d exp(-g δ^l)
//	double_exponential  n t d l m      n τ^t δ^d exp(-δ^l) exp(-τ^m)
//	gaussian            n t d η ε β γ  n τ^t δ^d exp(-η(δ-ε)² - β(τ-γ)²)
//	gao_b               n t d η ε β γ b
//	nonanalytic         n a b β A B C D
//	gerg_2008           n t d η ε β γ  n τ^t δ^d exp(-η(δ-ε)² - β(δ-γ))
//
// An exponential factor whose exponent l or m is 0 is absent.
type Coefficients struct {
	Form                               string
	N, T, D, L, G, M                   []float64
	Eta, Epsilon, Beta, Gamma, B       []float64
	NonA, NonB, BigA, BigB, BigC, BigD []float64
}

// Residual is a sum of residual terms, αʳ(τ, δ).
type Residual struct {
	powers   []power
	doubles  []doubleExponential
	gaussian []gaussian
	gaoB     []gaoB
	gerg     []gerg
	critical []nonanalytic
}

// NewResidual checks and compiles published coefficients. It returns ErrTerm.
func NewResidual(families ...Coefficients) (*Residual, error) {
	r := &Residual{}
	for _, c := range families {
		if err := r.add(c); err != nil {
			return nil, err
		}
	}
	return r, nil
}

func (r *Residual) add(c Coefficients) error {
	same := func(arrays ...[]float64) error {
		for _, a := range arrays {
			if len(a) != len(c.N) {
				return fmt.Errorf("%w: %s has arrays of unequal length", ErrTerm, c.Form)
			}
		}
		return nil
	}
	whole := func(l float64) (int, error) {
		i := int(l)
		if float64(i) != l || i < 0 || i >= len(point{}.deltaPow) {
			return 0, fmt.Errorf("%w: %s with exponent l = %v", ErrTerm, c.Form, l)
		}
		return i, nil
	}
	switch c.Form {
	case "power", "exponential", "double_exponential":
		arrays := [][]float64{c.T, c.D, c.L}
		switch c.Form {
		case "exponential":
			arrays = append(arrays, c.G)
		case "double_exponential":
			arrays = append(arrays, c.M)
		}
		if err := same(arrays...); err != nil {
			return err
		}
		for i, n := range c.N {
			l, err := whole(c.L[i])
			if err != nil {
				return err
			}
			w := power{n: n, t: c.T[i], d: c.D[i], g: 1, l: l}
			switch c.Form {
			case "exponential":
				w.g = c.G[i]
			case "double_exponential":
				r.doubles = append(r.doubles, doubleExponential{w, c.M[i]})
				continue
			}
			r.powers = append(r.powers, w)
		}
	case "gaussian", "gerg_2008":
		if err := same(c.T, c.D, c.Eta, c.Epsilon, c.Beta, c.Gamma); err != nil {
			return err
		}
		for i, n := range c.N {
			w := gaussian{n, c.T[i], c.D[i], c.Eta[i], c.Epsilon[i], c.Beta[i], c.Gamma[i]}
			if c.Form == "gaussian" {
				r.gaussian = append(r.gaussian, w)
			} else {
				r.gerg = append(r.gerg, gerg(w))
			}
		}
	case "gao_b":
		if err := same(c.T, c.D, c.Eta, c.Epsilon, c.Beta, c.Gamma, c.B); err != nil {
			return err
		}
		for i, n := range c.N {
			r.gaoB = append(r.gaoB, gaoB{n, c.T[i], c.D[i], c.Eta[i], c.Epsilon[i], c.Beta[i], c.Gamma[i], c.B[i]})
		}
	case "nonanalytic":
		if err := same(c.NonA, c.NonB, c.Beta, c.BigA, c.BigB, c.BigC, c.BigD); err != nil {
			return err
		}
		for i, n := range c.N {
			r.critical = append(r.critical, nonanalytic{n, c.NonA[i], c.NonB[i], c.Beta[i], c.BigA[i], c.BigB[i], c.BigC[i], c.BigD[i]})
		}
	default:
		return fmt.Errorf("%w: unknown form %q", ErrTerm, c.Form)
	}
	return nil
}

// At evaluates αʳ and its derivatives at tau = T_reducing/T > 0 and
// delta = ρ/ρ_reducing > 0.
func (r *Residual) At(tau, delta float64) Alpha {
	p := at(tau, delta)
	var s Alpha
	r.addTo(&s, &p)
	return s
}

func (r *Residual) addTo(s *Alpha, p *point) {
	for i := range r.powers {
		r.powers[i].addTo(s, p)
	}
	for i := range r.doubles {
		r.doubles[i].addTo(s, p)
	}
	for i := range r.gaussian {
		r.gaussian[i].addTo(s, p)
	}
	for i := range r.gaoB {
		r.gaoB[i].addTo(s, p)
	}
	for i := range r.gerg {
		r.gerg[i].addTo(s, p)
	}
	for i := range r.critical {
		r.critical[i].addTo(s, p)
	}
}

// Nonanalytic reports whether the equation has near-critical terms whose
// derivatives are singular at the critical point.
func (r *Residual) Nonanalytic() bool { return len(r.critical) > 0 }
