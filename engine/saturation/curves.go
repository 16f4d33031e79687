package saturation

import (
	"container/list"
	"errors"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
)

// CurveStore keeps encoded curves outside the process, on a best-effort basis:
// a miss is a miss and never an error, and Store may do nothing. It bounds its
// own time. Implementations are safe for concurrent use.
type CurveStore interface {
	// Load gives the bytes stored under the key.
	Load(key string) ([]byte, bool)
	// Store keeps the bytes under the key.
	Store(key string, data []byte)
}

// Curves builds the curve of a composition when it is first asked for and
// keeps a bounded number of them, those longest unused going first. It is safe
// for concurrent use: a composition asked for by several at once is built
// once.
type Curves struct {
	store CurveStore
	scope string
	limit int

	mu     sync.Mutex
	byKey  map[string]*list.Element // of *entry
	recent *list.List               // most recent first
}

type entry struct {
	key   string
	ready chan struct{} // closed when curve and err stand
	curve *Curve
	err   error
}

// NewCurves makes an empty collection of at most limit curves (some 15 kB
// each). store may be nil. scope stands for the revisions of engine and data:
// curves stored under another one are never loaded.
func NewCurves(store CurveStore, scope string, limit int) *Curves {
	return &Curves{store: store, scope: scope, limit: max(1, limit), byKey: map[string]*list.Element{}, recent: list.New()}
}

// Of gives the lines of a system. A composition never seen costs some tens of
// milliseconds, during which stop (which may be nil) is asked now and then; it
// returns ErrStopped when that reports true. A composition that has no curve
// is answered by the rigorous solver.
func (c *Curves) Of(s *equilibrium.System, stop func() bool) (Lines, error) {
	key := s.Key()
	for {
		e, mine := c.claim(key)
		if mine {
			c.fill(e, s, stop)
		} else {
			<-e.ready
		}
		switch {
		case e.err == nil:
			return Lines{s, e.curve}, nil
		case errors.Is(e.err, ErrStopped):
			if stop != nil && stop() {
				return Lines{}, ErrStopped
			}
			// Another caller gave up; this one has not.
		default:
			return Rigorous(s), nil
		}
	}
}

// Known reports whether the composition's curve is kept or being built, so
// that asking for it costs next to nothing.
func (c *Curves) Known(s *equilibrium.System) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	_, ok := c.byKey[s.Key()]
	return ok
}

// claim finds the entry of a key, or makes one that the caller has to fill.
func (c *Curves) claim(key string) (e *entry, mine bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if at, ok := c.byKey[key]; ok {
		c.recent.MoveToFront(at)
		return at.Value.(*entry), false
	}
	e = &entry{key: key, ready: make(chan struct{})}
	c.byKey[key] = c.recent.PushFront(e)
	for c.recent.Len() > c.limit {
		oldest := c.recent.Back()
		delete(c.byKey, oldest.Value.(*entry).key)
		c.recent.Remove(oldest)
	}
	return e, true
}

func (c *Curves) fill(e *entry, s *equilibrium.System, stop func() bool) {
	defer close(e.ready)
	if c.load(e) {
		return
	}
	e.curve, e.err = Build(s, stop)
	switch {
	case errors.Is(e.err, ErrStopped):
		c.forget(e)
	case e.err == nil && c.store != nil:
		if data, err := e.curve.MarshalBinary(); err == nil {
			c.store.Store(c.scope+"/"+e.key, data)
		}
	}
}

// load tries the store; damaged bytes are a miss.
func (c *Curves) load(e *entry) bool {
	if c.store == nil {
		return false
	}
	data, ok := c.store.Load(c.scope + "/" + e.key)
	if !ok {
		return false
	}
	var curve Curve
	if curve.UnmarshalBinary(data) != nil {
		return false
	}
	e.curve = &curve
	return true
}

// forget drops an entry that was not filled, so that the next asks anew.
func (c *Curves) forget(e *entry) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if at, ok := c.byKey[e.key]; ok && at.Value.(*entry) == e {
		delete(c.byKey, e.key)
		c.recent.Remove(at)
	}
}
