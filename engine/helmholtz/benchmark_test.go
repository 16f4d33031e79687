package helmholtz_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

func BenchmarkPotentials(b *testing.B) {
	for _, designation := range []string{"R-22", "R-410A", "R-448A"} { // 1, 2 and 5 components
		r, err := catalogue.Find(designation)
		require.NoError(b, err)
		m, x := r.System().Mixture(), r.System().Composition()
		tr, rhor := m.Reducing(x)
		liquid := state{"", m, x, 0.7 * tr, 2.75 * rhor}
		rho := liquid.parts(liquid.rho)
		b.Run(designation, func(b *testing.B) {
			b.ReportAllocs()
			var q helmholtz.Potentials
			for b.Loop() {
				m.PotentialsAt(&q, liquid.t, rho)
			}
		})
	}
}
