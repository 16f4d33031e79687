package redis

import (
	"context"
	"time"

	"github.com/throttled/throttled/v2"
	goredisstore "github.com/throttled/throttled/v2/store/goredisstore.v9"
)

// RateStore counts in the server, for a limiter that all instances share. Its
// errors mean that the server is not to be had.
func (c *Client) RateStore() (throttled.GCRAStoreCtx, error) {
	store, err := goredisstore.NewCtx(c.to, c.prefix+"rate:")
	return rateStore{c, store}, err
}

// rateStore puts the client's bounds around a store.
type rateStore struct {
	client *Client
	store  throttled.GCRAStoreCtx
}

func (r rateStore) GetWithTime(ctx context.Context, key string) (value int64, now time.Time, err error) {
	_, err = r.client.call(ctx, "redis rate", func(ctx context.Context) ([]byte, error) {
		var err error
		value, now, err = r.store.GetWithTime(ctx, key)
		return nil, err
	})
	return value, now, err
}

func (r rateStore) SetIfNotExistsWithTTL(ctx context.Context, key string, value int64, ttl time.Duration) (set bool, err error) {
	_, err = r.client.call(ctx, "redis rate", func(ctx context.Context) ([]byte, error) {
		var err error
		set, err = r.store.SetIfNotExistsWithTTL(ctx, key, value, ttl)
		return nil, err
	})
	return set, err
}

func (r rateStore) CompareAndSwapWithTTL(ctx context.Context, key string, old, value int64, ttl time.Duration) (swapped bool, err error) {
	_, err = r.client.call(ctx, "redis rate", func(ctx context.Context) ([]byte, error) {
		var err error
		swapped, err = r.store.CompareAndSwapWithTTL(ctx, key, old, value, ttl)
		return nil, err
	})
	return swapped, err
}
