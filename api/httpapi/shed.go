package httpapi

import (
	"crypto/rand"
	"encoding/json"
	"maps"
	"net/http"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/problem"
)

// A burst is taken whole when nobody was refused for a while; once somebody had
// to be, only as many as are answered soon are taken until that has passed.
const (
	burst = 8 // times as many
	while = time.Second
)

// shed answers at once that the server is busy when as many requests are under
// way as are taken. That costs a small part of an answer, so that those taken
// are answered in time however many come. Beside /v1 everything is cheap and
// asked by those who watch the server, so it is always taken.
func shed(next http.Handler, o Options) http.Handler {
	var under, refused atomic.Int64 // refused is when somebody was last
	most := int64(o.MaxInFlight)
	start := time.Now().Add(-while)
	body, err := json.Marshal(raise.From(raise.Because(problem.Overloaded, "")))
	if err != nil {
		panic(err) // strings and numbers
	}
	body = append(body, '\n')
	headers := http.Header{
		"Content-Type": {problem.MediaType}, "Content-Length": {strconv.Itoa(len(body))}, "Cache-Control": {"no-store"},
		"Retry-After": {"1"}, "X-Content-Type-Options": {"nosniff"},
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !strings.HasPrefix(r.URL.Path, "/v1/") {
			next.ServeHTTP(w, r)
			return
		}
		defer under.Add(-1)
		n := under.Add(1)
		if n <= most || n <= burst*most && time.Since(start)-time.Duration(refused.Load()) >= while {
			// Others that have arrived are counted first: a handler that only
			// computes would run to its end, and the queue stand unseen before it.
			runtime.Gosched()
			next.ServeHTTP(w, r)
			return
		}
		refused.Store(int64(time.Since(start)))
		if o.Meter != nil {
			o.Meter.Refusal(string(problem.Overloaded))
		}
		h := w.Header()
		maps.Copy(h, headers)
		h.Set(requestIDHeader, rand.Text())
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write(body)
	})
}
