package cache_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/cache"
)

func memory(t testing.TB, bytes int) *cache.Memory {
	t.Helper()
	m, err := cache.NewMemory(bytes)
	require.NoError(t, err)
	return m
}

func TestMemoryIsBounded(t *testing.T) {
	const bound = 1 << 20
	m := memory(t, bound)
	for i := range 1000 {
		m.Set(t.Context(), fmt.Sprint(i), make([]byte, 10_000))
	}
	m.Set(t.Context(), "too large", make([]byte, 2*bound))
	for deadline := time.Now().Add(patience.Long); ; time.Sleep(time.Millisecond) { // eviction may lag
		_, _, bytes := m.Stats()
		if bytes <= bound && bytes > bound/2 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("%d bytes kept", bytes)
		}
	}
	if _, ok := m.Get(t.Context(), "too large"); ok {
		t.Error("more than the bound is kept")
	}
	if _, err := cache.NewMemory(0); err == nil {
		t.Error("a memory without room")
	}
}

func TestChainFillsTheNearer(t *testing.T) {
	near, far := memory(t, 1<<20), memory(t, 1<<20)
	c := cache.Chain{near, far}
	far.Set(t.Context(), "k", []byte("v"))
	for range 2 {
		if got, ok := c.Get(t.Context(), "k"); !ok || string(got) != "v" {
			t.Errorf("%q %v", got, ok)
		}
	}
	if hits, _, _ := far.Stats(); hits != 1 {
		t.Errorf("the farther one was asked %d times", hits)
	}
	c.Set(t.Context(), "l", []byte("w"))
	for _, m := range c {
		if _, ok := m.Get(t.Context(), "l"); !ok {
			t.Error("not given to all")
		}
	}
}

type question struct {
	A string
	B *float64
}

func TestRemember(t *testing.T) {
	var asked atomic.Int64
	refused := errors.New("refused")
	one, two := 1.0, 2.0
	store := memory(t, 1<<20)
	f := cache.Remember(func(_ context.Context, q question) ([]byte, error) {
		asked.Add(1)
		if q.A == "bad" {
			return nil, refused
		}
		return fmt.Appendf(nil, "%s %v", q.A, *q.B), nil
	}, store, "op@1")
	for _, q := range []question{{"x", &one}, {"x", &two}, {"y", &one}} {
		want := fmt.Sprintf("%s %v", q.A, *q.B)
		for range 2 {
			if got, err := f(t.Context(), q); string(got) != want || err != nil {
				t.Errorf("%q, %v, want %q", got, err, want)
			}
		}
	}
	if asked.Load() != 3 {
		t.Errorf("computed %d times", asked.Load())
	}
	for range 2 {
		if _, err := f(t.Context(), question{A: "bad"}); !errors.Is(err, refused) {
			t.Error(err)
		}
	}
	if asked.Load() != 5 {
		t.Errorf("an error was kept: %d", asked.Load())
	}
	newer := cache.Remember(func(context.Context, question) ([]byte, error) { return []byte("new"), nil }, store, "op@2")
	if got, _ := newer(t.Context(), question{"x", &one}); string(got) != "new" {
		t.Errorf("an older revision answered: %q", got)
	}
	nan := math.NaN()
	if _, err := f(t.Context(), question{"x", &nan}); err == nil {
		t.Error("a question without a key was answered")
	}
}

func TestEqualQuestionsAreComputedOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var asked atomic.Int64
		f := cache.Remember(func(context.Context, string) ([]byte, error) {
			asked.Add(1)
			time.Sleep(time.Second)
			return []byte("a"), nil
		}, memory(t, 1<<20), "op")
		var callers sync.WaitGroup
		for range 50 {
			callers.Go(func() {
				if got, err := f(t.Context(), "q"); string(got) != "a" || err != nil {
					t.Errorf("%q, %v", got, err)
				}
			})
		}
		callers.Wait()
		if asked.Load() != 1 {
			t.Errorf("computed %d times", asked.Load())
		}
	})
}

// The one who computes loses interest; those who wait do not get that error.
func TestAbandonedFlight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := cache.Remember(func(ctx context.Context, _ string) ([]byte, error) {
			select {
			case <-ctx.Done():
				return nil, ctx.Err()
			case <-time.After(time.Minute):
				return []byte("a"), nil
			}
		}, memory(t, 1<<20), "op")
		hasty, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		var callers sync.WaitGroup
		callers.Go(func() {
			if _, err := f(hasty, "q"); !errors.Is(err, context.DeadlineExceeded) {
				t.Error(err)
			}
		})
		synctest.Wait()
		callers.Go(func() {
			if got, err := f(t.Context(), "q"); string(got) != "a" || err != nil {
				t.Errorf("%q, %v", got, err)
			}
		})
		callers.Wait()
	})
}

func TestPanicReachesEveryCallerAndNothingStays(t *testing.T) {
	calls := 0
	f := cache.Remember(func(context.Context, string) ([]byte, error) {
		if calls++; calls == 1 {
			panic("once")
		}
		return []byte("a"), nil
	}, memory(t, 1<<20), "op")
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was swallowed")
			}
		}()
		_, _ = f(t.Context(), "q")
	}()
	if got, err := f(t.Context(), "q"); string(got) != "a" || err != nil {
		t.Errorf("%q, %v", got, err)
	}
}

func BenchmarkRemembered(b *testing.B) {
	f := cache.Remember(func(context.Context, question) ([]byte, error) { return make([]byte, 16<<10), nil }, memory(b, 1<<20), "op")
	one := 1.0
	for b.Loop() {
		if _, err := f(b.Context(), question{"x", &one}); err != nil {
			b.Fatal(err)
		}
	}
}
