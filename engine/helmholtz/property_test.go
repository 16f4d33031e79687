package helmholtz_test

import (
	"math"
	"math/rand"
	"testing"
	"testing/quick"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

func finite(a helmholtz.Alpha) bool {
	sum := a.A + a.D + a.T + a.DD + a.DT + a.TT + a.DDD + a.DDT + a.DTT
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// Within an equation's temperatures and up to three times its reducing
// density everything is finite, but for the speed of sound, which has no real
// value in parts of the two-phase region; and αʳ and its slope become B ρ as
// the density goes to 0.
func TestFluidsEverywhere(t *testing.T) {
	if len(fluids) != 51 {
		t.Errorf("%d pure fluids", len(fluids))
	}
	random := rand.New(rand.NewSource(1))
	share := func(u uint32) float64 { return (float64(u) + 0.5) / (1 << 32) } // of (0, 1)
	for _, f := range fluids {
		if d := f.GasConstant/helmholtz.UniversalGasConstant - 1; !near.Abs(d, 0, 1.1e-5) {
			t.Errorf("%s: gas constant off by %g", f.Name, d)
		}
		m := mixture(t, f)
		holds := func(inT, inRho uint32) bool {
			temp := f.TripleTemperature + share(inT)*(f.MaxTemperature-f.TripleTemperature)
			delta := 3 * share(inRho)
			tau, rho := f.ReducingTemperature/temp, delta*f.ReducingDensity
			var q helmholtz.Potentials
			m.PotentialsAt(&q, temp, []float64{rho})
			c := m.Caloric(temp, rho, []float64{1})
			p, dpdrho, dpdt := m.Pressure(temp, rho, []float64{1})
			sum := q.A + q.Z + q.AT + q.ZT + q.Grad[0] + q.GradT[0] + q.Hess[0][0] + q.ZRho[0] + p + dpdrho + dpdt +
				c.Enthalpy + c.InternalEnergy + c.Entropy + c.Cv + c.Cp
			if math.IsNaN(sum) || math.IsInf(sum, 0) || !finite(f.Residual.At(tau, delta)) || !finite(f.Ideal.At(tau, delta)) {
				t.Logf("%s at %g K, δ = %g: %+v, %+v, p = %g", f.Name, temp, delta, q, c, p)
				return false
			}
			// Equations turned from pressure-explicit form have summands with
			// δ⁰ in A (not in D) that cancel by rounding only: 1e-12.
			const thin, thinner = 1e-8, 1e-40
			a, b := f.Residual.At(tau, thin), f.Residual.At(tau, thinner)
			if !near.Abs(b.A, 0, 1e-12) || !near.Abs(a.A, a.D, 1e-12+1e-5*math.Abs(a.D)) || !near.Abs(a.D/thin, b.D/thinner, 1e-5*math.Abs(b.D/thinner)) || !finite(b) {
				t.Logf("%s at %g K in thin gas: %+v, %+v", f.Name, temp, a, b)
				return false
			}
			return true
		}
		require.NoError(t, quick.Check(holds, &quick.Config{MaxCount: 60, Rand: random}))
	}
}
