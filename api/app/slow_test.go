//go:build !js

package app_test

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"
)

// settled waits until no more goroutines run than before, a few of the test's
// own aside.
func settled(t *testing.T, before int) {
	t.Helper()
	http.DefaultClient.CloseIdleConnections()
	for deadline := time.Now().Add(patience.Long); runtime.NumGoroutine() > before+5; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			buffer := make([]byte, 1<<20)
			t.Fatalf("%d goroutines, %d before\n%s", runtime.NumGoroutine(), before, buffer[:runtime.Stack(buffer, true)])
		}
	}
}

// trickle sends a byte every interval until the server hangs up, and says
// whether it did.
func trickle(c net.Conn, text string, interval time.Duration) bool {
	_ = c.SetReadDeadline(time.Now().Add(patience.Long))
	gone := make(chan error, 1)
	go func() {
		_, err := io.Copy(io.Discard, c)
		gone <- err
	}()
	for i := 0; ; i++ {
		select {
		case err := <-gone:
			return !errors.Is(err, os.ErrDeadlineExceeded)
		case <-time.After(interval):
			_, _ = c.Write([]byte{text[min(i, len(text)-1)]})
		}
	}
}

func TestSlowClients(t *testing.T) {
	r := start(t, "-header-timeout=200ms", "-read-timeout=300ms", "-write-timeout=400ms", "-idle-timeout=200ms", "-warm=none")
	status(t, r.url+"/livez")
	before := runtime.NumGoroutine()
	var clients sync.WaitGroup
	for name, text := range map[string]string{
		"headers a byte at a time": "GET /livez HTTP/1.1\r\nHost: x\r\nX-Long: " + strings.Repeat("x", 4000),
		"a body that never ends":   "POST /v1/diagnosis HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 200000\r\n\r\n{",
		"chunks that never end":    "POST /v1/diagnosis HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n1\r\n{\r\n",
		"nothing at all":           "\r",
	} {
		for range 10 {
			clients.Go(func() {
				c, err := net.Dial("tcp", r.address)
				if err != nil {
					t.Error(err)
					return
				}
				defer func() { _ = c.Close() }()
				head, rest := "", text
				if i := strings.Index(text, "\r\n\r\n"); i > 0 { // only the body is slow
					head, rest = text[:i+4], text[i+4:]
				}
				_, _ = io.WriteString(c, head)
				start := time.Now()
				if !trickle(c, rest, 20*time.Millisecond) {
					t.Errorf("%s: holds a connection", name)
				}
				patience.Within(t, time.Since(start), 5*time.Second, name)
			})
		}
	}
	clients.Wait()
	settled(t, before)
	if got := status(t, r.url+"/livez"); got != 200 {
		t.Errorf("afterwards %d", got)
	}
}

// Readers that never read hold their connections no longer than an answer may
// take.
func TestReadersThatNeverRead(t *testing.T) {
	r := start(t, "-write-timeout=1500ms", "-warm=none")
	const table = "/v1/refrigerants/R-410A/saturation-table?from=-60degF&to=150degF&step=0.03delta_degF"
	if got := status(t, r.url+table); got != 200 {
		t.Fatal(got)
	}
	http.DefaultClient.CloseIdleConnections()
	before := runtime.NumGoroutine()
	for range 20 {
		c, err := net.Dial("tcp", r.address)
		require.NoError(t, err)
		defer func() { _ = c.Close() }()
		_ = c.(*net.TCPConn).SetReadBuffer(4096)
		fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: x\r\n\r\n", table)
	}
	patience.For(t, "readers to be held", func() bool { return runtime.NumGoroutine() > before })
	settled(t, before)
	if got := status(t, r.url+"/livez"); got != 200 {
		t.Errorf("afterwards %d", got)
	}
}

// Many connections that do nothing cost some memory each and nobody's answer.
func TestIdleConnections(t *testing.T) {
	const many = 500 // ten thousand are tested with a process of their own
	r := start(t, "-warm=none")
	status(t, r.url+"/livez")
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapInuse + m.StackInuse
	}
	base := heap()
	idle := make([]net.Conn, many)
	for i := range idle {
		c, err := net.Dial("tcp", r.address)
		require.NoError(t, err)
		defer func() { _ = c.Close() }()
		fmt.Fprint(c, "GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
		idle[i] = c
	}
	for _, c := range idle {
		_ = c.SetReadDeadline(time.Now().Add(patience.Long))
		res, err := http.ReadResponse(bufio.NewReaderSize(c, 16), nil)
		require.NoError(t, err)
		if res.StatusCode != 200 {
			t.Fatalf("%v", res)
		}
	}
	each := (int64(heap()) - int64(base)) / int64(many)
	t.Logf("%d idle connections, %d bytes each, the client's side included", many, each)
	if each > 64<<10 {
		t.Errorf("%d bytes for each idle connection", each)
	}
	start := time.Now()
	require.Equal(t, 200, status(t, r.url+"/v1/refrigerants/R-32/saturation?temperature=40degF"))
	patience.Within(t, time.Since(start), 2*time.Second, "a question beside them")
}

func TestMoreConnectionsThanAreHeldWait(t *testing.T) {
	r := start(t, "-max-connections=2", "-idle-timeout=300ms", "-warm=none")
	var answered atomic.Int64
	var clients sync.WaitGroup
	for range 6 {
		clients.Go(func() {
			c, err := net.Dial("tcp", r.address)
			if err != nil {
				t.Error(err)
				return
			}
			defer func() { _ = c.Close() }()
			fmt.Fprint(c, "GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
			_ = c.SetReadDeadline(time.Now().Add(patience.Long))
			if res, err := http.ReadResponse(bufio.NewReader(c), nil); err == nil && res.StatusCode == 200 {
				answered.Add(1)
			}
			_, _ = io.Copy(io.Discard, c) // stay until the server hangs up
		})
	}
	clients.Wait()
	if answered.Load() != 6 {
		t.Errorf("%d of 6 answered", answered.Load())
	}
}

// A body that would grow a thousandfold is refused unread.
func TestCompressedBodies(t *testing.T) {
	r := start(t, "-warm=none")
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	_, _ = z.Write(bytes.Repeat([]byte(" "), 64<<20))
	_ = z.Close()
	for _, coding := range []string{"gzip", "deflate", "br", "zstd", "gzip, gzip"} {
		req, err := http.NewRequest(http.MethodPost, r.url+"/v1/diagnosis", bytes.NewReader(bomb.Bytes()))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Content-Encoding", coding)
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		_ = res.Body.Close()
		if res.StatusCode != http.StatusUnsupportedMediaType {
			t.Errorf("%s: %d", coding, res.StatusCode)
		}
	}
}
