package helmholtz

import "math"

// Alpha is a reduced Helmholtz energy with its scaled partial derivatives:
// each is multiplied by the powers of tau and delta that it differentiates
// by, so D = delta dα/dδ, TT = tau² d²α/dτ², DDT = delta² tau d³α/dδ²dτ. In
// this form nothing overflows in the dilute gas and every term family yields
// all of them from its logarithmic slopes.
type Alpha struct {
	A             float64
	D, T          float64
	DD, DT, TT    float64
	DDD, DDT, DTT float64
}

// plus adds w times b.
func (a *Alpha) plus(w float64, b *Alpha) {
	a.A += w * b.A
	a.D += w * b.D
	a.T += w * b.T
	a.DD += w * b.DD
	a.DT += w * b.DT
	a.TT += w * b.TT
	a.DDD += w * b.DDD
	a.DDT += w * b.DDT
	a.DTT += w * b.DTT
}

// separable adds a term a = F(δ) G(τ) from k = d ln F/d ln δ and its first two
// derivatives by ln δ, and m = d ln G/d ln τ and its first.
func (s *Alpha) separable(a, k, k1, k2, m, m1 float64) {
	d2 := k*(k-1) + k1
	t2 := m*(m-1) + m1
	am := a * m
	s.A += a
	s.D += a * k
	s.T += am
	s.DD += a * d2
	s.DT += am * k
	s.TT += a * t2
	s.DDD += a * (k*(k-1)*(k-2) + 3*k1*(k-1) + k2)
	s.DDT += am * d2
	s.DTT += a * t2 * k
}

// point is what all terms of one evaluation share.
type point struct {
	tau, delta     float64
	lnTau, lnDelta float64
	deltaPow       [7]float64 // δ^0 … δ^6
}

func at(tau, delta float64) point {
	p := point{tau: tau, delta: delta, lnTau: math.Log(tau), lnDelta: math.Log(delta)}
	p.deltaPow[0] = 1
	for i := 1; i < len(p.deltaPow); i++ {
		p.deltaPow[i] = p.deltaPow[i-1] * delta
	}
	return p
}

// power is n τ^t δ^d exp(-g δ^l); without the exponential where l = 0.
type power struct {
	n, t, d, g float64
	l          int
}

func (w *power) addTo(s *Alpha, p *point) {
	e := 0.0
	if w.l > 0 {
		e = w.g * p.deltaPow[w.l]
	}
	l := float64(w.l)
	a := w.n * math.Exp(w.t*p.lnTau+w.d*p.lnDelta-e)
	e *= l
	s.separable(a, w.d-e, -e*l, -e*l*l, w.t, 0)
}

// doubleExponential is power with g = 1 and a further factor exp(-τ^m) where
// m > 0 (Lemmon & Jacobsen 2005, doi 10.1063/1.1797813).
type doubleExponential struct {
	power
	m float64
}

func (w *doubleExponential) addTo(s *Alpha, p *point) {
	e, f := 0.0, 0.0
	if w.l > 0 {
		e = p.deltaPow[w.l]
	}
	if w.m > 0 {
		f = math.Exp(w.m * p.lnTau)
	}
	l := float64(w.l)
	a := w.n * math.Exp(w.t*p.lnTau+w.d*p.lnDelta-e-f)
	e *= l
	f *= w.m
	s.separable(a, w.d-e, -e*l, -e*l*l, w.t-f, -f*w.m)
}

// gaussian is n τ^t δ^d exp(-η(δ-ε)² - β(τ-γ)²), the bell-shaped term of
// Setzmann & Wagner 1991, doi 10.1063/1.555898.
type gaussian struct{ n, t, d, eta, epsilon, beta, gamma float64 }

func (w *gaussian) addTo(s *Alpha, p *point) {
	u, v := p.delta-w.epsilon, p.tau-w.gamma
	a := w.n * math.Exp(w.t*p.lnTau+w.d*p.lnDelta-w.eta*u*u-w.beta*v*v)
	dd, tt := p.delta*p.delta, p.tau*p.tau
	ed, gt := w.epsilon*p.delta, w.gamma*p.tau
	s.separable(a,
		w.d-2*w.eta*(dd-ed), -2*w.eta*(2*dd-ed), -2*w.eta*(4*dd-ed),
		w.t-2*w.beta*(tt-gt), -2*w.beta*(2*tt-gt))
}

// gaoB is n τ^t δ^d exp(η(δ-ε)² + 1/(β(τ-γ)²+b)) of Gao et al. 2020,
// J. Phys. Chem. Ref. Data, for ammonia; η is negative as printed.
type gaoB struct{ n, t, d, eta, epsilon, beta, gamma, b float64 }

func (w *gaoB) addTo(s *Alpha, p *point) {
	u, v := p.delta-w.epsilon, p.tau-w.gamma
	q := w.beta*v*v + w.b
	a := w.n * math.Exp(w.t*p.lnTau+w.d*p.lnDelta+w.eta*u*u+1/q)
	dd := p.delta * p.delta
	ed := w.epsilon * p.delta
	s.separable(a,
		w.d+2*w.eta*(dd-ed), 2*w.eta*(2*dd-ed), 2*w.eta*(4*dd-ed),
		w.t-2*w.beta*p.tau*v/(q*q),
		-2*w.beta*p.tau*((2*p.tau-w.gamma)/(q*q)-4*w.beta*p.tau*v*v/(q*q*q)))
}

// gerg is n τ^t δ^d exp(-η(δ-ε)² - β(δ-γ)), the departure term of Kunz &
// Wagner 2012, doi 10.1021/je300655b: its second difference is in δ
// and linear, unlike gaussian's.
type gerg struct{ n, t, d, eta, epsilon, beta, gamma float64 }

func (w *gerg) addTo(s *Alpha, p *point) {
	u := p.delta - w.epsilon
	a := w.n * math.Exp(w.t*p.lnTau+w.d*p.lnDelta-w.eta*u*u-w.beta*(p.delta-w.gamma))
	dd, ed, bd := p.delta*p.delta, w.epsilon*p.delta, w.beta*p.delta
	s.separable(a,
		w.d-2*w.eta*(dd-ed)-bd, -2*w.eta*(2*dd-ed)-bd, -2*w.eta*(4*dd-ed)-bd,
		w.t, 0)
}

// nonanalytic is the near-critical term n Δ^b δ exp(-C(δ-1)² - D(τ-1)²) with
// Δ = θ² + B((δ-1)²)^a and θ = (1-τ) + A((δ-1)²)^(1/(2β)) of Span & Wagner
// 1996, doi 10.1063/1.555991.
type nonanalytic struct{ n, a, b, beta, ca, cb, cc, cd float64 }

// The derivatives of Δ are written as quotients by δ-1, and those of Δ^b as
// quotients by Δ, which is 0 at the critical point: a density closer to δ = 1
// than this is moved aside.
const nonanalyticGap = 1e-10

func (w *nonanalytic) addTo(s *Alpha, p *point) {
	delta := p.delta
	x := delta - 1
	if math.Abs(x) < nonanalyticGap {
		x = math.Copysign(nonanalyticGap, x)
		delta = 1 + x
	}
	y := p.tau - 1
	u := x * x
	c := 1 / (2 * w.beta)

	uc := math.Pow(u, c)
	theta := -y + w.ca*uc
	thetaD := 2 * c * w.ca * uc / x
	thetaDD := 2 * c * (2*c - 1) * w.ca * uc / u
	thetaDDD := 4 * c * (2*c - 1) * (c - 1) * w.ca * uc / (u * x)
	ua := w.cb * math.Pow(u, w.a)
	big := theta*theta + ua
	if big == 0 {
		return // the term and its weight vanish at the critical point itself
	}
	bigD := 2*theta*thetaD + 2*w.a*ua/x
	bigDD := 2*thetaD*thetaD + 2*theta*thetaDD + 2*w.a*(2*w.a-1)*ua/u
	bigDDD := 6*thetaD*thetaDD + 2*theta*thetaDDD + 4*w.a*(2*w.a-1)*(w.a-1)*ua/(u*x)

	rD, rDD, rDDD := bigD/big, bigDD/big, bigDDD/big
	rT, rTT := -2*theta/big, 2/big
	rDT, rDDT := -2*thetaD/big, -2*thetaDD/big

	lD := w.b*rD + 1/delta - 2*w.cc*x
	lDD := w.b*(rDD-rD*rD) - 1/(delta*delta) - 2*w.cc
	lDDD := w.b*(rDDD-3*rD*rDD+2*rD*rD*rD) + 2/(delta*delta*delta)
	lT := w.b*rT - 2*w.cd*y
	lTT := w.b*(rTT-rT*rT) - 2*w.cd
	lDT := w.b * (rDT - rD*rT)
	lDDT := w.b * (rDDT - 2*rDT*rD - rT*rDD + 2*rD*rD*rT)
	lDTT := w.b * (-2*rDT*rT - rD*rTT + 2*rD*rT*rT)

	a := w.n * delta * math.Exp(w.b*math.Log(big)-w.cc*u-w.cd*y*y)
	d, t := p.delta, p.tau
	s.A += a
	s.D += a * lD * d
	s.T += a * lT * t
	s.DD += a * (lDD + lD*lD) * d * d
	s.DT += a * (lDT + lD*lT) * d * t
	s.TT += a * (lTT + lT*lT) * t * t
	s.DDD += a * (lDDD + 3*lD*lDD + lD*lD*lD) * d * d * d
	s.DDT += a * (lDDT + 2*lD*lDT + lT*lDD + lD*lD*lT) * d * d * t
	s.DTT += a * (lDTT + 2*lT*lDT + lD*lTT + lD*lT*lT) * d * t * t
}
