// Package tracing finds the place of requests in traces (W3C Trace Context)
// and, where a collector is named, sends it spans of those that are sampled
// (OTLP over HTTP). It must not know what a request asks: spans hold routes,
// statuses and times, never values.
package tracing

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"sync/atomic"
	"time"

	"go.opentelemetry.io/otel"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	"go.opentelemetry.io/otel/sdk/resource"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	semconv "go.opentelemetry.io/otel/semconv/v1.43.0"
	"go.opentelemetry.io/otel/trace"
)

// The bounds of what a collector can cost: spans that do not fit the queue are
// dropped, and no request waits for one to be sent.
const (
	queued      = 2048
	batched     = 512
	sendAfter   = time.Second
	sendTimeout = 3 * time.Second
	// closeTimeout is what the end of the program waits for the last batches.
	closeTimeout = time.Second
)

// scope names the spans' manufacturer to the collector.
const scope = "github.com/knurl-hvacr/knurl"

// Options of a Tracer.
type Options struct {
	// Endpoint is the collector's URL.
	Endpoint string
	// Share of the traces begun here that is sent, 0 to 1. A trace that a caller
	// began is sent where the caller says so.
	Share float64
	// Version and Revision of the program are told with every batch.
	Version, Revision string
	// Log learns when the collector fails and when it is back.
	Log *slog.Logger
}

// CheckEndpoint refuses a URL that no spans can be sent to.
func CheckEndpoint(endpoint string) error {
	u, err := url.Parse(endpoint)
	switch {
	case err != nil:
		return errors.New("the URL cannot be read")
	case u.Scheme != "http" && u.Scheme != "https", u.Host == "", u.RawQuery != "", u.Fragment != "":
		return errors.New("want the whole URL of a collector's OTLP over HTTP, like http://127.0.0.1:4318/v1/traces")
	case u.User != nil:
		return errors.New("a user in the URL would not be sent: set OTEL_EXPORTER_OTLP_HEADERS")
	}
	return nil
}

// Tracer makes spans and sends them.
type Tracer struct {
	provider *sdk.TracerProvider
	tracer   trace.Tracer
	sender   *sender
	ended    atomic.Uint64
}

// New makes a tracer, which is to be closed. It does not wait for the
// collector.
func New(o Options) (*Tracer, error) {
	if err := CheckEndpoint(o.Endpoint); err != nil {
		return nil, fmt.Errorf("tracing: %w", err)
	}
	to, err := otlptracehttp.New(context.Background(),
		otlptracehttp.WithEndpointURL(o.Endpoint), otlptracehttp.WithTimeout(sendTimeout),
		otlptracehttp.WithCompression(otlptracehttp.GzipCompression),
		otlptracehttp.WithRetry(otlptracehttp.RetryConfig{})) // what is lost is lost
	if err != nil {
		return nil, fmt.Errorf("tracing: %w", err)
	}
	otel.SetErrorHandler(otel.ErrorHandlerFunc(func(error) {})) // sender tells the log, once
	t := &Tracer{sender: &sender{to: to, log: o.Log}}
	t.provider = sdk.NewTracerProvider(
		sdk.WithSampler(sdk.ParentBased(sdk.TraceIDRatioBased(o.Share))),
		sdk.WithSpanProcessor(counter{&t.ended}),
		sdk.WithBatcher(t.sender, sdk.WithMaxQueueSize(queued), sdk.WithMaxExportBatchSize(batched),
			sdk.WithBatchTimeout(sendAfter), sdk.WithExportTimeout(sendTimeout)),
		sdk.WithResource(resource.NewSchemaless(semconv.ServiceName("knurld"),
			semconv.ServiceVersion(o.Version), attribute.String("knurl.revision", o.Revision))))
	t.tracer = t.provider.Tracer(scope)
	return t, nil
}

// Begin starts the span of a request with a method and the pattern of its
// route, which is empty where none fits. end takes the status of the answer.
func (t *Tracer) Begin(ctx context.Context, r *http.Request, route string) (within context.Context, p Place, end func(status int)) {
	method := r.Method
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost:
	default:
		method = "_OTHER" // anybody can invent more
	}
	name := method
	if route != "" {
		name += " " + route
	}
	within, span := t.tracer.Start(parent(ctx, r.Header), name, trace.WithSpanKind(trace.SpanKindServer))
	at := span.SpanContext()
	p = Place{Trace: at.TraceID().String(), Span: at.SpanID().String()}
	if !span.IsRecording() {
		return within, p, func(int) {}
	}
	span.SetAttributes(semconv.HTTPRequestMethodKey.String(method), semconv.HTTPRoute(route))
	return within, p, func(status int) {
		span.SetAttributes(semconv.HTTPResponseStatusCode(status))
		if status >= http.StatusInternalServerError {
			span.SetStatus(codes.Error, "")
		}
		span.End()
	}
}

// Part starts a part of the request of ctx, named by what is done, where that
// request's span is sent; else it costs next to nothing. end takes whether
// the part came to what it should.
func Part(ctx context.Context, name string) (within context.Context, end func(well bool)) {
	whole := trace.SpanFromContext(ctx)
	if !whole.IsRecording() {
		return ctx, nothing
	}
	within, span := whole.TracerProvider().Tracer(scope).Start(ctx, name)
	return within, func(well bool) {
		if !well {
			span.SetStatus(codes.Error, "")
		}
		span.End()
	}
}

func nothing(bool) {}

// Stats counts spans. Those that ended and were neither sent nor failed wait,
// or were dropped since too many waited.
type Stats struct{ Ended, Sent, Failed uint64 }

// Stats are the counts so far.
func (t *Tracer) Stats() Stats {
	return Stats{Ended: t.ended.Load(), Sent: t.sender.sent.Load(), Failed: t.sender.failed.Load()}
}

// Close sends what waits, within a second; the rest is dropped.
func (t *Tracer) Close() {
	ctx, cancel := context.WithTimeout(context.Background(), closeTimeout)
	defer cancel()
	_ = t.provider.Shutdown(ctx)
	_ = t.sender.to.Shutdown(context.WithoutCancel(ctx)) // breaks off what is still being sent
}

// counter counts spans that are to be sent.
type counter struct{ ended *atomic.Uint64 }

func (counter) OnStart(context.Context, sdk.ReadWriteSpan) {}
func (c counter) OnEnd(sdk.ReadOnlySpan)                   { c.ended.Add(1) }
func (counter) Shutdown(context.Context) error             { return nil }
func (counter) ForceFlush(context.Context) error           { return nil }

// sender counts what is sent and tells the log when that begins to fail and
// when it is well again, not each time.
type sender struct {
	to           sdk.SpanExporter
	log          *slog.Logger
	failing      atomic.Bool
	sent, failed atomic.Uint64
}

func (s *sender) ExportSpans(ctx context.Context, spans []sdk.ReadOnlySpan) error {
	err := s.to.ExportSpans(ctx, spans)
	if err != nil {
		s.failed.Add(uint64(len(spans)))
		if !s.failing.Swap(true) {
			s.log.Warn("the collector of traces does not take them; going on without it", slog.String("error", err.Error()))
		}
		return err
	}
	s.sent.Add(uint64(len(spans)))
	if s.failing.Swap(false) {
		s.log.Info("the collector takes traces again")
	}
	return nil
}

func (s *sender) Shutdown(ctx context.Context) error { return s.to.Shutdown(ctx) }
