package equilibrium_test

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

// fugacities are ln(f_i/RT) of a phase.
func fugacities(r *refrigerant.Refrigerant, t float64, p equilibrium.Phase) []float64 {
	rho := make([]float64, len(p.X))
	for i, x := range p.X {
		rho[i] = p.Density * x
	}
	var q helmholtz.Potentials
	r.System().Mixture().PotentialsAt(&q, t, rho)
	f := make([]float64, len(rho))
	for i := range rho {
		f[i] = math.Log(rho[i]) + q.Grad[i]
	}
	return f
}
