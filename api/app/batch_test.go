//go:build !js

package app_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const batches = "/v1/diagnosis/batch"

var diagnosisLine = strings.Join(strings.Fields(diagnosis), "") + "\n"

// feed is a batch whose questions come as long as the server reads.
func feed(ctx context.Context, url string, pause time.Duration) (*http.Response, error) {
	body, in := io.Pipe()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, url+batches, body)
	if err != nil {
		return nil, err
	}
	r.Header.Set("Content-Type", "application/x-ndjson")
	go func() {
		for {
			if _, err := io.WriteString(in, diagnosisLine); err != nil {
				return
			}
			time.Sleep(pause)
		}
	}()
	return http.DefaultTransport.RoundTrip(r)
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
		require.NoError(t, err, "half a line")
		if !json.Valid(text) {
			t.Errorf("half a line: %.100q", text)
			return
		}
		last = text
	}
	var end struct {
		Summary struct{ Lines, Answers, Problems int }
		Problem *struct{ Type string }
	}
	err := json.Unmarshal(last, &end)
	require.NoError(t, err)
	require.NotNil(t, end.Problem)
	require.Equal(t, "/problems/not-ready", end.Problem.Type)
	require.Equal(t, lines-1, end.Summary.Answers)
	require.Equal(t, lines-1, end.Summary.Lines)
}

// Stopped in the middle of batches: each ends within the bound with a last line
// that says where to go on, whether its caller is fast or slow.
func TestBatchesEndWhenStopped(t *testing.T) {
	before := runtime.NumGoroutine()
	r := start(t, "-stop-timeout=4s", "-warm=none", "-batches-at-once=8")
	var callers sync.WaitGroup
	for _, pause := range []time.Duration{0, 0, 50 * time.Millisecond, time.Hour} {
		res, err := feed(t.Context(), r.url, pause)
		require.NoError(t, err)
		if res.StatusCode != 200 {
			t.Fatalf("%v", res)
		}
		callers.Go(func() { ending(t, res) })
	}
	time.Sleep(200 * time.Millisecond)
	begin := time.Now()
	r.stop()
	callers.Wait()
	require.NoError(t, r.end(t))
	if took := time.Since(begin); took > 4*time.Second || took < 2*time.Second {
		t.Errorf("took %v: half of 4 s is theirs", took)
	}
	settled(t, before)
}

// A batch may last longer than any other request, and be longer.
func TestBatchesOutlastOtherLimits(t *testing.T) {
	r := start(t, "-read-timeout=400ms", "-write-timeout=400ms", "-answer-timeout=300ms", "-body-limit=1000", "-warm=none")
	body, in := io.Pipe()
	go func() {
		for range 8 {
			_, _ = io.WriteString(in, diagnosisLine)
			time.Sleep(200 * time.Millisecond)
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
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	for range 2 {
		res, err := feed(ctx, r.url, 0)
		require.NoError(t, err)
		if res.StatusCode != 200 {
			t.Fatalf("%v", res)
		}
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
	if each := time.Since(begin) / 20; each > 250*time.Millisecond {
		t.Errorf("a look-up beside batches takes %v", each)
	}
	// Costly work gets its turn between the lines of batches.
	if got := status(t, r.url+"/v1/refrigerants/R-454C/pressure-enthalpy-diagram"); got != 200 {
		t.Errorf("costly work beside batches: %d", got)
	}
}
