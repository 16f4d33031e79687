package circuit

import (
	"github.com/knurl-hvacr/knurl/engine/unit"

	"github.com/knurl-hvacr/knurl/engine/gum"
)

// point is a reading, or a saturation temperature at one of the pressures read.
type point int

const (
	suctionDew point = point(readingCount) + iota
	suctionBubble
	liquidDew
	liquidBubble
	dischargeDew
	dischargeBubble
	pointCount
)

func at(r Reading) point { return point(r) }

// origin is the reading that a point comes from.
func (p point) origin() Reading {
	switch p {
	case suctionDew, suctionBubble:
		return SuctionPressure
	case liquidDew, liquidBubble:
		return LiquidPressure
	case dischargeDew, dischargeBubble:
		return DischargePressure
	default:
		return Reading(p)
	}
}

// term is one summand of a quantity or of a margin.
type term struct {
	weight float64
	point  point
}

var definitions = []struct {
	quantity    Quantity
	of          []term
	coolingOnly bool
}{
	{quantity: Superheat, of: []term{{1, at(SuctionLineTemperature)}, {-1, suctionDew}}},
	{quantity: Subcooling, of: []term{{1, liquidBubble}, {-1, at(LiquidLineTemperature)}}},
	{quantity: EvaporatorDewTemperature, of: []term{{1, suctionDew}}},
	{quantity: EvaporatorMeanTemperature, of: []term{{0.5, suctionDew}, {0.5, suctionBubble}}},
	{quantity: CondenserBubbleTemperature, of: []term{{1, liquidBubble}}},
	{quantity: CondenserDewTemperature, of: []term{{1, liquidDew}}},
	{quantity: CondenserMeanTemperature, of: []term{{0.5, liquidDew}, {0.5, liquidBubble}}},
	{quantity: CondensingOverAmbient, of: []term{{0.5, liquidDew}, {0.5, liquidBubble}, {-1, at(OutdoorDryBulb)}}, coolingOnly: true},
	{quantity: EvaporatorTemperatureDifference, of: []term{{1, at(ReturnDryBulb)}, {-0.5, suctionDew}, {-0.5, suctionBubble}}, coolingOnly: true},
	{quantity: TemperatureSplit, of: []term{{1, at(ReturnDryBulb)}, {-1, at(SupplyDryBulb)}}},
	{quantity: DischargeSuperheat, of: []term{{1, at(DischargeLineTemperature)}, {-1, dischargeDew}}},
	{quantity: DrierTemperatureDrop, of: []term{{1, at(LiquidLineTemperature)}, {-1, at(DrierOutletTemperature)}}},
}

// points holds every point that the readings lead to.
type points struct {
	value [pointCount]gum.Estimate
	known [pointCount]bool
	fault [pointCount]error
}

// points evaluates the saturation once at each pressure. One high-side
// pressure stands in for the other where only one was read.
func (s *State) points(sat Saturation) *points {
	c := &points{}
	for r, o := range s.readings {
		c.value[r], c.known[r] = o.Estimate, o.known
	}
	bothRead := c.known[LiquidPressure] && c.known[DischargePressure]
	lend := func(from, to Reading) {
		if c.known[from] && !c.known[to] {
			c.value[to], c.known[to] = c.value[from], true
		}
	}
	lend(LiquidPressure, DischargePressure)
	lend(DischargePressure, LiquidPressure)

	saturate := func(p Reading, dew, bubble point) {
		if !c.known[p] {
			return
		}
		pressure := c.value[p]
		for _, side := range []struct {
			into point
			ask  func(unit.Pressure) (unit.Temperature, float64, error)
		}{{dew, sat.Dew}, {bubble, sat.Bubble}} {
			t, slope, err := side.ask(unit.Pascal(pressure.Value))
			c.known[side.into], c.fault[side.into] = true, err
			c.value[side.into] = gum.Estimate{Value: t.Kelvin(), Gradient: pressure.Gradient.Times(slope)}
		}
	}
	saturate(SuctionPressure, suctionDew, suctionBubble)
	saturate(LiquidPressure, liquidDew, liquidBubble)
	if !bothRead {
		for _, p := range []struct{ from, to point }{{liquidDew, dischargeDew}, {liquidBubble, dischargeBubble}} {
			c.value[p.to], c.known[p.to], c.fault[p.to] = c.value[p.from], c.known[p.from], c.fault[p.from]
		}
	} else {
		saturate(DischargePressure, dischargeDew, dischargeBubble)
	}
	return c
}

// lacking lists the readings that a sum still needs, each once. A high-side
// pressure is asked for at the liquid port, where one usually connects.
func (c *points) lacking(of []term) []Reading {
	var lacks []Reading
	for _, t := range of {
		r := t.point.origin()
		if c.known[r] {
			continue
		}
		if r == DischargePressure {
			r = LiquidPressure
		}
		if len(lacks) == 0 || lacks[len(lacks)-1] != r {
			lacks = append(lacks, r)
		}
	}
	return lacks
}

// sum adds up the terms; its error is that of the first saturation point that
// could not be had, beside the reading it came from.
func (c *points) sum(of []term) (gum.Estimate, Reading, error) {
	var e gum.Estimate
	for _, t := range of {
		if err := c.fault[t.point]; err != nil {
			return gum.Estimate{}, t.point.origin(), err
		}
		x := c.value[t.point]
		e = gum.Linear(e.Value+t.weight*x.Value, 1, e, t.weight, x)
	}
	return e, 0, nil
}
