//go:build !js

package app_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"
)

const batches = "/v1/diagnosis/batch"

var diagnosisLine = strings.Join(strings.Fields(diagnosis), "") + "\n"

// feed is a batch whose questions come as long as the server reads. Its caller
// reads whatever becomes of what he sends, which a client that shuts a
// connection it cannot write to would not.
func feed(t *testing.T, address string, pause time.Duration) *http.Response {
	t.Helper()
	c, err := net.Dial("tcp", address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close() })
	fmt.Fprintf(c, "POST %s HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n", batches)
	go func() {
		for {
			if _, err := fmt.Fprintf(c, "%x\r\n%s\r\n", len(diagnosisLine), diagnosisLine); err != nil {
				return
			}
			time.Sleep(pause)
		}
	}()
	res, err := http.ReadResponse(bufio.NewReader(c), nil)
	require.NoError(t, err)
	require.Equal(t, 200, res.StatusCode)
	return res
}

// ending reads a batch to its end and checks that its last line says why.
func ending(t *testing.T, res *http.Response) {
	t.Helper()
	defer func() { _ = res.Body.Close() }()
	var last []byte
	lines := 0
	for in := bufio.NewReader(res.Body); ; lines++ {
		text, err := in.ReadBytes('\n')
		if err == io.EOF && len(text) == 0 {
			break
		}
		if err != nil || !json.Valid(text) {
			t.Errorf("half a line: %v, %.100q", err, text)
			return
		}
		last = text
	}
	var end struct {
		Summary struct{ Lines, Answers, Problems int }
		Problem *struct{ Type string }
	}
	if err := json.Unmarshal(last, &end); err != nil || end.Problem == nil {
		t.Errorf("the last line says no why: %v, %.300s", err, last)
		return
	}
	if end.Problem.Type != "/problems/not-ready" || end.Summary.Answers != lines-1 || end.Summary.Lines != lines-1 {
		t.Errorf("%d lines, the last is %.300s", lines, last)
	}
}

// Stopped in the middle of batches: each ends within the bound with a last line
// that says where to go on, whether its caller is fast or slow.
func TestBatchesEndWhenStopped(t *testing.T) {
	before := runtime.NumGoroutine()
	// Beside the half there is time left to read on after the last line, and for
	// callers on a busy machine to receive it.
	r := start(t, "-stop-timeout=10s", "-warm=none", "-batches-at-once=8")
	var callers sync.WaitGroup
	for _, pause := range []time.Duration{2 * time.Millisecond, 50 * time.Millisecond, time.Hour} {
		res := feed(t, r.address, pause)
		callers.Go(func() { ending(t, res) })
	}
	time.Sleep(200 * time.Millisecond)
	begin := time.Now()
	r.stop()
	callers.Wait()
	require.NoError(t, r.end(t))
	require.GreaterOrEqual(t, time.Since(begin), 5*time.Second, "half of 10 s is theirs")
	patience.Within(t, time.Since(begin), 6*time.Second, "the stop")
	settled(t, before)
}

// A batch may last longer than any other request, and be longer.
func TestBatchesOutlastOtherLimits(t *testing.T) {
	t.Parallel()
	r := start(t, "-read-timeout=2s", "-write-timeout=2s", "-answer-timeout=1500ms", "-body-limit=1000", "-warm=none")
	body, in := io.Pipe()
	go func() {
		for range 8 {
			_, _ = io.WriteString(in, diagnosisLine)
			time.Sleep(300 * time.Millisecond)
		}
		_ = in.Close()
	}()
	res, err := http.Post(r.url+batches, "application/x-ndjson", body)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	text, err := io.ReadAll(res.Body)
	want := `{"summary":{"lines":8,"answers":8,"problems":0}}` + "\n"
	require.NoError(t, err)
	if !bytes.HasSuffix(text, []byte(want)) {
		t.Errorf("%d bytes, ends %.200q", len(text), text[max(0, len(text)-200):])
	}
}

// More batches than are taken are told to come again, and cheap questions are
// answered beside those that are.
func TestBatchesAtOnce(t *testing.T) {
	r := start(t, "-batches-at-once=2")
	for range 2 {
		res := feed(t, r.address, 0)
		go func() { _, _ = io.Copy(io.Discard, res.Body) }()
	}
	res, err := http.Post(r.url+batches, "application/x-ndjson", strings.NewReader(diagnosisLine))
	require.NoError(t, err)
	if res.StatusCode != 503 || res.Header.Get("Retry-After") == "" {
		t.Errorf("%v", res)
	}
	_ = res.Body.Close()
	begin := time.Now()
	for range 20 {
		if got := status(t, r.url+"/v1/refrigerants/R-32/saturation?temperature=40degF"); got != 200 {
			t.Errorf("beside batches: %d", got)
		}
	}
	patience.Within(t, time.Since(begin)/20, 250*time.Millisecond, "a look-up beside batches")
	// Costly work gets its turn between the lines of batches.
	if got := status(t, r.url+"/v1/refrigerants/R-454C/pressure-enthalpy-diagram"); got != 200 {
		t.Errorf("costly work beside batches: %d", got)
	}
}
