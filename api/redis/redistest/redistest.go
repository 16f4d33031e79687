//go:build !js

// Package redistest runs real Redis servers for tests. It must not know what
// is tested with them.
package redistest

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"
)

// Server is a process of its own, on a free port of the loopback, which ends
// with the test.
type Server struct {
	// Addr is host:port.
	Addr string

	t    testing.TB
	args []string
	// config is a file to start from, which only a Sentinel needs.
	config  []string
	process *exec.Cmd
	// Login, where the server asks for one, is sent by Do: user and password.
	Login []string
}

// Start starts a server with further arguments of redis-server. Where there is
// none on this machine the test is skipped, or fails where
// KNURL_REQUIRE_REDIS or CI is set.
func Start(t testing.TB, args ...string) *Server {
	t.Helper()
	return start(t, &Server{args: args})
}

// StartSentinel starts a Sentinel with a configuration that it may write to.
func StartSentinel(t testing.TB, config string) *Server {
	t.Helper()
	return start(t, &Server{config: []string{config, "--sentinel"}})
}

func start(t testing.TB, s *Server) *Server {
	t.Helper()
	if _, err := exec.LookPath("redis-server"); err != nil {
		if os.Getenv("KNURL_REQUIRE_REDIS") != "" || os.Getenv("CI") == "true" {
			t.Fatal("redis-server is missing and required")
		}
		t.Skip("redis-server is not installed")
	}
	s.t, s.Addr = t, freeAddress(t)
	t.Cleanup(s.Kill)
	s.Run()
	return s
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

// Run starts the process, again after Kill; its data are gone then.
func (s *Server) Run() {
	s.t.Helper()
	_, port, _ := net.SplitHostPort(s.Addr)
	args := slices.Concat(s.config, []string{"--bind", "127.0.0.1", "--port", port, "--dir", s.t.TempDir()})
	if s.config == nil {
		args = slices.Concat(args, []string{"--save", "", "--appendonly", "no"}, s.args)
	}
	s.process = exec.Command("redis-server", args...)
	if err := s.process.Start(); err != nil {
		s.t.Fatal(err)
	}
	patience.For(s.t, "redis-server", func() bool {
		c, err := net.Dial("tcp", s.Addr)
		if err == nil {
			_ = c.Close()
		}
		return err == nil
	})
}

// Kill ends the process at once.
func (s *Server) Kill() {
	if s.process != nil {
		_ = s.process.Process.Kill()
		_ = s.process.Wait()
		s.process = nil
	}
}

// Stop halts the process: it keeps its connections and answers nothing.
func (s *Server) Stop() { s.signal(syscall.SIGSTOP) }

// Continue lets a stopped process go on.
func (s *Server) Continue() { s.signal(syscall.SIGCONT) }

func (s *Server) signal(sig os.Signal) {
	if err := s.process.Process.Signal(sig); err != nil {
		s.t.Fatal(err)
	}
}

// Do sends one command and gives the reply: nil, a string, an int64, or a
// list; an error reply fails the test.
func (s *Server) Do(args ...string) any {
	s.t.Helper()
	c, err := net.Dial("tcp", s.Addr)
	if err != nil {
		s.t.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	_ = c.SetDeadline(time.Now().Add(patience.Long))
	in := bufio.NewReader(c)
	if len(s.Login) > 0 {
		if _, err := exchange(c, in, append([]string{"AUTH"}, s.Login...)); err != nil {
			s.t.Fatal(err)
		}
	}
	reply, err := exchange(c, in, args)
	if err != nil {
		s.t.Fatalf("%q: %v", args, err)
	}
	return reply
}

// Keys are all keys there.
func (s *Server) Keys() []string {
	s.t.Helper()
	var keys []string
	for _, k := range s.Do("KEYS", "*").([]any) {
		keys = append(keys, k.(string))
	}
	return keys
}

func exchange(w io.Writer, in *bufio.Reader, args []string) (any, error) {
	var b strings.Builder
	fmt.Fprintf(&b, "*%d\r\n", len(args))
	for _, a := range args {
		fmt.Fprintf(&b, "$%d\r\n%s\r\n", len(a), a)
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return nil, err
	}
	return read(in)
}

// read reads a reply of RESP, version 2.
func read(in *bufio.Reader) (any, error) {
	line, err := in.ReadString('\n')
	if err != nil {
		return nil, err
	}
	kind, rest := line[0], strings.TrimRight(line[1:], "\r\n")
	switch kind {
	case '+':
		return rest, nil
	case '-':
		return nil, fmt.Errorf("redistest: %s", rest)
	}
	n, err := strconv.ParseInt(rest, 10, 64)
	switch {
	case err != nil || kind == ':':
		return n, err
	case n < 0:
		return nil, nil
	case kind == '$':
		data := make([]byte, n+2)
		_, err := io.ReadFull(in, data)
		return string(data[:n]), err
	}
	list := make([]any, n)
	for i := range list {
		if list[i], err = read(in); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// File writes a file for the server to read and gives its path.
func File(t testing.TB, name, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
