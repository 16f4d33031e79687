// Package query is the one wire model: the questions and answers of every
// operation, and an Engine with one method for each. It assembles what the
// physics packages compute and must not compute any physics of its own.
package query

import (
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Engine answers questions. It is safe for concurrent use and keeps nothing of
// what it was asked.
type Engine struct{ catalogue *refrigerant.Catalogue }

// New makes an Engine from the embedded data.
func New() *Engine { return &Engine{catalogue: refrigerant.NewCatalogue()} }

// UnitsQuestion asks for the unit table.
type UnitsQuestion struct{}

// UnitsAnswer lists every unit of the wire.
type UnitsAnswer struct {
	Units []UnitEntry `json:"units"`
} //@name Units

// UnitEntry is one unit: SI value = (value + offset) * factor.
type UnitEntry struct {
	Name   string  `json:"name" example:"psig"`
	Kind   string  `json:"kind" example:"gauge_pressure"`
	Factor float64 `json:"factor" example:"6894.757293168"`
	Offset float64 `json:"offset"`
	// SIUnit is the coherent SI unit that the factor leads to.
	SIUnit string `json:"si_unit" example:"Pa"`
	// UCUM is the code of the Unified Code for Units of Measure; null where it has none.
	UCUM *string `json:"ucum" extensions:"x-nullable"`
	Note string  `json:"note,omitempty"`
} //@name UnitEntry

var coherent = map[unit.Kind]string{
	unit.KindTemperature: "K", unit.KindTemperatureDiff: "K", unit.KindPressure: "Pa", unit.KindGaugePressure: "Pa",
	unit.KindLength: "m", unit.KindMass: "kg", unit.KindVolume: "m3", unit.KindTime: "s", unit.KindAirFlow: "m3/s",
	unit.KindPower: "W", unit.KindDensity: "kg/m3", unit.KindSpecificVolume: "m3/kg", unit.KindSpecificEnergy: "J/kg",
	unit.KindSpecificEntropy: "J/(kg.K)", unit.KindHumidityRatio: "kg/kg", unit.KindRatio: "1",
}

// Units answers GET /v1/units.
func (e *Engine) Units(UnitsQuestion) (UnitsAnswer, error) {
	all := unit.All()
	a := UnitsAnswer{Units: make([]UnitEntry, len(all))}
	for i, u := range all {
		entry := UnitEntry{Name: u.Name, Kind: string(u.Kind), Factor: u.Factor, Offset: u.Offset, SIUnit: coherent[u.Kind], Note: u.Note}
		if u.UCUM != "" {
			entry.UCUM = &u.UCUM
		}
		a.Units[i] = entry
	}
	return a, nil
}
