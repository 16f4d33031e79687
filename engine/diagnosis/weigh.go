package diagnosis

import (
	"math"
	"os"
	"slices"
	"strconv"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// component is a component of the distilled model, with what the model itself
// is taken to miss.
type component struct {
	*signature.Component
	logWeight float64
	extra     signature.Matrix
}

// hypothesis is nothing wrong, one fault, two, or something else.
type hypothesis struct {
	name       string
	faults     []Fault // empty for the first and the last
	components []component
}

// family are the hypotheses of a metering device.
type family []hypothesis

var nu = func() float64 { v, _ := strconv.ParseFloat(os.Getenv("NU"), 64); return v }()

var dscale = func() float64 {
	v, err := strconv.ParseFloat(os.Getenv("DSCALE"), 64)
	if err != nil {
		return 1
	}
	return v
}()

// quantities of the discrepancy: each coordinate less the one that it shares a
// pressure or a line with.
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

// families are made once of the embedded model.
var families = sync.OnceValue(func() map[Device]family {
	m := reference()
	all := map[Device]family{}
	middle := signature.Look(signature.Air{Outdoor: 305, ReturnDry: 298, ReturnWet: 291, SitePressure: unit.StandardAtmosphere().Pascal()}, signature.Traits{Dry: 1, Lift: 1})
	for _, d := range []Device{FixedOrifice, CapillaryTube, ThermostaticValve, ElectronicValve} {
		components, ok := signature.Embedded().Device(string(d))
		if !ok {
			panic("diagnosis: no signatures of " + string(d))
		}
		var f family
		for i := range components {
			c := component{Component: &components[i], logWeight: math.Log(components[i].Weight)}
			c.extra = m.discrepancy(&components[0], c.Component, &middle)
			faults := make([]Fault, len(c.Faults))
			for k, name := range c.Faults {
				faults[k] = Fault(name)
			}
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

// discrepancy is the covariance of what the model misses: of the quantities one
// by one, and in proportion to what a fault does to them.
func (m model) discrepancy(healthy, c *signature.Component, middle *signature.Scene) signature.Matrix {
	response := m.si("discrepancy_response")
	var root signature.Matrix // rows: coordinates by independent misses
	for i := range signature.Readable {
		r := relative[i]
		if r.code == "" {
			continue
		}
		effect := c.Mean(middle, i) - healthy.Mean(middle, i)
		if r.less {
			root[i] = root[r.to]
			effect -= c.Mean(middle, r.to) - healthy.Mean(middle, r.to)
		}
		root[i][i] = dscale * math.Hypot(m.si(r.code), response*effect)
	}
	var s signature.Matrix
	for i := range signature.Readable {
		for j := range i + 1 {
			for k := range j + 1 {
				s[i][j] += root[i][k] * root[j][k]
			}
			s[j][i] = s[i][j]
		}
	}
	for i := range signature.Coordinates {
		for j := range signature.Coordinates {
			s[i][j] += c.Covariance(i, j)
		}
	}
	return s
}

// weight is what the evidence makes of one component.
type weight struct {
	log         float64 // likelihood, with the component's own weight
	conditional vector
}

// weighed is what the evidence makes of a hypothesis.
type weighed struct {
	*hypothesis
	logPrior float64
	log      float64 // likelihood
	parts    []weight
	p        float64
}

// residual gives what component c leaves of the observation, and its covariance.
func (o *observation) residual(c *component) (r vector, s matrix) {
	var f [signature.Axes]vector // slopes, by axis
	for i := range o.n {
		k := o.at[i]
		r[i] = o.r[i] - c.Mean(&o.scene, k)
		for a := range f {
			f[a][i] = c.Slope(&o.scene, k, a)
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
		row := &c.extra[o.at[i]]
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
			s[i][j] = sum
			s[j][i] = sum
		}
	}
	return r, s
}

// weigh fills in likelihoods and posterior probabilities.
func (o *observation) weigh(m model, f family, prior map[string]float64) []weighed {
	all := make([]weighed, len(f))
	posterior := make([]float64, len(f))
	plates := 0.0
	logs := make([]float64, 0, 32)
	for i := range f {
		h := &f[i]
		w := &all[i]
		w.hypothesis, w.logPrior = h, math.Log(prior[h.name])
		if h.name == Unexplained {
			w.log = plates + o.logUniform(m)
		} else {
			w.logPrior = m.logPrior(h, prior)
			w.parts = make([]weight, len(h.components))
			logs = logs[:0]
			for k := range h.components {
				r, s := o.residual(&h.components[k])
				log, conditional := logDensity(o.n, &s, &r)
				if h.name == NoFault {
					n := 0
					for n < o.n && o.at[n] >= signature.PlateSEER {
						n++
					}
					plates, _ = logDensity(n, &s, &r)
				}
				if nu > 0 {
					// undo the normal's form: log = -n/2 ln 2pi - lndet - q/2
					var zero vector
					base, _ := logDensity(o.n, &s, &zero)
					q := 2 * (base - log)
					n := float64(o.n)
					lndet := -base - n/2*math.Log(2*math.Pi)
					a1, _ := math.Lgamma((nu + n) / 2)
					a2, _ := math.Lgamma(nu / 2)
					log = a1 - a2 - n/2*math.Log((nu-2)*math.Pi) - lndet - (nu+n)/2*math.Log1p(q/(nu-2))
				}
				w.parts[k] = weight{log + h.components[k].logWeight, conditional}
				logs = append(logs, w.parts[k].log)
			}
			w.log = logSum(logs)
		}
		posterior[i] = w.logPrior + w.log
	}
	total := logSum(posterior)
	for i := range all {
		all[i].p = math.Exp(posterior[i] - total)
	}
	return all
}

// logUniform is the density of the readings where nothing ties them together:
// each anywhere in its plausible range.
func (o *observation) logUniform(m model) float64 {
	sum := 0.0
	for i := range o.n {
		if width := plausible[o.at[i]]; width > 0 {
			sum -= math.Log(width)
		}
	}
	return sum
}

var plausible = [signature.Readable]float64{
	signature.SuctionDew: 40, signature.SuctionLine: 45, signature.LiquidBubble: 50, signature.LiquidLine: 50,
	signature.DischargeLine: 90, signature.DischargeDew: 50, signature.SupplyDry: 30, signature.SupplyWet: 25,
	signature.DrierOutlet: 50, signature.Airflow: 1.5,
}

// logPrior shares out the prior of single faults: of all that is at fault, a
// share has two, in proportion to the product of their own.
func (m model) logPrior(h *hypothesis, prior map[string]float64) float64 {
	if len(h.faults) == 0 {
		return math.Log(prior[h.name])
	}
	share := m.si("pair_share")
	if len(h.faults) == 1 {
		return math.Log(prior[h.name] * (1 - share))
	}
	total, products := 0.0, 0.0
	faults := Faults()
	for i, f := range faults {
		total += prior[string(f)]
		for _, g := range faults[i+1:] {
			if !(f == Undercharge && g == Overcharge) {
				products += prior[string(f)] * prior[string(g)]
			}
		}
	}
	if !(products > 0) {
		return math.Inf(-1)
	}
	return math.Log(share * total * prior[string(h.faults[0])] * prior[string(h.faults[1])] / products)
}
