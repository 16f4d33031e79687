package question

import (
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Units asks for the unit table.
func Units(*Input) query.UnitsQuestion { return query.UnitsQuestion{} }

// Codes asks for the codes of the wire.
func Codes(*Input) query.CodesQuestion { return query.CodesQuestion{} }

// Refrigerants asks for the catalogue.
func Refrigerants(*Input) query.RefrigerantsQuestion {
	return query.RefrigerantsQuestion{}
}

// Refrigerant takes the designation from the path.
func Refrigerant(in *Input) query.RefrigerantQuestion {
	return query.RefrigerantQuestion{Designation: in.designation()}
}

// RefrigerantDiagram takes the designation from the path.
func RefrigerantDiagram(in *Input) query.RefrigerantDiagramQuestion {
	return query.RefrigerantDiagramQuestion{Designation: in.designation()}
}

// Saturation takes the designation from the path, and pressure or temperature,
// altitude and atmospheric_pressure from the query string.
func Saturation(in *Input) query.SaturationQuestion {
	return query.SaturationQuestion{
		Designation: in.designation(),
		Pressure:    in.quantity("pressure", unit.KindGaugePressure, unit.KindPressure),
		Temperature: in.quantity("temperature", unit.KindTemperature),
		Site:        in.site(),
	}
}

// SaturationTable takes the designation from the path, and from, to, step,
// altitude and atmospheric_pressure from the query string.
func SaturationTable(in *Input) query.SaturationTableQuestion {
	return query.SaturationTableQuestion{
		Designation: in.designation(),
		From:        in.quantity("from", unit.KindTemperature, unit.KindGaugePressure, unit.KindPressure),
		To:          in.quantity("to", unit.KindTemperature, unit.KindGaugePressure, unit.KindPressure),
		Step:        in.quantity("step", unit.KindTemperatureDiff, unit.KindPressureDiff),
		Site:        in.site(),
	}
}
