package auth_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/auth"
)

func line(name, key string) string { return fmt.Sprintf("%s %x\n", name, sha256.Sum256([]byte(key))) }

func write(t *testing.T, path, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(path+".new", []byte(text), 0o600))
	require.NoError(t, os.Rename(path+".new", path))
}

func TestNames(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys")
	write(t, path, "# shops\n\n"+line("museum", "k1")+strings.ToUpper(line("FERRY", "k2")))
	k, err := auth.Open(path, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	for presented, want := range map[string]string{"k1": "museum", "k2": "FERRY", "": "", "k3": "", "K1": "", "k1 ": ""} {
		t.Run(presented, func(t *testing.T) {
			name, ok := k.Name(presented)
			require.Equal(t, want, name, "%q", presented)
			require.Equal(t, want != "", ok, "%q", presented)
		})
	}
}

func TestFaultyFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys")
	for text, faults := range map[string][]string{
		"":                              {"no key"},
		"# none\n":                      {"no key"},
		"museum the-key-itself\n":       {"line 1"},
		"the-key-itself\n":              {"line 1"},
		"a b the-key-itself\n":          {"line 1"},
		line("a", "x") + line("a", "y"): {"line 2"},
		"the-key-itself\n" + line(strings.Repeat("n", 65), "x"): {"line 1", "line 2"},
	} {
		write(t, path, text)
		_, err := auth.Open(path, slog.New(slog.DiscardHandler))
		if err == nil || strings.Contains(err.Error(), "the-key-itself") {
			t.Errorf("%q: %v", text, err)
			continue
		}
		for _, f := range faults {
			if !strings.Contains(err.Error(), f) {
				t.Errorf("%q: %v lacks %q", text, err, f)
			}
		}
	}
	if _, err := auth.Open(path+".none", slog.New(slog.DiscardHandler)); err == nil {
		t.Error("a missing file was read")
	}
}

func TestReloads(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys")
	write(t, path, line("museum", "k1"))
	var log bytes.Buffer
	k, err := auth.Open(path, slog.New(slog.NewTextHandler(&log, nil)))
	require.NoError(t, err)
	hup := make(chan os.Signal, 1)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		k.Watch(t.Context(), 5*time.Millisecond, hup)
	}()
	t.Cleanup(func() {
		<-ended
		if strings.Contains(log.String(), "k1") || !strings.Contains(log.String(), "stay as they were") {
			t.Errorf("logged %s", &log)
		}
	})
	known := func(key string, want bool) {
		t.Helper()
		for deadline := time.Now().Add(patience.Long); ; time.Sleep(time.Millisecond) {
			if _, ok := k.Name(key); ok == want {
				return
			}
			if time.Now().After(deadline) {
				t.Fatalf("%q known: %v", key, !want)
			}
		}
	}
	write(t, path, line("museum", "k1")+line("ferry", "k2"))
	known("k2", true)
	known("k1", true)
	write(t, path, "broken\n")
	hup <- syscall.SIGHUP
	time.Sleep(20 * time.Millisecond)
	known("k2", true)
	write(t, path, line("ferry", "k2"))
	known("k1", false)
}

func TestBearer(t *testing.T) {
	for header, want := range map[string]string{
		"Bearer abc": "abc", "bearer  abc": "abc", "BEARER a b": "a b",
		"": "", "Bearer": "", "Bearer ": "", "Basic abc": "", "abc": "",
	} {
		t.Run(header, func(t *testing.T) {
			got, ok := auth.Bearer(header)
			require.Equal(t, want != "", ok, "%q", header)
			if ok {
				require.Equal(t, want, got, "%q", header)
			}
		})
	}
}
