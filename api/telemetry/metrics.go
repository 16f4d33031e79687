// Package telemetry counts what the service does, for Prometheus. It must not
// know what a request asks: its labels are routes and codes, never values.
package telemetry

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Metrics are the counts of one service.
type Metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	took     *prometheus.HistogramVec
	panics   prometheus.Counter
	refused  *prometheus.CounterVec
	failures *prometheus.CounterVec
}

// New makes counts that are all zero. version and revision are told as a
// metric of their own.
func New(version, revision string) *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "knurl_http_requests_total", Help: "Requests answered, by route and status.",
		}, []string{"route", "method", "status"}),
		took: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "knurl_http_request_duration_seconds", Help: "Time from the end of the header to the end of the answer.",
			Buckets: []float64{.0001, .00025, .0005, .001, .0025, .005, .01, .025, .05, .1, .25, 1, 5},
		}, []string{"route"}),
		panics: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "knurl_panics_total", Help: "Handlers that panicked; each was answered 500.",
		}),
		refused: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "knurl_refusals_total", Help: "Requests refused although nothing was wrong with them, by type of problem.",
		}, []string{"problem"}),
		failures: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "knurl_solver_failures_total", Help: "Faults of answers by which a solver says that it found no solution, by code.",
		}, []string{"code"}),
	}
	build := prometheus.NewGauge(prometheus.GaugeOpts{
		Name: "knurl_build_info", Help: "1, with what is running.",
		ConstLabels: prometheus.Labels{"version": version, "revision": revision},
	})
	build.Set(1)
	m.registry.MustRegister(m.requests, m.took, m.panics, m.refused, m.failures, build,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Handler serves the counts.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 2})
}

// Request counts an answer. route is a pattern, and empty where none fits.
func (m *Metrics) Request(route, method string, status int, took time.Duration) {
	if route == "" {
		route = "none"
	}
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost:
	default:
		method = "other" // anybody can invent more
	}
	m.requests.WithLabelValues(route, method, strconv.Itoa(status)).Inc()
	m.took.WithLabelValues(route).Observe(took.Seconds())
}

// Panic counts a handler that panicked.
func (m *Metrics) Panic() { m.panics.Inc() }

// Refusal counts a request refused for want of time or quota.
func (m *Metrics) Refusal(problem string) { m.refused.WithLabelValues(problem).Inc() }

// Failure counts a solver that found no solution.
func (m *Metrics) Failure(code string) { m.failures.WithLabelValues(code).Inc() }

// Counter shows a count that is kept elsewhere. It panics where the name and
// labels are taken.
func (m *Metrics) Counter(name, help string, labels map[string]string, value func() float64) {
	m.registry.MustRegister(prometheus.NewCounterFunc(prometheus.CounterOpts{Name: name, Help: help, ConstLabels: labels}, value))
}

// Gauge shows a state that is kept elsewhere. It panics where the name and
// labels are taken.
func (m *Metrics) Gauge(name, help string, labels map[string]string, value func() float64) {
	m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help, ConstLabels: labels}, value))
}
