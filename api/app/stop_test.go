package app_test

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/knurl-hvacr/knurl/api/patience"

	"github.com/stretchr/testify/require"
)

const diagnosis = `{"system":{"refrigerant":"R-410A","metering_device":"thermostatic_valve","mode":"cooling","target_subcooling":{"value":10,"unit":"delta_degF"}},
	"running_time":{"value":20,"unit":"min"},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"liquid_pressure":{"value":340,"unit":"psig"},
	"suction_line_temperature":{"value":52,"unit":"degF"},"liquid_line_temperature":{"value":95,"unit":"degF"},"outdoor_dry_bulb":{"value":85,"unit":"degF"},
	"return_dry_bulb":{"value":76,"unit":"degF"},"return_wet_bulb":{"value":63,"unit":"degF"},"supply_dry_bulb":{"value":57,"unit":"degF"}}}`

// Stopped in the middle of load: behind a balancer that watches readiness no
// request is lost and no answer is half written.
func TestNothingIsLostBehindABalancer(t *testing.T) {
	t.Parallel()
	r := start(t, "-drain-delay=3s")
	var off atomic.Bool
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		for !off.Load() {
			res, err := http.Get(r.url + "/readyz")
			if err != nil {
				t.Errorf("the balancer lost the server before it was told: %v", err)
				return
			}
			off.Store(res.StatusCode != 200)
			_ = res.Body.Close()
			time.Sleep(10 * time.Millisecond)
		}
	}()
	clients, answered := askUntil(t, &off, r.url)
	patience.For(t, "load", func() bool { return answered.Load() >= 16 })
	r.stop()
	clients.Wait()
	<-watched
	require.NoError(t, r.end(t))
}

// askUntil lets sixteen clients ask until off is set, and counts what is
// answered.
func askUntil(t *testing.T, off *atomic.Bool, url string) (clients *sync.WaitGroup, answered *atomic.Int64) {
	clients, answered = new(sync.WaitGroup), new(atomic.Int64)
	for range 16 {
		clients.Go(func() {
			client := &http.Client{Transport: &http.Transport{}}
			defer client.CloseIdleConnections()
			for !off.Load() {
				answered.Add(one(t, client, url))
			}
		})
	}
	return clients, answered
}

// one sends a diagnosis and reads the whole answer.
func one(t *testing.T, client *http.Client, url string) int64 {
	res, err := client.Post(url+"/v1/diagnosis", "application/json", strings.NewReader(diagnosis))
	if err != nil {
		t.Errorf("lost: %v", err)
		return 0
	}
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 || !json.Valid(body) {
		t.Errorf("half an answer: %d, %v", res.StatusCode, err)
		return 0
	}
	return 1
}

// Stopped at once under load: what has begun to be answered is answered whole,
// and what is not taken fails before a byte of an answer.
func TestNothingIsHalfWritten(t *testing.T) {
	r := start(t)
	var whole, refused atomic.Int64
	var clients sync.WaitGroup
	for range 16 {
		clients.Go(func() {
			client := &http.Client{Transport: &http.Transport{}}
			defer client.CloseIdleConnections()
			for {
				res, err := client.Post(r.url+"/v1/diagnosis", "application/json", strings.NewReader(diagnosis))
				if err != nil {
					if !errors.Is(err, syscall.ECONNREFUSED) {
						refused.Add(1)
					}
					return
				}
				body, err := io.ReadAll(res.Body)
				_ = res.Body.Close()
				if err != nil || res.StatusCode != 200 || !json.Valid(body) {
					t.Errorf("half an answer: %d, %v, %d bytes", res.StatusCode, err, len(body))
					return
				}
				whole.Add(1)
			}
		})
	}
	patience.For(t, "load", func() bool { return whole.Load() >= 16 })
	r.stop()
	ended := r.end(t)
	clients.Wait()
	require.NoError(t, ended)
	t.Logf("%d whole answers, %d connections closed between requests", whole.Load(), refused.Load())
}
