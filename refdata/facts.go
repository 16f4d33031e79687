package refdata

import (
	"slices"
	"sync"
)

// Facts holds what is published about a refrigerant besides its equation of
// state and composition. Whatever was not found is nil.
type Facts struct {
	Designation string `json:"designation"`
	Type        string `json:"type"` // pure, azeotrope or zeotrope
	// SafetyGroup is the class of ASHRAE 34, such as A2L.
	SafetyGroup *Fact `json:"safety_group,omitempty"`
	// GWPAR4, GWPAR5 and GWPAR6 are global warming potentials over 100 years
	// on the values of the fourth, fifth and sixth IPCC assessment report.
	GWPAR4 *Number `json:"gwp_ar4,omitempty"`
	GWPAR5 *Number `json:"gwp_ar5,omitempty"`
	GWPAR6 *Number `json:"gwp_ar6,omitempty"`
	// ODP is the ozone depletion potential relative to R-11.
	ODP *Number `json:"odp,omitempty"`
	// NormalBubble and NormalDew are the published boiling points at 101.325 kPa, in K.
	NormalBubble *Number     `json:"normal_bubble_k,omitempty"`
	NormalDew    *Number     `json:"normal_dew_k,omitempty"`
	Tolerances   []Tolerance `json:"tolerances,omitempty"`
	Note         string      `json:"note,omitempty"`
}

// Fact is a word with its source.
type Fact struct {
	Value  string `json:"value"`
	Source string `json:"source"`
	Detail string `json:"detail,omitempty"` // table, or how it was worked out
	Status string `json:"status"`
}

// Number is a figure with its source; the field that holds it says the unit.
type Number struct {
	Value  float64 `json:"value"`
	Source string  `json:"source"`
	Detail string  `json:"detail,omitempty"` // table, or how it was worked out
	Status string  `json:"status"`
}

// Tolerance is how far the content of one component of a new blend may lie
// from nominal, in percent of the mass of the blend. Plus and Minus are both
// counted positive.
type Tolerance struct {
	Designation string  `json:"designation"`
	Plus        float64 `json:"plus_mass_percent"`
	Minus       float64 `json:"minus_mass_percent"`
	Source      string  `json:"source"`
	Status      string  `json:"status"`
}

// AllFacts returns the facts of all refrigerants that have any. The caller must
// not write through the pointers and slices inside.
func AllFacts() []Facts { return slices.Clone(facts()) }

var facts = sync.OnceValue(func() []Facts {
	type file struct {
		Facts []Facts `json:"facts"`
	}
	return mustRead[file]("facts/refrigerants.json").Facts
})
