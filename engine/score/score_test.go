package score

import (
	"math"
	"testing"
)

func said(assessment string, none, unexplained float64, faults ...Likelihood) Decision {
	return Decision{Assessment: assessment, Faults: faults, Weighed: true, NoFault: none, Unexplained: unexplained}
}

func TestOutcomes(t *testing.T) {
	a, b := Likelihood{"undercharge", 0.6}, Likelihood{"overcharge", 0.3}
	for _, c := range []struct {
		truth string
		d     Decision
		want  Outcome
	}{
		{NoFault, said("no_fault_indicated", 0.9, 0), Correct},
		{NoFault, said("fault_indicated", 0.1, 0, a), FalseAlarm},
		{NoFault, said("inconclusive", 0.4, 0, a), NoResponse},
		{NoFault, Decision{}, NoResponse},
		{"undercharge", said("fault_indicated", 0.1, 0, a, b), Correct},
		{"undercharge", said("fault_indicated", 0.1, 0, b, a), Misdiagnosis},
		{"undercharge", said("no_fault_indicated", 0.9, 0, a), MissedDetection},
		{"undercharge", said("inconclusive", 0.3, 0, a), NoResponse},
		{"undercharge", Decision{Assessment: "fault_indicated"}, NoResponse},
	} {
		if got := Of(c.truth, c.d); got != c.want {
			t.Errorf("%s, %+v: outcome %d, want %d", c.truth, c.d, got, c.want)
		}
	}
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) < 1e-12) {
		t.Errorf("%s is %v, worked out by hand %v", what, got, want)
	}
}

// Expected numbers are worked out by hand from the definitions.
func TestTally(t *testing.T) {
	var y Tally
	// Marginals of 0.2 + 0.8 + 0.25 are scaled by 0.9 / 1.25: 0.144, 0.576, 0.18.
	y.Add("undercharge", said("fault_indicated", 0.2, 0.1, Likelihood{"undercharge", 0.8}, Likelihood{"overcharge", 0.25}), 3)
	y.Add(NoFault, said("fault_indicated", 0.25, 0, Likelihood{"overcharge", 0.75}), 1)
	y.Add("overcharge", said("inconclusive", 1, 0, Likelihood{"overcharge", 0}), 2)
	y.Add("undercharge", Decision{}, 2) // no answer: counts among the outcomes alone

	near(t, "N", y.N(), 8)
	near(t, "Weighed", y.Weighed(), 6)
	near(t, "share of correct", y.Share(Correct), 3./8)
	near(t, "share of no response", y.Share(NoResponse), 4./8)
	near(t, "false alarms", y.FalseAlarms(), 1)
	near(t, "right", y.Right(), 3./7)
	near(t, "no response to faults", y.ShareOfFaulty(NoResponse), 4./7)
	near(t, "ranking", y.Ranking(), 5./7)
	near(t, "Brier", y.Brier(), (3*(0.144*0.144+0.424*0.424+0.18*0.18)+(0.75*0.75+0.75*0.75)+2*2)/6)
	near(t, "log", y.Log(), -(3*math.Log(0.576)+math.Log(0.25)+2*math.Log(1e-6))/6)
	near(t, "calibration", y.Calibration(), (3*(1-0.576)+0.75+2*1)/6)
	r := y.Reliability()
	for i, want := range map[int]Bin{5: {3, 0.576, 1}, 7: {1, 0.75, 0}, 9: {2, 1, 0}} {
		near(t, "weight in bin", r[i].Weight, want.Weight)
		near(t, "claimed in bin", r[i].Claimed, want.Claimed)
		near(t, "hit in bin", r[i].Hit, want.Hit)
	}
	if !math.IsNaN(r[0].Hit) {
		t.Error("an empty bin has a share")
	}
}
