package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"
)

// healthTimeout bounds how long a service may take to say how it is.
const healthTimeout = 3 * time.Second

// CheckHealth asks the service that c describes, running on this machine,
// whether it is ready, and writes its answer to out. It returns an error where
// there is no answer in time or another than yes.
func CheckHealth(ctx context.Context, c Config, out io.Writer) error {
	at, err := net.ResolveTCPAddr("tcp", c.Listen)
	switch {
	case err != nil:
		return err
	case at.Port == 0:
		return errors.New("a service on a port of its own choice cannot be found")
	case at.IP == nil || at.IP.IsUnspecified():
		at.IP = net.IPv4(127, 0, 0, 1)
	}
	ctx, cancel := context.WithTimeout(ctx, healthTimeout)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+at.String()+"/readyz", nil)
	if err != nil {
		return err
	}
	answer, err := new(http.Transport).RoundTrip(request) // no proxy, no redirection
	if err != nil {
		return err
	}
	defer func() { _ = answer.Body.Close() }()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("not ready: %s", answer.Status)
	}
	_, err = io.Copy(out, io.LimitReader(answer.Body, 4<<10))
	return err
}
