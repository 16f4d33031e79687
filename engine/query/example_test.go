package query_test

import (
	"errors"
	"fmt"
	"log"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// of is a quantity in a unit.
func of(value float64, unit string) *query.Quantity {
	return &query.Quantity{Value: &value, Unit: unit}
}

// rooftop is an invented system in cooling weather, and what was read on it.
func rooftop() query.Visit {
	return query.Visit{
		System: query.System{
			Refrigerant: "R-410A", Mode: query.ModeCooling, MeteringDevice: query.ThermostaticValve, Stages: new(1),
			TargetSubcooling: of(10, "delta_degF"), NominalCapacity: of(3, "ton"),
		},
		Site: query.Site{Altitude: of(600, "ft")},
		Readings: query.Readings{
			SuctionPressure: of(118, "psig"), SuctionLineTemperature: of(52, "degF"),
			LiquidPressure: of(340, "psig"), LiquidLineTemperature: of(94, "degF"),
			OutdoorDryBulb: of(85, "degF"), ReturnDryBulb: of(76, "degF"), ReturnWetBulb: of(63, "degF"), SupplyDryBulb: of(57, "degF"),
		},
	}
}

// One Engine serves a whole program: it keeps the curves of compositions that
// were asked about.
func Example() {
	e := query.New()
	a, err := e.SuperheatSubcooling(query.SuperheatSubcoolingQuestion{Visit: query.Visit{
		System: query.System{Refrigerant: "R-410A"},
		Site:   query.Site{Altitude: of(600.0, "ft")},
		Readings: query.Readings{
			SuctionPressure:        &query.Quantity{Value: new(118.0), Unit: "psig", Accuracy: new(1.0)},
			SuctionLineTemperature: of(52.0, "degF"),
		},
	}}, query.Presentation{})
	if err != nil {
		fmt.Println(err)
		return
	}
	s := a.State.Superheat
	fmt.Printf("superheat %.1f %s, give or take %.1f\n", s.Value, s.Unit, *s.Uncertainty)
	fmt.Println("for more:", a.Needs[0].Reading)
	// Output:
	// superheat 12.3 delta_degF, give or take 1.6
	// for more: liquid_pressure
}

// A blend with glide boils over a range: bubble and dew are told apart.
func ExampleEngine_Saturation() {
	a, err := query.New().Saturation(query.SaturationQuestion{
		Designation: "R-407C",
		Pressure:    of(5.0, "barg"),
	}, query.Presentation{Units: "si"})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("bubble %.1f, dew %.1f %s\n", a.BubbleTemperature.Value, a.DewTemperature.Value, a.DewTemperature.Unit)
	// Output: bubble 1.8, dew 7.9 degC
}

// A diagnosis of what was read, with what it would have one do next.
func ExampleEngine_Diagnosis() {
	visit := rooftop()
	visit.Readings.SuctionPressure, visit.Readings.SuctionLineTemperature = of(101, "psig"), of(62, "degF")
	visit.Readings.LiquidPressure, visit.Readings.LiquidLineTemperature = of(281, "psig"), of(91, "degF")
	a, err := query.New().Diagnosis(query.DiagnosisQuestion{Visit: visit, RunningTime: of(20, "min")}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	if a.Assessment == query.AssessmentFaultIndicated && a.Faults[0].Fault == query.FaultUndercharge {
		fmt.Println("low on charge:", a.Faults[0].NextChecks[0].Text)
	}
	// Output: low on charge: Compare with the manufacturer's charging data.
}

func ExampleEngine_Units() {
	a, err := query.New().Units(query.UnitsQuestion{}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, u := range a.Units {
		if u.Name == "psig" {
			fmt.Println(u.Kind, u.SIUnit)
		}
	}
	// Output: gauge_pressure Pa
}

// Texts are templates: whoever translates them fills the same slots.
func ExampleEngine_Codes() {
	a, err := query.New().Codes(query.CodesQuestion{}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, c := range a.Codes {
		if c.Code == "standard_atmosphere" {
			fmt.Println(c.Kind, c.Slots)
		}
	}
	// Output: assumption [pressure weather]
}

func ExampleEngine_Refrigerants() {
	a, err := query.New().Refrigerants(query.RefrigerantsQuestion{}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(len(a.Refrigerants) > 150, a.Refrigerants[0].Designation)
	// Output: true R-11
}

func ExampleEngine_Refrigerant() {
	a, err := query.New().Refrigerant(query.RefrigerantQuestion{Designation: "r454b"}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(a.Designation, a.Type == query.TypeZeotrope, *a.SafetyGroup.Value)
	// Output: R-454B true A2L
}

func ExampleEngine_SaturationTable() {
	a, err := query.New().SaturationTable(query.SaturationTableQuestion{
		Designation: "R-22", From: of(40, "degF"), To: of(50, "degF"), Step: of(5, "delta_degF"),
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, row := range a.Rows {
		fmt.Printf("%.0f %s\n", row.BubbleGaugePressure.Value, row.BubbleGaugePressure.Unit)
	}
	// Output:
	// 69 psig
	// 76 psig
	// 84 psig
}

// A long table need not stand in memory: its rows are made one by one.
func ExampleEngine_SaturationRows() {
	rows, err := query.New().SaturationRows(query.SaturationTableQuestion{
		Designation: "R-22", From: of(-40, "degF"), To: of(150, "degF"), Step: of(0.1, "delta_degF"),
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	last := rows.Row(rows.Len - 1)
	fmt.Printf("%d rows, the last at %.0f %s\n", rows.Len, last.BubbleGaugePressure.Value, last.BubbleGaugePressure.Unit)
	// Output: 1901 rows, the last at 382 psig
}

// A blend that no catalog has is typed by its components; one point that has no
// answer does not spoil the others.
func ExampleEngine_SaturationPoints() {
	a, err := query.New().SaturationPoints(query.SaturationPointsQuestion{
		Composition: []query.Share{{Refrigerant: "R-32", MassPercent: new(70.0)}, {Refrigerant: "R-1234yf", MassPercent: new(30.0)}},
		Points:      []query.PointQuestion{{Pressure: of(120, "psig")}, {Pressure: of(2000, "psig")}},
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("dew %.0f %s, then %s\n", a.Points[0].DewTemperature.Value, a.Points[0].DewTemperature.Unit, a.Points[1].Problem.Code)
	// Output: dew 45 degF, then above_critical
}

func ExampleEngine_SuperheatSubcooling() {
	a, err := query.New().SuperheatSubcooling(query.SuperheatSubcoolingQuestion{Visit: rooftop()}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("superheat %.0f, subcooling %.0f %s\n", a.State.Superheat.Value, a.State.Subcooling.Value, a.State.Subcooling.Unit)
	// Output: superheat 12, subcooling 11 delta_degF
}

func ExampleEngine_TargetSuperheat() {
	a, err := query.New().TargetSuperheat(query.TargetSuperheatQuestion{Visit: query.Visit{Readings: query.Readings{
		OutdoorDryBulb: of(85, "degF"), ReturnWetBulb: of(64, "degF"),
	}}}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f %s by the %s\n", a.TargetSuperheat.Value, a.TargetSuperheat.Unit, strings.ReplaceAll(a.Basis, "_", " "))
	// Output: 12 delta_degF by the charging chart
}

// What a further reading would tell, before anybody connects gauges.
func ExampleEngine_MeasurementPlan() {
	visit := rooftop()
	visit.Readings.SuctionPressure, visit.Readings.LiquidPressure = nil, nil
	visit.Readings.SuctionLineTemperature, visit.Readings.LiquidLineTemperature = nil, nil
	a, err := query.New().MeasurementPlan(query.MeasurementPlanQuestion{Visit: visit, RunningTime: of(20, "min")}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(a.Measurements[0].Reading, "then", a.Gauges.Advice.Code)
	// Output: liquid_pressure then worth_connecting
}

func ExampleEngine_ExpectedReadings() {
	visit := rooftop()
	a, err := query.New().ExpectedReadings(query.ExpectedReadingsQuestion{Visit: query.Visit{System: visit.System, Site: visit.Site, Readings: query.Readings{
		OutdoorDryBulb: visit.Readings.OutdoorDryBulb, ReturnDryBulb: visit.Readings.ReturnDryBulb, ReturnWetBulb: visit.Readings.ReturnWetBulb,
	}}}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range a.Scenarios[0].Readings {
		if r.Reading == "suction_pressure" {
			fmt.Printf("%s: %.0f to %.0f %s\n", r.Reading, r.Low.Value, r.High.Value, r.Low.Unit)
		}
	}
	// Output: suction_pressure: 108 to 130 psig
}

func ExampleEngine_StandingPressure() {
	a, err := query.New().StandingPressure(query.StandingPressureQuestion{
		Visit: query.Visit{System: query.System{Refrigerant: "R-410A"}, Readings: query.Readings{
			SuctionPressure: of(235, "psig"), LiquidPressure: of(235, "psig"), OutdoorDryBulb: of(80, "degF"), ReturnDryBulb: of(80, "degF"),
		}},
		OffTime: of(8, "h"),
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(a.Finding == query.FindingSomeLiquidIndicated)
	for _, n := range a.DoesNotTell {
		fmt.Println("does not tell:", n.Code)
	}
	// Output:
	// true
	// does not tell: tells_not_how_much
	// does not tell: tells_not_purity
}

func ExampleEngine_HoseRecovery() {
	a, err := query.New().HoseRecovery(query.HoseRecoveryQuestion{
		Visit: rooftop(), Running: new(true),
		Hoses: []query.Hose{
			{Name: "blue", Side: query.SideLow, Port: query.HosePortCore, Length: of(5, "ft"), Shutoff: query.ShutoffBallValve},
			{Name: "red", Side: query.SideHigh, Port: query.HosePortCore, Length: of(5, "ft"), Shutoff: query.ShutoffBallValve},
		},
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, o := range a.Options {
		fmt.Println(o.Option, o.Available)
	}
	// Output:
	// disconnect_as_is true
	// draw_back_to_suction true
	// recover_to_cylinder true
}

// The record of a visit holds what was read and what the engine says of it; the
// same question gives the same document, and so the same hash.
func ExampleEngine_VisitRecord() {
	visit := rooftop()
	a, err := query.New().VisitRecord(query.VisitRecordQuestion{
		Reference: "QW-2031", IssuedAt: "2026-07-14", System: visit.System, Site: visit.Site,
		Running: &query.WhileRunning{Readings: visit.Readings, RunningTime: of(20, "min")},
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(a.Running.Assessment, a.DocumentHash.Algorithm == query.HashSHA256)
	// Output: no_fault_indicated true
}

func ExampleEngine_PressureEnthalpyDiagram() {
	a, err := query.New().PressureEnthalpyDiagram(query.PressureEnthalpyDiagramQuestion{Visit: rooftop()}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, s := range a.States {
		fmt.Println(s.State)
	}
	// Output:
	// suction_line
	// liquid_line
	// after_expansion
}

func ExampleEngine_RefrigerantDiagram() {
	a, err := query.New().RefrigerantDiagram(query.RefrigerantDiagramQuestion{Designation: "R-32"}, query.Presentation{Units: query.UnitsSI})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f %s at the critical point\n", a.Dome.Critical.Temperature.Value, a.Dome.Critical.Temperature.Unit)
	// Output: 78 degC at the critical point
}

func ExampleEngine_LineSetCharge() {
	a, err := query.New().LineSetCharge(query.LineSetChargeQuestion{Visit: query.Visit{System: query.System{
		Refrigerant: "R-410A",
		LineSet: &query.LineSet{
			Length: of(45, "ft"), FactoryIncludedLength: of(15, "ft"), LiquidOutsideDiameter: of(0.375, "in"),
		},
	}}}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f %s more\n", a.Correction.Value, a.Correction.Unit)
	// Output: 16 oz more
}

func ExampleEngine_CylinderFill() {
	a, err := query.New().CylinderFill(query.CylinderFillQuestion{
		Refrigerant: "R-410A", WaterCapacity: of(47.6, "lb"), Tare: of(27.5, "lb"), GrossWeight: of(52, "lb"),
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("at most %.1f %s on the scale\n", a.AllowedGross.Value, a.AllowedGross.Unit)
	// Output: at most 67.9 lb on the scale
}

func ExampleEngine_LeakedBlend() {
	a, err := query.New().LeakedBlend(query.LeakedBlendQuestion{
		Visit:        query.Visit{System: query.System{Refrigerant: "R-407C"}},
		FillFraction: of(60, "percent"), Temperature: of(80, "degF"), PhaseLeaving: query.LeavingVapor, FractionLost: of(25, "percent"),
	}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	for _, c := range a.Remaining {
		fmt.Printf("%s %.0f %%\n", c.Refrigerant, c.MassPercent)
	}
	// Output:
	// R-32 20 %
	// R-125 23 %
	// R-134a 56 %
}

func ExampleEngine_Stability() {
	a, err := query.New().Stability(query.StabilityQuestion{Series: []query.SeriesQuestion{{
		Reading: "suction_pressure", Unit: "psig",
		Times:  []float64{0, 60, 120, 180, 240, 300, 360, 420, 480, 540, 600, 660, 720, 780, 840},
		Values: []float64{121, 118.2, 118, 118.1, 117.9, 118, 118.1, 118, 117.9, 118, 118.1, 118, 118, 117.9, 118},
	}}}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(a.Status == query.StatusSteady)
	// Output: true
}

func ExampleEngine_MoistAir() {
	a, err := query.New().MoistAir(query.MoistAirQuestion{DryBulb: of(75, "degF"), RelativeHumidity: of(50, "percent")}, query.Presentation{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("wet bulb %.1f %s\n", a.WetBulb.Value, a.WetBulb.Unit)
	// Output: wet bulb 62.6 degF
}

// Every error of a question is in one Refusal, with its place and its code.
func ExampleRefusal() {
	_, err := query.New().TargetSuperheat(query.TargetSuperheatQuestion{Visit: query.Visit{Readings: query.Readings{
		ReturnWetBulb:  of(64.0, "F"),
		OutdoorDryBulb: &query.Quantity{Unit: "degF"},
	}}}, query.Presentation{})
	if refusal, ok := errors.AsType[*query.Refusal](err); ok {
		for _, f := range refusal.Errors {
			fmt.Println(f.Pointer, f.Code)
		}
	}
	// Output:
	// /readings/outdoor_dry_bulb/value missing_value
	// /readings/return_wet_bulb/unit unknown_unit
}

// A caller who loses interest ends what is being computed.
func ExampleEngine_Until() {
	gone := true // what ctx.Err() != nil would say
	e := query.New().Until(func() bool { return gone })
	_, err := e.LeakedBlend(query.LeakedBlendQuestion{
		Visit:        query.Visit{System: query.System{Refrigerant: "R-407C"}},
		FillFraction: of(60.0, "percent"),
		Temperature:  of(80.0, "degF"),
		PhaseLeaving: "vapor",
		FractionLost: of(25.0, "percent"),
	}, query.Presentation{})
	fmt.Println(errors.Is(err, query.ErrStopped))
	// Output: true
}

// shelf keeps curves where the next start of the program finds them; here in
// memory. Several goroutines may use it at once.
type shelf struct{ kept sync.Map }

func (s *shelf) Load(key string) ([]byte, bool) {
	data, ok := s.kept.Load(key)
	if !ok {
		return nil, false
	}
	return data.([]byte), true
}

func (s *shelf) Store(key string, data []byte) { s.kept.Store(key, data) }

// Curves cost milliseconds to build and can be kept between runs.
func ExampleNewWith() {
	kept := new(shelf)
	e := query.NewWith(query.Options{CurveStore: kept, MaxCurves: 16})
	if err := e.Warm("R-410A", "R-454B"); err != nil {
		log.Fatal(err)
	}
	count := 0
	kept.kept.Range(func(any, any) bool { count++; return true })
	fmt.Println(count, "curves kept")
	// Output: 2 curves kept
}
