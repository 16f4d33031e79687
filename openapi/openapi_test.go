package openapi_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"github.com/oasdiff/yaml"

	"github.com/knurl-hvacr/knurl/openapi"
)

func TestBothFormsSayTheSame(t *testing.T) {
	var fromJSON, fromYAML map[string]any
	if err := json.Unmarshal(openapi.JSON, &fromJSON); err != nil {
		t.Fatal(err)
	}
	asJSON, err := yaml.YAMLToJSON(openapi.YAML)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(asJSON, &fromYAML); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(fromJSON, fromYAML) {
		t.Error("openapi.json and openapi.yaml differ")
	}
	if fromJSON["openapi"] != "3.1.1" {
		t.Errorf("version %v", fromJSON["openapi"])
	}
}
