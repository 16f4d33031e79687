package refdata

import (
	"slices"
	"sync"
)

// HoseFigures returns what is published or customary of service hoses and
// manifolds: sizes, ratings, volumes, and the allowances where nothing is
// published. The caller must not write through the pointers inside.
func HoseFigures() Figures { return slices.Clone(hoseFigures()) }

var hoseFigures = sync.OnceValue(func() Figures { return mustReadFigures("rules/hoses.json") })

// HoseStep is one step of taking hoses off under a stable code: what it rests
// on. Its words stand among [Texts].
type HoseStep struct {
	Code   string `json:"code"` // stable, snake_case
	Source string `json:"source"`
	Status string `json:"status"`
}

// HoseSteps returns the steps. Their order here says nothing about the order
// of working.
func HoseSteps() []HoseStep { return slices.Clone(hoseSteps()) }

var hoseSteps = sync.OnceValue(func() []HoseStep {
	type file struct {
		Steps []HoseStep `json:"steps"`
	}
	return mustRead[file]("rules/hose-steps.json").Steps
})

// TubeData is what is usual of refrigerant lines.
type TubeData struct {
	Tubes       []Tube       `json:"tubes"`
	LineCharges []LineCharge `json:"line_charges"`
	Figures     Figures      `json:"figures"`
}

// Tube is one size of copper tube by a standard and form or type.
type Tube struct {
	Standard        string  `json:"standard"` // b280_coil, b280_straight, b88_type_k, _l or _m
	OutsideDiameter float64 `json:"outside_diameter_in"`
	Wall            float64 `json:"wall_in"`
	Source          string  `json:"source"`
	Status          string  `json:"status"`
}

// LineCharge says which of the [TradeFacts] is the published charge per length
// of liquid line of a refrigerant and size.
type LineCharge struct {
	Refrigerant     string  `json:"refrigerant"`
	OutsideDiameter float64 `json:"outside_diameter_in"`
	Figure          string  `json:"figure"` // code
}

// Tubes returns the usual copper tubes and what goes with them. The caller must
// not write to the slices or through the pointers inside.
func Tubes() TubeData { return tubes() }

var tubes = sync.OnceValue(func() TubeData { return mustRead[TubeData]("rules/tubes.json") })
