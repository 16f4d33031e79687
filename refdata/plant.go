package refdata

import "sync"

// PlantData is what a model of a whole system has to assume about systems it
// does not know, and the publications that its equations come from.
type PlantData struct {
	// Priors are ranges over unknown systems, each even from Low to High and
	// independent of the others; where a code ends in _at_seer_ and a number, the
	// range goes linearly with the seasonal efficiency between two such.
	Priors Figures `json:"priors"`
	// Weather and Severities are ranges to draw examples from; severities are
	// named after faults and count as the text says.
	Weather    Figures `json:"weather"`
	Severities Figures `json:"severities"`
	// Limits are where a real unit stops, each a Value.
	Limits       Figures       `json:"limits"`
	Correlations []Correlation `json:"correlations"`
}

// Correlation names the publication of one equation of the model.
type Correlation struct {
	Code   string `json:"code"` // stable, snake_case
	Text   string `json:"text"`
	Source string `json:"source"`
	Detail string `json:"detail,omitempty"`
	Status string `json:"status"`
}

// Plant returns the assumptions of the model of a whole system. The caller must
// not write to the slices or through the pointers inside.
func Plant() PlantData { return plant() }

var plant = sync.OnceValue(func() PlantData { return mustRead[PlantData]("rules/plant.json") })
