package app

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strconv"
	"strings"
	"time"
)

// Config is everything that can be set from outside.
type Config struct {
	// Listen is the address of the listener, host:port.
	Listen string
	// AllowAnonymous lets a listener that others can reach answer everybody.
	AllowAnonymous bool
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
	{"warm", "R-410A,R-32,R-454B,R-22,R-407C,R-134a,R-404A", "refrigerants to prepare at the start, by commas; none for none", func(c *Config, v string) error {
		c.Warm = nil
		if v != "" && v != "none" {
			c.Warm = strings.Split(v, ",")
		}
		return nil
	}},
	{"max-age", "1h", "how long caches may keep answers to GET", duration(func(c *Config) *time.Duration { return &c.MaxAge })},
	{"header-timeout", "5s", "time to receive a request's header", limit(func(c *Config) *time.Duration { return &c.HeaderTimeout })},
	{"read-timeout", "15s", "time to receive a whole request", limit(func(c *Config) *time.Duration { return &c.ReadTimeout })},
	{"write-timeout", "30s", "time to answer a request", limit(func(c *Config) *time.Duration { return &c.WriteTimeout })},
	{"answer-timeout", "20s", "time to compute one answer", limit(func(c *Config) *time.Duration { return &c.AnswerTimeout })},
	{"idle-timeout", "2m", "time that a connection may rest between requests", limit(func(c *Config) *time.Duration { return &c.IdleTimeout })},
	{"drain-delay", "0s", "time to go on answering after readiness is off, before stopping", duration(func(c *Config) *time.Duration { return &c.DrainDelay })},
	{"stop-timeout", "10s", "time for requests under way to finish when stopping", duration(func(c *Config) *time.Duration { return &c.StopTimeout })},
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

// limit sets one that must end some time.
func limit(field func(*Config) *time.Duration) func(*Config, string) error {
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
			faults.add("%s=%q: %v", from, value, err)
		}
	}
	if err := c.reachable(); err != nil {
		faults.add("%v", err)
	}
	return c, faults.orNil()
}

// reachable refuses to answer strangers by accident.
func (c Config) reachable() error {
	address, err := net.ResolveTCPAddr("tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("listen=%q: %w", c.Listen, err)
	}
	if !c.AllowAnonymous && !address.IP.IsLoopback() {
		return fmt.Errorf("listen=%q can be reached from other machines and this service asks nobody for a key: listen on 127.0.0.1 behind a proxy that does, or set KNURL_ALLOW_ANONYMOUS=true", c.Listen)
	}
	return nil
}

func printHelp(w io.Writer) {
	fmt.Fprint(w, "knurld answers refrigeration questions over HTTP.\n\nEach setting is a variable of the environment or a flag; the flag wins.\n\n")
	for _, s := range settings {
		fmt.Fprintf(w, "  %-24s -%-16s %s (default %s)\n", s.env(), s.name, s.usage, s.standard)
	}
}
