// Package equipment names what a system has that all else hangs on: its
// metering device, and what can be wrong with it. It must not know how a fault
// shows, how likely one is, or what anybody should do about it.
package equipment

import "slices"

// MeteringDevice is what lets refrigerant into the evaporator. The zero value
// is one that nobody named.
type MeteringDevice string

// The metering devices.
const (
	// FixedOrifice is a piston or another short tube.
	FixedOrifice      MeteringDevice = "fixed_orifice"
	CapillaryTube     MeteringDevice = "capillary_tube"
	ThermostaticValve MeteringDevice = "thermostatic_valve"
	ElectronicValve   MeteringDevice = "electronic_valve"
)

// MeteringDevices lists them.
func MeteringDevices() []MeteringDevice {
	return []MeteringDevice{FixedOrifice, CapillaryTube, ThermostaticValve, ElectronicValve}
}

// Fixed tells that the device does not move, so that the charge shows in
// superheat; with a valve it shows in subcooling.
func (d MeteringDevice) Fixed() bool { return d == FixedOrifice || d == CapillaryTube }

// Valve tells that the device keeps to a superheat of its own.
func (d MeteringDevice) Valve() bool { return d == ThermostaticValve || d == ElectronicValve }

// Known tells a metering device from an empty or unknown name.
func (d MeteringDevice) Known() bool { return d.Fixed() || d.Valve() }

// Fault is one kind of fault of a system.
type Fault string

// The faults, by the place where they are.
const (
	Undercharge       Fault = "undercharge"
	Overcharge        Fault = "overcharge"
	LowIndoorAirflow  Fault = "low_indoor_airflow"
	LowOutdoorAirflow Fault = "low_outdoor_airflow"
	// LiquidLineRestriction is one in the line, the drier or the device's inlet.
	LiquidLineRestriction Fault = "liquid_line_restriction"
	// NonCondensables are air or nitrogen in the circuit.
	NonCondensables Fault = "non_condensables"
	// CompressorValveLeakage is gas that leaks back from discharge to suction.
	CompressorValveLeakage Fault = "compressor_valve_leakage"
)

// FaultCount is how many faults there are.
const FaultCount = 7

var faults = [FaultCount]Fault{Undercharge, Overcharge, LowIndoorAirflow, LowOutdoorAirflow, LiquidLineRestriction, NonCondensables, CompressorValveLeakage}

// Faults lists them.
func Faults() []Fault { return slices.Clone(faults[:]) }

// Index is the place of f in Faults, -1 for what is no fault.
func (f Fault) Index() int { return slices.Index(faults[:], f) }
