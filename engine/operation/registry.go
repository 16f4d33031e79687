package operation

import (
	"slices"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// Names of operations that have more than the form or the policy of all.
const (
	Refrigerants            = "refrigerants"
	SaturationTable         = "saturation-table"
	RefrigerantDiagram      = "refrigerant-diagram"
	MeasurementPlan         = "measurement-plan"
	ExpectedReadings        = "expected-readings"
	LeakedBlend             = "leaked-blend"
	VisitRecord             = "visit-record"
	PressureEnthalpyDiagram = "pressure-enthalpy-diagram"
)

// all are in the order of the OpenAPI document.
var all = Registry{
	Get("units", "/v1/units", question.Units, (*query.Engine).Units),
	Get("codes", "/v1/codes", question.Codes, (*query.Engine).Codes),
	Get(Refrigerants, "/v1/refrigerants", question.Refrigerants, (*query.Engine).Refrigerants),
	Get("refrigerant", "/v1/refrigerants/{designation}", question.Refrigerant, (*query.Engine).Refrigerant),
	Get("saturation", "/v1/refrigerants/{designation}/saturation", question.Saturation, (*query.Engine).Saturation),
	Get(SaturationTable, "/v1/refrigerants/{designation}/saturation-table", question.SaturationTable, (*query.Engine).SaturationTable),
	Get(RefrigerantDiagram, "/v1/refrigerants/{designation}/pressure-enthalpy-diagram", question.RefrigerantDiagram, (*query.Engine).RefrigerantDiagram),
	Post("saturation-points", "/v1/saturation", (*query.Engine).SaturationPoints),
	Post("superheat-subcooling", "/v1/superheat-subcooling", (*query.Engine).SuperheatSubcooling),
	Post("target-superheat", "/v1/target-superheat", (*query.Engine).TargetSuperheat),
	Post("diagnosis", "/v1/diagnosis", (*query.Engine).Diagnosis),
	Post(MeasurementPlan, "/v1/measurement-plan", (*query.Engine).MeasurementPlan),
	Post(ExpectedReadings, "/v1/expected-readings", (*query.Engine).ExpectedReadings),
	Post(LeakedBlend, "/v1/leaked-blend", (*query.Engine).LeakedBlend),
	Post("standing-pressure", "/v1/standing-pressure", (*query.Engine).StandingPressure),
	Post("hose-recovery", "/v1/hose-recovery", (*query.Engine).HoseRecovery),
	Post(VisitRecord, "/v1/visit-record", (*query.Engine).VisitRecord),
	Post(PressureEnthalpyDiagram, "/v1/pressure-enthalpy-diagram", (*query.Engine).PressureEnthalpyDiagram),
	Post("line-set-charge", "/v1/line-set-charge", (*query.Engine).LineSetCharge),
	Post("cylinder-fill", "/v1/cylinder-fill", (*query.Engine).CylinderFill),
	Post("stability", "/v1/stability", (*query.Engine).Stability),
	Post("moist-air", "/v1/moist-air", (*query.Engine).MoistAir),
}

// All lists every operation, in the order of the OpenAPI document.
func All() Registry { return slices.Clone(all) }
