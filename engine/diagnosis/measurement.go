package diagnosis

import "github.com/knurl-hvacr/knurl/engine/circuit"

// Severity is a range.
type Severity struct{ Low, Likely, High float64 }

// Measurement is a reading that was not taken and what it promises.
type Measurement struct {
	Reading     circuit.Reading
	For         Feature
	Information float64
}
