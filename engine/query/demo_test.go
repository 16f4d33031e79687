package query_test

import (
	"encoding/json"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

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
	if err != nil {
		t.Fatal(err)
	}
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
	if err != nil {
		t.Fatal(err)
	}
	return quantity(v, name)
}

func (r request) saturation(t *testing.T) query.SaturationAnswer {
	t.Helper()
	u, err := url.Parse(r.Path)
	if err != nil {
		t.Fatal(err)
	}
	designation, _ := strings.CutSuffix(strings.TrimPrefix(u.Path, "/v1/refrigerants/"), "/saturation")
	v := u.Query()
	return answerAs(t, engine.Saturation, query.SaturationQuestion{Designation: designation, Pressure: textQuantity(t, v.Get("pressure")), Temperature: textQuantity(t, v.Get("temperature")),
		Site: query.Site{Altitude: textQuantity(t, v.Get("altitude"))}}, query.Presentation{Units: v.Get("units")})
}

// What each request of the demo is there to show.
var shown = map[string]func(*testing.T, request){
	"refrigerant": func(t *testing.T, r request) {
		a := answer(t, engine.Refrigerant, query.RefrigerantQuestion{Designation: filepath.Base(r.Path)})
		if a.Type != "zeotrope" || len(a.Composition) != 2 || *a.SafetyGroup.Value != "A2L" || a.EquationUncertainty.Value != nil || a.EquationUncertainty.Reason == "" {
			t.Errorf("%s", text(t, a))
		}
		if !slices.ContainsFunc(a.Cautions, func(n query.Note) bool { return n.Code == "flammable_refrigerant" }) {
			t.Errorf("an A2L refrigerant without its caution: %v", a.Cautions)
		}
	},
	"saturation-at-pressure": func(t *testing.T, r request) {
		a := r.saturation(t)
		if glide := in(t, *a.Glide, "delta_degF"); !(glide > 1 && glide < 4) || a.LatentHeat == nil {
			t.Errorf("a glide of %g degF, latent heat %v", glide, a.LatentHeat)
		}
	},
	"saturation-at-temperature": func(t *testing.T, r request) {
		a := r.saturation(t)
		if a.BubblePressure.Unit != "kPaa" || a.BubbleGaugePressure.Unit != "kPag" || !(a.BubblePressure.Value > a.DewPressure.Value) {
			t.Errorf("%s", text(t, a))
		}
		// 1150 ft above the sea the standard atmosphere has 97.2 kPa (ICAO Doc 7488).
		if air := a.BubblePressure.Value - a.BubbleGaugePressure.Value; !near(air, 97.2, 0.1) {
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
		if len(a.Composition) != 2 || a.Points[0].Glide == nil || a.Points[1].BubblePressure == nil {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-superheat-subcooling": func(t *testing.T, r request) {
		q := read[query.SuperheatSubcoolingQuestion](t, r.question(t))
		a := answerAs(t, engine.SuperheatSubcooling, q, query.Presentation{Explain: true})
		if !near(in(t, a.State.Superheat.Measure, "delta_degF"), 12, 1) || !near(in(t, a.State.Subcooling.Measure, "delta_degF"), 9, 1) || len(a.Steps) < 6 || len(a.Needs) == 0 {
			t.Errorf("%s", text(t, a))
		}
	},
	"saturation-table": func(t *testing.T, r request) {
		u, err := url.Parse(r.Path)
		if err != nil {
			t.Fatal(err)
		}
		v := u.Query()
		a, err := engine.SaturationTable(query.SaturationTableQuestion{Designation: "R-22",
			From: textQuantity(t, v.Get("from")), To: textQuantity(t, v.Get("to")), Step: textQuantity(t, v.Get("step"))}, query.Presentation{})
		if err != nil {
			t.Fatal(err)
		}
		// R-22 at 40 degF: 69 psig (US Army TM 9-4120-389-14 para 5, w032).
		if len(a.Rows) != 3 || !near(a.Rows[1].BubbleGaugePressure.Value, 69, 0.6) {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-standing-pressure": func(t *testing.T, r request) {
		a := answer(t, engine.StandingPressure, read[query.StandingPressureQuestion](t, r.question(t)))
		if a.Finding != "some_liquid_indicated" || !slices.ContainsFunc(a.DoesNotTell, func(n query.Note) bool { return n.Code == "tells_not_how_much" }) ||
			!slices.Contains(a.AlsoConsistentWith, "R-454B") || len(a.Doubts) > 0 {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-stability": func(t *testing.T, r request) {
		a := answer(t, engine.Stability, read[query.StabilityQuestion](t, r.question(t)))
		if a.Status != "steady" || len(a.Series) != 2 || a.Series[0].Drift == nil {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-hose-recovery": func(t *testing.T, r request) {
		a := answer(t, engine.HoseRecovery, read[query.HoseRecoveryQuestion](t, r.question(t)))
		way := map[string]query.OptionEntry{}
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
		if a.BeforeStart.Finding != "some_liquid_indicated" || a.Steadiness.Status != "steady" || a.Running.Assessment != "fault_indicated" || a.AfterChange.Assessment != "no_fault_indicated" ||
			a.Masses.Released == nil || !(a.Masses.Added.CO2Equivalent.Value > 1000) {
			t.Errorf("%s", text(t, a))
		}
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
		if a.Published == nil || !near(a.Published.CorrectionLow.Value, 16.2, 0.01) || !(a.Correction.Value > 12 && a.Correction.Value < 17) {
			t.Errorf("%s", text(t, a))
		}
	},
	"ferry-cylinder-fill": func(t *testing.T, r request) {
		a := answer(t, engine.CylinderFill, read[query.CylinderFillQuestion](t, r.question(t)))
		if a.Fits == nil || !(a.Fits.Value > 10 && a.Fits.Value < 16) || !near(a.Net.Value, 30.5, 1e-6) || a.LiquidFullNow {
			t.Errorf("%s", text(t, a))
		}
	},
	"ferry-leaked-blend": func(t *testing.T, r request) {
		a := answer(t, engine.LeakedBlend, read[query.LeakedBlendQuestion](t, r.question(t)))
		// What is left has lost its volatile part: it boils higher, so the
		// nominal table shows too much superheat and too little subcooling.
		if *a.WithinTolerance.Value || *a.ToppedUp.WithinTolerance.Value || !(a.SuperheatError.Value > 0.5) || !(a.SubcoolingError.Value < -0.5) ||
			!(a.Remaining[2].MassPercent > 54) || len(a.Path) < 5 {
			t.Errorf("%s", text(t, a))
		}
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
		if len(a.ExpectedStates) != 4 || !(a.States[0].Pressure.Value < a.ExpectedStates[0].Pressure.Value) || a.ExpectedStates[0].Region != nil {
			t.Errorf("expected %s", text(t, a.ExpectedStates))
		}
	},
	"ferry-target-superheat": func(t *testing.T, r request) {
		a := answer(t, engine.TargetSuperheat, read[query.TargetSuperheatQuestion](t, r.question(t)))
		if a.TargetSuperheat == nil || a.Basis != "charging_chart" || !near(a.ReturnWetBulb.Value, 65, 0.5) || *a.TargetSuperheat.Uncertainty < 1 {
			t.Errorf("%s", text(t, a))
		}
	},
	"ferry-moist-air": func(t *testing.T, r request) {
		a := answer(t, engine.MoistAir, read[query.MoistAirQuestion](t, r.question(t)))
		if !near(a.RelativeHumidity.Value, 53, 1) || a.RelativeHumidity.Uncertainty == nil {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-first-visit": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		if a.Assessment != "no_fault_indicated" || a.NoFault.Probability < 0.8 || len(a.ReadingChecks) > 0 || a.ChargeEstimate.Direction != nil {
			t.Errorf("%s", text(t, a))
		}
	},
	"museum-second-visit": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		if a.Assessment != "fault_indicated" || a.Faults[0].Fault != "undercharge" || a.Faults[0].Probability < 0.7 || a.ChargeEstimate.Direction.Code != "add_refrigerant" {
			t.Errorf("%s", text(t, a))
		}
	},
	"ferry-low-airflow": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		if a.Assessment != "fault_indicated" || a.Faults[0].Fault != "low_indoor_airflow" || a.ChargeEstimate.Reason.Code != "airflow_first" || strings.Contains(text(t, a), "add_refrigerant") {
			t.Errorf("%s", text(t, a))
		}
	},
	"ferry-measurement-plan": func(t *testing.T, r request) {
		a := answer(t, engine.MeasurementPlan, read[query.MeasurementPlanQuestion](t, r.question(t)))
		// Without a pressure charge is not known: gauges tell most, and cost refrigerant.
		if a.Gauges == nil || a.Gauges.Advice.Code != "worth_connecting" || len(a.Measurements) == 0 || !(a.Gauges.Information > 0.2) || a.Gauges.HeldTotal == nil ||
			len(a.Gauges.Disconnecting) != 3 || a.Gauges.SuctionPressure.Unit != "psig" || !(a.Gauges.SuctionPressure.Value > 50 && a.Gauges.SuctionPressure.Value < 90) {
			t.Errorf("%s", text(t, a))
		}
		for _, m := range a.Measurements {
			if !(m.Information <= a.Gauges.Information+0.05) {
				t.Errorf("one reading tells more than both pressures: %+v", m)
			}
		}
	},
	"museum-hoses-swapped": func(t *testing.T, r request) {
		a := diagnose(t, r.question(t))
		if a.Assessment != "inconclusive" || len(a.Interpretations) < 2 || a.Interpretations[0].Interpretation != "hoses_swapped" || a.Interpretations[0].Probability < 0.9 ||
			len(a.Faults) > 0 || a.ChargeEstimate.Direction != nil {
			t.Errorf("%s", text(t, a))
		}
	},
	"ferry-expected-readings": func(t *testing.T, r request) {
		a := answer(t, engine.ExpectedReadings, read[query.ExpectedReadingsQuestion](t, r.question(t)))
		healthy, dirty := a.Scenarios[0], a.Scenarios[1]
		superheat := func(s query.ExpectedScenario) float64 { return spreadOf(t, s.Quantities, "superheat").Median.Value }
		pressure := spreadOf(t, healthy.Readings, "suction_pressure")
		if healthy.Fault != "no_fault" || !(superheat(dirty) < superheat(healthy)) || !(pressure.Read.Value < pressure.Low.Value) || !(dirty.Capacity.High.Value < 100) || a.Practice == nil {
			t.Errorf("%s", text(t, a))
		}
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
		if a := answer(t, engine.Diagnosis, last.DiagnosisQuestion); a.Assessment != "fault_indicated" || first.ID == nil || bad.ID == nil {
			t.Errorf("%s", text(t, a))
		}
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
	if err != nil {
		t.Fatal(err)
	}
	var requests []request
	if err := json.Unmarshal(data, &requests); err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{"demo.json": true, "README.md": true}
	for _, r := range requests {
		used[r.Body] = true
		show, ok := shown[r.Name]
		if !ok || r.Shows == "" || r.Status == 0 {
			t.Errorf("%s: nothing says what it shows", r.Name)
			continue
		}
		t.Run(r.Name, func(t *testing.T) { show(t, r) })
	}
	if len(requests) != len(shown) {
		t.Errorf("%d requests, %d checks of what they show", len(requests), len(shown))
	}
	files, err := os.ReadDir(demo)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !used[f.Name()] {
			t.Errorf("%s is in no request", f.Name())
		}
	}
}
