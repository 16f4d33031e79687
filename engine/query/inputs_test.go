package query

import (
	"fmt"
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
	places(t, Visit{}, returnAirOrigins, moistair.AllGiven(), moistair.DewPoint, moistair.HumidityRatio, moistair.Pressure, moistair.Altitude)
}

// places holds the rows of one question; inputs in own are none of its.
func places[Name interface {
	comparable
	fmt.Stringer
}](t *testing.T, question any, rows map[Name]intake.Origin, all []Name, own ...Name) {
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
			if _, ok := intake.MemberAt(question, strings.ReplaceAll(pointer, "%d", "0")); !ok {
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
