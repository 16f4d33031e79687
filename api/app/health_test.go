package app_test

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/app"
)

// healthOf asks the service at an address as the program does by itself.
func healthOf(t *testing.T, address string) (string, error) {
	t.Helper()
	c, err := app.Configure([]string{"-healthcheck"}, environment("KNURL_LISTEN", address, "KNURL_ALLOW_ANONYMOUS", "true"), io.Discard)
	require.NoError(t, err)
	if !c.HealthCheck {
		t.Fatalf("%v", c.HealthCheck)
	}
	var answer strings.Builder
	err = app.CheckHealth(t.Context(), c, &answer)
	return answer.String(), err
}

func TestHealthCheck(t *testing.T) {
	t.Parallel()
	r := start(t, "-drain-delay=3s", "-warm=none")
	_, port, _ := net.SplitHostPort(r.address)
	for _, address := range []string{r.address, "0.0.0.0:" + port, ":" + port} {
		answer, err := healthOf(t, address)
		require.NoError(t, err, "%s", address)
		if !strings.Contains(answer, `"status":"ok"`) {
			t.Errorf("%s: %q", address, answer)
		}
	}
	r.stop()
	var err error
	patience.For(t, "a service that stops not to be well", func() bool {
		_, err = healthOf(t, r.address)
		return err != nil
	})
	require.ErrorContains(t, err, "503")
	require.NoError(t, r.end(t))
	for _, address := range []string{r.address, "127.0.0.1:0"} {
		if answer, err := healthOf(t, address); err == nil {
			t.Errorf("nobody at %s is well: %q", address, answer)
		}
	}
}

// A service that hangs, sends on or answers without end is not waited for.
func TestHealthCheckIsBounded(t *testing.T) {
	for name, h := range map[string]http.HandlerFunc{
		"hangs":      func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() },
		"redirects":  func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/", http.StatusFound) },
		"is refused": func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusForbidden) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := httptest.NewServer(h)
			defer s.Close()
			began := time.Now()
			_, err := healthOf(t, s.Listener.Addr().String())
			require.Error(t, err)
			patience.Within(t, time.Since(began), 5*time.Second, name)
		})
	}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, strings.Repeat("x", 1<<20)) }))
	defer s.Close()
	answer, err := healthOf(t, s.Listener.Addr().String())
	require.NoError(t, err)
	if len(answer) > 4<<10 {
		t.Errorf("%d bytes", len(answer))
	}
}
