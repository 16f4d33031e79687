package helmholtz_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

var (
	catalogue = refrigerant.NewCatalogue()
	fluids    = pureFluids()
)

func pureFluids() (list []*helmholtz.Fluid) {
	for _, r := range catalogue.All() {
		if r.Pure() {
			list = append(list, r.System().Mixture().Fluid(0))
		}
	}
	return list
}

func fluid(t *testing.T, name string) *helmholtz.Fluid {
	t.Helper()
	i := slices.IndexFunc(fluids, func(f *helmholtz.Fluid) bool { return f.Name == name })
	if i < 0 {
		t.Fatalf("no fluid %s", name)
	}
	return fluids[i]
}

// slope is df/dx at x = 0 by the central difference of sixth order with step
// h, in error by h⁶/140 times the seventh derivative and by rounding over h.
func slope(h float64, f func(x float64) []float64) []float64 {
	var s []float64
	for k, c := range []float64{45, -9, 1} {
		x := h * float64(k+1)
		up, down := f(x), f(-x)
		if s == nil {
			s = make([]float64, len(up))
		}
		for i := range s {
			s[i] += c * (up[i] - down[i]) / (60 * h)
		}
	}
	return s
}

// All differences are taken over logarithms (of τ, δ, T, ρ) with this step.
// Terms change by up to some 200 per unit of those, so that truncation stays
// below (200 · 2e-4)⁶/140 = 3e-11 of the derivative; rounding leaves
// 1e-16/2e-4 = 5e-13 of the largest summand.
const (
	step = 2e-4
	// ofTerm is for a few terms, ofFluid for whole equations: there summands
	// are up to 1e4 times as large as the sum (R-22 in the dense liquid).
	ofTerm, ofFluid = 1e-9, 5e-8
	// exact is for identities without differences.
	exact = 1e-12
	// ofGap is the step near the critical point, as a part of the distance
	// over which nonanalytic terms change.
	ofGap = 1. / 32
)

// checkAlpha holds every derivative to the slope of the next lower one, so
// that all of them follow from A alone.
func checkAlpha(t *testing.T, name string, at func(tau, delta float64) helmholtz.Alpha, tau, delta, h, tolerance float64) {
	t.Helper()
	const A, D, T, DD, TT = 0, 1, 2, 3, 4
	lower := func(a helmholtz.Alpha) []float64 { return []float64{A: a.A, D: a.D, T: a.T, DD: a.DD, TT: a.TT} }
	a := at(tau, delta)
	byDelta := slope(h, func(x float64) []float64 { return lower(at(tau, delta*math.Exp(x))) })
	byTau := slope(h, func(x float64) []float64 { return lower(at(tau*math.Exp(x), delta)) })
	for _, c := range []struct {
		name           string
		got, slope, of float64
	}{
		{"D", a.D, byDelta[A], a.A},
		{"T", a.T, byTau[A], a.A},
		{"DD", a.DD + a.D, byDelta[D], a.D},
		{"DT", a.DT, byTau[D], a.D},
		{"TT", a.TT + a.T, byTau[T], a.T},
		{"DDD", a.DDD + 2*a.DD, byDelta[DD], a.DD},
		{"DDT", a.DDT, byTau[DD], a.DD},
		{"DTT", a.DTT, byDelta[TT], a.TT},
	} {
		if !near.Abs(c.got, c.slope, tolerance*(math.Abs(c.got)+math.Abs(c.of))+exact*math.Abs(a.A)) {
			t.Errorf("%s at τ %g, δ %g: %s makes a slope of %.12g, the difference is %.12g", name, tau, delta, c.name, c.got, c.slope)
		}
	}
}

// residualForms has terms of each form with coefficients in the range of
// published ones.
var residualForms = []helmholtz.Coefficients{
	{Form: "power", N: []float64{0.7, -1.3}, T: []float64{-0.5, 4.25}, D: []float64{1, 5}, L: []float64{0, 3}},
	{Form: "exponential", N: []float64{0.7, -1.3}, T: []float64{0.25, 6}, D: []float64{2, 3}, L: []float64{0, 2}, G: []float64{1, 0.8}},
	{Form: "double_exponential", N: []float64{0.7, -1.3, 0.4}, T: []float64{4.23, 18, 1}, D: []float64{1, 8, 2}, L: []float64{1, 2, 0}, M: []float64{1.7, 7, 0}},
	{Form: "gaussian", N: []float64{0.7, -1.3}, T: []float64{1, 2.5}, D: []float64{1, 3}, Eta: []float64{0.96, 20}, Epsilon: []float64{0.68, 1}, Beta: []float64{1.4, 150}, Gamma: []float64{1.1, 1.21}},
	{Form: "gao_b", N: []float64{0.7, -1.3}, T: []float64{1, 4}, D: []float64{1, 1}, Eta: []float64{-2.8, -2.6}, Epsilon: []float64{0.37, 0.3}, Beta: []float64{1.1, 1.3}, Gamma: []float64{1.3, 1.1}, B: []float64{1.2, 0.7}},
	{Form: "nonanalytic", N: []float64{-0.15, 0.32}, NonA: []float64{3.5, 3}, NonB: []float64{0.85, 0.925}, Beta: []float64{0.3, 0.275}, BigA: []float64{0.32, 0.7}, BigB: []float64{0.2, 0.3}, BigC: []float64{28, 10}, BigD: []float64{700, 275}},
	{Form: "gerg_2008", N: []float64{0.7, -1.3}, T: []float64{0.65, 3.1}, D: []float64{1, 3}, Eta: []float64{1, 0.25}, Epsilon: []float64{0.5, 0.5}, Beta: []float64{1, 2.5}, Gamma: []float64{0.5, 0.7}},
}

var idealForms = []helmholtz.IdealCoefficients{
	{Form: "lead", A1: -8.3, A2: 6.7},
	{Form: "offset", A1: -8.3, A2: 6.7},
	{Form: "log_tau", A1: 3.006},
	{Form: "power", N: []float64{0.7, -1.3}, T: []float64{-1.5, 2}},
	{Form: "planck_einstein", N: []float64{0.97, 1.28}, T: []float64{0.4, 7.7}},
	{Form: "cp0_constant", N: []float64{4.1}, T: []float64{0}, Tc: 369, T0: 273},
	{Form: "cp0_poly", N: []float64{4.1, 0.005, -0.3}, T: []float64{0, 1, 0.33}, Tc: 369, T0: 273},
}

func residual(t *testing.T, c helmholtz.Coefficients) *helmholtz.Residual {
	t.Helper()
	r, err := helmholtz.NewResidual(c)
	require.NoError(t, err)
	return r
}

func ideal(t *testing.T, c helmholtz.IdealCoefficients) *helmholtz.Ideal {
	t.Helper()
	f, err := helmholtz.NewIdeal(c)
	require.NoError(t, err)
	return f
}

func TestFormsAgainstDifferences(t *testing.T) {
	for _, c := range residualForms {
		r, taus := residual(t, c), []float64{0.45, 0.98, 1.03, 1.9}
		if r.Nonanalytic() {
			taus = []float64{0.9, 0.98, 1.03, 1.1} // farther off the term is nothing
		}
		for _, tau := range taus {
			for _, delta := range []float64{1e-6, 0.01, 0.6, 0.95, 0.999, 1.001, 1.05, 2.9} {
				h := min(step, ofGap*math.Abs(delta-1), ofGap*math.Abs(tau-1))
				checkAlpha(t, c.Form, r.At, tau, delta, h, ofTerm)
			}
		}
	}
	for _, c := range idealForms {
		f := ideal(t, c)
		for _, tau := range []float64{0.3, 1, 2.5} {
			for _, delta := range []float64{1e-6, 1, 3} {
				checkAlpha(t, "ideal "+c.Form, f.At, tau, delta, step, ofTerm)
			}
		}
	}
}

func TestFluidsAgainstDifferences(t *testing.T) {
	for _, f := range fluids {
		for _, s := range [][2]float64{{0.7, 0.4}, {1.4, 0.01}, {1.6, 2.8}, {1.1, 0.9}, {1.1, 1.1}} {
			checkAlpha(t, f.Name, f.Residual.At, s[0], s[1], step, ofFluid)
			checkAlpha(t, "ideal "+f.Name, f.Ideal.At, s[0], s[1], step, ofFluid)
		}
	}
}

// One term of each form at τ = 2, δ = 1/2 with n τ² δ = 3 · 4 · 1/2 = 6 where
// the form has it: what the formulas in the doc comments give by hand. The two
// Gaussian kinds have the same coefficients and part in the second difference.
func TestFormsByHand(t *testing.T) {
	const tau, delta, src = 2, 0.5, "by hand"
	one := func(v float64) []float64 { return []float64{v} }
	bell := helmholtz.Coefficients{N: one(3), T: one(2), D: one(1), Eta: one(1), Epsilon: one(1.5), Beta: one(3), Gamma: one(1)}
	gaussian, gerg, gao := bell, bell, bell
	gaussian.Form, gerg.Form, gao.Form = "gaussian", "gerg_2008", "gao_b"
	gao.Eta, gao.B = one(-1), one(1)
	for _, tt := range []struct {
		c    helmholtz.Coefficients
		want float64
	}{
		{helmholtz.Coefficients{Form: "power", N: one(3), T: one(2), D: one(1), L: one(0)}, 6},
		{helmholtz.Coefficients{Form: "power", N: one(3), T: one(2), D: one(1), L: one(2)}, 6 * math.Exp(-0.25)},
		{helmholtz.Coefficients{Form: "exponential", N: one(3), T: one(2), D: one(1), L: one(1), G: one(2)}, 6 * math.Exp(-1)},
		{helmholtz.Coefficients{Form: "exponential", N: one(3), T: one(2), D: one(1), L: one(0), G: one(2)}, 6},
		{helmholtz.Coefficients{Form: "double_exponential", N: one(3), T: one(2), D: one(1), L: one(2), M: one(3)}, 6 * math.Exp(-0.25-8)},
		{helmholtz.Coefficients{Form: "double_exponential", N: one(3), T: one(2), D: one(1), L: one(0), M: one(0)}, 6},
		{gaussian, 6 * math.Exp(-1-3)}, // β(τ-γ)² = 3 · 1²
		{gerg, 6 * math.Exp(-1+1.5)},   // β(δ-γ) = 3 · (-1/2)
		{gao, 6 * math.Exp(-1+0.25)},   // 1/(3 · 1² + 1)
		// (δ-1)² = 1/4, θ = -1 + 2/4, Δ = 1/4 + (1/2)(1/4)^(1/2) = 1/2.
		{helmholtz.Coefficients{Form: "nonanalytic", N: one(3), NonA: one(0.5), NonB: one(2), Beta: one(0.5), BigA: one(2), BigB: one(0.5), BigC: one(4), BigD: one(1)}, 3 * 0.25 * 0.5 * math.Exp(-1-1)},
	} {
		if got := residual(t, tt.c).At(tau, delta).A; !near.Abs(got, tt.want, exact*tt.want) {
			t.Errorf("%s = %.15g, want %.15g (%s)", tt.c.Form, got, tt.want, src)
		}
	}
	for _, tt := range []struct {
		c    helmholtz.IdealCoefficients
		want float64 // besides ln δ
	}{
		{helmholtz.IdealCoefficients{Form: "lead", A1: 1, A2: 3}, 7},
		{helmholtz.IdealCoefficients{Form: "offset", A1: 1, A2: 3}, 7},
		{helmholtz.IdealCoefficients{Form: "log_tau", A1: 3}, 3 * math.Ln2},
		{helmholtz.IdealCoefficients{Form: "power", N: one(3), T: one(-2)}, 0.75},
		{helmholtz.IdealCoefficients{Form: "planck_einstein", N: one(3), T: one(0.5)}, 3 * math.Log(1-math.Exp(-1))},
		// -τ ∫ cp0/R dτ/τ² + ∫ cp0/R dτ/τ from τ0 = Tc/T0 = 1/2 to 2, with
		// cp0/R = 3 and with cp0/R = 3 T² = 3/τ².
		{helmholtz.IdealCoefficients{Form: "cp0_constant", N: one(3), T: one(0), Tc: 1, T0: 2}, 3 * (1 - 4 + math.Log(4))},
		{helmholtz.IdealCoefficients{Form: "cp0_poly", N: one(3), T: one(2), Tc: 1, T0: 2}, -2*(8-0.125) + 1.5*(4-0.25)},
	} {
		if got := ideal(t, tt.c).At(tau, delta).A - math.Log(delta); !near.Abs(got, tt.want, exact*math.Abs(tt.want)) {
			t.Errorf("ideal %s = %.15g, want %.15g (%s)", tt.c.Form, got, tt.want, src)
		}
	}
}

// The water equation is embedded with the gas constant (461.51805 J/(kg K))
// and the reducing density (322 kg/m³) of IAPWS R6-95, so that the check
// values of the release apply digit by digit.
func TestWaterRelease(t *testing.T) {
	const (
		table6 = "IAPWS R6-95(2018), Table 6, digits from memory, unverified"
		table7 = "IAPWS R6-95(2018), Table 7, digits from memory, unverified"
	)
	f := fluid(t, "R-718")
	if r, rho := f.GasConstant/f.MolarMass, f.ReducingDensity*f.MolarMass; !near.Abs(r, 461.51805, 1e-9*r) || !near.Abs(rho, 322, 1e-9*rho) || f.ReducingTemperature != 647.096 {
		t.Fatalf("R = %.9g J/(kg K), ρc = %.9g kg/m³, Tc = %g K", r, rho, f.ReducingTemperature)
	}
	tau, delta := f.ReducingTemperature/500, 838.025/322
	a0, ar := f.Ideal.At(tau, delta), f.Residual.At(tau, delta)
	for _, tt := range []struct {
		name      string
		got, want float64
		src       string
	}{
		{"φ°", a0.A, 2.04797733, table6},
		{"φ°δ", a0.D / delta, 0.384236747, table6},
		{"φ°δδ", a0.DD / (delta * delta), -0.147637878, table6},
		{"φ°τ", a0.T / tau, 9.04611106, table6},
		{"φ°ττ", a0.TT / (tau * tau), -1.93249185, table6},
		{"φ°δτ", a0.DT / (delta * tau), 0, table6},
		{"φʳ", ar.A, -3.42693206, table6},
		{"φʳδ", ar.D / delta, -0.364366650, table6},
		{"φʳδδ", ar.DD / (delta * delta), 0.856063701, table6},
		{"φʳτ", ar.T / tau, -5.81403435, table6},
		{"φʳττ", ar.TT / (tau * tau), -2.23440737, table6},
		{"φʳδτ", ar.DT / (delta * tau), -1.12176915, table6},
	} {
		if !printed(tt.got, tt.want) {
			t.Errorf("%s = %.10g, want %.9g (%s)", tt.name, tt.got, tt.want, tt.src)
		}
	}

	m := mixture(t, f)
	for _, tt := range []struct {
		t, rho, p, cv, w, s float64 // K, kg/m³, MPa, kJ/(kg K), m/s, kJ/(kg K)
		src                 string
	}{
		{300, 996.5560, 0.0992418352, 4.13018112, 1501.51914, 0.393062643, table7},
		{300, 1005.308, 20.0022515, 4.06798347, 1534.92501, 0.387405401, table7},
		{300, 1188.202, 700.004704, 3.46135580, 2443.57992, 0.132609616, table7},
		{500, 0.435, 0.0999679423, 1.50817541, 548.314253, 7.94488271, table7},
		{500, 4.532, 0.999938125, 1.66991025, 535.739001, 6.82502725, table7},
		{500, 838.025, 10.0003858, 3.22106219, 1271.28441, 2.56690919, table7},
		{500, 1084.564, 700.000405, 3.07437693, 2412.00877, 2.03237509, table7},
		{647, 358, 22.0384756, 6.18315728, 252.145078, 4.32092307, table7},
		{900, 0.241, 0.100062559, 1.75890657, 724.027147, 9.16653194, table7},
		{900, 52.615, 20.0000690, 1.93510526, 698.445674, 6.59070225, table7},
		{900, 870.769, 700.000006, 2.66422350, 2019.33608, 4.17223802, table7},
	} {
		rho := tt.rho / f.MolarMass
		p, _, _ := m.Pressure(tt.t, rho, []float64{1})
		c := m.Caloric(tt.t, rho, []float64{1})
		if !printed(p/1e6, tt.p) || !printed(c.Cv/f.MolarMass/1e3, tt.cv) || !printed(c.SoundSpeed, tt.w) || !printed(c.Entropy/f.MolarMass/1e3, tt.s) {
			t.Errorf("%g K, %g kg/m³: p %.9g MPa, cv %.9g kJ/(kg K), w %.9g m/s, s %.9g kJ/(kg K), want %.9g, %.9g, %.9g, %.9g (%s)",
				tt.t, tt.rho, p/1e6, c.Cv/f.MolarMass/1e3, c.SoundSpeed, c.Entropy/f.MolarMass/1e3, tt.p, tt.cv, tt.w, tt.s, tt.src)
		}
	}
}

// printed tells whether got rounds to the nine digits of want.
func printed(got, want float64) bool {
	if want == 0 {
		return got == 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(want)))-8)
	return near.Abs(got, want, 0.5001*unit)
}

// The terms of that divide by δ-1 and by Δ stay finite and
// continuous on δ = 1, at the critical point itself and in vacuum.
func TestNonanalyticOnItsPoles(t *testing.T) {
	for _, f := range fluids {
		if !f.Residual.Nonanalytic() {
			continue
		}
		for _, tau := range []float64{0.99, 1, 1.01} {
			on := f.Residual.At(tau, 1)
			for _, delta := range []float64{1 - 1e-9, 1 - 1e-12, 1 + 1e-12, 1 + 1e-9} {
				a := f.Residual.At(tau, delta)
				if !near.Abs(a.A, on.A, 1e-8) || !near.Abs(a.D, on.D, 1e-7) || !near.Abs(a.T, on.T, 1e-7) || !finite(a) {
					t.Errorf("%s at τ %g: %+v at δ = 1%+g, %+v at 1", f.Name, tau, a, delta-1, on)
				}
			}
		}
		if a := f.Residual.At(1, 1e-40); !finite(a) || !near.Abs(a.D, a.A, 1e-9*math.Abs(a.A)) {
			t.Errorf("%s in vacuum: %+v", f.Name, a)
		}
	}
}

func TestRefusedTerms(t *testing.T) {
	cut := func(a []float64) []float64 { return a[:len(a)-1] }
	refused := func(why string, c helmholtz.Coefficients) {
		t.Helper()
		if r, err := helmholtz.NewResidual(residualForms[0], c); !errors.Is(err, helmholtz.ErrTerm) || r != nil {
			t.Errorf("%s, %s: %v", c.Form, why, err)
		}
	}
	for _, c := range residualForms {
		for name, array := range map[string]func(*helmholtz.Coefficients) *[]float64{
			"n": func(c *helmholtz.Coefficients) *[]float64 { return &c.N }, "t": func(c *helmholtz.Coefficients) *[]float64 { return &c.T },
			"d": func(c *helmholtz.Coefficients) *[]float64 { return &c.D }, "l": func(c *helmholtz.Coefficients) *[]float64 { return &c.L },
			"g": func(c *helmholtz.Coefficients) *[]float64 { return &c.G }, "m": func(c *helmholtz.Coefficients) *[]float64 { return &c.M },
			"η": func(c *helmholtz.Coefficients) *[]float64 { return &c.Eta }, "ε": func(c *helmholtz.Coefficients) *[]float64 { return &c.Epsilon },
			"β": func(c *helmholtz.Coefficients) *[]float64 { return &c.Beta }, "γ": func(c *helmholtz.Coefficients) *[]float64 { return &c.Gamma },
			"b of gao_b": func(c *helmholtz.Coefficients) *[]float64 { return &c.B },
			"a":          func(c *helmholtz.Coefficients) *[]float64 { return &c.NonA }, "b": func(c *helmholtz.Coefficients) *[]float64 { return &c.NonB },
			"A": func(c *helmholtz.Coefficients) *[]float64 { return &c.BigA }, "B": func(c *helmholtz.Coefficients) *[]float64 { return &c.BigB },
			"C": func(c *helmholtz.Coefficients) *[]float64 { return &c.BigC }, "D": func(c *helmholtz.Coefficients) *[]float64 { return &c.BigD },
		} {
			short := c
			if a := array(&short); len(*a) > 0 {
				*a = cut(*a)
				refused(name+" too short", short)
			}
		}
		if c.L == nil {
			continue
		}
		for _, l := range []float64{-1, 0.5, 7, 1e30, math.NaN(), math.Inf(1)} {
			odd := c
			odd.L = slices.Clone(c.L)
			odd.L[1] = l
			refused("exponent", odd)
		}
	}
	refused("unknown", helmholtz.Coefficients{Form: "Power"})

	for _, c := range []helmholtz.IdealCoefficients{
		{Form: "plank_einstein"},
		{Form: "power", N: []float64{1, 2}, T: []float64{1}},
		{Form: "planck_einstein", N: []float64{1}, T: []float64{1, 2}},
		{Form: "cp0_constant", N: []float64{4}, Tc: 369, T0: 273},
		{Form: "cp0_poly", N: []float64{4}, T: []float64{1}, T0: 273},
		{Form: "cp0_poly", N: []float64{4}, T: []float64{1}, Tc: 369, T0: math.NaN()},
		{Form: "cp0_poly", N: []float64{4}, T: []float64{-1}, Tc: 369, T0: 273},
	} {
		if f, err := helmholtz.NewIdeal(idealForms[0], c); !errors.Is(err, helmholtz.ErrTerm) || f != nil {
			t.Errorf("ideal %+v: %v", c, err)
		}
	}
}
