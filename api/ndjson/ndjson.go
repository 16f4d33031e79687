// Package ndjson answers streams of newline-delimited JSON: a line in, a line
// out, in order, several computed at once, in bounded memory. It must not know
// what a line asks, nor HTTP.
package ndjson

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"sync"
	"sync/atomic"
)

// ErrTooManyLines is the error of a stream with more lines than are taken.
var ErrTooManyLines = errors.New("ndjson: too many lines")

// ReadError is the error of a stream whose lines did not all arrive.
type ReadError struct{ Err error }

func (e *ReadError) Error() string { return "ndjson: reading: " + e.Err.Error() }

// Unwrap is the reader's own error.
func (e *ReadError) Unwrap() error { return e.Err }

// Line is one line of a stream.
type Line struct {
	// Number is counted from 1, empty lines included.
	Number int
	// Text is without the newline; empty where the line is too long.
	Text []byte
	// TooLong is set where the line is longer than is read.
	TooLong bool
}

// perWorker is how many lines for each worker are read ahead, and as many are
// computed before they are written: enough that workers seldom wait for the
// slowest of them, few enough that a turn is short.
const perWorker = 16

// Flow is how a stream is answered; every field must be set.
type Flow struct {
	// Workers is how many lines are computed at once.
	Workers int
	// LineLimit is the longest line that is taken, in bytes.
	LineLimit int
	// MaxLines is how many lines are taken, empty ones included.
	MaxLines int
	// Awaiting is called before each line is read.
	Awaiting func()
	// Interrupt makes a read under way fail, and all after it.
	Interrupt func()
	// Turn waits until lines may be computed; leave ends that.
	Turn func(context.Context) (leave func(), err error)
	// Answer writes the line's answer and a newline. It is called by several
	// workers at once and must not panic.
	Answer func(context.Context, Line, *bytes.Buffer)
	// Write sends the answer of a line; it is called in order.
	Write func([]byte) error
	// Flush sends what has been written, since the next line is not there yet.
	Flush func() error
}

// answered is a line and its answer.
type answered struct {
	Line
	answer bytes.Buffer
}

// Run answers every line of in but the empty ones. It gives the number of the
// last line that was dealt with; the error is nil where that was the last of
// all, ErrTooManyLines, a *ReadError (then all lines that did arrive are
// answered), or that of ctx, Turn, Write or Flush, which ends the stream at
// once. No goroutine is left when it returns.
func (f Flow) Run(ctx context.Context, in io.Reader) (lines int, err error) {
	ahead := make(chan Line, f.Workers*perWorker)
	stop := make(chan struct{})
	var reader sync.WaitGroup
	var last int
	var broke error
	reader.Go(func() {
		defer close(ahead)
		last, broke = f.read(in, ahead, stop)
	})
	lines, err = f.answerAll(ctx, ahead)
	if err != nil {
		close(stop)
		f.Interrupt()
		reader.Wait()
		return lines, err
	}
	reader.Wait()
	return last, broke
}

// read sends lines until there are no more or stop is closed.
func (f Flow) read(from io.Reader, to chan<- Line, stop <-chan struct{}) (last int, err error) {
	const atOnce = 32 << 10
	in := bufio.NewReaderSize(from, atOnce)
	for {
		f.Awaiting()
		line, err := f.next(in)
		if err != nil && err != io.EOF {
			return last, &ReadError{err}
		}
		if err == io.EOF && len(line.Text) == 0 && !line.TooLong {
			return last, nil
		}
		if last == f.MaxLines {
			return last, ErrTooManyLines
		}
		last++
		if line.Number = last; line.TooLong || len(bytes.Trim(line.Text, " \t\r")) > 0 {
			select {
			case to <- line:
			case <-stop:
				return last, nil
			}
		}
		if err == io.EOF {
			return last, nil
		}
	}
}

// next reads up to the next newline, and keeps no more than a line may have.
func (f Flow) next(in *bufio.Reader) (line Line, err error) {
	for {
		part, err := in.ReadSlice('\n')
		part = bytes.TrimSuffix(part, []byte("\n"))
		if len(line.Text)+len(part) > f.LineLimit {
			line.TooLong, line.Text = true, nil
		}
		if !line.TooLong {
			line.Text = append(line.Text, part...)
		}
		if err != bufio.ErrBufferFull {
			return line, err
		}
	}
}

// answerAll takes the lines that are there, computes them all, writes them all,
// and so on.
func (f Flow) answerAll(ctx context.Context, ahead <-chan Line) (last int, err error) {
	turn := make([]answered, cap(ahead))
	for {
		n, err := f.take(ctx, ahead, turn)
		if err != nil || n == 0 {
			return last, err
		}
		if err := f.compute(ctx, turn[:n]); err != nil {
			return last, err
		}
		for i := range turn[:n] {
			if err := f.Write(turn[i].answer.Bytes()); err != nil {
				return last, err
			}
			last = turn[i].Number
		}
	}
}

// take waits for a line and takes those after it that are there already. None
// is the end.
func (f Flow) take(ctx context.Context, ahead <-chan Line, turn []answered) (n int, err error) {
	for n < len(turn) {
		var line Line
		var more bool
		select {
		case line, more = <-ahead:
		default:
			if n > 0 {
				return n, nil
			}
			if err := f.Flush(); err != nil {
				return 0, err
			}
			select {
			case line, more = <-ahead:
			case <-ctx.Done():
				return 0, ctx.Err()
			}
		}
		if !more {
			return n, nil
		}
		turn[n].Line = line
		turn[n].answer.Reset()
		n++
	}
	return n, nil
}

// compute answers lines by all workers at once.
func (f Flow) compute(ctx context.Context, turn []answered) error {
	leave, err := f.Turn(ctx)
	if err != nil {
		return err
	}
	defer leave()
	var next atomic.Int64
	var workers sync.WaitGroup
	for range min(f.Workers, len(turn)) {
		workers.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(turn)) && ctx.Err() == nil; i = next.Add(1) - 1 {
				f.Answer(ctx, turn[i].Line, &turn[i].answer)
				runtime.Gosched() // others wait for a short answer
			}
		})
	}
	workers.Wait()
	return ctx.Err()
}
