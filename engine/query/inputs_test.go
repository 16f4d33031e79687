package query

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/charge"
	"github.com/knurl-hvacr/knurl/engine/hose"
	"github.com/knurl-hvacr/knurl/engine/input"
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
		} else if none := len(o) == 0; none != (len(own) > 0 && name == own[0]) {
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
		input.Missing, input.Unknown, input.Uncertainty, input.Contradiction, hose.EndTooLarge,
		charge.BelowTare, charge.WallTooThick, charge.NoUsualWall, charge.OtherRefrigerant, charge.NotThisPhase, charge.NoLiquidAtReference, charge.NoLiquidAtMaximum,
	} {
		if words := refused[reason]; words.code == "" || words.detail == "" {
			t.Errorf("%q: %+v", reason, words)
		}
	}
}

func TestLimitsInTheCallersUnit(t *testing.T) {
	air := unit.StandardAtmosphere()
	volume := input.Limits{Kind: unit.KindVolume, Max: 1}
	for _, tt := range []struct {
		l     input.Limits
		typed *Quantity
		want  string
	}{
		{volume, &Quantity{Unit: "L"}, "from 0 to 1000 L"},
		{volume, &Quantity{Unit: "in3"}, "from 0 to 61023.7 in3"},
		{volume, nil, "from 0 to 35.3147 ft3"},
		{input.Limits{Kind: unit.KindTemperature, Max: 2000, Above: true}, &Quantity{Unit: "degF"}, "above -459.67 and up to 3140.33 degF"},
		{input.Limits{Kind: unit.KindPressure, Max: 1e6, Above: true}, &Quantity{Unit: "kPag"}, "above -101.325 and up to 898.675 kPag"},
		{input.Limits{Kind: unit.KindGaugePressure, Max: math.Inf(1), Above: true}, &Quantity{Unit: "psia"}, "above 14.6959 psia"},
		{input.Limits{Kind: unit.KindMass, Max: math.Inf(1)}, &Quantity{Unit: "lb"}, "from 0 lb up"},
	} {
		if got := (Presentation{}).sayLimits(tt.l, tt.typed, air); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.l, got, tt.want)
		}
	}
}
