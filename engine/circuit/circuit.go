// Package circuit turns the readings of a running system into what they mean
// for the refrigerant circuit (superheat, subcooling, coil temperatures,
// differences, ratios), each with its uncertainty and its share in common
// errors. It must not know how a refrigerant's saturation is computed, what
// the figures ought to be, or what a fault looks like.
package circuit

import (
	"errors"
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Saturation is what a circuit needs to know of its refrigerant: bubble and
// dew temperature at a pressure with their slopes in K/Pa.
type Saturation interface {
	Dew(p unit.Pressure) (t unit.Temperature, slope float64, err error)
	Bubble(p unit.Pressure) (t unit.Temperature, slope float64, err error)
}

// Quantity is what follows from readings.
type Quantity int

// The quantities, as the wire names them. Superheats use the dew point,
// subcooling the bubble point.
const (
	// Superheat is the suction line above the dew point of the suction pressure.
	Superheat Quantity = iota
	// Subcooling is the liquid line below the bubble point of the liquid pressure.
	Subcooling
	// EvaporatorDewTemperature is the dew point of the suction pressure.
	EvaporatorDewTemperature
	// EvaporatorMeanTemperature is the mean of bubble and dew point of the suction pressure.
	EvaporatorMeanTemperature
	// CondenserBubbleTemperature is the bubble point of the liquid pressure.
	CondenserBubbleTemperature
	// CondenserDewTemperature is the dew point of the liquid pressure.
	CondenserDewTemperature
	// CondenserMeanTemperature is the mean of bubble and dew point of the liquid pressure.
	CondenserMeanTemperature
	// CondensingOverAmbient is CondenserMeanTemperature above the outdoor dry bulb.
	CondensingOverAmbient
	// EvaporatorTemperatureDifference is the return dry bulb above EvaporatorMeanTemperature.
	EvaporatorTemperatureDifference
	// TemperatureSplit is the return dry bulb above the supply dry bulb.
	TemperatureSplit
	// DischargeSuperheat is the discharge line above the dew point of the discharge pressure.
	DischargeSuperheat
	// CompressionRatio is absolute discharge pressure over absolute suction pressure.
	CompressionRatio
	// DrierTemperatureDrop is the liquid line above the outlet of the filter-drier.
	DrierTemperatureDrop
	quantityCount
)

var quantityNames = [quantityCount]string{
	"superheat", "subcooling", "evaporator_dew_temperature", "evaporator_mean_temperature",
	"condenser_bubble_temperature", "condenser_dew_temperature", "condenser_mean_temperature",
	"condensing_over_ambient", "evaporator_temperature_difference", "temperature_split",
	"discharge_superheat", "compression_ratio", "drier_temperature_drop",
}

// String is the name on the wire.
func (q Quantity) String() string {
	if q < 0 || q >= quantityCount {
		return fmt.Sprintf("circuit.Quantity(%d)", int(q))
	}
	return quantityNames[q]
}

// Quantities lists all quantities in the order of the wire.
func Quantities() []Quantity {
	all := make([]Quantity, quantityCount)
	for i := range all {
		all[i] = Quantity(i)
	}
	return all
}

// Kind is what the quantity measures.
func (q Quantity) Kind() unit.Kind {
	switch q {
	case EvaporatorDewTemperature, EvaporatorMeanTemperature, CondenserBubbleTemperature, CondenserDewTemperature, CondenserMeanTemperature:
		return unit.KindTemperature
	case CompressionRatio:
		return unit.KindRatio
	default:
		return unit.KindTemperatureDiff
	}
}

// Input is what was read on a running system.
type Input struct {
	Readings map[Reading]Measured
	// Site is the absolute air pressure at the gauges in Pa; it is needed only
	// where a reading is a gauge's.
	Site Measured
	// Heating tells that the outdoor coil evaporates. The two differences to
	// the air of a coil are then left out, and checks that hold in cooling only.
	Heating bool
}

// Assumption is the stable code of something taken for granted.
type Assumption string

// The assumptions that Derive can make.
const (
	// LiquidForDischarge: no discharge pressure was read, the liquid pressure
	// stands in for it, lower by the drop across the condenser.
	LiquidForDischarge Assumption = "liquid_pressure_for_discharge_pressure"
	// DischargeForLiquid: no liquid pressure was read, the discharge pressure
	// stands in for it, higher by the drop across the condenser.
	DischargeForLiquid Assumption = "discharge_pressure_for_liquid_pressure"
	// CoilIsMean: a coil's temperature is the mean of bubble and dew point.
	CoilIsMean Assumption = "coil_temperature_is_mean_of_bubble_and_dew"
	// IndependentInstruments: instruments err independently of each other.
	IndependentInstruments Assumption = "instrument_errors_independent"
)

// Need is a reading that was not given and what it would lead to.
type Need struct {
	Reading Reading
	For     []Quantity
}

// Failure is a quantity whose readings are there but whose saturation point is
// not; Err is what the Saturation said about the pressure of Reading.
type Failure struct {
	Quantity Quantity
	Reading  Reading
	Err      error
}

// State is what the readings say.
type State struct {
	Needs       []Need
	Failures    []Failure
	Assumptions []Assumption
	Checks      []Check
	Heating     bool

	inputs     gum.Inputs
	site       optional
	readings   [readingCount]optional
	quantities [quantityCount]optional
	discharge  optional
}

type optional struct {
	gum.Estimate
	known bool
}

// Quantity gives one quantity, false where it does not follow.
func (s *State) Quantity(q Quantity) (gum.Estimate, bool) {
	return s.quantities[q].Estimate, s.quantities[q].known
}

// Reading gives one reading as an estimate, false where it was not read.
func (s *State) Reading(r Reading) (gum.Estimate, bool) {
	return s.readings[r].Estimate, s.readings[r].known
}

// DischargeDew is the dew point of the discharge pressure, false where that was
// not read itself.
func (s *State) DischargeDew() (gum.Estimate, bool) { return s.discharge.Estimate, s.discharge.known }

// Site gives the site pressure as an estimate, false where none was given.
func (s *State) Site() (gum.Estimate, bool) { return s.site.Estimate, s.site.known }

// Derive works out all that follows from the readings, and lists what is
// missing for the rest. Saturation errors cost only the quantities that rest on
// that point. Its own error joins a *ReadingError for every reading that is
// not a possible one.
func Derive(in Input, sat Saturation) (State, error) {
	s := State{Heating: in.Heating}
	if err := s.take(in); err != nil {
		return State{}, err
	}
	c := s.points(sat)
	missing := make(map[Reading][]Quantity)
	for _, d := range definitions {
		if in.Heating && d.coolingOnly {
			continue
		}
		if lacks := c.lacking(d.of); len(lacks) > 0 {
			for _, r := range lacks {
				missing[r] = append(missing[r], d.quantity)
			}
			continue
		}
		e, failed, err := c.sum(d.of)
		if err != nil {
			s.Failures = append(s.Failures, Failure{d.quantity, failed, err})
			continue
		}
		s.quantities[d.quantity] = optional{e, true}
	}
	s.ratio(c, missing)
	s.discharge = optional{c.value[dischargeDew], s.readings[DischargePressure].known && c.fault[dischargeDew] == nil}
	for _, r := range Readings() {
		if qs := missing[r]; len(qs) > 0 {
			s.Needs = append(s.Needs, Need{r, qs})
		}
	}
	s.check(c)
	s.assume(c)
	return s, nil
}

// take validates and stores the readings.
func (s *State) take(in Input) error {
	var faults []error
	gauges := false
	for _, r := range Readings() {
		m, ok := in.Readings[r]
		if !ok {
			continue
		}
		if reason := m.fault(r.Kind()); reason != "" {
			faults = append(faults, &ReadingError{Reading: r, Reason: reason})
			continue
		}
		g := gum.Along(r.Axis())
		if m.Gauge {
			gauges = true
			g = g.Plus(gum.Along(SiteAxis))
		}
		s.inputs.Set(r.Axis(), m.Standard)
		s.readings[r] = optional{gum.Estimate{Value: m.Value, Gradient: g}, true}
	}
	if gauges || in.Site != (Measured{}) {
		if reason := in.Site.fault(unit.KindPressure); reason != "" {
			faults = append(faults, &ReadingError{Site: true, Reason: reason})
		}
		s.site = optional{gum.Estimate{Value: in.Site.Value, Gradient: gum.Along(SiteAxis)}, true}
		s.inputs.Set(SiteAxis, in.Site.Standard)
	}
	for r := range in.Readings {
		if r < 0 || r >= readingCount {
			faults = append(faults, &ReadingError{Reading: r, Reason: "is not known"})
		}
	}
	return errors.Join(faults...)
}

// ratio is the one quantity that is no sum of temperatures.
func (s *State) ratio(c *points, missing map[Reading][]Quantity) {
	of := []term{{1, at(DischargePressure)}, {1, at(SuctionPressure)}}
	if lacks := c.lacking(of); len(lacks) > 0 {
		for _, r := range lacks {
			missing[r] = append(missing[r], CompressionRatio)
		}
		return
	}
	high, low := c.value[DischargePressure], c.value[SuctionPressure]
	r := high.Value / low.Value
	s.quantities[CompressionRatio] = optional{gum.Linear(r, 1/low.Value, high, -r/low.Value, low), true}
}

func (s *State) assume(c *points) {
	_, liquid := s.Reading(LiquidPressure)
	_, discharge := s.Reading(DischargePressure)
	_, hot := s.Quantity(DischargeSuperheat)
	_, ratio := s.Quantity(CompressionRatio)
	if liquid && !discharge && (hot || ratio) {
		s.Assumptions = append(s.Assumptions, LiquidForDischarge)
	}
	if discharge && !liquid {
		s.Assumptions = append(s.Assumptions, DischargeForLiquid)
	}
	if s.quantities[EvaporatorMeanTemperature].known || s.quantities[CondenserMeanTemperature].known {
		s.Assumptions = append(s.Assumptions, CoilIsMean)
	}
	s.Assumptions = append(s.Assumptions, IndependentInstruments)
}
