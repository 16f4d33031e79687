package refdata

import (
	"slices"
	"sync"
)

// Allowances returns what is taken where nothing was given and nothing is
// published: how steady is steady, what the weather does to the air's pressure,
// customary conditions. The caller must not write through the pointers inside.
func Allowances() Figures { return slices.Clone(allowances().Figures) }

// Allowance returns the one with a code.
func Allowance(code string) (Figure, bool) { return allowances().Figures.Get(code) }

// CommonRefrigerants returns those that a wrong label or a mixed-up cylinder most
// likely stands for.
func CommonRefrigerants() Designations { return allowances().Common.clone() }

// ComfortRefrigerants returns those of most comfort cooling, that a label or a
// setting may stand for by mistake.
func ComfortRefrigerants() Designations { return allowances().Comfort.clone() }

// Designations is a list of refrigerants with what it rests on.
type Designations struct {
	Text         string   `json:"text"`
	Designations []string `json:"designations"`
	Source       string   `json:"source"`
	Status       string   `json:"status"`
}

// VentingExemption is a refrigerant that the US ban on venting spares.
type VentingExemption struct {
	Code         string   `json:"code"`
	Text         string   `json:"text"`
	Designations []string `json:"designations"`
	// ListedUsesOnly: elsewhere the ban holds.
	ListedUsesOnly bool   `json:"listed_uses_only"`
	Source         string `json:"source"`
	Status         string `json:"status"`
}

// VentingExemptionOf returns the exemption of a refrigerant that has one.
func VentingExemptionOf(designation string) (VentingExemption, bool) {
	for _, e := range allowances().Venting {
		if slices.Contains(e.Designations, designation) {
			e.Designations = slices.Clone(e.Designations)
			return e, true
		}
	}
	return VentingExemption{}, false
}

func (d Designations) clone() Designations {
	d.Designations = slices.Clone(d.Designations)
	return d
}

type allowanceFile struct {
	Figures Figures            `json:"figures"`
	Common  Designations       `json:"common_refrigerants"`
	Comfort Designations       `json:"comfort_refrigerants"`
	Venting []VentingExemption `json:"venting_exemptions"`
}

var allowances = sync.OnceValue(func() allowanceFile { return mustRead[allowanceFile]("rules/allowances.json") })
