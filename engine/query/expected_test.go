package query_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

const expectedQuestion = `{"system":{"refrigerant":"R-410A","metering_device":"thermostatic_valve"},
	"readings":{"outdoor_dry_bulb":{"value":90,"unit":"degF"},"return_dry_bulb":{"value":76,"unit":"degF"},"return_relative_humidity":{"value":50,"unit":"percent"}%s}%s}`

func expected(t *testing.T, readings, rest string) query.ExpectedReadingsQuestion {
	t.Helper()
	return read[query.ExpectedReadingsQuestion](t, strings.Replace(strings.Replace(expectedQuestion, "%s", readings, 1), "%s", rest, 1))
}

func spreadOf(t *testing.T, list []query.ExpectedReading, name string) query.ExpectedReading {
	t.Helper()
	i := slices.IndexFunc(list, func(r query.ExpectedReading) bool { return r.Reading == name })
	if i < 0 {
		t.Fatalf("no %s in %s", name, text(t, list))
	}
	return list[i]
}

func TestExpectedReadingsNarrow(t *testing.T) {
	width := func(a query.ExpectedReadingsAnswer, name string) float64 {
		r := spreadOf(t, append(a.Scenarios[0].Readings, a.Scenarios[0].Quantities...), name)
		if !(r.Low.Value <= r.Median.Value && r.Median.Value <= r.High.Value) {
			t.Errorf("%s", text(t, r))
		}
		return r.High.Value - r.Low.Value
	}
	bare := answer(t, engine.ExpectedReadings, expected(t, "", ""))
	q := expected(t, "", "")
	q.System.TargetSubcooling = quantity(10, "delta_degF")
	plate := answer(t, engine.ExpectedReadings, q)
	if !(width(plate, "subcooling") < width(bare, "subcooling")/2) {
		t.Error("a target subcooling does not narrow the subcooling")
	}
	// What a system showed in order says what it will show.
	practice := answer(t, engine.ExpectedReadings, expected(t, "", `,"seed":3`)).Practice
	q = expected(t, "", "")
	q.Earlier = &query.EarlierReadings{Readings: practice.Readings}
	earlier := answer(t, engine.ExpectedReadings, q)
	for _, name := range []string{"suction_pressure", "liquid_pressure", "liquid_line_temperature"} {
		if !(width(earlier, name) < width(bare, name)) {
			t.Errorf("%s: earlier readings do not narrow", name)
		}
	}
	if !(earlier.EffectiveSystems < bare.EffectiveSystems) || bare.EffectiveSystems != float64(bare.Systems) {
		t.Errorf("effective %g, then %g", bare.EffectiveSystems, earlier.EffectiveSystems)
	}
}

// The example for practice can be asked about as it stands.
func TestPracticeIsAQuestion(t *testing.T) {
	q := expected(t, "", `,"fault":"undercharge","severity":{"value":30,"unit":"percent"},"seed":5`)
	one := answer(t, engine.ExpectedReadings, q)
	if again := answer(t, engine.ExpectedReadings, q); !reflect.DeepEqual(one, again) {
		t.Error("equal seeds have different examples")
	}
	if one.Practice.Fault != "undercharge" || one.Practice.Seed != 5 {
		t.Errorf("%s", text(t, one.Practice))
	}
	d := query.DiagnosisQuestion{Visit: q.Visit}
	d.Readings = one.Practice.Readings
	found := answer(t, engine.Diagnosis, d)
	require.NotNil(t, found.State.Superheat)
	require.NotNil(t, found.State.Subcooling)
	require.Empty(t, found.ReadingChecks)
}

func TestExpectedReadingsCompareAndSetBeside(t *testing.T) {
	q := expected(t, `,"suction_pressure":{"value":120,"unit":"psig"}`, `,"fault":"overcharge","severity":{"value":20,"unit":"percent"},"compare":"all"`)
	a := answer(t, engine.ExpectedReadings, q)
	var names []string
	for _, s := range a.Scenarios {
		names = append(names, s.Fault)
		r := spreadOf(t, s.Readings, "suction_pressure")
		require.NotNil(t, r.Read)
		require.Equal(t, 120.0, r.Read.Value)
		require.Equal(t, "psig", r.Median.Unit)
	}
	if want := []string{"no_fault", "overcharge", "undercharge", "low_indoor_airflow", "low_outdoor_airflow", "liquid_line_restriction", "non_condensables", "compressor_valve_leakage"}; !slices.Equal(names, want) {
		t.Errorf("%v", names)
	}
	s := a.Scenarios[1].Severity
	require.NotNil(t, s, "the severity asked for")
	require.Equal(t, s.High, s.Low, "the severity asked for")
	require.Equal(t, 20.0, s.Median.Value, "the severity asked for")
	if s := a.Scenarios[2].Severity; s == nil || !(s.Low.Value < s.High.Value) {
		t.Errorf("a severity not asked for: %s", text(t, s))
	}
}

func TestExpectedReadingsRefuse(t *testing.T) {
	for _, c := range []struct {
		name, body string
		want       []string
	}{
		{"nothing said", `{"system":{"refrigerant":"R-410A"}}`, []string{"/readings/outdoor_dry_bulb missing", "/readings/return_dry_bulb missing", "/readings/return_wet_bulb missing", "/system/metering_device missing"}},
		{"heating", strings.ReplaceAll(strings.Replace(expectedQuestion, `"metering_device"`, `"mode":"heating","metering_device"`, 1), "%s", ""), []string{"/system/mode out_of_range"}},
		{"fault and severity", strings.Replace(strings.Replace(expectedQuestion, "%s", "", 1), "%s", `,"fault":"gremlins","severity":{"value":140,"unit":"percent"}`, 1), []string{"/fault unknown_name", "/severity/value out_of_range"}},
		{"severity of nothing", strings.Replace(strings.Replace(expectedQuestion, "%s", "", 1), "%s", `,"severity":{"value":14,"unit":"percent"}`, 1), []string{"/severity contradiction"}},
		{"a critical point too low", strings.ReplaceAll(strings.Replace(expectedQuestion, "R-410A", "R-744", 1), "%s", ""), []string{"/system/refrigerant out_of_range"}},
		{"frost", strings.ReplaceAll(strings.Replace(expectedQuestion, `"value":90`, `"value":10`, 1), "%s", ""), []string{"/readings out_of_range"}},
		{"earlier", strings.Replace(strings.Replace(expectedQuestion, "%s", "", 1), "%s", `,"earlier":{"readings":{"outdoor_dry_bulb":{"value":80,"unit":"psig"}}}`, 1),
			[]string{"/earlier/readings/outdoor_dry_bulb/unit wrong_kind_of_unit", "/earlier/readings/outdoor_dry_bulb missing", "/earlier/readings/return_dry_bulb missing", "/earlier/readings/return_wet_bulb missing"}},
	} {
		if got := faults(t, engine.ExpectedReadings, read[query.ExpectedReadingsQuestion](t, c.body)); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	if _, err := engine.Until(func() bool { return true }).ExpectedReadings(expected(t, "", ""), query.Presentation{}); err != query.ErrStopped {
		t.Errorf("stopped: %v", err)
	}
}

func BenchmarkExpectedReadings(b *testing.B) {
	var q query.ExpectedReadingsQuestion
	require.NoError(b, json.Unmarshal([]byte(strings.Replace(strings.Replace(expectedQuestion, "%s", "", 1), "%s", `,"compare":"all"`, 1)), &q))
	for b.Loop() {
		if _, err := engine.ExpectedReadings(q, query.Presentation{}); err != nil {
			b.Fatal(err)
		}
	}
}
