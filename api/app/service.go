package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/pprof"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/rs/cors"
	"github.com/throttled/throttled/v2"

	"github.com/knurl-hvacr/knurl/api/auth"
	"github.com/knurl-hvacr/knurl/api/cache"
	"github.com/knurl-hvacr/knurl/api/httpapi"
	"github.com/knurl-hvacr/knurl/api/limit"
	"github.com/knurl-hvacr/knurl/api/redis"
	"github.com/knurl-hvacr/knurl/api/telemetry"
	"github.com/knurl-hvacr/knurl/api/tracing"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// waitFor is how many wait for each turn of costly work.
const waitFor = 16

// service is what serves, and what it stands on.
type service struct {
	engine  *query.Engine
	metrics *telemetry.Metrics
	keys    *auth.Keys
	redis   *redis.Client
	traces  *tracing.Tracer
	handler http.Handler
}

// assemble makes the service that c describes. It is to be closed.
// Batches under way come to an end when ending is done.
func assemble(ending context.Context, c Config, log *slog.Logger, ready func() bool) (s *service, err error) {
	s = new(service)
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	b, revision := build()
	s.metrics = telemetry.New(b.Version, revision)
	o := httpapi.Options{
		Log: log, Build: b, Revision: revision, Ready: ready, Meter: s.metrics,
		BodyLimit: c.BodyLimit, MaxAge: c.MaxAge, AnswerTimeout: c.AnswerTimeout, MaxInFlight: c.MaxInFlight,
		Costly: limit.NewGate(c.CostlyAtOnce, waitFor*c.CostlyAtOnce),
		Batch: httpapi.Batch{
			LineLimit: c.BatchLineLimit, Lines: c.BatchLines, AtOnce: limit.NewGate(c.BatchesAtOnce, 0), Timeout: c.BatchTimeout,
			LineTimeout: c.ReadTimeout, WriteTimeout: c.WriteTimeout, Ending: ending,
		},
	}
	if c.AdminListen == "" {
		o.Metrics = s.metrics.Handler()
	}
	if c.APIKeysFile != "" {
		if s.keys, err = auth.Open(c.APIKeysFile, log); err != nil {
			return nil, err
		}
		o.Keys = s.keys
	}
	if c.TracesEndpoint != "" {
		if s.traces, err = tracing.New(tracing.Options{Endpoint: c.TracesEndpoint, Share: c.TracesShare, Version: b.Version, Revision: revision, Log: log}); err != nil {
			return nil, err
		}
		o.Traces = s.traces
	}
	memory, err := cache.NewMemory(c.CacheBytes)
	if err != nil {
		return nil, err
	}
	stores := cache.Chain{memory}
	var curves query.Options
	var rates throttled.GCRAStoreCtx
	if c.RedisURL != "" {
		s.redis, err = redis.New(c.shared(log))
		if err != nil {
			return nil, err
		}
		if rates, err = s.redis.RateStore(); err != nil {
			return nil, err
		}
		stores = append(stores, s.redis)
		curves.CurveStore = redis.Curves{Client: s.redis}
		o.Redis = func(ctx context.Context) string {
			if s.redis.Ping(ctx) {
				return "ok"
			}
			return "unavailable"
		}
	}
	o.Answers = stores
	if o.Rate, err = rate(c.RateLimit, rates); err != nil {
		return nil, err
	}
	// New compositions cost this process and no other: they are not counted
	// together.
	if o.Compositions, err = rate(c.NewCompositions, nil); err != nil {
		return nil, err
	}
	s.engine = query.NewWith(curves)
	o.Engine = s.engine
	s.handler = httpapi.New(o)
	if len(c.CORSOrigins) > 0 {
		s.handler = crossOrigin(c.CORSOrigins).Handler(s.handler)
	}
	s.measure(memory, o.Costly)
	return s, nil
}

func rate(q limit.Quota, shared throttled.GCRAStoreCtx) (*limit.Rate, error) {
	if q.None() {
		return nil, nil
	}
	return limit.NewRate(q, shared)
}

// crossOrigin lets pages of the origins ask from a browser. Keys come in a
// header that pages have to set, so no credentials of the browser's own count.
func crossOrigin(origins []string) *cors.Cors {
	return cors.New(cors.Options{
		AllowedOrigins: origins,
		AllowedMethods: []string{http.MethodGet, http.MethodHead, http.MethodPost},
		AllowedHeaders: []string{"Accept", "Authorization", "Content-Type", "If-None-Match", "Traceparent", "Tracestate", "X-Request-Id"},
		ExposedHeaders: []string{"ETag", "RateLimit", "RateLimit-Policy", "Retry-After", "X-Request-Id"},
		MaxAge:         int((10 * time.Minute).Seconds()),
	})
}

// measure shows the states of caches and gates.
func (s *service) measure(memory *cache.Memory, costly *limit.Gate) {
	lookups := func(level, result string, value func() uint64) {
		s.metrics.Counter("knurl_cache_lookups_total", "Look-ups of kept answers and curves, by level and result; refused entries did not carry the seal of their key.",
			map[string]string{"level": level, "result": result}, func() float64 { return float64(value()) })
	}
	lookups("memory", "hit", func() uint64 { hits, _, _ := memory.Stats(); return hits })
	lookups("memory", "miss", func() uint64 { _, misses, _ := memory.Stats(); return misses })
	s.metrics.Gauge("knurl_cache_bytes", "Bytes of answers kept in this process.", nil, func() float64 {
		_, _, bytes := memory.Stats()
		return float64(bytes)
	})
	s.metrics.Gauge("knurl_costly_work", "Costly work under way or waiting for its turn.", nil, func() float64 { return float64(costly.Within()) })
	if s.traces != nil {
		spans := func(result string, value func() uint64) {
			s.metrics.Counter("knurl_spans_total", "Spans of sampled requests that ended, were taken by the collector, or failed to be; what ended and neither was sent nor failed waits or was dropped.",
				map[string]string{"result": result}, func() float64 { return float64(value()) })
		}
		spans("ended", func() uint64 { return s.traces.Stats().Ended })
		spans("sent", func() uint64 { return s.traces.Stats().Sent })
		spans("failed", func() uint64 { return s.traces.Stats().Failed })
	}
	if s.redis == nil {
		return
	}
	lookups("redis", "hit", func() uint64 { return s.redis.Stats().Hits })
	lookups("redis", "miss", func() uint64 { return s.redis.Stats().Misses })
	lookups("redis", "refused", func() uint64 { return s.redis.Stats().Refused })
	calls := func(result string, value func() uint64) {
		s.metrics.Counter("knurl_redis_calls_total", "Calls of Redis that stored, failed, or were skipped since it had just failed.",
			map[string]string{"result": result}, func() float64 { return float64(value()) })
	}
	calls("stored", func() uint64 { return s.redis.Stats().Stored })
	calls("failed", func() uint64 { return s.redis.Stats().Failed })
	calls("skipped", func() uint64 { return s.redis.Stats().Skipped })
	s.metrics.Gauge("knurl_redis_circuit_open", "1 while Redis is left alone after a failure.", nil, func() float64 {
		if s.redis.Stats().Open {
			return 1
		}
		return 0
	})
}

// watchKeys makes the task that reads the keys again when their file changes or
// on SIGHUP, until ctx is done. The signal is taken from now on.
func (s *service) watchKeys(ctx context.Context) func() {
	if s.keys == nil {
		return func() {}
	}
	hangup := make(chan os.Signal, 1)
	signal.Notify(hangup, syscall.SIGHUP)
	return func() {
		defer signal.Stop(hangup)
		s.keys.Watch(ctx, time.Second, hangup)
	}
}

// admin serves what is for those who run the service. A listener that others
// can reach asks for a key where there are keys.
func (s *service) admin(local bool) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.metrics.Handler())
	mux.HandleFunc("GET /debug/pprof/", pprof.Index)
	mux.HandleFunc("GET /debug/pprof/cmdline", pprof.Cmdline)
	mux.HandleFunc("GET /debug/pprof/profile", pprof.Profile)
	mux.HandleFunc("GET /debug/pprof/symbol", pprof.Symbol)
	mux.HandleFunc("GET /debug/pprof/trace", pprof.Trace)
	if local || s.keys == nil {
		return mux
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		token, ok := auth.Bearer(r.Header.Get("Authorization"))
		if ok {
			_, ok = s.keys.Name(token)
		}
		if !ok {
			w.Header().Set("WWW-Authenticate", `Bearer realm="knurl admin"`)
			http.Error(w, "a key is needed", http.StatusUnauthorized)
			return
		}
		mux.ServeHTTP(w, r)
	})
}

func (s *service) close() {
	if s.traces != nil {
		s.traces.Close()
	}
	if s.redis != nil {
		_ = s.redis.Close()
	}
}

// warm builds curves before they are asked for, until ctx is done.
func (s *service) warm(ctx context.Context, designations []string, log *slog.Logger) {
	engine := s.engine.Until(func() bool { return ctx.Err() != nil })
	for _, d := range designations {
		if err := engine.Warm(d); err != nil && !errors.Is(err, query.ErrStopped) {
			log.Error("cannot warm", slog.String("refrigerant", d), slog.String("error", err.Error()))
		}
	}
}

// adminServer is nil where there is no admin listener.
func (s *service) adminServer(ctx context.Context, c Config) (*http.Server, string, error) {
	if c.AdminListen == "" {
		return nil, "", nil
	}
	listener, err := listen(ctx, c.AdminListen)
	if err != nil {
		return nil, "", err
	}
	local, err := loopback(listener.Addr().String())
	if err != nil {
		return nil, "", errors.Join(err, listener.Close())
	}
	server := &http.Server{
		Handler: s.admin(local), ReadHeaderTimeout: c.HeaderTimeout, ReadTimeout: c.ReadTimeout,
		WriteTimeout: 2 * time.Minute, IdleTimeout: c.IdleTimeout, MaxHeaderBytes: maxHeaderBytes, // a profile takes half a minute
	}
	go func() { _ = server.Serve(listener) }()
	return server, fmt.Sprintf("knurld's metrics are on http://%s/metrics\n", listener.Addr()), nil
}
