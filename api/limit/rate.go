package limit

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/throttled/throttled/v2"
	"github.com/throttled/throttled/v2/store/memstore"
)

// Quota is so many in so long; the zero value is no limit.
type Quota struct {
	Count int
	Per   time.Duration
}

// None reports whether there is no limit.
func (q Quota) None() bool { return q.Count == 0 }

// ParseQuota reads a number and a duration, as in 600/1m, or none.
func ParseQuota(text string) (Quota, error) {
	if text == "none" {
		return Quota{}, nil
	}
	count, per, ok := strings.Cut(text, "/")
	n, err := strconv.Atoi(count)
	if !ok || err != nil || n < 1 {
		return Quota{}, errors.New("want a number and a duration, as in 600/1m, or none")
	}
	d, err := time.ParseDuration(per)
	if err != nil || d < time.Second || d > 24*time.Hour || d.Truncate(time.Second) != d {
		return Quota{}, errors.New("the duration must be whole seconds, from 1s to 24h")
	}
	if d/time.Duration(n) <= 0 {
		return Quota{}, errors.New("the number is too large")
	}
	return Quota{n, d}, nil
}

// Rate counts for each name how much of a quota is used, by the generic cell
// rate algorithm: what is used comes back evenly over time.
type Rate struct {
	Quota         Quota
	shared, local *throttled.GCRARateLimiterCtx
}

// names bounds how many are remembered in this process, those longest unused
// going first.
const names = 1 << 16

// NewRate makes a limiter. shared counts together with other instances, and
// may be nil; where it fails, this process counts alone.
func NewRate(q Quota, shared throttled.GCRAStoreCtx) (*Rate, error) {
	quota := throttled.RateQuota{MaxRate: throttled.PerDuration(q.Count, q.Per), MaxBurst: q.Count - 1}
	memory, err := memstore.NewCtx(names)
	if err != nil {
		return nil, fmt.Errorf("limit: %w", err)
	}
	r := &Rate{Quota: q}
	if r.local, err = throttled.NewGCRARateLimiterCtx(memory, quota); err != nil {
		return nil, fmt.Errorf("limit: %w", err)
	}
	r.local.SetMaxCASAttemptsLimit(1000) // in memory the next attempt is at hand
	if shared != nil {
		if r.shared, err = throttled.NewGCRARateLimiterCtx(shared, quota); err != nil {
			return nil, fmt.Errorf("limit: %w", err)
		}
	}
	return r, nil
}

// State is what is left of a quota.
type State struct {
	// Allowed: this one was within it.
	Allowed bool
	// Remaining is how many more would be now.
	Remaining int
	// Reset is the time until the whole quota is there again.
	Reset time.Duration
	// RetryAfter is the time until the next would be allowed, where this one was
	// not.
	RetryAfter time.Duration
}

// Take uses one of the name's quota.
func (r *Rate) Take(ctx context.Context, name string) State {
	if r.shared != nil {
		if limited, result, err := r.shared.RateLimitCtx(ctx, name, 1); err == nil {
			return state(limited, result)
		}
	}
	limited, result, err := r.local.RateLimitCtx(ctx, name, 1)
	if err != nil { // many at once took from the same name
		return State{RetryAfter: time.Second}
	}
	return state(limited, result)
}

func state(limited bool, r throttled.RateLimitResult) State {
	return State{Allowed: !limited, Remaining: r.Remaining, Reset: r.ResetAfter, RetryAfter: max(0, r.RetryAfter)}
}
