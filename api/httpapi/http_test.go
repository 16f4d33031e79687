package httpapi

import (
	"bytes"
	"errors"
	"io"
	"log/slog"
	"math"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/operation"
	"github.com/knurl-hvacr/knurl/engine/query"
)

func TestConditionalRequests(t *testing.T) {
	first := drive(t, request("GET", "/v1/units", ""))
	tag := first.Header().Get("ETag")
	require.Equal(t, 200, first.Code)
	require.True(t, strings.HasPrefix(tag, `W/"`), "%d %v", first.Code, first.Header())
	require.Equal(t, "public, max-age=3600", first.Header().Get("Cache-Control"))
	require.Equal(t, "Accept", first.Header().Get("Vary"))
	for name, held := range map[string]string{"the tag": tag, "among others": `"x", ` + tag, "as a strong one": strings.TrimPrefix(tag, "W/")} {
		t.Run(name, func(t *testing.T) {
			again := drive(t, request("GET", "/v1/units?units=ip&explain=false", "", "If-None-Match", held))
			require.Equal(t, 304, again.Code)
			require.Empty(t, again.body)
			require.Equal(t, tag, again.Header().Get("ETag"))
			require.Equal(t, "Accept", again.Header().Get("Vary"))
		})
	}
	for _, other := range []string{"/v1/units?units=si", "/v1/units?explain=true", "/openapi.json", "/problems/not-found"} {
		if got := drive(t, request("GET", other, "", "If-None-Match", tag)); got.Code != 200 || got.Header().Get("ETag") == tag {
			t.Errorf("%s: %d %v", other, got.Code, got.Header())
		}
	}
	// Equal questions share a tag, whatever unit they are put in; another form of the answer has its own.
	table := func(from, to string, header ...string) string {
		return drive(t, request("GET", "/v1/refrigerants/R-22/saturation-table?from="+from+"&to="+to+"&step=10delta_degF", "", header...)).Header().Get("ETag")
	}
	asked := table("14degF", "50degF")
	if other := table("-10degC", "283.15K"); other != asked {
		t.Errorf("equal questions have the tags %s and %s", asked, other)
	}
	if table("14degF", "50.001degF") == asked || table("14degF", "50degF", "Accept", "text/csv") == asked {
		t.Error("another question or another form has the same tag")
	}
	newer := options()
	newer.Revision = "def"
	if got := exchangeWith(t, New(newer), request("GET", "/v1/units", "", "If-None-Match", tag)); got.Code != 200 {
		t.Errorf("a new build answered %d", got.Code)
	}
}

func TestHeadTellsWhatGetSends(t *testing.T) {
	for _, path := range []string{"/v1/units", "/livez", "/openapi.yaml", "/problems/not-found"} {
		get, head := drive(t, request("GET", path, "")), drive(t, request("HEAD", path, ""))
		for _, h := range []string{"Content-Length", "Content-Type", "ETag"} {
			if get.Header().Get(h) != head.Header().Get(h) {
				t.Errorf("%s: %s is %q for GET, %q for HEAD", path, h, get.Header().Get(h), head.Header().Get(h))
			}
		}
	}
}

func TestQueryParameters(t *testing.T) {
	for _, tt := range []struct {
		query string
		want  []string
	}{
		{"?units=si&explain=true", nil},
		{"?units=metric", []string{"units unknown_name"}},
		{"?units=ip&units=si", []string{"units repeated_member"}},
		{"?unit=si&explain=yes&z=1", []string{"explain unknown_name", "unit unknown_member", "z unknown_member"}},
		{"?UNITS=si", []string{"UNITS unknown_member"}},
		{"?units=%zz", []string{" syntax"}},
		{"?units=si;explain=true", []string{" syntax"}},
		{"?units=", []string{"units unknown_name"}},
		{"?=", []string{" unknown_member"}},
	} {
		got := drive(t, request("GET", "/v1/units"+tt.query, ""))
		if tt.want == nil {
			if got.Code != 200 {
				t.Errorf("%s: %d %s", tt.query, got.Code, got.body)
			}
			continue
		}
		if places := got.places(t); got.Code != 400 || !reflect.DeepEqual(places, tt.want) {
			t.Errorf("%s: %d %q, want %q", tt.query, got.Code, places, tt.want)
		}
	}
	if got := drive(t, request("GET", "/v1/units?unit=si", "")); !strings.Contains(string(got.body), `did you mean \"units\"?`) {
		t.Errorf("%s", got.body)
	}
}

func TestNegotiation(t *testing.T) {
	for _, tt := range []struct {
		path, accept string
		status       int
		media        string
	}{
		{"/v1/units", "", 200, "application/json"},
		{"/v1/units", "*/*", 200, "application/json"},
		{"/v1/units", "application/*;q=0.2, text/html", 200, "application/json"},
		{"/v1/units", "application/problem+json, application/json", 200, "application/json"},
		{"/v1/units", "text/html", 406, "application/problem+json"},
		{"/v1/units", "application/json;q=0", 406, "application/problem+json"},
		{"/v1/units", "nonsense", 406, "application/problem+json"},
		{"/openapi.yaml", "application/json", 406, "application/problem+json"},
		{"/openapi.yaml", "application/yaml", 200, "application/yaml"},
		{"/problems/not-found", "text/html;q=0.5, application/json;q=0.6", 200, "application/json"},
		{"/problems/not-found", "text/*", 200, "text/html; charset=utf-8"},
		{"/problems/nothing", "text/html", 404, "application/problem+json"},
	} {
		got := drive(t, request("GET", tt.path, "", "Accept", tt.accept))
		if got.Code != tt.status || got.Header().Get("Content-Type") != tt.media {
			t.Errorf("%s accepting %q: %d %s", tt.path, tt.accept, got.Code, got.Header().Get("Content-Type"))
		}
	}
}

func TestPathsAndMethods(t *testing.T) {
	for _, path := range []string{"/", "/v1", "/v1/", "/v1/units/", "/V1/units", "/v1/nothing", "/v1/units%2Fx", "/problems/", "//v1/units", "/v1/../livez"} {
		if got := drive(t, request("GET", path, "")); got.Code != 404 {
			t.Errorf("GET %s: %d", path, got.Code)
		}
	}
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"} {
		got := drive(t, request(method, "/v1/units", ""))
		if allow := got.Header().Get("Allow"); got.Code != 405 || !strings.Contains(allow, "GET") || !strings.Contains(allow, "HEAD") {
			t.Errorf("%s: %d, Allow %q", method, got.Code, allow)
		}
	}
	for path, methods := range documentedPaths() {
		if slices.Contains(methods, "POST") {
			if got := drive(t, request("GET", path, "")); got.Code != 405 || got.Header().Get("Allow") != "POST" {
				t.Errorf("GET %s: %d, Allow %q", path, got.Code, got.Header().Get("Allow"))
			}
		}
	}
}

func TestReadiness(t *testing.T) {
	o := options()
	o.Ready = func() bool { return false }
	if got := exchangeWith(t, New(o), request("GET", "/readyz", "")); got.Code != 503 || got.Header().Get("Retry-After") == "" {
		t.Errorf("%d %v", got.Code, got.Header())
	}
	if got := exchangeWith(t, New(o), request("GET", "/livez", "")); got.Code != 200 {
		t.Errorf("%d", got.Code)
	}
}

func TestRequestID(t *testing.T) {
	for given, kept := range map[string]bool{"": false, "abc-1.2_X": true, "a b": false, "a\"b": false, strings.Repeat("x", 65): false} {
		t.Run(given, func(t *testing.T) {
			got := drive(t, request("GET", "/livez", "", requestIDHeader, given)).Header().Get(requestIDHeader)
			require.NotEmpty(t, got)
			require.Equal(t, kept, got == given)
		})
	}
}

// probe is an operation of the test's own.
type probe struct {
	Pressure *query.Quantity          `json:"pressure"`
	Readings map[string]*probeReading `json:"readings"`
	Note     string                   `json:"note"`
}

type probeReading struct {
	Unit string `json:"unit"`
}

// probing serves answer at POST /probe, with its log.
func probing(answer func(probe, query.Presentation) (any, error)) (http.Handler, *bytes.Buffer) {
	var log bytes.Buffer
	o := options()
	o.Log = slog.New(slog.NewJSONHandler(&log, nil))
	r := newRouter(o)
	s := &server{o}
	probed := operation.Post("probe", "/probe/{secret}", func(_ *query.Engine, q probe, as query.Presentation) (any, error) { return answer(q, as) })
	r.POST(route(probed.Path), s.serve(probed, policy{}))
	return http.MaxBytesHandler(r, o.BodyLimit), &log
}

func TestServersFaultsTellNothing(t *testing.T) {
	for name, answer := range map[string]func(probe, query.Presentation) (any, error){
		"panic":            func(_ probe, _ query.Presentation) (any, error) { panic("the inner secret") },
		"runtime panic":    func(q probe, _ query.Presentation) (any, error) { return q.Readings["x"].Unit, nil },
		"unexpected error": func(_ probe, _ query.Presentation) (any, error) { return nil, errors.New("the inner secret") },
		"no number":        func(_ probe, _ query.Presentation) (any, error) { return math.NaN(), nil },
	} {
		t.Run(name, func(t *testing.T) {
			h, log := probing(answer)
			got := exchangeWith(t, h, request("POST", "/probe/a-reading?units=si", `{"note":"a-reading"}`))
			p := got.problem(t)
			require.Equal(t, 500, got.Code)
			require.NotEmpty(t, p.RequestID)
			require.Equal(t, got.Header().Get(requestIDHeader), p.RequestID)
			require.Empty(t, p.Detail)
			require.NotContains(t, string(got.body), "secret")
			if text := log.String(); strings.Count(text, p.RequestID) != 2 || strings.Contains(text, "a-reading") {
				t.Errorf("logged %s", text)
			}
			if again := exchangeWith(t, h, request("POST", "/probe/x", `{]`)); again.Code != 400 {
				t.Errorf("afterwards %d", again.Code)
			}
		})
	}
}

func TestEveryFaultAtOnce(t *testing.T) {
	h, _ := probing(func(q probe, as query.Presentation) (any, error) {
		if as.Units != "si" {
			t.Errorf("presentation %+v", as)
		}
		return nil, &query.Refusal{Errors: []query.RequestError{
			{Pointer: "/pressure/unit", Code: query.CodeUnknownUnit, Detail: "x"},
			{Pointer: "/readings/a/unit", Code: query.CodeMissingUnit, Detail: "follows from the member of the wrong type"},
		}}
	})
	got := exchangeWith(t, h, request("POST", "/probe/x?units=si&explian=true", `{"nota":1,"pressure":{"value":1,"unit":"psi"},"readings":{"a":118,"b":{"unit":"psig","unit":"psig"}}}`))
	want := []string{"/nota unknown_member", "/readings/a wrong_type", "/readings/b/unit repeated_member", "explian unknown_member", "/pressure/unit unknown_unit"}
	if places := got.places(t); got.Code != 400 || !reflect.DeepEqual(places, want) {
		t.Errorf("%d %q\nwant %q", got.Code, places, want)
	}
	if got := exchangeWith(t, h, request("POST", "/probe/x?units=si", `{}`)); got.Code != 422 {
		t.Errorf("%d", got.Code)
	}
}

// Bodies that no operation takes, whichever it is.
var badBodies = []struct {
	name, body string
	header     []string
	status     int
}{
	{"empty", "", nil, 400},
	{"blank", " \n", nil, 400},
	{"null", "null", nil, 400},
	{"list", "[]", nil, 400},
	{"string", `"x"`, nil, 400},
	{"number", "1", nil, 400},
	{"NaN", `{"readings":NaN}`, nil, 400},
	{"Infinity", `{"readings":-Infinity}`, nil, 400},
	{"hex", `{"readings":0x10}`, nil, 400},
	{"comma decimal", `{"readings":{"value":1,5}}`, nil, 400},
	{"trailing garbage", `{} {}`, nil, 400},
	{"cut off", `{"readings":{`, nil, 400},
	{"unknown member", `{"reedings":{}}`, nil, 400},
	{"repeated unknown member", `{"x":1,"x":2}`, nil, 400},
	{"bad UTF-8", "{\"\xff\":1}", nil, 400},
	{"byte order mark", "\ufeff{}", nil, 400},
	{"nested deep", strings.Repeat(`{"readings":`, 10_000) + "1" + strings.Repeat("}", 10_000), nil, 400},
	{"lists deep", strings.Repeat("[", 100_000), nil, 400},
	{"10 MB", `{"readings":"` + strings.Repeat("x", 10<<20) + `"}`, nil, 413},
	{"just too long", strings.Repeat(" ", 256<<10) + "{}", nil, 413},
	{"no media type", "{}", []string{"Content-Type", ""}, 415},
	{"text", "{}", []string{"Content-Type", "text/plain"}, 415},
	{"a form", "a=1", []string{"Content-Type", "application/x-www-form-urlencoded"}, 415},
	{"another charset", "{}", []string{"Content-Type", "application/json; charset=utf-16"}, 415},
	{"broken media type", "{}", []string{"Content-Type", "application/json; charset"}, 415},
	{"compressed", "{}", []string{"Content-Encoding", "gzip"}, 415},
	{"not acceptable", "{}", []string{"Accept", "text/csv"}, 406},
}

func TestBadBodies(t *testing.T) {
	probe, _ := probing(func(_ probe, _ query.Presentation) (any, error) { return nil, errors.New("asked") })
	for _, tt := range badBodies {
		if got := exchangeWith(t, probe, request("POST", "/probe/x", tt.body, tt.header...)); got.Code != tt.status {
			t.Errorf("%s: %d, want %d: %.300s", tt.name, got.Code, tt.status, got.body)
		}
		for path, methods := range documentedPaths() {
			if !slices.Contains(methods, "POST") || path == batchPath { // whose lines are bad by themselves: TestBadLines
				continue
			}
			if got := drive(t, request("POST", path, tt.body, tt.header...)); got.Code != tt.status {
				t.Errorf("%s to %s: %d, want %d: %.300s", tt.name, path, got.Code, tt.status, got.body)
			}
		}
	}
}

func TestBodyThatBreaksOff(t *testing.T) {
	h, _ := probing(func(_ probe, _ query.Presentation) (any, error) { return nil, errors.New("asked") })
	r := request("POST", "/probe/x", "{}")
	r.Body = io.NopCloser(iotest.ErrReader(io.ErrUnexpectedEOF))
	if got := exchangeWith(t, h, r); got.Code != 408 {
		t.Errorf("%d", got.Code)
	}
}

func TestGoodBodies(t *testing.T) {
	h, _ := probing(func(q probe, _ query.Presentation) (any, error) { return map[string]any{"note": q.Note}, nil })
	for _, header := range []string{"application/json", "application/json; charset=UTF-8", "Application/JSON"} {
		got := exchangeWith(t, h, request("POST", "/probe/x", ` {"note":"<é>"} `, "Content-Type", header))
		require.Equal(t, 200, got.Code, "%s", header)
		if want := "{\"note\":\"<é>\"}\n"; string(got.body) != want { // every byte
			t.Errorf("%s: %q, want %q", header, got.body, want)
		}
		require.Equal(t, "no-store", got.Header().Get("Cache-Control"), "%s", header)
		require.Empty(t, got.Header().Get("ETag"), "%s", header)
	}
}
