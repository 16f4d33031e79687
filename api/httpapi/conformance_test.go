package httpapi

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/call"
	"github.com/knurl-hvacr/knurl/engine/conformance"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
)

var conformAgain = flag.Bool("conform-again", false, "make testdata/conformance/regression.json of today's answers")

const conformancePairs = "../../testdata/conformance/"

const regression = "regression"

func pairs(t *testing.T, file string) []conformance.Pair {
	t.Helper()
	data, err := os.ReadFile(conformancePairs + file)
	require.NoError(t, err)
	all, err := conformance.Read(data)
	require.NoError(t, err)
	return all
}

func TestConformance(t *testing.T) {
	if *conformAgain {
		writeRegression(t)
	}
	outside, own := 0, 0
	operations, kinds := map[string]bool{}, map[string]bool{}
	names := map[string]bool{}
	for _, file := range []string{"outside.json", "regression.json"} {
		for _, p := range pairs(t, file) {
			if names[p.Name] {
				t.Errorf("%s stands twice", p.Name)
			}
			names[p.Name] = true
			got := drive(t, request(p.Method, p.Path, string(p.Question)))
			faults, _ := p.Judge(got.Code, got.body)
			for _, fault := range faults {
				t.Errorf("%s: %s", p.Name, fault)
			}
			var doc any
			require.NoError(t, json.Unmarshal(got.body, &doc), "%s", p.Name)
			if kind, ok := conformance.At(doc, "/type"); ok && p.Status >= 400 {
				kinds[strings.TrimPrefix(kind.(string), "/problems/")] = true
			} else {
				operations[operationOf(p)] = true
			}
			for _, e := range p.Expect {
				switch {
				case e.Number == nil:
				case e.Source == "":
					t.Errorf("%s: %s has no source", p.Name, e.Pointer)
				case e.Source == regression:
					own++
				default:
					outside++
				}
			}
		}
	}
	if 3*outside < outside+own {
		t.Errorf("%d numbers from outside of %d: a third is wanted", outside, outside+own)
	}
	for path, methods := range documentedPaths() {
		if path == batchPath { // a stream, whose lines are asked as /v1/diagnosis is: a binding has no use for it
			continue
		}
		if strings.HasPrefix(path, "/v1/") && !operations[methods[0]+" "+path] {
			t.Errorf("no pair for %s %s", methods[0], path)
		}
	}
	// What a question alone can bring about.
	for _, k := range []problem.Kind{problem.UnreadableQuestion, problem.InvalidQuestion, problem.UnknownRefrigerant, problem.NotFound, problem.MethodNotAllowed} {
		if !kinds[string(k)] {
			t.Errorf("no pair for the problem %s", k)
		}
	}
}

// Bindings answer what the service answers, byte for byte but for the ids of a
// request and the words about paths.
func TestBindingsAnswerAsTheServiceDoes(t *testing.T) {
	e := call.New(query.New())
	asked := append(pairs(t, "outside.json"), pairs(t, "regression.json")...)
	for _, q := range []struct{ method, path, question string }{
		{"POST", "/v1/diagnosis", `{`},
		{"POST", "/v1/diagnosis", ``},
		{"POST", "/v1/diagnosis?units=kelvin&explan=true", `{"readings":{"suction_presure":{"value":1,"unit":"psig"}}}`},
		{"POST", "/v1/saturation?units=si", `{"refrigerant":"R-22","refrigerant":"R-32","points":[{"temperature":{"value":"40","unit":"degF"}}]}`},
		{"POST", "/v1/moist-air?explain=true&units=si", `{"dry_bulb":{"value":70,"unit":"degF"},"wet_bulb":{"value":60,"unit":"degF"}}`},
		{"GET", "/v1/refrigerants/R-22/saturation?pressure=118psi&pressure=1psig", ``},
		{"GET", "/v1/refrigerants/r%2D410a/saturation?temperature=%2D4.5degC&explain=true", ``},
		{"GET", "/v1/refrigerants/R-22/saturation-table?from=30degF&to=50degF&step=0delta_degF", ``},
		{"GET", "/v1/units/", ``},
	} {
		asked = append(asked, conformance.Pair{Method: q.method, Path: q.path, Question: json.RawMessage(q.question)})
	}
	for _, p := range asked {
		served := drive(t, request(p.Method, p.Path, string(p.Question)))
		status, answer := e.Ask(p.Method, p.Path, p.Question)
		want := strings.TrimSuffix(string(served.body), "\n")
		if served.Code >= 400 {
			plain := func(body []byte) string {
				var q problem.Problem
				require.NoError(t, json.Unmarshal(body, &q))
				q.RequestID, q.TraceID = "", ""
				if q.Type == "/problems/not-found" || q.Type == "/problems/method-not-allowed" {
					q.Detail = ""
				}
				text, err := json.Marshal(q)
				require.NoError(t, err)
				return string(text)
			}
			want, answer = plain(served.body), []byte(plain(answer))
		}
		if status != served.Code || string(answer) != want {
			t.Errorf("%s %s %s: the service answers %d %.300s, bindings %d %.300s", p.Method, p.Path, p.Question, served.Code, want, status, answer)
		}
	}
}

// operationOf is the method and the path of the document that a pair asks.
func operationOf(p conformance.Pair) string {
	path, _, _ := strings.Cut(p.Path, "?")
	parts := strings.Split(path, "/")
	for known, methods := range documentedPaths() {
		if slices.Contains(methods, p.Method) && slices.EqualFunc(strings.Split(known, "/"), parts, func(k, g string) bool { return k == g || strings.HasPrefix(k, "{") }) {
			return p.Method + " " + known
		}
	}
	return ""
}

// writeRegression takes the demo's requests and a few that are refused, and
// keeps the first numbers and codes of today's answers. Nobody but ourselves
// vouches for them.
func writeRegression(t *testing.T) {
	var all []conformance.Pair
	list := mustRead(t, "../../testdata/demo/demo.json")
	var demo []struct{ Name, Method, Path, Body string }
	require.NoError(t, json.Unmarshal([]byte(list), &demo))
	for _, d := range demo {
		if d.Path == batchPath {
			continue
		}
		p := conformance.Pair{Name: d.Name, Method: d.Method, Path: d.Path}
		if d.Body != "" {
			p.Question = json.RawMessage(mustRead(t, "../../testdata/demo/"+d.Body))
		}
		all = append(all, p)
	}
	all = append(all,
		conformance.Pair{Name: "units", Method: "GET", Path: "/v1/units"},
		conformance.Pair{Name: "codes", Method: "GET", Path: "/v1/codes"},
		conformance.Pair{Name: "refrigerants", Method: "GET", Path: "/v1/refrigerants"},
		conformance.Pair{Name: "diagram", Method: "GET", Path: "/v1/refrigerants/R-454B/pressure-enthalpy-diagram"},
		conformance.Pair{Name: "diagram-of-readings", Method: "POST", Path: "/v1/pressure-enthalpy-diagram", Question: json.RawMessage(mustRead(t, "../../testdata/demo/museum-superheat-subcooling.json"))},
		conformance.Pair{Name: "refused-wet-bulb-above-dry-bulb", Method: "POST", Path: "/v1/moist-air", Question: json.RawMessage(`{"dry_bulb":{"value":70,"unit":"degF"},"wet_bulb":{"value":80,"unit":"degF"}}`)},
		conformance.Pair{Name: "refused-above-critical", Method: "GET", Path: "/v1/refrigerants/R-22/saturation?pressure=5000psig"},
		conformance.Pair{Name: "refused-unknown-refrigerant", Method: "GET", Path: "/v1/refrigerants/R-999"},
		conformance.Pair{Name: "refused-unknown-member", Method: "POST", Path: "/v1/diagnosis", Question: json.RawMessage(`{"sistem":{}}`)},
		conformance.Pair{Name: "refused-no-such-path", Method: "GET", Path: "/v1/nothing"},
		conformance.Pair{Name: "refused-method", Method: "PUT", Path: "/v1/units"},
	)
	for i := range all {
		got := drive(t, request(all[i].Method, all[i].Path, string(all[i].Question)))
		var doc any
		require.NoError(t, json.Unmarshal(got.body, &doc))
		all[i].Status = got.Code
		keep(&all[i], doc, "", 0)
	}
	out, err := json.MarshalIndent(all, "", " ")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(conformancePairs+"regression.json", append(out, '\n'), 0o644))
}

// Per pair, and per list: more would say the same again.
const (
	mostKept   = 12
	firstItems = 2
)

// notKept are members that a caller's own words, the data's revision or a
// request's id fill.
var notKept = []string{"provenance", "text", "params", "detail", "title", "request_id", "trace_id", "instance", "steps", "assumptions", "cautions", "document_hash", "reference", "issued_at", "practice", "citation"}

func keep(p *conformance.Pair, doc any, pointer string, depth int) {
	if len(p.Expect) >= mostKept || depth > 5 {
		return
	}
	switch v := doc.(type) {
	case map[string]any:
		var names []string
		for name := range v {
			if !slices.Contains(notKept, name) && !strings.ContainsAny(name, "/~") {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		for _, name := range names {
			keep(p, v[name], pointer+"/"+name, depth+1)
		}
	case []any:
		for i, item := range v[:min(len(v), firstItems)] {
			keep(p, item, pointer+"/"+strconv.Itoa(i), depth+1)
		}
	case string:
		p.Expect = append(p.Expect, conformance.Expected{Pointer: pointer, Text: &v})
	case float64:
		p.Expect = append(p.Expect, conformance.Expected{Pointer: pointer, Number: &v, Within: max(1e-6, math.Abs(v)*1e-5), Source: regression})
	}
}
