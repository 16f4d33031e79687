package saturation

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
)

// formatVersion changes with the binary form.
const formatVersion = 1

// ErrEncoding reports bytes that are no curve of this version, or damaged
// ones.
var ErrEncoding = errors.New("saturation: not an encoded curve")

// MarshalBinary is the compact form of the curve: a version, the two lines,
// and a checksum (CRC-32C) against accidents.
func (c *Curve) MarshalBinary() ([]byte, error) {
	b := binary.LittleEndian.AppendUint32(nil, formatVersion)
	for i := range c.lines {
		l := &c.lines[i]
		b = append(b, byte(c.ends[i]))
		b = appendFloat(b, l.origin)
		b = l.byT.append(b)
		b = appendAll(b, l.ofT)
		b = l.byP.append(b)
		b = appendAll(b, l.ofP)
	}
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli)), nil
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func appendFloat(b []byte, f float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(f))
}

func (a *axis) append(b []byte) []byte {
	b = binary.LittleEndian.AppendUint16(b, uint16(len(a.pieces)))
	b = appendFloat(b, a.lo)
	for _, p := range a.pieces {
		b = appendFloat(b, p.hi)
	}
	return b
}

func appendAll(b []byte, c []coefficients) []byte {
	for i := range c {
		for _, f := range c[i] {
			b = appendFloat(b, f)
		}
	}
	return b
}

// UnmarshalBinary reads what MarshalBinary wrote. It returns ErrEncoding for
// anything else, and leaves c as it was then.
func (c *Curve) UnmarshalBinary(data []byte) error {
	if len(data) < 8 {
		return fmt.Errorf("%w: %d bytes", ErrEncoding, len(data))
	}
	body, sum := data[:len(data)-4], binary.LittleEndian.Uint32(data[len(data)-4:])
	if crc32.Checksum(body, castagnoli) != sum {
		return fmt.Errorf("%w: checksum", ErrEncoding)
	}
	r := &reader{b: body}
	if v := r.uint32(); v != formatVersion {
		return fmt.Errorf("%w: version %d", ErrEncoding, v)
	}
	var out Curve
	for i := range out.lines {
		l := &out.lines[i]
		out.ends[i] = Ending(r.byte())
		l.origin = r.float()
		l.byT = r.axis()
		l.ofT = r.coefficients(len(l.byT.pieces) * int(quantities))
		l.byP = r.axis()
		l.ofP = r.coefficients(len(l.byP.pieces))
	}
	if r.failed || len(r.b) > 0 {
		return fmt.Errorf("%w: length", ErrEncoding)
	}
	*c = out
	return nil
}

// reader takes values off the front of a slice; once one is missing all are
// zero and failed is set.
type reader struct {
	b      []byte
	failed bool
}

func (r *reader) take(n int) []byte {
	if r.failed || len(r.b) < n {
		r.failed = true
		return make([]byte, n)
	}
	out := r.b[:n]
	r.b = r.b[n:]
	return out
}

func (r *reader) byte() byte     { return r.take(1)[0] }
func (r *reader) uint32() uint32 { return binary.LittleEndian.Uint32(r.take(4)) }

func (r *reader) float() float64 {
	f := math.Float64frombits(binary.LittleEndian.Uint64(r.take(8)))
	if math.IsNaN(f) || math.IsInf(f, 0) {
		r.failed = true
		return 0
	}
	return f
}

func (r *reader) axis() axis {
	n := int(binary.LittleEndian.Uint16(r.take(2)))
	if n == 0 || n > maxPieces {
		r.failed = true
		return axis{}
	}
	pieces := make([]piece, n)
	lo := r.float()
	for i := range pieces {
		hi := r.float()
		if !(hi > lo) {
			r.failed = true
			return axis{}
		}
		pieces[i] = newPiece(lo, hi)
		lo = hi
	}
	return newAxis(pieces)
}

func (r *reader) coefficients(n int) []coefficients {
	if r.failed || len(r.b) < n*terms*8 {
		r.failed = true
		return nil
	}
	c := make([]coefficients, n)
	for i := range c {
		for j := range c[i] {
			c[i][j] = r.float()
		}
	}
	return c
}
