package unit

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Errors of reading a quantity. UnknownUnitError carries the nearest spelling.
var (
	// ErrNumber reports a number that is not plain decimal: NaN, Inf, hex,
	// a comma, an underscore, or digits beyond the range of a float64.
	ErrNumber = errors.New("unit: not a plain decimal number")
	// ErrMissingUnit reports a number without a unit.
	ErrMissingUnit = errors.New("unit: the unit is missing")
	// ErrKind reports a known unit of another kind than the one asked for.
	ErrKind = errors.New("unit: wrong kind of unit")
	// ErrBelowAbsoluteZero reports an absolute temperature, pressure or other
	// quantity below the least value that it can have.
	ErrBelowAbsoluteZero = errors.New("unit: below the least value this quantity can have")
)

// UnknownUnitError reports a spelling that is no unit.
type UnknownUnitError struct {
	Name string
	// Nearest is the known spelling most like it, or empty.
	Nearest string
}

func (e *UnknownUnitError) Error() string {
	if e.Nearest == "" {
		return fmt.Sprintf("unit: unknown unit %q", e.Name)
	}
	return fmt.Sprintf("unit: unknown unit %q, did you mean %q?", e.Name, e.Nearest)
}

// Resolve finds the unit called name among the kinds allowed. It returns
// ErrMissingUnit for an empty name, *UnknownUnitError, or ErrKind. The unit is
// returned beside ErrKind too, so that a message can say what it measures.
func Resolve(name string, allowed ...Kind) (Unit, error) {
	if name == "" {
		return Unit{}, fmt.Errorf("%w: expected one of %s", ErrMissingUnit, spellings(allowed))
	}
	u, ok := Lookup(name)
	if !ok {
		return Unit{}, &UnknownUnitError{Name: name, Nearest: nearest(name, allowed)}
	}
	for _, k := range allowed {
		if u.Kind == k {
			return u, nil
		}
	}
	return u, fmt.Errorf("%w: %s measures %s, expected one of %s", ErrKind, name, strings.ReplaceAll(string(u.Kind), "_", " "), spellings(allowed))
}

// Names lists the units of some kinds, in the order of the table.
func Names(kinds ...Kind) []string {
	var names []string
	for _, k := range kinds {
		for _, u := range table {
			if u.Kind == k {
				names = append(names, u.Name)
			}
		}
	}
	return names
}

func spellings(kinds []Kind) string { return strings.Join(Names(kinds...), ", ") }

// nearest looks among the kinds allowed; of units equally near, that of the
// kind named first. It is only a suggestion.
func nearest(name string, allowed []Kind) string {
	var best string
	least := 1 + len(name)/2
	for _, k := range allowed {
		for _, u := range table {
			if u.Kind != k {
				continue
			}
			if d := Distance(strings.ToLower(name), strings.ToLower(u.Name)); d < least {
				best, least = u.Name, d
			}
		}
	}
	return best
}

// Distance is the Levenshtein distance of a and b in bytes; 64 for names too
// long to be worth comparing.
func Distance(a, b string) int {
	const tooLong = 64
	if len(a) >= tooLong || len(b) >= tooLong {
		return tooLong
	}
	var row [tooLong + 1]int
	for j := range len(b) + 1 {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			substitute := diagonal
			if a[i] != b[j] {
				substitute++
			}
			diagonal = row[j+1]
			row[j+1] = min(substitute, row[j]+1, diagonal+1)
		}
	}
	return row[len(b)]
}

// Number reads a plain decimal number: sign, digits, at most one point, an
// optional exponent, nothing else. It returns ErrNumber otherwise.
func Number(text string) (float64, error) {
	for _, c := range []byte(text) {
		if !(c >= '0' && c <= '9' || c == '.' || c == '-' || c == '+' || c == 'e' || c == 'E') {
			return 0, fmt.Errorf("%w: %q", ErrNumber, text)
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%w: %q", ErrNumber, text)
	}
	return v, nil
}

// Split parts a text form such as "118psig" or "-2.5e1degC" into its number
// and the unit's name, without judging either.
func Split(text string) (number, name string) {
	i := 0
	for i < len(text) {
		switch c := text[i]; {
		case c >= '0' && c <= '9', c == '.', c == '-', c == '+':
			i++
		case (c == 'e' || c == 'E') && i > 0 && i+1 < len(text) && (text[i+1] >= '0' && text[i+1] <= '9' || (text[i+1] == '-' || text[i+1] == '+') && i+2 < len(text) && text[i+2] >= '0' && text[i+2] <= '9'):
			i++
		default:
			return text[:i], text[i:]
		}
	}
	return text, ""
}

// Value converts a number in u to SI and refuses what cannot be: a number
// that is not finite (ErrNumber), and values below the least of their kind
// (ErrBelowAbsoluteZero). Gauge pressures are judged when the atmosphere is
// known.
func (u Unit) Value(number float64) (float64, error) {
	si := u.ToSI(number)
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return 0, fmt.Errorf("%w: %v %s", ErrNumber, number, u.Name)
	}
	switch u.Kind {
	case KindTemperature, KindPressure, KindDensity, KindSpecificVolume:
		if !(si > 0) {
			return 0, fmt.Errorf("%w: %v %s", ErrBelowAbsoluteZero, number, u.Name)
		}
	case KindGaugePressure:
		if u.Factor < 0 && number < 0 {
			return 0, fmt.Errorf("%w: a depth of vacuum is positive, got %v %s", ErrBelowAbsoluteZero, number, u.Name)
		}
	case KindMass, KindVolume, KindMassPerLength, KindTime, KindAirFlow, KindPower, KindHumidityRatio:
		if !(si >= 0) {
			return 0, fmt.Errorf("%w: %v %s", ErrBelowAbsoluteZero, number, u.Name)
		}
	}
	return si, nil
}

// parse reads a text form in one of the kinds and returns SI.
func parse(text string, allowed ...Kind) (float64, Unit, error) {
	number, name := Split(text)
	v, err := Number(number)
	if err != nil || badDigits(name) {
		return 0, Unit{}, fmt.Errorf("%w in %q", ErrNumber, text)
	}
	u, err := Resolve(name, allowed...)
	if err != nil {
		return 0, Unit{}, err
	}
	si, err := u.Value(v)
	return si, u, err
}

// badDigits reports whether what follows the number is no name but more of a
// number in a spelling that is not taken: a comma, an underscore, hex.
func badDigits(name string) bool {
	return name != "" && (name[0] == ',' || name[0] == '_' || name[0] == 'x' || name[0] == 'X')
}

// ParseTemperature reads "40degF", "4.4degC" or "277.6K".
func ParseTemperature(text string) (Temperature, error) {
	si, _, err := parse(text, KindTemperature)
	return Temperature{si}, err
}

// ParseTemperatureDiff reads "10delta_degF".
func ParseTemperatureDiff(text string) (TemperatureDiff, error) {
	si, _, err := parse(text, KindTemperatureDiff)
	return TemperatureDiff{si}, err
}

// PressureReading is a pressure as somebody read it: gauge or absolute, which
// is always said.
type PressureReading struct {
	pa    float64
	gauge bool
}

// ReadAbsolute wraps an absolute pressure as a reading.
func ReadAbsolute(p Pressure) PressureReading { return PressureReading{p.pa, false} }

// ReadGauge wraps a gauge pressure as a reading.
func ReadGauge(g GaugePressure) PressureReading { return PressureReading{g.pa, true} }

// IsGauge reports whether the reading counts from the atmosphere.
func (r PressureReading) IsGauge() bool { return r.gauge }

// Absolute resolves the reading; atmosphere is the pressure at the gauge's
// zero and plays no part in an absolute reading. It returns ErrBelowVacuum.
func (r PressureReading) Absolute(atmosphere Pressure) (Pressure, error) {
	if !r.gauge {
		return Pressure{r.pa}, nil
	}
	return GaugePressure{r.pa}.Absolute(atmosphere)
}

// ParsePressure reads "118psig", "8.1bara", "10inHgv".
func ParsePressure(text string) (PressureReading, error) {
	si, u, err := parse(text, KindGaugePressure, KindPressure)
	return PressureReading{si, u.Kind == KindGaugePressure}, err
}

func spell(si float64, name string) []byte {
	return append(strconv.AppendFloat(nil, si, 'g', -1, 64), name...)
}

// String spells the temperature in kelvins with the shortest digits that read
// back the same.
func (t Temperature) String() string { return string(spell(t.k, "K")) }

// MarshalText is String as bytes.
func (t Temperature) MarshalText() ([]byte, error) { return spell(t.k, "K"), nil }

// UnmarshalText is ParseTemperature.
func (t *Temperature) UnmarshalText(b []byte) (err error) {
	*t, err = ParseTemperature(string(b))
	return err
}

// String spells the difference in kelvins.
func (d TemperatureDiff) String() string { return string(spell(d.k, "delta_K")) }

// MarshalText is String as bytes.
func (d TemperatureDiff) MarshalText() ([]byte, error) { return spell(d.k, "delta_K"), nil }

// UnmarshalText is ParseTemperatureDiff.
func (d *TemperatureDiff) UnmarshalText(b []byte) (err error) {
	*d, err = ParseTemperatureDiff(string(b))
	return err
}

// String spells the absolute pressure in pascals.
func (p Pressure) String() string { return string(spell(p.pa, "Paa")) }

// String spells the reading in pascals or in kilopascals gauge.
func (r PressureReading) String() string {
	if r.gauge {
		return string(spell(r.pa/1e3, "kPag"))
	}
	return Pressure{r.pa}.String()
}

// MarshalText is String as bytes.
func (r PressureReading) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText is ParsePressure.
func (r *PressureReading) UnmarshalText(b []byte) (err error) {
	*r, err = ParsePressure(string(b))
	return err
}
