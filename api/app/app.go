// Package app wires the service and runs it from start to stop. It must not
// know what any operation answers.
package app

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/net/netutil"

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
	var ready atomic.Bool
	// What ends when the service has no more time for it, not when it is told to stop.
	ending, end := context.WithCancel(context.WithoutCancel(ctx))
	defer end()
	s, err := assemble(ending, c, logger, ready.Load)
	if err != nil {
		return err
	}
	defer s.close()
	server := &http.Server{
		Handler:           parting(s.handler, ready.Load),
		ReadHeaderTimeout: c.HeaderTimeout,
		ReadTimeout:       c.ReadTimeout,
		WriteTimeout:      c.WriteTimeout,
		IdleTimeout:       c.IdleTimeout,
		MaxHeaderBytes:    maxHeaderBytes,
		ErrorLog:          slog.NewLogLogger(logger.Handler(), slog.LevelWarn),
	}
	listener, err := listen(ctx, c.Listen)
	if err != nil {
		return err
	}
	admin, alsoOn, err := s.adminServer(ctx, c)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	if admin != nil {
		defer func() { _ = admin.Close() }()
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(netutil.LimitListener(listener, c.MaxConnections)) }()
	ready.Store(true)
	background, cancel := context.WithCancel(ctx)
	var tasks sync.WaitGroup
	defer tasks.Wait()
	defer cancel()
	tasks.Go(func() { s.warm(background, c.Warm, logger) })
	tasks.Go(s.watchKeys(background))
	fmt.Fprintf(out, "knurld is ready on http://%s\n%s", listener.Addr(), alsoOn)

	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	ready.Store(false)
	logger.Info("stopping", slog.Duration("drain_delay", c.DrainDelay), slog.Duration("stop_timeout", c.StopTimeout))
	time.Sleep(c.DrainDelay)
	defer time.AfterFunc(c.StopTimeout/2, end).Stop()
	return stop(server, c.StopTimeout)
}

// parting asks clients to leave their connections once the service is about to
// stop: a request that meets a closing connection would be lost.
func parting(next http.Handler, ready func() bool) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !ready() {
			w.Header().Set("Connection", "close")
		}
		next.ServeHTTP(w, r)
	})
}

func listen(ctx context.Context, at string) (net.Listener, error) {
	return new(net.ListenConfig).Listen(ctx, "tcp", at)
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
// other program has: the commit, or the hash of the program itself where the
// source was not a clean checkout.
func build() (b httpapi.Build, revision string) {
	b = httpapi.Build{Version: "unknown", EngineRevision: query.EngineRevision, DataRevision: refdata.Revision()}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b, fingerprint()
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
		return b, b.Commit
	}
	return b, fingerprint()
}

// fingerprint is the hash of the running program, or a word of this process's
// own where it cannot be read.
func fingerprint() string {
	path, err := os.Executable()
	if err != nil {
		return rand.Text()
	}
	program, err := os.Open(path)
	if err != nil {
		return rand.Text()
	}
	defer func() { _ = program.Close() }()
	sum := sha256.New()
	if _, err := io.Copy(sum, program); err != nil {
		return rand.Text()
	}
	return fmt.Sprintf("%x", sum.Sum(nil))
}
