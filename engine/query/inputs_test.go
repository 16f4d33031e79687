package query

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/charge"
	"github.com/knurl-hvacr/knurl/engine/hose"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/leak"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/stability"
	"github.com/knurl-hvacr/knurl/engine/standing"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Whatever a calculation is told has a row that says where in the question it
// comes from, and every place in that row is a member of the question.
func TestEveryInputHasItsPlace(t *testing.T) {
	places(t, HoseRecoveryQuestion{}, hoseOrigins, hose.AllGiven(), hose.RecoveryEndPressure)
	for of := range highHoseOrigins {
		if _, ok := hoseOrigins[of]; !ok {
			t.Errorf("%v of the high side only", of)
		}
	}
	places(t, HoseRecoveryQuestion{}, highHoseOrigins, nil)
	places(t, LineSetChargeQuestion{}, lineSetOrigins, charge.AllGivenLineSet())
	places(t, CylinderFillQuestion{}, cylinderOrigins, charge.AllGivenCylinder())
	places(t, StandingPressureQuestion{}, standingOrigins, standing.AllGiven())
	places(t, SeriesQuestion{}, stabilityOrigins, stability.AllGiven())
	places(t, LeakedBlendQuestion{}, leakOrigins, leak.AllGiven(), leak.Components)
	places(t, MoistAirQuestion{}, moistAirOrigins, moistair.AllGiven())
	places(t, Readings{}, returnAirOrigins, moistair.AllGiven(), moistair.DewPoint, moistair.HumidityRatio, moistair.Pressure, moistair.Altitude)
}

// places holds the rows of one question; inputs in own are none of its.
func places[Name interface {
	comparable
	fmt.Stringer
}](t *testing.T, question any, rows map[Name]origin, all []Name, own ...Name) {
	t.Helper()
	for _, name := range all {
		if o, ok := rows[name]; !ok {
			t.Errorf("%T: no row for the %v", question, name)
		} else if none := len(o) == 0; none != slices.Contains(own, name) {
			t.Errorf("%T: the %v stands at %v", question, name, o)
		}
	}
	for name, o := range rows {
		for _, pointer := range o {
			if _, ok := memberAt(reflect.ValueOf(question), strings.ReplaceAll(pointer, "%d", "0")); !ok {
				t.Errorf("%T has no member %s for the %v", question, pointer, name)
			}
		}
	}
}

// Every reason of the calculations has its words.
func TestEveryReasonIsWorded(t *testing.T) {
	for _, reason := range []input.Reason{
		input.Missing, input.Unknown, input.Uncertainty, input.Contradiction, hose.EndTooLarge, leak.OnePhase, leak.NotRising, stability.NotRising, stability.UnequalLengths,
		charge.BelowTare, charge.WallTooThick, charge.NoUsualWall, charge.OtherRefrigerant, charge.NotThisPhase, charge.NoLiquidAtReference, charge.NoLiquidAtMaximum,
	} {
		if words := refused[reason]; words.code == "" || !phrase.Known(words.why) {
			t.Errorf("%q: %+v", reason, words)
		}
	}
}

func TestLimitsInTheCallersUnit(t *testing.T) {
	air := unit.StandardAtmosphere()
	volume := input.Limits{Kind: unit.KindVolume, Max: 1}
	bound := func(v float64, unit string) *intake.Bound { return &intake.Bound{Value: v, Unit: unit} }
	for _, tt := range []struct {
		l     input.Limits
		typed *Quantity
		want  intake.Limit
	}{
		{volume, &Quantity{Unit: "L"}, intake.Limit{Low: bound(0, "L"), High: bound(1000, "L")}},
		{volume, &Quantity{Unit: "in3"}, intake.Limit{Low: bound(0, "in3"), High: bound(61023.7, "in3")}},
		{volume, nil, intake.Limit{Low: bound(0, "ft3"), High: bound(35.3147, "ft3")}},
		{input.Limits{Kind: unit.KindTemperature, Max: 2000, Above: true}, &Quantity{Unit: "degF"}, intake.Limit{Low: bound(-459.67, "degF"), High: bound(3140.33, "degF"), Above: true}},
		{input.Limits{Kind: unit.KindPressure, Max: 1e6, Above: true}, &Quantity{Unit: "kPag"}, intake.Limit{Low: bound(-101.325, "kPag"), High: bound(898.675, "kPag"), Above: true}},
		{input.Limits{Kind: unit.KindGaugePressure, Max: math.Inf(1), Above: true}, &Quantity{Unit: "psia"}, intake.Limit{Low: bound(14.6959, "psia"), Above: true}},
		{input.Limits{Kind: unit.KindMass, Max: math.Inf(1)}, &Quantity{Unit: "lb"}, intake.Limit{Low: bound(0, "lb")}},
	} {
		if got := (Presentation{}).limit(tt.l, tt.typed, air); !reflect.DeepEqual(got, tt.want) {
			t.Errorf("%+v: %+v, want %+v", tt.l, got, tt.want)
		}
	}
}
