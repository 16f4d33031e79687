package httpapi

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gin-gonic/gin"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/cache"
	"github.com/knurl-hvacr/knurl/api/limit"
	"github.com/knurl-hvacr/knurl/api/telemetry"
)

// keyring knows two keys.
type keyring map[string]string

func (k keyring) Name(presented string) (string, bool) {
	name, ok := k[presented]
	return name, ok
}

// logged are options with a log to read.
func logged() (Options, *bytes.Buffer) {
	log := new(bytes.Buffer)
	o := options()
	o.Log = slog.New(slog.NewJSONHandler(log, nil))
	return o, log
}

func quota(t testing.TB, count int) *limit.Rate {
	t.Helper()
	r, err := limit.NewRate(limit.Quota{Count: count, Per: time.Hour}, nil)
	require.NoError(t, err)
	return r
}

// holds checks an answer against the contract, for a server with other options
// than those of drive.
func holds(t *testing.T, o Options, r *http.Request) exchange {
	t.Helper()
	got := exchangeWith(t, New(o), r)
	for _, misfit := range misfits(r, got.Result()) {
		t.Errorf("%s: %d does not fit the document: %s\n%s", got.of, got.Code, misfit, got.body)
	}
	return got
}

func TestKeys(t *testing.T) {
	o := options()
	o.Keys = keyring{"s3cret": "museum"}
	o.Metrics = telemetry.New("v", "r").Handler()
	for path, methods := range documentedPaths() {
		path = strings.NewReplacer("{designation}", "R-32", "{name}", "not-found").Replace(path)
		for _, method := range methods {
			closed := strings.HasPrefix(path, "/v1/") || path == "/metrics"
			got := holds(t, o, request(method, path, ""))
			if (got.Code == 401) != closed {
				t.Errorf("%s %s without a key: %d", method, path, got.Code)
			}
			if challenge := got.Header().Get("WWW-Authenticate"); closed && challenge != `Bearer realm="knurl"` {
				t.Errorf("%s: %q", path, challenge)
			}
			if with := holds(t, o, request(method, path, "", "Authorization", "Bearer s3cret")); with.Code == 401 {
				t.Errorf("%s %s with a key: %d", method, path, with.Code)
			}
		}
	}
	for header, status := range map[string]int{
		"Bearer s3cret": 200, "bearer s3cret": 200, "Bearer  s3cret": 200,
		"Bearer S3cret": 401, "Bearer s3cret ": 401, "Basic s3cret": 401, "s3cret": 401, "Bearer": 401, "Bearer museum": 401,
	} {
		if got := holds(t, o, request("GET", "/v1/units", "", "Authorization", header)); got.Code != status {
			t.Errorf("%q: %d", header, got.Code)
		}
	}
	wrong := holds(t, o, request("GET", "/v1/units", "", "Authorization", "Bearer x"))
	if got := wrong.Header().Get("WWW-Authenticate"); !strings.Contains(got, `error="invalid_token"`) {
		t.Errorf("%q", got)
	}
	if got := holds(t, o, request("GET", "/v1/units", "", "If-None-Match", drive(t, request("GET", "/v1/units", "")).Header().Get("ETag"))); got.Code != 401 {
		t.Errorf("a tag opened the door: %d", got.Code)
	}
	if got := exchangeWith(t, New(o), request("GET", "/v1/units?key=s3cret", "")); got.Code != 401 {
		t.Errorf("a key in the URL was taken: %d", got.Code)
	}
}

func TestKeysStayOutOfTheLog(t *testing.T) {
	o, log := logged()
	o.Keys = keyring{"s3cret": "museum"}
	h := New(o)
	exchangeWith(t, h, request("GET", "/v1/units", "", "Authorization", "Bearer s3cret"))
	exchangeWith(t, h, request("GET", "/v1/units", "", "Authorization", "Bearer oth3r"))
	text := log.String()
	if strings.Contains(text, "s3cret") || strings.Contains(text, "oth3r") || !strings.Contains(text, `"key":"museum"`) {
		t.Errorf("logged %s", text)
	}
}

func TestTraces(t *testing.T) {
	const id = "4bf92f3577b34da6a3ce929d0e0e4736"
	o, log := logged()
	got := holds(t, o, request("GET", "/v1/refrigerants/R-9999", "", "traceparent", "00-"+id+"-00f067aa0ba902b7-01"))
	if p := got.problem(t); p.TraceID != id || !strings.Contains(log.String(), `"trace_id":"`+id+`"`) {
		t.Errorf("%+v\n%s", p, log)
	}
}

func TestQuotas(t *testing.T) {
	o := options()
	o.Keys = keyring{"a": "one", "b": "two"}
	o.Rate = quota(t, 3)
	ask := func(key string) exchange {
		return holds(t, o, request("GET", "/v1/units", "", "Authorization", "Bearer "+key))
	}
	first := ask("a")
	if first.Header().Get("RateLimit-Policy") != `"default";q=3;w=3600` || first.Header().Get("RateLimit") != `"default";r=2;t=1200` {
		t.Errorf("%v", first.Header())
	}
	ask("a")
	ask("a")
	refused := ask("a")
	require.Equal(t, 429, refused.Code)
	require.Equal(t, "1200", refused.Header().Get("Retry-After"))
	require.True(t, strings.HasPrefix(refused.Header().Get("RateLimit"), `"default";r=0;t=`), "%d %v", refused.Code, refused.Header())
	if other := ask("b"); other.Code != 200 {
		t.Errorf("another key: %d", other.Code)
	}
	for range 5 { // strangers use up nobody's quota
		ask("x")
	}
	if other := ask("b"); other.Header().Get("RateLimit") != `"default";r=1;t=2400` {
		t.Errorf("%v", other.Header())
	}
	if got := holds(t, o, request("GET", "/livez", "")); got.Code != 200 || got.Header().Get("RateLimit") != "" {
		t.Errorf("probes are rationed: %d", got.Code)
	}
}

// composition is a question about a blend that nobody asked about before.
func composition(n int) *http.Request {
	share := 30 + float64(n)/1000
	return request("POST", "/v1/saturation", fmt.Sprintf(
		`{"composition":[{"refrigerant":"R-32","mass_percent":%g},{"refrigerant":"R-125","mass_percent":%g}],"points":[{"temperature":{"value":40,"unit":"degF"}}]}`,
		share, 100-share))
}

func TestNewCompositionsAreRationed(t *testing.T) {
	o := options()
	o.Compositions = quota(t, 2)
	h := New(o)
	for i, want := range []int{200, 200, 429, 429} {
		got := exchangeWith(t, h, composition(i))
		require.Equal(t, want, got.Code, "the %dth", i)
		if want == 429 {
			require.NotEmpty(t, got.Header().Get("Retry-After"), "the %dth", i)
		}
	}
	for _, known := range []*http.Request{composition(0), composition(1), request("GET", "/v1/refrigerants/R-407C/saturation?temperature=40degF", "")} {
		if got := exchangeWith(t, h, known); got.Code != 200 {
			t.Errorf("%s: %d %s", got.of, got.Code, got.body)
		}
	}
}

const leak = `{"system":{"refrigerant":"R-407C"},"fill_fraction":{"value":60,"unit":"percent"},"temperature":{"value":75,"unit":"degF"},"phase_leaving":"vapor","fraction_lost":{"value":40,"unit":"percent"}}`

// Whoever holds a turn for costly work gets through it although it needs a
// curve on the way; whoever comes when enough wait is told so; cheap questions
// do not wait.
func TestCostlyWorkWaitsForItsTurn(t *testing.T) {
	o := options()
	o.Costly = limit.NewGate(1, 0)
	h := New(o)
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	if got := exchangeWith(t, h, request("POST", "/v1/leaked-blend", leak).WithContext(ctx)); got.Code != 200 {
		t.Fatalf("%d %s", got.Code, got.body)
	}
	leave, err := o.Costly.Enter(t.Context())
	require.NoError(t, err)
	for _, r := range []*http.Request{composition(500), request("POST", "/v1/leaked-blend", strings.Replace(leak, "75", "76", 1))} {
		got := exchangeWith(t, h, r)
		require.Equal(t, 503, got.Code)
		require.True(t, strings.HasSuffix(got.problem(t).Type, "/overloaded"), "%d %s", got.Code, got.body)
		require.NotEmpty(t, got.Header().Get("Retry-After"))
	}
	if got := exchangeWith(t, h, request("GET", "/v1/refrigerants/R-407C/saturation?temperature=40degF", "")); got.Code != 200 {
		t.Errorf("%d %s", got.Code, got.body)
	}
	leave()
	if got := exchangeWith(t, h, composition(500)); got.Code != 200 || o.Costly.Within() != 0 {
		t.Errorf("%d %s", got.Code, got.body)
	}
}

func TestWaitingForATurnEndsInTime(t *testing.T) {
	o := options()
	o.Costly = limit.NewGate(1, 5)
	o.AnswerTimeout = 20 * time.Millisecond
	leave, err := o.Costly.Enter(t.Context())
	require.NoError(t, err)
	defer leave()
	if got := holds(t, o, composition(600)); got.Code != 503 || !strings.HasSuffix(got.problem(t).Type, "/took-too-long") {
		t.Errorf("%d %s", got.Code, got.body)
	}
}

// counting is a Meter.
type counting struct {
	panics, failures atomic.Int64
	mu               sync.Mutex
	requests         []string
	refusals         []string
}

func (c *counting) Request(route, method string, status int, _ time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.requests = append(c.requests, fmt.Sprint(method, " ", route, " ", status))
}

func (c *counting) Refusal(problem string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.refusals = append(c.refusals, problem)
}

func (c *counting) Failure(string) { c.failures.Add(1) }
func (c *counting) Panic()         { c.panics.Add(1) }

func TestMeter(t *testing.T) {
	o := options()
	m := new(counting)
	o.Meter = m
	o.Keys = keyring{}
	r := newRouter(o)
	r.GET("/panics", func(*gin.Context) { panic("x") })
	for _, path := range []string{"/livez", "/v1/units", "/nothing/here?secret", "/panics"} {
		exchangeWith(t, r, request("GET", path, ""))
	}
	want := "GET /livez 200,GET /v1/units 401,GET  404,GET /panics 500"
	got := strings.Join(m.requests, ",")
	require.Equal(t, want, got)
	require.Equal(t, int64(1), m.panics.Load())
	require.Equal(t, "unauthorized", strings.Join(m.refusals, ","))
}

// When the load lasts, more than are taken at once are refused at once; a burst
// is taken, up to a bound; probes always pass.
func TestShedding(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := options()
		m := new(counting)
		o.Meter, o.MaxInFlight = m, 3
		quick := New(options())
		h := shed(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/v1/slow" {
				time.Sleep(while / 2)
			}
			quick.ServeHTTP(w, request("GET", "/livez", ""))
		}), o)
		var callers sync.WaitGroup
		var taken atomic.Int64
		come := func(n int) {
			for range n {
				callers.Go(func() {
					rec := httptest.NewRecorder()
					if h.ServeHTTP(rec, request("GET", "/v1/slow", "")); rec.Code == 200 {
						taken.Add(1)
					}
				})
			}
			synctest.Wait()
		}
		come(100) // out of the blue
		callers.Wait()
		if got := taken.Swap(0); got != burst*3 || len(m.refusals) != 100-burst*3 {
			t.Errorf("of a burst %d were taken, %d refused", got, len(m.refusals))
		}
		time.Sleep(while)
		come(burst * 3)
		callers.Wait()
		if got := taken.Swap(0); got != burst*3 {
			t.Errorf("of another burst %d were taken", got)
		}
		come(burst*3 + 1)
		callers.Wait()
		taken.Store(0)
		come(3)
		got := exchangeWith(t, h, request("GET", "/v1/units", "")) // the load lasts
		require.Equal(t, 503, got.Code)
		require.NotEmpty(t, got.Header().Get("Retry-After"))
		require.NotEmpty(t, got.Header().Get(requestIDHeader))
		if misfits := misfits(request("GET", "/v1/units", ""), got.Result()); len(misfits) > 0 {
			t.Error(misfits)
		}
		if probe := exchangeWith(t, h, request("GET", "/livez", "")); probe.Code != 200 {
			t.Errorf("a probe: %d", probe.Code)
		}
		callers.Wait()
		if again := exchangeWith(t, h, request("GET", "/v1/units", "")); again.Code != 200 || taken.Load() != 3 {
			t.Errorf("afterwards %d, %d taken", again.Code, taken.Load())
		}
	})
}

// remembering counts what a store is asked.
type remembering struct {
	cache.Store
	sets atomic.Int64
}

func (r *remembering) Set(ctx context.Context, key string, value []byte) {
	r.sets.Add(1)
	r.Store.Set(ctx, key, value)
}

// What is kept is what was computed, to the last byte, and what differs in
// anything is not taken for it.
func TestKeptAnswers(t *testing.T) {
	memory, err := cache.NewMemory(8 << 20)
	require.NoError(t, err)
	store := &remembering{Store: memory}
	o := options()
	o.Answers = store
	h := New(o)
	const table = "/v1/refrigerants/R-407C/saturation-table?from=0degF&to=50degF&step=1delta_degF"
	asked := []func() *http.Request{
		func() *http.Request { return request("GET", table, "") },
		func() *http.Request { return request("GET", table+"&units=si", "") },
		func() *http.Request { return request("GET", table+"&explain=true", "") },
		func() *http.Request { return request("GET", table+"&altitude=500ft", "") },
		func() *http.Request { return request("GET", table, "", "Accept", csvType) },
		func() *http.Request { return request("GET", strings.Replace(table, "R-407C", "R-22", 1), "") },
		func() *http.Request { return request("GET", "/v1/refrigerants", "") },
		func() *http.Request {
			return request("GET", "/v1/refrigerants/R-32/pressure-enthalpy-diagram", "")
		},
		func() *http.Request {
			return request("GET", "/v1/refrigerants/R-290/pressure-enthalpy-diagram", "")
		},
		func() *http.Request { return request("POST", "/v1/leaked-blend", leak) },
		func() *http.Request { return request("POST", "/v1/leaked-blend?units=si", leak) },
		func() *http.Request { return request("POST", "/v1/leaked-blend?explain=true", leak) },
		func() *http.Request {
			return request("POST", "/v1/leaked-blend", strings.Replace(leak, "vapor", "liquid", 1))
		},
	}
	for range 2 {
		for _, r := range asked {
			want, got := drive(t, r()), exchangeWith(t, h, r())
			require.Equal(t, string(want.body), string(got.body), "%s", got.of)
			require.Equal(t, 200, got.Code, "%s", got.of)
			require.Equal(t, want.Header().Get("Content-Type"), got.Header().Get("Content-Type"), "%s", got.of)
		}
	}
	if n := store.sets.Load(); n != int64(len(asked)) {
		t.Errorf("%d answers kept of %d questions asked twice", n, len(asked))
	}
	for _, r := range []*http.Request{
		request("GET", "/v1/refrigerants/R-407C/saturation?temperature=40degF", ""), request("GET", "/v1/units", ""),
		request("GET", strings.Replace(table, "=1delta", "=10delta", 1), ""), // six rows
		request("GET", table+"&step=0delta_degF", ""), request("POST", "/v1/leaked-blend", `{}`),
	} {
		exchangeWith(t, h, r)
	}
	if n := store.sets.Load(); n != int64(len(asked)) {
		t.Errorf("cheap answers or errors were kept: %d", n-int64(len(asked)))
	}
}

func TestReadyTellsOfRedis(t *testing.T) {
	o := options()
	o.Redis = func(context.Context) string { return "unavailable" }
	if got := holds(t, o, request("GET", "/readyz", "")); got.Code != 200 || string(got.body) != "{\"status\":\"ok\",\"redis\":\"unavailable\"}\n" {
		t.Errorf("%d %s", got.Code, got.body)
	}
}

func TestMetricsAreServed(t *testing.T) {
	o := options()
	if got := holds(t, o, request("GET", "/metrics", "")); got.Code != 404 {
		t.Errorf("%d", got.Code)
	}
	o.Metrics = telemetry.New("v", "r").Handler()
	if got := holds(t, o, request("GET", "/metrics", "")); got.Code != 200 || !strings.Contains(string(got.body), "knurl_build_info") {
		t.Errorf("%d %.200s", got.Code, got.body)
	}
}
