package instrument_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func psi(v float64) float64 { u, _ := unit.Lookup("psig"); return u.ToSI(v) }

// Limits of error at a reading. The grades of gauges count by the span.
func TestClasses(t *testing.T) {
	const asme = "ASME B40.100, grades as gauge manufacturers and sellers print them (figures of 1A to 4A, B to D from memory, unverified)"
	for _, tt := range []struct {
		class             string
		reading, span, si float64
		kind              unit.Kind
		source            string
	}{
		{"grade_4a", psi(118), psi(500), psi(0.5), unit.KindGaugePressure, asme},
		{"grade_3a", psi(118), psi(500), psi(1.25), unit.KindGaugePressure, asme},
		{"grade_2a", psi(118), psi(500), psi(2.5), unit.KindPressure, asme},
		{"grade_1a", psi(118), psi(500), psi(5), unit.KindGaugePressure, asme},
		{"grade_a", psi(100), psi(500), psi(10), unit.KindGaugePressure, asme}, // lowest quarter
		{"grade_a", psi(250), psi(500), psi(5), unit.KindGaugePressure, asme},
		{"grade_a", psi(400), psi(500), psi(10), unit.KindGaugePressure, asme}, // highest quarter
		{"grade_a", psi(500), psi(500), psi(10), unit.KindGaugePressure, asme},
		{"grade_a", -psi(10), psi(500), psi(10), unit.KindGaugePressure, asme}, // a compound gauge in vacuum
		{"grade_b", psi(250), psi(500), psi(10), unit.KindGaugePressure, asme},
		{"grade_b", psi(450), psi(500), psi(15), unit.KindGaugePressure, asme},
		{"grade_c", psi(50), psi(100), psi(3), unit.KindGaugePressure, asme},
		{"grade_d", psi(50), psi(100), psi(5), unit.KindGaugePressure, asme},
		{"charge_verification_suction_pressure", psi(118), 0, psi(3.5), unit.KindGaugePressure, "CEC RA3 (2013), RA3.2.2.2.3"},
		{"charge_verification_liquid_pressure", psi(340), 0, psi(7), unit.KindPressure, "CEC RA3 (2013), RA3.2.2.2.3"},
		// 1.3 degF and 0.1 % of the reading in degF.
		{"charge_verification_thermometer", unit.Fahrenheit(100).Kelvin(), 0, 1.4 / 1.8, unit.KindTemperature, "CEC RA3 (2008), RA3.2.2.2.1"},
		{"charge_verification_thermometer", unit.Fahrenheit(0).Kelvin(), 0, 1.3 / 1.8, unit.KindTemperature, "CEC RA3 (2008), RA3.2.2.2.1"},
		{"charge_verification_thermometer", unit.Fahrenheit(-40).Kelvin(), 0, 1.34 / 1.8, unit.KindTemperature, "CEC RA3 (2008), RA3.2.2.2.1"},
		// The larger of 2.2 degC and 0.75 % of the reading in degC.
		{"thermocouple_k_standard", unit.Celsius(100).Kelvin(), 0, 2.2, unit.KindTemperature, "ASTM E230, as a wire manufacturer reprints it"},
		{"thermocouple_k_standard", unit.Celsius(400).Kelvin(), 0, 3, unit.KindTemperature, "ASTM E230, as a wire manufacturer reprints it"},
		{"thermocouple_t_standard", unit.Celsius(20).Kelvin(), 0, 1, unit.KindTemperature, "ASTM E230, as a wire manufacturer reprints it"},
		{"thermistor_ntc_10k", unit.Celsius(20).Kelvin(), 0, 0.2, unit.KindTemperature, "typical component data, from memory, unverified"},
		{"pipe_clamp", unit.Celsius(20).Kelvin(), 0, 2 / 1.8, unit.KindTemperature, "common practice, no single source"},
	} {
		l, err := instrument.Of(tt.class, tt.kind, tt.reading, tt.span)
		require.NoError(t, err, "%s at %g", tt.class, tt.reading)
		if !near.Rel(l.SI, tt.si, 1e-9) {
			t.Errorf("%s at %g of %g: %g, want %g (%s)", tt.class, tt.reading, tt.span, l.SI, tt.si, tt.source)
		}
		if l.Source == "" || l.Status == "" {
			t.Errorf("%s: source %q, status %q", tt.class, l.Source, l.Status)
		}
		// Rectangular distribution: JCGM 100:2008 (GUM) 4.3.7.
		if !near.Rel(l.Standard(), l.SI/math.Sqrt(3), 1e-12) {
			t.Errorf("%s: standard uncertainty %g of a limit %g", tt.class, l.Standard(), l.SI)
		}
	}
}

// Every class gives a positive, finite limit somewhere.
func TestEveryClass(t *testing.T) {
	classes := instrument.Classes()
	if len(classes) < 10 || !slices.Contains(classes, "grade_a") {
		t.Fatalf("%v", classes)
	}
	for _, class := range classes {
		l, err := instrument.Of(class, unit.KindPressure, psi(60), psi(500))
		if errors.Is(err, instrument.ErrKind) {
			l, err = instrument.Of(class, unit.KindTemperature, 290, 0)
		}
		require.NoError(t, err, "%s", class)
		if !(l.SI > 0) || math.IsInf(l.SI, 0) {
			t.Errorf("%s: %+v", class, l)
		}
	}
}

func TestFaults(t *testing.T) {
	for _, tt := range []struct {
		class       string
		kind        unit.Kind
		value, span float64
		want        error
	}{
		{"grade_1", unit.KindPressure, 1, 1, instrument.ErrUnknownClass},
		{"", unit.KindPressure, 1, 1, instrument.ErrUnknownClass},
		{"grade_a", unit.KindTemperature, 290, 500, instrument.ErrKind},
		{"grade_a", unit.KindRatio, 0.5, 1, instrument.ErrKind},
		{"pipe_clamp", unit.KindPressure, 1e5, 0, instrument.ErrKind},
		{"pipe_clamp", unit.KindTemperatureDiff, 5, 0, instrument.ErrKind},
		{"pipe_clamp", unit.KindAirFlow, 5, 0, instrument.ErrKind},
		{"grade_a", unit.KindGaugePressure, 1e5, 0, instrument.ErrSpan},
		{"grade_a", unit.KindGaugePressure, 1e5, -1, instrument.ErrSpan},
		{"grade_a", unit.KindGaugePressure, 1e5, math.NaN(), instrument.ErrSpan},
		{"grade_a", unit.KindGaugePressure, 1e5, math.Inf(1), instrument.ErrSpan},
		{"grade_a", unit.KindGaugePressure, 1.01e5, 1e5, instrument.ErrSpan},
		{"grade_a", unit.KindGaugePressure, math.NaN(), 1e5, instrument.ErrSpan},
	} {
		if l, err := instrument.Of(tt.class, tt.kind, tt.value, tt.span); !errors.Is(err, tt.want) {
			t.Errorf("%q, %s, %g of %g: %+v, %v, want %v", tt.class, tt.kind, tt.value, tt.span, l, err, tt.want)
		}
	}
}

// What is assumed of an instrument of which nothing was said.
func TestDefaults(t *testing.T) {
	for _, tt := range []struct {
		kind      unit.Kind
		high      bool
		value, si float64
		source    string
	}{
		{unit.KindPressure, false, 9e5, psi(3.5), "CEC RA3 (2013), RA3.2.2.2.3"},
		{unit.KindGaugePressure, true, 25e5, psi(7), "CEC RA3 (2013), RA3.2.2.2.3"},
		{unit.KindTemperature, false, unit.Fahrenheit(50).Kelvin(), 1.35 / 1.8, "CEC RA3 (2008), RA3.2.2.2.1"},
		{unit.KindRatio, false, 0.5, 0.03, "common practice, no single source"},
		{unit.KindAirFlow, false, 0.5, 0.05, "common practice, no single source"},
	} {
		l := instrument.Default(tt.kind, tt.high, tt.value)
		if !near.Rel(l.SI, tt.si, 1e-9) || l.Source == "" {
			t.Errorf("%s, high side %v: %+v, want %g (%s)", tt.kind, tt.high, l, tt.si, tt.source)
		}
	}
}
