package call

import (
	"reflect"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// operations are all that can be asked, in the order of the OpenAPI document.
var operations = []operation{
	{"GET", "/v1/units", get(question.Units, (*query.Engine).Units)},
	{"GET", "/v1/codes", get(question.Codes, (*query.Engine).Codes)},
	{"GET", "/v1/refrigerants", get(question.Refrigerants, (*query.Engine).Refrigerants)},
	{"GET", "/v1/refrigerants/{designation}", get(question.Refrigerant, (*query.Engine).Refrigerant)},
	{"GET", "/v1/refrigerants/{designation}/saturation", get(question.Saturation, (*query.Engine).Saturation)},
	{"GET", "/v1/refrigerants/{designation}/saturation-table", get(question.SaturationTable, wholeTable)},
	{"GET", "/v1/refrigerants/{designation}/pressure-enthalpy-diagram", get(question.RefrigerantDiagram, (*query.Engine).RefrigerantDiagram)},
	{"POST", "/v1/saturation", post((*query.Engine).SaturationPoints)},
	{"POST", "/v1/superheat-subcooling", post((*query.Engine).SuperheatSubcooling)},
	{"POST", "/v1/target-superheat", post((*query.Engine).TargetSuperheat)},
	{"POST", "/v1/diagnosis", post((*query.Engine).Diagnosis)},
	{"POST", "/v1/measurement-plan", post((*query.Engine).MeasurementPlan)},
	{"POST", "/v1/expected-readings", post((*query.Engine).ExpectedReadings)},
	{"POST", "/v1/leaked-blend", post((*query.Engine).LeakedBlend)},
	{"POST", "/v1/standing-pressure", post((*query.Engine).StandingPressure)},
	{"POST", "/v1/hose-recovery", post((*query.Engine).HoseRecovery)},
	{"POST", "/v1/visit-record", post((*query.Engine).VisitRecord)},
	{"POST", "/v1/pressure-enthalpy-diagram", post((*query.Engine).PressureEnthalpyDiagram)},
	{"POST", "/v1/line-set-charge", post((*query.Engine).LineSetCharge)},
	{"POST", "/v1/cylinder-fill", post((*query.Engine).CylinderFill)},
	{"POST", "/v1/stability", post((*query.Engine).Stability)},
	{"POST", "/v1/moist-air", post((*query.Engine).MoistAir)},
}

// get is an operation whose question stands in path and query string.
func get[Q, A any](read func(*question.Input) Q, method func(*query.Engine, Q) (A, error)) func(*query.Engine, *question.Input, []byte) ([]byte, error) {
	return func(e *query.Engine, in *question.Input, _ []byte) ([]byte, error) {
		return answer(e, in, read(in), method)
	}
}

// post is an operation whose question is the body. The question has a member
// Presentation, or this panics when the program starts.
func post[Q, A any](method func(*query.Engine, Q) (A, error)) func(*query.Engine, *question.Input, []byte) ([]byte, error) {
	field, ok := reflect.TypeFor[Q]().FieldByName("Presentation")
	if !ok || field.Type != reflect.TypeFor[query.Presentation]() {
		panic("call: " + reflect.TypeFor[Q]().Name() + " does not say how it is to be answered")
	}
	read := question.Body(func(q *Q) *query.Presentation {
		return reflect.ValueOf(q).Elem().FieldByIndex(field.Index).Addr().Interface().(*query.Presentation)
	})
	return func(e *query.Engine, in *question.Input, body []byte) ([]byte, error) {
		return answer(e, in, read(in, body), method)
	}
}

// answer asks the engine, also where a question came with faults and enough of
// it was read, so that one problem lists them all.
func answer[Q, A any](e *query.Engine, in *question.Input, q Q, method func(*query.Engine, Q) (A, error)) ([]byte, error) {
	if err := in.Finish(); err != nil {
		return nil, err
	}
	a, err := method(e, q)
	if err = in.Join(err); err != nil {
		return nil, err
	}
	return encode(a)
}

// wholeTable computes all rows at once.
func wholeTable(e *query.Engine, q query.SaturationTableQuestion) (query.SaturationTableAnswer, error) {
	t, err := e.SaturationTable(q)
	if err != nil {
		return query.SaturationTableAnswer{}, err
	}
	return t.Answer(), nil
}
