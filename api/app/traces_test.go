package app_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	collector "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	otlp "go.opentelemetry.io/proto/otlp/trace/v1"
	"google.golang.org/protobuf/proto"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/redis/redistest"
)

// collected is what a collector was sent.
type collected struct {
	sync.Mutex
	header http.Header
	raw    bytes.Buffer
	spans  []*otlp.Span
}

// collect starts a collector on the loopback.
func collect(t *testing.T) (*collected, string) {
	t.Helper()
	c := new(collected)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/v1/traces" || r.Header.Get("Content-Type") != "application/x-protobuf" {
			t.Errorf("%s %s", r.URL.Path, r.Header.Get("Content-Type"))
		}
		unzipped, err := gzip.NewReader(r.Body)
		if err != nil {
			t.Error(err)
			return
		}
		raw, err := io.ReadAll(unzipped)
		if err != nil {
			t.Error(err)
			return
		}
		var batch collector.ExportTraceServiceRequest
		if err := proto.Unmarshal(raw, &batch); err != nil {
			t.Error(err)
			return
		}
		c.Lock()
		defer c.Unlock()
		c.header = r.Header
		c.raw.Write(raw)
		for _, of := range batch.ResourceSpans {
			for _, by := range of.ScopeSpans {
				c.spans = append(c.spans, by.Spans...)
			}
		}
	}))
	t.Cleanup(s.Close)
	return c, s.URL + "/v1/traces"
}

func (c *collected) named(name string) (found []*otlp.Span) {
	for _, s := range c.spans {
		if s.Name == name {
			found = append(found, s)
		}
	}
	return found
}

// logged are the request lines of a log.
func logged(t *testing.T, log string) (lines []struct {
	Trace string `json:"trace_id"`
	Span  string `json:"span_id"`
	Route string `json:"route"`
	Msg   string `json:"msg"`
}) {
	t.Helper()
	for d := json.NewDecoder(strings.NewReader(log)); d.More(); {
		line := struct {
			Trace string `json:"trace_id"`
			Span  string `json:"span_id"`
			Route string `json:"route"`
			Msg   string `json:"msg"`
		}{}
		require.NoError(t, d.Decode(&line))
		if line.Msg == "request" {
			lines = append(lines, line)
		}
	}
	return lines
}

// What may stand in a span: everything else is a leak until somebody has
// looked at it.
var told = []string{"http.request.method", "http.route", "http.response.status_code"}

func TestTraces(t *testing.T) {
	const (
		begun     = "4bf92f3577b34da6a3ce929d0e0e4736"
		unsampled = "5bf92f3577b34da6a3ce929d0e0e4737"
		caller    = "00f067aa0ba902b7"
	)
	file := filepath.Join(t.TempDir(), "keys")
	keys(t, file, "sesame")
	got, endpoint := collect(t)
	r := start(t, "-traces-endpoint", endpoint, "-traces-share=1", "-warm=none", "-api-keys-file", file,
		"-redis-url", "redis://"+redistest.Start(t).Addr, "-redis-timeout", patience.Long.String())
	leaked, err := os.ReadFile("../../testdata/demo/ferry-leaked-blend.json")
	require.NoError(t, err)
	ask := func(method, path, body string, status int, header ...string) {
		t.Helper()
		req, err := http.NewRequest(method, r.url+path, strings.NewReader(body))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Authorization", "Bearer sesame")
		res := send(t, req, header...)
		if res.StatusCode != status {
			t.Errorf("%s: %d", path, res.StatusCode)
		}
	}
	ask("GET", "/v1/refrigerants/R-454B/saturation?pressure=117.25psig", "", 200, "Traceparent", "00-"+begun+"-"+caller+"-01")
	ask("GET", "/v1/refrigerants/R-454B/saturation?pressure=117.25psig", "", 200, "Traceparent", "00-"+unsampled+"-"+caller+"-00")
	ask("POST", "/v1/leaked-blend", string(leaked), 200)
	ask("BREW", "/v1/R-454B", "", 404)
	ask("GET", "/v1/units", "", 401, "Authorization", "Bearer ali-baba")
	r.stop()
	require.NoError(t, r.end(t))

	got.Lock()
	defer got.Unlock()
	saturation := "GET /v1/refrigerants/:designation/saturation"
	counts := map[string]int{}
	for _, s := range got.spans {
		counts[s.Name]++
		for _, a := range s.Attributes {
			if !slices.Contains(told, a.Key) {
				t.Errorf("%s tells %v", s.Name, a)
			}
		}
		if len(s.Events) > 0 || s.Status.GetMessage() != "" {
			t.Errorf("%s tells %v %v", s.Name, s.Events, s.Status)
		}
	}
	for name, want := range map[string]int{
		saturation: 1, "POST /v1/leaked-blend": 1, "_OTHER": 1, "GET /v1/units": 1,
		"fetch or build curves": 2, "compute": 1, "wait for a turn": 2, "redis get": 1, "redis set": 1,
	} {
		if counts[name] != want {
			t.Errorf("%d spans %q, want %d", counts[name], name, want)
		}
	}
	for _, secret := range []string{"454B", "117.25", "sesame", "ali-baba", "407C", "127.0.0.1", unsampled} {
		if bytes.Contains(got.raw.Bytes(), []byte(secret)) {
			t.Errorf("%q was sent", secret)
		}
	}
	if t.Failed() {
		t.Fatalf("%v", counts)
	}

	followed := got.named(saturation)[0]
	require.Equal(t, begun, hex.EncodeToString(followed.TraceId), "not of the caller's trace")
	require.Equal(t, caller, hex.EncodeToString(followed.ParentSpanId), "not of the caller's trace")
	require.Equal(t, otlp.Span_SPAN_KIND_SERVER, followed.Kind, "not of the caller's trace")
	whole, part := got.named("POST /v1/leaked-blend")[0], got.named("redis get")[0]
	if !bytes.Equal(part.TraceId, whole.TraceId) || !bytes.Equal(part.ParentSpanId, whole.SpanId) {
		t.Errorf("not a part: %v of %v", part, whole)
	}
	lines := logged(t, r.log.String())
	if len(lines) != 5 || lines[1].Trace != unsampled {
		t.Errorf("%+v", lines)
	}
	for _, line := range slices.Delete(lines, 1, 2) {
		if !slices.ContainsFunc(got.spans, func(s *otlp.Span) bool {
			return hex.EncodeToString(s.TraceId) == line.Trace && hex.EncodeToString(s.SpanId) == line.Span
		}) {
			t.Errorf("no span of the log's line %+v", line)
		}
	}
}

// Of traces begun here none is sent, of others each whose caller says so.
func TestTracesOfOthersOnly(t *testing.T) {
	t.Setenv("OTEL_EXPORTER_OTLP_HEADERS", "authorization=Basic%20Zm9v") // collectors may ask for something
	got, endpoint := collect(t)
	r := start(t, "-traces-endpoint", endpoint, "-traces-share=0", "-warm=none")
	for range 20 {
		with(t, r.url+"/v1/units")
	}
	with(t, r.url+"/v1/units", "Traceparent", "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
	r.stop()
	require.NoError(t, r.end(t))
	got.Lock()
	defer got.Unlock()
	if len(got.spans) != 1 || got.header.Get("Authorization") != "Basic Zm9v" {
		t.Errorf("%d spans, %v", len(got.spans), got.header)
	}
	for _, line := range logged(t, r.log.String()) {
		if len(line.Trace) != 32 || len(line.Span) != 16 {
			t.Errorf("%+v", line)
		}
	}
}

// answering listens on the loopback and lets f have every connection until
// the other side or the test leaves.
func answering(t *testing.T, f func(net.Conn)) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer context.AfterFunc(t.Context(), func() { _ = c.Close() })()
				f(c)
				_ = c.Close()
			}()
		}
	}()
	return "http://" + l.Addr().String() + "/v1/traces"
}

func refusing(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_ = l.Close()
	return "http://" + l.Addr().String()
}

// A collector costs spans, never a request: whatever it does, requests are
// answered as fast as ever, what waits is bounded, and so is the stop.
func TestBadCollectors(t *testing.T) {
	for name, collector := range map[string]func(*testing.T) string{
		"refuses": refusing,
		"hangs": func(t *testing.T) string {
			return answering(t, func(c net.Conn) { _, _ = io.Copy(io.Discard, c) })
		},
		"reads ten bytes a second": func(t *testing.T) string {
			return answering(t, func(c net.Conn) {
				for range 60 {
					_, _ = c.Read(make([]byte, 1))
					time.Sleep(100 * time.Millisecond)
				}
			})
		},
		"cuts": func(t *testing.T) string { return answering(t, func(net.Conn) {}) },
		"trickles": func(t *testing.T) string {
			return answering(t, func(c net.Conn) {
				_, _ = c.Read(make([]byte, 1))
				for _, b := range []byte("HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\n" + strings.Repeat("x", 1000)) {
					if _, err := c.Write([]byte{b}); err != nil {
						return
					}
					time.Sleep(50 * time.Millisecond)
				}
			})
		},
		"is overloaded": func(t *testing.T) string {
			return answering(t, func(c net.Conn) {
				fmt.Fprint(c, "HTTP/1.1 503 Service Unavailable\r\nRetry-After: 100\r\nConnection: close\r\nContent-Length: 0\r\n\r\n")
			})
		},
		"talks nonsense": func(t *testing.T) string {
			return answering(t, func(c net.Conn) {
				_, _ = c.Read(make([]byte, 1)) // what comes unasked is told on standard error
				fmt.Fprint(c, strings.Repeat("nonsense\r\n", 1000))
			})
		},
	} {
		t.Run(name, func(t *testing.T) {
			endpoint := collector(t)
			before := runtime.NumGoroutine()
			r := start(t, "-traces-endpoint", endpoint, "-traces-share=1", "-warm=none", "-log-level=warn")
			requests := 300
			if name == "hangs" || os.Getenv("KNURL_FULL") != "" {
				requests = 3000 // more than wait and are under way
			}
			slowest := time.Duration(0)
			for range requests {
				began := time.Now()
				if got := status(t, r.url+"/v1/units"); got != 200 {
					t.Fatal(got)
				}
				slowest = max(slowest, time.Since(began))
			}
			patience.Within(t, slowest, 500*time.Millisecond, "the slowest request")
			var ended, sent, failed int
			patience.For(t, "the spans to end", func() bool {
				ended, sent, failed = spans(t, r.url)
				return ended >= requests
			})
			require.Zero(t, sent, "%d ended, %d failed", ended, failed)
			began := time.Now()
			r.stop()
			require.NoError(t, r.end(t))
			took := time.Since(began)
			patience.Within(t, took, 2*time.Second, "the stop")
			settled(t, before)
			told := func() int { return strings.Count(r.log.String(), "going on without it") }
			patience.For(t, "word of it", func() bool { return told() > 0 })
			require.Equal(t, 1, told(), "%s", r.log)
			t.Logf("slowest request %v, %d ended, %d failed, stop %v", slowest, ended, failed, took)
		})
	}
}

// spans are the counts of spans that the service shows.
func spans(t *testing.T, url string) (ended, sent, failed int) {
	t.Helper()
	res, err := http.Get(url + "/metrics")
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	text, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	count := func(result string) int {
		found := regexp.MustCompile(`(?m)^knurl_spans_total\{result="` + result + `"\} (\S+)$`).FindSubmatch(text)
		if found == nil {
			t.Fatalf("no count of spans %s", result)
		}
		n, err := strconv.ParseFloat(string(found[1]), 64)
		require.NoError(t, err)
		return int(n)
	}
	return count("ended"), count("sent"), count("failed")
}

func TestCollectorComesBack(t *testing.T) {
	var calls int
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		if calls++; calls <= 2 { // batches come one after another
			w.WriteHeader(http.StatusServiceUnavailable)
		}
	}))
	defer s.Close()
	r := start(t, "-traces-endpoint", s.URL, "-traces-share=1", "-warm=none")
	for deadline := time.Now().Add(patience.Long); ; time.Sleep(20 * time.Millisecond) {
		status(t, r.url+"/v1/units")
		if _, sent, failed := spans(t, r.url); sent > 0 && failed > 0 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatal(r.log.String())
		}
	}
	for _, line := range []string{"going on without it", "takes traces again"} {
		if n := strings.Count(r.log.String(), line); n != 1 {
			t.Errorf("%q %d times", line, n)
		}
	}
}
