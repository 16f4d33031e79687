package refdata

import "sync"

// GasConstant returns the universal gas constant in J/(mol K), product of the
// defined Boltzmann and Avogadro constants. It is for mixtures: the equation of
// a single fluid keeps its own, see [Fluid.GasConstant].
func GasConstant() Number { return gasConstant() }

var gasConstant = sync.OnceValue(func() Number {
	return mustRead[Number]("constants/gas-constant-j-per-mol-k.json")
})
