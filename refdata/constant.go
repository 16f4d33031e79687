package refdata

import (
	"slices"
	"sync"
)

// GasConstant returns the universal gas constant in J/(mol K), product of the
// defined Boltzmann and Avogadro constants. It is for mixtures: the equation of
// a single fluid keeps its own, see [Fluid.GasConstant].
func GasConstant() Number { return gasConstant() }

var gasConstant = sync.OnceValue(func() Number {
	return mustRead[Number]("constants/gas-constant-j-per-mol-k.json")
})

// Method is a published method of working that answers rest on, as against a
// published figure.
type Method struct {
	Code   string `json:"code"` // stable, snake_case
	Source string `json:"source"`
}

// Methods returns the methods.
func Methods() []Method { return slices.Clone(methods()) }

var methods = sync.OnceValue(func() []Method {
	type file struct {
		Methods []Method `json:"methods"`
	}
	return mustRead[file]("constants/methods.json").Methods
})
