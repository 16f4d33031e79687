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
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// example is a curl of the README with the answer that stands below it.
type example struct {
	method, path, body, accept string
	language, answer           string
}

var (
	exampleBlocks = regexp.MustCompile("(?s)```sh\n(curl [^`]*)```\n```([a-z]+)\n(.*?)```")
	curlURL       = regexp.MustCompile(`'http://127\.0\.0\.1:8080([^']*)'`)
	curlBody      = regexp.MustCompile(`(?:-d|--data-binary) @(\S+)`)
	curlAccept    = regexp.MustCompile(`-H 'Accept: ([^']*)'`)
)

func examples(t *testing.T) []example {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	var list []example
	for _, m := range exampleBlocks.FindAllStringSubmatch(string(text), -1) {
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

// README shows real answers, shortened: every member that it shows must be
// there with the same value, and every list must begin as it shows.
func TestReadmeTellsTheTruth(t *testing.T) {
	list := examples(t)
	if n := strings.Count(mustRead(t, "../../README.md"), "curl -s"); n != len(list) {
		t.Errorf("README has %d curls, of which %d have their answer below", n, len(list))
	}
	for _, e := range list {
		var body *strings.Reader
		if e.body == "" {
			body = strings.NewReader("")
		} else {
			body = strings.NewReader(mustRead(t, filepath.Join("../..", e.body)))
		}
		r := httptest.NewRequest(e.method, e.path, body)
		if e.body != "" {
			r.Header.Set("Content-Type", posted(e.body))
		}
		if e.accept != "" {
			r.Header.Set("Accept", e.accept)
		}
		rec := httptest.NewRecorder()
		service().ServeHTTP(rec, r)
		if e.language == "ndjson" {
			e.compareLines(t, rec.Body.String())
			continue
		}
		if e.language != "json" {
			if got := strings.ReplaceAll(rec.Body.String(), "\r\n", "\n"); got != e.answer {
				t.Errorf("%s: the answer is\n%s", e.path, got)
			}
			continue
		}
		e.compare(t, e.answer, rec.Body.String())
	}
}

// compareLines compares each line of an answer.
func (e example) compareLines(t *testing.T, got string) {
	t.Helper()
	shown, real := strings.Split(e.answer, "\n"), strings.Split(got, "\n")
	if len(shown) != len(real) {
		t.Errorf("%s: README shows %d lines of %d", e.path, len(shown), len(real))
		return
	}
	for i := range len(shown) - 1 { // nothing stands behind the last newline
		e.compare(t, shown[i], real[i])
	}
}

// compare compares what README shows with an answer.
func (e example) compare(t *testing.T, answer, got string) {
	t.Helper()
	var shown, real any
	require.NoError(t, json.Unmarshal([]byte(answer), &shown), "%s: README's answer is no JSON", e.path)
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
		return []string{fmt.Sprintf("%s is %v, README shows %v", at, real, shown)}
	}
	return nil
}
