package httpapi

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"net/http"
	"net/url"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// value reads a number out of an answer by the names on the way to it.
func (e exchange) value(t *testing.T, path ...string) float64 {
	t.Helper()
	var whole any
	require.NoError(t, json.Unmarshal(e.body, &whole), "%s", e.of)
	for _, name := range path {
		member, _ := whole.(map[string]any)
		whole = member[name]
	}
	number, ok := whole.(float64)
	if !ok {
		t.Fatalf("%s: no number at %v in %s", e.of, path, e.body)
	}
	return number
}

func TestSaturationOverHTTP(t *testing.T) {
	for _, tt := range []struct {
		target string
		path   []string
		want   float64
		within float64
		src    string
	}{
		{"/v1/refrigerants/R-22/saturation?temperature=0degC&units=si", []string{"bubble_pressure", "value"}, 498, 0.5, "ASHRAE Handbook of Fundamentals, R-22 table: 0.498 MPa at 0 degC; from memory, unverified"},
		{"/v1/refrigerants/r134a/saturation?temperature=0degC&units=si", []string{"dew_pressure", "value"}, 292.8, 0.2, "ASHRAE Handbook of Fundamentals, R-134a table: 0.2928 MPa at 0 degC; from memory, unverified"},
		{"/v1/refrigerants/R-718/saturation?pressure=101.325kPaa&units=si", []string{"dew_temperature", "value"}, 99.974, 0.002, "IAPWS-95: normal boiling point 373.124 K"},
	} {
		got := drive(t, request("GET", tt.target, ""))
		if got.Code != 200 {
			t.Errorf("%s: %d %s", tt.target, got.Code, got.body)
			continue
		}
		if v := got.value(t, tt.path...); !(math.Abs(v-tt.want) <= tt.within) {
			t.Errorf("%s: %g, want %g within %g (%s)", tt.target, v, tt.want, tt.within, tt.src)
		}
	}
}

func TestGaugesCountFromTheSite(t *testing.T) {
	at := func(altitude string) float64 {
		return drive(t, request("GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig&altitude="+altitude, "")).value(t, "dew_temperature", "value")
	}
	if sea, high := at("0ft"), at("5000ft"); !(high < sea-0.5) {
		t.Errorf("dew point of 118 psig: %g degF at sea level, %g at 5000 ft", sea, high)
	}
}

func TestFaultsInPathAndQuery(t *testing.T) {
	for _, tt := range []struct {
		target string
		status int
		want   []string
	}{
		{"R-999/saturation?pressure=118psig", 404, []string{"designation unknown_refrigerant"}},
		{"R-999", 404, []string{"designation unknown_refrigerant"}},
		{"R%2F999", 404, []string{"designation unknown_refrigerant"}},
		{"R-22/saturation", 422, []string{"pressure missing"}},
		{"R-22/saturation?pressure=", 400, []string{"pressure wrong_type"}},
		{"R-22/saturation?pressure=NaNpsig", 400, []string{"pressure wrong_type"}},
		{"R-22/saturation?pressure=0x10psig", 400, []string{"pressure wrong_type"}},
		{"R-22/saturation?temperature=4,5degC", 400, []string{"temperature wrong_type"}},
		{"R-22/saturation?pressure=118", 400, []string{"pressure missing_unit"}},
		{"R-22/saturation?pressure=118psi", 400, []string{"pressure unknown_unit"}},
		{"R-22/saturation?pressure=40degF", 422, []string{"pressure wrong_kind_of_unit"}},
		{"R-22/saturation?temperature=-500degF", 422, []string{"temperature out_of_range"}},
		{"R-22/saturation?temperature=10delta_K", 422, []string{"temperature wrong_kind_of_unit"}},
		{"R-22/saturation?pressure=-15psig", 422, []string{"pressure out_of_range"}},
		{"R-22/saturation?pressure=31inHgv", 422, []string{"pressure out_of_range"}},
		{"R-22/saturation?pressure=5000psig", 422, []string{"pressure above_critical"}},
		{"R-22/saturation?pressure=118psig&temperature=40degF", 422, []string{"temperature contradiction"}},
		{"R-22/saturation?pressure=118psig&pressure=119psig", 400, []string{"pressure repeated_member"}},
		{"R-22/saturation?pressure=118psig&atmospheric_pressure=14.7psig", 422, []string{"atmospheric_pressure wrong_kind_of_unit"}},
		{"R-22/saturation?pressure=118psi&altitude=high&units=x&unit=y", 400, []string{"units unknown_name", "pressure unknown_unit", "altitude wrong_type", "unit unknown_member"}},
		{"R-22?pressure=118psig", 400, []string{"pressure unknown_member"}},
	} {
		got := drive(t, request("GET", "/v1/refrigerants/"+tt.target, ""))
		if places := got.places(t); got.Code != tt.status || !reflect.DeepEqual(places, tt.want) {
			t.Errorf("%s: %d %q, want %d %q", tt.target, got.Code, places, tt.status, tt.want)
		}
	}
}

// The invented scenario whose requests the README shows.
func TestDemo(t *testing.T) {
	const folder = "../../testdata/demo/"
	list, err := os.ReadFile(folder + "demo.json")
	require.NoError(t, err)
	var requests []struct {
		Name, Method, Path, Body string
		Status                   int
	}
	err = json.Unmarshal(list, &requests)
	require.NoError(t, err)
	if len(requests) == 0 {
		t.Fatalf("%d requests", len(requests))
	}
	for _, r := range requests {
		t.Run(r.Name, func(t *testing.T) {
			var body []byte
			if r.Body != "" {
				body, err = os.ReadFile(folder + r.Body)
				require.NoError(t, err)
			}
			asked := func() *http.Request {
				return request(r.Method, r.Path, string(body), "Content-Type", posted(r.Body))
			}
			if got := drive(t, asked()); got.Code != r.Status {
				t.Errorf("%d, want %d: %s", got.Code, r.Status, got.body)
			}
			if r.Path == batchPath { // one of its lines is meant to be bad, and the schema is that of one
				body = body[:bytes.IndexByte(body, '\n')+1]
			}
			if faults := unpromised(asked()); r.Status == 200 && len(faults) > 0 {
				t.Errorf("the document refuses it: %q", faults)
			}
		})
	}
}

func TestTableAsCSV(t *testing.T) {
	const target = "/v1/refrigerants/R-22/saturation-table?from=40degF&to=230degF&step=95delta_degF"
	got := drive(t, request("GET", target, "", "Accept", "text/csv"))
	if got.Code != 200 || got.Header().Get("Content-Type") != "text/csv; charset=utf-8" {
		t.Fatalf("%d %v %s", got.Code, got.Header(), got.body)
	}
	rows, err := csv.NewReader(bytes.NewReader(got.body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 4)
	require.Equal(t, "temperature_degF", rows[0][0])
	require.Equal(t, "problem", rows[0][len(rows[0])-1])
	single := drive(t, request("GET", "/v1/refrigerants/R-22/saturation?temperature=40degF", ""))
	if i := slices.Index(rows[0], "bubble_gauge_pressure_psig"); i < 0 || rows[1][i] != strconv.FormatFloat(single.value(t, "bubble_gauge_pressure", "value"), 'g', -1, 64) {
		t.Errorf("%q", rows)
	}
	last := rows[3]
	require.Equal(t, "230", last[0])
	require.Empty(t, last[1])
	require.Equal(t, "above_critical", last[len(last)-1])
	asJSON := drive(t, request("GET", target, ""))
	if asJSON.Header().Get("ETag") == got.Header().Get("ETag") {
		t.Error("two forms of an answer share a tag")
	}
}

func TestLongComputationsAreStopped(t *testing.T) {
	o := options()
	o.AnswerTimeout = time.Nanosecond
	got := exchangeWith(t, New(o), request("POST", "/v1/saturation", `{"composition":[{"refrigerant":"R-32","mass_percent":61.3},{"refrigerant":"R-1234yf","mass_percent":38.7}],"points":[{"pressure":`+reading+`}]}`))
	if got.Code != 503 || got.problem(t).Type != "/problems/took-too-long" {
		t.Errorf("%d %s", got.Code, got.body)
	}
}

const reading = `{"value":118,"unit":"psig"}`

func TestFaultsInBodies(t *testing.T) {
	for _, tt := range []struct {
		path, body string
		status     int
		want       []string
	}{
		{"superheat-subcooling", `{"system":{"refrigerant":"R-999"},"readings":{"suction_pressure":` + reading + `}}`, 422, []string{"/system/refrigerant unknown_refrigerant"}},
		{"superheat-subcooling", `{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":118}}`, 400, []string{"/readings/suction_pressure wrong_type"}},
		{"superheat-subcooling", `{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":"118","unit":"psig"},"suction_line_temperature":{"value":52,"unit":"degX"}}}`, 400,
			[]string{"/readings/suction_pressure/value wrong_type", "/readings/suction_line_temperature/unit unknown_unit"}},
		{"superheat-subcooling", `{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":118},"liquid_pressure":{"unit":"psig"}}}`, 400,
			[]string{"/readings/suction_pressure/unit missing_unit", "/readings/liquid_pressure/value missing_value"}},
		{"superheat-subcooling", `{"system":{"refrigerant":"R-22"},"readings":{"Suction_pressure":` + reading + `}}`, 400, []string{"/readings/Suction_pressure unknown_member"}},
		{"superheat-subcooling", `{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":1e999,"unit":"psig"}}}`, 400, []string{"/readings/suction_pressure/value out_of_range"}},
		{"saturation", `{"refrigerant":"R-22","points":[{"pressure":` + reading + `},{"presure":` + reading + `},{"pressure":{"value":1,"unit":"psi"}}]}`, 400,
			[]string{"/points/1/presure unknown_member", "/points/1 missing", "/points/2/pressure/unit unknown_unit"}},
		{"diagnosis", `{"system":{"refrigerant":"R-22","mode":"coolin"},"prior":{"x":null},"running_time":{"value":15,"unit":"minutes"}}`, 400,
			[]string{"/prior/x wrong_type", "/system/mode unknown_name", "/running_time/unit unknown_unit"}},
		{"moist-air", `{"dry_bulb":{"value":-500,"unit":"degF"},"wet_bulb":{"value":60,"unit":"psig"}}`, 422, []string{"/dry_bulb/value out_of_range", "/wet_bulb/unit wrong_kind_of_unit"}},
	} {
		got := drive(t, request("POST", "/v1/"+tt.path, tt.body))
		places := got.places(t)
		for _, want := range tt.want {
			found := false
			for _, p := range places {
				found = found || p == want
			}
			if !found {
				t.Errorf("%s %s: %d %q, want %q", tt.path, tt.body, got.Code, places, want)
			}
		}
		if got.Code != tt.status {
			t.Errorf("%s %s: %d %q, want %d", tt.path, tt.body, got.Code, places, tt.status)
		}
	}
}

// Good questions in both systems of units, with and without the working: each
// answer is held to the document.
func TestAnswersFitTheDocument(t *testing.T) {
	visit := `{"system":{"refrigerant":"R-410A","metering_device":"fixed_orifice","mode":"cooling"},"site":{"altitude":{"value":600,"unit":"ft"}},
		"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1},"liquid_pressure":{"value":340,"unit":"psig"},
		"suction_line_temperature":{"value":52,"unit":"degF"},"liquid_line_temperature":{"value":95,"unit":"degF","accuracy":0.5,"accuracy_basis":"normal_95"},
		"outdoor_dry_bulb":{"value":85,"unit":"degF"},"return_dry_bulb":{"value":76,"unit":"degF"},"return_wet_bulb":{"value":63,"unit":"degF"},"supply_dry_bulb":{"value":57,"unit":"degF"}}}`
	for _, tt := range []struct{ method, path, body string }{
		{"GET", "/v1/units", ""},
		{"GET", "/v1/codes", ""},
		{"GET", "/v1/refrigerants", ""},
		{"GET", "/v1/refrigerants/R-410A", ""},
		{"GET", "/v1/refrigerants/CO2", ""},
		{"GET", "/v1/refrigerants/R-744", ""},
		{"GET", "/v1/refrigerants/R-407C/saturation?pressure=10inHgv", ""},
		{"GET", "/v1/refrigerants/R-407C/saturation?temperature=-40degC", ""},
		{"GET", "/v1/refrigerants/R-407C/saturation-table?from=-40degF&to=200degF&step=20delta_degF", ""},
		{"GET", "/v1/refrigerants/R-32/saturation-table?from=200psig&to=0psig&step=50delta_psi&altitude=5000ft", ""},
		{"POST", "/v1/saturation", `{"composition":[{"refrigerant":"R-32","mass_percent":68.9},{"refrigerant":"R-1234yf","mass_percent":31.1}],"points":[{"pressure":` + reading + `},{"temperature":{"value":40,"unit":"degF"}},{"temperature":{"value":400,"unit":"degF"}}]}`},
		{"POST", "/v1/superheat-subcooling", visit},
		{"POST", "/v1/superheat-subcooling", `{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":68.5,"unit":"psig"},"suction_line_temperature":{"value":30,"unit":"degF"}}}`},
		{"POST", "/v1/diagnosis", visit},
		{"POST", "/v1/diagnosis", strings.Replace(visit, `"mode":"cooling"`, `"mode":"heating"`, 1)},
		{"POST", "/v1/diagnosis", strings.Replace(visit, `"system":`, `"running_time":{"value":20,"unit":"min"},"prior":{"no_fault":0.5},"system":`, 1)},
		{"POST", "/v1/diagnosis", `{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":68.5,"unit":"psig"}}}`},
		{"POST", "/v1/leaked-blend", `{"system":{"refrigerant":"R-407C"},"fill_fraction":{"value":70,"unit":"percent"},"temperature":{"value":75,"unit":"degF"},"phase_leaving":"vapor","fraction_lost":{"value":30,"unit":"percent"}}`},
		{"POST", "/v1/standing-pressure", `{"system":{"refrigerant":"R-410A"},"off_time":{"value":2,"unit":"h"},"readings":{"suction_pressure":{"value":205,"unit":"psig"},"liquid_pressure":{"value":206,"unit":"psig"},"outdoor_dry_bulb":{"value":72,"unit":"degF"},"return_dry_bulb":{"value":70,"unit":"degF"}}}`},
		{"POST", "/v1/standing-pressure", `{"system":{"refrigerant":"R-744"},"readings":{"suction_pressure":{"value":0,"unit":"psig"},"outdoor_dry_bulb":{"value":100,"unit":"degF"}}}`},
		{"POST", "/v1/stability", `{"series":[{"reading":"suction_pressure","unit":"psig","times":[0,20,40,60,80,100,120,140,160,180,200,220,240],"values":[140,131,126,123,121,120,119.5,119,118.7,118.5,118.4,118.3,118.2]},{"reading":"return_dry_bulb","unit":"degC","times":[0,60],"values":[25,25],"tolerance":{"value":1,"unit":"delta_degF"}}]}`},
		{"GET", "/v1/refrigerants/R-407C/pressure-enthalpy-diagram", ""},
		{"GET", "/v1/refrigerants/R-744/pressure-enthalpy-diagram", ""},
		{"POST", "/v1/pressure-enthalpy-diagram", visit},
		{"POST", "/v1/pressure-enthalpy-diagram", strings.Replace(visit, `{"value":52,"unit":"degF"}`, `{"value":30,"unit":"degF"}`, 1)},
		{"POST", "/v1/pressure-enthalpy-diagram", `{"system":{"composition":[{"refrigerant":"R-32","mass_percent":68.9},{"refrigerant":"R-1234yf","mass_percent":31.1}]}}`},
		{"POST", "/v1/target-superheat", visit},
		{"POST", "/v1/target-superheat", `{"readings":{"outdoor_dry_bulb":{"value":130,"unit":"degF"},"return_wet_bulb":{"value":50,"unit":"degF"}}}`},
		{"POST", "/v1/moist-air", `{"dry_bulb":{"value":75,"unit":"degF","accuracy":0.5},"relative_humidity":{"value":50,"unit":"percent"}}`},
	} {
		for _, as := range []string{"units=ip", "units=si&explain=true"} {
			separator := "?"
			if strings.Contains(tt.path, "?") {
				separator = "&"
			}
			if got := drive(t, request(tt.method, tt.path+separator+as, tt.body)); got.Code != 200 {
				t.Errorf("%s %s: %d %s", tt.method, tt.path, got.Code, got.body)
			}
			for _, fault := range unpromised(request(tt.method, tt.path+separator+as, tt.body)) {
				t.Errorf("%s %s is answered, but the document refuses it: %s", tt.method, tt.path, fault)
			}
		}
	}
}

// Whatever is sent, the answer fits the document and is no fault of the
// server's.
func FuzzBodies(f *testing.F) {
	paths := []string{"/v1/saturation", "/v1/superheat-subcooling", "/v1/target-superheat", "/v1/diagnosis", "/v1/moist-air", "/v1/leaked-blend", "/v1/expected-readings", "/v1/standing-pressure", "/v1/stability", "/v1/hose-recovery", "/v1/line-set-charge", "/v1/cylinder-fill", "/v1/visit-record", "/v1/pressure-enthalpy-diagram"}
	for i, body := range []string{
		`{"composition":[{"refrigerant":"R-32","mass_percent":68.9},{"refrigerant":"R-1234yf","mass_percent":31.1}],"points":[{"pressure":` + reading + `}]}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":` + reading + `,"suction_line_temperature":{"value":52,"unit":"degF","accuracy":1,"accuracy_basis":"normal_95"}}}`,
		`{"readings":{"outdoor_dry_bulb":{"value":85,"unit":"degF"},"return_wet_bulb":{"value":63,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-22","metering_device":"thermostatic_valve"},"prior":{"no_fault":0.5},"instruments":{"suction_pressure":{"accuracy_class":"grade_1a","span":{"value":500,"unit":"psig"}}},"readings":{"suction_pressure":` + reading + `}}`,
		`{"dry_bulb":{"value":75,"unit":"degF"},"relative_humidity":{"value":50,"unit":"percent"},"site":{"altitude":{"value":-9e9,"unit":"m"}}}`,
		`{"system":{"refrigerant":"R-407C"},"fill_fraction":{"value":70,"unit":"percent"},"temperature":{"value":75,"unit":"degF"},"phase_leaving":"vapor","fraction_lost":{"value":30,"unit":"percent"}}`,
		`{"system":{"refrigerant":"R-410A"},"off_time":{"value":2,"unit":"h"},"readings":{"suction_pressure":{"value":205,"unit":"psig"},"liquid_pressure":{"value":206,"unit":"psig"},"outdoor_dry_bulb":{"value":72,"unit":"degF"},"return_dry_bulb":{"value":70,"unit":"degF"}}}`,
		`{"series":[{"reading":"suction_pressure","unit":"psig","times":[0,20,40],"values":[140,131,126],"tolerance":{"value":1,"unit":"delta_psi"}}]}`,
	} {
		f.Add(uint8(i), body)
	}
	f.Fuzz(func(t *testing.T, which uint8, body string) {
		if got := drive(t, request("POST", paths[int(which)%len(paths)], body)); got.Code >= 500 {
			t.Errorf("%d %s", got.Code, got.body)
		}
	})
}

// Any numbers as readings, of any refrigerant: the physics never fails as a
// server's fault, and no answer holds what is no number.
func FuzzReadings(f *testing.F) {
	refrigerants := []string{"R-22", "R-410A", "R-407C", "R-744", "R-454B", "R-717", "R-718", "R-1234ze(E)"}
	f.Add(uint8(0), 68.5, 50.0, 220.0, 95.0, 80.0, 600.0, 1.0)
	f.Add(uint8(2), -14.0, -300.0, 1e300, 1e-300, 200.0, -2000.0, 0.0)
	f.Add(uint8(3), 400.0, 30.0, 1055.0, 87.0, 87.0, 0.0, 20.0)
	f.Fuzz(func(t *testing.T, which uint8, suction, suctionLine, liquid, liquidLine, air, altitude, accuracy float64) {
		quantity := func(value float64, unit string) map[string]any {
			if math.IsNaN(value) || math.IsInf(value, 0) {
				value = 0
			}
			return map[string]any{"value": value, "unit": unit}
		}
		pressure := quantity(suction, "psig")
		pressure["accuracy"] = quantity(accuracy, "")["value"]
		question, err := json.Marshal(map[string]any{
			"system": map[string]any{"refrigerant": refrigerants[int(which)%len(refrigerants)], "metering_device": "fixed_orifice", "mode": "cooling"},
			"site":   map[string]any{"altitude": quantity(altitude, "ft")},
			"readings": map[string]any{
				"suction_pressure": pressure, "suction_line_temperature": quantity(suctionLine, "degF"),
				"liquid_pressure": quantity(liquid, "psig"), "liquid_line_temperature": quantity(liquidLine, "degF"),
				"outdoor_dry_bulb": quantity(air, "degF"), "return_dry_bulb": quantity(air-5, "degF"), "return_wet_bulb": quantity(air-15, "degF"), "supply_dry_bulb": quantity(air-25, "degF"),
			},
		})
		require.NoError(t, err)
		if got := drive(t, request("POST", "/v1/diagnosis?explain=true", string(question))); got.Code >= 500 {
			t.Errorf("%d %s to %s", got.Code, got.body, question)
		}
	})
}

func FuzzSaturationQuery(f *testing.F) {
	f.Add("R-410A", "pressure", "118psig", "altitude", "600ft")
	f.Add("744", "temperature", "-4e1degC", "units", "si")
	f.Add("R407c", "pressure", "10inHgv", "atmospheric_pressure", "99kPaa")
	f.Fuzz(func(t *testing.T, designation, name1, value1, name2, value2 string) {
		if designation == "" || designation == "." || designation == ".." {
			return
		}
		query := url.Values{name1: {value1}}
		query.Add(name2, value2)
		target := "/v1/refrigerants/" + url.PathEscape(designation) + "/saturation?" + query.Encode()
		if got := drive(t, request("GET", target, "")); got.Code >= 500 {
			t.Errorf("%d %s", got.Code, got.body)
		}
	})
}
