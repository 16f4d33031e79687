package moistair

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/quick"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func readRows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/check/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, rec := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = rec[i]
		}
		if m["source"] == "" {
			t.Fatalf("%s: a row without a source: %v", name, rec)
		}
		rows = append(rows, m)
	}
	return rows
}

func number(t *testing.T, s string) (float64, bool) {
	t.Helper()
	if s == "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v, true
}

func mustFromRH(t *testing.T, p, c, percent float64) State {
	t.Helper()
	s, err := FromRelativeHumidity(unit.Pascal(p), unit.Celsius(c), unit.Fraction(percent/100))
	require.NoError(t, err, "%g degC, %g %%, %g Pa", c, percent, p)
	return s
}

// The computed rows print temperatures to 1e-4 degC, enthalpy to 0.01 J/kg and
// the rest to seven digits; half a digit is allowed beside 1e-6.
func TestComputedCheckValues(t *testing.T) {
	n, worst := 0, 0.0
	for _, row := range readRows(t, "moist_air.csv") {
		if row["kind"] != "computed" {
			continue
		}
		n++
		c, _ := number(t, row["dry_bulb_degc"])
		rh, _ := number(t, row["relative_humidity_percent"])
		p, _ := number(t, row["pressure_pa"])
		s := mustFromRH(t, p, c, rh)
		dew, err := s.DewPoint()
		require.NoError(t, err)
		for _, q := range []struct {
			column   string
			got, abs float64
		}{
			{"wet_bulb_degc", s.WetBulb().Celsius(), 0.6e-4},
			{"dew_point_degc", dew.Celsius(), 0.6e-4},
			{"humidity_ratio_kg_per_kg", s.HumidityRatio().KilogramPerKilogram(), 0},
			{"vapor_pressure_pa", s.VaporPressure().Pascal(), 0},
			{"enthalpy_j_per_kg", s.Enthalpy().JoulePerKilogram(), 0.006},
			{"volume_m3_per_kg", s.SpecificVolume().CubicMetrePerKilogram(), 0},
		} {
			want, ok := number(t, row[q.column])
			if !ok {
				continue
			}
			d := math.Abs(q.got - want)
			if !(d <= q.abs+1e-6*math.Abs(want)) {
				t.Errorf("%s at %g degC, %g %%, %g Pa: %.9g, want %s (%s)", q.column, c, rh, p, q.got, row[q.column], row["source"])
			}
			if q.abs == 0 {
				worst = math.Max(worst, d/want)
			}
		}
	}
	if n < 100 {
		t.Fatalf("only %d computed rows", n)
	}
	t.Logf("%d rows, worst relative deviation of ratio, pressure and volume %.2g", n, worst)
}

func TestPublishedCheckValues(t *testing.T) {
	n := 0
	for _, row := range readRows(t, "moist_air.csv") {
		if row["kind"] != "published" {
			continue
		}
		n++
		c, _ := number(t, row["dry_bulb_degc"])
		rel, ok := number(t, row["relative_tolerance"])
		if !ok {
			t.Fatal("a published row without tolerance")
		}
		p, ok := number(t, row["pressure_pa"])
		if !ok { // a row of the saturation table has no total pressure
			got, err := SaturationPressure(unit.Celsius(c))
			want, _ := number(t, row["vapor_pressure_pa"])
			require.NoError(t, err, "saturation pressure at %g degC", c)
			if !(math.Abs(got.Pascal()-want) <= rel*want) {
				t.Errorf("saturation pressure at %g degC: %.7g Pa, want %g (%s)", c, got.Pascal(), want, row["source"])
			}
			continue
		}
		var s State
		wet, byWet := number(t, row["wet_bulb_degc"])
		rh, hasRH := number(t, row["relative_humidity_percent"])
		if byWet {
			var err error
			s, err = FromWetBulb(unit.Pascal(p), unit.Celsius(c), unit.Celsius(wet))
			require.NoError(t, err)
		} else {
			s = mustFromRH(t, p, c, rh)
		}
		dew, err := s.DewPoint()
		require.NoError(t, err)
		dewAbs := 0.1
		if rh == 14 {
			dewAbs = 0.5 // read off the chart, as the file says
		}
		if want, ok := number(t, row["dew_point_degc"]); ok && !(math.Abs(dew.Celsius()-want) <= dewAbs) {
			t.Errorf("dew point at %g degC: %.5g, want %g (%s)", c, dew.Celsius(), want, row["source"])
		}
		if got := 100 * s.RelativeHumidity().Fraction(); hasRH && !(math.Abs(got-rh) <= 1) {
			t.Errorf("humidity at %g degC: %.5g %%, want %g (%s)", c, got, rh, row["source"])
		}
		for column, got := range map[string]float64{
			"humidity_ratio_kg_per_kg": s.HumidityRatio().KilogramPerKilogram(),
			"enthalpy_j_per_kg":        s.Enthalpy().JoulePerKilogram(),
			"volume_m3_per_kg":         s.SpecificVolume().CubicMetrePerKilogram(),
		} {
			if want, ok := number(t, row[column]); ok && !(math.Abs(got-want) <= rel*math.Abs(want)) {
				t.Errorf("%s at %g degC: %.7g, want %g (%s)", column, c, got, want, row["source"])
			}
		}
	}
	if n == 0 {
		t.Fatal("no published rows")
	}
}

func TestStandardPressure(t *testing.T) {
	const (
		foot = 0.3048
		inHg = 3386.389 // NIST SP 811 (2008) B.8
		psi  = 6894.757 // NIST SP 811 (2008) B.8
	)
	for _, tt := range []struct {
		metres, want, abs float64
		src               string
	}{
		{5000 * foot, 24.89 * inHg, 0.03 * inHg, "refrigeration manual altitude table, as copied in an engineering page"},
		{0, 14.696 * psi, 0.006 * psi, "ASHRAE Fundamentals ch. 1 Table 1 (I-P)"},
		{2000 * foot, 13.664 * psi, 0.006 * psi, "ASHRAE Fundamentals ch. 1 Table 1 (I-P)"},
		{6000 * foot, 11.778 * psi, 0.006 * psi, "ASHRAE Fundamentals ch. 1 Table 1 (I-P)"},
		{9000 * foot, 10.506 * psi, 0.006 * psi, "ASHRAE Fundamentals ch. 1 Table 1 (I-P)"},
		{20000 * foot, 6.758 * psi, 0.006 * psi, "ASHRAE Fundamentals ch. 1 Table 1 (I-P)"},
		{1000, 89875, 6, "ASHRAE Fundamentals (2017) ch. 1 Table 1 (SI), as used in the PsychroLib test suite"},
		{6000 * foot, 23.98 * inHg, 0.02 * inHg, "US HVAC design guide (2006) Table 6a"},
		{7500 * foot, 22.65 * inHg, 0.02 * inHg, "US HVAC design guide (2006) Table 6a"},
	} {
		got, err := StandardPressure(unit.Metre(tt.metres))
		require.NoError(t, err, "standard pressure at %.1f m", tt.metres)
		if !(math.Abs(got.Pascal()-tt.want) <= tt.abs) {
			t.Errorf("standard pressure at %.1f m: %.6g Pa, want %.6g within %.2g (%s)", tt.metres, got.Pascal(), tt.want, tt.abs, tt.src)
		}
	}
	var r *InputError
	for _, z := range []float64{-5001, 11001, math.NaN(), math.Inf(1)} {
		if _, err := StandardPressure(unit.Metre(z)); !errors.As(err, &r) {
			t.Errorf("altitude %g m: %v, want a range error", z, err)
		}
	}
}

// draw makes a plausible and sometimes extreme state from two random words.
func draw(a, b, c uint16) State {
	u := func(v uint16) float64 { return float64(v) / 65535 }
	s, err := FromRelativeHumidity(unit.Pascal(30e3+80e3*u(c)), unit.Celsius(-60+120*u(a)), unit.Fraction(u(b)))
	if err != nil {
		return State{}
	}
	return s
}

func TestEveryWayInGivesTheSameState(t *testing.T) {
	same := func(way string, s, r State, err error) bool {
		if err == nil && near.Sum(r.vapor, s.vapor, 1e-8, 1e-9) && near.Sum(r.wet, s.wet, 0, 1e-8) {
			return true
		}
		t.Logf("by %s: %+v became %+v, %v", way, s, r, err)
		return false
	}
	f := func(a, b, c uint16) bool {
		s := draw(a, b, c)
		if s.p == 0 {
			return true // saturated vapour above the total pressure
		}
		p, dry := s.Pressure(), s.DryBulb()
		byWet, err := FromWetBulb(p, dry, s.WetBulb())
		if !same("wet bulb", s, byWet, err) {
			return false
		}
		byRatio, err := FromHumidityRatio(p, dry, s.HumidityRatio())
		if !same("humidity ratio", s, byRatio, err) {
			return false
		}
		dew, err := s.DewPoint()
		if errors.Is(err, ErrNoDewPoint) {
			return s.vapor < 0.0015 // the ice correlation at -100 degC gives 0.0014 Pa
		}
		byDew, err2 := FromDewPoint(p, dry, dew)
		return err == nil && same("dew point", s, byDew, err2)
	}
	require.NoError(t, quick.Check(f, &quick.Config{MaxCount: 4000}))
}

func TestOrderOfTemperatures(t *testing.T) {
	f := func(a, b, c uint16) bool {
		s := draw(a, b, c)
		dew, err := s.DewPoint()
		return s.p == 0 || s.wet <= s.dry && (err != nil || s.wet < 0.3 && s.wet > -0.3 || dew.Celsius() <= s.wet+1e-9)
	}
	require.NoError(t, quick.Check(f, &quick.Config{MaxCount: 4000}))
	// Saturated air: the three are one, and no rounding puts them out of order.
	for a := range uint16(1000) {
		if !f(65*a, 0xffff, 65*(999-a)) {
			t.Errorf("out of order: saturated air drawn from %d", a)
		}
	}
	if !f(0xa7d4, 0xffff, 0x922d) {
		t.Error("out of order: saturated air at 18.67 degC and 75.7 kPa")
	}
}

func TestMoreWaterMovesEverythingUp(t *testing.T) {
	for _, c := range []float64{-30, -2, 0, 1, 4, 20, 45} {
		before := mustFromRH(t, 95e3, c, 0)
		for rh := 1.; rh <= 100; rh++ {
			s := mustFromRH(t, 95e3, c, rh)
			if !(s.wet > before.wet && s.w > before.w && s.vapor > before.vapor &&
				s.Enthalpy().JoulePerKilogram() > before.Enthalpy().JoulePerKilogram() &&
				s.SpecificVolume().CubicMetrePerKilogram() > before.SpecificVolume().CubicMetrePerKilogram() &&
				s.Density().KilogramPerCubicMetre() < before.Density().KilogramPerCubicMetre()) {
				t.Errorf("at %g degC from %g to %g %%: %+v then %+v", c, rh-1, rh, before, s)
			}
			before = s
		}
		if !near.Sum(before.wet, c, 0, 1e-9) {
			t.Errorf("saturated at %g degC has a wet bulb of %g", c, before.wet)
		}
	}
}

func TestSaturationPressureRisesAndItsSlopeIsItsDerivative(t *testing.T) {
	last := 0.0
	for c := coldest; c <= hottest; c += 0.37 {
		p, slope := saturation(c)
		if !(p > last) {
			t.Fatalf("not rising at %g degC", c)
		}
		last = p
		lo, _ := saturation(c - 1e-3)
		hi, _ := saturation(c + 1e-3)
		if (c-1e-3 > triple || c+1e-3 <= triple) && !near.Sum(slope, (hi-lo)/2e-3, 1e-6, 0) {
			t.Errorf("slope at %g degC: %g, by differences %g", c, slope, (hi-lo)/2e-3)
		}
	}
}

func TestDensityIsTotalMassOverVolume(t *testing.T) {
	s := mustFromRH(t, 101325, 30, 60)
	// both gases by their own gas law; 461.52 J/(kg K) is R/M of water (CODATA R, M = 18.01527 g/mol)
	want := (s.p-s.vapor)/(287.042*303.15) + s.vapor/(461.52*303.15)
	if got := s.Density().KilogramPerCubicMetre(); !near.Sum(got, want, 2e-5, 0) {
		t.Errorf("density %g, want %g", got, want)
	}
	mu, err := mustFromRH(t, 101325, 30, 100).DegreeOfSaturation()
	require.NoError(t, err)
	if !near.Sum(mu.Fraction(), 1, 1e-12, 0) {
		t.Errorf("degree of saturation of saturated air %v", mu)
	}
}

func TestSlopesOfWetBulb(t *testing.T) {
	wet := func(s State) (float64, error) { return s.WetBulb().Kelvin(), nil }
	for _, tt := range []struct{ c, rh float64 }{{27, 50}, {24, 100}, {40, 10}, {-5, 60}, {35, 0}} {
		g, err := mustFromRH(t, 95e3, tt.c, tt.rh).Slopes(wet)
		require.NoError(t, err)
		// implicit differentiation of the balance, the dry bulb at constant humidity
		s := mustFromRH(t, 95e3, tt.c, tt.rh)
		ice := s.wet < 0
		_, inWet := balance(s.dry, s.w, s.p, s.wet, ice)
		_, slope := saturation(s.dry)
		rh := tt.rh / 100
		dwdv := massRatio * s.p / ((s.p - s.vapor) * (s.p - s.vapor))
		b0, _ := balance(s.dry, 0, s.p, s.wet, ice)
		b1, _ := balance(s.dry, 1, s.p, s.wet, ice)
		wantRH := (b0 - b1) * dwdv * s.full / inWet
		wantDry := ((b0-b1)*dwdv*rh*slope + 1.006 + 1.86*s.w) / inWet
		if tt.rh == 0 || tt.rh == 100 {
			if !near.Sum(g.Humidity, wantRH, 1e-3, 0) || !near.Sum(g.DryBulb, wantDry, 1e-3, 0) {
				t.Errorf("%+v: %+v, want dry %g, humidity %g", tt, g, wantDry, wantRH)
			}
			continue
		}
		if !near.Sum(g.Humidity, wantRH, 1e-5, 0) || !near.Sum(g.DryBulb, wantDry, 1e-5, 0) {
			t.Errorf("%+v: %+v, want dry %g, humidity %g", tt, g, wantDry, wantRH)
		}
	}
	s, err := FromWetBulb(unit.Pascal(95e3), unit.Celsius(27), unit.Celsius(19))
	require.NoError(t, err)
	g, err := s.Slopes(wet)
	require.NoError(t, err, "a wet bulb that was given")
	if !near.Sum(g.Humidity, 1, 1e-9, 0) || g.DryBulb != 0 || g.Pressure != 0 {
		t.Errorf("a wet bulb that was given: %+v", g)
	}
}

func TestRefusals(t *testing.T) {
	p, c := unit.StandardAtmosphere(), unit.Celsius
	rangeErr := &InputError{}
	for _, tt := range []struct {
		name string
		make func() (State, error)
		want error
	}{
		{"wet above dry", func() (State, error) { return FromWetBulb(p, c(20), c(20.01)) }, ErrWetBulbAboveDryBulb},
		{"wet too low", func() (State, error) { return FromWetBulb(p, c(40), c(10)) }, ErrWetBulbTooLow},
		{"wet NaN", func() (State, error) { return FromWetBulb(p, c(40), c(math.NaN())) }, rangeErr},
		{"dry NaN", func() (State, error) { return FromWetBulb(p, c(math.NaN()), c(10)) }, rangeErr},
		{"dry -101", func() (State, error) { return FromRelativeHumidity(p, c(-101), unit.Fraction(0.5)) }, rangeErr},
		{"dry 201", func() (State, error) { return FromRelativeHumidity(p, c(201), unit.Fraction(0.5)) }, rangeErr},
		{"pressure zero", func() (State, error) { return FromRelativeHumidity(unit.Pressure{}, c(20), unit.Fraction(0.5)) }, rangeErr},
		{"pressure NaN", func() (State, error) { return FromRelativeHumidity(unit.Pascal(math.NaN()), c(20), unit.Fraction(0.5)) }, rangeErr},
		{"101 percent", func() (State, error) { return FromRelativeHumidity(p, c(20), unit.Fraction(1.01)) }, ErrRelativeHumidity},
		{"-1 percent", func() (State, error) { return FromRelativeHumidity(p, c(20), unit.Fraction(-0.01)) }, ErrRelativeHumidity},
		{"NaN percent", func() (State, error) { return FromRelativeHumidity(p, c(20), unit.Fraction(math.NaN())) }, ErrRelativeHumidity},
		{"dew above dry", func() (State, error) { return FromDewPoint(p, c(20), c(21)) }, ErrDewPointAboveDryBulb},
		{"negative ratio", func() (State, error) { return FromHumidityRatio(p, c(20), unit.KilogramPerKilogram(-1e-9)) }, ErrHumidityRatio},
		{"NaN ratio", func() (State, error) { return FromHumidityRatio(p, c(20), unit.KilogramPerKilogram(math.NaN())) }, ErrHumidityRatio},
		{"supersaturated", func() (State, error) { return FromHumidityRatio(p, c(20), unit.KilogramPerKilogram(0.016)) }, ErrSupersaturated},
		{"saturated above boiling", func() (State, error) { return FromRelativeHumidity(p, c(120), unit.Fraction(1)) }, ErrAboveBoiling},
		{"wet bulb above boiling", func() (State, error) { return FromWetBulb(p, c(150), c(110)) }, ErrAboveBoiling},
		{"wet bulb below range", func() (State, error) { return FromRelativeHumidity(p, c(-100), unit.Fraction(0.1)) }, ErrNoWetBulb},
	} {
		_, err := tt.make()
		if tt.want == error(rangeErr) {
			var r *InputError
			if !errors.As(err, &r) || r.Reason != input.OutOfRange {
				t.Errorf("%s: %v, want a range error", tt.name, err)
			}
		} else if !errors.Is(err, tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, err, tt.want)
		}
		if err != nil && !strings.HasPrefix(err.Error(), "moistair: ") {
			t.Errorf("%s: message %q lacks its package", tt.name, err)
		}
	}
	if _, err := mustFromRH(t, 101325, 20, 0).DewPoint(); !errors.Is(err, ErrNoDewPoint) {
		t.Errorf("dew point of dry air: %v", err)
	}
	if _, err := mustFromRH(t, 101325, 150, 1).DegreeOfSaturation(); !errors.Is(err, ErrAboveBoiling) {
		t.Errorf("degree of saturation at 150 degC: %v", err)
	}
}

func TestSlopesOfVolumeWithPressure(t *testing.T) {
	s := mustFromRH(t, 90e3, 26, 45)
	g, err := s.Slopes(func(s State) (float64, error) { return s.SpecificVolume().CubicMetrePerKilogram(), nil })
	require.NoError(t, err)
	w := s.w
	dwdp := -massRatio * s.vapor / ((s.p - s.vapor) * (s.p - s.vapor))
	want := dryAirGas * (26 + celsiusZero) * (1.607858*dwdp/s.p - (1+1.607858*w)/(s.p*s.p))
	if !near.Sum(g.Pressure, want, 1e-6, 0) {
		t.Errorf("volume by pressure %g, want %g", g.Pressure, want)
	}
}

func ExampleFromRelativeHumidity() {
	s, err := FromRelativeHumidity(unit.StandardAtmosphere(), unit.Fahrenheit(80), unit.Fraction(0.5))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("wet bulb %.1f degF\n", s.WetBulb().Fahrenheit())
	// Output: wet bulb 66.7 degF
}
