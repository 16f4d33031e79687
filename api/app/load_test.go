//go:build !js && !race

package app_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// quietly skips what has to have the machine for itself, unless it is asked for.
func quietly(t *testing.T) {
	t.Helper()
	if os.Getenv("KNURL_LOAD") == "" {
		t.Skip("measures under load: set KNURL_LOAD=1 and run nothing beside it")
	}
}

// process is the real program, started as a process of its own.
type process struct {
	running
	*exec.Cmd
}

// launch builds and starts the program on processors processors.
func launch(t *testing.T, processors int, args ...string) process {
	t.Helper()
	program := filepath.Join(t.TempDir(), "knurld")
	out, err := exec.Command("go", "build", "-tags", "nomsgpack", "-o", program, "../cmd/knurld").CombinedOutput()
	require.NoError(t, err, "%s", out)
	p := process{Cmd: exec.Command(program, append([]string{"-listen=127.0.0.1:0", "-admin-listen=127.0.0.1:0", "-log-level=warn"}, args...)...)}
	p.Env = append(os.Environ(), fmt.Sprintf("GOMAXPROCS=%d", processors))
	p.log = new(safeBuffer)
	p.Stderr = p.log
	stdout, err := p.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, p.Start())
	t.Cleanup(func() {
		_ = p.Process.Kill()
		_ = p.Wait()
	})
	lines := bufio.NewReader(stdout)
	for _, at := range []*string{&p.url, &p.admin} {
		line, err := lines.ReadString('\n')
		require.NoError(t, err, "%s", p.log)
		*at = strings.TrimSuffix(line[strings.Index(line, "http://"):len(line)-1], "/metrics")
	}
	p.address = strings.TrimPrefix(p.url, "http://")
	return p
}

// gauge reads a metric of the admin listener.
func (p process) gauge(t *testing.T, series string) float64 {
	t.Helper()
	return running{url: p.admin}.counted(t, series)
}

// results of sending at a rate.
type results struct {
	mu       sync.Mutex
	good     []time.Duration
	refused  int // 503 with Retry-After
	bad      int // anything else
	firstBad string
}

func (r *results) p99() time.Duration {
	if len(r.good) == 0 {
		return 0
	}
	slices.Sort(r.good)
	return r.good[len(r.good)*99/100]
}

func (r *results) String() string {
	return fmt.Sprintf("%d good, p99 %v, %d refused with Retry-After, %d bad %s", len(r.good), r.p99().Round(10*time.Microsecond), r.refused, r.bad, r.firstBad)
}

// note tells how a request ended that should have been sent at since.
func (r *results) note(since time.Time, status int, again bool, err error) {
	took := time.Since(since)
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case err == nil && status == 200:
		r.good = append(r.good, took)
	case err == nil && status == 503 && again:
		r.refused++
	default:
		if r.bad++; r.bad == 1 {
			r.firstBad = fmt.Sprint(status, " ", err)
		}
	}
}

// line is one connection that sends prepared requests. It costs a small part
// of what http.Client does, which would take the processor from the service.
type line struct {
	c  net.Conn
	in *bufio.Reader
}

func prepare(method, path, body string) []byte {
	return fmt.Appendf(nil, "%s %s HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s", method, path, len(body), body)
}

func (l *line) ask(address string, request []byte) (status int, again bool, err error) {
	if l.c == nil {
		if l.c, err = net.Dial("tcp", address); err != nil {
			l.c = nil
			return 0, false, err
		}
		l.in = bufio.NewReaderSize(l.c, 32<<10)
	}
	defer func() {
		if err != nil {
			_ = l.c.Close()
			l.c = nil
		}
	}()
	_ = l.c.SetDeadline(time.Now().Add(30 * time.Second))
	if _, err = l.c.Write(request); err != nil {
		return 0, false, err
	}
	length := 0
	for first := true; ; first = false {
		header, err := l.in.ReadSlice('\n')
		if err != nil {
			return 0, false, err
		}
		name, value, _ := strings.Cut(strings.TrimSpace(string(header)), ": ")
		switch {
		case first:
			if _, err := fmt.Sscanf(name, "HTTP/1.1 %d", &status); err != nil {
				return 0, false, err
			}
		case name == "Content-Length":
			if length, err = strconv.Atoi(value); err != nil {
				return 0, false, err
			}
		case name == "Retry-After":
			again = true
		case name == "":
			_, err := l.in.Discard(length)
			return status, again, err
		}
	}
}

// steadily sends at a rate that does not wait for answers, as long as lines
// are free.
func steadily(address string, perSecond float64, d time.Duration, request []byte) *results {
	const lines = 512
	var r results
	due := make(chan time.Time, int(perSecond*d.Seconds())+1)
	var under sync.WaitGroup
	for range lines {
		under.Go(func() {
			var l line
			for at := range due {
				status, again, err := l.ask(address, request)
				r.note(at, status, again, err)
			}
			if l.c != nil {
				_ = l.c.Close()
			}
		})
	}
	start := time.Now()
	for i := range int(perSecond * d.Seconds()) {
		at := start.Add(time.Duration(float64(i) / perSecond * float64(time.Second)))
		if wait := time.Until(at); wait > 0 {
			time.Sleep(wait)
		}
		due <- at
	}
	close(due)
	under.Wait()
	return &r
}

// flatOut sends on so many lines as fast as is answered, until ctx is done.
func flatOut(ctx context.Context, address string, lines int, request func() []byte) *results {
	var r results
	var under sync.WaitGroup
	for range lines {
		under.Go(func() {
			var l line
			for ctx.Err() == nil {
				start := time.Now()
				status, again, err := l.ask(address, request())
				r.note(start, status, again, err)
			}
			if l.c != nil {
				_ = l.c.Close()
			}
		})
	}
	under.Wait()
	return &r
}

// Twice as much as can be answered: most of what can be still is, in time, and
// the rest is told to come again.
func TestOverload(t *testing.T) {
	quietly(t)
	p := launch(t, 1) // the load comes from this process, on the other processor
	request := prepare("POST", "/v1/diagnosis", diagnosis)
	flat := func(d time.Duration) *results {
		ctx, cancel := context.WithTimeout(t.Context(), d)
		defer cancel()
		return flatOut(ctx, p.address, 8, func() []byte { return request })
	}
	flat(2 * time.Second)
	goroutines := p.gauge(t, "go_goroutines")
	// What is answered when the next question waits for the last answer leaves
	// no room: three quarters of it can be sustained.
	rate := float64(len(flat(5*time.Second).good)) / 5 * 3 / 4
	unloaded := steadily(p.address, rate/10, 5*time.Second, request)
	sustained := steadily(p.address, rate, 5*time.Second, request)
	over := steadily(p.address, 2*rate, 30*time.Second, request)
	answered := float64(len(over.good)) / 30
	memory := p.gauge(t, "process_resident_memory_bytes") / (1 << 20)
	t.Logf("sustainable %.0f/s: %v; a tenth of it: %v; twice it: %.0f/s (%.0f %%): %v; %.0f MiB resident", rate, sustained, unloaded, answered, 100*answered/rate, over, memory)
	require.GreaterOrEqual(t, answered, 0.8*rate, "does not stand")
	require.LessOrEqual(t, over.p99(), 10*unloaded.p99(), "does not stand")
	require.LessOrEqual(t, over.bad, 0, "does not stand")
	require.NotEqual(t, 0, over.refused, "does not stand")
	require.LessOrEqual(t, sustained.refused, len(sustained.good)/100, "does not stand")
	require.LessOrEqual(t, memory, 256.0, "does not stand")
	for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		now := p.gauge(t, "go_goroutines")
		if now <= goroutines {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("%v goroutines left, %v before", now, goroutines)
		}
	}
}

// A caller who brings only compositions never seen takes nobody else's time,
// even without a quota.
func TestNewCompositionsDoNotStarveLookups(t *testing.T) {
	quietly(t)
	p := launch(t, 2, "-new-compositions=none")
	lookup := prepare("GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig", "")
	const rate = 300
	steadily(p.address, rate, time.Second, lookup)
	calm := steadily(p.address, rate, 10*time.Second, lookup)
	ctx, cancel := context.WithCancel(t.Context())
	attacked := make(chan *results)
	var n atomic.Int64
	go func() {
		attacked <- flatOut(ctx, p.address, 8, func() []byte {
			share := 20 + float64(n.Add(1))/10000
			return prepare("POST", "/v1/saturation", fmt.Sprintf(
				`{"composition":[{"refrigerant":"R-32","mass_percent":%g},{"refrigerant":"R-125","mass_percent":%g},{"refrigerant":"R-134a","mass_percent":40}],"points":[{"temperature":{"value":40,"unit":"degF"}}]}`,
				share, 60-share))
		})
	}()
	under := steadily(p.address, rate, 10*time.Second, lookup)
	cancel()
	attack := <-attacked
	t.Logf("calm: %v; under attack: %v; the attack: %v", calm, under, attack)
	require.LessOrEqual(t, under.bad+under.refused, 0, "lookups suffer")
	require.LessOrEqual(t, under.p99(), 3*calm.p99(), "lookups suffer")
	require.NotEmpty(t, attack.good, "lookups suffer")
}

// Plans and batches as fast as they are answered leave diagnoses their turn.
func TestPlansAndBatchesDoNotStarveDiagnoses(t *testing.T) {
	quietly(t)
	p := launch(t, 2)
	request := prepare("POST", "/v1/diagnosis", diagnosis)
	const rate = 200
	steadily(p.address, rate, time.Second, request)
	calm := steadily(p.address, rate, 10*time.Second, request)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	planned := make(chan *results)
	go func() {
		plan := prepare("POST", "/v1/measurement-plan", diagnosis)
		planned <- flatOut(ctx, p.address, 4, func() []byte { return plan })
	}()
	streamed := make(chan int)
	go func() {
		streamed <- stream(ctx, p.url+"/v1/diagnosis/batch", strings.Join(strings.Fields(diagnosis), " ")+"\n")
	}()
	under := steadily(p.address, rate, 10*time.Second, request)
	cancel()
	plans, lines := <-planned, <-streamed
	t.Logf("calm: %v; beside plans and a batch: %v; plans: %v; lines of the batch: %d", calm, under, plans, lines)
	require.LessOrEqual(t, under.bad+under.refused, 0, "diagnoses suffer")
	require.LessOrEqual(t, under.p99(), 10*calm.p99(), "diagnoses suffer")
	require.NotEmpty(t, plans.good, "diagnoses suffer")
	require.NotEqual(t, 0, lines, "diagnoses suffer")
}

// stream sends a line again and again until ctx ends, and counts the answers.
func stream(ctx context.Context, url, line string) int {
	out, in := io.Pipe()
	go func() {
		for ctx.Err() == nil {
			if _, err := io.WriteString(in, line); err != nil {
				return
			}
		}
		_ = in.Close()
	}()
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, url, out)
	if err != nil {
		return 0
	}
	r.Header.Set("Content-Type", "application/x-ndjson")
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0
	}
	defer func() { _ = a.Body.Close() }()
	n := 0
	for s := bufio.NewScanner(a.Body); s.Scan(); {
		n++
	}
	return n
}

// The signal that stops services, to the real program in the middle of load.
func TestTerminate(t *testing.T) {
	quietly(t)
	p := launch(t, 2, "-drain-delay=300ms")
	var off atomic.Bool
	clients, answered := askUntil(t, &off, p.url)
	time.Sleep(500 * time.Millisecond)
	require.NoError(t, p.Process.Signal(syscall.SIGTERM))
	for !off.Load() {
		off.Store(status(t, p.url+"/readyz") != 200)
	}
	clients.Wait()
	err := p.Wait()
	require.NoError(t, err)
	if answered.Load() < 16 {
		t.Errorf("%d answered", answered.Load())
	}
	t.Logf("%d answered", answered.Load())
}

func TestTenThousandIdleConnections(t *testing.T) {
	quietly(t)
	p := launch(t, 2, "-warm=none")
	before := p.gauge(t, "process_resident_memory_bytes")
	const many = 10_000
	for range many {
		c, err := net.Dial("tcp", p.address)
		require.NoError(t, err)
		defer func() { _ = c.Close() }()
		fmt.Fprint(c, "GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
		_ = c.SetReadDeadline(time.Now().Add(20 * time.Second))
		res, err := http.ReadResponse(bufio.NewReaderSize(c, 16), nil)
		require.NoError(t, err)
		if res.StatusCode != 200 {
			t.Fatalf("%v", res)
		}
	}
	each := (p.gauge(t, "process_resident_memory_bytes") - before) / many
	start := time.Now()
	code := status(t, p.url+"/v1/refrigerants/R-32/saturation?temperature=40degF")
	t.Logf("%d idle connections, %.0f bytes each; then %d after %v", many, each, code, time.Since(start))
	require.LessOrEqual(t, each, float64(32<<10), "does not stand")
	require.Equal(t, 200, code, "does not stand")
	require.LessOrEqual(t, time.Since(start), time.Second, "does not stand")
}

// A million lines, of which the program never holds more than a few: the
// questions are sent from here, on the other processor.
func TestMillionLines(t *testing.T) {
	quietly(t)
	const lines = 1_000_000
	p := launch(t, 1)
	peak := func() float64 { // MiB
		status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.Process.Pid))
		require.NoError(t, err)
		_, after, _ := strings.Cut(string(status), "VmHWM:")
		var kib float64
		_, err = fmt.Sscan(after, &kib)
		require.NoError(t, err)
		return kib / 1024
	}
	var some [][]byte
	for i := range 500 {
		some = append(some, []byte(strings.Replace(diagnosisLine, `"value":118`, fmt.Sprintf(`"value":%g`, 90+float64(i)/10), 1)))
	}
	body, in := io.Pipe()
	go func() {
		out := bufio.NewWriterSize(in, 64<<10)
		for i := range lines {
			if _, err := out.Write(some[i%len(some)]); err != nil {
				return
			}
		}
		_ = out.Flush()
		_ = in.Close()
	}()
	before, start := peak(), time.Now()
	cpu := p.gauge(t, "process_cpu_seconds_total")
	res, err := http.Post(p.url+batches, "application/x-ndjson", body)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	answers := bufio.NewReaderSize(res.Body, 256<<10)
	var early float64
	for i := 1; i <= lines; i++ {
		line, err := answers.ReadSlice('\n')
		require.NoError(t, err, "line %d", i)
		if !strings.HasPrefix(string(line[:min(len(line), 40)]), fmt.Sprintf(`{"line":%d,"refrigerant":`, i)) {
			t.Fatalf("line %d: %.100s", i, line)
		}
		if i == lines/20 {
			early = peak()
		}
	}
	last, err := io.ReadAll(answers)
	took := time.Since(start)
	want := fmt.Sprintf(`{"summary":{"lines":%d,"answers":%d,"problems":0}}`+"\n", lines, lines)
	require.NoError(t, err)
	if string(last) != want {
		t.Errorf("the last line is %q", last)
	}
	cpu = p.gauge(t, "process_cpu_seconds_total") - cpu
	t.Logf("%d lines in %v, %.0f a second; %.0f for each second of processor time; peak resident memory %.0f MiB at rest, %.0f after a twentieth, %.0f at the end", lines, took.Round(time.Second), lines/took.Seconds(), lines/cpu, before, early, peak())
	if peak() > early+16 || peak() > 128 {
		t.Error("memory grows with the lines")
	}
}

// The time until the program is ready, and what it takes then.
func TestStart(t *testing.T) {
	quietly(t)
	p := launch(t, 2)
	time.Sleep(2 * time.Second) // warming is over
	var ready []time.Duration
	for range 5 {
		start := time.Now()
		c := exec.Command(p.Path, "-listen=127.0.0.1:0")
		out, err := c.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, c.Start())
		_, _ = bufio.NewReader(out).ReadString('\n')
		ready = append(ready, time.Since(start))
		_ = c.Process.Kill()
		_ = c.Wait()
	}
	slices.Sort(ready)
	memory := p.gauge(t, "process_resident_memory_bytes") / (1 << 20)
	t.Logf("ready after %v (median of 5), %.0f MiB resident", ready[2], memory)
	if ready[2] > 100*time.Millisecond || memory > 64 {
		t.Error("over the budget of 100 ms and 64 MiB")
	}
}
