package batch

import (
	"encoding/json"
	"errors"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

var engine = query.New()

func TestLines(t *testing.T) {
	const good = `"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":118,"unit":"psig"}}`
	for _, tt := range []struct {
		name, line, id string
		faults         []string
	}{
		{"no id", `{` + good + `}`, "", nil},
		{"a string", `{"id":"a \u00e9 <b>",` + good + `}`, `"a \u00e9 <b>"`, nil},
		{"a number as it is written", `{"id":1.50e40,` + good + `}`, `1.50e40`, nil},
		{"a negative number", `{"id":-7,` + good + `}`, `-7`, nil},
		{"null is none", `{"id":null,` + good + `}`, "", nil},
		{"no object", `{"id":{},` + good + `}`, "", []string{"/id wrong_type"}},
		{"no boolean", `{"id":true,"readings":{"suction_pressure":{"value":1,"unit":"psi"}}}`, "", []string{"/id wrong_type", "/readings/suction_pressure/unit unknown_unit"}},
		{"twice", `{"id":1,"id":2,` + good + `}`, `2`, []string{"/id repeated_member"}},
		{"a faulty question", `{"id":"x","sistem":{},"readings":{"suction_pressure":{"value":1,"unit":"psi"}}}`, `"x"`, []string{"/sistem unknown_member", "/readings/suction_pressure/unit unknown_unit"}},
		{"broken", `{"id":"x",`, "", []string{" syntax"}},
		{"two values", `{} {}`, "", []string{" syntax"}},
	} {
		id, a, err := Diagnosis(engine, "units=si", []byte(tt.line))
		if string(id) != tt.id {
			t.Errorf("%s: id %s, want %s", tt.name, id, tt.id)
		}
		var got []string
		if refusal, ok := errors.AsType[*query.Refusal](err); ok {
			for _, f := range refusal.Errors {
				if f.Code == query.CodeMissing {
					continue // of the rest of the question
				}
				got = append(got, f.Pointer+" "+string(f.Code))
			}
		} else if err != nil || a.State.EvaporatorDewTemperature == nil || a.State.EvaporatorDewTemperature.Unit != "degC" {
			t.Errorf("%s: %v, %+v", tt.name, err, a.State)
		}
		if !slices.Equal(got, tt.faults) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.faults)
		}
	}
}

// A line is answered as the same question alone is.
func TestAsAlone(t *testing.T) {
	body, err := os.ReadFile("../../testdata/demo/museum-second-visit.json")
	require.NoError(t, err)
	var q query.DiagnosisQuestion
	require.NoError(t, json.Unmarshal(body, &q))
	alone, err := engine.Diagnosis(q, query.Presentation{Units: "ip", Explain: true})
	require.NoError(t, err)
	_, line, err := Diagnosis(engine, "explain=true", body)
	require.NoError(t, err)
	a, _ := json.Marshal(alone)
	b, _ := json.Marshal(line)
	if string(a) != string(b) {
		t.Errorf("alone %s\nin a batch %s", a, b)
	}
}
