package httpapi

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/limit"
	"github.com/knurl-hvacr/knurl/api/ndjson"
	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/batch"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

const (
	batchPath  = "/v1/diagnosis/batch"
	ndjsonType = "application/x-ndjson"
)

// Batch bounds batches, which may last far longer than other requests.
type Batch struct {
	// LineLimit is the longest line that is read, in bytes.
	LineLimit int
	// Lines is how many lines one batch may have.
	Lines int
	// AtOnce lets few batches be under way; nil is no limit.
	AtOnce *limit.Gate
	// Timeout is how long a batch may take.
	Timeout time.Duration
	// LineTimeout is how long a caller may take to send a line.
	LineTimeout time.Duration
	// WriteTimeout is how long a caller may take to receive one.
	WriteTimeout time.Duration
	// Ending is done when batches under way are to come to an end; nil is never.
	Ending context.Context
}

// batch answers a diagnosis a line. A caller must read while sending: what is
// computed and not read holds up what is read.
func (s *server) batch(c *gin.Context) {
	if _, err := negotiate(c.Request, ndjsonType); err != nil {
		fail(c, err)
		return
	}
	if err := plain(c.Request, ndjsonType); err != nil {
		fail(c, err)
		return
	}
	as := question.New(nil, c.Request.URL.RawQuery)
	if err := as.Finish(); err != nil {
		fail(c, err)
		return
	}
	if s.Batch.AtOnce != nil {
		leave, err := s.Batch.AtOnce.Enter(c.Request.Context())
		if err != nil {
			fail(c, raise.After(problem.Overloaded, time.Second, "as many batches as are taken are under way"))
			return
		}
		defer leave()
	}
	c.Header("Content-Type", ndjsonType)
	// What is left of a batch cut short must not be taken for the next request.
	c.Header("Connection", "close")
	ctx, cancel := context.WithCancel(context.WithoutCancel(c.Request.Context()))
	defer cancel()
	b := &batchRun{
		server: s, requestID: requestID(c), values: c.Request.URL.RawQuery,
		body: c.Request.Body, out: c.Writer, wire: http.NewResponseController(c.Writer), cancel: cancel,
	}
	if w, ok := c.Writer.(interface{ Unwrap() http.ResponseWriter }); ok {
		b.wire = http.NewResponseController(w.Unwrap()) // gin's own Flush tells of no error
	}
	b.run(ctx, c.Request.Context())
}

// batchRun is one batch under way.
type batchRun struct {
	*server
	requestID, values string
	body              io.ReadCloser
	out               io.Writer
	wire              *http.ResponseController
	cancel            context.CancelFunc
	// connected is not set where there is no connection, as in tests.
	connected bool
	// awaited is since when the next line is awaited.
	awaited time.Time
	// unsent is set while something written may not have been sent.
	unsent            bool
	answers, problems atomic.Int64

	mu sync.Mutex
	// ended is why no more is read, nil until then.
	ended error
	// all is set when all of the body was read.
	all bool
}

// run answers every line and writes the summary. The request's context also
// ends when the connection's read deadline has passed, though the caller still
// waits for answers: ctx does not.
func (b *batchRun) run(ctx, request context.Context) {
	_ = b.wire.EnableFullDuplex() // not known where there is no connection
	b.connected = b.wire.SetReadDeadline(time.Now().Add(b.Batch.LineTimeout)) == nil
	defer time.AfterFunc(b.Batch.Timeout, func() {
		b.end(raise.Because(problem.TookTooLong, "a batch may take %v: ask the lines after the last one counted again", b.Batch.Timeout))
	}).Stop()
	defer context.AfterFunc(request, b.gone)()
	if b.Batch.Ending != nil {
		defer context.AfterFunc(b.Batch.Ending, func() {
			b.end(raise.After(problem.NotReady, time.Second, "the server is stopping: ask the lines after the last one counted elsewhere"))
		})()
	}
	lines, err := ndjson.Flow{
		Workers: runtime.GOMAXPROCS(0), LineLimit: b.Batch.LineLimit, MaxLines: b.Batch.Lines,
		Awaiting: func() { b.awaited = time.Now() }, Interrupt: func() { b.end(context.Canceled) },
		Turn: b.turn, Answer: b.answer, Write: b.write, Flush: b.flush,
	}.Run(ctx, b)
	why := b.why(err)
	if ctx.Err() != nil || err != nil && why == nil {
		return // nobody reads any more
	}
	last := batch.End{Summary: batch.Summary{Lines: lines, Answers: int(b.answers.Load()), Problems: int(b.problems.Load())}}
	if why != nil {
		p := b.problemFor(ctx, b.requestID, batchPath, why)
		last.Problem = &p
		defer b.linger()
	}
	if b.write(encoded(last)) == nil {
		_ = b.flush()
	}
}

// why is the reason for which a batch ends before its end, for its last line;
// nil where it does not, or where nobody would read that.
func (b *batchRun) why(err error) error {
	if errors.Is(err, ndjson.ErrTooManyLines) {
		return raise.Because(problem.BodyTooLarge, "at most %d lines are read: ask the others in another batch", b.Batch.Lines)
	}
	if _, ok := errors.AsType[*ndjson.ReadError](err); !ok {
		return nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.ended != nil {
		return b.ended
	}
	return raise.Because(problem.RequestTimeout, "the body broke off, or a line took more than %v", b.Batch.LineTimeout)
}

// Read reads the body while the caller may send: a line must arrive in time,
// however many parts it comes in.
func (b *batchRun) Read(p []byte) (int, error) {
	b.mu.Lock()
	if b.ended != nil || b.all {
		defer b.mu.Unlock()
		if b.all {
			return 0, io.EOF
		}
		return 0, b.ended
	}
	if b.connected {
		_ = b.wire.SetReadDeadline(b.awaited.Add(b.Batch.LineTimeout))
	}
	b.mu.Unlock()
	n, err := b.body.Read(p)
	if err == io.EOF {
		b.mu.Lock()
		b.all = true
		b.mu.Unlock()
	}
	return n, err
}

// end lets the caller send no more. What was read is still answered. A read
// that waits is woken; one that finds something to read is let through, since a
// connection must not fail that can still be read.
func (b *batchRun) end(why error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.ended != nil || b.all {
		return
	}
	b.ended = why
	if b.connected {
		_ = b.wire.SetReadDeadline(time.Unix(1, 0))
	} else {
		_ = b.body.Close()
	}
}

// linger has net/http read on for a moment: a caller who still sends would lose
// the end of the answer if the connection closed on what it sends.
func (b *batchRun) linger() {
	b.end(context.Canceled) // nobody else sets a deadline any more
	_ = b.wire.SetReadDeadline(time.Now().Add(time.Second))
}

// gone stops everything when the request's context ends, unless that only
// tells that reading failed, which the reader is told as well.
func (b *batchRun) gone() {
	b.mu.Lock()
	reading := b.connected && !b.all
	b.mu.Unlock()
	if !reading {
		b.cancel()
		b.end(context.Canceled)
	}
}

// turn waits for a turn among costly work. Every few lines bring another, so
// that a batch holds nobody up for long and none while its caller is slow.
func (b *batchRun) turn(ctx context.Context) (leave func(), err error) {
	if b.Costly == nil {
		return func() {}, nil
	}
	return b.Costly.Wait(ctx)
}

// answer writes the answer of a line or its problem.
func (b *batchRun) answer(ctx context.Context, line ndjson.Line, to *bytes.Buffer) {
	id, a, err := b.ask(ctx, line)
	if err == nil {
		err = writeJSON(to, batch.Answer{Line: line.Number, ID: id, DiagnosisAnswer: a})
	}
	if err == nil {
		b.answers.Add(1)
		return
	}
	b.problems.Add(1)
	to.Reset()
	to.Write(encoded(batch.Problem{Line: line.Number, ID: id, Problem: b.problemFor(ctx, b.requestID, batchPath, err)}))
}

// ask has the engine answer a line. A panic is the error of that line.
func (b *batchRun) ask(ctx context.Context, line ndjson.Line) (id json.RawMessage, a query.DiagnosisAnswer, err error) {
	defer func() {
		if value := recover(); value != nil {
			err = b.panicked(value)
		}
	}()
	if line.TooLong {
		return nil, a, raise.Because(problem.BodyTooLarge, "at most %d bytes are read of a line", b.Batch.LineLimit)
	}
	ctx, cancel := context.WithTimeout(context.WithValue(ctx, insideKey{}, true), b.AnswerTimeout)
	defer cancel()
	return batch.Diagnosis(b.engineFor(ctx), b.values, line.Text)
}

// write sends one line, for which the caller has a time of its own.
func (b *batchRun) write(line []byte) error {
	b.allow()
	b.unsent = true
	_, err := b.out.Write(line)
	return err
}

// allow gives the caller time to receive.
func (b *batchRun) allow() {
	if b.connected {
		_ = b.wire.SetWriteDeadline(time.Now().Add(b.Batch.WriteTimeout))
	}
}

// flush sends what was written. Before the first line there is nothing: a
// caller who waits to be told to continue is told so by the first read.
func (b *batchRun) flush() error {
	if !b.unsent {
		return nil
	}
	b.unsent = false
	b.allow()
	if err := b.wire.Flush(); !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	return nil
}

// encoded is a line that can always be encoded.
func encoded(line any) []byte {
	var text bytes.Buffer
	if err := writeJSON(&text, line); err != nil {
		panic(err) // strings, numbers, and an id that was read
	}
	return text.Bytes()
}
