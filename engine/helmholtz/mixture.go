// Package helmholtz evaluates Helmholtz-energy equations of state: the term
// families of pure fluids and the multi-fluid model of mixtures, with all
// derivatives that phase equilibrium needs. It takes coefficients as plain
// numbers and must not know where they come from, nor solve any equation.
package helmholtz

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// MaxComponents is the largest number of components of a mixture.
const MaxComponents = 10

// UniversalGasConstant in J/(mol K), exact since the SI of 2019 (CODATA 2018).
// Mixtures use it for all components; a pure fluid keeps the constant of its
// own equation, which differs by up to 1.1e-5 relative.
const UniversalGasConstant = 8.31446261815324

// Fluid is the equation of state of one pure (or pseudo-pure) fluid.
type Fluid struct {
	// Name is the designation.
	Name string
	// MolarMass in kg/mol and GasConstant in J/(mol K), as the equation's
	// publication has them.
	MolarMass, GasConstant float64
	// ReducingTemperature in K and ReducingDensity in mol/m3 make τ and δ.
	ReducingTemperature, ReducingDensity float64
	// CriticalTemperature (K), CriticalPressure (Pa) and AcentricFactor as
	// listed with the equation; used for first guesses only.
	CriticalTemperature, CriticalPressure, AcentricFactor float64
	// TripleTemperature and MaxTemperature in K, MaxPressure in Pa bound the
	// equation's validity.
	TripleTemperature, MaxTemperature, MaxPressure float64

	Ideal    *Ideal
	Residual *Residual
}

// Binary are the parameters of one pair of components in the multi-fluid
// model (Kunz & Wagner 2012, doi 10.1021/je300655b), for the order first,
// second.
type Binary struct {
	BetaT, GammaT, BetaV, GammaV float64
	// F weighs Departure, which may be nil.
	F         float64
	Departure *Residual
	// Estimated marks a pair for which no fit is published.
	Estimated bool
}

// Swapped are the same parameters for the order second, first.
func (b Binary) Swapped() Binary {
	b.BetaT, b.BetaV = 1/b.BetaT, 1/b.BetaV
	return b
}

// EstimateBinary is the combination used where no fit is published: volumes
// by the Lorentz rule, temperatures combined linearly.
func EstimateBinary(first, second *Fluid) Binary {
	a, b := first.ReducingTemperature, second.ReducingTemperature
	return Binary{BetaT: 1, GammaT: (a + b) / (2 * math.Sqrt(a*b)), BetaV: 1, GammaV: 1, Estimated: true}
}

// ErrMixture reports components that make no mixture.
var ErrMixture = errors.New("helmholtz: malformed mixture")

// Mixture is a multi-fluid model of 1 to MaxComponents components, without a
// composition. It is immutable and safe for concurrent use.
type Mixture struct {
	fluids []*Fluid
	r      float64
	pairs  []pair
	// estimated lists the pairs without a published fit.
	estimated [][2]string
}

// pair is compiled: with components i < j, x_i x_j (x_i+x_j)/(β² x_i+x_j)
// times these constants is added to T_r and 1/ρ_r.
type pair struct {
	i, j           int
	cT, bT, cV, bV float64 // bT, bV are β²
	f              float64
	departure      *Residual
}

// NewMixture joins fluids; binary gives the parameters of each pair in the
// order asked. It returns ErrMixture.
func NewMixture(fluids []*Fluid, binary func(first, second *Fluid) Binary) (*Mixture, error) {
	n := len(fluids)
	if n == 0 || n > MaxComponents {
		return nil, fmt.Errorf("%w: %d components, allowed are 1 to %d", ErrMixture, n, MaxComponents)
	}
	m := &Mixture{fluids: slices.Clone(fluids), r: UniversalGasConstant}
	if n == 1 {
		m.r = fluids[0].GasConstant
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			a, b := fluids[i], fluids[j]
			if a.Name == b.Name {
				return nil, fmt.Errorf("%w: %s stands twice", ErrMixture, a.Name)
			}
			p := binary(a, b)
			if !(p.BetaT > 0 && p.GammaT > 0 && p.BetaV > 0 && p.GammaV > 0) {
				return nil, fmt.Errorf("%w: parameters of %s with %s", ErrMixture, a.Name, b.Name)
			}
			if p.Estimated {
				m.estimated = append(m.estimated, [2]string{a.Name, b.Name})
			}
			v := math.Cbrt(1/a.ReducingDensity) + math.Cbrt(1/b.ReducingDensity)
			q := pair{
				i: i, j: j,
				cT: 2 * p.BetaT * p.GammaT * math.Sqrt(a.ReducingTemperature*b.ReducingTemperature), bT: p.BetaT * p.BetaT,
				cV: 2 * p.BetaV * p.GammaV * v * v * v / 8, bV: p.BetaV * p.BetaV,
			}
			if p.Departure != nil && p.F != 0 {
				q.f, q.departure = p.F, p.Departure
			}
			m.pairs = append(m.pairs, q)
		}
	}
	return m, nil
}

// Len is the number of components.
func (m *Mixture) Len() int { return len(m.fluids) }

// Fluid is component i.
func (m *Mixture) Fluid(i int) *Fluid { return m.fluids[i] }

// GasConstant in J/(mol K).
func (m *Mixture) GasConstant() float64 { return m.r }

// Estimated lists the pairs whose parameters are estimated because no fit is
// published.
func (m *Mixture) Estimated() [][2]string { return slices.Clone(m.estimated) }

// MolarMass of the composition x (mole fractions), kg/mol.
func (m *Mixture) MolarMass(x []float64) float64 {
	var sum float64
	for i, f := range m.fluids {
		sum += x[i] * f.MolarMass
	}
	return sum
}

// Reducing gives T_r in K and ρ_r in mol/m3 of the composition x.
func (m *Mixture) Reducing(x []float64) (temperature, density float64) {
	var v float64
	for i, f := range m.fluids {
		temperature += x[i] * x[i] * f.ReducingTemperature
		v += x[i] * x[i] / f.ReducingDensity
	}
	for k := range m.pairs {
		p := &m.pairs[k]
		a, b := x[p.i], x[p.j]
		if a+b == 0 {
			continue
		}
		temperature += p.cT * a * b * (a + b) / (p.bT*a + b)
		v += p.cV * a * b * (a + b) / (p.bV*a + b)
	}
	return temperature, 1 / v
}

// Residual is αʳ of the composition x at temperature T (K) and density rho
// (mol/m3), scaled derivatives at constant composition.
func (m *Mixture) Residual(t, rho float64, x []float64) Alpha {
	tr, rhor := m.Reducing(x)
	p := at(tr/t, rho/rhor)
	var sum, one Alpha
	for i, f := range m.fluids {
		if x[i] == 0 {
			continue
		}
		one = Alpha{}
		f.Residual.addTo(&one, &p)
		sum.plus(x[i], &one)
	}
	for k := range m.pairs {
		q := &m.pairs[k]
		if q.departure == nil {
			continue
		}
		one = Alpha{}
		q.departure.addTo(&one, &p)
		sum.plus(x[q.i]*x[q.j]*q.f, &one)
	}
	return sum
}

// ideal is α⁰ of the composition with its mixing term; derivatives by τ are
// scaled, so they may be summed over components with reducing points of their
// own.
func (m *Mixture) ideal(t, rho float64, x []float64) Alpha {
	var sum Alpha
	for i, f := range m.fluids {
		if x[i] == 0 {
			continue
		}
		one := f.Ideal.At(f.ReducingTemperature/t, rho*x[i]/f.ReducingDensity)
		sum.plus(x[i], &one)
	}
	return sum
}

// Pressure in Pa at T (K) and rho (mol/m3) of the composition x, with its
// derivatives by density (at constant T) and by temperature (at constant
// density).
func (m *Mixture) Pressure(t, rho float64, x []float64) (p, dpdrho, dpdt float64) {
	a := m.Residual(t, rho, x)
	rt := m.r * t
	return rho * rt * (1 + a.D), rt * (1 + 2*a.D + a.DD), rho * m.r * (1 + a.D - a.DT)
}

// Caloric are the molar caloric properties of a single phase.
type Caloric struct {
	// Enthalpy and InternalEnergy in J/mol, Entropy, Cv and Cp in J/(mol K).
	Enthalpy, InternalEnergy, Entropy, Cv, Cp float64
	// SoundSpeed in m/s.
	SoundSpeed float64
}

// Caloric properties at T (K) and rho (mol/m3); enthalpy and entropy count
// from the reference states of the components' own equations. The state must
// be a stable or metastable phase: beyond, Cp has no meaning and the
// square of SoundSpeed can be negative, which makes it NaN.
func (m *Mixture) Caloric(t, rho float64, x []float64) Caloric {
	a, i := m.Residual(t, rho, x), m.ideal(t, rho, x)
	r := m.r
	cv := -r * (i.TT + a.TT)
	slope := 1 + a.D - a.DT
	bulk := 1 + 2*a.D + a.DD
	return Caloric{
		Enthalpy:       r * t * (1 + i.T + a.T + a.D),
		InternalEnergy: r * t * (i.T + a.T),
		Entropy:        r * (i.T + a.T - i.A - a.A),
		Cv:             cv,
		Cp:             cv + r*slope*slope/bulk,
		SoundSpeed:     math.Sqrt(r * t / m.MolarMass(x) * (bulk + r*slope*slope/cv)),
	}
}

// Potentials are A = ρ αʳ and its derivatives as a function of T and the
// component densities ρ_i (mol/m3): what phase equilibrium is made of.
//
//	residual chemical potential over RT:  Grad[i]
//	fugacity of component i:              ρ_i R T exp(Grad[i])
//	p/(RT):                               Z = ρ + Σ ρ_i Grad[i] - A
//
// (the isochoric form of Bell & Deiters 2018, doi 10.1002/aic.16074).
type Potentials struct {
	A, Z  float64
	Grad  [MaxComponents]float64                // ∂A/∂ρ_i
	Hess  [MaxComponents][MaxComponents]float64 // ∂²A/∂ρ_i∂ρ_j
	AT    float64                               // T ∂A/∂T
	GradT [MaxComponents]float64                // T ∂²A/∂T∂ρ_i
	ZT    float64                               // T ∂Z/∂T
	ZRho  [MaxComponents]float64                // ∂Z/∂ρ_i
}

// PotentialsAt fills q at temperature t (K) and component densities rho
// (mol/m3, all positive).
//
// T_r and 1/ρ_r are homogeneous functions of the amounts, so τ = Q_T(ρ)/(ρ² T)
// and δ = Q_v(ρ)/ρ with Q of second degree: differentiating by ρ_i directly
// avoids the dependent mole fractions.
func (m *Mixture) PotentialsAt(q *Potentials, t float64, rho []float64) {
	n := len(m.fluids)
	rho = rho[:n]
	var total float64
	for _, r := range rho {
		total += r
	}

	// Q_T and Q_v with gradients and Hessians.
	var qT, qV float64
	var gT, gV [MaxComponents]float64
	var hT, hV [MaxComponents][MaxComponents]float64
	for i, f := range m.fluids {
		a, b := f.ReducingTemperature, 1/f.ReducingDensity
		qT += a * rho[i] * rho[i]
		qV += b * rho[i] * rho[i]
		gT[i] = 2 * a * rho[i]
		gV[i] = 2 * b * rho[i]
		hT[i][i] = 2 * a
		hV[i][i] = 2 * b
	}
	for k := range m.pairs {
		p := &m.pairs[k]
		i, j := p.i, p.j
		mixed(&qT, &gT, &hT, i, j, rho[i], rho[j], p.cT, p.bT)
		mixed(&qV, &gV, &hV, i, j, rho[i], rho[j], p.cV, p.bV)
	}
	tau, delta := qT/(total*total*t), qV/total

	// Logarithmic slopes: u_i = ∂ln τ/∂ρ_i, v_i = ∂ln δ/∂ρ_i.
	var u, v [MaxComponents]float64
	for i := range n {
		u[i] = gT[i]/qT - 2/total
		v[i] = gV[i]/qV - 1/total
	}

	// f(ρ; τ, δ) = Σ ρ_i a_i + Σ ρ_i ρ_j F_ij a_ij / ρ and its partial
	// derivatives by the ρ_i that stand outside τ and δ.
	pt := at(tau, delta)
	var f Alpha
	var g, gTau, gDelta [MaxComponents]float64
	var h [MaxComponents][MaxComponents]float64
	for i, fl := range m.fluids {
		var a Alpha
		fl.Residual.addTo(&a, &pt)
		f.plus(rho[i], &a)
		g[i], gTau[i], gDelta[i] = a.A, a.T, a.D
	}
	for k := range m.pairs {
		p := &m.pairs[k]
		if p.departure == nil {
			continue
		}
		var a Alpha
		p.departure.addTo(&a, &pt)
		i, j := p.i, p.j
		xi, xj := rho[i]/total, rho[j]/total
		f.plus(p.f*xi*xj*total, &a)
		// w = ρ_iρ_j/ρ: its gradient is (x_j [i] + x_i [j] - x_i x_j), its
		// Hessian ([ij] - x_j [i·] - x_i [j·] + 2 x_i x_j)/ρ.
		w := p.f / total
		for k := range n {
			wk := -xi * xj
			switch k {
			case i:
				wk += xj
			case j:
				wk += xi
			}
			wk *= p.f
			g[k] += wk * a.A
			gTau[k] += wk * a.T
			gDelta[k] += wk * a.D
			for l := range n {
				hk := 2 * xi * xj
				if k == i || l == i {
					hk -= xj
					if k == i && l == i {
						hk -= xj
					}
				}
				if k == j || l == j {
					hk -= xi
					if k == j && l == j {
						hk -= xi
					}
				}
				if k == i && l == j || k == j && l == i {
					hk++
				}
				h[k][l] += w * hk * a.A
			}
		}
	}

	q.A = f.A
	q.AT = -f.T
	q.Z = total + f.D
	for i := range n {
		q.Grad[i] = g[i] + f.T*u[i] + f.D*v[i]
		q.GradT[i] = -(gTau[i] + (f.TT+f.T)*u[i] + f.DT*v[i])
	}
	// Second derivatives of ln τ and ln δ complete the chain rule; written by
	// f.TT+f.T = ∂²f/∂(ln τ)² and its like.
	fuu, fvv := f.TT+f.T, f.DD+f.D
	for i := range n {
		for j := i; j < n; j++ {
			uu := hT[i][j]/qT - gT[i]*gT[j]/(qT*qT) + 2/(total*total)
			vv := hV[i][j]/qV - gV[i]*gV[j]/(qV*qV) + 1/(total*total)
			a := h[i][j] + gTau[i]*u[j] + gTau[j]*u[i] + gDelta[i]*v[j] + gDelta[j]*v[i] +
				fuu*u[i]*u[j] + f.DT*(u[i]*v[j]+u[j]*v[i]) + fvv*v[i]*v[j] +
				f.T*uu + f.D*vv
			q.Hess[i][j], q.Hess[j][i] = a, a
		}
	}
	q.ZT = -f.DT
	for i := range n {
		z := 1.0
		for j := range n {
			z += rho[j] * q.Hess[j][i]
		}
		q.ZRho[i] = z
	}
}

// mixed adds c x y (x+y)/(b x+y) with gradient and Hessian in x = ρ_i,
// y = ρ_j.
func mixed(q *float64, g *[MaxComponents]float64, h *[MaxComponents][MaxComponents]float64, i, j int, x, y, c, b float64) {
	// With d = b x + y: N/d where N = x²y + xy².
	d := b*x + y
	n := x * y * (x + y)
	nx, ny := y*(2*x+y), x*(x+2*y)
	nxx, nxy, nyy := 2*y, 2*(x+y), 2*x
	e := n / d
	ex := (nx - e*b) / d
	ey := (ny - e) / d
	*q += c * e
	g[i] += c * ex
	g[j] += c * ey
	h[i][i] += c * (nxx - 2*b*ex) / d
	h[j][j] += c * (nyy - 2*ey) / d
	hxy := c * (nxy - b*ey - ex) / d
	h[i][j] += hxy
	h[j][i] += hxy
}
