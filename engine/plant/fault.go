package plant

import "github.com/knurl-hvacr/knurl/engine/equipment"

// Faults are what is wrong with a system, any of them together. The zero value
// is a system as rated; small values of either sign are the ordinary scatter
// of installations.
type Faults struct {
	// Charge is (charge - rated charge) over rated charge.
	Charge float64
	// IndoorAirflow and OutdoorAirflow are the shares of the rated flows
	// that are lost, to fouling or otherwise.
	IndoorAirflow, OutdoorAirflow float64
	// RestrictionBeforePort and RestrictionAfterPort are pressure drops in the
	// liquid line before and after the service port, as shares of the drop from
	// condenser outlet to evaporator inlet. As a relative increase of that drop
	// over what the rest takes, which also is in use, a share s is s/(1-s).
	RestrictionBeforePort, RestrictionAfterPort float64
	// equipment.NonCondensables is the mass of gas over what the empty circuit holds at
	// one standard atmosphere (and 20 degC).
	NonCondensables float64
	// equipment.CompressorValveLeakage is the share of the compressor's flow that leaks back from
	// discharge to suction.
	ValveLeakage float64
}

// The ranges of faults that the model takes.
const (
	maxChargeChange    = 0.6
	maxAirflowLoss     = 0.9
	leastAirflowLoss   = -0.5
	maxRestriction     = 0.9
	maxNonCondensables = 3
	maxLeakage         = 0.7
)

func (f Faults) check() error {
	var r ranges
	r.within("charge", f.Charge, -maxChargeChange, maxChargeChange)
	r.within("evaporator airflow loss", f.IndoorAirflow, leastAirflowLoss, maxAirflowLoss)
	r.within("condenser airflow loss", f.OutdoorAirflow, leastAirflowLoss, maxAirflowLoss)
	r.within("restriction before the port", f.RestrictionBeforePort, 0, maxRestriction)
	r.within("restriction after the port", f.RestrictionAfterPort, 0, maxRestriction)
	r.within("both restrictions", f.RestrictionBeforePort+f.RestrictionAfterPort, 0, maxRestriction)
	r.within("non-condensables", f.NonCondensables, 0, maxNonCondensables)
	r.within("valve leakage", f.ValveLeakage, 0, maxLeakage)
	return r.err()
}

// mixed is a share of the way from no fault to f.
func (f Faults) mixed(share float64) Faults {
	return Faults{
		share * f.Charge, share * f.IndoorAirflow, share * f.OutdoorAirflow,
		share * f.RestrictionBeforePort, share * f.RestrictionAfterPort,
		share * f.NonCondensables, share * f.ValveLeakage,
	}
}

// With adds a fault of a severity: the share of charge or flow lost, or too
// much, or as [Faults] defines it. beforePort places a restriction. A name that
// is no fault changes nothing.
func (f Faults) With(fault equipment.Fault, severity float64, beforePort bool) Faults {
	switch fault {
	case equipment.Undercharge:
		f.Charge -= severity
	case equipment.Overcharge:
		f.Charge += severity
	case equipment.LowIndoorAirflow:
		f.IndoorAirflow += severity
	case equipment.LowOutdoorAirflow:
		f.OutdoorAirflow += severity
	case equipment.LiquidLineRestriction:
		if beforePort {
			f.RestrictionBeforePort += severity
		} else {
			f.RestrictionAfterPort += severity
		}
	case equipment.NonCondensables:
		f.NonCondensables += severity
	case equipment.CompressorValveLeakage:
		f.ValveLeakage += severity
	}
	return f
}
