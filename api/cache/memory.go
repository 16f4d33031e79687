package cache

import (
	"context"
	"fmt"
	"math"
	"sync/atomic"

	"github.com/maypok86/otter/v2"
)

// Memory is a Store in this process, bounded in bytes; what is unlikely to be
// asked for again goes first.
type Memory struct {
	kept         *otter.Cache[string, []byte]
	limit        int
	hits, misses atomic.Uint64
}

// overhead is about what an entry takes beside its key and value.
const overhead = 128

// NewMemory makes a Memory that takes up to limit bytes, at least one.
func NewMemory(limit int) (*Memory, error) {
	if limit < 1 {
		return nil, fmt.Errorf("cache: %d bytes are no room", limit)
	}
	kept, err := otter.New(&otter.Options[string, []byte]{
		MaximumWeight: uint64(limit),
		Weigher: func(key string, value []byte) uint32 {
			return uint32(min(overhead+len(key)+len(value), math.MaxUint32))
		},
	})
	if err != nil {
		return nil, fmt.Errorf("cache: %w", err)
	}
	return &Memory{kept: kept, limit: limit}, nil
}

// Get looks a key up.
func (m *Memory) Get(_ context.Context, key string) ([]byte, bool) {
	value, ok := m.kept.GetIfPresent(key)
	if ok {
		m.hits.Add(1)
	} else {
		m.misses.Add(1)
	}
	return value, ok
}

// Set keeps a value, unless it alone is over the bound.
func (m *Memory) Set(_ context.Context, key string, value []byte) {
	if overhead+len(key)+len(value) <= m.limit { // else it would drive the others out first
		m.kept.Set(key, value)
	}
}

// Stats are the hits and misses so far, and the bytes kept.
func (m *Memory) Stats() (hits, misses, bytes uint64) {
	return m.hits.Load(), m.misses.Load(), m.kept.WeightedSize()
}
