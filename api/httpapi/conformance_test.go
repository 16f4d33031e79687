package httpapi

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/api/problem"
)

var conformAgain = flag.Bool("conform-again", false, "make testdata/conformance/regression.json of today's answers")

const conformance = "../../testdata/conformance/"

// pair is a request and what its answer must say, as testdata/conformance has
// them.
type pair struct {
	Name     string          `json:"name"`
	Method   string          `json:"method"`
	Path     string          `json:"path"`
	Question json.RawMessage `json:"question,omitempty"`
	Status   int             `json:"status"`
	Expect   []expected      `json:"expect"`
}

type expected struct {
	Pointer string   `json:"pointer"`
	Text    *string  `json:"text,omitempty"`
	Number  *float64 `json:"number,omitempty"`
	Within  float64  `json:"within,omitempty"`
	Source  string   `json:"source,omitempty"`
}

const regression = "regression"

func pairs(t *testing.T, file string) []pair {
	t.Helper()
	data, err := os.ReadFile(conformance + file)
	if err != nil {
		t.Fatal(err)
	}
	var all []pair
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&all); err != nil {
		t.Fatal(err)
	}
	return all
}

func (p pair) request() (method, path, body string) { return p.Method, p.Path, string(p.Question) }

// at follows a JSON Pointer (RFC 6901) without escapes.
func at(doc any, pointer string) (any, bool) {
	for part := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		switch v := doc.(type) {
		case map[string]any:
			inner, ok := v[part]
			if !ok {
				return nil, false
			}
			doc = inner
		case []any:
			i, err := strconv.Atoi(part)
			if err != nil || i < 0 || i >= len(v) {
				return nil, false
			}
			doc = v[i]
		default:
			return nil, false
		}
	}
	return doc, true
}

func (e expected) fault(doc any) string {
	got, ok := at(doc, e.Pointer)
	switch {
	case !ok:
		return e.Pointer + " is not there"
	case e.Text != nil && got != *e.Text:
		return fmt.Sprintf("%s is %v, want %s", e.Pointer, got, *e.Text)
	case e.Number != nil:
		if v, ok := got.(float64); !ok || !(math.Abs(v-*e.Number) <= e.Within) {
			return fmt.Sprintf("%s is %v, want %v within %v (%s)", e.Pointer, got, *e.Number, e.Within, e.Source)
		}
	}
	return ""
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
			method, path, body := p.request()
			got := drive(t, request(method, path, body))
			if got.Code != p.Status || len(p.Expect) == 0 {
				t.Errorf("%s: status %d, want %d; %d expectations", p.Name, got.Code, p.Status, len(p.Expect))
				continue
			}
			var doc any
			if err := json.Unmarshal(got.body, &doc); err != nil {
				t.Errorf("%s: %v", p.Name, err)
				continue
			}
			if kind, ok := at(doc, "/type"); ok && p.Status >= 400 {
				kinds[strings.TrimPrefix(kind.(string), "/problems/")] = true
			} else {
				operations[operationOf(p)] = true
			}
			for _, e := range p.Expect {
				if fault := e.fault(doc); fault != "" {
					t.Errorf("%s: %s", p.Name, fault)
				}
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

// operationOf is the method and the path of the document that a pair asks.
func operationOf(p pair) string {
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
	var all []pair
	list := mustRead(t, "../../testdata/demo/demo.json")
	var demo []struct{ Name, Method, Path, Body string }
	if err := json.Unmarshal([]byte(list), &demo); err != nil {
		t.Fatal(err)
	}
	for _, d := range demo {
		p := pair{Name: d.Name, Method: d.Method, Path: d.Path}
		if d.Body != "" {
			p.Question = json.RawMessage(mustRead(t, "../../testdata/demo/"+d.Body))
		}
		all = append(all, p)
	}
	all = append(all,
		pair{Name: "units", Method: "GET", Path: "/v1/units"},
		pair{Name: "codes", Method: "GET", Path: "/v1/codes"},
		pair{Name: "refrigerants", Method: "GET", Path: "/v1/refrigerants"},
		pair{Name: "diagram", Method: "GET", Path: "/v1/refrigerants/R-454B/pressure-enthalpy-diagram"},
		pair{Name: "diagram-of-readings", Method: "POST", Path: "/v1/pressure-enthalpy-diagram", Question: json.RawMessage(mustRead(t, "../../testdata/demo/museum-superheat-subcooling.json"))},
		pair{Name: "refused-wet-bulb-above-dry-bulb", Method: "POST", Path: "/v1/moist-air", Question: json.RawMessage(`{"dry_bulb":{"value":70,"unit":"degF"},"wet_bulb":{"value":80,"unit":"degF"}}`)},
		pair{Name: "refused-above-critical", Method: "GET", Path: "/v1/refrigerants/R-22/saturation?pressure=5000psig"},
		pair{Name: "refused-unknown-refrigerant", Method: "GET", Path: "/v1/refrigerants/R-999"},
		pair{Name: "refused-unknown-member", Method: "POST", Path: "/v1/diagnosis", Question: json.RawMessage(`{"sistem":{}}`)},
		pair{Name: "refused-no-such-path", Method: "GET", Path: "/v1/nothing"},
		pair{Name: "refused-method", Method: "PUT", Path: "/v1/units"},
	)
	for i := range all {
		method, path, body := all[i].request()
		got := drive(t, request(method, path, body))
		var doc any
		if err := json.Unmarshal(got.body, &doc); err != nil {
			t.Fatal(err)
		}
		all[i].Status = got.Code
		keep(&all[i], doc, "", 0)
	}
	out, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(conformance+"regression.json", append(out, '\n'), 0o644); err != nil {
		t.Fatal(err)
	}
}

// Per pair, and per list: more would say the same again.
const (
	mostKept   = 12
	firstItems = 2
)

// notKept are members that a caller's own words, the data's revision or a
// request's id fill.
var notKept = []string{"provenance", "text", "detail", "title", "request_id", "trace_id", "instance", "steps", "assumptions", "cautions", "document_hash", "reference", "issued_at", "practice", "citation"}

func keep(p *pair, doc any, pointer string, depth int) {
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
		p.Expect = append(p.Expect, expected{Pointer: pointer, Text: &v})
	case float64:
		p.Expect = append(p.Expect, expected{Pointer: pointer, Number: &v, Within: max(1e-6, math.Abs(v)*1e-5), Source: regression})
	}
}
