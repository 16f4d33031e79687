package app_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/app"
)

func environment(pairs ...string) func(string) string {
	return func(name string) string {
		for i := 0; i < len(pairs); i += 2 {
			if pairs[i] == name {
				return pairs[i+1]
			}
		}
		return ""
	}
}

func TestDefaults(t *testing.T) {
	c, err := app.Configure(nil, environment(), io.Discard)
	require.NoError(t, err)
	require.Equal(t, "127.0.0.1:8080", c.Listen)
	require.Equal(t, int64(256<<10), c.BodyLimit)
	require.False(t, c.AllowAnonymous, "%+v", c)
}

func TestFlagWinsOverEnvironment(t *testing.T) {
	c, err := app.Configure([]string{"-body-limit=2000"}, environment("KNURL_BODY_LIMIT", "1000", "KNURL_MAX_AGE", "5m"), io.Discard)
	require.NoError(t, err)
	if c.BodyLimit != 2000 || c.MaxAge != 5*time.Minute {
		t.Errorf("%+v", c)
	}
}

func TestEveryFaultOfTheConfiguration(t *testing.T) {
	_, err := app.Configure([]string{"-read-timeout=0s", "-log-level", "loud"},
		environment("KNURL_BODY_LIMIT", "0", "KNURL_TRACES_SHARE", "1.5", "KNURL_TRACES_ENDPOINT", "collector:4318", "KNURL_MAX_AGE", "-1s", "KNURL_ALLOW_ANONYMOUS", "perhaps", "KNURL_LISTEN", ":8080"), io.Discard)
	var faults *app.ConfigError
	if !errors.As(err, &faults) || len(faults.Faults) != 8 {
		t.Fatalf("%v", err)
	}
	for _, part := range []string{"-read-timeout", "-log-level", "KNURL_BODY_LIMIT", "KNURL_MAX_AGE", "KNURL_TRACES_SHARE", "KNURL_TRACES_ENDPOINT", "KNURL_ALLOW_ANONYMOUS", `":8080" can be reached from other machines`} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("%q is missing in %v", part, err)
		}
	}
	for _, args := range [][]string{{"-nothing"}, {"stray"}, {"-listen", "nonsense"}, {"-listen", "127.0.0.1:99999"}} {
		if _, err := app.Configure(args, environment(), io.Discard); !errors.As(err, &faults) {
			t.Errorf("%q: %v", args, err)
		}
	}
}

func TestOnlyLoopbackIsOpen(t *testing.T) {
	for address, open := range map[string]bool{
		"127.0.0.1:0": true, "[::1]:0": true, "127.9.9.9:80": true,
		":80": false, "0.0.0.0:80": false, "[::]:80": false, "192.0.2.1:80": false,
	} {
		t.Run(address, func(t *testing.T) {
			if _, err := app.Configure([]string{"-listen", address}, environment(), io.Discard); (err == nil) != open {
				t.Errorf("%s: %v", address, err)
			}
			_, err := app.Configure([]string{"-listen", address}, environment("KNURL_ALLOW_ANONYMOUS", "true"), io.Discard)
			require.NoError(t, err, "%s for everybody", address)
		})
	}
}

func TestHelpNamesEverySetting(t *testing.T) {
	var help bytes.Buffer
	_, err := app.Configure([]string{"-help"}, environment(), &help)
	require.ErrorIs(t, err, flag.ErrHelp)
	for _, name := range []string{"KNURL_LISTEN", "KNURL_ALLOW_ANONYMOUS", "KNURL_LOG_LEVEL", "KNURL_BODY_LIMIT", "-drain-delay", "-healthcheck"} {
		if !strings.Contains(help.String(), name) {
			t.Errorf("%s is missing in\n%s", name, &help)
		}
	}
}

// running is a server under test.
type running struct {
	url, address string
	admin        string // URL of the admin listener, where there is one
	stop         context.CancelFunc
	ended        chan error
	log          *safeBuffer
}

type safeBuffer struct {
	sync.Mutex
	bytes.Buffer
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.Lock()
	defer b.Unlock()
	return b.Buffer.Write(p)
}

func (b *safeBuffer) String() string {
	b.Lock()
	defer b.Unlock()
	return b.Buffer.String()
}

func start(t *testing.T, args ...string) running {
	t.Helper()
	c, err := app.Configure(append([]string{"-listen", "127.0.0.1:0"}, args...), environment(), io.Discard)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	out, in := io.Pipe()
	r := running{stop: cancel, ended: make(chan error, 1), log: new(safeBuffer)}
	go func() {
		r.ended <- app.Run(ctx, c, in, r.log)
		_ = in.Close()
	}()
	lines := bufio.NewReader(out)
	line, err := lines.ReadString('\n')
	if err != nil {
		require.NoError(t, <-r.ended)
	}
	require.NoError(t, err)
	if c.AdminListen != "" {
		second, err := lines.ReadString('\n')
		require.NoError(t, err)
		r.admin = strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(second), "knurld's metrics are on "), "/metrics")
	}
	r.url = strings.TrimSpace(strings.TrimPrefix(line, "knurld is ready on "))
	r.address = strings.TrimPrefix(r.url, "http://")
	t.Cleanup(cancel)
	return r
}

func (r running) end(t *testing.T) error {
	t.Helper()
	select {
	case err := <-r.ended:
		return err
	case <-time.After(patience.Long):
		t.Fatal("does not stop")
		return nil
	}
}

func status(t *testing.T, url string) int {
	t.Helper()
	res, err := http.Get(url)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	return res.StatusCode
}

func TestStartAndStop(t *testing.T) {
	r := start(t)
	for _, path := range []string{"/livez", "/readyz", "/version", "/v1/units", "/openapi.json"} {
		if got := status(t, r.url+path); got != 200 {
			t.Errorf("%s: %d", path, got)
		}
	}
	r.stop()
	require.NoError(t, r.end(t))
	if _, err := net.Dial("tcp", r.address); err == nil {
		t.Error("still listening")
	}
}

func TestAddressInUse(t *testing.T) {
	r := start(t)
	c, err := app.Configure([]string{"-listen", r.address}, environment(), io.Discard)
	require.NoError(t, err)
	if err := app.Run(t.Context(), c, io.Discard, io.Discard); err == nil {
		t.Error("started twice on one address")
	}
}

// Readiness goes off first, while requests are still answered; a request under
// way is finished.
func TestStopDrains(t *testing.T) {
	t.Parallel()
	r := start(t, "-drain-delay=3s")
	slow, err := net.Dial("tcp", r.address)
	require.NoError(t, err)
	defer func() { _ = slow.Close() }()
	fmt.Fprint(slow, "POST /v1/nothing HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\n\r\n{")
	r.stop()
	patience.For(t, "readiness to go off", func() bool { return status(t, r.url+"/readyz") == 503 })
	if got := status(t, r.url+"/livez"); got != 200 {
		t.Errorf("while draining: %d", got)
	}
	fmt.Fprint(slow, "}")
	answer, err := http.ReadResponse(bufio.NewReader(slow), nil)
	require.NoError(t, err, "the request under way")
	if answer.StatusCode != 404 {
		t.Errorf("the request under way: %v", answer)
	}
	require.NoError(t, r.end(t))
}

// Slow clients do not hold a connection for ever.
func TestTimeouts(t *testing.T) {
	r := start(t, "-header-timeout=100ms", "-read-timeout=200ms", "-idle-timeout=100ms")
	for name, sent := range map[string]string{
		"header": "GET /livez HTTP/1.1\r\nHost:",
		"body":   "POST /v1/units HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\n\r\n{",
		"idle":   "GET /livez HTTP/1.1\r\nHost: x\r\n\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			c, err := net.Dial("tcp", r.address)
			require.NoError(t, err)
			fmt.Fprint(c, sent)
			_ = c.SetReadDeadline(time.Now().Add(patience.Long))
			_, err = io.ReadAll(c)
			require.NoError(t, err, "%s: still open", name)
			_ = c.Close()
		})
	}
}

func TestLongHeadersAreRefused(t *testing.T) {
	r := start(t)
	req, err := http.NewRequest(http.MethodGet, r.url+"/livez", nil)
	require.NoError(t, err)
	req.Header.Set("X-Long", strings.Repeat("x", 64<<10))
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	if res.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("%d", res.StatusCode)
	}
}

// Over a real connection: the answer arrives although the client is still
// sending.
func TestTooLongABodyIsAnswered(t *testing.T) {
	r := start(t)
	res, err := http.Post(r.url+"/v1/diagnosis", "application/json", strings.NewReader(strings.Repeat(" ", 10<<20)))
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	if res.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("%d", res.StatusCode)
	}
}

// Many callers at once get what one gets; the race detector watches.
func TestManyCallersAtOnce(t *testing.T) {
	r := start(t)
	body := func(target string) string {
		res, err := http.Get(r.url + target)
		if err != nil {
			return err.Error()
		}
		defer func() { _ = res.Body.Close() }()
		text, err := io.ReadAll(res.Body)
		if err != nil {
			return err.Error()
		}
		return string(text)
	}
	targets := []string{"/v1/refrigerants/R-407C/saturation?pressure=70psig", "/v1/refrigerants/R-454B", "/v1/refrigerants/R-290/saturation?temperature=40degF"}
	var callers sync.WaitGroup
	answers := make([][]string, 8)
	for i := range answers {
		callers.Go(func() {
			for _, target := range targets {
				answers[i] = append(answers[i], body(target))
			}
		})
	}
	callers.Wait()
	for i, target := range targets {
		want := body(target)
		for _, got := range answers {
			if got[i] != want || !strings.HasPrefix(want, "{") {
				t.Errorf("%s: %.200s\nalone: %.200s", target, got[i], want)
			}
		}
	}
}
