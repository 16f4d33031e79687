package app

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/url"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/knurl-hvacr/knurl/api/auth"
	"github.com/knurl-hvacr/knurl/api/limit"
	"github.com/knurl-hvacr/knurl/api/redis"
	"github.com/knurl-hvacr/knurl/api/tracing"
)

// Config is everything that can be set from outside.
type Config struct {
	// HealthCheck asks a running service how it is instead of serving.
	HealthCheck bool
	// Listen is the address of the listener, host:port.
	Listen string
	// AllowAnonymous lets a listener that others can reach answer everybody.
	AllowAnonymous bool
	// AdminListen is the address of a listener of its own for metrics and
	// profiles; empty for none.
	AdminListen string
	// APIKeysFile holds names and hashes of the keys of those who may ask; empty
	// where everybody may.
	APIKeysFile string
	// CORSOrigins are the web pages that may ask from a browser.
	CORSOrigins []string
	// RateLimit is how often one caller may ask.
	RateLimit limit.Quota
	// NewCompositions is how often one caller may bring a composition never seen.
	NewCompositions limit.Quota
	// MaxInFlight is how many requests are taken at once while the load lasts.
	MaxInFlight int
	// CostlyAtOnce is how many curves and the like are computed at once.
	CostlyAtOnce int
	// MaxConnections is how many connections are held at once.
	MaxConnections int
	// CacheBytes is the room for costly answers in this process.
	CacheBytes int
	// RedisURL is where curves, answers and rates are shared; empty for nowhere.
	RedisURL string
	// RedisCAFile holds the certificates that sign the Redis server's.
	RedisCAFile string
	// RedisPrefix stands before every key there.
	RedisPrefix string
	// RedisTTL is how long values are kept there.
	RedisTTL time.Duration
	// RedisTimeout is how long one call of Redis may take, connecting included.
	RedisTimeout time.Duration
	// CacheSecret seals values kept there.
	CacheSecret string
	// TracesEndpoint is the collector that spans of requests are sent to; empty
	// for none.
	TracesEndpoint string
	// TracesShare of the traces begun here is sent, 0 to 1.
	TracesShare float64
	// LogLevel is the least level that is logged.
	LogLevel slog.Level
	// BodyLimit is the longest body that is read, in bytes.
	BodyLimit int64
	// MaxAge is how long caches may keep answers to GET.
	MaxAge time.Duration
	// HeaderTimeout is how long a client may take to send a request's header.
	HeaderTimeout time.Duration
	// ReadTimeout is how long a client may take to send a whole request.
	ReadTimeout time.Duration
	// WriteTimeout is how long an answer may take, from the end of the header on.
	WriteTimeout time.Duration
	// AnswerTimeout is how long one request may be computed.
	AnswerTimeout time.Duration
	// BatchLines is how many lines a batch may have.
	BatchLines int
	// BatchLineLimit is the longest line of a batch that is read, in bytes.
	BatchLineLimit int
	// BatchesAtOnce is how many batches are under way at once.
	BatchesAtOnce int
	// BatchTimeout is how long a batch may take.
	BatchTimeout time.Duration
	// Warm are refrigerants whose curves are built at the start.
	Warm []string
	// IdleTimeout is how long a connection may rest between requests.
	IdleTimeout time.Duration
	// DrainDelay is how long requests are still taken after readiness is off,
	// so that balancers can see it.
	DrainDelay time.Duration
	// StopTimeout is how long requests under way may take to finish.
	StopTimeout time.Duration
}

// setting is one value of Config as it is spelled outside: KNURL_BODY_LIMIT
// in the environment, -body-limit as a flag, which wins.
type setting struct {
	name, standard, usage string
	set                   func(*Config, string) error
}

// secret settings are not shown when they are faulty.
func (s setting) secret() bool {
	return s.name == "redis-url" || s.name == "cache-secret" || s.name == "traces-endpoint"
}

func (s setting) env() string {
	return "KNURL_" + strings.ToUpper(strings.ReplaceAll(s.name, "-", "_"))
}

var settings = []setting{
	{"listen", "127.0.0.1:8080", "address to listen on, host:port", func(c *Config, v string) error {
		c.Listen = v
		return nil
	}},
	{"allow-anonymous", "false", "answer everybody on an address that others can reach", func(c *Config, v string) (err error) {
		c.AllowAnonymous, err = strconv.ParseBool(v)
		return err
	}},
	{"admin-listen", "", "address of a listener of its own for /metrics and /debug/pprof, host:port; none where empty, /metrics then stands on the first", text(func(c *Config) *string { return &c.AdminListen })},
	{"api-keys-file", "", "file of those who may ask: a name and the SHA-256 of a key in hex on each line, read again when it changes and on SIGHUP; everybody may ask where empty", text(func(c *Config) *string { return &c.APIKeysFile })},
	{"cors-origins", "", "origins whose pages may ask from a browser, by commas, or *; none where empty", func(c *Config, v string) error {
		c.CORSOrigins = nil
		if v == "" {
			return nil
		}
		c.CORSOrigins = strings.Split(v, ",")
		for _, o := range c.CORSOrigins {
			if u, err := url.Parse(o); o != "*" && (err != nil || u.Scheme == "" || u.Host == "" || u.Scheme+"://"+u.Host != o) {
				return fmt.Errorf("%q is no origin, want one like https://dispatch.example", o)
			}
		}
		return nil
	}},
	{"rate-limit", "none", "requests that one key, or one address where there are no keys, may send in a time, as in 600/1m, or none", quota(func(c *Config) *limit.Quota { return &c.RateLimit })},
	{"new-compositions", "60/1m", "typed compositions never seen that one key or address may bring in a time, or none", quota(func(c *Config) *limit.Quota { return &c.NewCompositions })},
	{"max-in-flight", strconv.Itoa(32 * runtime.GOMAXPROCS(0)), "requests taken at once while the load lasts, eight times as many in a burst; more are answered 503", count(func(c *Config) *int { return &c.MaxInFlight })},
	{"costly-at-once", strconv.Itoa(max(1, runtime.GOMAXPROCS(0)/2)), "new curves and the like computed at once; sixteen times as many wait, more are answered 503", count(func(c *Config) *int { return &c.CostlyAtOnce })},
	{"max-connections", "20000", "connections held at once; more wait to be accepted", count(func(c *Config) *int { return &c.MaxConnections })},
	{"cache-bytes", "33554432", "room in this process for answers that cost more than fetching them, in bytes", count(func(c *Config) *int { return &c.CacheBytes })},
	{"redis-url", "", "Redis to share curves, costly answers and rates through: redis://, rediss:// (TLS) or unix://, with ?cluster=true for a cluster, ?master_name=… for Sentinel, &addr=host:port for further addresses; none where empty", text(func(c *Config) *string { return &c.RedisURL })},
	{"redis-ca-file", "", "certificates in PEM that sign the Redis server's; the system's where empty", text(func(c *Config) *string { return &c.RedisCAFile })},
	{"redis-prefix", "knurl:", "what stands before every key in Redis", text(func(c *Config) *string { return &c.RedisPrefix })},
	{"redis-ttl", "24h", "how long values are kept in Redis", limited(func(c *Config) *time.Duration { return &c.RedisTTL })},
	{"redis-timeout", redis.WholeTimeout.String(), "how long a call of Redis may take, connecting included, before the answer is made without it", limited(func(c *Config) *time.Duration { return &c.RedisTimeout })},
	{"cache-secret", "", "shared by all instances, seals values in Redis (HMAC-SHA256); without it a plain SHA-256 guards against accidents, not against whoever can write there", text(func(c *Config) *string { return &c.CacheSecret })},
	{"traces-endpoint", "", "URL of an OpenTelemetry collector (OTLP over HTTP) that spans of requests are sent to, like http://127.0.0.1:4318/v1/traces; OTEL_EXPORTER_OTLP_HEADERS may hold what it asks for; no spans where empty", func(c *Config, v string) error {
		c.TracesEndpoint = v
		if v == "" {
			return nil
		}
		return tracing.CheckEndpoint(v)
	}},
	{"traces-share", "0.1", "share of the traces begun here that is sent, 0 to 1; one that a caller began is sent where the caller says so", func(c *Config, v string) (err error) {
		c.TracesShare, err = strconv.ParseFloat(v, 64)
		if err == nil && !(c.TracesShare >= 0 && c.TracesShare <= 1) {
			err = errors.New("must be from 0 to 1")
		}
		return err
	}},
	{"log-level", "info", "least level that is logged: debug, info, warn or error", func(c *Config, v string) error {
		return c.LogLevel.UnmarshalText([]byte(v))
	}},
	{"body-limit", "262144", "longest body that is read, in bytes", func(c *Config, v string) (err error) {
		c.BodyLimit, err = strconv.ParseInt(v, 10, 64)
		if err == nil && c.BodyLimit < 1 {
			err = errors.New("must be at least 1")
		}
		return err
	}},
	{"batch-lines", "1048576", "lines that a batch may have", count(func(c *Config) *int { return &c.BatchLines })},
	{"batch-line-limit", "65536", "longest line of a batch that is read, in bytes", count(func(c *Config) *int { return &c.BatchLineLimit })},
	{"batches-at-once", strconv.Itoa(4 * runtime.GOMAXPROCS(0)), "batches under way at once; more are answered 503", count(func(c *Config) *int { return &c.BatchesAtOnce })},
	{"batch-timeout", "30m", "time for a whole batch; read-timeout is that to receive one of its lines, write-timeout to send one, answer-timeout to compute one", limited(func(c *Config) *time.Duration { return &c.BatchTimeout })},
	{"warm", "R-410A,R-32,R-454B,R-22,R-407C,R-134a,R-404A", "refrigerants to prepare at the start, by commas; none for none", func(c *Config, v string) error {
		c.Warm = nil
		if v != "" && v != "none" {
			c.Warm = strings.Split(v, ",")
		}
		return nil
	}},
	{"max-age", "1h", "how long caches may keep answers to GET", duration(func(c *Config) *time.Duration { return &c.MaxAge })},
	{"header-timeout", "5s", "time to receive a request's header", limited(func(c *Config) *time.Duration { return &c.HeaderTimeout })},
	{"read-timeout", "15s", "time to receive a whole request", limited(func(c *Config) *time.Duration { return &c.ReadTimeout })},
	{"write-timeout", "30s", "time to answer a request", limited(func(c *Config) *time.Duration { return &c.WriteTimeout })},
	{"answer-timeout", "20s", "time to compute one answer", limited(func(c *Config) *time.Duration { return &c.AnswerTimeout })},
	{"idle-timeout", "2m", "time that a connection may rest between requests", limited(func(c *Config) *time.Duration { return &c.IdleTimeout })},
	{"drain-delay", "0s", "time to go on answering after readiness is off, before stopping", duration(func(c *Config) *time.Duration { return &c.DrainDelay })},
	{"stop-timeout", "10s", "time for requests under way to finish when stopping; batches end after half of it", duration(func(c *Config) *time.Duration { return &c.StopTimeout })},
}

// text sets one as it is.
func text(field func(*Config) *string) func(*Config, string) error {
	return func(c *Config, v string) error {
		*field(c) = v
		return nil
	}
}

// count sets one that is at least one.
func count(field func(*Config) *int) func(*Config, string) error {
	return func(c *Config, v string) error {
		n, err := strconv.Atoi(v)
		if err == nil && n < 1 {
			err = errors.New("must be at least 1")
		}
		*field(c) = n
		return err
	}
}

// quota sets a number in a time.
func quota(field func(*Config) *limit.Quota) func(*Config, string) error {
	return func(c *Config, v string) (err error) {
		*field(c), err = limit.ParseQuota(v)
		return err
	}
}

// duration sets one that may be zero.
func duration(field func(*Config) *time.Duration) func(*Config, string) error {
	return func(c *Config, v string) error {
		d, err := time.ParseDuration(v)
		if err == nil && d < 0 {
			err = errors.New("must not be negative")
		}
		*field(c) = d
		return err
	}
}

// limited sets one that must end some time.
func limited(field func(*Config) *time.Duration) func(*Config, string) error {
	return func(c *Config, v string) error {
		if err := duration(field)(c, v); err != nil {
			return err
		}
		if *field(c) == 0 {
			return errors.New("must be more than 0")
		}
		return nil
	}
}

// ConfigError lists every fault of a configuration.
type ConfigError struct{ Faults []string }

func (e *ConfigError) Error() string {
	return "the configuration is not usable:\n  " + strings.Join(e.Faults, "\n  ")
}

func (e *ConfigError) add(format string, args ...any) {
	e.Faults = append(e.Faults, fmt.Sprintf(format, args...))
}

func (e *ConfigError) orNil() error {
	if len(e.Faults) == 0 {
		return nil
	}
	return e
}

// Configure reads the flags in args and the environment. It returns
// flag.ErrHelp after printing every setting to help where that was asked for,
// and a *ConfigError with every fault at once.
func Configure(args []string, getenv func(string) string, help io.Writer) (Config, error) {
	var (
		c      Config
		faults ConfigError
	)
	given := map[string]string{}
	flags := flag.NewFlagSet("knurld", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	for _, s := range settings {
		flags.Func(s.name, s.usage, func(v string) error {
			given[s.name] = v
			return nil
		})
	}
	flags.BoolVar(&c.HealthCheck, "healthcheck", false, "")
	switch err := flags.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		printHelp(help)
		return c, err
	case err != nil:
		faults.add("%v", err)
	case flags.NArg() > 0:
		faults.add("unexpected argument %q", flags.Arg(0))
	}
	for _, s := range settings {
		value, from := s.standard, "default of -"+s.name
		if v := getenv(s.env()); v != "" {
			value, from = v, s.env()
		}
		if v, ok := given[s.name]; ok {
			value, from = v, "-"+s.name
		}
		if err := s.set(&c, value); err != nil {
			if s.secret() {
				value = "…"
			}
			faults.add("%s=%q: %v", from, value, err)
		}
	}
	for _, err := range append(c.reachable(), c.usable()...) {
		faults.add("%v", err)
	}
	return c, faults.orNil()
}

// reachable refuses to answer strangers by accident.
func (c Config) reachable() (faults []error) {
	for name, at := range map[string]string{"listen": c.Listen, "admin-listen": c.AdminListen} {
		if at == "" && name != "listen" {
			continue
		}
		local, err := loopback(at)
		switch {
		case err != nil:
			faults = append(faults, fmt.Errorf("%s=%q: %w", name, at, err))
		case !local && !c.AllowAnonymous && c.APIKeysFile == "":
			faults = append(faults, fmt.Errorf("%s=%q can be reached from other machines and nobody is asked for a key: set KNURL_API_KEYS_FILE, or listen on 127.0.0.1 behind a proxy that asks, or set KNURL_ALLOW_ANONYMOUS=true", name, at))
		}
	}
	return faults
}

// usable tries what the configuration points to, as far as that needs no
// network.
func (c Config) usable() (faults []error) {
	if c.APIKeysFile != "" {
		if _, err := auth.Open(c.APIKeysFile, slog.New(slog.DiscardHandler)); err != nil {
			faults = append(faults, err)
		}
	}
	if c.RedisURL == "" {
		return faults
	}
	client, err := redis.New(c.shared(slog.New(slog.DiscardHandler)))
	if err != nil {
		return append(faults, err)
	}
	_ = client.Close() // never connected
	return faults
}

// shared are the options of the Redis client.
func (c Config) shared(log *slog.Logger) redis.Options {
	return redis.Options{URL: c.RedisURL, CAFile: c.RedisCAFile, Prefix: c.RedisPrefix, Secret: c.CacheSecret, TTL: c.RedisTTL, Timeout: c.RedisTimeout, Log: log}
}

// loopback reports whether only this machine reaches an address.
func loopback(at string) (bool, error) {
	address, err := net.ResolveTCPAddr("tcp", at)
	if err != nil {
		return false, err
	}
	return address.IP.IsLoopback(), nil
}

func printHelp(w io.Writer) {
	fmt.Fprint(w, "knurld answers refrigeration questions over HTTP. With -healthcheck it asks a running one that has\nthe same settings whether it is ready, and exits 0 if so.\n\nEach setting is a variable of the environment or a flag; the flag wins.\n\n")
	for _, s := range settings {
		standard := ""
		if s.standard != "" {
			standard = " (default " + s.standard + ")"
		}
		fmt.Fprintf(w, "  %-24s -%-16s %s%s\n", s.env(), s.name, s.usage, standard)
	}
}
