package diagnosis

import (
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/target"
)

// ChargeReason is the stable code of why the charge is said to be off, or why
// nothing is said of it.
type ChargeReason string

// The reasons.
const (
	// ChargeOffByInterval: it is off by ChargeOff.
	ChargeOffByInterval ChargeReason = "charge_off_by_interval"
	// AirflowFirst: air flow or heat exchange are open, which come before charge.
	AirflowFirst ChargeReason = "airflow_first"
	// OtherExplanationsOpen: the charge is the likeliest fault, but not the only
	// explanation, or the procedure disagrees.
	OtherExplanationsOpen ChargeReason = "other_explanations_open"
	// NoChargeFault: nothing points at the charge.
	NoChargeFault ChargeReason = "no_charge_fault_indicated"
)

// ChargeReason says why Charge is what it is.
func (r *Result) ChargeReason() ChargeReason {
	switch {
	case r.Charge != "":
		return ChargeOffByInterval
	case r.AirflowOpen || r.AirflowSuspect:
		return AirflowFirst
	case r.Assessment == FaultIndicated && (r.Findings[0].Fault == equipment.Undercharge || r.Findings[0].Fault == equipment.Overcharge):
		return OtherExplanationsOpen
	}
	return NoChargeFault
}

// FirstStep is the share of the rated charge by which to change it before
// reading again: half of the least that it is off.
func (r *Result) FirstStep() float64 { return r.ChargeOff.Low / 2 }

// Settling is how long a system runs after a change of its charge before it is
// read again, in s, as the charge verification has it.
func Settling() float64 { return reference().si("run_time_after_adjustment") }

// Withholds tells that an alternative to a target points at the charge where
// air flow or heat exchange are suspect: with too little air nothing may.
func (r *Result) Withholds(a target.Alternative) bool {
	return r.AirflowSuspect && (a == target.WeighIn || a == target.SubcoolingForValve)
}

// Worth tells whether a reading is worth taking: whether the chance that it
// changes what is said is not small.
func (m Measurement) Worth() bool {
	return m.ChangesAdvice >= figure.SI(reference().figure("worth_from"))
}
