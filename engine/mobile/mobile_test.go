package mobile

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

func TestAsk(t *testing.T) {
	e := NewEngine()
	answer, err := e.Ask("GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig&units=si", nil)
	if err != nil {
		t.Fatal(err)
	}
	var point struct {
		Refrigerant    string
		DewTemperature struct{ Unit string } `json:"dew_temperature"`
		Provenance     struct {
			EngineRevision string `json:"engine_revision"`
			DataRevision   string `json:"data_revision"`
		}
	}
	if err := json.Unmarshal(answer, &point); err != nil || point.Refrigerant != "R-410A" || point.DewTemperature.Unit != "degC" {
		t.Errorf("%s, %v", answer, err)
	}
	if EngineRevision() == "" || point.Provenance.EngineRevision != EngineRevision() || DataRevision() == "" || point.Provenance.DataRevision != DataRevision() {
		t.Errorf("revisions %q and %q, in the answer %+v", EngineRevision(), DataRevision(), point.Provenance)
	}
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
	if jsonErr := json.Unmarshal([]byte(err.Error()), &p); jsonErr != nil || p.Status != 400 || !strings.HasSuffix(p.Type, "/unreadable-question") || len(p.Errors) != 2 || p.Errors[0].Pointer != "/sistem" || p.Errors[1].Pointer != "/system/refrigerant" {
		t.Errorf("%v", err)
	}
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
	// Output: 404 "R-4100A" is not in the catalogue, did you mean R-410A?
}
