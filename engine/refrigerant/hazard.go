package refrigerant

import "strings"

// EstimatedMiss is by how much blends whose mixing is estimated miss published
// boiling points, K.
const EstimatedMiss = 4

// Hazard is what handling a refrigerant endangers, by the code of its warning.
type Hazard string

// The hazards.
const (
	Flammable             Hazard = "flammable_refrigerant"
	ToxicityClassB        Hazard = "toxicity_class_b"
	AmmoniaToxic          Hazard = "ammonia_toxic"
	AmmoniaAttacksCopper  Hazard = "ammonia_attacks_copper"
	CarbonDioxideExposure Hazard = "carbon_dioxide_exposure"
	CarbonDioxidePressure Hazard = "carbon_dioxide_pressure"
	DryIcePlug            Hazard = "dry_ice_plug"
)

// Hazards are those of the safety group, where one is known, and of components.
func (r *Refrigerant) Hazards() []Hazard {
	var list []Hazard
	if r.Facts != nil && r.Facts.SafetyGroup != nil {
		list = hazardsOf(r.Facts.SafetyGroup.Value)
	}
	for _, c := range r.Components {
		switch c.Designation {
		case "R-717":
			list = append(list, AmmoniaToxic, AmmoniaAttacksCopper)
		case "R-744":
			if r.Pure() {
				list = append(list, CarbonDioxideExposure, CarbonDioxidePressure, DryIcePlug)
			}
		}
	}
	return list
}

// hazardsOf is what a safety group of ANSI/ASHRAE Standard 34 says: a letter for
// toxicity, a number for flammability.
func hazardsOf(group string) []Hazard {
	var list []Hazard
	if strings.HasSuffix(group, "2") || strings.HasSuffix(group, "2L") || strings.HasSuffix(group, "3") {
		list = append(list, Flammable)
	}
	if strings.HasPrefix(group, "B") {
		list = append(list, ToxicityClassB)
	}
	return list
}
