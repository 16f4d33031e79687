package httpapi

import (
	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// operations registers the engine's operations: path, how the question is
// read, what answers it.
func (s *server) operations(v1 gin.IRoutes) {
	e := s.Engine

	get(v1, "/units", serve(s, unitsQuestion, ask.Pure(e.Units)))
	get(v1, "/codes", serve(s, codesQuestion, ask.Pure(e.Codes)))
	get(v1, "/refrigerants", serve(s, refrigerantsQuestion, ask.Pure(e.Refrigerants)))
	get(v1, "/refrigerants/:designation", serve(s, refrigerantQuestion, ask.Pure(e.Refrigerant)))
	get(v1, "/refrigerants/:designation/saturation", serve(s, saturationQuestion, ask.Pure(e.Saturation)))

	v1.POST("/saturation", serve(s, body(func(q *query.SaturationPointsQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.SaturationPoints)))
	v1.POST("/superheat-subcooling", serve(s, body(func(q *query.SuperheatSubcoolingQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.SuperheatSubcooling)))
	v1.POST("/target-superheat", serve(s, body(func(q *query.TargetSuperheatQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.TargetSuperheat)))
	v1.POST("/diagnosis", serve(s, body(func(q *query.DiagnosisQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.Diagnosis)))
	v1.POST("/moist-air", serve(s, body(func(q *query.MoistAirQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.MoistAir)))
}

func unitsQuestion(*input) (query.UnitsQuestion, error) { return query.UnitsQuestion{}, nil }

func codesQuestion(*input) (query.CodesQuestion, error) { return query.CodesQuestion{}, nil }

func refrigerantsQuestion(in *input) (query.RefrigerantsQuestion, error) {
	return query.RefrigerantsQuestion{Presentation: in.as}, nil
}

func refrigerantQuestion(in *input) (query.RefrigerantQuestion, error) {
	return query.RefrigerantQuestion{Designation: in.path("designation"), Presentation: in.as}, nil
}

func saturationQuestion(in *input) (query.SaturationQuestion, error) {
	return query.SaturationQuestion{
		Designation: in.path("designation"),
		Pressure:    in.quantity("pressure", unit.KindGaugePressure, unit.KindPressure),
		Temperature: in.quantity("temperature", unit.KindTemperature),
		Site: query.Site{
			Altitude:            in.quantity("altitude", unit.KindLength),
			AtmosphericPressure: in.quantity("atmospheric_pressure", unit.KindPressure),
		},
		Presentation: in.as,
	}, nil
}
