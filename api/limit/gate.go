// Package limit bounds how much is done at once and how often somebody may
// ask. It must not know what is done or asked.
package limit

import (
	"context"
	"errors"
	"sync/atomic"

	"golang.org/x/sync/semaphore"
)

// ErrBusy is the error of a Gate before which enough are waiting already.
var ErrBusy = errors.New("limit: busy")

// Gate lets few through at once and few wait.
type Gate struct {
	slots   *semaphore.Weighted
	within  atomic.Int64
	allowed int64
}

// NewGate makes a gate that lets slots through at once while queue wait.
func NewGate(slots, queue int) *Gate {
	return &Gate{slots: semaphore.NewWeighted(int64(slots)), allowed: int64(slots + queue)}
}

// Enter waits for a slot. leave gives it back. The error is ErrBusy, or that
// of ctx.
func (g *Gate) Enter(ctx context.Context) (leave func(), err error) {
	if g.within.Add(1) > g.allowed {
		g.within.Add(-1)
		return nil, ErrBusy
	}
	return g.acquire(ctx)
}

// Wait is Enter for one whose like are few: it waits however many do. The
// error is that of ctx.
func (g *Gate) Wait(ctx context.Context) (leave func(), err error) {
	g.within.Add(1)
	return g.acquire(ctx)
}

func (g *Gate) acquire(ctx context.Context) (leave func(), err error) {
	if err := g.slots.Acquire(ctx, 1); err != nil {
		g.within.Add(-1)
		return nil, err
	}
	return func() {
		g.slots.Release(1)
		g.within.Add(-1)
	}, nil
}

// Within is how many are inside or waiting.
func (g *Gate) Within() int { return int(g.within.Load()) }
