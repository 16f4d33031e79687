package query_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

// readings makes a question about R-410A of readings alone.
func readings(list string) string {
	return `{"system": {"refrigerant": "R-410A"}, "readings": {` + list + `}}`
}

const suction = `"suction_pressure": {"value": 118, "unit": "psig"}`

// What can be read and still not be answered, or not even be read: every fault
// of a question at once, each at its place.
func TestRefusedReadings(t *testing.T) {
	for _, tt := range []struct{ name, body, want string }{
		{"unknown unit", readings(`"suction_pressure": {"value": 118, "unit": "psi"}`), "/readings/suction_pressure/unit unknown_unit"},
		{"missing unit", readings(`"suction_pressure": {"value": 118}`), "/readings/suction_pressure/unit missing_unit"},
		{"missing value", readings(`"suction_pressure": {"unit": "psig"}`), "/readings/suction_pressure/value missing_value"},
		{"nothing in a quantity", readings(`"suction_pressure": {}`), "/readings/suction_pressure/unit missing_unit, /readings/suction_pressure/value missing_value"},
		{"a difference for a temperature", readings(`"suction_line_temperature": {"value": 50, "unit": "delta_degF"}`), "/readings/suction_line_temperature/unit wrong_kind_of_unit"},
		{"a temperature for a pressure", readings(`"suction_pressure": {"value": 50, "unit": "degF"}`), "/readings/suction_pressure/unit wrong_kind_of_unit"},
		{"a temperature for a difference", `{"system": {"refrigerant": "R-410A", "target_subcooling": {"value": 10, "unit": "degF"}}, "readings": {` + suction + `}}`, "/system/target_subcooling/unit wrong_kind_of_unit"},
		{"a gauge for the air's pressure", `{"system": {"refrigerant": "R-410A"}, "site": {"atmospheric_pressure": {"value": 14.7, "unit": "psig"}}, "readings": {` + suction + `}}`, "/site/atmospheric_pressure/unit wrong_kind_of_unit"},
		{"below absolute zero", readings(`"outdoor_dry_bulb": {"value": -500, "unit": "degF"}`), "/readings/outdoor_dry_bulb/value out_of_range"},
		{"a cold that no thermometer meets", readings(`"outdoor_dry_bulb": {"value": -200, "unit": "degF"}`), "/readings/outdoor_dry_bulb/value out_of_range"},
		{"a negative absolute pressure", readings(`"suction_pressure": {"value": -1, "unit": "psia"}`), "/readings/suction_pressure/value out_of_range"},
		{"deeper than a perfect vacuum", readings(`"suction_pressure": {"value": -15, "unit": "psig"}`), "/readings/suction_pressure/value out_of_range"},
		{"a vacuum deeper than the air is heavy", readings(`"suction_pressure": {"value": 30, "unit": "inHgv"}`), "/readings/suction_pressure/value out_of_range"},
		{"the same vacuum higher up", `{"system": {"refrigerant": "R-410A"}, "site": {"altitude": {"value": 6000, "unit": "ft"}}, "readings": {"suction_pressure": {"value": 25, "unit": "inHgv"}}}`, "/readings/suction_pressure/value out_of_range"},
		{"a negative depth of vacuum", readings(`"suction_pressure": {"value": -10, "unit": "inHgv"}`), "/readings/suction_pressure/value out_of_range"},
		{"all but a perfect vacuum", readings(`"suction_pressure": {"value": 1e-200, "unit": "psia"}`), "/readings/suction_pressure/value out_of_range"},
		{"more pressure than any hose holds", readings(`"liquid_pressure": {"value": 3000, "unit": "psig"}`), "/readings/liquid_pressure/value out_of_range"},
		{"more than all humidity", readings(`"return_relative_humidity": {"value": 101, "unit": "percent"}`), "/readings/return_relative_humidity/value out_of_range"},
		{"negative air flow", readings(`"indoor_airflow": {"value": -1, "unit": "cfm"}`), "/readings/indoor_airflow/value out_of_range"},
		{"a storm of air", readings(`"indoor_airflow": {"value": 1e300, "unit": "cfm"}`), "/readings/indoor_airflow/value out_of_range"},
		{"negative accuracy", readings(`"suction_pressure": {"value": 118, "unit": "psig", "accuracy": -1}`), "/readings/suction_pressure/accuracy out_of_range"},
		{"an accuracy that says nothing", readings(`"suction_pressure": {"value": 118, "unit": "psig", "accuracy": 1e200}`), "/readings/suction_pressure/accuracy out_of_range"},
		{"unknown basis of an accuracy", readings(`"suction_pressure": {"value": 118, "unit": "psig", "accuracy": 1, "accuracy_basis": "normal95"}`), "/readings/suction_pressure/accuracy_basis unknown_name"},
		{"two pressures of the air that disagree", `{"system": {"refrigerant": "R-410A"}, "site": {"altitude": {"value": 5000, "unit": "ft"}, "atmospheric_pressure": {"value": 29.92, "unit": "inHga"}}, "readings": {` + suction + `}}`, "/site/atmospheric_pressure/value contradiction"},
		{"an altitude above the air", `{"system": {"refrigerant": "R-410A"}, "site": {"altitude": {"value": 60000, "unit": "ft"}}, "readings": {` + suction + `}}`, "/site/altitude/value out_of_range"},
		{"air of a whole other planet", `{"system": {"refrigerant": "R-410A"}, "site": {"atmospheric_pressure": {"value": 9, "unit": "bara"}}, "readings": {` + suction + `}}`, "/site/atmospheric_pressure/value out_of_range"},
		{"no readings", readings(``), "/readings missing"},
		{"a reading that leads nowhere alone", readings(`"return_wet_bulb": {"value": 64, "unit": "degF"}`), "/readings missing"},
		{"no refrigerant", `{"system": {}, "readings": {` + suction + `}}`, "/system/refrigerant missing"},
		{"nothing at all", `{}`, "/system/refrigerant missing"},
		{"unknown names", `{"system": {"refrigerant": "R-410B9", "mode": "coling", "metering_device": "txv", "kind": "Split", "condenser_coil": "micro-channel"}, "site": {"gauge_zero": "sealevel"}, "readings": {` + suction + `}}`,
			"/system/mode unknown_name, /system/metering_device unknown_name, /system/kind unknown_name, /system/condenser_coil unknown_name, /system/refrigerant unknown_refrigerant, /site/gauge_zero unknown_name"},
		{"a refrigerant and a composition", `{"system": {"refrigerant": "R-32", "composition": [{"refrigerant": "R-32", "mass_percent": 100}]}, "readings": {` + suction + `}}`, "/system/composition contradiction"},
		{"rated efficiency", `{"system": {"refrigerant": "R-410A", "rated_efficiency": {"metric": "COP", "value": -3}}, "readings": {` + suction + `}}`, "/system/rated_efficiency/metric unknown_name, /system/rated_efficiency/value out_of_range"},
		{"empty rated efficiency", `{"system": {"refrigerant": "R-410A", "rated_efficiency": {}}, "readings": {` + suction + `}}`, "/system/rated_efficiency/metric missing, /system/rated_efficiency/value missing_value"},
		{"negative lengths and targets", `{"system": {"refrigerant": "R-410A", "target_superheat": {"value": -5, "unit": "delta_degF"}, "nominal_capacity": {"value": 0, "unit": "ton"}, "line_set": {"length": {"value": -1, "unit": "ft"}, "wall_thickness": {"value": -1, "unit": "mm"}}}, "readings": {` + suction + `}}`,
			"/system/nominal_capacity/value out_of_range, /system/target_superheat/value out_of_range, /system/line_set/length/value out_of_range, /system/line_set/wall_thickness/value out_of_range"},
		{"instruments", `{"system": {"refrigerant": "R-410A"}, "readings": {` + suction + `}, "instruments": {
			"suction_pressure": {"accuracy_class": "grade_1b"}, "liquid_pressure": {"accuracy_class": "grade_1a"}, "discharge_pressure": {"accuracy_class": "grade_1a", "accuracy": {"value": 1, "unit": "psig"}},
			"outdoor_dry_bulb": {"accuracy_class": "grade_1a", "span": {"value": 500, "unit": "psig"}}, "return_dry_bulb": {"accuracy": {"value": 1, "unit": "degF"}}, "supply_dry_bulb": {"accuracy": {"value": -1, "unit": "delta_degF"}},
			"return_wet_bulb": {"accuracy_class": "grade_1a"}}}`,
			"/instruments/suction_pressure/accuracy_class unknown_name, /instruments/liquid_pressure/span missing, /instruments/discharge_pressure contradiction, /instruments/outdoor_dry_bulb/span/unit wrong_kind_of_unit, " +
				"/instruments/return_dry_bulb/accuracy/unit wrong_kind_of_unit, /instruments/return_wet_bulb/accuracy_class contradiction, /instruments/supply_dry_bulb/accuracy/value out_of_range"},
		{"a span too long", `{"system": {"refrigerant": "R-410A"}, "readings": {` + suction + `}, "instruments": {"suction_pressure": {"accuracy_class": "grade_a", "span": {"value": 1e300, "unit": "psig"}}}}`, "/instruments/suction_pressure/span/value out_of_range"},
		{"a reading beyond its gauge", `{"system": {"refrigerant": "R-410A"}, "readings": {` + suction + `}, "instruments": {"suction_pressure": {"accuracy_class": "grade_a", "span": {"value": 100, "unit": "psig"}}}}`, "/readings/suction_pressure/value out_of_range"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := faults(t, engine.SuperheatSubcooling, read[query.SuperheatSubcoolingQuestion](t, tt.body))
			if strings.Join(got, ", ") != tt.want {
				t.Errorf("got  %s\nwant %s", strings.Join(got, ", "), tt.want)
			}
			// The same faults, whichever operation reads the same blocks.
			if again := faults(t, engine.Diagnosis, read[query.DiagnosisQuestion](t, tt.body)); !slices.Equal(got, again) {
				t.Errorf("diagnosis says %v, superheat and subcooling %v", again, got)
			}
		})
	}
}

func TestRefusedDiagnosis(t *testing.T) {
	for _, tt := range []struct{ name, more, want string }{
		{"time in feet", `, "running_time": {"value": 5, "unit": "ft"}`, "/running_time/unit wrong_kind_of_unit"},
		{"negative time", `, "running_time": {"value": -5, "unit": "min"}`, "/running_time/value out_of_range"},
		{"unknown hypotheses", `, "prior": {"under_charge": 0.5, "a/b~c": 0.1}`, "/prior/a~1b~0c unknown_name, /prior/under_charge unknown_name"},
		{"no probabilities", `, "prior": {"undercharge": 2, "no_fault": -1}`, "/prior/no_fault out_of_range, /prior/undercharge out_of_range"},
		{"more than certain", `, "prior": {"undercharge": 0.7, "no_fault": 0.7}`, "/prior out_of_range"},
	} {
		body := `{"system": {"refrigerant": "R-410A", "metering_device": "thermostatic_valve"}, "readings": {` + suction + `, "suction_line_temperature": {"value": 50, "unit": "degF"}}` + tt.more + `}`
		if got := faults(t, engine.Diagnosis, read[query.DiagnosisQuestion](t, body)); strings.Join(got, ", ") != tt.want {
			t.Errorf("%s: got %v, want %s", tt.name, got, tt.want)
		}
	}
}

// JSON has no NaN and no infinity, callers in Go have.
func TestRefusesWhatIsNoNumber(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		visit := query.Visit{
			System: query.System{Refrigerant: "R-410A", TargetSubcooling: quantity(v, "delta_degF"), RatedEfficiency: &query.Efficiency{Metric: "SEER", Value: &v}},
			Site:   query.Site{Altitude: quantity(v, "ft")},
			Readings: query.Readings{SuctionPressure: quantity(v, "psig"), OutdoorDryBulb: quantity(v, "degC"),
				ReturnRelativeHumidity: quantity(v, "percent"), IndoorAirflow: quantity(v, "cfm")},
			Instruments: query.Instruments{ReturnDryBulb: &query.Instrument{Accuracy: quantity(v, "delta_degF")}},
		}
		want := []string{"/system/rated_efficiency/value out_of_range", "/system/target_subcooling/value out_of_range", "/site/altitude/value out_of_range",
			"/readings/suction_pressure/value out_of_range", "/readings/outdoor_dry_bulb/value out_of_range", "/readings/return_relative_humidity/value out_of_range", "/readings/indoor_airflow/value out_of_range"}
		got := faults(t, engine.Diagnosis, query.DiagnosisQuestion{Visit: visit, Prior: map[string]float64{"no_fault": v}})
		for _, w := range want {
			if !slices.Contains(got, w) {
				t.Errorf("%v: %s is missing in %v", v, w, got)
			}
		}
		if !slices.ContainsFunc(got, func(f string) bool { return strings.HasPrefix(f, "/instruments/return_dry_bulb/accuracy/value ") }) {
			t.Errorf("%v: the accuracy is missing in %v", v, got)
		}
		q := quantity(118, "psig")
		q.Accuracy = &v
		point := faults(t, engine.SaturationPoints, query.SaturationPointsQuestion{Refrigerant: "R-22", Points: []query.PointQuestion{{Pressure: q}, {Pressure: quantity(v, "psia")}, {Temperature: quantity(v, "K")}}})
		if want := []string{"/points/0/pressure/accuracy out_of_range", "/points/1/pressure/value out_of_range", "/points/2/temperature/value out_of_range"}; !slices.Equal(point, want) {
			t.Errorf("%v: got %v, want %v", v, point, want)
		}
		prior := map[string]float64{"no_fault": v}
		if got := faults(t, engine.Diagnosis, query.DiagnosisQuestion{Visit: query.Visit{System: query.System{Refrigerant: "R-22", MeteringDevice: "capillary_tube"}, Readings: query.Readings{SuctionPressure: quantity(60, "psig")}}, Prior: prior}); !slices.Equal(got, []string{"/prior/no_fault out_of_range"}) {
			t.Errorf("prior %v: got %v", v, got)
		}
	}
}

func TestRefusedCompositions(t *testing.T) {
	var eleven []string
	for _, name := range []string{"R-32", "R-125", "R-134a", "R-143a", "R-152a", "R-1234yf", "R-1234ze(E)", "R-290", "R-600a", "R-744", "R-23"} {
		eleven = append(eleven, fmt.Sprintf(`{"refrigerant": %q, "mass_percent": %v}`, name, 100./11))
	}
	for _, tt := range []struct{ name, list, want string }{
		{"sum", `[{"refrigerant": "R-32", "mass_percent": 50}, {"refrigerant": "R-125", "mass_percent": 49}]`, "/composition out_of_range"},
		{"twice", `[{"refrigerant": "R-32", "mass_percent": 50}, {"refrigerant": "r32", "mass_percent": 50}]`, "/composition out_of_range"},
		{"blend inside", `[{"refrigerant": "R-410A", "mass_percent": 50}, {"refrigerant": "R-32", "mass_percent": 50}]`, "/composition/0/refrigerant out_of_range"},
		{"eleven", `[` + strings.Join(eleven, ", ") + `]`, "/composition out_of_range"},
		{"none", `[]`, "/composition out_of_range"},
		{"missing share", `[{"refrigerant": "R-32"}, {"refrigerant": "R-125", "mass_percent": 50}]`, "/composition/0/mass_percent missing_value"},
		{"missing name", `[{"mass_percent": 50}, {"refrigerant": "R-125", "mass_percent": 50}]`, "/composition/0/refrigerant unknown_refrigerant"},
		{"shares that are none", `[{"refrigerant": "R-32", "mass_percent": 0}, {"refrigerant": "R-125", "mass_percent": -5}, {"refrigerant": "R-134a", "mass_percent": 105}]`,
			"/composition/0/mass_percent out_of_range, /composition/1/mass_percent out_of_range, /composition/2/mass_percent out_of_range"},
	} {
		q := read[query.SaturationPointsQuestion](t, `{"composition": `+tt.list+`, "points": [{"temperature": {"value": 40, "unit": "degF"}}]}`)
		if got := faults(t, engine.SaturationPoints, q); strings.Join(got, ", ") != tt.want {
			t.Errorf("%s: got %v, want %s", tt.name, got, tt.want)
		}
	}
}

func TestRefusedSaturation(t *testing.T) {
	for _, tt := range []struct {
		name string
		q    query.SaturationQuestion
		want string
	}{
		{"neither", query.SaturationQuestion{Designation: "R-22"}, "pressure missing"},
		{"both", query.SaturationQuestion{Designation: "R-22", Pressure: quantity(1, "bara"), Temperature: quantity(1, "degC")}, "temperature contradiction"},
		{"pressure above critical", query.SaturationQuestion{Designation: "R-22", Pressure: quantity(800, "psig")}, "pressure above_critical"},
		{"temperature above critical", query.SaturationQuestion{Designation: "R-744", Temperature: quantity(95, "degF")}, "temperature above_critical"},
		{"below the equation", query.SaturationQuestion{Designation: "R-22", Pressure: quantity(1e-30, "Paa")}, "pressure below_range"},
		{"bad altitude and bad unit", query.SaturationQuestion{Designation: "R-22", Temperature: quantity(1, "delta_degC"), Site: query.Site{Altitude: quantity(1, "degF")}}, "altitude wrong_kind_of_unit, temperature wrong_kind_of_unit"},
	} {
		if got := faults(t, engine.Saturation, tt.q); strings.Join(got, ", ") != tt.want {
			t.Errorf("%s: got %v, want %s", tt.name, got, tt.want)
		}
	}
	_, err := engine.Saturation(query.SaturationQuestion{Designation: "R-1234ze", Temperature: quantity(1, "degC")}, query.Presentation{})
	var unknown *refrigerant.UnknownError
	require.ErrorAs(t, err, &unknown, "R-1234ze")
	require.GreaterOrEqual(t, len(unknown.Nearest), 2, "R-1234ze")
	require.Equal(t, "R-1234ze(E)", unknown.Nearest[0], "R-1234ze")
	require.Equal(t, "R-1234ze(Z)", unknown.Nearest[1], "R-1234ze")
	if _, err = engine.Refrigerant(query.RefrigerantQuestion{Designation: "R-99999"}, query.Presentation{}); !errors.As(err, &unknown) {
		t.Errorf("R-99999: %v", err)
	}

	// Among many points one has its problem and the others their answers.
	a := answer(t, engine.SaturationPoints, read[query.SaturationPointsQuestion](t, `{"refrigerant": "R-22", "points": [{"temperature": {"value": 40, "unit": "degF"}}, {"pressure": {"value": 9, "unit": "MPaa"}}, {"temperature": {"value": 50, "unit": "degF"}}]}`))
	require.Nil(t, a.Points[0].Problem)
	require.Nil(t, a.Points[2].Problem)
	require.NotNil(t, a.Points[1].Problem)
	require.Equal(t, query.CodeAboveCritical, a.Points[1].Problem.Code)
	require.Equal(t, "/points/1/pressure", a.Points[1].Problem.Pointer)
	require.Nil(t, a.Points[1].DewTemperature)
	for _, tt := range []struct{ body, want string }{
		{`{"refrigerant": "R-22"}`, "/points missing"},
		{`{}`, "/refrigerant missing, /points missing"},
		{`{"refrigerant": "R-22", "points": [{}, {"pressure": {"value": 1, "unit": "bara"}, "temperature": {"value": 1, "unit": "degC"}}]}`, "/points/0 missing, /points/1/temperature contradiction"},
	} {
		if got := faults(t, engine.SaturationPoints, read[query.SaturationPointsQuestion](t, tt.body)); strings.Join(got, ", ") != tt.want {
			t.Errorf("%s: got %v, want %s", tt.body, got, tt.want)
		}
	}
	many := query.SaturationPointsQuestion{Refrigerant: "R-22", Points: make([]query.PointQuestion, query.MaxPoints+1)}
	if got := faults(t, engine.SaturationPoints, many); !slices.Equal(got, []string{"/points too_many"}) {
		t.Errorf("too many points: %d faults, first %v", len(got), got[0])
	}
}

func TestRefusedAir(t *testing.T) {
	for _, tt := range []struct{ name, body, want string }{
		{"nothing", `{}`, "/dry_bulb missing, /relative_humidity missing"},
		{"two measures of humidity", `{"dry_bulb": {"value": 75, "unit": "degF"}, "wet_bulb": {"value": 60, "unit": "degF"}, "dew_point": {"value": 50, "unit": "degF"}}`, "/dew_point contradiction"},
		{"wet bulb above dry bulb", `{"dry_bulb": {"value": 75, "unit": "degF"}, "wet_bulb": {"value": 80, "unit": "degF"}}`, "/wet_bulb out_of_range"},
		{"drier than dry", `{"dry_bulb": {"value": 75, "unit": "degF"}, "wet_bulb": {"value": 10, "unit": "degF"}}`, "/wet_bulb out_of_range"},
		{"more than all humidity", `{"dry_bulb": {"value": 75, "unit": "degF"}, "relative_humidity": {"value": 120, "unit": "percent"}}`, "/relative_humidity out_of_range"},
		{"dew point above dry bulb", `{"dry_bulb": {"value": 75, "unit": "degF"}, "dew_point": {"value": 80, "unit": "degF"}}`, "/dew_point out_of_range"},
		{"supersaturated", `{"dry_bulb": {"value": 75, "unit": "degF"}, "humidity_ratio": {"value": 500, "unit": "gr/lb"}}`, "/humidity_ratio out_of_range"},
		{"hotter than the correlations", `{"dry_bulb": {"value": 900, "unit": "degF"}, "relative_humidity": {"value": 1, "unit": "percent"}}`, "/dry_bulb out_of_range"},
	} {
		if got := faults(t, engine.MoistAir, read[query.MoistAirQuestion](t, tt.body)); strings.Join(got, ", ") != tt.want {
			t.Errorf("%s: got %v, want %s", tt.name, got, tt.want)
		}
	}
	if got := faults(t, engine.TargetSuperheat, query.TargetSuperheatQuestion{}); !slices.Equal(got, []string{"/readings missing"}) {
		t.Errorf("no readings: %v", got)
	}
}

// A refusal is unreadable where it names no unit, no known name or no number,
// and the nearest name comes with it.
func TestRefusalSaysWhatWasMeant(t *testing.T) {
	for _, tt := range []struct {
		body, said string
		unreadable bool
	}{
		{readings(`"suction_pressure": {"value": 118, "unit": "psi"}`), `did you mean "psig"?`, true},
		{`{"system": {"refrigerant": "R-410A", "mode": "coling"}, "readings": {` + suction + `}}`, `did you mean "cooling"?`, true},
		{`{"system": {"refrigerant": "R-410"}, "readings": {` + suction + `}}`, "did you mean R-410A", false},
		{`{"system": {"refrigerant": "R-410A"}, "readings": {` + suction + `}, "instruments": {"suction_pressure": {"accuracy_class": "grade_1"}}}`, `did you mean "grade_1a"?`, true},
		{readings(`"suction_pressure": {"value": -15, "unit": "psig"}`), "14.7 psia", false},
	} {
		_, err := engine.SuperheatSubcooling(read[query.SuperheatSubcoolingQuestion](t, tt.body), query.Presentation{})
		var r *query.Refusal
		if !errors.As(err, &r) || r.Unreadable != tt.unreadable || !strings.Contains(err.Error(), tt.said) {
			t.Errorf("%v (unreadable %v), want it to say %s", err, r != nil && r.Unreadable, tt.said)
		}
	}
}
