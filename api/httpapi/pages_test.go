package httpapi

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/page"
)

func demoBody(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile("../../testdata/demo/" + name)
	require.NoError(t, err)
	return string(text)
}

func TestDiagramAsPicture(t *testing.T) {
	const path = "/v1/refrigerants/R-410A/pressure-enthalpy-diagram"
	asked := drive(t, request("GET", path, "", "Accept", "image/svg+xml"))
	posted := drive(t, request("POST", "/v1/pressure-enthalpy-diagram?units=si", demoBody(t, "museum-diagram.json"), "Accept", "image/svg+xml"))
	for _, got := range []exchange{asked, posted} {
		require.Equal(t, 200, got.Code, "%s", got.of)
		require.Equal(t, "image/svg+xml", got.Header().Get("Content-Type"), "%s", got.of)
		require.Equal(t, page.DiagramPolicy, got.Header().Get("Content-Security-Policy"), "%s", got.of)
		for d := xml.NewDecoder(strings.NewReader(string(got.body))); ; {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, "%s", got.of)
			if e, ok := token.(xml.StartElement); ok && e.Name.Local == "script" {
				t.Errorf("%s holds a script", got.of)
			}
		}
	}
	asJSON := drive(t, request("GET", path, ""))
	tag := asked.Header().Get("ETag")
	require.NotEmpty(t, tag)
	require.NotEqual(t, asJSON.Header().Get("ETag"), tag)
	require.Equal(t, "application/json", asJSON.Header().Get("Content-Type"))
	if again := drive(t, request("GET", path, "", "Accept", "image/svg+xml", "If-None-Match", tag)); again.Code != 304 || len(again.body) != 0 {
		t.Errorf("%d for a tag that still stands", again.Code)
	}
	if other := drive(t, request("GET", path, "", "If-None-Match", tag)); other.Code != 200 {
		t.Errorf("%d for the tag of another form", other.Code)
	}
	if posted.Header().Get("Cache-Control") != "no-store" {
		t.Errorf("%v", posted.Header())
	}
}

func TestRecordAsPage(t *testing.T) {
	got := drive(t, request("POST", "/v1/visit-record", demoBody(t, "museum-visit-record.json"), "Accept", "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8"))
	require.Equal(t, 200, got.Code)
	require.Equal(t, "text/html; charset=utf-8", got.Header().Get("Content-Type"))
	require.Equal(t, page.RecordPolicy, got.Header().Get("Content-Security-Policy"))
	require.Equal(t, "no-store", got.Header().Get("Cache-Control"))
	asJSON := drive(t, request("POST", "/v1/visit-record", demoBody(t, "museum-visit-record.json")))
	_, rest, _ := strings.Cut(string(asJSON.body), `"value":"`)
	for rest != "" && strings.Contains(rest, `"value":"`) {
		_, rest, _ = strings.Cut(rest, `"value":"`)
	}
	hash, _, _ := strings.Cut(rest, `"`)
	if len(hash) != 64 || !strings.Contains(string(got.body), hash) {
		t.Errorf("the page does not carry the hash %q of the document", hash)
	}
	// Problems stay what they are.
	bad := drive(t, request("POST", "/v1/visit-record", `{}`, "Accept", "text/html"))
	if bad.Code != 422 || bad.Header().Get("Content-Security-Policy") == page.RecordPolicy {
		t.Errorf("%d %v", bad.Code, bad.Header())
	}
}

func TestContractAsPage(t *testing.T) {
	got := drive(t, request("GET", "/docs", "", "Accept", "text/html"))
	require.Equal(t, 200, got.Code)
	require.Equal(t, "text/html; charset=utf-8", got.Header().Get("Content-Type"))
	require.Equal(t, page.DocsPolicy, got.Header().Get("Content-Security-Policy"))
	tag := got.Header().Get("ETag")
	if again := drive(t, request("GET", "/docs", "", "Accept", "text/html", "If-None-Match", tag)); tag == "" || again.Code != 304 {
		t.Errorf("%d for the tag %q", again.Code, tag)
	}
	if other := drive(t, request("GET", "/docs", "", "Accept", "application/json")); other.Code != 406 {
		t.Errorf("%d", other.Code)
	}
}
