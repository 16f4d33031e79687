package diagnosis

import (
	"math"
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// The names of the two hypotheses that are no fault, in a prior.
const (
	NoFault     = "no_fault"
	Unexplained = "unexplained"
)

// TwoFaults names in a prior the share of systems with two faults among those
// with any.
const TwoFaults = "two_faults"

// Feature is a quantity whose deviation from its target is evidence. Its text
// is the name of the quantity, or of the reading, on the wire.
type Feature string

// The features.
const (
	Superheat                       Feature = "superheat"
	Subcooling                      Feature = "subcooling"
	EvaporatorTemperatureDifference Feature = "evaporator_temperature_difference"
	CondensingOverAmbient           Feature = "condensing_over_ambient"
	TemperatureSplit                Feature = "temperature_split"
	DrierTemperatureDrop            Feature = "drier_temperature_drop"
	IndoorAirflow                   Feature = "indoor_airflow"
)

// Kind is what the feature measures: air flow for IndoorAirflow, else a
// difference of temperatures.
func (f Feature) Kind() unit.Kind {
	if f == IndoorAirflow {
		return unit.KindAirFlow
	}
	return unit.KindTemperatureDiff
}

// features are in the order of answers.
var features = []struct {
	feature  Feature
	quantity circuit.Quantity
}{
	{Superheat, circuit.Superheat},
	{Subcooling, circuit.Subcooling},
	{EvaporatorTemperatureDifference, circuit.EvaporatorTemperatureDifference},
	{CondensingOverAmbient, circuit.CondensingOverAmbient},
	{TemperatureSplit, circuit.TemperatureSplit},
	{DrierTemperatureDrop, circuit.DrierTemperatureDrop},
	{feature: IndoorAirflow},
}

// model is the reference data in the form that the arithmetic wants, in SI.
type model struct {
	figures map[string]refdata.Figure
	prior   map[string]float64
	checks  map[equipment.Fault][]string

	// What the weighing asks for often.
	tails                           student
	pairShare, steadiness           float64
	futureInstrument, futureAirflow float64
	plausible                       [signature.Readable]float64
}

var reference = sync.OnceValue(func() model {
	m := model{figures: map[string]refdata.Figure{}, prior: map[string]float64{}, checks: map[equipment.Fault][]string{}}
	own := refdata.Diagnosis()
	for _, f := range slices.Concat(own.Figures, refdata.ChargeVerification(), refdata.TradeFacts()) {
		m.figures[f.Code] = f
	}
	for _, p := range own.Prior {
		m.prior[p.Hypothesis] = p.Share
	}
	for _, c := range own.NextChecks {
		m.checks[equipment.Fault(c.Fault)] = c.Checks
	}
	m.tails = newStudent(m.si("degrees_of_freedom"))
	m.pairShare, m.steadiness = m.si("pair_share"), m.si("steadiness")
	m.futureInstrument, m.futureAirflow = m.si("future_instrument"), m.si("future_airflow")
	for c, code := range plausibleCodes {
		if code != "" {
			m.plausible[c] = m.si(code)
		}
	}
	m.plausible[signature.Airflow] = math.Log(m.si("plausible_airflow"))
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
func (m model) si(code string) float64 { return figure.SI(m.figure(code)) }

// band is the middle and half-width of a figure that is a band.
func (m model) band(code string) (middle, half float64) {
	lo, hi := figure.Low(m.figure(code)), figure.High(m.figure(code))
	return (lo + hi) / 2, (hi - lo) / 2
}
