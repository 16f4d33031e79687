package tracing_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/tracing"
)

func TestFollow(t *testing.T) {
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
		t.Run(header, func(t *testing.T) {
			h := http.Header{}
			if header != "" {
				h.Set("Traceparent", header)
			}
			got, other := tracing.Follow(h), tracing.Follow(h)
			require.Equal(t, followed, got.Trace == id, "%q", header)
			require.Len(t, got.Trace, 32, "%q", header)
			require.Len(t, got.Span, 16, "%q", header)
			require.NotEqual(t, other.Span, got.Span, "%q", header)
			require.NotEqual(t, "00f067aa0ba902b7", got.Span, "%q", header)
			if !followed && got.Trace == other.Trace {
				t.Errorf("%q: two traces share an id", header)
			}
		})
	}
}

func TestCheckEndpoint(t *testing.T) {
	for endpoint, usable := range map[string]bool{
		"http://127.0.0.1:4318/v1/traces": true, "https://collector.example/v1/traces": true, "http://[::1]:4318": true,
		"": false, "collector:4318": false, "127.0.0.1:4318": false, "grpc://collector:4317": false, "/v1/traces": false,
		"http://": false, "http://u:p@collector/v1/traces": false, "http://collector/v1/traces?key=x": false, "http://%zz": false,
	} {
		if err := tracing.CheckEndpoint(endpoint); (err == nil) != usable {
			t.Errorf("%q: %v", endpoint, err)
		}
	}
}

// Outside of a sampled request a part costs a look into the context.
func TestPartWithoutASpan(t *testing.T) {
	ctx := t.Context()
	allocations := testing.AllocsPerRun(100, func() {
		within, end := tracing.Part(ctx, "x")
		if within != ctx {
			t.Fatal("another context")
		}
		end(true)
	})
	if allocations != 0 {
		t.Errorf("%v allocations", allocations)
	}
}
