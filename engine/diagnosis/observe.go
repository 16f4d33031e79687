package diagnosis

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// observation is what was read, in the coordinates of package signature, with
// one covariance of all instruments.
type observation struct {
	n      int
	plates int // how many of the first are from the plate
	at     [maxObserved]signature.Coordinate
	value  vector
	v      matrix // their covariance

	axes  [signature.Axes]float64 // the air, read or taken for it
	read  [signature.Axes]bool
	u     [signature.Axes][signature.Axes]float64 // covariance of the air
	w     [signature.Axes]vector                  // of the air with the values
	mixed bool                                    // w is not nothing
	site  float64

	conditions signature.Conditions
	// logPressures is the logarithm of the slopes of the saturation temperatures:
	// a density over K times slopes is one over Pa, whatever the refrigerant.
	logPressures float64
	// logEvidence is the logarithm of the density of all that was read.
	logEvidence float64
}

// where finds the place of a coordinate, -1 where it was not read.
func (o *observation) where(c signature.Coordinate) int {
	for i := range o.n {
		if o.at[i] == c {
			return i
		}
	}
	return -1
}

// collecting is an observation on its way, with the estimates behind its values.
type collecting struct {
	m model
	o *observation
	s *circuit.State
	e [maxObserved]gum.Estimate
}

// observe collects what the state and the plate say. Plates come first, so that
// the density of what they say falls out on the way.
func (m model) observe(in Input) *observation {
	o := &observation{site: unit.StandardAtmosphere().Pascal()}
	if in.Site.Pascal() > 0 {
		o.site = in.Site.Pascal()
	}
	c := collecting{m: m, o: o, s: in.State}
	c.plate(in)
	o.plates = o.n
	c.readings()
	if flow, ok := c.s.Reading(circuit.IndoorAirflow); ok && flow.Value > 0 && in.NominalCapacity.Watt() > 0 {
		e := gum.Estimate{Value: math.Log(flow.Value / in.NominalCapacity.Watt()), Gradient: flow.Gradient.Times(1 / flow.Value)}
		c.add(signature.Airflow, e, square(m.si("capacity_spread")))
	}
	c.covariances(m.air(o, in))
	o.look(in.Traits)
	return o
}

// add takes a value in, with a variance beside that of its inputs.
func (c *collecting) add(of signature.Coordinate, e gum.Estimate, extra float64) {
	o := c.o
	o.at[o.n], c.e[o.n], o.value[o.n], o.v[o.n][o.n] = of, e, e.Value, extra
	o.n++
}

// plate takes in what the plate says.
func (c *collecting) plate(in Input) {
	m := c.m
	if in.Efficiency != nil {
		if seer, ok := in.Efficiency.seer(m); ok {
			lo, hi := m.band("plate_efficiency_range")
			seer = min(max(seer, lo-hi), lo+hi)
			c.add(signature.PlateSEER, gum.Estimate{Value: seer}, square(m.si("plate_efficiency_spread")))
		}
	}
	if in.Subcooling != nil && !in.Device.Fixed() {
		c.add(signature.PlateSubcooling, gum.Estimate{Value: in.Subcooling.Value.Kelvin()}, square(m.si("plate_target_spread")))
	}
	if in.Superheat != nil {
		c.add(signature.PlateSuperheat, gum.Estimate{Value: in.Superheat.Value.Kelvin()}, square(m.si("plate_target_spread")))
	}
}

// take takes in what was read.
func (c *collecting) take(of signature.Coordinate, e gum.Estimate, ok bool) {
	if ok {
		c.add(of, e, square(c.m.steadiness))
	}
}

// saturated is take for a saturation temperature behind which is a pressure.
func (c *collecting) saturated(of signature.Coordinate, e gum.Estimate, ok bool) {
	c.take(of, e, ok)
	if ok {
		c.o.logPressures += math.Log(e.Gradient.By(readingOf[of].Axis()))
	}
}

// quantity is one whose own reading was taken.
func (c *collecting) quantity(q circuit.Quantity, behind circuit.Reading) (gum.Estimate, bool) {
	if _, ok := c.s.Reading(behind); !ok {
		return gum.Estimate{}, false
	}
	return c.s.Quantity(q)
}

// readings takes in what was read but for the airflow.
func (c *collecting) readings() {
	s := c.s
	e, ok := c.quantity(circuit.EvaporatorDewTemperature, circuit.SuctionPressure)
	c.saturated(signature.SuctionDew, e, ok)
	e, ok = s.Reading(circuit.SuctionLineTemperature)
	c.take(signature.SuctionLine, e, ok)
	e, ok = c.quantity(circuit.CondenserBubbleTemperature, circuit.LiquidPressure)
	c.saturated(signature.LiquidBubble, e, ok)
	e, ok = s.Reading(circuit.LiquidLineTemperature)
	c.take(signature.LiquidLine, e, ok)
	e, ok = s.Reading(circuit.DischargeLineTemperature)
	c.take(signature.DischargeLine, e, ok)
	e, ok = s.DischargeDew()
	c.saturated(signature.DischargeDew, e, ok)
	e, ok = s.Reading(circuit.SupplyDryBulb)
	c.take(signature.SupplyDry, e, ok)
	e, ok = s.Reading(circuit.SupplyWetBulb)
	c.take(signature.SupplyWet, e, ok)
	e, ok = s.Reading(circuit.DrierOutletTemperature)
	c.take(signature.DrierOutlet, e, ok)
}

// covariances are those of values and air that come of common inputs.
func (c *collecting) covariances(axes [signature.Axes]gum.Estimate) {
	o, s := c.o, c.s
	for i := range o.n {
		for j := range i + 1 {
			o.v[i][j] += s.Covariance(c.e[i], c.e[j])
			o.v[j][i] = o.v[i][j]
		}
		for k := range axes {
			o.w[k][i] = s.Covariance(axes[k], c.e[i])
			o.mixed = o.mixed || o.w[k][i] != 0
		}
	}
	for k := range axes {
		for l := range axes {
			o.u[k][l] += s.Covariance(axes[k], axes[l])
		}
	}
}

// look sets the conditions from the air.
func (o *observation) look(t signature.Traits) {
	o.conditions = signature.ConditionsAt(signature.Air{
		Outdoor: o.axes[signature.OutdoorAxis], ReturnDry: o.axes[signature.ReturnDryAxis], ReturnWet: o.axes[signature.ReturnWetAxis],
		SitePressure: o.site,
	}, t)
}

// air fills in what was read of the air, and the prior of what was not: a
// normal variable over weather and houses, the wet bulb below the dry bulb.
func (m model) air(o *observation, in Input) [signature.Axes]gum.Estimate {
	var axes [signature.Axes]gum.Estimate
	unread := func(k int, code string) {
		middle, half := m.band(code)
		axes[k].Value = middle
		o.u[k][k] = half * half / 3
	}
	if e, ok := in.State.Reading(circuit.OutdoorDryBulb); ok {
		axes[signature.OutdoorAxis], o.read[signature.OutdoorAxis] = e, true
	} else {
		unread(signature.OutdoorAxis, "unread_outdoor")
	}
	if e, ok := in.State.Reading(circuit.ReturnDryBulb); ok {
		axes[signature.ReturnDryAxis], o.read[signature.ReturnDryAxis] = e, true
	} else if in.WetBulb != nil {
		// Above the wet bulb that was read, as far as air usually is.
		depression, half := m.band("unread_depression")
		axes[signature.ReturnDryAxis] = gum.Estimate{Value: in.WetBulb.Value + depression, Gradient: in.WetBulb.Gradient}
		o.u[signature.ReturnDryAxis][signature.ReturnDryAxis] = half * half / 3
	} else {
		unread(signature.ReturnDryAxis, "unread_return")
	}
	if in.WetBulb != nil {
		axes[signature.ReturnWetAxis], o.read[signature.ReturnWetAxis] = *in.WetBulb, true
	} else {
		const wet, dry = signature.ReturnWetAxis, signature.ReturnDryAxis
		depression, half := m.band("unread_depression")
		axes[wet] = gum.Estimate{Value: axes[dry].Value - depression, Gradient: axes[dry].Gradient}
		o.u[wet][wet] = half*half/3 + o.u[dry][dry]
		o.u[wet][dry], o.u[dry][wet] = o.u[dry][dry], o.u[dry][dry]
	}
	for k := range axes {
		o.axes[k] = axes[k].Value
	}
	return axes
}

func square(x float64) float64 { return x * x }
