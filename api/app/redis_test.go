//go:build !js

package app_test

import (
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/Shopify/toxiproxy/v2"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/redis/redistest"
)

// question is one that needs curves or answers that may be shared.
type question struct{ method, target, body string }

var shared = []question{
	{"GET", "/v1/refrigerants/R-407C/saturation?pressure=70psig", ""},
	{"GET", "/v1/refrigerants/R-454B/saturation-table?from=-40degF&to=120degF&step=2delta_degF", ""},
	{"GET", "/v1/refrigerants/R-404A/saturation-table?from=0degC&to=60degC&step=1delta_K&units=si", ""},
	{"POST", "/v1/saturation", `{"composition":[{"refrigerant":"R-32","mass_percent":41.5},{"refrigerant":"R-125","mass_percent":58.5}],"points":[{"pressure":{"value":100,"unit":"psig"}},{"temperature":{"value":40,"unit":"degF"}}]}`},
	{"POST", "/v1/leaked-blend", `{"system":{"refrigerant":"R-407C"},"fill_fraction":{"value":60,"unit":"percent"},"temperature":{"value":75,"unit":"degF"},"phase_leaving":"vapor","fraction_lost":{"value":35,"unit":"percent"}}`},
	{"POST", "/v1/superheat-subcooling", `{"system":{"refrigerant":"R-448A"},"readings":{"suction_pressure":{"value":35,"unit":"psig"},"suction_line_temperature":{"value":45,"unit":"degF"}}}`},
	{"POST", "/v1/leaked-blend", `{"system":{"refrigerant":"R-9999"}}`},
}

var ids = regexp.MustCompile(`"(request_id|trace_id)":"[^"]*"`)

// answers asks all shared questions and gives status and body of each, without
// ids, and the longest time that one took.
func (r running) answers(t *testing.T) (all []string, longest time.Duration) {
	t.Helper()
	for _, q := range shared {
		start := time.Now()
		status, body := r.ask(t, q)
		longest = max(longest, time.Since(start))
		all = append(all, fmt.Sprint(status, " ", ids.ReplaceAllString(body, "")))
	}
	return all, longest
}

func (r running) ask(t *testing.T, q question) (int, string) {
	t.Helper()
	req, err := http.NewRequest(q.method, r.url+q.target, strings.NewReader(q.body))
	require.NoError(t, err)
	req.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(body)
}

// counted reads a metric.
func (r running) counted(t *testing.T, series string) float64 {
	t.Helper()
	_, text := r.ask(t, question{"GET", "/metrics", ""})
	for line := range strings.Lines(text) {
		if value, ok := strings.CutPrefix(line, series+" "); ok {
			n, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
			require.NoError(t, err)
			return n
		}
	}
	t.Fatalf("no %s in\n%s", series, text)
	return 0
}

func lookups(level, result string) string {
	return fmt.Sprintf(`knurl_cache_lookups_total{level=%q,result=%q}`, level, result)
}

// withRedis is a service that has kept nothing yet.
func withRedis(t *testing.T, address string, more ...string) running {
	t.Helper()
	return start(t, append([]string{"-warm=none", "-redis-url=redis://" + address}, more...)...)
}

// undisturbed asks a new service that waits for Redis however busy the machine
// is.
func undisturbed(t *testing.T, s *redistest.Server, more ...string) (r running, got []string) {
	t.Helper()
	r = withRedis(t, s.Addr, append(more, "-redis-timeout="+patience.Long.String())...)
	got, _ = r.answers(t)
	require.Zero(t, r.counted(t, `knurl_redis_calls_total{result="failed"}`))
	return r, got
}

// equal fails where answers differ from those without Redis.
func equal(t *testing.T, name string, got, want []string) {
	t.Helper()
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%s: %s %s\n%.400s\nwithout Redis\n%.400s", name, shared[i].method, shared[i].target, got[i], want[i])
		}
	}
}

// The answers that a service without Redis gives, and the longest time that
// one takes.
func alone(t *testing.T) (want []string, longest time.Duration) {
	t.Helper()
	r := start(t, "-warm=none")
	want, longest = r.answers(t)
	for i, a := range want[:len(want)-1] {
		if !strings.HasPrefix(a, "200 ") {
			t.Fatalf("%s: %s", shared[i].target, a)
		}
	}
	return want, longest
}

func TestTwoInstancesShareWork(t *testing.T) {
	want, _ := alone(t)
	s := redistest.Start(t)
	one, got := undisturbed(t, s)
	equal(t, "first instance", got, want)
	if hits := one.counted(t, lookups("redis", "hit")); hits != 0 {
		t.Errorf("%v hits before anything was stored", hits)
	}
	stored := one.counted(t, `knurl_redis_calls_total{result="stored"}`)
	two, got := undisturbed(t, s)
	equal(t, "second instance", got, want)
	hits := two.counted(t, lookups("redis", "hit"))
	// The curves of five compositions and three answers; a leak's curve is not
	// needed where its answer is there.
	if stored < 8 || hits < 6 || two.counted(t, `knurl_redis_calls_total{result="stored"}`) != 0 {
		t.Errorf("%v stored, %v hits", stored, hits)
	}
}

// Whatever Redis holds, answers are those without it.
func TestLyingRedis(t *testing.T) {
	want, _ := alone(t)
	s := redistest.Start(t)
	undisturbed(t, s, "-cache-secret=between us")
	keys := s.Keys()
	genuine := map[string]string{}
	for _, k := range keys {
		genuine[k] = s.Do("GET", k).(string)
	}
	for name, lie := range map[string]func(i int, value string) string{
		"swapped":   func(i int, _ string) string { return genuine[keys[(i+1)%len(keys)]] },
		"truncated": func(_ int, v string) string { return v[:len(v)*2/3] },
		"flipped":   func(_ int, v string) string { return v[:len(v)/2] + string(v[len(v)/2]^4) + v[len(v)/2+1:] },
		"foreign":   func(int, string) string { return `{"value":1}` },
	} {
		for i, k := range keys {
			s.Do("SET", k, lie(i, genuine[k]))
		}
		liar, got := undisturbed(t, s, "-cache-secret=between us")
		equal(t, name, got, want)
		refused, hits := liar.counted(t, lookups("redis", "refused")), liar.counted(t, lookups("redis", "hit"))
		if refused < 6 || hits != 0 {
			t.Errorf("%s: %v refused, %v hits", name, refused, hits)
		}
	}
	for _, k := range keys {
		s.Do("SET", k, genuine[k])
	}
	stranger, got := undisturbed(t, s, "-cache-secret=something else")
	equal(t, "another secret", got, want)
	if refused := stranger.counted(t, lookups("redis", "refused")); refused < 6 {
		t.Errorf("another secret: %v refused", refused)
	}
	s.Do("FLUSHALL")
	_, got = undisturbed(t, s, "-cache-secret=between us")
	equal(t, "flushed", got, want)
}

// A Redis that is dead, stopped, full or behind a bad network costs bounded
// time and no answer.
func TestFailingRedis(t *testing.T) {
	zerolog.SetGlobalLevel(zerolog.Disabled) // the proxy's own talk
	want, usual := alone(t)
	// What Redis may add to one question: one call that fails for want of an
	// answer, dialing included. The rest is for a busy machine.
	most := 60*time.Millisecond + 4*usual + 400*time.Millisecond
	for name, fail := range map[string]func(t *testing.T) string{
		"absent": func(t *testing.T) string {
			s := redistest.Start(t)
			s.Kill()
			return s.Addr
		},
		"stopped": func(t *testing.T) string {
			s := redistest.Start(t)
			s.Stop()
			return s.Addr
		},
		"full": func(t *testing.T) string {
			return redistest.Start(t, "--maxmemory", "1mb", "--maxmemory-policy", "noeviction").Addr
		},
		"without rights": func(t *testing.T) string {
			return redistest.Start(t, "--requirepass", "x").Addr
		},
		"delayed": func(t *testing.T) string { return toxic(t, `{"type":"latency","attributes":{"latency":300}}`) },
		"trickling": func(t *testing.T) string {
			return toxic(t, `{"type":"slicer","attributes":{"average_size":1,"delay":5000}}`)
		},
		"cut": func(t *testing.T) string { return toxic(t, `{"type":"limit_data","attributes":{"bytes":200}}`) },
	} {
		t.Run(name, func(t *testing.T) {
			r := withRedis(t, fail(t))
			got, longest := r.answers(t)
			equal(t, name, got, want)
			t.Logf("slowest answer %v, %v calls failed, %v skipped", longest,
				r.counted(t, `knurl_redis_calls_total{result="failed"}`), r.counted(t, `knurl_redis_calls_total{result="skipped"}`))
			patience.Within(t, longest, most, "the slowest answer")
			if code, body := r.ask(t, question{"GET", "/readyz", ""}); code != 200 || !strings.Contains(body, `"redis":`) {
				t.Errorf("%d %s", code, body)
			}
		})
	}
}

// toxic is the address of a proxy before a server of its own.
func toxic(t *testing.T, kind string) string {
	t.Helper()
	s := redistest.Start(t)
	proxy := toxiproxy.NewProxy(toxiproxy.NewServer(toxiproxy.NewMetricsContainer(nil), zerolog.Nop()), "redis", "127.0.0.1:0", s.Addr)
	require.NoError(t, proxy.Start())
	t.Cleanup(proxy.Stop)
	_, err := proxy.Toxics.AddToxicJson(strings.NewReader(kind))
	require.NoError(t, err)
	return proxy.Listen
}

// Redis goes and comes back under a service that goes on.
func TestRedisComesBack(t *testing.T) {
	t.Parallel()
	want, _ := alone(t)
	s := redistest.Start(t)
	r := withRedis(t, s.Addr, "-cache-bytes=1", "-redis-timeout="+patience.Long.String()) // nothing is kept here, so that every question asks Redis
	ready := func(state string) {
		t.Helper()
		for deadline := time.Now().Add(patience.Long); ; time.Sleep(50 * time.Millisecond) {
			code, body := r.ask(t, question{"GET", "/readyz", ""})
			if code != 200 {
				t.Fatalf("%d %s", code, body)
			}
			if strings.Contains(body, `"redis":"`+state+`"`) {
				return
			}
			if time.Now().After(deadline) {
				t.Fatalf("not %s: %s", state, body)
			}
		}
	}
	for range 2 {
		got, _ := r.answers(t)
		equal(t, "alive", got, want)
	}
	hits := r.counted(t, lookups("redis", "hit"))
	if hits < 3 {
		t.Errorf("%v hits", hits)
	}
	s.Kill()
	ready("unavailable")
	got, _ := r.answers(t)
	equal(t, "killed", got, want)
	s.Run()
	ready("ok")
	for range 2 {
		got, _ = r.answers(t)
		equal(t, "restarted", got, want)
	}
	if now := r.counted(t, lookups("redis", "hit")); now < hits+3 {
		t.Errorf("%v hits, %v before it was killed", now, hits)
	}
}
