package refdata

import (
	"slices"
	"sync"
)

// Blend is a refrigerant blend with its nominal composition by mass.
type Blend struct {
	Designation string           `json:"designation"` // such as R-410A
	Components  []BlendComponent `json:"components"`  // in the order of the designation list
	Source      string           `json:"-"`
	Status      string           `json:"-"` // [Seen] or [FromMemory]
}

// BlendComponent is one component of a blend.
type BlendComponent struct {
	Designation string  `json:"designation"`  // of a fluid in [Fluids]
	MassPercent float64 `json:"mass_percent"` // percent of the mass of the blend
}

// Blends returns all blends, grouped by source. The caller must not write to
// the components inside.
func Blends() []Blend { return slices.Clone(blends()) }

var blends = sync.OnceValue(func() (all []Blend) {
	type file struct {
		Source string  `json:"source"`
		Status string  `json:"status"`
		Blends []Blend `json:"blends"`
	}
	for _, f := range mustReadAll[file]("blends") {
		for _, b := range f.Blends {
			b.Source, b.Status = f.Source, f.Status
			all = append(all, b)
		}
	}
	return all
})
