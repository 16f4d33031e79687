package unit

import (
	"errors"
	"math"
	"testing"
	"testing/quick"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"
)

func TestKnownConversions(t *testing.T) {
	for _, tt := range []struct {
		value float64
		unit  string
		si    float64
		rel   float64
		src   string
	}{
		{1, "psia", 6894.757293168, 1e-12, "NIST SP 811 (2008), B.8: 6.894757 E+03"},
		{1, "inHga", 3386.389, 2e-7, "NIST SP 811 (2008), B.8: inch of mercury, conventional, 3.386389 E+03"},
		{1000, "micron", 133.322387415, 1e-12, "ISO 80000-4:2019, millimetre of mercury, conventional"},
		{32, "degF", 273.15, 1e-15, "definition of the Fahrenheit scale, NIST SP 811 B.8"},
		{212, "degF", 373.15, 1e-15, "definition of the Fahrenheit scale, NIST SP 811 B.8"},
		{18, "delta_degF", 10, 1e-15, "NIST SP 811 B.8: 5/9"},
		{1, "cfm", 4.719474e-4, 1e-7, "NIST SP 811 B.8: cubic foot per minute 4.719474 E-04"},
		{1, "Btu/lb", 2326, 1e-15, "NIST SP 811 B.8: 2.326 E+03 exactly (IT)"},
		{1, "Btu/(lb.degF)", 4186.8, 1e-15, "NIST SP 811 B.8: 4.1868 E+03 exactly (IT)"},
		{1, "lb/ft3", 16.01846, 3e-7, "NIST SP 811 B.8: 1.601846 E+01"},
		{1, "ton", 3516.853, 1e-6, "NIST SP 811 B.8: ton of refrigeration 3.516853 E+03"},
		{1, "oz", 0.02834952, 2e-7, "NIST SP 811 B.8: 2.834952 E-02"},
		{7000, "gr/lb", 1, 1e-15, "7000 grains in a pound, NIST SP 811 B.8"},
		{50, "percent", 0.5, 1e-15, "definition"},
	} {
		u, ok := Lookup(tt.unit)
		if !ok {
			t.Fatalf("no unit %s", tt.unit)
		}
		if got := u.ToSI(tt.value); !near.Rel(got, tt.si, tt.rel) {
			t.Errorf("%g %s = %.12g SI, want %.12g (%s)", tt.value, tt.unit, got, tt.si, tt.src)
		}
	}
}

func TestEveryUnitInvertsItself(t *testing.T) {
	for _, u := range All() {
		f := func(seed uint32) bool {
			v := float64(seed)/1e5 + 0.001
			return near.Rel(u.FromSI(u.ToSI(v)), v, 1e-9) && near.Rel(u.SpanFromSI(u.SpanToSI(v)), v, 1e-13)
		}
		require.NoError(t, quick.Check(f, nil), "%s", u.Name)
	}
}

func TestEveryNameIsUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, u := range All() {
		if seen[u.Name] {
			t.Errorf("%s stands twice", u.Name)
		}
		seen[u.Name] = true
		if u.Kind == KindGaugePressure || u.Kind == KindTemperatureDiff {
			require.Empty(t, u.UCUM, "%s", u.Name)
		}
	}
}

func TestGaugeNeedsItsAtmosphere(t *testing.T) {
	denver := Pascal(83_400)
	r, err := ParsePressure("118psig")
	require.NoError(t, err)
	p, err := r.Absolute(denver)
	require.NoError(t, err, "118 psig under 83.4 kPa")
	if !near.Rel(p.Pascal(), 118*6894.757293168+83_400, 1e-12) {
		t.Errorf("118 psig under 83.4 kPa = %v", p)
	}
	if got := p.Gauge(denver).PSIG(); !near.Rel(got, 118, 1e-12) {
		t.Errorf("back to gauge: %g psig", got)
	}
	vacuum, err := ParsePressure("10inHgv")
	require.NoError(t, err)
	p, err = vacuum.Absolute(StandardAtmosphere())
	require.NoError(t, err, "10 inHgv at sea level")
	if !near.Rel(p.Pascal(), 101325-33863.886, 1e-6) {
		t.Errorf("10 inHgv at sea level = %v; want 67461 Pa", p)
	}
	if deep, err := ParsePressure("30inHgv"); err != nil {
		t.Error(err)
	} else if _, err := deep.Absolute(StandardAtmosphere()); !errors.Is(err, ErrBelowVacuum) {
		t.Errorf("30 inHg of vacuum at 29.92 inHg: %v, want ErrBelowVacuum", err)
	}
}

func TestRefusals(t *testing.T) {
	for text, want := range map[string]error{
		"NaNK": ErrNumber, "+InfK": ErrNumber, "0x1p4K": ErrNumber, "1,5degC": ErrNumber, "1_000K": ErrNumber,
		"": ErrNumber, "degF": ErrNumber, "1e999K": ErrNumber, "--1K": ErrNumber, "1e5e5K": ErrNumber,
		"40": ErrMissingUnit, "40psig": ErrKind, "40delta_degF": ErrKind,
		"-460degF": ErrBelowAbsoluteZero, "0K": ErrBelowAbsoluteZero, "-273.15degC": ErrBelowAbsoluteZero,
	} {
		if got, err := ParseTemperature(text); !errors.Is(err, want) {
			t.Errorf("ParseTemperature(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	var unknown *UnknownUnitError
	if _, err := ParsePressure("118psi"); !errors.As(err, &unknown) || unknown.Nearest == "" {
		t.Errorf("118psi: %v, want an unknown unit with a suggestion", err)
	}
	if _, err := ParsePressure("-5inHgv"); !errors.Is(err, ErrBelowAbsoluteZero) {
		t.Errorf("a negative depth of vacuum was taken: %v", err)
	}
}

func TestTextRoundTrips(t *testing.T) {
	f := func(seed int32) bool {
		want := Kelvin(math.Abs(float64(seed))/7 + 1e-3)
		text, _ := want.MarshalText()
		var got Temperature
		return got.UnmarshalText(text) == nil && got == want
	}
	require.NoError(t, quick.Check(f, nil))
	g := func(seed int32, gauge bool) bool {
		want := ReadAbsolute(Pascal(math.Abs(float64(seed)) + 1))
		if gauge {
			want = ReadGauge(PascalGauge(float64(seed)))
		}
		text, _ := want.MarshalText()
		var got PressureReading
		return got.UnmarshalText(text) == nil && got.IsGauge() == gauge && near.Rel(got.pa, want.pa, 1e-15)
	}
	require.NoError(t, quick.Check(g, nil))
}

func FuzzParsePressure(f *testing.F) {
	for _, s := range []string{"118psig", "8.1bara", "10inHgv", "1e3Paa", "-.5e-1kPag", "1e", "e1psig", "0x1p4psig", "NaNpsig", "118 psig"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParsePressure(text)
		if err != nil {
			return
		}
		if math.IsNaN(r.pa) || math.IsInf(r.pa, 0) {
			t.Fatalf("ParsePressure(%q) = %v", text, r.pa)
		}
		again, err := ParsePressure(r.String())
		require.NoError(t, err)
		if again.gauge != r.gauge || !near.Rel(again.pa, r.pa, 1e-14) {
			t.Fatalf("%q reads as %v, spelled %q reads as %v", text, r.pa, r, again.pa)
		}
	})
}
