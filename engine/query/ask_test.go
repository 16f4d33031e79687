package query_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

var engine = query.New()

// read decodes a question as the wire does; a question of a test has no fault.
func read[Q any](t testing.TB, body string) Q {
	t.Helper()
	q, err := strictjson.For[Q]().Decode([]byte(body))
	require.NoError(t, err)
	return q
}

// answer asks a question that has an answer, and holds it to what is true of
// every answer: it can be written, so no number in it is NaN or infinite.
func answer[Q, A any](t testing.TB, of func(Q, query.Presentation) (A, error), q Q) A {
	t.Helper()
	return answerAs(t, of, q, query.Presentation{})
}

// answerAs is answer in units, or with the working.
func answerAs[Q, A any](t testing.TB, of func(Q, query.Presentation) (A, error), q Q, as query.Presentation) A {
	t.Helper()
	a, err := of(q, as)
	require.NoError(t, err)
	text(t, a)
	return a
}

// text is an answer as JSON.
func text(t testing.TB, a any) string {
	t.Helper()
	data, err := json.Marshal(a)
	require.NoError(t, err)
	return string(data)
}

// faults asks a question that has none, and gives "pointer code" of each fault.
func faults[Q, A any](t testing.TB, of func(Q, query.Presentation) (A, error), q Q) []string {
	t.Helper()
	a, err := of(q, query.Presentation{})
	var r *query.Refusal
	if !errors.As(err, &r) {
		t.Fatalf("want a refusal, got error %v with %s", err, text(t, a))
	}
	var list []string
	for _, f := range r.Errors {
		list = append(list, f.Pointer+f.Parameter+" "+string(f.Code))
	}
	pointInto(t, q, r)
	return list
}

// pointInto holds that every pointer of a refusal leads to a member of the
// question.
func pointInto(t testing.TB, question any, r *query.Refusal) {
	t.Helper()
	for _, f := range r.Errors {
		if f.Pointer != "" && !query.HasMember(question, f.Pointer) {
			t.Errorf("%T has no member %s (%s)", question, f.Pointer, f.Detail)
		}
		inItsWords(t, f)
	}
}

// inItsWords holds that the detail of an error is the text of its reason, or of
// its code, filled with its values, so that a translator's template says the
// same.
func inItsWords(t testing.TB, e query.RequestError) {
	t.Helper()
	code := e.Reason
	if code == "" {
		code = e.Code
	}
	said, err := phrase.Fill(code, e.Params)
	require.NoError(t, err, "%+v", e)
	require.Equal(t, said, e.Detail, "%+v", e)
}

func quantity(value float64, unit string) *query.Quantity {
	return &query.Quantity{Value: &value, Unit: unit}
}

// in gives a value of an answer in another unit of its kind.
func in(t testing.TB, m query.Measure, name string) float64 {
	t.Helper()
	from, ok := unit.Lookup(m.Unit)
	to, ok2 := unit.Lookup(name)
	if !ok || !ok2 || from.Kind != to.Kind {
		t.Fatalf("%s does not convert into %s", m.Unit, name)
	}
	return to.FromSI(from.ToSI(m.Value))
}

// diagnose asks for a diagnosis of a body.
func diagnose(t testing.TB, body string) query.DiagnosisAnswer {
	t.Helper()
	return answer(t, engine.Diagnosis, read[query.DiagnosisQuestion](t, body))
}

func superheatSubcooling(t testing.TB, body string) query.SuperheatSubcoolingAnswer {
	t.Helper()
	return answer(t, engine.SuperheatSubcooling, read[query.SuperheatSubcoolingQuestion](t, body))
}

// A healthy R-410A split system with a thermostatic valve; %s takes further
// members of the question.
func healthy(more string) string {
	return fmt.Sprintf(`{"system": {"refrigerant": "R-410A", "metering_device": "thermostatic_valve", "mode": "cooling", "stages": 1,
		"target_subcooling": {"value": 10, "unit": "delta_degF"}},
	 "site": {"altitude": {"value": 600, "unit": "ft"}},
	 "running_time": {"value": 20, "unit": "min"},
	 "readings": {"suction_pressure": {"value": 123, "unit": "psig"}, "suction_line_temperature": {"value": 54, "unit": "degF"},
		"liquid_pressure": {"value": 355, "unit": "psig"}, "liquid_line_temperature": {"value": 99, "unit": "degF"},
		"outdoor_dry_bulb": {"value": 90, "unit": "degF"}, "return_dry_bulb": {"value": 77, "unit": "degF"}, "return_wet_bulb": {"value": 64, "unit": "degF"},
		"supply_dry_bulb": {"value": 57.5, "unit": "degF"}}%s}`, more)
}
