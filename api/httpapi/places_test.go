package httpapi

import (
	"bytes"
	"encoding/json"
	"io"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/openapi"
)

// An error points at something: at a member that the published schema of the
// question has, or, where it is the member's name or spelling that is wrong, at
// what was sent. bodyOf keeps what was sent, for the handler empties it.
func bodyOf(t testing.TB, r *http.Request) []byte {
	t.Helper()
	if r.Body == nil {
		return nil
	}
	body, err := io.ReadAll(r.Body)
	if err != nil { // a body that breaks off by intention points nowhere
		r.Body = io.NopCloser(io.MultiReader(bytes.NewReader(body), failing{err}))
		return nil
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	return body
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// publishedMaps is the document as plain maps.
var publishedMaps = sync.OnceValue(func() map[string]any {
	var doc map[string]any
	if err := json.Unmarshal(openapi.JSON, &doc); err != nil {
		panic(err)
	}
	return doc
})

// misplaced lists the places of a problem that are none of the question's.
func misplaced(r *http.Request, body []byte, p problem.Problem) []string {
	var wrong []string
	operation := operationFor(r)
	for _, e := range p.Errors {
		spelled := slices.Contains([]any{query.CodeUnknownMember, query.CodeRepeatedMember, query.CodeSyntax}, any(e.Code))
		switch {
		case e.Parameter != "" && spelled:
			values, _ := url.ParseQuery(r.URL.RawQuery)
			if !slices.ContainsFunc(slices.Collect(maps.Keys(values)), func(name string) bool { return asJSON(name) == e.Parameter }) {
				wrong = append(wrong, "parameter "+e.Parameter)
			}
		case e.Parameter != "":
			if !hasParameter(operation, e.Parameter) {
				wrong = append(wrong, "parameter "+e.Parameter)
			}
		case e.Pointer != "" && spelled:
			var sent any
			if json.Unmarshal(body, &sent) == nil && !leads(sent, steps(e.Pointer)) {
				wrong = append(wrong, e.Pointer)
			}
		case e.Pointer != "":
			if schema, ok := questionSchema(operation); !ok || !describes(schema, steps(e.Pointer)) {
				wrong = append(wrong, e.Pointer)
			}
		}
	}
	return wrong
}

// asJSON is a name as it comes back in an answer, where bytes that are no UTF-8
// are replaced.
func asJSON(name string) (told string) {
	data, err := json.Marshal(name)
	if err == nil {
		err = json.Unmarshal(data, &told)
	}
	if err != nil {
		panic(err) // a string
	}
	return told
}

func steps(pointer string) []string {
	parts := strings.Split(pointer, "/")[1:]
	for i, p := range parts {
		parts[i] = strings.NewReplacer("~1", "/", "~0", "~").Replace(p)
	}
	return parts
}

// leads reports whether a decoded text has what a pointer leads to.
func leads(v any, path []string) bool {
	for _, name := range path {
		switch x := v.(type) {
		case map[string]any:
			member, ok := x[name]
			if !ok {
				return false
			}
			v = member
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i < 0 || i >= len(x) {
				return false
			}
			v = x[i]
		default:
			return false
		}
	}
	return true
}

// referred is a part of the document, or what it refers to; nil where it leads
// nowhere.
func referred(part any) map[string]any {
	s, _ := part.(map[string]any)
	ref, ok := s["$ref"].(string)
	if !ok {
		return s
	}
	target := any(publishedMaps())
	for _, name := range steps(strings.TrimPrefix(ref, "#")) {
		m, _ := target.(map[string]any)
		target = m[name]
	}
	return referred(target)
}

// describes reports whether a schema has what a pointer leads to.
func describes(schema any, path []string) bool {
	s := referred(schema)
	for _, of := range []string{"allOf", "anyOf", "oneOf"} {
		list, _ := s[of].([]any)
		if slices.ContainsFunc(list, func(part any) bool { return describes(part, path) }) {
			return true
		}
	}
	if len(path) == 0 {
		return s != nil
	}
	if properties, ok := s["properties"].(map[string]any); ok {
		if member, ok := properties[path[0]]; ok {
			return describes(member, path[1:])
		}
	}
	if items, ok := s["items"]; ok {
		if _, err := strconv.Atoi(path[0]); err == nil {
			return describes(items, path[1:])
		}
	}
	if values, ok := s["additionalProperties"].(map[string]any); ok {
		return describes(values, path[1:])
	}
	return false
}

func operationFor(r *http.Request) map[string]any {
	paths, _ := publishedMaps()["paths"].(map[string]any)
	for path, item := range paths {
		want, got := strings.Split(path, "/"), strings.Split(r.URL.EscapedPath(), "/")
		if slices.EqualFunc(want, got, func(w, g string) bool { return w == g || strings.HasPrefix(w, "{") && g != "" }) {
			methods, _ := item.(map[string]any)
			o, _ := methods[strings.ToLower(r.Method)].(map[string]any)
			return o
		}
	}
	return nil
}

func hasParameter(operation map[string]any, name string) bool {
	list, _ := operation["parameters"].([]any)
	return slices.ContainsFunc(list, func(p any) bool {
		return referred(p)["name"] == name
	})
}

func questionSchema(operation map[string]any) (any, bool) {
	content := any(operation)
	for _, name := range []string{"requestBody", "content"} {
		m, _ := content.(map[string]any)
		content = m[name]
	}
	media, _ := content.(map[string]any)
	for _, m := range media {
		of, _ := m.(map[string]any)
		schema, ok := of["schema"]
		return schema, ok
	}
	return nil, false
}

// The search itself tells what a question has from what it has not.
func TestPlacesAreLookedUpInTheContract(t *testing.T) {
	r := request("POST", "/v1/hose-recovery?units=si&odd=1&%FF=2", "")
	body := []byte(`{"hoses": [{"nam": 1}]}`)
	for _, tt := range []struct {
		e   query.RequestError
		has bool
	}{
		{query.RequestError{Pointer: "/manifold/volume", Code: query.CodeOutOfRange}, true},
		{query.RequestError{Pointer: "/manifold_volume", Code: query.CodeOutOfRange}, false},
		{query.RequestError{Pointer: "/hoses/7/length/unit", Code: query.CodeMissing}, true},
		{query.RequestError{Pointer: "/hoses/length", Code: query.CodeMissing}, false},
		{query.RequestError{Pointer: "/hoses/0/nam", Code: query.CodeUnknownMember}, true},
		{query.RequestError{Pointer: "/hoses/1/nam", Code: query.CodeUnknownMember}, false},
		{query.RequestError{Parameter: "units", Code: query.CodeUnknownName}, true},
		{query.RequestError{Parameter: "unit", Code: query.CodeUnknownName}, false},
		{query.RequestError{Parameter: "odd", Code: query.CodeUnknownMember}, true},
		{query.RequestError{Parameter: "even", Code: query.CodeUnknownMember}, false},
		{query.RequestError{Parameter: "\ufffd", Code: query.CodeUnknownMember}, true},
	} {
		got := misplaced(r, body, problem.Problem{Errors: []query.RequestError{tt.e}})
		require.Equal(t, tt.has, len(got) == 0, "%+v: %q", tt.e, got)
	}
}
