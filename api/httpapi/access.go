package httpapi

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"runtime"
	"time"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
	"github.com/knurl-hvacr/knurl/api/auth"
	"github.com/knurl-hvacr/knurl/api/limit"
	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/api/tracing"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// caller is who sent a request, as far as it is known.
type caller struct {
	// name is what quotas go by: the key's name, or the address.
	name string
	// key is the name of the key, empty where none was asked for.
	key   string
	place tracing.Place
}

type callerKey struct{}

// callerOf is set for every request.
func callerOf(ctx context.Context) *caller {
	a, _ := ctx.Value(callerKey{}).(*caller)
	if a == nil {
		a = new(caller)
	}
	return a
}

// authenticate lets those pass who have a key, where there are keys.
func (s *server) authenticate(c *gin.Context) {
	if s.Keys == nil {
		return
	}
	token, ok := auth.Bearer(c.GetHeader("Authorization"))
	if !ok {
		fail(c, raise.Because(problem.Unauthorized, "the request carries no key"))
		return
	}
	name, ok := s.Keys.Name(token)
	if !ok {
		fail(c, raise.Because(problem.Unauthorized, "the key is not known"))
		return
	}
	who := callerOf(c.Request.Context())
	who.key, who.name = name, "key "+name
}

// challenge is the WWW-Authenticate header of a refusal (RFC 6750 section 3).
func challenge(r *http.Request) string {
	if _, ok := auth.Bearer(r.Header.Get("Authorization")); ok {
		return `Bearer realm="knurl", error="invalid_token"`
	}
	return `Bearer realm="knurl"`
}

// ration holds callers to their quota of requests and tells them what is left,
// in the fields of draft-ietf-httpapi-ratelimit-headers-10.
func (s *server) ration(c *gin.Context) {
	if s.Rate == nil {
		return
	}
	left := s.Rate.Take(c.Request.Context(), callerOf(c.Request.Context()).name)
	q := s.Rate.Quota
	c.Header("RateLimit-Policy", fmt.Sprintf(`"default";q=%d;w=%d`, q.Count, int(q.Per.Seconds())))
	c.Header("RateLimit", fmt.Sprintf(`"default";r=%d;t=%d`, left.Remaining, int(math.Ceil(left.Reset.Seconds()))))
	if !left.Allowed {
		fail(c, raise.After(problem.QuotaExceeded, left.RetryAfter, "%d requests in %v are allowed", q.Count, q.Per))
	}
}

// engineFor is the engine as the request of ctx may use it: it stops when the
// caller does not wait any longer, and new compositions are admitted first.
// Each time that it asks whether to stop it lets others go first, who wait for
// a short answer and not for the end of a time slice.
func (s *server) engineFor(ctx context.Context) *query.Engine {
	stop := func() bool {
		runtime.Gosched()
		return ctx.Err() != nil
	}
	return s.Engine.Until(stop).
		Admitting(func(typed bool) (func(), error) { return s.admit(ctx, typed) })
}

// admit lets a composition's curve be built. Those of the catalogue are few,
// so that only typed ones count against the caller's quota.
func (s *server) admit(ctx context.Context, typed bool) (done func(), err error) {
	if typed && s.Compositions != nil {
		left := s.Compositions.Take(ctx, callerOf(ctx).name)
		if q := s.Compositions.Quota; !left.Allowed {
			return nil, raise.After(problem.QuotaExceeded, left.RetryAfter, "%d compositions never seen in %v are allowed", q.Count, q.Per)
		}
	}
	leave := func() {}
	if s.Costly != nil && ctx.Value(insideKey{}) == nil {
		if leave, err = s.enter(ctx); err != nil {
			return nil, err
		}
	}
	_, end := tracing.Part(ctx, "fetch or build curves")
	return func() {
		end(true)
		leave()
	}, nil
}

// insideKey marks the context of costly work, which must not wait for a second
// turn inside its own.
type insideKey struct{}

// costly is an operation that waits for its turn, so that however much of it
// is asked there is time left for what is cheap.
func costly[Q, A any](s *server, next ask.Func[Q, A]) ask.Func[Q, A] {
	if s.Costly == nil {
		return next
	}
	return func(ctx context.Context, q Q) (a A, err error) {
		leave, err := s.enter(ctx)
		if err != nil {
			return a, err
		}
		defer leave()
		ctx, end := tracing.Part(ctx, "compute")
		defer func() { end(err == nil) }()
		return next(context.WithValue(ctx, insideKey{}, true), q)
	}
}

func (s *server) enter(ctx context.Context) (leave func(), err error) {
	_, end := tracing.Part(ctx, "wait for a turn")
	leave, err = s.Costly.Enter(ctx)
	end(err == nil)
	switch {
	case errors.Is(err, limit.ErrBusy):
		return nil, raise.After(problem.Overloaded, time.Second, "as much costly work as is taken waits already")
	case err != nil:
		return nil, query.ErrStopped
	}
	return leave, nil
}
