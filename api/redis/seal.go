package redis

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"hash"
)

const sealSize = sha256.Size

// sealer binds a value to its key, so that a value which was damaged, swapped
// or written by something else is recognized.
type sealer struct{ secret []byte }

// seal puts the sum over key and value before the value. With a secret it is
// an HMAC, which nobody makes who does not hold the secret; without one it is
// a plain SHA-256, which guards against accidents only.
func (s sealer) seal(key string, value []byte) []byte {
	return append(s.sum(key, value), value...)
}

// open gives back what was sealed under the key, and false for anything else.
func (s sealer) open(key string, sealed []byte) ([]byte, bool) {
	if len(sealed) < sealSize {
		return nil, false
	}
	sum, value := sealed[:sealSize], sealed[sealSize:]
	return value, hmac.Equal(sum, s.sum(key, value))
}

func (s sealer) sum(key string, value []byte) []byte {
	var mac hash.Hash
	if len(s.secret) > 0 {
		mac = hmac.New(sha256.New, s.secret)
	} else {
		mac = sha256.New()
	}
	mac.Write(binary.BigEndian.AppendUint64(nil, uint64(len(key)))) // so that no byte moves between key and value
	mac.Write([]byte(key))
	mac.Write(value)
	return mac.Sum(nil)
}
