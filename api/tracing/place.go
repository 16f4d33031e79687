package tracing

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"net/http"

	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/trace"
)

// Place is where a request stands in a trace (W3C Trace Context): the trace
// that it is part of, and the span that its handling here is.
type Place struct{ Trace, Span string }

// Follow goes on with the trace of the traceparent field of a header, or begins
// one where there is none or a broken one.
func Follow(h http.Header) Place {
	var fresh [24]byte
	_, _ = rand.Read(fresh[:]) // never fails
	p := Place{Trace: hex.EncodeToString(fresh[:16]), Span: hex.EncodeToString(fresh[16:])}
	if from := trace.SpanContextFromContext(parent(context.Background(), h)); from.IsValid() {
		p.Trace = from.TraceID().String()
	}
	return p
}

// parent adds to ctx what a header says of the span that asks.
func parent(ctx context.Context, h http.Header) context.Context {
	if _, told := h["Traceparent"]; !told {
		return ctx
	}
	return propagation.TraceContext{}.Extract(ctx, propagation.HeaderCarrier(h))
}
