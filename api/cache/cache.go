// Package cache keeps answers that cost more than fetching them: in the
// process, and behind that wherever a Store keeps bytes. It must not know any
// operation, nor what a Store is made of.
package cache

import (
	"context"
)

// Store keeps bytes under keys on a best-effort basis: a miss is a miss and
// never an error, and Set may do nothing. It bounds its own time, and gives
// back only what was set under that very key. Implementations are safe for
// concurrent use; neither side changes bytes that the other has seen.
type Store interface {
	Get(ctx context.Context, key string) ([]byte, bool)
	Set(ctx context.Context, key string, value []byte)
}

// Chain asks stores in turn, the nearest first; what a farther one holds, the
// nearer ones are given.
type Chain []Store

// Get gives the value of the first store that holds one.
func (c Chain) Get(ctx context.Context, key string) ([]byte, bool) {
	for i, s := range c {
		if value, ok := s.Get(ctx, key); ok {
			c[:i].Set(ctx, key, value)
			return value, true
		}
	}
	return nil, false
}

// Set gives the value to every store.
func (c Chain) Set(ctx context.Context, key string, value []byte) {
	for _, s := range c {
		s.Set(ctx, key, value)
	}
}
