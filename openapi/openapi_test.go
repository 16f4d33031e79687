package openapi_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"github.com/oasdiff/yaml"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/openapi"
)

func TestBothFormsSayTheSame(t *testing.T) {
	var fromJSON, fromYAML map[string]any
	require.NoError(t, json.Unmarshal(openapi.JSON, &fromJSON))
	asJSON, err := yaml.YAMLToJSON(openapi.YAML)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(asJSON, &fromYAML))
	if !reflect.DeepEqual(fromJSON, fromYAML) {
		t.Error("openapi.json and openapi.yaml differ")
	}
	if fromJSON["openapi"] != "3.1.1" {
		t.Errorf("version %v", fromJSON["openapi"])
	}
}
