// Package httpapi serves the engine's operations over HTTP: routes, strict
// decoding, content negotiation, conditional requests, problems. It must not
// know any physics, nor where its configuration comes from.
package httpapi

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/cache"
	"github.com/knurl-hvacr/knurl/api/limit"
	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/api/tracing"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// Options are what New needs; every field must be set but for those that say
// what their zero value means.
type Options struct {
	Engine *query.Engine
	Log    *slog.Logger
	// Build is answered by GET /version.
	Build Build
	// Revision is part of every entity tag: it must change whenever an equal
	// question could get other bytes.
	Revision string
	// BodyLimit is the longest body that is read, in bytes.
	BodyLimit int64
	// AnswerTimeout is how long one request may be computed.
	AnswerTimeout time.Duration
	// MaxAge is how long answers to GET may be kept by caches.
	MaxAge time.Duration
	// Ready answers GET /readyz.
	Ready func() bool
	// Redis says for GET /readyz how the shared cache is; nil where there is none.
	Redis func(context.Context) string
	// Keys know who may ask; nil lets everybody.
	Keys interface {
		Name(presented string) (string, bool)
	}
	// Rate is how often each caller may ask; nil is no limit.
	Rate *limit.Rate
	// Compositions is how often each caller may bring a composition never seen;
	// nil is no limit.
	Compositions *limit.Rate
	// Costly is where costly work waits for its turn; nil is no limit.
	Costly *limit.Gate
	// MaxInFlight is how many requests for /v1 are taken at once while the load
	// lasts; a burst may be larger. 0 is no limit.
	MaxInFlight int
	// Answers keeps answers that cost more than fetching them; nil keeps none.
	Answers cache.Store
	// Meter counts what happens; nil counts nothing.
	Meter Meter
	// Traces makes a span of every request; nil makes none.
	Traces *tracing.Tracer
	// Batch bounds batches.
	Batch Batch
	// Metrics serves GET /metrics; nil where it is not served here.
	Metrics http.Handler
}

// Meter counts what happens.
type Meter interface {
	// Request counts an answer; route is a pattern, empty where none fits.
	Request(route, method string, status int, took time.Duration)
	// Refusal counts a request refused for want of a key, a quota or time, by
	// the name of the problem.
	Refusal(problem string)
	// Failure counts a solver that found no solution.
	Failure(code string)
	// Panic counts a handler that panicked.
	Panic()
}

// Build says what is running.
type Build struct {
	// Version of the program.
	Version string `json:"version" binding:"required" example:"v1.0.0"`
	// Commit that it was built from, empty where the build does not know.
	Commit string `json:"commit" binding:"required" example:"2b1f0c7"`
	// EngineRevision changes whenever an equal question could get another number.
	EngineRevision string `json:"engine_revision" binding:"required" example:"1"`
	// DataRevision changes with the embedded data.
	DataRevision string `json:"data_revision" binding:"required" example:"3f2a9c1d0b7e"`
	// Go is the version of the compiler.
	Go string `json:"go" binding:"required" example:"go1.26.8"`
} //@name Build

// New makes the handler of the whole service.
func New(o Options) http.Handler {
	router := newRouter(o)
	short := http.MaxBytesHandler(router, o.BodyLimit)
	var h http.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == batchPath { // bounds its lines
			router.ServeHTTP(w, r)
			return
		}
		short.ServeHTTP(w, r)
	})
	if o.MaxInFlight > 0 {
		h = shed(h, o)
	}
	return h
}

func newRouter(o Options) *gin.Engine {
	gin.SetMode(gin.ReleaseMode)
	r := gin.New()
	r.HandleMethodNotAllowed = true
	r.RedirectTrailingSlash = false
	r.UseEscapedPath = true // a designation may hold an escaped slash
	r.UnescapePathValues = true
	if err := r.SetTrustedProxies(nil); err != nil {
		panic(err) // nil is always taken
	}
	s := &server{Options: o}
	r.Use(s.identify, s.log, secure, s.report, s.recovered())
	r.NoRoute(func(c *gin.Context) {
		fail(c, raise.Because(problem.NotFound, "nothing is served here, see /openapi.json"))
	})
	r.NoMethod(func(c *gin.Context) {
		fail(c, raise.Because(problem.MethodNotAllowed, "this path takes %s", c.Writer.Header().Get("Allow")))
	})
	r.POST(batchPath, s.authenticate, s.ration, s.batch) // its lines are limited, not the whole
	r.Use(s.limit)
	s.operations(r.Group("", s.authenticate, s.ration))
	s.meta(r)
	return r
}

type server struct{ Options }

// get serves h for GET and HEAD.
func get(r gin.IRoutes, path string, h ...gin.HandlerFunc) {
	r.GET(path, h...)
	r.HEAD(path, h...)
}
