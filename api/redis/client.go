// Package redis shares bytes and counts with other instances through a Redis
// server that may be dead, slow or lying: every call is bounded in time, and
// what comes back is checked. It must not know what the bytes mean.
package redis

import (
	"cmp"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/redis/go-redis/v9"
	"github.com/redis/go-redis/v9/maintnotifications"
	"github.com/sony/gobreaker/v2"

	"github.com/knurl-hvacr/knurl/api/tracing"
)

// Options of a Client.
type Options struct {
	// URL is redis://, rediss:// (TLS) or unix://, with user and password; the
	// parameter cluster=true makes it a cluster's, master_name=… a Sentinel's,
	// addr=host:port adds addresses of either.
	URL string
	// CAFile holds the certificates that sign the server's, in PEM; the system's
	// where it is empty.
	CAFile string
	// Prefix stands before every key.
	Prefix string
	// Secret seals values; without it the seal guards against accidents only.
	Secret string
	// TTL is how long a value is kept.
	TTL time.Duration
	// Timeout bounds a call, connecting included; WholeTimeout where it is zero.
	Timeout time.Duration
	// Log learns when the server fails and when it is back.
	Log *slog.Logger
}

// WholeTimeout bounds a call that has to dial first, where nothing else is
// said: dialing may take five sixths of it, an answer a third. The client's own
// defaults wait for seconds.
const WholeTimeout = 60 * time.Millisecond

const (
	// restAfterFailure is how long the server is left alone after a failure.
	restAfterFailure = time.Second
	// maxValue bounds what is sent or taken: more would not come in time.
	maxValue = 1 << 20
)

// Client talks to one Redis server, cluster or Sentinel.
type Client struct {
	to      redis.UniversalClient
	breaker *gobreaker.CircuitBreaker[[]byte]
	seal    sealer
	prefix  string
	ttl     time.Duration
	timeout time.Duration

	hits, misses, refused, stored, failed, skipped atomic.Uint64
}

// Stats counts what calls came to.
type Stats struct {
	Hits, Misses uint64
	// Refused values did not carry the seal of their key.
	Refused uint64
	Stored  uint64
	// Failed calls got no answer or an error, Skipped ones were not made since
	// the server had just failed.
	Failed, Skipped uint64
	// Open reports that the server is being left alone.
	Open bool
}

// quiet: the client would print to standard error.
type quiet struct{}

func (quiet) Printf(context.Context, string, ...any) {}

var silence = sync.OnceFunc(func() { redis.SetLogger(quiet{}) })

// New makes a client without connecting. Its errors never hold the URL, which
// may hold a password.
func New(o Options) (*Client, error) {
	silence()
	o.Timeout = cmp.Or(o.Timeout, WholeTimeout)
	to, err := dial(o)
	if err != nil {
		return nil, err
	}
	c := &Client{to: to, seal: sealer{[]byte(o.Secret)}, prefix: o.Prefix, ttl: o.TTL, timeout: o.Timeout}
	c.breaker = gobreaker.NewCircuitBreaker[[]byte](gobreaker.Settings{
		Name:         "redis",
		Timeout:      restAfterFailure,
		ReadyToTrip:  func(n gobreaker.Counts) bool { return n.ConsecutiveFailures > 0 },
		IsSuccessful: answered,
		OnStateChange: func(_ string, from, to gobreaker.State) {
			switch {
			case to == gobreaker.StateOpen && from == gobreaker.StateClosed:
				o.Log.Warn("redis does not answer; going on without it")
			case to == gobreaker.StateClosed:
				o.Log.Info("redis answers again")
			}
		},
	})
	return c, nil
}

// answered reports whether the server is well although it may not have what
// was asked for: nothing there, no room for more, something else of another
// type under the key.
func answered(err error) bool {
	return err == nil || errors.Is(err, redis.Nil) || redis.IsOOMError(err) || wrongType(err)
}

func wrongType(err error) bool { return redis.HasErrorPrefix(err, "WRONGTYPE") }

// parameters of the URL that have an effect.
var parameters = []string{"addr", "cluster", "db", "master_name", "password", "skip_verify", "username"}

// dial reads the URL.
func dial(o Options) (redis.UniversalClient, error) {
	u, err := url.Parse(o.URL)
	if err != nil {
		return nil, errors.New("redis: the URL cannot be read")
	}
	var secure *tls.Config
	if o.CAFile != "" {
		if u.Scheme != "rediss" {
			return nil, errors.New("redis: certificates serve rediss:// only")
		}
		if secure, err = trusting(o.CAFile, u.Hostname()); err != nil {
			return nil, err
		}
	}
	values := u.Query()
	for name := range values {
		if !slices.Contains(parameters, name) { // bounds of time are not for the URL to set
			return nil, fmt.Errorf("redis: unknown parameter %q in the URL, known are %s", name, strings.Join(parameters, ", "))
		}
	}
	cluster := values.Get("cluster")
	values.Del("cluster")
	u.RawQuery = values.Encode()
	all := redis.UniversalOptions{IsClusterMode: cluster == "true"}
	switch {
	case cluster != "" && cluster != "true" && cluster != "false":
		return nil, fmt.Errorf("redis: cluster=%q is neither true nor false", cluster)
	case all.IsClusterMode:
		var p *redis.ClusterOptions
		if p, err = redis.ParseClusterURL(u.String()); err == nil {
			all.Addrs, all.Username, all.Password, all.TLSConfig = p.Addrs, p.Username, p.Password, p.TLSConfig
		}
	case values.Has("master_name"):
		var p *redis.FailoverOptions
		if p, err = redis.ParseFailoverURL(u.String()); err == nil {
			all.MasterName, all.Addrs, all.DB = p.MasterName, p.SentinelAddrs, p.DB
			all.Username, all.Password, all.TLSConfig = p.Username, p.Password, p.TLSConfig
			all.SentinelUsername, all.SentinelPassword = p.SentinelUsername, p.SentinelPassword
		}
	default:
		var p *redis.Options
		if p, err = redis.ParseURL(u.String()); err == nil {
			all.Addrs, all.DB, all.Username, all.Password, all.TLSConfig = []string{p.Addr}, p.DB, p.Username, p.Password, p.TLSConfig
		}
	}
	if err != nil {
		return nil, errors.New("redis: the URL is no redis://, rediss:// or unix:// address with known parameters")
	}
	if secure != nil {
		all.TLSConfig = secure
	}
	call := o.Timeout / 3
	all.DialTimeout, all.ReadTimeout, all.WriteTimeout, all.PoolTimeout = o.Timeout*5/6, call, call, call
	all.MaxRetries, all.DialerRetries = -1, 1
	all.ContextTimeoutEnabled = true
	all.DisableIdentity = true
	all.MaintNotificationsConfig = &maintnotifications.Config{Mode: maintnotifications.ModeDisabled}
	return redis.NewUniversalClient(&all), nil
}

func trusting(file, host string) (*tls.Config, error) {
	pem, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("redis: %w", err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("redis: %s holds no certificate in PEM", file)
	}
	return &tls.Config{RootCAs: roots, ServerName: host, MinVersion: tls.VersionTLS12}, nil
}

// Close ends all connections.
func (c *Client) Close() error { return c.to.Close() }

// Stats are the counts so far.
func (c *Client) Stats() Stats {
	return Stats{
		Hits: c.hits.Load(), Misses: c.misses.Load(), Refused: c.refused.Load(), Stored: c.stored.Load(),
		Failed: c.failed.Load(), Skipped: c.skipped.Load(), Open: c.breaker.State() == gobreaker.StateOpen,
	}
}

// Ping reports whether the server answers; it does not wait where the server
// is being left alone.
func (c *Client) Ping(ctx context.Context) bool {
	_, err := c.call(ctx, "redis ping", func(ctx context.Context) ([]byte, error) { return nil, c.to.Ping(ctx).Err() })
	return err == nil
}

// Get fetches the value of a key; one that does not carry the key's seal is a
// miss.
func (c *Client) Get(ctx context.Context, key string) ([]byte, bool) {
	at := c.at(key)
	// Not GET: whatever stands there, no more than can be ours is fetched.
	sealed, err := c.call(ctx, "redis get", func(ctx context.Context) ([]byte, error) {
		return c.to.GetRange(ctx, at, 0, maxValue+sealSize).Bytes()
	})
	switch {
	case wrongType(err):
		c.refused.Add(1)
		return nil, false
	case err != nil:
		return nil, false
	case len(sealed) == 0: // there is no empty value of ours
		c.misses.Add(1)
		return nil, false
	}
	value, ok := c.seal.open(key, sealed)
	if !ok {
		c.refused.Add(1)
		return nil, false
	}
	c.hits.Add(1)
	return value, true
}

// Set stores a value, as far as the server takes it.
func (c *Client) Set(ctx context.Context, key string, value []byte) {
	if len(value) > maxValue {
		return
	}
	sealed := c.seal.seal(key, value)
	_, err := c.call(ctx, "redis set", func(ctx context.Context) ([]byte, error) {
		return nil, c.to.Set(ctx, c.at(key), sealed, c.ttl).Err()
	})
	if err == nil {
		c.stored.Add(1)
	}
}

// at is where a key's value stands: of fixed length, whatever the key holds.
func (c *Client) at(key string) string {
	sum := sha256.Sum256([]byte(key))
	return c.prefix + base64.RawURLEncoding.EncodeToString(sum[:])
}

// call makes one bounded call through the breaker. A caller who leaves does
// not break it off: that would look like the server's failure. name is what a
// trace calls it.
func (c *Client) call(ctx context.Context, name string, f func(context.Context) ([]byte, error)) ([]byte, error) {
	value, err := c.breaker.Execute(func() ([]byte, error) {
		bounded, cancel := context.WithTimeout(context.WithoutCancel(ctx), c.timeout)
		defer cancel()
		within, end := tracing.Part(bounded, name)
		value, err := f(within)
		end(answered(err))
		return value, err
	})
	switch {
	case errors.Is(err, gobreaker.ErrOpenState), errors.Is(err, gobreaker.ErrTooManyRequests):
		c.skipped.Add(1)
	case !answered(err):
		c.failed.Add(1)
	}
	return value, err
}

// Curves keeps an engine's curves in a client.
type Curves struct{ Client *Client }

// Load fetches bytes.
func (c Curves) Load(key string) ([]byte, bool) {
	return c.Client.Get(context.Background(), "curve\n"+key)
}

// Store keeps bytes.
func (c Curves) Store(key string, data []byte) {
	c.Client.Set(context.Background(), "curve\n"+key, data)
}
