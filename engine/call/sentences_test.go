package call

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/conformance"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// Every sentence of every answer and problem is its code's text filled with its params, as
// a client reads them from the document: with the texts of another language the
// same params give the same sentence there.
func TestSentencesFollowFromCodesAndParams(t *testing.T) {
	e := New(query.New())
	said := map[phrase.Code]bool{}
	for _, r := range requests(t) {
		for _, ask := range []string{"units=ip&explain=true", "units=si&explain=true"} {
			path := r.Path + "?" + ask
			if strings.Contains(r.Path, "?") {
				path = r.Path + "&" + ask
			}
			_, answer := e.Ask(r.Method, path, r.Question)
			var decoded any
			require.NoError(t, json.Unmarshal(answer, &decoded), r.Name)
			for _, name := range needed(decoded) {
				if _, err := phrase.Name(phrase.Code(name)); err != nil && !strings.Contains(name, "/") { // a hose's, by its path
					t.Errorf("%s: what is needed has no name: %v", r.Name, err)
				}
			}
			sentences(decoded, "", func(at string, code phrase.Code, text string, params phrase.Params) {
				said[code] = true
				got, err := phrase.Fill(code, params)
				require.NoError(t, err, "%s?%s: %s", r.Name, ask, at)
				require.Equal(t, text, got, "%s?%s: %s with %v", r.Name, ask, at, params)
			})
		}
	}
	for _, x := range phrase.Entries() {
		if len(x.Slots) > 0 && x.Kind != "request_error_reason" && !said[x.Code] {
			require.Contains(t, elsewhere, x.Code)
		}
	}
}

// Reasons of errors are said of requests that are refused: the tests of query and
// of the service hold those.
//
// elsewhere are texts with slots that are the text of no answer to these
// requests: the first is said by the printed record, wordings stand inside
// others, and the rest need a composition of which
// no critical point is found, or one whose liquid splits.
var elsewhere = []phrase.Code{"charge_off_by", "value_within", "list_or", "list_and", "above_unknown_critical", "near_unknown_critical", "two_liquids"}

// rare are requests that bring about what the demo does not.
var rare = []conformance.Pair{
	{Name: "no liquid at 0 degC", Method: "GET", Path: "/v1/refrigerants/R-14/saturation?temperature=-100degC"},
	{Name: "its diagram", Method: "POST", Path: "/v1/pressure-enthalpy-diagram", Question: json.RawMessage(`{"system": {"refrigerant": "R-14"}}`)},
	{Name: "solid", Method: "GET", Path: "/v1/refrigerants/R-744/saturation?temperature=-70degF"},
	{Name: "from memory", Method: "GET", Path: "/v1/refrigerants/R-501/saturation?temperature=0degF"},
	{Name: "estimated mixing", Method: "GET", Path: "/v1/refrigerants/R-401A/saturation?temperature=0degF"},
	{Name: "above critical", Method: "POST", Path: "/v1/superheat-subcooling", Question: json.RawMessage(`{"system": {"refrigerant": "R-410A"},
		"site": {"gauge_zero": "sea_level", "atmospheric_pressure": {"value": 95, "unit": "kPaa"}},
		"readings": {"suction_pressure": {"value": 118, "unit": "psig"}, "liquid_pressure": {"value": 900, "unit": "psig"}}}`)},
	{Name: "below range", Method: "POST", Path: "/v1/superheat-subcooling", Question: json.RawMessage(`{"system": {"refrigerant": "R-23"},
		"readings": {"suction_pressure": {"value": 1, "unit": "micron", "accuracy": 0.001}}}`)},
	{Name: "not converged", Method: "POST", Path: "/v1/superheat-subcooling", Question: json.RawMessage(`{"system":
		{"composition": [{"refrigerant": "R-744", "mass_percent": 50}, {"refrigerant": "R-718", "mass_percent": 50}]},
		"readings": {"liquid_pressure": {"value": 100, "unit": "psig"}}}`)},
	{Name: "discharge", Method: "POST", Path: "/v1/superheat-subcooling", Question: json.RawMessage(`{"system": {"refrigerant": "R-410A"},
		"readings": {"discharge_pressure": {"value": 305, "unit": "psig"}, "discharge_line_temperature": {"value": 180, "unit": "degF"}}}`)},
	{Name: "beyond the table", Method: "POST", Path: "/v1/target-superheat", Question: json.RawMessage(`{
		"readings": {"outdoor_dry_bulb": {"value": 120, "unit": "degF"}, "return_wet_bulb": {"value": 63, "unit": "degF"}}}`)},
	{Name: "warm carbon dioxide", Method: "POST", Path: "/v1/standing-pressure", Question: json.RawMessage(`{"system": {"refrigerant": "R-744"},
		"readings": {"suction_pressure": {"value": 900, "unit": "psig"}, "outdoor_dry_bulb": {"value": 95, "unit": "degF"}, "return_dry_bulb": {"value": 70, "unit": "degF"}}}`)},
	{Name: "settling", Method: "POST", Path: "/v1/stability", Question: settling},
}

// settling is a line that cools towards 54 degF with a time constant of 400 s.
var settling = func() json.RawMessage {
	var times, values []float64
	for i := range 31 {
		at := 20 * float64(i)
		times, values = append(times, at), append(values, 54+30*math.Exp(-at/400)+0.1*float64(i*7%5-2))
	}
	question, err := json.Marshal(query.StabilityQuestion{Series: []query.SeriesQuestion{{Reading: "suction_line_temperature", Unit: "degF", Times: times, Values: values}}})
	if err != nil {
		panic(err)
	}
	return question
}()

// needed are the codes under needs.
func needed(v any) []string {
	answer, _ := v.(map[string]any)
	needs, _ := answer["needs"].([]any)
	var all []string
	for _, n := range needs {
		need, _ := n.(map[string]any)
		names, _ := need["for"].([]any)
		for _, name := range append(names, need["reading"]) {
			all = append(all, fmt.Sprint(name))
		}
	}
	return all
}

// requests are those of the conformance pairs, which hold the demo's, and rare ones.
func requests(t *testing.T) []conformance.Pair {
	t.Helper()
	all := slices.Clone(rare)
	for _, file := range []string{"outside.json", "regression.json"} {
		data, err := os.ReadFile("../../testdata/conformance/" + file)
		require.NoError(t, err)
		pairs, err := conformance.Read(data)
		require.NoError(t, err)
		all = append(all, pairs...)
	}
	return all
}

// named are members whose value is the code of the text beside it, where that
// is not called code.
var named = []string{"code", "fault", "option", "case", "state", "process", "interpretation", "status"}

// sentences gives every text of a document with its code and its params; of
// errors those details that have some.
func sentences(v any, at string, found func(at string, code phrase.Code, text string, params phrase.Params)) {
	switch v := v.(type) {
	case []any:
		for i, x := range v {
			sentences(x, fmt.Sprintf("%s/%d", at, i), found)
		}
	case map[string]any:
		_, template := v["slots"]
		if text, ok := v["text"].(string); ok && !template {
			i := slices.IndexFunc(named, func(name string) bool { _, ok := v[name].(string); return ok })
			code := ""
			if i >= 0 {
				code, _ = v[named[i]].(string)
			}
			params, _ := v["params"].(map[string]any)
			found(at, phrase.Code(code), text, params)
		}
		params, with := v["params"].(map[string]any)
		detail, ok := v["detail"].(string)
		code, coded := v["code"].(string)
		reason, closer := v["reason"].(string)
		switch {
		case coded && ok && closer:
			found(at, phrase.Code(reason), detail, params)
		case coded && ok && with:
			found(at, phrase.Code(code), detail, params)
		}
		for name, x := range v {
			if name != "params" {
				sentences(x, at+"/"+name, found)
			}
		}
	}
}
