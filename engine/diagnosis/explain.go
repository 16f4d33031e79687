package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/signature"
)

// Severity is a range of how large a fault is if it is there, as a share: of
// the rated charge, of the rated air flow, of the pressure drop from condenser
// to evaporator, of the gas that the empty circuit holds at one atmosphere, of
// the flow that is pumped. 90 % of the weight lies between Low and High, which
// end where the ensemble's severities do.
type Severity struct{ Low, Likely, High float64 }

// Whole is what the severity of a fault is a fraction of.
type Whole string

// What severities are fractions of.
const (
	OfRatedCharge       Whole = "of_rated_charge"
	OfRatedAirflow      Whole = "of_rated_airflow"
	OfPressureDrop      Whole = "of_pressure_drop_to_evaporator"
	OfGasInEmptyCircuit Whole = "of_gas_in_empty_circuit"
	OfPumpedFlow        Whole = "of_pumped_flow"
)

var wholes = map[equipment.Fault]Whole{
	equipment.Undercharge: OfRatedCharge, equipment.Overcharge: OfRatedCharge,
	equipment.LowIndoorAirflow: OfRatedAirflow, equipment.LowOutdoorAirflow: OfRatedAirflow,
	equipment.LiquidLineRestriction:  OfPressureDrop,
	equipment.NonCondensables:        OfGasInEmptyCircuit,
	equipment.CompressorValveLeakage: OfPumpedFlow,
}

// SeverityOf is what the severity of a fault is a fraction of.
func SeverityOf(f equipment.Fault) Whole { return wholes[f] }

// Evidence is how strongly one quantity, given all the others, speaks for the
// fault against no fault: natural logarithm of a likelihood ratio.
type Evidence struct {
	// Quantity is the name of a quantity, of a reading, or of what the plate says.
	Quantity string
	Weight   float64
}

// negligible is the share of a hypothesis, or of everything, below which a
// component is left out of what explains an answer; probabilities themselves
// leave nothing out.
const negligible = 3e-3

// apart turns readings that share a pressure or a line into quantities: the
// second less the first. The change has a determinant of one either way, so
// that densities stay; what is not both there stays a reading.
var apart = []struct {
	of, less signature.Coordinate
	name     string
}{
	{signature.SuctionLine, signature.SuctionDew, "superheat"},
	{signature.DrierOutlet, signature.LiquidLine, "drier_temperature_drop"},
	{signature.LiquidLine, signature.LiquidBubble, "subcooling"},
	{signature.DischargeLine, signature.DischargeDew, "discharge_superheat"},
	{signature.DischargeLine, signature.LiquidBubble, "discharge_superheat"},
}

// plain are the names of coordinates as they stand.
var plain = [signature.Readable]string{
	signature.SuctionDew: "evaporator_dew_temperature", signature.SuctionLine: "suction_line_temperature",
	signature.LiquidBubble: "condenser_bubble_temperature", signature.LiquidLine: "liquid_line_temperature",
	signature.DischargeLine: "discharge_line_temperature", signature.DischargeDew: "discharge_pressure",
	signature.SupplyDry: "supply_dry_bulb", signature.SupplyWet: "supply_wet_bulb", signature.DrierOutlet: "drier_outlet_temperature",
	signature.Airflow: "indoor_airflow", signature.PlateSEER: "rated_efficiency", signature.PlateSubcooling: "target_subcooling",
	signature.PlateSuperheat: "target_superheat",
}

// change is that of one observation.
type change struct {
	pairs [][2]int
	names [maxObserved]string
}

func (o *observation) change() change {
	var c change
	for i := range o.n {
		c.names[i] = plain[o.at[i]]
	}
	done := map[int]bool{}
	for _, a := range apart {
		i, j := o.where(a.of), o.where(a.less)
		if i < 0 || j < 0 || done[i] {
			continue
		}
		done[i] = true
		c.pairs, c.names[i] = append(c.pairs, [2]int{i, j}), a.name
	}
	// Against the air a coil's temperature is a difference.
	for i := range o.n {
		switch {
		case o.at[i] == signature.SuctionDew && o.read[signature.ReturnDryAxis]:
			c.names[i] = string(EvaporatorTemperatureDifference)
		case o.at[i] == signature.LiquidBubble && o.read[signature.OutdoorAxis]:
			c.names[i] = string(CondensingOverAmbient)
		case o.at[i] == signature.SupplyDry && o.read[signature.ReturnDryAxis]:
			c.names[i] = string(TemperatureSplit)
		}
	}
	return c
}

// apply the change to a residual and its covariance. Pairs are in such an order
// that what is taken off is still as it was read.
func (c *change) apply(n int, r *vector, s *matrix) {
	for _, p := range c.pairs {
		i, j := p[0], p[1]
		r[i] -= r[j]
		for k := range n {
			s[i][k] -= s[j][k]
		}
		for k := range n {
			s[k][i] -= s[k][j]
		}
	}
}

// attribution is what one component says in detail.
type attribution struct {
	without  vector  // log likelihood with one quantity left out
	severity float64 // expected, within its band
}

// attribution works out the details of a component.
func (o *observation) attribution(m model, c *component, ch *change, log float64) attribution {
	var out attribution
	var r vector
	var s matrix
	var slopes [signature.Axes]vector
	var f cholesky
	o.residual(c, &r, &s, &slopes)
	if len(c.Bands) == 1 {
		// The severity given the readings, from their common covariance.
		f.factorize(o.n, &s)
		z, _ := f.whiten(&r)
		var cross vector
		for i := range o.n {
			cross[i] = c.spread[signature.FirstSeverity][o.at[i]]
		}
		y, _ := f.whiten(&cross)
		out.severity = c.Mean(&o.conditions, signature.FirstSeverity)
		for i := range o.n {
			out.severity += y[i] * z[i]
		}
		out.severity = min(max(out.severity, c.Bands[0].Low), c.Bands[0].High)
	}
	ch.apply(o.n, &r, &s)
	f.factorize(o.n, &s)
	z, q := f.whiten(&r)
	conditional := m.tails.conditionals(&f, &z, q)
	for i := range o.n {
		out.without[i] = log - conditional[i]
	}
	return out
}

// detail works out evidence and severity of the single faults.
func (a *Result) detail(m model, all []weighed, o *observation) {
	ch := o.change()
	none := explain(m, &all[0], o, &ch)
	for i := range all {
		w := &all[i]
		if len(w.faults) != 1 {
			continue
		}
		at := slices.IndexFunc(a.Findings, func(f Finding) bool { return f.Fault == w.faults[0] })
		d := explain(m, w, o, &ch)
		f := &a.Findings[at]
		f.Severity = d.severity
		for j := range o.n {
			f.Evidence = append(f.Evidence, Evidence{ch.names[j], f.LogLikelihoodRatio - (d.without[j] - none.without[j])})
		}
		slices.SortStableFunc(f.Evidence, func(x, y Evidence) int { return cmp.Compare(math.Abs(y.Weight), math.Abs(x.Weight)) })
	}
}

// explanation is what all components of a hypothesis say together.
type explanation struct {
	without  vector
	severity Severity
}

// explain joins what the components of a hypothesis say, each by its share.
func explain(m model, w *weighed, o *observation, ch *change) explanation {
	var out explanation
	var logs [maxObserved][]float64
	type slice struct{ low, high, share, mean float64 }
	var bands []slice
	whole := 0.0
	for k := range w.components {
		share := w.share(k)
		if share < negligible {
			continue
		}
		c := &w.components[k]
		d := o.attribution(m, c, ch, w.parts[k])
		for j := range o.n {
			logs[j] = append(logs[j], d.without[j])
		}
		if len(c.Bands) == 1 {
			bands = append(bands, slice{c.Bands[0].Low, c.Bands[0].High, share, d.severity})
			whole += share
		}
	}
	for j := range o.n {
		out.without[j] = logSum(logs[j])
	}
	// Within a band the weight lies evenly.
	quantile := func(p float64) float64 {
		sum := 0.0
		for _, s := range bands {
			share := s.share / whole
			if sum+share >= p {
				return s.low + (s.high-s.low)*(p-sum)/share
			}
			sum += share
		}
		return bands[len(bands)-1].high
	}
	if len(bands) > 0 {
		slices.SortStableFunc(bands, func(x, y slice) int { return cmp.Compare(x.mean, y.mean) })
		out.severity = Severity{Low: quantile(0.05), High: quantile(0.95)}
		for _, s := range bands {
			out.severity.Likely += s.share / whole * s.mean
		}
		out.severity.Low = min(out.severity.Low, out.severity.Likely)
		out.severity.High = max(out.severity.High, out.severity.Likely)
	}
	return out
}

// readingOf is the reading behind a coordinate.
var readingOf = map[signature.Coordinate]circuit.Reading{
	signature.SuctionDew: circuit.SuctionPressure, signature.SuctionLine: circuit.SuctionLineTemperature,
	signature.LiquidBubble: circuit.LiquidPressure, signature.LiquidLine: circuit.LiquidLineTemperature,
	signature.DischargeLine: circuit.DischargeLineTemperature, signature.DischargeDew: circuit.DischargePressure,
	signature.SupplyDry: circuit.SupplyDryBulb, signature.SupplyWet: circuit.SupplyWetBulb,
	signature.DrierOutlet: circuit.DrierOutletTemperature, signature.Airflow: circuit.IndoorAirflow,
}
