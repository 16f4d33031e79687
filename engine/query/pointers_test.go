package query_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// refusal asks a question that is refused for one reason.
func refusal[Q, A any](t *testing.T, ask func(Q, query.Presentation) (A, error), body string) query.RequestError {
	t.Helper()
	_, err := ask(read[Q](t, body), query.Presentation{})
	var r *query.Refusal
	if !errors.As(err, &r) || len(r.Errors) != 1 {
		t.Fatalf("%v", err)
	}
	return r.Errors[0]
}

// What a calculation refuses is pointed at where the caller typed it, and its
// range is said in the caller's unit.
func TestRefusedInputsAreWhereTheyWereTyped(t *testing.T) {
	const cylinder = `{"refrigerant": "R-410A", "water_capacity": {"value": 47.6, "unit": "lb"}, "tare": {"value": 27.5, "unit": "lb"}, %}`
	const hoses = `{"system": {"refrigerant": "R-410A"}, "running": true,
		"hoses": [{"name": "red", "side": "high", "port": "core", "length": {"value": 5, "unit": "ft"}}],
		"readings": {"liquid_pressure": {"value": 400, "unit": "psig"}, "outdoor_dry_bulb": {"value": 90, "unit": "degF"}}, %}`
	const lines = `{"system": {"refrigerant": "R-410A", "line_set": {"length": {"value": 50, "unit": "ft"}, "liquid_outside_diameter": {"value": 0.375, "unit": "in"}}}, "readings": {%}}`
	with := func(body, more string) string {
		return strings.Replace(strings.Replace(body, ", %", ", "+more, 1), "%", more, 1)
	}
	for _, tt := range []struct {
		name          string
		got           query.RequestError
		pointer, says string
	}{
		{"lighter than its tare", refusal(t, engine.CylinderFill, with(cylinder, `"gross_weight": {"value": 1, "unit": "lb"}`)), "/gross_weight", "less than the tare"},
		{"no cylinder gets so hot", refusal(t, engine.CylinderFill, with(cylinder, `"maximum_temperature": {"value": 4000, "unit": "degF"}`)), "/maximum_temperature", "and up to 323.3 °F"},
		{"a manifold of a room's size", refusal(t, engine.HoseRecovery, with(hoses, `"manifold": {"volume": {"value": 5000, "unit": "L"}}`)), "/manifold/volume", "between 0 L and 1000 L"},
		{"the air of a furnace", refusal(t, engine.HoseRecovery, with(hoses, `"ambient_temperature": {"value": 4000, "unit": "degF"}`)), "/ambient_temperature", "and up to 3140.3 °F"},
		{"a liquid line at 400 degF", refusal(t, engine.LineSetCharge, with(lines, `"liquid_line_temperature": {"value": 400, "unit": "degF"}`)), "/readings/liquid_line_temperature", ""},
		{"a kiln", refusal(t, engine.MoistAir, `{"dry_bulb": {"value": 500, "unit": "degF"}, "relative_humidity": {"value": 1, "unit": "percent"}}`), "/dry_bulb", "between −148 °F and 392 °F"},
		{"a wet bulb above the dry bulb", refusal(t, engine.MoistAir, `{"dry_bulb": {"value": 70, "unit": "degF"}, "wet_bulb": {"value": 71, "unit": "degF"}}`), "/wet_bulb", "above the dry bulb"},
		{"a charge that is all vapor", refusal(t, engine.LeakedBlend, `{"system": {"refrigerant": "R-407C", "charge": {"value": 1, "unit": "g"}}, "volume": {"value": 10, "unit": "L"},
			"temperature": {"value": 77, "unit": "degF"}, "fraction_lost": {"value": 20, "unit": "percent"}, "phase_leaving": "vapor"}`), "/system/charge", "liquid or vapor alone"},
		{"hotter than a blend can be liquid", refusal(t, engine.LeakedBlend, `{"system": {"refrigerant": "R-407C"}, "fill_fraction": {"value": 80, "unit": "percent"},
			"temperature": {"value": 250, "unit": "degF"}, "fraction_lost": {"value": 20, "unit": "percent"}, "phase_leaving": "vapor"}`), "/temperature", "critical point"},
		{"colder than the equations go", refusal(t, engine.StandingPressure, `{"system": {"refrigerant": "R-718"}, "readings": {"suction_pressure": {"value": 20, "unit": "psig"}, "return_dry_bulb": {"value": -147, "unit": "degF"},
			"outdoor_dry_bulb": {"value": 70, "unit": "degF"}}}`), "/readings/return_dry_bulb", ""},
		{"boiling in the liquid line", refusal(t, engine.LineSetCharge, with(lines, `"liquid_line_temperature": {"value": 130, "unit": "degF"}, "liquid_pressure": {"value": 300, "unit": "psig"}`)), "/readings/liquid_line_temperature", "the other phase"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if tt.got.Pointer != tt.pointer || !strings.Contains(tt.got.Detail, tt.says) {
				t.Errorf("%+v, want %s and %q", tt.got, tt.pointer, tt.says)
			}
		})
	}
}
