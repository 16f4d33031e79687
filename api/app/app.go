// Package app wires the service and runs it from start to stop. It must not
// know what any operation answers.
package app

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"sync/atomic"
	"time"

	"github.com/knurl-hvacr/knurl/api/httpapi"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/refdata"
)

// maxHeaderBytes bounds a request's header; the longest question in a query
// string takes a few hundred.
const maxHeaderBytes = 16 << 10

// Run serves until ctx is done, then lets requests under way finish. It writes
// one line to out when it is ready, with the address, and logs as JSON to log.
func Run(ctx context.Context, c Config, out, log io.Writer) error {
	logger := slog.New(slog.NewJSONHandler(log, &slog.HandlerOptions{Level: c.LogLevel}))
	b, revision := build()
	engine := query.New()
	var ready atomic.Bool
	server := &http.Server{
		Handler: httpapi.New(httpapi.Options{
			Engine:        engine,
			Log:           logger,
			Build:         b,
			Revision:      revision,
			BodyLimit:     c.BodyLimit,
			MaxAge:        c.MaxAge,
			AnswerTimeout: c.AnswerTimeout,
			Ready:         ready.Load,
		}),
		ReadHeaderTimeout: c.HeaderTimeout,
		ReadTimeout:       c.ReadTimeout,
		WriteTimeout:      c.WriteTimeout,
		IdleTimeout:       c.IdleTimeout,
		MaxHeaderBytes:    maxHeaderBytes,
		ErrorLog:          slog.NewLogLogger(logger.Handler(), slog.LevelWarn),
	}
	listener, err := new(net.ListenConfig).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return err
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	ready.Store(true)
	warming, cancel := context.WithCancel(ctx)
	warmed := make(chan struct{})
	go func() {
		defer close(warmed)
		warm(warming, engine, c.Warm, logger)
	}()
	defer func() {
		cancel()
		<-warmed
	}()
	fmt.Fprintf(out, "knurld is ready on http://%s\n", listener.Addr())

	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	ready.Store(false)
	logger.Info("stopping", slog.Duration("drain_delay", c.DrainDelay), slog.Duration("stop_timeout", c.StopTimeout))
	time.Sleep(c.DrainDelay)
	return stop(server, c.StopTimeout)
}

// warm builds curves before they are asked for, until ctx is done.
func warm(ctx context.Context, engine *query.Engine, designations []string, log *slog.Logger) {
	engine = engine.Until(func() bool { return ctx.Err() != nil })
	for _, d := range designations {
		if err := engine.Warm(d); err != nil && !errors.Is(err, query.ErrStopped) {
			log.Error("cannot warm", slog.String("refrigerant", d), slog.String("error", err.Error()))
		}
	}
}

// stop waits for requests under way, but not for ever.
func stop(server *http.Server, patience time.Duration) error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := server.Shutdown(ctx); err != nil {
		return errors.Join(fmt.Errorf("requests were still under way after %v", patience), server.Close())
	}
	return nil
}

// build is what the linker knows of this program, and a revision that no
// other program has: the commit, or a word of this process's own where the
// source was not a clean checkout.
func build() (b httpapi.Build, revision string) {
	b = httpapi.Build{Version: "unknown", EngineRevision: query.EngineRevision, DataRevision: refdata.Revision()}
	revision = rand.Text()
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b, revision
	}
	b.Version, b.Go = info.Main.Version, info.GoVersion
	clean := false
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Commit = s.Value
		case "vcs.modified":
			clean = s.Value == "false"
		}
	}
	if b.Commit != "" && clean {
		revision = b.Commit
	}
	return b, revision
}
