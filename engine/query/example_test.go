package query_test

import (
	"errors"
	"fmt"
	"os"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

// One Engine serves a whole program: it keeps the curves of compositions that
// were asked about.
func Example() {
	e := query.New()
	a, err := e.SuperheatSubcooling(query.SuperheatSubcoolingQuestion{Visit: query.Visit{
		System: query.System{Refrigerant: "R-410A"},
		Site:   query.Site{Altitude: &query.Quantity{Value: new(600.0), Unit: "ft"}},
		Readings: query.Readings{
			SuctionPressure:        &query.Quantity{Value: new(118.0), Unit: "psig", Accuracy: new(1.0)},
			SuctionLineTemperature: &query.Quantity{Value: new(52.0), Unit: "degF"},
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
		Pressure:    &query.Quantity{Value: new(5.0), Unit: "barg"},
	}, query.Presentation{Units: "si"})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("bubble %.1f, dew %.1f %s\n", a.BubbleTemperature.Value, a.DewTemperature.Value, a.DewTemperature.Unit)
	// Output: bubble 1.8, dew 7.9 degC
}

// Questions of the wire are read strictly: what does not fit is listed.
func ExampleEngine_Diagnosis() {
	body, err := os.ReadFile("../../testdata/demo/museum-second-visit.json")
	if err != nil {
		fmt.Println(err)
		return
	}
	q, err := strictjson.For[query.DiagnosisQuestion]().Decode(body)
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := query.New().Diagnosis(q, query.Presentation{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Assessment, a.Faults[0].Fault)
	// Output: fault_indicated undercharge
}

// Every fault of a question is in one Refusal, with its place and its code.
func ExampleRefusal() {
	_, err := query.New().TargetSuperheat(query.TargetSuperheatQuestion{Visit: query.Visit{Readings: query.Readings{
		ReturnWetBulb:  &query.Quantity{Value: new(64.0), Unit: "F"},
		OutdoorDryBulb: &query.Quantity{Unit: "degF"},
	}}}, query.Presentation{})
	var refusal *query.Refusal
	if errors.As(err, &refusal) {
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
		FillFraction: &query.Quantity{Value: new(60.0), Unit: "percent"},
		Temperature:  &query.Quantity{Value: new(80.0), Unit: "degF"},
		PhaseLeaving: "vapor",
		FractionLost: &query.Quantity{Value: new(25.0), Unit: "percent"},
	}, query.Presentation{})
	fmt.Println(errors.Is(err, query.ErrStopped))
	// Output: true
}

// shelf keeps curves where the next start of the program finds them; here in
// memory.
type shelf map[string][]byte

func (s shelf) Load(key string) ([]byte, bool) { data, ok := s[key]; return data, ok }

func (s shelf) Store(key string, data []byte) { s[key] = data }

// Curves cost milliseconds to build and can be kept between runs.
func ExampleNewWith() {
	kept := shelf{}
	e := query.NewWith(query.Options{CurveStore: kept, MaxCurves: 16})
	if err := e.Warm("R-410A", "R-454B"); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(kept), "curves kept")
	// Output: 2 curves kept
}
