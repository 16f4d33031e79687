package telemetry_test

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/telemetry"
)

func TestMetrics(t *testing.T) {
	m := telemetry.New("v1", "abc")
	m.Request("/v1/units", "GET", 200, time.Millisecond)
	m.Request("", "BREW", 404, time.Millisecond)
	m.Request("", "STEW", 404, time.Millisecond)
	m.Panic()
	m.Refusal("overloaded")
	m.Failure("not_converged")
	m.Counter("knurl_x_total", "x", map[string]string{"of": "y"}, func() float64 { return 7 })
	m.Gauge("knurl_z", "z", nil, func() float64 { return 3 })
	rec := httptest.NewRecorder()
	m.Handler().ServeHTTP(rec, httptest.NewRequest("GET", "/metrics", nil))
	for _, line := range []string{
		`knurl_http_requests_total{method="GET",route="/v1/units",status="200"} 1`,
		`knurl_http_requests_total{method="other",route="none",status="404"} 2`,
		`knurl_http_request_duration_seconds_count{route="none"} 2`,
		`knurl_panics_total 1`, `knurl_refusals_total{problem="overloaded"} 1`, `knurl_solver_failures_total{code="not_converged"} 1`,
		`knurl_x_total{of="y"} 7`, `knurl_z 3`, `knurl_build_info{revision="abc",version="v1"} 1`, "go_goroutines ",
	} {
		if !strings.Contains(rec.Body.String(), line) {
			t.Errorf("%s is missing", line)
		}
	}
}

func TestTraces(t *testing.T) {
	const id = "4bf92f3577b34da6a3ce929d0e0e4736"
	for header, followed := range map[string]bool{
		"00-" + id + "-00f067aa0ba902b7-01":                       true,
		"00-" + id + "-00f067aa0ba902b7-00":                       true,
		"cc-" + id + "-00f067aa0ba902b7-01-more":                  true,
		"":                                                        false,
		"00-" + id + "-00f067aa0ba902b7-01-more":                  false,
		"cc-" + id + "-00f067aa0ba902b7-01.more":                  false,
		"ff-" + id + "-00f067aa0ba902b7-01":                       false,
		"00-" + id + "-0000000000000000-01":                       false,
		"00-" + id + "-00F067AA0BA902B7-01":                       false,
		"00-" + id + "-00f067aa0ba902b7-0":                        false,
		"00-" + id + "-00f067aa0ba902b7-0x":                       false,
		"00_" + id + "_00f067aa0ba902b7_01":                       false,
		"00-00000000000000000000000000000000-00f067aa0ba902b7-01": false,
	} {
		got, other := telemetry.Follow(header), telemetry.Follow(header)
		if (got.ID == id) != followed || len(got.ID) != 32 || len(got.Span) != 16 || got.Span == other.Span || got.Span == "00f067aa0ba902b7" {
			t.Errorf("%q: %+v", header, got)
		}
		if !followed && got.ID == other.ID {
			t.Errorf("%q: two traces share an id", header)
		}
	}
}
