package httpapi

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/knurl-hvacr/knurl/openapi"
)

var document = sync.OnceValue(func() *openapi3.T {
	doc, err := openapi3.NewLoader().LoadFromData(openapi.JSON)
	if err != nil {
		panic(err)
	}
	return doc
})

// usual are units and ranges for members by what is in their names, first match
// first, so that most quantities make sense and reach the engine.
var usual = []struct {
	part, unit string
	low, high  float64
}{
	{"relative_humidity", "percent", 10, 90}, {"humidity_ratio", "gr/lb", 20, 120}, {"fraction", "percent", 1, 80}, {"severity", "percent", 1, 40},
	{"superheat", "delta_degF", 2, 20}, {"subcooling", "delta_degF", 2, 20}, {"accuracy", "delta_degF", 0.1, 2}, {"atmospheric", "psia", 12, 15},
	{"suction_pressure", "psig", 50, 140}, {"pressure", "psig", 180, 400}, {"span", "psig", 300, 500}, {"limit", "psig", 300, 800},
	{"suction_line", "degF", 45, 70}, {"supply", "degF", 50, 60}, {"wet_bulb", "degF", 58, 68}, {"return_dry_bulb", "degF", 70, 80},
	{"temperature", "degF", 70, 110}, {"bulb", "degF", 70, 110}, {"dew_point", "degF", 30, 60},
	{"airflow", "cfm", 300, 2000}, {"nominal_capacity", "ton", 1, 5}, {"volume", "in3", 1, 50}, {"diameter", "in", 0.25, 1}, {"bore", "in", 0.1, 0.3},
	{"thickness", "in", 0.02, 0.05}, {"length", "ft", 3, 60}, {"altitude", "ft", 0, 6000}, {"time", "min", 1, 60}, {"rate", "oz/ft", 0.1, 1.2}, {"", "lb", 1, 50},
}

// exclusive members stand instead of others, or want some that a schema cannot
// say.
var exclusive = []string{"composition", "atmospheric_pressure", "accuracy_class", "instruments", "return_relative_humidity", "humidity_ratio", "prior", "volume", "refrigerant_inside", "service_pressure"}

// like makes a value of a schema; of one that may be wrong, a twentieth is.
func like(t *rapid.T, name string, s *openapi3.Schema, depth int, wrong bool) any {
	if wrong && rapid.IntRange(0, 19).Draw(t, "wrong") == 0 {
		return rapid.SampledFrom([]any{nil, -1.5, 1e300, "", "x\u0000é", true, []any{}, map[string]any{}, []any{nil}}).Draw(t, name)
	}
	for _, all := range s.AllOf {
		s = all.Value
	}
	switch {
	case len(s.Enum) > 0:
		return rapid.SampledFrom(s.Enum).Draw(t, name)
	case s.Type.Is("object") && s.Properties["unit"] != nil && s.Properties["value"] != nil && s.Properties["accuracy"] != nil:
		for _, u := range usual {
			if strings.Contains(name, u.part) {
				return map[string]any{"value": rapid.Float64Range(u.low, u.high).Draw(t, name), "unit": u.unit}
			}
		}
		return nil
	case s.Type.Is("object"):
		out := map[string]any{}
		var members []string
		for member := range s.Properties {
			members = append(members, member)
		}
		slices.Sort(members)
		for _, member := range members {
			if !wrong && slices.Contains(exclusive, member) {
				continue
			}
			if slices.Contains(s.Required, member) || depth < 5 && rapid.Bool().Draw(t, "has "+member) {
				out[member] = like(t, member, s.Properties[member].Value, depth+1, wrong)
			}
		}
		return out
	case s.Type.Is("array"):
		out := []any{}
		for range rapid.IntRange(0, 3).Draw(t, name+" items") {
			out = append(out, like(t, name, s.Items.Value, depth+1, wrong))
		}
		return out
	case s.Type.Is("boolean"):
		return rapid.Bool().Draw(t, name)
	case s.Type.Is("integer"):
		return rapid.IntRange(-2, 100).Draw(t, name)
	case s.Type.Is("number"):
		return rapid.Float64Range(-10, 200).Draw(t, name)
	case name == "refrigerant" || name == "refrigerant_inside":
		return rapid.SampledFrom([]string{"R-410A", "R-32", "r454b", "R-22", "R-744", "R-407C"}).Draw(t, name)
	case len(s.Examples) > 0:
		return s.Examples[0]
	default:
		return rapid.StringN(0, 12, 40).Draw(t, name)
	}
}

// Bodies made of the published schemas: whatever comes, the answer fits the
// document, and no request makes the server fail.
func TestSchemaDrivenRequests(t *testing.T) {
	statuses := map[string]map[int]int{}
	for path, item := range document().Paths.Map() {
		if item.Post == nil {
			continue
		}
		content, media := item.Post.RequestBody.Value.Content, jsonType
		if content[media] == nil {
			media = ndjsonType // a body of one line
		}
		schema := content[media].Schema.Value
		statuses[path] = map[int]int{}
		t.Run(strings.TrimPrefix(path, "/v1/"), rapid.MakeCheck(func(rt *rapid.T) {
			body, err := json.Marshal(like(rt, "question", schema, 0, rapid.IntRange(0, 2).Draw(rt, "spoiled") == 0))
			require.NoError(rt, err)
			r := request(http.MethodPost, path, string(body), "Content-Type", media)
			got := exchangeWith(t, service(), r)
			statuses[path][got.Code]++
			if got.Code >= 500 {
				rt.Fatalf("%s: %d %s", body, got.Code, got.body)
			}
			for _, m := range misfits(r, got.Result()) {
				rt.Errorf("%s: %s", body, m)
			}
		}))
	}
	answered := 0
	for path, by := range statuses {
		t.Logf("%s: %v", path, by)
		if by[http.StatusOK] > 0 {
			answered++
		}
	}
	if 2*answered < len(statuses) {
		t.Errorf("only %d of %d operations ever answered: the bodies teach nothing", answered, len(statuses))
	}
}
