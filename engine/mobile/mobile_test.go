package mobile

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAsk(t *testing.T) {
	e := NewEngine()
	answer, err := e.Ask("GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig&units=si", nil)
	require.NoError(t, err)
	var point struct {
		Refrigerant    string
		DewTemperature struct{ Unit string } `json:"dew_temperature"`
		Provenance     struct {
			EngineRevision string `json:"engine_revision"`
			DataRevision   string `json:"data_revision"`
		}
	}
	err = json.Unmarshal(answer, &point)
	require.NoError(t, err)
	if point.Refrigerant != "R-410A" || point.DewTemperature.Unit != "degC" {
		t.Errorf("%s", answer)
	}
	require.NotEmpty(t, EngineRevision())
	require.Equal(t, EngineRevision(), point.Provenance.EngineRevision)
	require.NotEmpty(t, DataRevision())
	require.Equal(t, DataRevision(), point.Provenance.DataRevision)
}

func TestAskRefused(t *testing.T) {
	answer, err := NewEngine().Ask("POST", "/v1/diagnosis", []byte(`{"sistem":{}}`))
	if err == nil || answer != nil {
		t.Fatalf("answered %s", answer)
	}
	var p struct {
		Status int
		Type   string
		Errors []struct{ Pointer, Code string }
	}
	jsonErr := json.Unmarshal([]byte(err.Error()), &p)
	require.NoError(t, jsonErr)
	require.Equal(t, 400, p.Status)
	require.True(t, strings.HasSuffix(p.Type, "/unreadable-question"), "%v", err)
	require.Len(t, p.Errors, 2)
	require.Equal(t, "/sistem", p.Errors[0].Pointer)
	require.Equal(t, "/system/refrigerant", p.Errors[1].Pointer)
}

func ExampleEngine_Ask() {
	e := NewEngine()
	_, err := e.Ask("GET", "/v1/refrigerants/R-4100A", nil)
	var p struct {
		Status int
		Detail string
	}
	if json.Unmarshal([]byte(err.Error()), &p) == nil {
		fmt.Println(p.Status, p.Detail)
	}
	// Output: 404 "R-4100A" is not in the catalog, did you mean R-410A?
}
