package tracing_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/tracing"
)

// What a request pays for its span, and without a collector.
func BenchmarkRequest(b *testing.B) {
	collector := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	defer collector.Close()
	r := httptest.NewRequest(http.MethodGet, "/v1/units", nil)
	b.Run("no collector", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			tracing.Follow(r.Header)
		}
	})
	for name, share := range map[string]float64{"sampled": 1, "not sampled": 0} {
		b.Run(name, func(b *testing.B) {
			tracer, err := tracing.New(tracing.Options{Endpoint: collector.URL, Share: share, Log: slog.New(slog.DiscardHandler)})
			require.NoError(b, err)
			defer tracer.Close()
			b.ReportAllocs()
			for b.Loop() {
				_, _, end := tracer.Begin(b.Context(), r, "/v1/units")
				end(http.StatusOK)
			}
		})
	}
}
