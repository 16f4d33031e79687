//go:build !js

package redis

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"log/slog"
	"math/big"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/Shopify/toxiproxy/v2"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/api/patience"
	"github.com/knurl-hvacr/knurl/api/redis/redistest"
)

func client(t testing.TB, o Options) *Client {
	t.Helper()
	if o.Prefix == "" {
		o.Prefix = "knurl:"
	}
	o.TTL = time.Hour
	o.Log = slog.New(slog.DiscardHandler)
	c, err := New(o)
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close() })
	return c
}

// patient is a client that waits for its server however busy the machine is.
func patient(t testing.TB, o Options) *Client {
	t.Helper()
	o.Timeout = patience.Long
	return client(t, o)
}

// get asks again where the server did not answer in time, as it may on a busy
// machine.
func get(t *testing.T, c *Client, key string) ([]byte, bool) {
	t.Helper()
	for {
		before := c.Stats()
		value, ok := c.Get(t.Context(), key)
		if after := c.Stats(); after.Failed == before.Failed && after.Skipped == before.Skipped {
			return value, ok
		}
		back(t, c)
	}
}

// keeps fails unless the client stores and fetches. It asks again where the
// server did not answer in time.
func keeps(t *testing.T, c *Client) {
	t.Helper()
	for {
		before := c.Stats()
		c.Set(t.Context(), "k", []byte("value"))
		got, ok := c.Get(t.Context(), "k")
		after := c.Stats()
		if after.Failed > before.Failed || after.Skipped > before.Skipped {
			back(t, c)
			continue
		}
		require.True(t, ok, "%+v", after)
		require.Equal(t, "value", string(got))
		require.Equal(t, before.Hits+1, after.Hits)
		require.Equal(t, before.Stored+1, after.Stored)
		return
	}
}

func TestKeeps(t *testing.T) {
	s := redistest.Start(t)
	c := patient(t, Options{URL: "redis://" + s.Addr + "/3"})
	if _, ok := c.Get(t.Context(), "k"); ok || c.Stats().Misses != 1 {
		t.Errorf("%+v", c.Stats())
	}
	keeps(t, c)
	curves := Curves{c}
	if _, ok := curves.Load("k"); ok {
		t.Error("a curve shares a key with something else")
	}
	curves.Store("k", []byte("curve"))
	if got, ok := curves.Load("k"); !ok || string(got) != "curve" {
		t.Errorf("%q, %v", got, ok)
	}
}

// Whatever stands under a key that we did not put there is refused, and the
// server is not thought dead for it.
func TestRefuses(t *testing.T) {
	for _, secret := range []string{"", "between us"} {
		s := redistest.Start(t)
		c := patient(t, Options{URL: "redis://" + s.Addr, Secret: secret})
		value := []byte("the answer")
		c.Set(t.Context(), "k", value)
		c.Set(t.Context(), "other", []byte("another"))
		genuine := s.Do("GET", c.at("k")).(string)
		swapped := s.Do("GET", c.at("other")).(string)
		stranger := sealer{[]byte("of a stranger")}
		for name, foreign := range map[string]string{
			"swapped":        swapped,
			"truncated":      genuine[:len(genuine)-1],
			"seal alone":     genuine[:sealSize],
			"cut in seal":    genuine[:5],
			"extended":       genuine + "x",
			"a bit flipped":  genuine[:sealSize] + string(genuine[sealSize]^1) + genuine[sealSize+1:],
			"foreign":        "hello",
			"other secret":   string(stranger.seal("k", value)),
			"older revision": string(sealer{[]byte(secret)}.seal("k of an older revision", value)),
			"huge":           strings.Repeat("x", maxValue+sealSize+10),
		} {
			s.Do("SET", c.at("k"), foreign)
			before := c.Stats().Refused
			if got, ok := get(t, c, "k"); ok || c.Stats().Refused != before+1 {
				t.Errorf("secret %q, %s: taken as %.40q; %+v", secret, name, got, c.Stats())
			}
		}
		forged := sealer{}.seal("k", []byte("forged"))
		s.Do("SET", c.at("k"), string(forged))
		if _, ok := get(t, c, "k"); ok != (secret == "") { // the seal alone keeps no attacker out
			t.Errorf("secret %q: a plain sum is taken: %v", secret, ok)
		}
		s.Do("DEL", c.at("k"))
		s.Do("LPUSH", c.at("k"), "of another type")
		before := c.Stats().Refused
		if _, ok := get(t, c, "k"); ok || c.Stats().Refused != before+1 {
			t.Errorf("another type: %+v", c.Stats())
		}
		s.Do("FLUSHALL")
		back(t, c)
		keeps(t, c)
	}
}

func TestTooLargeIsNotStored(t *testing.T) {
	s := redistest.Start(t)
	c := patient(t, Options{URL: "redis://" + s.Addr})
	c.Set(t.Context(), "k", make([]byte, maxValue+1))
	if n := s.Do("DBSIZE"); n != int64(0) {
		t.Errorf("%v keys", n)
	}
}

// most is how long a call may take, whatever the server does; what the machine
// adds is a part of it.
const most = WholeTimeout + 150*time.Millisecond

// took runs calls and gives the longest.
func took(calls int, f func()) (longest time.Duration) {
	for range calls {
		start := time.Now()
		f()
		longest = max(longest, time.Since(start))
	}
	return longest
}

func TestFaultsCostBoundedTime(t *testing.T) {
	t.Parallel()
	s := redistest.Start(t)
	c := client(t, Options{URL: "redis://" + s.Addr})
	keeps(t, c)
	get := func() { c.Get(t.Context(), "k") }
	for _, fault := range []struct {
		name        string
		begin, end  func()
		stillThere  bool
		wantRefused bool
	}{
		{"stopped", s.Stop, s.Continue, true, false},
		{"killed", s.Kill, s.Run, false, false},
	} {
		t.Run(fault.name, func(t *testing.T) {
			fault.begin()
			first := took(1, get)
			then := took(200, get)
			t.Logf("%s: first call %v, slowest of 200 more %v, %+v", fault.name, first, then, c.Stats())
			patience.Within(t, max(first, then), most, fault.name)
			st := c.Stats()
			require.NotZero(t, st.Skipped)
			require.NotZero(t, st.Failed)
			require.True(t, st.Open)
			fault.end()
			back(t, c)
			if _, ok := c.Get(t.Context(), "k"); ok != fault.stillThere {
				t.Errorf("%s, then back: value there %v", fault.name, ok)
			}
			keeps(t, c)
		})
	}
}

// back waits until the client asks the server again.
func back(t *testing.T, c *Client) {
	t.Helper()
	patience.For(t, "the server to be asked again", func() bool { return c.Ping(t.Context()) })
}

func TestFullMemory(t *testing.T) {
	s := redistest.Start(t, "--maxmemory", "3mb", "--maxmemory-policy", "noeviction")
	c := patient(t, Options{URL: "redis://" + s.Addr})
	c.Set(t.Context(), "first", []byte("kept"))
	for i := range 40 {
		c.Set(t.Context(), strings.Repeat("k", i+1), make([]byte, 200<<10))
	}
	st := c.Stats()
	got, ok := c.Get(t.Context(), "first")
	require.True(t, ok, "%q %v %+v", got, ok, st)
	require.Equal(t, "kept", string(got))
	require.NotEqual(t, uint64(41), st.Stored)
	require.False(t, st.Open, "%q %v %+v", got, ok, st)
	require.Zero(t, st.Failed)
}

func TestCallerWhoLeavesIsNotTheServersFault(t *testing.T) {
	s := redistest.Start(t)
	c := patient(t, Options{URL: "redis://" + s.Addr})
	keeps(t, c)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, ok := c.Get(ctx, "k"); !ok || c.Stats().Open {
		t.Errorf("%+v", c.Stats())
	}
}

func TestThroughABadNetwork(t *testing.T) {
	t.Parallel()
	zerolog.SetGlobalLevel(zerolog.Disabled) // the proxy's own talk
	s := redistest.Start(t)
	server := toxiproxy.NewServer(toxiproxy.NewMetricsContainer(nil), zerolog.Nop())
	proxy := toxiproxy.NewProxy(server, "redis", "127.0.0.1:0", s.Addr)
	require.NoError(t, proxy.Start())
	defer proxy.Stop()
	c := client(t, Options{URL: "redis://" + proxy.Listen})
	value := bytes.Repeat([]byte("v"), 8<<10)
	for name, toxic := range map[string]string{
		"delay":   `{"name":"x","type":"latency","attributes":{"latency":200}}`,
		"cut":     `{"name":"x","type":"limit_data","attributes":{"bytes":100}}`,
		"trickle": `{"name":"x","type":"slicer","attributes":{"average_size":50,"size_variation":10,"delay":20000}}`,
		"narrow":  `{"name":"x","type":"bandwidth","attributes":{"rate":1}}`,
		"hang":    `{"name":"x","type":"timeout","attributes":{"timeout":0}}`,
		"reset":   `{"name":"x","type":"reset_peer","attributes":{"timeout":0}}`,
	} {
		t.Run(name, func(t *testing.T) {
			back(t, c)
			patience.For(t, "a value that is kept", func() bool {
				c.Set(t.Context(), "k", value)
				got, ok := c.Get(t.Context(), "k")
				return ok && bytes.Equal(got, value)
			})
			_, err := proxy.Toxics.AddToxicJson(strings.NewReader(toxic))
			require.NoError(t, err)
			failed := c.Stats().Failed
			longest := took(50, func() {
				if got, ok := c.Get(t.Context(), "k"); ok && !bytes.Equal(got, value) {
					t.Errorf("%s: a wrong value", name)
				}
			})
			t.Logf("%s: slowest of 50 calls %v, %+v", name, longest, c.Stats())
			patience.Within(t, longest, most, name)
			require.Greater(t, c.Stats().Failed, failed)
			require.NoError(t, proxy.Toxics.RemoveToxic(t.Context(), "x"))
		})
	}
}

func TestUserWithFewRights(t *testing.T) {
	acl := redistest.File(t, "users.acl", "user default off\nuser knurl on >se%cret ~knurl:* resetchannels -@all +getrange +set +ping +hello\nuser root on >root ~* &* +@all\n")
	s := redistest.Start(t, "--aclfile", acl)
	keeps(t, patient(t, Options{URL: "redis://knurl:se%25cret@" + s.Addr}))
	for name, o := range map[string]Options{
		"wrong password": {URL: "redis://knurl:wrong@" + s.Addr},
		"no user":        {URL: "redis://" + s.Addr},
		"other keys":     {URL: "redis://knurl:se%25cret@" + s.Addr, Prefix: "else:"},
	} {
		t.Run(name, func(t *testing.T) {
			c := client(t, o)
			first := took(1, func() { c.Set(t.Context(), "k", []byte("v")) })
			st := c.Stats()
			require.Zero(t, st.Stored)
			require.Equal(t, uint64(1), st.Failed)
			require.True(t, st.Open)
			patience.Within(t, first, most, name)
		})
	}
}

func TestTLS(t *testing.T) {
	cert, key := certificate(t)
	s := redistest.Start(t, "--tls-port", "0", "--tls-cert-file", cert, "--tls-key-file", key, "--tls-ca-cert-file", cert, "--tls-auth-clients", "no")
	port := freePort(t)
	s.Do("CONFIG", "SET", "tls-port", port)
	secure := "127.0.0.1:" + port
	keeps(t, patient(t, Options{URL: "rediss://" + secure, CAFile: cert}))
	keeps(t, patient(t, Options{URL: "rediss://" + secure + "?skip_verify=true"}))
	for name, o := range map[string]Options{
		"unknown authority": {URL: "rediss://" + secure},
		"plain to TLS":      {URL: "redis://" + secure},
		"TLS to plain":      {URL: "rediss://" + s.Addr, CAFile: cert},
		"other name":        {URL: "rediss://localhost:" + port, CAFile: cert},
	} {
		t.Run(name, func(t *testing.T) {
			c := client(t, o)
			first := took(1, func() { c.Set(t.Context(), "k", []byte("v")) })
			st := c.Stats()
			require.Zero(t, st.Stored)
			require.Equal(t, uint64(1), st.Failed)
			patience.Within(t, first, most, name)
		})
	}
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { _ = l.Close() }()
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

// certificate makes one that signs itself, for 127.0.0.1.
func certificate(t *testing.T) (certFile, keyFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	private, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	certFile = redistest.File(t, "cert.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})))
	keyFile = redistest.File(t, "key.pem", string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private})))
	return certFile, keyFile
}

func TestUnixSocket(t *testing.T) {
	socket := t.TempDir() + "/redis.sock"
	redistest.Start(t, "--unixsocket", socket)
	keeps(t, patient(t, Options{URL: "unix://" + socket + "?db=1"}))
}

func TestCluster(t *testing.T) {
	t.Parallel()
	s := redistest.Start(t, "--cluster-enabled", "yes")
	s.Do("CLUSTER", "ADDSLOTSRANGE", "0", "16383")
	patience.For(t, "the cluster", func() bool { return strings.Contains(s.Do("CLUSTER", "INFO").(string), "cluster_state:ok") })
	c := patient(t, Options{URL: "redis://" + s.Addr + "?cluster=true"})
	back(t, c)
	keeps(t, c)
}

func TestSentinel(t *testing.T) {
	s := redistest.Start(t)
	host, port, _ := net.SplitHostPort(s.Addr)
	config := redistest.File(t, "sentinel.conf", "sentinel monitor main "+host+" "+port+" 1\n")
	watcher := redistest.StartSentinel(t, config)
	c := patient(t, Options{URL: "redis://" + watcher.Addr + "?master_name=main"})
	back(t, c)
	keeps(t, c)
}

func TestURLs(t *testing.T) {
	for url, fault := range map[string]string{
		"redis://h:1":                         "",
		"rediss://user:pa@h:1/2":              "",
		"redis://h:1?cluster=true&addr=h2:2":  "",
		"redis://h:1?master_name=m&addr=h2:2": "",
		"redis://h:1?cluster=maybe":           "cluster",
		"redis://h:1?dial_timeout=9s":         "unknown parameter",
		"http://:secret@h:1":                  "no redis://",
		"redis://u:secret@h:1/not-a-number":   "no redis://",
		"redis://u:secret@h%zz:1":             "cannot be read",
	} {
		t.Run(url, func(t *testing.T) {
			c, err := New(Options{URL: url, Log: slog.New(slog.DiscardHandler)})
			if err == nil {
				_ = c.Close()
			}
			require.Equal(t, fault == "", err == nil)
			if err != nil {
				require.Contains(t, err.Error(), fault)
				require.NotContains(t, err.Error(), "secret")
			}
		})
	}
	if _, err := New(Options{URL: "redis://h:1", CAFile: "x", Log: slog.New(slog.DiscardHandler)}); err == nil {
		t.Error("certificates without TLS")
	}
}

// What a trip costs: what is cached must cost more.
func BenchmarkTrip(b *testing.B) {
	s := redistest.Start(b)
	c := client(b, Options{URL: "redis://" + s.Addr, Secret: "x"})
	for name, size := range map[string]int{"16 kB": 16 << 10, "280 kB": 280 << 10} {
		c.Set(b.Context(), name, make([]byte, size))
		b.Run("hit of "+name, func(b *testing.B) {
			for b.Loop() {
				if _, ok := c.Get(b.Context(), name); !ok {
					b.Fatal("no hit")
				}
			}
		})
	}
	b.Run("miss", func(b *testing.B) {
		for b.Loop() {
			c.Get(b.Context(), "nothing")
		}
	})
	s.Kill()
	c.Get(b.Context(), "nothing")
	b.Run("open circuit", func(b *testing.B) {
		for b.Loop() {
			c.Get(b.Context(), "nothing")
		}
	})
}
