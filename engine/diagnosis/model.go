package diagnosis

import (
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Device is the metering device, as the wire names it.
type Device string

// The metering devices.
const (
	FixedOrifice      Device = "fixed_orifice"
	CapillaryTube     Device = "capillary_tube"
	ThermostaticValve Device = "thermostatic_valve"
	ElectronicValve   Device = "electronic_valve"
)

// Fixed tells that the device does not move, so that the charge shows in
// superheat; with a valve it shows in subcooling.
func (d Device) Fixed() bool { return d == FixedOrifice || d == CapillaryTube }

func (d Device) known() bool {
	return d.Fixed() || d == ThermostaticValve || d == ElectronicValve
}

// Fault is one of the faults looked for, as the wire names it.
type Fault string

// The faults.
const (
	Undercharge            Fault = "undercharge"
	Overcharge             Fault = "overcharge"
	LowEvaporatorAirflow   Fault = "low_evaporator_airflow"
	LowCondenserAirflow    Fault = "low_condenser_airflow"
	LiquidLineRestriction  Fault = "liquid_line_restriction"
	NonCondensables        Fault = "non_condensables"
	CompressorValveLeakage Fault = "compressor_valve_leakage"
)

// Faults lists all faults.
func Faults() []Fault {
	return []Fault{Undercharge, Overcharge, LowEvaporatorAirflow, LowCondenserAirflow, LiquidLineRestriction, NonCondensables, CompressorValveLeakage}
}

// The names of the two hypotheses that are no fault, in a prior.
const (
	NoFault     = "no_fault"
	Unexplained = "unexplained"
)

// Feature is a quantity whose deviation from its target is evidence. Its text
// is the name of the quantity, or of the reading, on the wire.
type Feature string

// The features.
const (
	Superheat             Feature = "superheat"
	Subcooling            Feature = "subcooling"
	EvaporatorDifference  Feature = "evaporator_difference"
	CondensingOverAmbient Feature = "condensing_over_ambient"
	TemperatureSplit      Feature = "temperature_split"
	DrierTemperatureDrop  Feature = "drier_temperature_drop"
	IndoorAirflow         Feature = "indoor_airflow"
)

// Kind is what the feature measures: air flow for IndoorAirflow, else a
// difference of temperatures.
func (f Feature) Kind() unit.Kind {
	if f == IndoorAirflow {
		return unit.KindAirFlow
	}
	return unit.KindTemperatureDiff
}

// features are in the order of answers. sign is the column of the sign charts
// that speaks of the feature, opposed where that column runs the other way;
// step the figure by which severities are counted.
var features = []struct {
	feature  Feature
	quantity circuit.Quantity
	sign     string
	opposed  bool
	step     string
	readings []circuit.Reading
}{
	{feature: Superheat, quantity: circuit.Superheat, sign: "superheat", step: "superheat_tolerance_installer",
		readings: []circuit.Reading{circuit.SuctionPressure, circuit.SuctionLineTemperature}},
	{feature: Subcooling, quantity: circuit.Subcooling, sign: "subcooling", step: "subcooling_tolerance_installer",
		readings: []circuit.Reading{circuit.LiquidPressure, circuit.LiquidLineTemperature}},
	{feature: EvaporatorDifference, quantity: circuit.EvaporatorDifference, sign: "evaporating_temperature", opposed: true, step: "step_evaporator_difference",
		readings: []circuit.Reading{circuit.SuctionPressure, circuit.ReturnDryBulb}},
	{feature: CondensingOverAmbient, quantity: circuit.CondensingOverAmbient, sign: "condensing_temperature", step: "tolerance_condensing_over_ambient",
		readings: []circuit.Reading{circuit.LiquidPressure, circuit.OutdoorDryBulb}},
	{feature: TemperatureSplit, quantity: circuit.TemperatureSplit, sign: "temperature_split", step: "temperature_split_tolerance_installer",
		readings: []circuit.Reading{circuit.ReturnDryBulb, circuit.SupplyDryBulb, circuit.ReturnWetBulb}},
	{feature: DrierTemperatureDrop, quantity: circuit.DrierTemperatureDrop, sign: "drier_temperature_drop", step: "step_drier_temperature_drop",
		readings: []circuit.Reading{circuit.LiquidLineTemperature, circuit.DrierOutletTemperature}},
	{feature: IndoorAirflow, sign: "indoor_airflow", step: "airflow_tolerance",
		readings: []circuit.Reading{circuit.IndoorAirflow}},
}

// model is the reference data in the form that the arithmetic wants, in SI.
type model struct {
	figures map[string]refdata.Figure
	prior   map[string]float64
	checks  map[Fault][]string
	signs   map[Device]map[Fault]map[string]int
	sizes   map[Fault]map[string]float64 // steps, where not one
}

var reference = sync.OnceValue(func() model {
	m := model{
		figures: map[string]refdata.Figure{},
		prior:   map[string]float64{},
		checks:  map[Fault][]string{},
		signs:   map[Device]map[Fault]map[string]int{},
		sizes:   map[Fault]map[string]float64{},
	}
	own := refdata.Diagnosis()
	for _, f := range slices.Concat(own.Figures, refdata.ChargeVerification(), refdata.TradeFacts()) {
		m.figures[f.Code] = f
	}
	for _, p := range own.Prior {
		m.prior[p.Hypothesis] = p.Share
	}
	for _, e := range own.Sizes {
		if m.sizes[Fault(e.Fault)] == nil {
			m.sizes[Fault(e.Fault)] = map[string]float64{}
		}
		m.sizes[Fault(e.Fault)][e.Feature] = e.Steps
	}
	for _, c := range own.NextChecks {
		m.checks[Fault(c.Fault)] = c.Checks
	}
	for _, d := range []Device{FixedOrifice, CapillaryTube, ThermostaticValve, ElectronicValve} {
		m.signs[d] = map[Fault]map[string]int{}
		for _, f := range Faults() {
			m.signs[d][f] = map[string]int{}
		}
		// What is published for the device comes first; practice fills the gaps.
		// A capillary tube takes the chart of the other fixed device.
		read := d
		if d == CapillaryTube {
			read = FixedOrifice
		}
		for _, c := range slices.Concat(refdata.FaultSigns().Charts, own.Charts) {
			if c.Mode != "cooling" || !slices.Contains(c.MeteringDevices, string(read)) {
				continue
			}
			for _, row := range c.Rows {
				for column, sign := range row.Signs {
					if _, have := m.signs[d][Fault(row.Fault)][column]; !have {
						m.signs[d][Fault(row.Fault)][column] = sign
					}
				}
			}
		}
	}
	return m
})

// figure finds a figure that the data's own tests hold to be there.
func (m model) figure(code string) refdata.Figure {
	f, ok := m.figures[code]
	if !ok {
		panic("diagnosis: no figure " + code)
	}
	return f
}

// si is the value of a figure in SI, a fraction for percent and ratio.
func (m model) si(code string) float64 {
	f := m.figure(code)
	if f.Value == nil {
		panic("diagnosis: figure without a value " + code)
	}
	return inSI(*f.Value, f.Unit)
}

// band is the middle and half-width of a figure that is a band.
func (m model) band(code string) (middle, half float64) {
	f := m.figure(code)
	if f.Low == nil || f.High == nil {
		panic("diagnosis: figure without a band " + code)
	}
	lo, hi := inSI(*f.Low, f.Unit), inSI(*f.High, f.Unit)
	return (lo + hi) / 2, (hi - lo) / 2
}

func inSI(v float64, name string) float64 {
	switch name {
	case "ratio":
		return v
	case "cfm/ton":
		flow, _ := unit.Lookup("cfm")
		ton, _ := unit.Lookup("ton")
		return flow.ToSI(v) / ton.ToSI(1)
	}
	u, ok := unit.Lookup(name)
	if !ok {
		panic("diagnosis: figure in an unknown unit " + name)
	}
	return u.ToSI(v)
}
