package ndjson

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/iotest"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"
)

// echo is a flow that answers each line with its number and text.
func echo(out *bytes.Buffer) Flow {
	return Flow{
		Workers: 4, LineLimit: 100, MaxLines: 1 << 20,
		Awaiting: func() {}, Interrupt: func() {},
		Turn: func(context.Context) (func(), error) { return func() {}, nil },
		Answer: func(_ context.Context, l Line, to *bytes.Buffer) {
			if l.TooLong {
				fmt.Fprintf(to, "%d too long\n", l.Number)
				return
			}
			fmt.Fprintf(to, "%d %s\n", l.Number, l.Text)
		},
		Write: func(line []byte) error { _, err := out.Write(line); return err },
		Flush: func() error { return nil },
	}
}

// settled waits until no more goroutines run than before.
func settled(t *testing.T, before int) {
	t.Helper()
	for deadline := time.Now().Add(patience.Long); runtime.NumGoroutine() > before; time.Sleep(time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), before)
		}
	}
}

func TestLines(t *testing.T) {
	long, longest := strings.Repeat("x", 101), strings.Repeat("y", 100)
	for in, want := range map[string]string{
		"":                       "",
		"\n":                     "",
		"a":                      "1 a\n",
		"a\n":                    "1 a\n",
		"a\r\n \r\nb":            "1 a\r\n3 b\n",
		"\n\n\na\n\n":            "4 a\n",
		longest + "\n" + longest: "1 " + longest + "\n2 " + longest + "\n",
		"a\n" + long + "\nb\n":   "1 a\n2 too long\n3 b\n",
		long:                     "1 too long\n",
		strings.Repeat(long, 1000) + "\n" + strings.Repeat(" ", 1<<20) + "\nb": "1 too long\n2 too long\n3 b\n",
	} {
		t.Run(fmt.Sprintf("%.20q", in), func(t *testing.T) {
			for name, reader := range map[string]io.Reader{"at once": strings.NewReader(in), "byte by byte": iotest.OneByteReader(strings.NewReader(in)), "with its end": iotest.DataErrReader(strings.NewReader(in))} {
				var out bytes.Buffer
				n, err := echo(&out).Run(t.Context(), reader)
				last := strings.Count(in, "\n")
				if !strings.HasSuffix(in, "\n") && in != "" {
					last++
				}
				require.NoError(t, err, "%.20q %s", in, name)
				if out.String() != want || n != last {
					t.Errorf("%.20q %s: %.100q, %d lines, want %.100q, %d lines", in, name, &out, n, want, last)
				}
			}
		})
	}
}

// However long each line takes, answers come in order, no more lines are
// computed at once than there are workers, and no more are held than are read
// ahead.
func TestOrderAndBounds(t *testing.T) {
	const lines = 3000
	var in, want strings.Builder
	for i := 1; i <= lines; i++ {
		fmt.Fprintf(&in, "line %d\n", i)
		fmt.Fprintf(&want, "%d line %d\n", i, i)
	}
	var out bytes.Buffer
	var now, most, read, written, held atomic.Int64
	f := echo(&out)
	answer, write := f.Answer, f.Write
	f.Awaiting = func() {
		if n := read.Add(1) - written.Load(); n > held.Load() {
			held.Store(n)
		}
	}
	f.Answer = func(ctx context.Context, l Line, to *bytes.Buffer) {
		n := now.Add(1)
		for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
		}
		if l.Number%7 == 0 {
			time.Sleep(time.Duration(rand.IntN(300)) * time.Microsecond)
		}
		answer(ctx, l, to)
		now.Add(-1)
	}
	f.Write = func(line []byte) error {
		written.Add(1)
		return write(line)
	}
	n, err := f.Run(t.Context(), strings.NewReader(in.String()))
	require.NoError(t, err)
	if n != lines || out.String() != want.String() {
		t.Errorf("%d lines, in order: %v", n, out.String() == want.String())
	}
	// One turn, as much ahead, and the line that is being read.
	if bound := int64(2*f.Workers*perWorker + 2); held.Load() > bound || held.Load() < 2 {
		t.Errorf("%d lines were held, at most %d may be", held.Load(), bound)
	}
	if most.Load() > int64(f.Workers) || most.Load() < 2 {
		t.Errorf("%d lines at once for %d workers", most.Load(), f.Workers)
	}
}

func TestTooManyLines(t *testing.T) {
	for in, want := range map[string]error{"a\nb\nc": nil, "a\n\nc\n": nil, "a\nb\nc\nd": ErrTooManyLines, "a\nb\nc\n\n": ErrTooManyLines} {
		var out bytes.Buffer
		f := echo(&out)
		f.MaxLines = 3
		if n, err := f.Run(t.Context(), strings.NewReader(in)); !errors.Is(err, want) || n != 3 || !strings.HasSuffix(out.String(), "3 c\n") {
			t.Errorf("%q: %d, %v, %q", in, n, err, &out)
		}
	}
}

// What did arrive is answered, half a line is not.
func TestReadingFails(t *testing.T) {
	var out bytes.Buffer
	broken := errors.New("broken")
	n, err := echo(&out).Run(t.Context(), io.MultiReader(strings.NewReader("a\nb\nhalf"), iotest.ErrReader(broken)))
	_, ok := errors.AsType[*ReadError](err)
	require.True(t, ok, "%d, %v, %q", n, err, &out)
	require.ErrorIs(t, err, broken)
	require.Equal(t, 2, n)
	require.Equal(t, "1 a\n2 b\n", out.String())
}

// Whatever ends a stream, a caller who sends no more is not waited for.
func TestEnds(t *testing.T) {
	failed := errors.New("failed")
	before := runtime.NumGoroutine()
	for name, spoil := range map[string]func(*Flow, context.CancelFunc){
		"writing":  func(f *Flow, _ context.CancelFunc) { f.Write = func([]byte) error { return failed } },
		"flushing": func(f *Flow, _ context.CancelFunc) { f.Flush = func() error { return failed } },
		"no turn": func(f *Flow, _ context.CancelFunc) {
			f.Turn = func(context.Context) (func(), error) { return nil, failed }
		},
		"while waiting": func(f *Flow, stop context.CancelFunc) { time.AfterFunc(20*time.Millisecond, stop) },
		"while it computes": func(f *Flow, stop context.CancelFunc) {
			f.Answer = func(context.Context, Line, *bytes.Buffer) { stop() }
		},
	} {
		ctx, cancel := context.WithCancel(t.Context())
		out, in := io.Pipe()
		var sink bytes.Buffer
		f := echo(&sink)
		f.Interrupt = func() { _ = out.Close() }
		spoil(&f, cancel)
		go func() { _, _ = io.WriteString(in, strings.Repeat("a\n", 1000)) }()
		if _, err := f.Run(ctx, out); !errors.Is(err, failed) && !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", name, err)
		}
		cancel()
		settled(t, before)
	}
}

// A caller who waits for an answer before asking again gets it.
func TestConversation(t *testing.T) {
	questions, ask := io.Pipe()
	var sent bytes.Buffer
	flushed := make(chan string, 10)
	f := echo(&sent)
	f.Flush = func() error {
		flushed <- sent.String()
		return nil
	}
	ended := make(chan error)
	go func() {
		_, err := f.Run(t.Context(), questions)
		ended <- err
	}()
	var got []string
	for _, q := range []string{"", "a\n", "b\nc\n"} {
		_, _ = io.WriteString(ask, q)
		for want := strings.Count(strings.Join(append(slices.Clone(got), q), ""), "\n"); ; {
			if s := <-flushed; strings.Count(s, "\n") == want {
				break
			}
		}
		got = append(got, q)
	}
	_ = ask.Close()
	err := <-ended
	require.NoError(t, err)
	if sent.String() != "1 a\n2 b\n3 c\n" {
		t.Errorf("%q", &sent)
	}
}

func FuzzLines(f *testing.F) {
	for _, seed := range []string{"", "a\n\nb", "\r\n", "\n\n", strings.Repeat("x", 101) + "\ny"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, in string) {
		var want strings.Builder
		lines := strings.Split(in, "\n")
		for i, l := range lines {
			switch {
			case len(l) > 100:
				fmt.Fprintf(&want, "%d too long\n", i+1)
			case strings.Trim(l, " \t\r") != "":
				fmt.Fprintf(&want, "%d %s\n", i+1, l)
			}
		}
		count := len(lines)
		if lines[count-1] == "" {
			count--
		}
		var out bytes.Buffer
		n, err := echo(&out).Run(t.Context(), strings.NewReader(in))
		require.NoError(t, err, "%q", in)
		if n != count || out.String() != want.String() {
			t.Errorf("%q: %d lines, %q, want %d, %q", in, n, &out, count, &want)
		}
	})
}
