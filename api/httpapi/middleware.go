package httpapi

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net/http"
	"path"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/api/tracing"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
)

const requestIDHeader = "X-Request-Id"

// identify gives every request an id, the caller's where it has a plain one,
// and finds its place in a trace.
func (s *server) identify(c *gin.Context) {
	a, ctx := &caller{name: c.RemoteIP()}, c.Request.Context()
	if s.Traces == nil {
		a.place = tracing.Follow(c.Request.Header)
	} else {
		var end func(int)
		ctx, a.place, end = s.Traces.Begin(ctx, c.Request, c.FullPath())
		defer func() {
			c.Next()
			end(c.Writer.Status())
		}()
	}
	c.Request = c.Request.WithContext(context.WithValue(ctx, callerKey{}, a))
	id := c.GetHeader(requestIDHeader)
	if !plainID(id) {
		id = rand.Text()
	}
	c.Header(requestIDHeader, id)
}

func plainID(id string) bool {
	const longest = 64
	if id == "" || len(id) > longest {
		return false
	}
	for _, b := range []byte(id) {
		if !(b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= '0' && b <= '9' || b == '-' || b == '_' || b == '.') {
			return false
		}
	}
	return true
}

func requestID(c *gin.Context) string { return c.Writer.Header().Get(requestIDHeader) }

// log writes one line for each request: its route, never its path, query or
// body, for those hold what a customer's system reads.
func (s *server) log(c *gin.Context) {
	start := time.Now()
	c.Next()
	took := time.Since(start)
	if s.Meter != nil {
		s.Meter.Request(c.FullPath(), c.Request.Method, c.Writer.Status(), took)
	}
	level := slog.LevelInfo
	if c.FullPath() == "/livez" || c.FullPath() == "/readyz" {
		level = slog.LevelDebug
	}
	if !s.Log.Enabled(c.Request.Context(), level) {
		return
	}
	who := callerOf(c.Request.Context())
	s.Log.LogAttrs(c.Request.Context(), level, "request",
		slog.String("request_id", requestID(c)),
		slog.String("trace_id", who.place.Trace),
		slog.String("span_id", who.place.Span),
		slog.String("key", who.key),
		slog.String("method", c.Request.Method),
		slog.String("route", c.FullPath()),
		slog.Int("status", c.Writer.Status()),
		slog.Int("bytes", max(0, c.Writer.Size())),
		slog.Float64("took_ms", float64(took.Microseconds())/1000))
}

// secure sets what a browser should know of an answer that is only data.
func secure(c *gin.Context) {
	c.Header("X-Content-Type-Options", "nosniff")
	c.Header("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	c.Header("Referrer-Policy", "no-referrer")
	c.Header("Cache-Control", "no-store")
}

// limit ends what takes longer than a request may.
func (s *server) limit(c *gin.Context) {
	ctx, cancel := context.WithTimeout(c.Request.Context(), s.AnswerTimeout)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	c.Next()
}

// report writes the problem of the last error that a handler left. What is
// the server's fault goes to the log, of which the caller learns the id.
func (s *server) report(c *gin.Context) {
	c.Next()
	left := c.Errors.Last()
	if left == nil || c.Writer.Written() {
		return
	}
	p := s.problemFor(c.Request.Context(), requestID(c), c.FullPath(), left.Err)
	body, err := json.Marshal(p)
	if err != nil {
		panic(err) // strings and numbers
	}
	c.Header("Cache-Control", "no-store")
	c.Writer.Header().Del("ETag")
	switch p.Status {
	case http.StatusUnsupportedMediaType:
		c.Header("Accept", takes(c))
	case http.StatusUnauthorized:
		c.Header("WWW-Authenticate", challenge(c.Request))
	case http.StatusServiceUnavailable, http.StatusTooManyRequests:
		c.Header("Retry-After", strconv.Itoa(retryAfter(left.Err)))
	}
	send(c, p.Status, problem.MediaType, append(body, '\n'))
}

// problemFor is what the caller of a request gets for an error; it is counted.
func (s *server) problemFor(ctx context.Context, requestID, route string, err error) problem.Problem {
	p := raise.From(err)
	if p.Status >= 500 {
		p.RequestID = requestID
	}
	p.TraceID = callerOf(ctx).place.Trace
	if !raise.Known(err) {
		s.Log.LogAttrs(ctx, slog.LevelError, "unexpected error",
			slog.String("request_id", p.RequestID), slog.String("trace_id", p.TraceID), slog.String("route", route), slog.String("error", err.Error()))
	}
	s.count(p)
	return p
}

// count tells the meter what problem was answered.
func (s *server) count(p problem.Problem) {
	if s.Meter == nil {
		return
	}
	switch p.Status {
	case http.StatusServiceUnavailable, http.StatusTooManyRequests, http.StatusUnauthorized:
		s.Meter.Refusal(path.Base(p.Type))
	}
	for _, f := range p.Errors {
		if f.Code == query.CodeNotConverged {
			s.Meter.Failure(string(f.Code))
		}
	}
}

// retryAfter is in whole seconds, at least one.
func retryAfter(err error) int {
	if e, ok := errors.AsType[*raise.Error](err); ok {
		return max(1, int(math.Ceil(e.RetryAfter.Seconds())))
	}
	return 1
}

// panicked is the error of a handler that panicked.
type panicked struct {
	value any
	stack []byte
}

func (p *panicked) Error() string { return fmt.Sprintf("panic: %v\n%s", p.value, p.stack) }

// panicked is the error of a panic with value; it is counted.
func (s *server) panicked(value any) error {
	if s.Meter != nil {
		s.Meter.Panic()
	}
	return &panicked{value, debug.Stack()}
}

// recovered keeps the server alive when a handler panics.
func (s *server) recovered() gin.HandlerFunc {
	return gin.CustomRecoveryWithWriter(nil, func(c *gin.Context, value any) { fail(c, s.panicked(value)) })
}
