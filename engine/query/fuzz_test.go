package query_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

// Whatever a body holds, decoding and diagnosing it ends in an answer that can
// be written, or in faults; half of a faulty body is asked too, as the service
// does.
func FuzzDiagnosis(f *testing.F) {
	names, err := filepath.Glob("../../testdata/demo/*.json")
	require.NoError(f, err)
	for _, name := range names {
		body, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(body)
	}
	for _, seed := range []string{
		healthy(""), healthy(`, "prior": {"undercharge": 1}`), `{}`, `null`, `[]`, readings(suction),
		`{"system": {"composition": [{"refrigerant": "R-32", "mass_percent": 50}, {"refrigerant": "R-1234yf", "mass_percent": 50}], "metering_device": "fixed_orifice", "nominal_capacity": {"value": 3, "unit": "ton"}},
		  "readings": {"suction_pressure": {"value": 1e-3, "unit": "psia", "accuracy": 9}, "indoor_airflow": {"value": 0, "unit": "cfm"}, "return_relative_humidity": {"value": 100, "unit": "percent"}, "return_dry_bulb": {"value": -40, "unit": "degF"}}}`,
		`{"system": {"refrigerant": "CO2"}, "site": {"atmospheric_pressure": {"value": 20, "unit": "kPaa"}}, "readings": {"liquid_pressure": {"value": 1070, "unit": "psia"}, "discharge_line_temperature": {"value": 480, "unit": "degF"}}}`,
	} {
		f.Add([]byte(seed))
	}
	decoder := strictjson.For[query.DiagnosisQuestion]()
	f.Fuzz(func(t *testing.T, body []byte) {
		q, err := decoder.Decode(body)
		var faults *strictjson.Misfits
		if err != nil && !errors.As(err, &faults) {
			t.Fatalf("decoding: %v", err)
		}
		a, err := engine.Diagnosis(q, query.Presentation{Explain: len(body)%2 == 0})
		var refusal *query.Refusal
		switch {
		case errors.As(err, &refusal):
			if len(refusal.Errors) == 0 {
				t.Fatal("a refusal without a fault")
			}
			text(t, refusal.Errors)
			pointInto(t, q, refusal)
		case err != nil:
			t.Fatalf("no refusal: %v", err)
		default:
			text(t, a)
		}
	})
}
