package httpapi

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Documents whose curls are asked again, all from the root of the repository.
var documents = []string{"README.md", "testdata/demo/README.md"}

// example is a curl of a document, with the answer that stands below it where
// one does.
type example struct {
	method, path, body, accept string
	language, answer           string
}

var (
	exampleBlocks = regexp.MustCompile("(?s)```sh\n(curl [^`]*)```(?:\n```(json|ndjson|csv)\n(.*?)```)?")
	curlURL       = regexp.MustCompile(`'http://127\.0\.0\.1:8080([^']*)'`)
	curlBody      = regexp.MustCompile(`(?:-d|--data-binary) @(\S+)`)
	curlAccept    = regexp.MustCompile(`-H 'Accept: ([^']*)'`)
)

func examples(text string) (list []example) {
	for _, m := range exampleBlocks.FindAllStringSubmatch(text, -1) {
		e := example{method: http.MethodGet, language: m[2], answer: m[3]}
		if u := curlURL.FindStringSubmatch(m[1]); u != nil {
			e.path = u[1]
		}
		if b := curlBody.FindStringSubmatch(m[1]); b != nil {
			e.method, e.body = http.MethodPost, b[1]
		}
		if a := curlAccept.FindStringSubmatch(m[1]); a != nil {
			e.accept = a[1]
		}
		list = append(list, e)
	}
	return list
}

// Documents show real answers, shortened: every member that they show must be
// there with the same value, and every list must begin as it shows. A curl
// without an answer below it works.
func TestReadmeTellsTheTruth(t *testing.T) {
	for _, document := range documents {
		t.Run(document, func(t *testing.T) {
			text := mustRead(t, filepath.Join("../..", document))
			list := examples(text)
			require.Len(t, list, strings.Count(text, "curl -"), "every curl in a block of its own")
			for _, e := range list {
				e.ask(t)
			}
		})
	}
}

// Every operation has a request with its answer in the README of the demo.
func TestDemoShowsEveryOperation(t *testing.T) {
	list := examples(mustRead(t, "../../testdata/demo/README.md"))
	for path := range document().Paths.Map() {
		if !strings.HasPrefix(path, "/v1/") {
			continue
		}
		shown := slices.ContainsFunc(list, func(e example) bool {
			at, _, _ := strings.Cut(e.path, "?")
			_, ok := matched(strings.Split(path, "/"), strings.Split(at, "/"))
			return ok && e.answer != ""
		})
		if !shown {
			t.Errorf("%s is not shown", path)
		}
	}
}

// ask sends an example and compares the answer.
func (e example) ask(t *testing.T) {
	t.Helper()
	body := ""
	if e.body != "" {
		body = mustRead(t, filepath.Join("../..", e.body))
	}
	r := httptest.NewRequest(e.method, e.path, strings.NewReader(body))
	if e.body != "" {
		r.Header.Set("Content-Type", posted(e.body))
	}
	if e.accept != "" {
		r.Header.Set("Accept", e.accept)
	}
	rec := httptest.NewRecorder()
	service().ServeHTTP(rec, r)
	switch e.language {
	case "":
		require.Equal(t, http.StatusOK, rec.Code, "%s %s", e.path, rec.Body)
	case "ndjson":
		e.compareLines(t, rec.Body.String())
	case "json":
		e.compare(t, e.answer, rec.Body.String())
	default:
		if got := strings.ReplaceAll(rec.Body.String(), "\r\n", "\n"); got != e.answer {
			t.Errorf("%s: the answer is\n%s", e.path, got)
		}
	}
}

// compareLines compares each line of an answer.
func (e example) compareLines(t *testing.T, got string) {
	t.Helper()
	shown, real := strings.Split(e.answer, "\n"), strings.Split(got, "\n")
	if len(shown) != len(real) {
		t.Errorf("%s: %d lines are shown of %d", e.path, len(shown), len(real))
		return
	}
	for i := range len(shown) - 1 { // nothing stands behind the last newline
		e.compare(t, shown[i], real[i])
	}
}

// compare compares what a document shows with an answer.
func (e example) compare(t *testing.T, answer, got string) {
	t.Helper()
	var shown, real any
	require.NoError(t, json.Unmarshal([]byte(answer), &shown), "%s: the answer shown is no JSON", e.path)
	require.NoError(t, json.Unmarshal([]byte(got), &real), "%s", e.path)
	for _, d := range differences(shown, real, "") {
		t.Errorf("%s %s: %s", e.path, e.body, d)
	}
}

func mustRead(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

// differences lists where shown is no shortened form of real.
func differences(shown, real any, at string) []string {
	switch s := shown.(type) {
	case map[string]any:
		m, ok := real.(map[string]any)
		if !ok {
			return []string{fmt.Sprintf("%s is no object", at)}
		}
		var list []string
		for k, v := range s {
			inner, ok := m[k]
			if !ok {
				list = append(list, fmt.Sprintf("%s/%s is not there", at, k))
				continue
			}
			list = append(list, differences(v, inner, at+"/"+k)...)
		}
		return list
	case []any:
		l, ok := real.([]any)
		if !ok || len(l) < len(s) {
			return []string{fmt.Sprintf("%s is shorter, or no list", at)}
		}
		var list []string
		for i, v := range s {
			list = append(list, differences(v, l[i], fmt.Sprintf("%s/%d", at, i))...)
		}
		return list
	}
	if a, ok := shown.(float64); ok {
		// Last digits differ between processors.
		if b, ok := real.(float64); ok && math.Abs(a-b) <= 1e-6*math.Abs(a) {
			return nil
		}
	}
	if !reflect.DeepEqual(shown, real) {
		return []string{fmt.Sprintf("%s is %v, shown is %v", at, real, shown)}
	}
	return nil
}

// What a document points to is there.
func TestLinksOfDocuments(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^):#]+)(?:#[^)]*)?\)`)
	for _, document := range []string{"README.md", "DEVELOPERS.md", "refdata/README.md", "openapi/CHANGES.md", ".github/SECURITY.md",
		"deploy/README.md", "deploy/SCALE.md", "deploy/LOAD.md", "deploy/OWASP.md",
		"testdata/demo/README.md", "testdata/check/README.md", "testdata/eval/README.md", "testdata/conformance/README.md"} {
		for _, m := range link.FindAllStringSubmatch(mustRead(t, filepath.Join("../..", document)), -1) {
			_, err := os.Stat(filepath.Join("../..", filepath.Dir(document), m[1]))
			require.NoError(t, err, "%s points to %s", document, m[1])
		}
	}
}

// Whoever opens the repository reads its README to the end.
func TestReadmeIsShort(t *testing.T) {
	require.LessOrEqual(t, len(mustRead(t, "../../README.md")), 12_000)
}
