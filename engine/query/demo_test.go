package query_test

import (
	"encoding/json"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// request is one entry of testdata/demo/demo.json.
type request struct {
	Name, Method, Path, Body, Shows string
	Status                          int
}

const demo = "../../testdata/demo"

func (r request) question(t *testing.T) string {
	t.Helper()
	body, err := os.ReadFile(filepath.Join(demo, r.Body))
	require.NoError(t, err)
	return string(body)
}

// textQuantity reads 118psig.
func textQuantity(t *testing.T, text string) *query.Quantity {
	t.Helper()
	if text == "" {
		return nil
	}
	number, name := unit.Split(text)
	v, err := unit.Number(number)
	require.NoError(t, err)
	return quantity(v, name)
}

func (r request) saturation(t *testing.T) query.SaturationAnswer {
	t.Helper()
	u, err := url.Parse(r.Path)
	require.NoError(t, err)
	designation, _ := strings.CutSuffix(strings.TrimPrefix(u.Path, "/v1/refrigerants/"), "/saturation")
	v := u.Query()
	return answerAs(t, engine.Saturation, query.SaturationQuestion{Designation: designation, Pressure: textQuantity(t, v.Get("pressure")), Temperature: textQuantity(t, v.Get("temperature")),
		Site: query.Site{Altitude: textQuantity(t, v.Get("altitude"))}}, query.Presentation{Units: v.Get("units")})
}

// What each request of the demo is there to show.
var shown = map[string]func(*testing.T, request){
	"refrigerant": func(t *testing.T, r request) {
		a := answer(t, engine.Refrigerant, query.RefrigerantQuestion{Designation: filepath.Base(r.Path)})
		require.Equal(t, "zeotrope", a.Type)
		require.Len(t, a.Composition, 2)
		require.Equal(t, "A2L", *a.SafetyGroup.Value)
		require.Nil(t, a.EquationUncertainty.Value)
		require.NotEmpty(t, a.EquationUncertainty.Reason)
		if !slices.ContainsFunc(a.Cautions, func(n query.Note) bool { return n.Code == "flammable_refrigerant" }) {
			t.Errorf("an A2L refrigerant without its caution: %v", a.Cautions)
		}
	},
	"saturation-at-pressure": func(t *testing.T, r request) {
		a := r.saturation(t)
		glide := in(t, *a.Glide, "delta_degF")
		require.Greater(t, glide, 1.0)
		require.Less(t, glide, 4.0)
		require.NotNil(t, a.LatentHeat)
	},
	"saturation-at-temperature": func(t *testing.T, r request) {
		a := r.saturation(t)
		require.Equal(t, "kPaa", a.BubblePressure.Unit)
		require.Equal(t, "kPag", a.BubbleGaugePressure.Unit)
		require.Greater(t, a.BubblePressure.Value, a.DewPressure.Value)
		// 1150 ft above the sea the standard atmosphere has 97.2 kPa (ICAO Doc 7488).
		if air := a.BubblePressure.Value - a.BubbleGaugePressure.Value; !near.Abs(air, 97.2, 0.1) {
			t.Errorf("%g kPa of air", air)
		}
	},
	"typed-composition": func(t *testing.T, r request) {
		a := answer(t, engine.SaturationPoints, read[query.SaturationPointsQuestion](t, r.question(t)))
		for i, p := range a.Points {
			if (p.Problem != nil) != (i == 3) {
				t.Errorf("point %d: problem %v", i, p.Problem)
			}
		}
		if p := a.Points[3].Problem; p != nil && p.Code != query.CodeAboveCritical {
			t.Errorf("the last point: %+v", p)
		}
		require.Len(t, a.Composition, 2)
		require.NotNil(t, a.Points[0].Glide)
		require.NotNil(t, a.Points[1].BubblePressure)
	},
	"museum-superheat-subcooling": func(t *testing.T, r request) {
		q := read[query.SuperheatSubcoolingQuestion](t, r.question(t))
		a := answerAs(t, engine.SuperheatSubcooling, q, query.Presentation{Explain: true})
		require.True(t, near.Abs(in(t, a.State.Superheat.Measure, "delta_degF"), 12, 1), "%s", text(t, a))
		require.True(t, near.Abs(in(t, a.State.Subcooling.Measure, "delta_degF"), 9, 1), "%s", text(t, a))
		require.GreaterOrEqual(t, len(a.Steps), 6)
		require.NotEmpty(t, a.Needs)
	},
	"saturation-table": func(t *testing.T, r request) {
		u, err := url.Parse(r.Path)
		require.NoError(t, err)
		v := u.Query()
		a, err := engine.SaturationTable(query.SaturationTableQuestion{Designation: "R-22",
			From: textQuantity(t, v.Get("from")), To: textQuantity(t, v.Get("to")), Step: textQuantity(t, v.Get("step"))}, query.Presentation{})
		require.NoError(t, err)
		// R-22 at 40 degF: 69 psig (US Army TM 9-4120-389-14 para 5, w032).
		if len(a.Rows) != 3 || !near.Abs(a.Rows[1].BubbleGaugePressure.Value, 69, 0.6) {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-standing-pressure": func(t *testing.T, r request) {
		a := answer(t, engine.StandingPressure, read[query.StandingPressureQuestion](t, r.question(t)))
		require.Equal(t, "some_liquid_indicated", a.Finding)
		require.True(t, slices.ContainsFunc(a.DoesNotTell, func(n query.Note) bool { return n.Code == "tells_not_how_much" }), "%s", text(t, a))
		require.Contains(t, a.AlsoConsistentWith, "R-454B")
		require.Empty(t, a.Doubts)
	},
	"museum-stability": func(t *testing.T, r request) {
		a := answer(t, engine.Stability, read[query.StabilityQuestion](t, r.question(t)))
		require.Equal(t, "steady", a.Status)
		require.Len(t, a.Series, 2)
		require.NotNil(t, a.Series[0].Drift)
	},
	"museum-hose-recovery": func(t *testing.T, r request) {
		a := answer(t, engine.HoseRecovery, read[query.HoseRecoveryQuestion](t, r.question(t)))
		way := map[string]query.HoseOption{}
		for _, o := range a.Options {
			way[o.Option] = o
		}
		asIs, back := way["disconnect_as_is"], way["draw_back_to_suction"]
		if !asIs.Available || !back.Available || !(back.Released.Value < 0.3*asIs.Released.Value) || !(back.Released.Value > 0) || !(back.LiquidReleased.Value < 0.05*asIs.LiquidReleased.Value) {
			t.Errorf("as is %+v, drawn back %+v", asIs.Released, back.Released)
		}
		liquid, vapor := "", ""
		for _, c := range a.CappedHose {
			if c.Hose == "liquid hose" {
				if c.Case == "liquid_left_in" {
					liquid = c.VersusWorkingPressure
				} else {
					vapor = c.VersusWorkingPressure
				}
			}
		}
		if liquid == "below_by_estimate" || vapor != "below_by_estimate" {
			t.Errorf("capped with liquid %s, with vapor %s", liquid, vapor)
		}
	},
	"museum-visit-record": func(t *testing.T, r request) {
		a := answer(t, engine.VisitRecord, read[query.VisitRecordQuestion](t, r.question(t)))
		require.Equal(t, "some_liquid_indicated", a.BeforeStart.Finding)
		require.Equal(t, "steady", a.Steadiness.Status)
		require.Equal(t, "fault_indicated", a.Running.Assessment)
		require.Equal(t, "no_fault_indicated", a.AfterChange.Assessment)
		require.NotNil(t, a.Masses.Released)
		require.Greater(t, a.Masses.Added.CO2Equivalent.Value, 1000.0)
		var open []string
		for _, n := range a.OpenPoints {
			open = append(open, string(n.Code))
		}
		if !slices.Equal(open, []string{"open_seal_missing", "open_calibration_overdue"}) {
			t.Errorf("open points %v", open)
		}
	},
	"museum-line-set-charge": func(t *testing.T, r request) {
		a := answer(t, engine.LineSetCharge, read[query.LineSetChargeQuestion](t, r.question(t)))
		// Manufacturers print 0.6 oz/ft for this size: 27 ft are 16.2 oz.
		require.NotNil(t, a.Published)
		require.True(t, near.Abs(a.Published.CorrectionLow.Value, 16.2, 0.01), "%s", text(t, a))
		require.Greater(t, a.Correction.Value, 12.0)
		require.Less(t, a.Correction.Value, 17.0)
	},
	"ferry-cylinder-fill": func(t *testing.T, r request) {
		a := answer(t, engine.CylinderFill, read[query.CylinderFillQuestion](t, r.question(t)))
		require.NotNil(t, a.Fits)
		require.Greater(t, a.Fits.Value, 10.0)
		require.Less(t, a.Fits.Value, 16.0)
		require.True(t, near.Abs(a.Net.Value, 30.5, 1e-6), "%s", text(t, a))
		require.False(t, a.LiquidFullNow, "%s", text(t, a))
	},
	"ferry-leaked-blend": func(t *testing.T, r request) {
		a := answer(t, engine.LeakedBlend, read[query.LeakedBlendQuestion](t, r.question(t)))
		// What is left has lost its volatile part: it boils higher, so the
		// nominal table shows too much superheat and too little subcooling.
		require.False(t, *a.WithinTolerance.Value, "%s", text(t, a))
		require.False(t, *a.ToppedUp.WithinTolerance.Value, "%s", text(t, a))
		require.Greater(t, a.SuperheatError.Value, 0.5)
		require.Less(t, a.SubcoolingError.Value, -0.5)
		require.Greater(t, a.Remaining[2].MassPercent, 54.0)
		require.GreaterOrEqual(t, len(a.Path), 5)
	},
	"museum-diagram": func(t *testing.T, r request) {
		a := answer(t, engine.PressureEnthalpyDiagram, read[query.PressureEnthalpyDiagramQuestion](t, r.question(t)))
		// The circuit is closed: each leg begins where the one before ends.
		for i, l := range a.Legs {
			if next := a.Legs[(i+1)%len(a.Legs)]; len(a.Legs) != 4 || l.To != next.From {
				t.Errorf("legs %s", text(t, a.Legs))
			}
		}
		// A system that lacks refrigerant evaporates below what a healthy one does.
		require.Len(t, a.ExpectedStates, 4)
		require.Less(t, a.States[0].Pressure.Value, a.ExpectedStates[0].Pressure.Value)
		require.Nil(t, a.ExpectedStates[0].Region)
	},
	"ferry-target-superheat": func(t *testing.T, r request) {
		a := answer(t, engine.TargetSuperheat, read[query.TargetSuperheatQuestion](t, r.question(t)))
		require.NotNil(t, a.TargetSuperheat)
		require.Equal(t, "charging_chart", a.Basis)
		require.True(t, near.Abs(a.ReturnWetBulb.Value, 65, 0.5), "%s", text(t, a))
		require.GreaterOrEqual(t, *a.TargetSuperheat.Uncertainty, 1.0)
	},
	"ferry-moist-air": func(t *testing.T, r request) {
		a := answer(t, engine.MoistAir, read[query.MoistAirQuestion](t, r.question(t)))
		if !near.Abs(a.RelativeHumidity.Value, 53, 1) || a.RelativeHumidity.Uncertainty == nil {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-first-visit": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		require.Equal(t, "no_fault_indicated", a.Assessment)
		require.GreaterOrEqual(t, a.NoFault.Probability, 0.8)
		require.Empty(t, a.ReadingChecks)
		require.Nil(t, a.ChargeEstimate.Direction)
	},
	"museum-second-visit": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		require.Equal(t, "fault_indicated", a.Assessment)
		require.Equal(t, "undercharge", a.Faults[0].Fault)
		require.GreaterOrEqual(t, a.Faults[0].Probability, 0.7)
		require.Equal(t, "add_refrigerant", string(a.ChargeEstimate.Direction.Code))
	},
	"ferry-low-airflow": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		require.Equal(t, "fault_indicated", a.Assessment)
		require.Equal(t, "low_indoor_airflow", a.Faults[0].Fault)
		require.Equal(t, "airflow_first", string(a.ChargeEstimate.Reason.Code))
		require.NotContains(t, text(t, a), "add_refrigerant")
	},
	"ferry-measurement-plan": func(t *testing.T, r request) {
		a := answer(t, engine.MeasurementPlan, read[query.MeasurementPlanQuestion](t, r.question(t)))
		// Without a pressure charge is not known: gauges tell most, and cost refrigerant.
		require.NotNil(t, a.Gauges)
		require.Equal(t, "worth_connecting", string(a.Gauges.Advice.Code))
		require.NotEmpty(t, a.Measurements)
		require.Greater(t, a.Gauges.Information, 0.2)
		require.NotNil(t, a.Gauges.HeldTotal)
		require.Len(t, a.Gauges.Disconnecting, 3)
		require.Equal(t, "psig", a.Gauges.SuctionPressure.Unit)
		require.Greater(t, a.Gauges.SuctionPressure.Value, 50.0)
		require.Less(t, a.Gauges.SuctionPressure.Value, 90.0)
		for _, m := range a.Measurements {
			if !(m.Information <= a.Gauges.Information+0.05) {
				t.Errorf("one reading tells more than both pressures: %+v", m)
			}
		}
	},
	"museum-hoses-swapped": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		require.Equal(t, "inconclusive", a.Assessment)
		require.GreaterOrEqual(t, len(a.Interpretations), 2)
		require.Equal(t, "hoses_swapped", a.Interpretations[0].Interpretation)
		require.GreaterOrEqual(t, a.Interpretations[0].Probability, 0.9)
		require.Empty(t, a.Faults)
		require.Nil(t, a.ChargeEstimate.Direction)
	},
	"ferry-expected-readings": func(t *testing.T, r request) {
		a := answer(t, engine.ExpectedReadings, read[query.ExpectedReadingsQuestion](t, r.question(t)))
		healthy, dirty := a.Scenarios[0], a.Scenarios[1]
		superheat := func(s query.ExpectedScenario) float64 { return spreadOf(t, s.Quantities, "superheat").Median.Value }
		pressure := spreadOf(t, healthy.Readings, "suction_pressure")
		require.Equal(t, "no_fault", healthy.Fault)
		require.Less(t, superheat(dirty), superheat(healthy))
		require.Less(t, pressure.Read.Value, pressure.Low.Value)
		require.Less(t, dirty.Capacity.High.Value, 100.0)
		require.NotNil(t, a.Practice)
	},
	"museum-batch": func(t *testing.T, r request) {
		lines := strings.Split(strings.TrimSpace(r.question(t)), "\n")
		if len(lines) != 3 {
			t.Fatalf("%d lines", len(lines))
		}
		type line struct {
			ID any `json:"id"`
			query.DiagnosisQuestion
		}
		first, bad, last := read[line](t, lines[0]), read[line](t, strings.Replace(lines[1], "outdoor_drybulb", "outdoor_dry_bulb", 1)), read[line](t, lines[2])
		if a := answer(t, engine.Diagnosis, first.DiagnosisQuestion); a.Assessment != "no_fault_indicated" {
			t.Errorf("%s", text(t, a))
		}
		if got := faults(t, engine.Diagnosis, bad.DiagnosisQuestion); !slices.Equal(got, []string{"/readings/suction_pressure/unit unknown_unit"}) {
			t.Errorf("%v", got)
		}
		a := answer(t, engine.Diagnosis, last.DiagnosisQuestion)
		require.Equal(t, "fault_indicated", a.Assessment)
		require.NotNil(t, first.ID)
		require.NotNil(t, bad.ID)
	},
	"bad-request": func(t *testing.T, r request) {
		got := faults(t, engine.Diagnosis, read[query.DiagnosisQuestion](t, r.question(t)))
		want := []string{"/system/metering_device unknown_name", "/system/refrigerant unknown_refrigerant", "/readings/suction_pressure/unit unknown_unit",
			"/readings/suction_line_temperature/unit wrong_kind_of_unit", "/readings/liquid_pressure/value out_of_range", "/readings/liquid_line_temperature/value missing_value"}
		if !slices.Equal(got, want) {
			t.Errorf("got %v", got)
		}
	},
}

func TestDemo(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(demo, "demo.json"))
	require.NoError(t, err)
	var requests []request
	require.NoError(t, json.Unmarshal(data, &requests))
	used := map[string]bool{"demo.json": true, "README.md": true}
	for _, r := range requests {
		used[r.Body] = true
		show, ok := shown[r.Name]
		require.True(t, ok, "%s", r.Name)
		require.NotEmpty(t, r.Shows, "%s", r.Name)
		require.NotEqual(t, 0, r.Status, "%s", r.Name)
		t.Run(r.Name, func(t *testing.T) { show(t, r) })
	}
	if len(requests) != len(shown) {
		t.Errorf("%d requests, %d checks of what they show", len(requests), len(shown))
	}
	files, err := os.ReadDir(demo)
	require.NoError(t, err)
	for _, f := range files {
		if !used[f.Name()] {
			t.Errorf("%s is in no request", f.Name())
		}
	}
}
