package diagnosis

import (
	"math"
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// component is a component of the distilled model.
type component struct {
	*signature.Component
	logWeight float64
	// spread is its covariance with that of what the model itself is taken to miss.
	spread signature.Matrix
}

// hypothesis is nothing wrong, one fault, two, or something else.
type hypothesis struct {
	name       string
	faults     []equipment.Fault // empty for the first and the last
	components []component
}

// relative says what a discrepancy is counted by: each coordinate less the one
// that it shares a pressure or a line with, so that a miss of a condensing
// temperature moves the liquid line along.
var relative = [signature.Readable]struct {
	to   signature.Coordinate
	less bool
	code string
}{
	signature.SuctionDew:    {code: "discrepancy_evaporator"},
	signature.SuctionLine:   {to: signature.SuctionDew, less: true, code: "discrepancy_superheat"},
	signature.LiquidBubble:  {code: "discrepancy_condenser"},
	signature.LiquidLine:    {to: signature.LiquidBubble, less: true, code: "discrepancy_subcooling"},
	signature.DischargeLine: {to: signature.LiquidBubble, less: true, code: "discrepancy_discharge"},
	signature.DischargeDew:  {to: signature.LiquidBubble, less: true, code: "discrepancy_drop"},
	signature.SupplyDry:     {code: "discrepancy_air"},
	signature.SupplyWet:     {code: "discrepancy_air"},
	signature.DrierOutlet:   {to: signature.LiquidLine, less: true, code: "discrepancy_drop"},
	signature.Airflow:       {code: "discrepancy_airflow"},
}

// middle is the air and refrigerant at which effects of faults are compared.
func middle() signature.Conditions {
	return signature.ConditionsAt(signature.Air{Outdoor: 305, ReturnDry: 298, ReturnWet: 291, SitePressure: unit.StandardAtmosphere().Pascal()},
		signature.Traits{Dry: 1, Lift: 1})
}

// families are the hypotheses of each metering device, none first and
// unexplained last, made once of the embedded model.
var families = sync.OnceValue(func() map[equipment.MeteringDevice][]hypothesis {
	m := reference()
	all := map[equipment.MeteringDevice][]hypothesis{}
	conditions := middle()
	for _, d := range equipment.MeteringDevices() {
		components, ok := signature.Embedded().Device(d)
		if !ok {
			panic("diagnosis: no signatures of " + string(d))
		}
		var f []hypothesis
		for i := range components {
			c := component{Component: &components[i], logWeight: math.Log(components[i].Weight)}
			c.spread = m.widen(&components[0], c.Component, &conditions)
			faults := c.Faults
			at := slices.IndexFunc(f, func(h hypothesis) bool { return slices.Equal(h.faults, faults) })
			if at < 0 {
				at = len(f)
				name := NoFault
				if len(faults) > 0 {
					name = string(faults[0])
				}
				f = append(f, hypothesis{name: name, faults: faults})
			}
			f[at].components = append(f[at].components, c)
		}
		all[d] = append(f, hypothesis{name: Unexplained})
	}
	return all
})

// widen adds to the covariance of c what the model misses: of the quantities
// one by one, and in proportion to what a fault does to them.
func (m model) widen(healthy, c *signature.Component, conditions *signature.Conditions) signature.Matrix {
	response := m.si("discrepancy_response")
	var root signature.Matrix // rows: coordinates by independent misses
	for i := range signature.Readable {
		r := relative[i]
		if r.code == "" {
			continue
		}
		effect := c.Mean(conditions, i) - healthy.Mean(conditions, i)
		if r.less {
			root[i] = root[r.to]
			effect -= c.Mean(conditions, r.to) - healthy.Mean(conditions, r.to)
		}
		root[i][i] = math.Hypot(m.si(r.code), response*effect)
	}
	var s signature.Matrix
	for i := range signature.Coordinates {
		for j := range i + 1 {
			sum := c.Covariance(i, j)
			for k := range j + 1 {
				sum += root[i][k] * root[j][k]
			}
			s[i][j], s[j][i] = sum, sum
		}
	}
	return s
}

// weighed is what the evidence makes of a hypothesis.
type weighed struct {
	*hypothesis
	logPrior float64
	log      float64   // likelihood
	parts    []float64 // logarithms of the components' likelihoods, weights included
	p        float64
}

// share of component k in the likelihood of the hypothesis.
func (w *weighed) share(k int) float64 { return math.Exp(w.parts[k] - w.log) }

// posterior lists the probabilities of the hypotheses.
func posterior(all []weighed) []float64 {
	p := make([]float64, len(all))
	for i := range all {
		p[i] = all[i].p
	}
	return p
}

// residual gives what component c leaves of the observation, its covariance, and
// the slopes of the means along the air.
func (o *observation) residual(c *component, r *vector, s *matrix, f *[signature.Axes]vector) {
	for i := range o.n {
		k := o.at[i]
		r[i] = o.value[i] - c.Mean(&o.conditions, k)
		for a := range f {
			f[a][i] = c.Slope(&o.conditions, k, a)
		}
	}
	var fu [signature.Axes]vector
	for a := range f {
		for b := range f {
			if u := o.u[a][b]; u != 0 {
				for i := range o.n {
					fu[b][i] += f[a][i] * u
				}
			}
		}
	}
	for i := range o.n {
		row := &c.spread[o.at[i]]
		for j := range i + 1 {
			sum := row[o.at[j]] + o.v[i][j]
			for a := range f {
				sum += fu[a][i] * f[a][j]
			}
			if o.mixed {
				for a := range f {
					sum -= f[a][i]*o.w[a][j] + o.w[a][i]*f[a][j]
				}
			}
			s[i][j], s[j][i] = sum, sum
		}
	}
}

// weigh fills in likelihoods and posterior probabilities.
func (o *observation) weigh(m model, f []hypothesis, prior map[string]float64) []weighed {
	all := make([]weighed, len(f))
	count := 0
	for i := range f {
		count += len(f[i].components)
	}
	parts := make([]float64, count)
	logs := make([]float64, len(f))
	before := beforeReadings(f, prior)
	plates := 0.0
	var r vector
	var s matrix
	var slopes [signature.Axes]vector
	var fac cholesky
	for i := range f {
		h := &f[i]
		w := &all[i]
		w.hypothesis, w.logPrior = h, math.Log(before[i])
		if h.name == Unexplained {
			w.log = plates + o.logUniform(m)
		} else {
			w.parts, parts = parts[:len(h.components)], parts[len(h.components):]
			for k := range h.components {
				o.residual(&h.components[k], &r, &s, &slopes)
				if h.name == NoFault {
					// What the plate says is as likely under anything.
					fac.factorize(o.plates, &s)
					_, q := fac.whiten(&r)
					plates = m.tails.log(fac.rank, fac.lnRoot, q)
				}
				fac.factorize(o.n, &s)
				_, q := fac.whiten(&r)
				w.parts[k] = m.tails.log(fac.rank, fac.lnRoot, q) + h.components[k].logWeight
			}
			w.log = logSum(w.parts)
		}
		logs[i] = w.logPrior + w.log
	}
	total := logSum(logs)
	o.logEvidence = total + o.logPressures
	for i := range all {
		all[i].p = math.Exp(logs[i] - total)
	}
	return all
}

// logUniform is the density of the readings where nothing ties them together:
// each anywhere in its plausible range.
func (o *observation) logUniform(m model) float64 {
	sum := 0.0
	for i := o.plates; i < o.n; i++ {
		sum -= math.Log(m.plausible[o.at[i]])
	}
	return sum
}

// plausibleCodes are the figures of the ranges over which unexplained readings
// are even.
var plausibleCodes = [signature.Readable]string{
	signature.SuctionDew: "plausible_suction_dew", signature.SuctionLine: "plausible_suction_line",
	signature.LiquidBubble: "plausible_liquid_bubble", signature.LiquidLine: "plausible_liquid_line",
	signature.DischargeLine: "plausible_discharge_line", signature.DischargeDew: "plausible_liquid_bubble",
	signature.SupplyDry: "plausible_supply_dry", signature.SupplyWet: "plausible_supply_wet",
	signature.DrierOutlet: "plausible_liquid_line",
}

// beforeReadings shares out the prior of single faults over the hypotheses: of
// all that is at fault, a share has two, in proportion to the product of their own.
func beforeReadings(f []hypothesis, prior map[string]float64) []float64 {
	total, products := 0.0, 0.0
	for i := range f {
		switch h := &f[i]; len(h.faults) {
		case 1:
			total += prior[h.name]
		case 2:
			products += prior[string(h.faults[0])] * prior[string(h.faults[1])]
		}
	}
	pairs := prior[TwoFaults]
	if !(products > 0) {
		pairs = 0
	}
	out := make([]float64, len(f))
	for i := range f {
		h := &f[i]
		switch len(h.faults) {
		case 0:
			out[i] = prior[h.name]
		case 1:
			out[i] = (1 - pairs) * prior[h.name]
		case 2:
			if pairs > 0 {
				out[i] = pairs * total * prior[string(h.faults[0])] * prior[string(h.faults[1])] / products
			}
		}
	}
	return out
}
