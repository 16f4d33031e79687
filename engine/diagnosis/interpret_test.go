package diagnosis

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// contradiction is a healthy system whose pressures were read at each other's
// hoses; others have the same saturation.
func contradiction(t *testing.T) Contradiction {
	t.Helper()
	in := healthyFixed.input(t, equipment.FixedOrifice, 1)
	readings := map[circuit.Reading]circuit.Measured{}
	for _, r := range circuit.Readings() {
		if e, ok := in.State.Reading(r); ok {
			readings[r] = circuit.Measured{Value: e.Value, Standard: 0.3, Gauge: r.Kind() == unit.KindPressure}
		}
	}
	for _, p := range []circuit.Reading{circuit.SuctionPressure, circuit.LiquidPressure} {
		m := readings[p]
		m.Standard = 0.005 * m.Value
		readings[p] = m
	}
	readings[circuit.SuctionPressure], readings[circuit.LiquidPressure] = readings[circuit.LiquidPressure], readings[circuit.SuctionPressure]
	site := circuit.Measured{Value: 101325, Standard: 100}
	state, err := circuit.Derive(circuit.Input{Readings: readings, Site: site}, invented{})
	require.NoError(t, err)
	in.State = &state
	return Contradiction{
		Input: in, Readings: readings, Site: site, Selected: "X-1",
		Refrigerant: func(designation string) (Refrigerant, bool, error) {
			return Refrigerant{invented{}, signature.Traits{Dry: 0.6, Lift: 1.02}}, designation == "X-1", nil
		},
	}
}

func TestInterpretSwappedHoses(t *testing.T) {
	c := contradiction(t)
	list, err := Interpret(c)
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, HosesSwapped, list[0].Kind)
	require.Greater(t, list[0].Probability, 0.99)
	require.InDelta(t, 1, list[0].Probability+list[1].Probability, 1e-12)

	said := Result{Assessment: FaultIndicated, Charge: AddRefrigerant}
	said.Reconsider(list)
	require.Equal(t, Result{Assessment: Inconclusive, Because: []Reason{OtherInterpretation}}, said)
	kept := Result{Assessment: FaultIndicated}
	kept.Reconsider(nil)
	require.Equal(t, FaultIndicated, kept.Assessment)
}

func TestInterpretWhereThereIsNothingToWeigh(t *testing.T) {
	for name, change := range map[string]func(*Contradiction){
		"no check failed":       func(c *Contradiction) { c.State.Checks = nil },
		"unknown device":        func(c *Contradiction) { c.Device = "" },
		"heating":               func(c *Contradiction) { c.State.Heating = true },
		"nothing else explains": func(c *Contradiction) { delete(c.Readings, circuit.LiquidPressure) },
		"no curve of what it has": func(c *Contradiction) {
			c.Refrigerant = func(string) (Refrigerant, bool, error) { return Refrigerant{}, false, nil }
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := contradiction(t)
			change(&c)
			list, err := Interpret(c)
			require.NoError(t, err)
			require.Nil(t, list)
		})
	}
	lost := errors.New("no such refrigerant")
	c := contradiction(t)
	c.Refrigerant = func(string) (Refrigerant, bool, error) { return Refrigerant{}, false, lost }
	_, err := Interpret(c)
	require.ErrorIs(t, err, lost)
}

func TestChargeReason(t *testing.T) {
	of := func(f equipment.Fault) []Finding { return []Finding{{Fault: f}} }
	for _, tt := range []struct {
		result Result
		want   ChargeReason
	}{
		{Result{Charge: AddRefrigerant}, ChargeOffByInterval},
		{Result{AirflowOpen: true, Assessment: FaultIndicated, Findings: of(equipment.Undercharge)}, AirflowFirst},
		{Result{AirflowSuspect: true}, AirflowFirst},
		{Result{Assessment: FaultIndicated, Findings: of(equipment.Overcharge)}, OtherExplanationsOpen},
		{Result{Assessment: FaultIndicated, Findings: of(equipment.NonCondensables)}, NoChargeFault},
		{Result{Assessment: Inconclusive}, NoChargeFault},
	} {
		require.Equal(t, tt.want, tt.result.ChargeReason())
	}
	require.Equal(t, 0.05, (&Result{ChargeOff: Severity{Low: 0.1}}).FirstStep())
	require.Equal(t, 900., Settling(), "CEC Reference Residential Appendices (2008) RA3.2: 15 minutes")
}

func TestWithheldWhileAirIsSuspect(t *testing.T) {
	suspect, clear := Result{AirflowSuspect: true}, Result{}
	for _, a := range []target.Alternative{target.WeighIn, target.SubcoolingForValve} {
		require.True(t, suspect.Withholds(a))
		require.False(t, clear.Withholds(a))
	}
	require.False(t, suspect.Withholds(target.MeasureAirflow))
	require.True(t, Measurement{ChangesAdvice: 0.2}.Worth())
	require.False(t, Measurement{ChangesAdvice: 0.05}.Worth())
}

func TestEverySeverityIsOfSomething(t *testing.T) {
	for _, f := range equipment.Faults() {
		require.NotEmpty(t, SeverityOf(f), "%v", f)
	}
}

func TestExpectedOnALine(t *testing.T) {
	line := func(k float64) (float64, bool) { return 1000 * k, k < 301 }
	p, ok := Expected{Value: 280, Standard: 2}.On(line)
	require.True(t, ok)
	require.Equal(t, gum.Uncertain{Value: 280e3, Standard: 2e3}, p)
	_, ok = Expected{Value: 300, Standard: 2}.On(line)
	require.False(t, ok, "beyond the end of the line")
}
