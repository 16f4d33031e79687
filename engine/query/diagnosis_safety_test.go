package query_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// Nothing is said of charge while readings contradict each other, or another
// refrigerant explains them better, or air is found wanting where nothing else
// can be judged.
func TestNoChargeBesideOpenQuestions(t *testing.T) {
	short := func() query.DiagnosisQuestion {
		q := read[query.DiagnosisQuestion](t, healthy(""))
		r := &q.Readings
		r.SuctionPressure, r.SuctionLineTemperature = quantity(112, "psig"), quantity(62, "degF")
		r.LiquidPressure, r.LiquidLineTemperature = quantity(320, "psig"), quantity(98, "degF")
		r.SupplyDryBulb = quantity(60, "degF")
		return q
	}
	if a := answer(t, engine.Diagnosis, short()); a.ChargeEstimate.Direction == nil {
		t.Fatalf("plain undercharge: %s", text(t, a.ChargeEstimate))
	}
	warm := short() // a liquid line warmer than the refrigerant condenses
	warm.Readings.LiquidLineTemperature = quantity(105, "degF")
	a := answer(t, engine.Diagnosis, warm)
	require.NotEmpty(t, a.ReadingChecks)
	require.Nil(t, a.ChargeEstimate.Direction, "beside %s", text(t, a.ReadingChecks))
	require.Nil(t, a.ChargeEstimate.FirstStep, "beside %s", text(t, a.ReadingChecks))
	mistaken := read[query.DiagnosisQuestion](t, healthy("")) // R-410A in it, R-22 selected
	mistaken.System.Refrigerant = "R-22"
	a = answer(t, engine.Diagnosis, mistaken)
	require.Equal(t, "inconclusive", a.Assessment, "R-410A read as R-22")
	require.Nil(t, a.ChargeEstimate.Direction, "R-410A read as R-22")
	require.NotEmpty(t, a.Interpretations, "R-410A read as R-22")
	require.Equal(t, "other_refrigerant", a.Interpretations[0].Interpretation, "R-410A read as R-22")
	require.Equal(t, "R-410A", a.Interpretations[0].Refrigerant, "R-410A read as R-22")
	cold := read[query.DiagnosisQuestion](t, healthy("")) // the method does not hold, but air was measured
	cold.System.MeteringDevice, cold.System.NominalCapacity = "fixed_orifice", quantity(3, "ton")
	cold.Readings.OutdoorDryBulb, cold.Readings.IndoorAirflow = quantity(50, "degF"), quantity(400, "cfm")
	a = answer(t, engine.Diagnosis, cold)
	if a.ChargeEstimate.Reason.Code != "airflow_first" || slices.ContainsFunc(a.TargetsUnavailable, func(n query.NoTarget) bool {
		return slices.ContainsFunc(n.Alternatives, func(x query.Note) bool { return x.Code == "weigh_in_charge" })
	}) {
		t.Errorf("400 cfm on 3 tons: %s, %s", text(t, a.ChargeEstimate), text(t, a.TargetsUnavailable))
	}
}

// On the wire, too, the hypotheses sum to one.
func TestHypothesesSumExactly(t *testing.T) {
	holds(t, func(v visit) bool {
		a := answer(t, engine.Diagnosis, v.question("thermostatic_valve"))
		sum := 0.0
		for _, h := range a.Hypotheses {
			sum += h.Probability
		}
		return len(a.Hypotheses) == 0 || math.Abs(sum-1) <= 1e-12
	})
}

// A plan says what a diagnosis of the same readings would, points at hoses that
// cannot be, and refuses nothing that nobody typed.
func TestPlanAgreesWithDiagnosis(t *testing.T) {
	q := read[query.MeasurementPlanQuestion](t, healthy(""))
	q.Readings.SuctionPressure, q.Readings.LiquidPressure = nil, nil
	plan := answer(t, engine.MeasurementPlan, q)
	same := answer(t, engine.Diagnosis, query.DiagnosisQuestion{Visit: q.Visit, RunningTime: q.RunningTime})
	require.Equal(t, same.Assessment, plan.Assessment)
	require.Equal(t, text(t, same.InconclusiveBecause), text(t, plan.InconclusiveBecause))
	require.NotEmpty(t, plan.Leaning)
	full := read[query.MeasurementPlanQuestion](t, healthy(""))
	full.Hoses = []query.Hose{{}}
	if got := faults(t, engine.MeasurementPlan, full); len(got) == 0 {
		t.Error("an empty hose passes where pressures are read")
	}
}
