package signature

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Band is a range of severities, as plant.Faults counts them.
type Band struct{ Low, High float64 }

// Component is one explanation with its severities within narrow bands.
type Component struct {
	// Faults are none, one, or two.
	Faults []equipment.Fault
	// Bands has one for each of Faults.
	Bands []Band
	// Weight is the share of the component among those with the same Faults,
	// given that such a system runs steadily.
	Weight float64
	// Kept is the share of the systems drawn that would run so.
	Kept float64

	mean [Coordinates]basis
	cov  Matrix
}

// Model are the components of every metering device.
type Model struct {
	// Revision changes with the numbers.
	Revision string
	// Systems is how many were drawn for each component.
	Systems int
	devices map[equipment.MeteringDevice][]Component
}

// Device gives the components of a metering device, false for an unknown one.
// The caller must not write to them.
func (m *Model) Device(d equipment.MeteringDevice) ([]Component, bool) {
	c, ok := m.devices[d]
	return c, ok
}

// Conditions is the air and the refrigerant that means are taken at.
type Conditions struct {
	terms  basis
	slopes [Axes]basis
}

// ConditionsAt prepares conditions. It is meant for the air that air conditioners run in;
// far outside means are extrapolated.
func ConditionsAt(a Air, t Traits) Conditions {
	x := scale(a, t)
	return Conditions{x.terms(), x.slopes()}
}

func (b *basis) dot(c *basis) float64 {
	sum := 0.0
	for i := range b {
		sum += b[i] * c[i]
	}
	return sum
}

// Mean of a coordinate.
func (c *Component) Mean(s *Conditions, i Coordinate) float64 { return c.mean[i].dot(&s.terms) }

// Slope of the mean of a coordinate along an axis of the air, a K.
func (c *Component) Slope(s *Conditions, i Coordinate, axis int) float64 {
	return c.mean[i].dot(&s.slopes[axis])
}

// Covariance of two coordinates over the systems that it might be, in the same air.
func (c *Component) Covariance(i, j Coordinate) float64 { return c.cov[i][j] }

// Embedded is the model that refdata carries. It is read on first use; a fault
// in it is a fault of the build and panics.
var Embedded = sync.OnceValue(func() *Model {
	m := new(Model)
	if err := m.UnmarshalBinary(refdata.Signatures()); err != nil {
		panic(err)
	}
	return m
})

// ErrFormat is wrapped by every error about a damaged model.
var ErrFormat = errors.New("signature: not a model")

const magic = "knurl signatures 1\n"

// NewModel makes a model of components by device.
func NewModel(systems int, devices map[equipment.MeteringDevice][]Component) (*Model, error) {
	m := &Model{Systems: systems, devices: devices}
	b, err := m.MarshalBinary()
	if err != nil {
		return nil, err
	}
	if err := m.UnmarshalBinary(b); err != nil {
		return nil, err
	}
	return m, nil
}

// MarshalBinary writes the model, metering devices in the order of their list: a line that names the format, a line of text a
// component, an empty line, and all numbers as 32-bit floats in the order of the
// lines, means before covariances, least byte first.
func (m *Model) MarshalBinary() ([]byte, error) {
	var head, body bytes.Buffer
	head.WriteString(magic)
	fmt.Fprintf(&head, "%d systems\n", m.Systems)
	put := func(v float64) error {
		f := float32(v)
		if math.IsNaN(v) || math.IsInf(float64(f), 0) {
			return fmt.Errorf("%w: a number is not finite", ErrFormat)
		}
		return binary.Write(&body, binary.LittleEndian, f)
	}
	for _, d := range equipment.MeteringDevices() {
		for i := range m.devices[d] {
			c := &m.devices[d][i]
			fmt.Fprintf(&head, "%s %.6g %.6g", d, c.Weight, c.Kept)
			for k, f := range c.Faults {
				fmt.Fprintf(&head, " %s %.6g %.6g", f, c.Bands[k].Low, c.Bands[k].High)
			}
			head.WriteByte('\n')
			for k := range Coordinates {
				for _, v := range c.mean[k] {
					if err := put(v); err != nil {
						return nil, err
					}
				}
			}
			for k := range Coordinates {
				for l := range k + 1 {
					if err := put(c.cov[k][l]); err != nil {
						return nil, err
					}
				}
			}
		}
	}
	head.WriteByte('\n')
	return append(head.Bytes(), body.Bytes()...), nil
}

// UnmarshalBinary reads what MarshalBinary wrote; errors wrap ErrFormat.
func (m *Model) UnmarshalBinary(data []byte) error {
	head, body, ok := bytes.Cut(data, []byte("\n\n"))
	if !ok || !bytes.HasPrefix(head, []byte(magic)) {
		return fmt.Errorf("%w: no heading", ErrFormat)
	}
	sum := sha256.Sum256(data)
	out := Model{Revision: hex.EncodeToString(sum[:6]), devices: map[equipment.MeteringDevice][]Component{}}
	lines := strings.Split(string(head[len(magic):]), "\n")
	if _, err := fmt.Sscanf(lines[0], "%d systems", &out.Systems); err != nil {
		return fmt.Errorf("%w: %q", ErrFormat, lines[0])
	}
	var failed error
	get := func() float64 {
		if len(body) < 4 {
			failed = fmt.Errorf("%w: %w", ErrFormat, io.ErrUnexpectedEOF)
			return 0
		}
		v := math.Float32frombits(binary.LittleEndian.Uint32(body))
		body = body[4:]
		return float64(v)
	}
	for _, line := range lines[1:] {
		c, device, err := parse(line)
		if err != nil {
			return err
		}
		for k := range Coordinates {
			for i := range c.mean[k] {
				c.mean[k][i] = get()
			}
		}
		for k := range Coordinates {
			for l := range k + 1 {
				v := get()
				c.cov[k][l], c.cov[l][k] = v, v
			}
		}
		out.devices[device] = append(out.devices[device], c)
	}
	if failed == nil && len(body) > 0 {
		failed = fmt.Errorf("%w: %d bytes too many", ErrFormat, len(body))
	}
	if failed != nil {
		return failed
	}
	*m = out
	return nil
}

// parse reads the line of a component.
func parse(line string) (c Component, device equipment.MeteringDevice, err error) {
	words := strings.Fields(line)
	if len(words) < 3 || len(words)%3 != 0 || len(words) > 9 {
		return c, "", fmt.Errorf("%w: %q", ErrFormat, line)
	}
	numbers := make([]float64, 0, 6)
	for i, w := range words {
		if i%3 == 0 {
			continue
		}
		v, err := strconv.ParseFloat(w, 64)
		if err != nil {
			return c, "", fmt.Errorf("%w: %q: %w", ErrFormat, line, err)
		}
		numbers = append(numbers, v)
	}
	c.Weight, c.Kept = numbers[0], numbers[1]
	for i := 3; i < len(words); i += 3 {
		c.Faults = append(c.Faults, equipment.Fault(words[i]))
		c.Bands = append(c.Bands, Band{numbers[2*i/3], numbers[2*i/3+1]})
	}
	return c, equipment.MeteringDevice(words[0]), nil
}
