package httpapi

import (
	"bytes"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/openapi"
)

// options are those of a server under test.
func options() Options {
	return Options{
		Engine:        query.New(),
		Log:           slog.New(slog.DiscardHandler),
		Build:         Build{Version: "v0.0.0", Commit: "abc", EngineRevision: "1", DataRevision: "2", Go: "go1.26"},
		Revision:      "abc",
		BodyLimit:     256 << 10,
		MaxAge:        time.Hour,
		AnswerTimeout: time.Minute,
		Ready:         func() bool { return true },
		Batch:         Batch{LineLimit: 64 << 10, Lines: 1000, Timeout: time.Minute, LineTimeout: 10 * time.Second, WriteTimeout: 10 * time.Second},
	}
}

var service = sync.OnceValue(func() http.Handler { return New(options()) })

// exchange is one request and what came back.
type exchange struct {
	*httptest.ResponseRecorder
	body []byte
	of   string
}

// exchangeWith sends a request and checks what holds for every answer.
func exchangeWith(t *testing.T, h http.Handler, r *http.Request) exchange {
	t.Helper()
	rec := httptest.NewRecorder()
	h.ServeHTTP(rec, r)
	got := exchange{rec, rec.Body.Bytes(), r.Method + " " + r.URL.RequestURI()}
	if rec.Code >= 400 {
		got.problem(t)
	}
	if rec.Header().Get(requestIDHeader) == "" || rec.Header().Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%s: headers %v", got.of, rec.Header())
	}
	return got
}

// drive sends a request to the whole service and holds what it answers to the
// contract.
func drive(t *testing.T, r *http.Request) exchange {
	t.Helper()
	body := bodyOf(t, r)
	rec := exchangeWith(t, service(), r)
	// What is not in the document at all can only be a problem.
	if !documented(r) {
		if rec.Code < 400 {
			t.Errorf("%s: %d for what the document does not have", rec.of, rec.Code)
		}
		return rec
	}
	if r.Method == http.MethodHead {
		return rec
	}
	for _, misfit := range misfits(r, rec.Result()) {
		t.Errorf("%s: %d does not fit the document: %s\n%s", rec.of, rec.Code, misfit, rec.body)
	}
	if rec.Code >= 400 {
		for _, e := range rec.problem(t).Errors {
			code := e.Reason
			if code == "" {
				code = e.Code
			}
			said, err := phrase.Fill(code, e.Params)
			if e.Reason != "" || e.Params != nil {
				require.NoError(t, err, "%s", rec.of)
				require.Equal(t, e.Detail, said, "%s", rec.of)
			}
		}
		if wrong := misplaced(r, body, rec.problem(t)); len(wrong) > 0 {
			t.Errorf("%s: %q is nowhere in the question\n%s", rec.of, wrong, rec.body)
		}
	}
	return rec
}

// problem reads the problem of an error and checks what holds for all.
func (e exchange) problem(t *testing.T) problem.Problem {
	t.Helper()
	var p problem.Problem
	d := json.NewDecoder(bytes.NewReader(e.body))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		t.Errorf("%s: no problem: %v\n%s", e.of, err, e.body)
		return p
	}
	require.Equal(t, problem.MediaType, e.Header().Get("Content-Type"), "%s", e.of)
	require.Equal(t, "no-store", e.Header().Get("Cache-Control"), "%s", e.of)
	require.Empty(t, e.Header().Get("ETag"), "%s", e.of)
	known, ok := problem.Describe(strings.TrimPrefix(p.Type, "/problems/"))
	require.True(t, ok, "%s", e.of)
	require.Equal(t, p.Status, known.Status, "%s", e.of)
	require.Equal(t, e.Code, p.Status, "%s", e.of)
	require.Equal(t, p.Title, known.Title, "%s", e.of)
	for _, f := range p.Errors {
		if f.Code == "" || f.Detail == "" {
			t.Errorf("%s: a fault without code or detail: %+v", e.of, f)
		}
	}
	return p
}

func (e exchange) places(t *testing.T) []string {
	t.Helper()
	var all []string
	for _, f := range e.problem(t).Errors {
		all = append(all, f.Pointer+f.Parameter+" "+string(f.Code))
	}
	return all
}

var documentedPaths = sync.OnceValue(func() map[string][]string {
	var doc struct {
		Paths map[string]map[string]any `json:"paths"`
	}
	if err := json.Unmarshal(openapi.JSON, &doc); err != nil {
		panic(err)
	}
	all := map[string][]string{}
	for path, item := range doc.Paths {
		for method := range item {
			all[path] = append(all[path], strings.ToUpper(method))
		}
	}
	return all
})

// documented reports whether some operation of the document has the path and
// the method of r.
func documented(r *http.Request) bool {
	for path, methods := range documentedPaths() {
		if !slices.Contains(methods, r.Method) && !(r.Method == http.MethodHead && slices.Contains(methods, http.MethodGet)) {
			continue
		}
		want, got := strings.Split(path, "/"), strings.Split(r.URL.EscapedPath(), "/")
		if slices.EqualFunc(want, got, func(w, g string) bool { return w == g || strings.HasPrefix(w, "{") && g != "" }) {
			return true
		}
	}
	return false
}

func request(method, target, body string, header ...string) *http.Request {
	var r *http.Request
	if body == "" && method != http.MethodPost {
		r = httptest.NewRequest(method, target, nil)
	} else {
		r = httptest.NewRequest(method, target, io.NopCloser(strings.NewReader(body)))
		r.Header.Set("Content-Type", jsonType)
	}
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	return r
}

// posted is the media type of a file of the demo.
func posted(file string) string {
	if filepath.Ext(file) == ".ndjson" {
		return ndjsonType
	}
	return jsonType
}

func TestRoutesAndDocumentAgree(t *testing.T) {
	served := map[string]bool{}
	for _, route := range newRouter(options()).Routes() {
		path := route.Path
		for segment := range strings.SplitSeq(path, "/") {
			if name, ok := strings.CutPrefix(segment, ":"); ok {
				path = strings.Replace(path, segment, "{"+name+"}", 1)
			}
		}
		served[route.Method+" "+path] = true
		if route.Method == http.MethodHead { // comes with every GET
			if !slices.Contains(documentedPaths()[path], http.MethodGet) {
				t.Errorf("HEAD %s without GET in the document", path)
			}
			continue
		}
		if !slices.Contains(documentedPaths()[path], route.Method) {
			t.Errorf("%s %s is served, not promised", route.Method, path)
		}
	}
	for path, methods := range documentedPaths() {
		for _, method := range methods {
			if !served[method+" "+path] {
				t.Errorf("%s %s is promised, not served", method, path)
			}
			if method == http.MethodGet && !served["HEAD "+path] {
				t.Errorf("HEAD %s is not served", path)
			}
		}
	}
}

func TestEveryProblemIsDescribed(t *testing.T) {
	for _, kind := range problem.Kinds() {
		target := "/problems/" + string(kind)
		asJSON := drive(t, request("GET", target, ""))
		var d problem.Description
		err := json.Unmarshal(asJSON.body, &d)
		require.NoError(t, err, "%s", target)
		require.Equal(t, target, d.Type, "%s", target)
		require.NotEmpty(t, d.Meaning, "%s", target)
		require.NotEmpty(t, d.Action, "%s", target)
		require.GreaterOrEqual(t, d.Status, 400, "%s", target)
		page := drive(t, request("GET", target, "", "Accept", "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8"))
		if !strings.HasPrefix(page.Header().Get("Content-Type"), "text/html") || !strings.Contains(string(page.body), "<h1>"+d.Title) {
			t.Errorf("%s as a page: %v %s", target, page.Header(), page.body)
		}
	}
}
