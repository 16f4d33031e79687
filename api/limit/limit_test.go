package limit_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/limit"
	"github.com/knurl-hvacr/knurl/api/redis"
	"github.com/knurl-hvacr/knurl/api/redis/redistest"
)

func TestGate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := limit.NewGate(2, 3)
		var inside, most, busy, done atomic.Int64
		var callers sync.WaitGroup
		for range 10 {
			callers.Go(func() {
				leave, err := g.Enter(t.Context())
				if errors.Is(err, limit.ErrBusy) {
					busy.Add(1)
					return
				}
				if err != nil {
					t.Error(err)
					return
				}
				defer leave()
				n := inside.Add(1)
				for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
				}
				time.Sleep(time.Second)
				inside.Add(-1)
				done.Add(1)
			})
		}
		callers.Wait()
		require.Equal(t, int64(2), most.Load())
		require.Equal(t, int64(5), busy.Load())
		require.Equal(t, int64(5), done.Load())
		require.Equal(t, 0, g.Within())
		var waited sync.WaitGroup
		for range 10 { // more than may wait, all of whom do
			waited.Go(func() {
				leave, err := g.Wait(t.Context())
				if err != nil {
					t.Error(err)
					return
				}
				time.Sleep(time.Second)
				leave()
			})
		}
		synctest.Wait()
		if _, err := g.Enter(t.Context()); g.Within() != 10 || !errors.Is(err, limit.ErrBusy) {
			t.Errorf("%d within, %v", g.Within(), err)
		}
		waited.Wait()
		leave, err := g.Enter(t.Context())
		require.NoError(t, err)
		leave2, err := g.Enter(t.Context())
		require.NoError(t, err)
		hasty, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if _, err := g.Enter(hasty); !errors.Is(err, context.DeadlineExceeded) || g.Within() != 2 {
			t.Errorf("%v, %d within", err, g.Within())
		}
		leave()
		leave2()
	})
}

func TestParseQuota(t *testing.T) {
	for text, want := range map[string]limit.Quota{
		"none": {}, "600/1m": {600, time.Minute}, "1/24h": {1, 24 * time.Hour}, "5/90s": {5, 90 * time.Second},
	} {
		if q, err := limit.ParseQuota(text); q != want || err != nil {
			t.Errorf("%s: %v, %v", text, q, err)
		}
	}
	for _, text := range []string{"", "600", "0/1m", "-1/1m", "x/1m", "600/", "600/0s", "600/500ms", "600/1.5s", "1/25h", "9999999999/1s"} {
		if q, err := limit.ParseQuota(text); err == nil {
			t.Errorf("%s: %v", text, q)
		}
	}
}

func rate(t *testing.T, count int, r *redis.Client) *limit.Rate {
	t.Helper()
	q := limit.Quota{Count: count, Per: time.Hour}
	if r == nil {
		l, err := limit.NewRate(q, nil)
		require.NoError(t, err)
		return l
	}
	store, err := r.RateStore()
	require.NoError(t, err)
	l, err := limit.NewRate(q, store)
	require.NoError(t, err)
	return l
}

// spend takes until refused and gives how many were allowed.
func spend(t *testing.T, l *limit.Rate, name string) int {
	t.Helper()
	for n := range 1000 {
		s := l.Take(t.Context(), name)
		if !s.Allowed {
			require.Greater(t, s.RetryAfter, time.Duration(0))
			require.Equal(t, 0, s.Remaining)
			require.Greater(t, s.Reset, time.Duration(0))
			return n
		}
	}
	t.Fatal("never refused")
	return 0
}

func TestRate(t *testing.T) {
	l := rate(t, 3, nil)
	if s := l.Take(t.Context(), "a"); !s.Allowed || s.Remaining != 2 {
		t.Errorf("%+v", s)
	}
	if n := spend(t, l, "a"); n != 2 {
		t.Errorf("%d more", n)
	}
	if n := spend(t, l, "b"); n != 3 {
		t.Errorf("another name got %d", n)
	}
}

func TestManyNamesAtOnce(t *testing.T) {
	l := rate(t, 50, nil)
	var allowed atomic.Int64
	var callers sync.WaitGroup
	for range 8 {
		callers.Go(func() {
			for range 20 {
				if l.Take(t.Context(), "a").Allowed {
					allowed.Add(1)
				}
			}
		})
	}
	callers.Wait()
	if allowed.Load() != 50 {
		t.Errorf("%d of 50", allowed.Load())
	}
}

// Two instances count together while there is a server, and each alone when
// it is gone.
func TestSharedRate(t *testing.T) {
	s := redistest.Start(t)
	client := func() *redis.Client {
		c, err := redis.New(redis.Options{URL: "redis://" + s.Addr, Prefix: "knurl:", Timeout: patience.Long, Log: slog.New(slog.DiscardHandler)})
		require.NoError(t, err)
		t.Cleanup(func() { _ = c.Close() })
		return c
	}
	one, two := rate(t, 20, client()), rate(t, 20, client())
	for i := range 10 {
		if !one.Take(t.Context(), "a").Allowed {
			t.Errorf("refused the %dth", i)
		}
	}
	if n := spend(t, two, "a"); n != 10 {
		t.Errorf("the other instance allowed %d more", n)
	}
	s.Kill()
	start := time.Now()
	if n := spend(t, two, "a"); n != 20 {
		t.Errorf("alone it allowed %d", n)
	}
	patience.Within(t, time.Since(start), 500*time.Millisecond, "twenty turns without a server")
}

func BenchmarkTake(b *testing.B) {
	l, err := limit.NewRate(limit.Quota{Count: 1 << 20, Per: time.Minute}, nil)
	require.NoError(b, err)
	for i := range b.N {
		l.Take(b.Context(), fmt.Sprint(i%100))
	}
}
