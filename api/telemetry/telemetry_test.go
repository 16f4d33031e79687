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
