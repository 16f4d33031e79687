//go:build !js

package httpapi

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/limit"
	"github.com/knurl-hvacr/knurl/engine/batch"
	"github.com/knurl-hvacr/knurl/engine/problem"
)

// visitLine is a question of one line, with an id.
func visitLine(id string, suction float64) string {
	return fmt.Sprintf(`{"id":%s,"system":{"refrigerant":"R-410A","metering_device":"thermostatic_valve","mode":"cooling","target_subcooling":{"value":10,"unit":"delta_degF"}},`+
		`"running_time":{"value":20,"unit":"min"},"readings":{"suction_pressure":{"value":%g,"unit":"psig"},"liquid_pressure":{"value":340,"unit":"psig"},`+
		`"suction_line_temperature":{"value":52,"unit":"degF"},"liquid_line_temperature":{"value":95,"unit":"degF"},"outdoor_dry_bulb":{"value":85,"unit":"degF"},`+
		`"return_dry_bulb":{"value":76,"unit":"degF"},"return_wet_bulb":{"value":63,"unit":"degF"},"supply_dry_bulb":{"value":57,"unit":"degF"}}}`, id, suction)
}

// answeredLine is any line of an answer.
type answeredLine struct {
	Line       int             `json:"line"`
	ID         json.RawMessage `json:"id"`
	Assessment string          `json:"assessment"`
	problem.Problem
	Summary *batch.Summary   `json:"summary"`
	Why     *problem.Problem `json:"problem"`
}

func (l answeredLine) places() []string {
	var all []string
	for _, f := range l.Errors {
		all = append(all, f.Pointer+" "+string(f.Code))
	}
	return all
}

func linesOf(t testing.TB, body []byte) []answeredLine {
	t.Helper()
	var all []answeredLine
	for text := range bytes.Lines(body) {
		var l answeredLine
		err := json.Unmarshal(text, &l)
		require.NoError(t, err)
		if !bytes.HasSuffix(text, []byte("\n")) {
			t.Fatalf("no line feed in %.300q", text)
		}
		all = append(all, l)
	}
	return all
}

// lastOf checks that only the last line is the summary, and that it counts.
func lastOf(t testing.TB, lines []answeredLine) answeredLine {
	t.Helper()
	if len(lines) == 0 {
		t.Fatal("no line at all")
	}
	last := lines[len(lines)-1]
	answers, problems := 0, 0
	for _, l := range lines[:len(lines)-1] {
		switch {
		case l.Assessment != "" && l.Type == "":
			answers++
		case l.Assessment == "" && l.Type != "":
			problems++
		default:
			t.Fatalf("%+v is neither answer nor problem", l)
		}
	}
	s := last.Summary
	require.NotNil(t, s)
	require.Equal(t, answers, s.Answers)
	require.Equal(t, problems, s.Problems)
	return last
}

func sendBatch(t *testing.T, o Options, body string, header ...string) (exchange, []answeredLine) {
	t.Helper()
	r := request("POST", batchPath, body, append([]string{"Content-Type", ndjsonType}, header...)...)
	got := exchangeWith(t, New(o), r)
	for _, m := range misfits(r, got.Result()) {
		t.Errorf("does not fit the document: %s", m)
	}
	if got.Code != 200 || got.Header().Get("Content-Type") != ndjsonType {
		t.Fatalf("%d %v %s", got.Code, got.Header(), got.body)
	}
	return got, linesOf(t, got.body)
}

// Every line is answered as it would be alone, in the order asked.
func TestBatchAnswersAsAlone(t *testing.T) {
	var body strings.Builder
	var alone []string
	for i := range 300 {
		q := visitLine(strconv.Itoa(i+1), 80+float64(i)/4)
		body.WriteString(q + "\n")
		if i%50 == 0 {
			single := exchangeWith(t, service(), request("POST", "/v1/diagnosis?units=si&explain=true", strings.Replace(q, fmt.Sprintf(`"id":%d,`, i+1), "", 1)))
			alone = append(alone, fmt.Sprintf(`{"line":%d,"id":%d,%s`, i+1, i+1, single.body[1:]))
		}
	}
	r := request("POST", batchPath+"?units=si&explain=true", body.String(), "Content-Type", ndjsonType)
	got := exchangeWith(t, service(), r)
	lines := linesOf(t, got.body)
	last := lastOf(t, lines)
	require.Len(t, lines, 301)
	require.Equal(t, 300, last.Summary.Lines)
	require.Equal(t, 300, last.Summary.Answers)
	require.Nil(t, last.Why)
	for i, l := range lines[:300] {
		if l.Line != i+1 || string(l.ID) != strconv.Itoa(i+1) {
			t.Errorf("place %d: line %d, id %s", i+1, l.Line, l.ID)
		}
	}
	texts := strings.SplitAfter(string(got.body), "\n")
	for i, want := range alone {
		if texts[50*i] != want {
			t.Errorf("in the batch %s\nalone %s", texts[50*i], want)
		}
	}
}

func TestBadLines(t *testing.T) {
	o := options()
	o.Batch.LineLimit = 2000
	good := visitLine(`"a"`, 118)
	for _, tt := range []struct {
		name, line, id string
		kind           problem.Kind
		want           []string
	}{
		{"faults", `{"id":7,"sistem":{},"readings":{"suction_pressure":{"value":1,"unit":"psi"}}}`, "7", problem.UnreadableQuestion, []string{"/sistem unknown_member", "/system/refrigerant missing", "/readings/suction_pressure/unit unknown_unit"}},
		{"physics", `{"id":"x","system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":-20,"unit":"psig"}}}`, `"x"`, problem.InvalidQuestion, []string{"/readings/suction_pressure/value out_of_range"}},
		{"syntax", `{"id":1,`, "", problem.UnreadableQuestion, []string{" syntax"}},
		{"a list", `[` + good + `]`, "", problem.UnreadableQuestion, []string{" wrong_type", "/system/refrigerant missing"}},
		{"two on a line", good + good, "", problem.UnreadableQuestion, []string{" syntax"}},
		{"bad UTF-8", "{\"id\":\"\xff\"}", "", problem.UnreadableQuestion, []string{" syntax"}},
		{"byte order mark", "\ufeff" + good, "", problem.UnreadableQuestion, []string{" syntax"}},
		{"deep", strings.Repeat(`{"readings":`, 100) + "1" + strings.Repeat("}", 100), "", problem.UnreadableQuestion, nil},
		{"id is a list", `{"id":[1],` + good[len(`{"id":"a",`):], "", problem.UnreadableQuestion, []string{"/id wrong_type"}},
		{"too long", good + strings.Repeat(" ", 3000), "", problem.BodyTooLarge, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, lines := sendBatch(t, o, "\n"+good+"\r\n"+tt.line+"\n\n"+good)
			last := lastOf(t, lines)
			require.Equal(t, 5, last.Summary.Lines)
			require.Equal(t, 2, last.Summary.Answers)
			require.Equal(t, 1, last.Summary.Problems)
			require.Nil(t, last.Why)
			bad := lines[1]
			require.Equal(t, 2, lines[0].Line)
			require.Equal(t, 3, bad.Line)
			require.Equal(t, 5, lines[2].Line)
			require.Equal(t, tt.id, string(bad.ID))
			require.Equal(t, "/problems/"+string(tt.kind), bad.Type)
			require.Equal(t, tt.kind.Describe().Status, bad.Status)
			require.NotEmpty(t, bad.TraceID)
			if tt.want != nil && !reflect.DeepEqual(bad.places(), tt.want) {
				t.Errorf("%s: %q, want %q", tt.name, bad.places(), tt.want)
			}
		})
	}
}

func TestBatchWithoutAQuestion(t *testing.T) {
	for body, lines := range map[string]int{"": 0, "\n": 1, " \r\n\n": 2} {
		t.Run(body, func(t *testing.T) {
			_, all := sendBatch(t, options(), body)
			last := lastOf(t, all)
			require.Len(t, all, 1, "%q", body)
			require.Equal(t, lines, last.Summary.Lines, "%q", body)
			require.Nil(t, last.Why, "%q", body)
		})
	}
}

func TestTooManyLines(t *testing.T) {
	o := options()
	o.Batch.Lines = 3
	line := visitLine("1", 118) + "\n"
	_, lines := sendBatch(t, o, strings.Repeat(line, 5))
	last := lastOf(t, lines)
	require.Len(t, lines, 4)
	require.Equal(t, 3, last.Summary.Lines)
	require.NotNil(t, last.Why)
	require.Equal(t, "/problems/body-too-large", last.Why.Type)
	require.Contains(t, last.Why.Detail, "3 lines")
	if _, lines := sendBatch(t, o, strings.Repeat(line, 3)); len(lines) != 4 || lastOf(t, lines).Why != nil {
		t.Errorf("%d lines for as many as are taken", len(lines))
	}
}

// What is refused as a whole is refused before the first line.
func TestBatchesRefused(t *testing.T) {
	busy := options()
	busy.Batch.AtOnce = limit.NewGate(1, 0)
	_, err := busy.Batch.AtOnce.Enter(t.Context())
	require.NoError(t, err)
	for _, tt := range []struct {
		name, query string
		o           Options
		header      []string
		status      int
	}{
		{"JSON", "", options(), []string{"Content-Type", jsonType}, 415},
		{"another charset", "", options(), []string{"Content-Type", ndjsonType + "; charset=utf-16"}, 415},
		{"compressed", "", options(), []string{"Content-Encoding", "gzip"}, 415},
		{"not acceptable", "", options(), []string{"Accept", jsonType}, 406},
		{"units", "?units=metric", options(), nil, 400},
		{"unknown parameter", "?unit=si", options(), nil, 400},
		{"as many as are taken", "", busy, nil, 503},
	} {
		r := request("POST", batchPath+tt.query, visitLine("1", 118), append([]string{"Content-Type", ndjsonType}, tt.header...)...)
		got := holds(t, tt.o, r)
		if got.Code != tt.status {
			t.Errorf("%s: %d %s", tt.name, got.Code, got.body)
		}
		if a := got.Header().Get("Accept"); tt.status == 415 && a != ndjsonType {
			t.Errorf("%s: Accept %q", tt.name, a)
		}
		if tt.status == 503 && got.Header().Get("Retry-After") == "" {
			t.Errorf("%s: %v", tt.name, got.Header())
		}
	}
}

// A fault of the server's own costs one line and tells nothing.
func TestPanicInALine(t *testing.T) {
	o := options()
	o.Engine = nil
	got, lines := sendBatch(t, o, "{}\n{}\n")
	last := lastOf(t, lines)
	require.Equal(t, 2, last.Summary.Problems)
	require.Equal(t, 500, lines[0].Status)
	require.Equal(t, got.Header().Get(requestIDHeader), lines[0].RequestID)
	require.NotContains(t, string(got.body), "nil")
}

// A line brings new compositions under the caller's quota.
func TestNewCompositionsInLines(t *testing.T) {
	o := options()
	o.Compositions, o.Costly = quota(t, 2), limit.NewGate(1, 0)
	var body strings.Builder
	for i := range 4 {
		fmt.Fprintf(&body, `{"system":{"composition":[{"refrigerant":"R-32","mass_percent":%d},{"refrigerant":"R-1234yf","mass_percent":%d}]},"readings":{"suction_pressure":{"value":100,"unit":"psig"}}}`+"\n", 61+i, 39-i)
	}
	_, lines := sendBatch(t, o, body.String())
	last := lastOf(t, lines)
	if last.Summary.Answers != 2 || last.Summary.Problems != 2 {
		t.Errorf("%+v", last.Summary)
	}
	for _, l := range lines[:4] {
		if l.Type != "" && l.Type != "/problems/quota-exceeded" {
			t.Errorf("%+v", l)
		}
	}
	if o.Costly.Within() != 0 {
		t.Error("a turn was not given back")
	}
}

// talk is a batch over a real connection, line by line.
type talk struct {
	io.Writer
	closed  func() error
	answers *bufio.Reader
	left    func()
}

func startTalk(t *testing.T, url string) talk {
	t.Helper()
	body, in := io.Pipe()
	ctx, cancel := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, url+batchPath, body)
	require.NoError(t, err)
	r.Header.Set("Content-Type", ndjsonType)
	response := make(chan *http.Response, 1)
	go func() {
		res, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Errorf("no answer: %v", err)
			res = &http.Response{Body: http.NoBody}
		}
		response <- res
	}()
	_, err = io.WriteString(in, visitLine("0", 118)+"\n")
	require.NoError(t, err)
	res := <-response
	t.Cleanup(func() {
		cancel()
		_ = res.Body.Close()
	})
	answers := bufio.NewReader(res.Body)
	tk := talk{in, in.Close, answers, cancel}
	if l := tk.next(t); l.Assessment == "" || l.Line != 1 {
		t.Fatalf("%+v", l)
	}
	return tk
}

func (tk talk) next(t *testing.T) answeredLine {
	t.Helper()
	text, err := tk.answers.ReadBytes('\n')
	require.NoError(t, err, "after %q", text)
	return linesOf(t, text)[0]
}

// end reads what is left and gives the last line.
func (tk talk) end(t *testing.T) answeredLine {
	t.Helper()
	text, err := io.ReadAll(tk.answers)
	require.NoError(t, err, "the answer breaks off")
	lines := linesOf(t, text)
	if len(lines) == 0 {
		t.Fatal("no last line")
	}
	return lines[len(lines)-1]
}

func serveBatches(t *testing.T, change func(*Options)) (url string, before int) {
	t.Helper()
	o := options()
	change(&o)
	s := httptest.NewServer(New(o))
	t.Cleanup(s.Close)
	res, err := http.Get(s.URL + "/livez")
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	http.DefaultClient.CloseIdleConnections()
	time.Sleep(20 * time.Millisecond)
	return s.URL, runtime.NumGoroutine()
}

// settled waits until no more goroutines run than before.
func settled(t *testing.T, before int) {
	t.Helper()
	http.DefaultClient.CloseIdleConnections()
	for deadline := time.Now().Add(patience.Long); runtime.NumGoroutine() > before; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			buffer := make([]byte, 1<<20)
			t.Fatalf("%d goroutines, %d before\n%s", runtime.NumGoroutine(), before, buffer[:runtime.Stack(buffer, true)])
		}
	}
}

// Answers come while questions are sent, and a batch whose caller thinks holds
// no turn of costly work.
func TestConversation(t *testing.T) {
	gate := limit.NewGate(1, 0)
	url, before := serveBatches(t, func(o *Options) { o.Costly = gate })
	tk := startTalk(t, url)
	for i := range 5 {
		fmt.Fprintln(tk, visitLine(strconv.Itoa(i), 110+float64(i)))
		if l := tk.next(t); string(l.ID) != strconv.Itoa(i) || l.Line != i+2 {
			t.Errorf("%+v", l)
		}
		if gate.Within() != 0 {
			t.Error("a turn is held while the caller thinks")
		}
	}
	_ = tk.closed()
	last := tk.end(t)
	require.NotNil(t, last.Summary)
	require.Equal(t, 6, last.Summary.Answers)
	require.Nil(t, last.Why)
	settled(t, before)
}

// A batch is cut with a readable last line, whatever the reason, whether its
// caller is silent or sends as fast as it can.
func TestBatchesCutShort(t *testing.T) {
	for _, tt := range []struct {
		name, kind string
		change     func(*Options)
	}{
		{"the server stops", "not-ready", func(o *Options) {
			ending, end := context.WithCancel(t.Context())
			o.Batch.Ending = ending
			time.AfterFunc(300*time.Millisecond, end)
		}},
		{"it takes too long", "took-too-long", func(o *Options) { o.Batch.Timeout = 300 * time.Millisecond }},
		{"too many lines", "body-too-large", func(o *Options) { o.Batch.Lines = 700 }},
		{"a line takes too long", "request-timeout", func(o *Options) { o.Batch.LineTimeout = 200 * time.Millisecond }},
	} {
		for _, caller := range []string{"silent", "in the middle of a line", "eager"} {
			if caller == "eager" && tt.kind == "request-timeout" || caller != "eager" && tt.kind == "body-too-large" {
				continue
			}
			t.Run(tt.name+", "+caller, func(t *testing.T) {
				url, before := serveBatches(t, func(o *Options) {
					o.Batch.Lines = 1 << 30
					tt.change(o)
				})
				tk := startTalk(t, url)
				start := time.Now()
				switch caller {
				case "in the middle of a line":
					go func() {
						for range 100 { // a byte now and then does not help
							if _, err := io.WriteString(tk, " "); err != nil {
								return
							}
							time.Sleep(20 * time.Millisecond)
						}
					}()
				case "eager":
					go func() {
						lines := []byte(strings.Repeat(visitLine("1", 118)+"\n", 100))
						for {
							if _, err := tk.Write(lines); err != nil {
								return
							}
						}
					}()
				}
				last := tk.end(t)
				require.NotNil(t, last.Summary)
				require.NotNil(t, last.Why)
				require.Equal(t, "/problems/"+tt.kind, last.Why.Type)
				require.Equal(t, last.Summary.Lines, last.Summary.Answers)
				patience.Within(t, time.Since(start), 8*time.Second, tt.name)
				_ = tk.closed()
				tk.left()
				settled(t, before)
			})
		}
	}
}

// Nothing goes on for a caller who went away, wherever the batch is.
func TestCallersWhoLeave(t *testing.T) {
	url, before := serveBatches(t, func(o *Options) { o.Batch.Lines = 1 << 30 })
	for _, busy := range []bool{false, true} {
		tk := startTalk(t, url)
		if busy {
			go func() {
				for {
					if _, err := fmt.Fprintln(tk, visitLine("1", 118)); err != nil {
						return
					}
				}
			}()
			for range 50 {
				tk.next(t)
			}
		}
		tk.left()
		_ = tk.closed()
		settled(t, before)
	}
}

// A caller who sends and never reads is let go: when an answer cannot be sent, or
// when no line comes any more. What the caller sees is no measure of it, since a
// kernel whose window is shut may drop the news.
func TestReadersWhoStall(t *testing.T) {
	url, before := serveBatches(t, func(o *Options) {
		o.Batch.Lines = 1 << 30
		o.Batch.WriteTimeout = 300 * time.Millisecond
		o.Batch.LineTimeout = 2 * time.Second
	})
	c, err := net.Dial("tcp", strings.TrimPrefix(url, "http://"))
	require.NoError(t, err)
	defer func() { _ = c.Close() }()
	_ = c.(*net.TCPConn).SetReadBuffer(4096)
	fmt.Fprintf(c, "POST %s HTTP/1.1\r\nHost: x\r\nContent-Type: %s\r\nContent-Length: 1000000000\r\n\r\n", batchPath, ndjsonType)
	sent := make(chan int)
	go func() {
		all := 0
		for {
			n, err := fmt.Fprintln(c, visitLine("1", 118))
			if all += n; err != nil {
				sent <- all
				return
			}
		}
	}()
	start := time.Now()
	serving := func() bool { return runtime.NumGoroutine() > before+1 } // one is the caller above
	for _, phase := range []bool{false, true} {                         // it begins, it ends
		for serving() == phase {
			if time.Since(start) > patience.Long {
				t.Fatalf("serving: %t", phase)
			}
			time.Sleep(time.Millisecond)
		}
	}
	patience.Within(t, time.Since(start), 8*time.Second, "letting go")
	_ = c.Close()
	if n := <-sent; n > 64<<20 {
		t.Errorf("%d bytes were taken", n)
	}
	settled(t, before)
}
