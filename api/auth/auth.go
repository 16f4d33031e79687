// Package auth knows who may ask: names and hashes of bearer keys from a file.
// It must not know what is asked, and keeps no key itself.
package auth

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync/atomic"
	"time"
)

// Keys are the keys of a file, as it was last read well.
type Keys struct {
	path    string
	log     *slog.Logger
	current atomic.Pointer[[]key]
	seen    string // the file's stamp before it was last read
}

type key struct {
	name string
	sum  [sha256.Size]byte
}

// Open reads a file of keys: a name and the SHA-256 of the key in hex on each
// line; blank lines and those that begin with # do not count.
func Open(path string, log *slog.Logger) (*Keys, error) {
	k := &Keys{path: path, log: log}
	k.seen = k.stamp()
	return k, k.read()
}

// Name tells whose key it is. It takes the same time whichever key fits, and
// compares hashes only.
func (k *Keys) Name(presented string) (string, bool) {
	sum := sha256.Sum256([]byte(presented))
	name, found := "", 0
	for _, known := range *k.current.Load() {
		if equal := subtle.ConstantTimeCompare(sum[:], known.sum[:]); equal == 1 {
			name, found = known.name, 1
		}
	}
	return name, found == 1
}

// Bearer takes the key out of an Authorization header (RFC 6750 section 2.1).
func Bearer(header string) (string, bool) {
	scheme, token, ok := strings.Cut(header, " ")
	token = strings.TrimLeft(token, " ")
	return token, ok && strings.EqualFold(scheme, "bearer") && token != ""
}

// Watch reads the file again whenever it has changed, as seen every interval,
// and at once when now says so, until ctx is done. A file that cannot be read
// leaves the keys as they were. It is to run once.
func (k *Keys) Watch(ctx context.Context, interval time.Duration, now <-chan os.Signal) {
	ticks := time.NewTicker(interval)
	defer ticks.Stop()
	for {
		forced := false
		select {
		case <-ctx.Done():
			return
		case <-now:
			forced = true
		case <-ticks.C:
		}
		stamp := k.stamp()
		if stamp == k.seen && !forced {
			continue
		}
		k.seen = stamp
		if err := k.read(); err != nil {
			k.log.Error("the keys stay as they were", slog.String("error", err.Error()))
			continue
		}
		k.log.Info("keys read", slog.Int("keys", len(*k.current.Load())))
	}
}

// stamp changes with the file, also where a link is turned to another one.
func (k *Keys) stamp() string {
	info, err := os.Stat(k.path)
	if err != nil {
		return err.Error()
	}
	return fmt.Sprint(info.ModTime().UnixNano(), info.Size())
}

func (k *Keys) read() error {
	text, err := os.ReadFile(k.path)
	if err != nil {
		return fmt.Errorf("auth: %w", err)
	}
	list, err := parse(string(text))
	if err != nil {
		return fmt.Errorf("auth: %s: %w", k.path, err)
	}
	k.current.Store(&list)
	return nil
}

// parse tells every faulty line at once, and never shows what stands in it: it
// may be a key.
func parse(text string) ([]key, error) {
	var (
		list   []key
		faults []error
		names  = map[string]bool{}
	)
	n := 0
	for line := range strings.Lines(text) {
		n++
		fields := strings.Fields(line)
		if len(fields) == 0 || strings.HasPrefix(fields[0], "#") {
			continue
		}
		if len(fields) != 2 {
			faults = append(faults, fmt.Errorf("line %d: want a name and the SHA-256 of a key", n))
			continue
		}
		sum, err := hex.DecodeString(fields[1])
		switch {
		case err != nil || len(sum) != sha256.Size:
			faults = append(faults, fmt.Errorf("line %d: the second word is no SHA-256 in hex", n))
		case len(fields[0]) > 64:
			faults = append(faults, fmt.Errorf("line %d: the name is longer than 64 bytes", n))
		case names[fields[0]]:
			faults = append(faults, fmt.Errorf("line %d: the name stands twice", n))
		}
		names[fields[0]] = true
		k := key{name: fields[0]}
		copy(k.sum[:], sum)
		list = append(list, k)
	}
	if len(list) == 0 && len(faults) == 0 {
		faults = append(faults, errors.New("no key in it"))
	}
	return list, errors.Join(faults...)
}
