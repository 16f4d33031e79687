package call

import (
	"encoding/json"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/operation"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// Every operation of the document that answers in JSON can be asked here, and
// none besides: the batch is a stream, and a binding asks its lines one by one.
func TestEveryOperationIsBound(t *testing.T) {
	text, err := os.ReadFile("../../openapi/openapi.json")
	require.NoError(t, err)
	var doc struct {
		Paths map[string]map[string]struct {
			Responses map[string]struct{ Content map[string]any }
		}
	}
	require.NoError(t, json.Unmarshal(text, &doc))
	promised := map[string]bool{}
	for path, item := range doc.Paths {
		for method, o := range item {
			if _, ok := o.Responses["200"].Content["application/json"]; ok && strings.HasPrefix(path, "/v1/") && method != "head" {
				promised[strings.ToUpper(method)+" "+path] = true
			}
		}
	}
	for _, o := range operation.All() {
		if name := o.Method + " " + o.Path; !promised[name] {
			t.Errorf("%s is bound, and not in the document or bound twice", name)
		} else {
			delete(promised, name)
		}
	}
	for name := range promised {
		t.Errorf("%s is in the document, and not bound: give it a line in operations", name)
	}
}

func TestRefusals(t *testing.T) {
	e := New(query.New())
	for _, tt := range []struct {
		method, target, body string
		want                 problem.Kind
		codes                []string
	}{
		{"GET", "/v1/nothing", "", problem.NotFound, nil},
		{"GET", "", "", problem.NotFound, nil},
		{"GET", "/v1/refrigerants/", "", problem.NotFound, nil},
		{"GET", "/v1/refrigerants/%zz", "", problem.NotFound, nil},
		{"PUT", "/v1/units", "", problem.MethodNotAllowed, nil},
		{"get", "/v1/units", "", problem.MethodNotAllowed, nil},
		{"GET", "/v1/refrigerants/R-999", "", problem.UnknownRefrigerant, []string{"unknown_refrigerant"}},
		{"GET", "/v1/units?unit=si&explain=2", "", problem.UnreadableQuestion, []string{"unknown_name", "unknown_member"}},
		{"POST", "/v1/diagnosis", "", problem.UnreadableQuestion, []string{"syntax"}},
		{"POST", "/v1/diagnosis", "{", problem.UnreadableQuestion, []string{"syntax"}},
		{"POST", "/v1/diagnosis", "\xff", problem.UnreadableQuestion, []string{"syntax"}},
		{"POST", "/v1/moist-air", `{"dry_bulb":{"value":70,"unit":"degF"},"dry_bulb":{"value":71,"unit":"degF"},"wet":1}`, problem.UnreadableQuestion, []string{"repeated_member", "unknown_member", "missing"}},
		{"POST", "/v1/moist-air", `{"dry_bulb":{"value":70,"unit":"degF"},"wet_bulb":{"value":80,"unit":"degF"}}`, problem.InvalidQuestion, []string{"out_of_range"}},
	} {
		status, answer := e.Ask(tt.method, tt.target, []byte(tt.body))
		var p problem.Problem
		want := tt.want.Describe()
		err := json.Unmarshal(answer, &p)
		require.NoError(t, err, "%s %s %s", tt.method, tt.target, tt.body)
		require.Equal(t, want.Status, status, "%s %s %s", tt.method, tt.target, tt.body)
		require.Equal(t, want.Type, p.Type, "%s %s %s", tt.method, tt.target, tt.body)
		require.Equal(t, want.Title, p.Title, "%s %s %s", tt.method, tt.target, tt.body)
		require.Equal(t, status, p.Status, "%s %s %s", tt.method, tt.target, tt.body)
		var codes []string
		for _, f := range p.Errors {
			codes = append(codes, string(f.Code))
		}
		slices.Sort(codes)
		slices.Sort(tt.codes)
		if !slices.Equal(codes, tt.codes) {
			t.Errorf("%s %s %s: %q, want %q", tt.method, tt.target, tt.body, codes, tt.codes)
		}
	}
}

func TestEscapedDesignation(t *testing.T) {
	e := New(query.New())
	_, plain := e.Ask("GET", "/v1/refrigerants/R-454B", nil)
	if status, escaped := e.Ask("GET", "/v1/refrigerants/R%2D454B", nil); status != 200 || string(plain) != string(escaped) {
		t.Errorf("%d %.80s", status, escaped)
	}
}

// A fault of the engine's own ends no host program and tells nothing of itself.
func TestFaultsOfTheEngine(t *testing.T) {
	fail := func(path string, with func()) operation.Operation {
		return operation.Get("fails", path, question.Units, func(*query.Engine, query.UnitsQuestion, query.Presentation) (any, error) {
			with()
			return nil, errors.New("the inner secret")
		})
	}
	e := New(query.New())
	e.operations = operation.Registry{
		fail("/panics", func() { panic("the inner secret") }),
		fail("/overruns", func() { _ = []int{}[len(os.Args)] }),
		fail("/fails", func() {}),
	}
	for _, o := range e.operations {
		status, answer := e.Ask("GET", o.Path, nil)
		if want := `{"type":"/problems/internal-error","title":"The server failed","status":500}`; status != 500 || string(answer) != want {
			t.Errorf("%s: %d %s", o.Path, status, answer)
		}
	}
}
