package httpapi

import (
	"context"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
	"github.com/knurl-hvacr/knurl/api/page"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// operations registers the engine's operations: path, how the question is
// read, what answers it.
func (s *server) operations(v1 gin.IRoutes) {
	e := bounded{s.Engine, s}

	get(v1, "/units", serve(s, address(question.Units), ask.Pure(e.Units)))
	get(v1, "/codes", serve(s, address(question.Codes), ask.Pure(e.Codes)))
	get(v1, "/refrigerants", kept(s, address(question.Refrigerants), ask.Pure(e.Refrigerants)))
	get(v1, "/refrigerants/:designation", serve(s, address(question.Refrigerant), ask.Stoppable(e.Until, (*query.Engine).Refrigerant)))
	get(v1, "/refrigerants/:designation/saturation", serve(s, address(question.Saturation), ask.Stoppable(e.Until, (*query.Engine).Saturation)))
	get(v1, "/refrigerants/:designation/saturation-table", keptWhere(s, e.longTable, address(question.SaturationTable), ask.Stoppable(e.Until, wholeTable), form[query.SaturationTableAnswer]{media: csvType, write: writeTable}))
	get(v1, "/refrigerants/:designation/pressure-enthalpy-diagram", kept(s, address(question.RefrigerantDiagram), costly(s, ask.Stoppable(e.Until, (*query.Engine).RefrigerantDiagram)), drawn))

	v1.POST("/saturation", serve(s, body(func(q *query.SaturationPointsQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).SaturationPoints)))
	v1.POST("/superheat-subcooling", serve(s, body(func(q *query.SuperheatSubcoolingQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).SuperheatSubcooling)))
	v1.POST("/target-superheat", serve(s, body(func(q *query.TargetSuperheatQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.TargetSuperheat)))
	v1.POST("/diagnosis", serve(s, body(func(q *query.DiagnosisQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).Diagnosis)))
	v1.POST("/measurement-plan", serve(s, body(func(q *query.MeasurementPlanQuestion) *query.Presentation { return &q.Presentation }), costly(s, ask.Stoppable(e.Until, (*query.Engine).MeasurementPlan))))
	v1.POST("/expected-readings", kept(s, body(func(q *query.ExpectedReadingsQuestion) *query.Presentation { return &q.Presentation }), costly(s, ask.Stoppable(e.Until, (*query.Engine).ExpectedReadings))))
	v1.POST("/leaked-blend", kept(s, body(func(q *query.LeakedBlendQuestion) *query.Presentation { return &q.Presentation }), costly(s, ask.Stoppable(e.Until, (*query.Engine).LeakedBlend))))
	v1.POST("/standing-pressure", serve(s, body(func(q *query.StandingPressureQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).StandingPressure)))
	v1.POST("/hose-recovery", serve(s, body(func(q *query.HoseRecoveryQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).HoseRecovery)))
	v1.POST("/visit-record", serve(s, body(func(q *query.VisitRecordQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).VisitRecord), form[query.VisitRecordAnswer]{htmlType, page.Record, page.RecordPolicy}))
	v1.POST("/pressure-enthalpy-diagram", kept(s, body(func(q *query.PressureEnthalpyDiagramQuestion) *query.Presentation { return &q.Presentation }), costly(s, ask.Stoppable(e.Until, (*query.Engine).PressureEnthalpyDiagram)), drawn))
	v1.POST("/line-set-charge", serve(s, body(func(q *query.LineSetChargeQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).LineSetCharge)))
	v1.POST("/cylinder-fill", serve(s, body(func(q *query.CylinderFillQuestion) *query.Presentation { return &q.Presentation }), ask.Stoppable(e.Until, (*query.Engine).CylinderFill)))
	v1.POST("/stability", serve(s, body(func(q *query.StabilityQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.Stability)))
	v1.POST("/moist-air", serve(s, body(func(q *query.MoistAirQuestion) *query.Presentation { return &q.Presentation }), ask.Pure(e.MoistAir)))
}

// drawn is a diagram as a picture.
var drawn = form[query.PressureEnthalpyDiagramAnswer]{svgType, page.Diagram, page.DiagramPolicy}

// manyRows is from where on a table costs more than fetching it: some 4 us a
// row against 60 us.
const manyRows = 32

// longTable reports whether a table has many rows.
func (b bounded) longTable(ctx context.Context, q query.SaturationTableQuestion) bool {
	t, err := b.Until(ctx).SaturationTable(q)
	return err == nil && t.Len >= manyRows
}

// wholeTable computes all rows at once.
func wholeTable(e *query.Engine, q query.SaturationTableQuestion) (query.SaturationTableAnswer, error) {
	t, err := e.SaturationTable(q)
	if err != nil {
		return query.SaturationTableAnswer{}, err
	}
	return t.Answer(), nil
}
