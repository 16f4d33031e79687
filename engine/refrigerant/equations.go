package refrigerant

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/refdata"
)

// equations are the compiled equations of state and mixing parameters.
type equations struct {
	fluids map[string]*helmholtz.Fluid
	data   map[string]refdata.Fluid
	pairs  map[[2]string]mixing
}

// mixing is a published pair with what it was published by.
type mixing struct {
	helmholtz.Binary
	source string
}

// loadEquations compiles the embedded data. The data is validated by a test of
// refdata, so that a fault here is a fault of the program.
func loadEquations() *equations {
	q := &equations{
		fluids: map[string]*helmholtz.Fluid{},
		data:   map[string]refdata.Fluid{},
		pairs:  map[[2]string]mixing{},
	}
	for _, f := range refdata.Fluids() {
		q.fluids[f.Designation] = compile(f)
		q.data[f.Designation] = f
	}
	departures := map[string]*helmholtz.Residual{}
	for _, d := range refdata.Departures() {
		departures[d.Name] = compileDeparture(d)
	}
	for _, p := range refdata.Pairs() {
		b := helmholtz.Binary{BetaT: p.BetaT, GammaT: p.GammaT, BetaV: p.BetaV, GammaV: p.GammaV, F: p.F}
		if p.Departure != "" {
			b.Departure = departures[p.Departure]
		}
		q.pairs[[2]string{p.First, p.Second}] = mixing{b, p.Source}
		q.pairs[[2]string{p.Second, p.First}] = mixing{b.Swapped(), p.Source}
	}
	return q
}

// binary gives the parameters of a pair, estimated where none is published.
func (q *equations) binary(first, second *helmholtz.Fluid) helmholtz.Binary {
	if p, ok := q.pairs[[2]string{first.Name, second.Name}]; ok {
		return p.Binary
	}
	return helmholtz.EstimateBinary(first, second)
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(fmt.Sprintf("refrigerant: embedded data: %v", err))
	}
	return v
}

func compile(f refdata.Fluid) *helmholtz.Fluid {
	residual := make([]helmholtz.Coefficients, len(f.Residual))
	for i, t := range f.Residual {
		c := helmholtz.Coefficients{Form: t.Form, N: t.N, T: t.T, D: t.D, L: t.L, G: t.G, M: t.M,
			Eta: t.Eta, Epsilon: t.Epsilon, Beta: t.Beta, Gamma: t.Gamma}
		if t.Form == "nonanalytic" {
			c.NonA, c.NonB = t.A, t.B
			c.BigA, c.BigB, c.BigC, c.BigD = t.UpperA, t.UpperB, t.UpperC, t.UpperD
		} else {
			c.B = t.B
		}
		residual[i] = c
	}
	ideal := make([]helmholtz.IdealCoefficients, len(f.Ideal))
	for i, t := range f.Ideal {
		c := helmholtz.IdealCoefficients{Form: t.Form, A1: t.A1, A2: t.A2, N: t.N, T: t.T, Tc: t.Tc, T0: t.T0}
		switch t.Form {
		case "log_tau":
			c.A1 = t.LogTau
		case "cp0_poly":
			c.N = t.C
		case "cp0_constant":
			c.N, c.T = []float64{t.CpOverR}, []float64{0}
		}
		ideal[i] = c
	}
	return &helmholtz.Fluid{
		Name: f.Designation, MolarMass: f.MolarMass, GasConstant: f.GasConstant,
		ReducingTemperature: f.Reducing.Temperature, ReducingDensity: f.Reducing.Density,
		CriticalTemperature: f.Critical.Temperature, CriticalPressure: f.Critical.Pressure, AcentricFactor: f.AcentricFactor,
		TripleTemperature: f.TripleTemperature, MaxTemperature: f.MaxTemperature, MaxPressure: f.MaxPressure,
		Ideal: must(helmholtz.NewIdeal(ideal...)), Residual: must(helmholtz.NewResidual(residual...)),
	}
}

func compileDeparture(d refdata.Departure) *helmholtz.Residual {
	n := len(d.N)
	if d.Form == "exponential" {
		l := d.L
		if l == nil {
			l = make([]float64, n)
		}
		return must(helmholtz.NewResidual(helmholtz.Coefficients{Form: "power", N: d.N, T: d.T, D: d.D, L: l}))
	}
	k := d.PowerTerms
	return must(helmholtz.NewResidual(
		helmholtz.Coefficients{Form: "power", N: d.N[:k], T: d.T[:k], D: d.D[:k], L: make([]float64, k)},
		helmholtz.Coefficients{Form: "gerg_2008", N: d.N[k:], T: d.T[k:], D: d.D[k:], Eta: d.Eta[k:], Epsilon: d.Epsilon[k:], Beta: d.Beta[k:], Gamma: d.Gamma[k:]},
	))
}

// moleFractions turns mass fractions into mole fractions and their sum.
func moleFractions(mass []float64, fluids []*helmholtz.Fluid) []float64 {
	x := make([]float64, len(mass))
	var sum float64
	for i, w := range mass {
		x[i] = w / fluids[i].MolarMass
		sum += x[i]
	}
	for i := range x {
		x[i] /= sum
	}
	return x
}

// roundPercent removes the binary noise of sums such as 0.689 + 0.311.
func roundPercent(fraction float64) float64 { return math.Round(fraction*1e10) / 1e8 }
