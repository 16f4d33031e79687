package diagnosis

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/signature"
)

// Measurement is a set of readings not taken, and what they promise.
type Measurement struct {
	Readings []circuit.Reading
	// For is the quantity that the first of them leads to, or the reading itself.
	For string
	// Information is the mean loss of entropy of the hypotheses, in nats.
	Information float64
	// Expected of each reading as its saturation temperature or temperature in K,
	// or the logarithm of an air flow over capacity; only Plan gives it.
	Expected []Expected
	// ChangesAdvice is the chance that what the probabilities lean to, or the
	// fault that they would have one say, becomes another; only Plan works it out.
	ChangesAdvice float64
}

// Expected is a mean with its standard deviation.
type Expected struct{ Value, Standard float64 }

// On is the pressure, Pa absolute, of an expected saturation temperature on a
// line of saturation; ok is false beyond it.
func (e Expected) On(line func(k float64) (pa float64, ok bool)) (p gum.Uncertain, ok bool) {
	at, ok := line(e.Value)
	above, okAbove := line(e.Value + e.Standard)
	return gum.Uncertain{Value: at, Standard: above - at}, ok && okAbove
}

// candidate is a set of readings that may be taken.
type candidate struct {
	axes []axis
	name string
}

// axis is a coordinate, or one of the air.
type axis struct {
	coordinate signature.Coordinate
	air        int // -1 for a coordinate
	reading    circuit.Reading
}

// lead is what a reading leads to.
var lead = map[circuit.Reading]string{
	circuit.SuctionPressure: "superheat", circuit.SuctionLineTemperature: "superheat",
	circuit.LiquidPressure: "subcooling", circuit.LiquidLineTemperature: "subcooling",
	circuit.DischargePressure: "discharge_superheat", circuit.DischargeLineTemperature: "discharge_superheat",
	circuit.OutdoorDryBulb: "condensing_over_ambient", circuit.ReturnDryBulb: "evaporator_temperature_difference",
	circuit.ReturnWetBulb: "temperature_split", circuit.SupplyDryBulb: "temperature_split", circuit.SupplyWetBulb: "supply_wet_bulb",
	circuit.IndoorAirflow: "indoor_airflow", circuit.DrierOutletTemperature: "drier_temperature_drop",
}

// candidates lists the readings not taken, one by one, and with gauges both
// pressures together where neither was read.
func (o *observation) candidates(in Input, gauges bool) []candidate {
	var list []candidate
	for c := range signature.PlateSEER {
		if o.where(c) >= 0 || c == signature.Airflow && !(in.NominalCapacity.Watt() > 0) {
			continue
		}
		list = append(list, candidate{[]axis{{c, -1, readingOf[c]}}, lead[readingOf[c]]})
	}
	for a, r := range [signature.Axes]circuit.Reading{circuit.OutdoorDryBulb, circuit.ReturnDryBulb, circuit.ReturnWetBulb} {
		if !o.read[a] {
			list = append(list, candidate{[]axis{{0, a, r}}, lead[r]})
		}
	}
	if gauges && o.where(signature.SuctionDew) < 0 && o.where(signature.LiquidBubble) < 0 {
		list = append(list, candidate{[]axis{
			{signature.SuctionDew, -1, circuit.SuctionPressure}, {signature.LiquidBubble, -1, circuit.LiquidPressure},
		}, "superheat"})
	}
	return list
}

// prediction is a component with what it expects of readings to come.
type prediction struct {
	hypothesis int
	p          float64
	factor     cholesky
	z          vector
	q          float64
	slopes     [signature.Axes]vector
	component  *component
}

// predictions of the components that carry more than a share of everything;
// the chance of what is left out goes to the others of the same kind.
func (o *observation) predictions(all []weighed, least float64) []prediction {
	var list []prediction
	var r vector
	var s matrix
	for i := range all {
		w := &all[i]
		kept, from := 0.0, len(list)
		for k := range w.components {
			p := w.p * w.share(k)
			if !(p >= least) {
				continue
			}
			x := prediction{hypothesis: i, p: p, component: &w.components[k]}
			o.residual(x.component, &r, &s, &x.slopes)
			x.factor.factorize(o.n, &s)
			x.z, x.q = x.factor.whiten(&r)
			list = append(list, x)
			kept += p
		}
		for j := from; j < len(list); j++ {
			list[j].p *= w.p / kept
		}
	}
	return list
}

// foresee gives mean and variance of one reading to come under a component,
// with an instrument's variance, and its covariances with the whitened
// residuals.
func (o *observation) foresee(m model, x *prediction, a axis) (mean, variance float64, cross vector) {
	var c vector
	if a.air >= 0 {
		mean, variance = o.axes[a.air], o.u[a.air][a.air]
		for i := range o.n {
			for b := range x.slopes {
				c[i] += x.slopes[b][i] * o.u[b][a.air]
			}
			c[i] -= o.w[a.air][i]
		}
	} else {
		k := a.coordinate
		mean, variance = x.component.Mean(&o.conditions, k), x.component.spread[k][k]
		var f [signature.Axes]float64
		for b := range f {
			f[b] = x.component.Slope(&o.conditions, k, b)
		}
		for i := range o.n {
			c[i] = x.component.spread[k][o.at[i]]
			for b := range f {
				for d := range f {
					c[i] += f[b] * o.u[b][d] * x.slopes[d][i]
				}
				c[i] -= f[b] * o.w[b][i]
			}
		}
		for b := range f {
			for d := range f {
				variance += f[b] * o.u[b][d] * f[d]
			}
		}
	}
	cross, _ = x.factor.whiten(&c)
	for i := range o.n {
		mean += cross[i] * x.z[i]
		variance -= cross[i] * cross[i]
	}
	variance = max(variance, 0)*m.tails.widened(x.factor.rank, x.q) + m.future(a)
	return mean, variance, cross
}

// future is the variance of the instrument of a reading to come.
func (m model) future(a axis) float64 {
	if a.air < 0 && a.coordinate == signature.Airflow {
		return square(m.futureAirflow) + square(m.si("capacity_spread"))
	}
	return m.futureInstrument * m.futureInstrument
}

// expects is the moments of a candidate under one component: two readings at most.
type expects struct {
	mean [2]float64
	// root is the Cholesky factor of the covariance: [0], [1 over 0], [1].
	root  [3]float64
	lnDet float64
}

// expect gives the moments of a candidate.
func (o *observation) expect(m model, x *prediction, c candidate) expects {
	var e expects
	var variance float64
	var first, second vector
	e.mean[0], variance, first = o.foresee(m, x, c.axes[0])
	e.root[0] = math.Sqrt(variance)
	e.lnDet = math.Log(e.root[0])
	if len(c.axes) == 2 {
		e.mean[1], variance, second = o.foresee(m, x, c.axes[1])
		a, b := c.axes[0].coordinate, c.axes[1].coordinate
		shared := x.component.spread[a][b]
		for k := range o.axes {
			for l := range o.axes {
				shared += x.component.Slope(&o.conditions, a, k) * o.u[k][l] * x.component.Slope(&o.conditions, b, l)
			}
		}
		for i := range o.n {
			shared -= first[i] * second[i]
		}
		e.root[1] = shared * m.tails.widened(x.factor.rank, x.q) / e.root[0]
		e.root[2] = math.Sqrt(max(variance-e.root[1]*e.root[1], m.future(c.axes[1])))
		e.lnDet += math.Log(e.root[2])
	}
	return e
}

// log density of what was drawn, but for a constant.
func (e *expects) log(n int, v *[2]float64) float64 {
	a := (v[0] - e.mean[0]) / e.root[0]
	q := a * a
	if n == 2 {
		b := (v[1] - e.mean[1] - e.root[1]*a) / e.root[2]
		q += b * b
	}
	return -0.5*q - e.lnDet
}

// next ranks single readings in closed form: each hypothesis expects the reading
// as a normal variable with the moments of its components, and the mutual
// information of hypotheses and reading is estimated by the divergences of those
// from one another (Hershey and Olsen, ICASSP 2007, eq. 20; from memory,
// unverified), which keeps below the entropy of the hypotheses.
func (m model) next(in Input, all []weighed, o *observation) []Measurement {
	list := o.predictions(all, negligible)
	type normal struct{ p, mean, variance float64 }
	var out []Measurement
	for _, c := range o.candidates(in, false) {
		ns := make([]normal, 0, len(all))
		last, second := -1, 0.0
		finish := func() {
			if last >= 0 {
				n := &ns[len(ns)-1]
				n.mean /= n.p
				n.variance = second/n.p - n.mean*n.mean
			}
		}
		for i := range list {
			x := &list[i]
			mu, v, _ := o.foresee(m, x, c.axes[0])
			if x.hypothesis != last {
				finish()
				ns = append(ns, normal{})
				last, second = x.hypothesis, 0
			}
			n := &ns[len(ns)-1]
			n.p += x.p
			n.mean += x.p * mu
			second += x.p * (mu*mu + v)
		}
		finish()
		information := 0.0
		for _, a := range ns {
			near := 0.0
			for _, b := range ns {
				d := a.mean - b.mean
				near += b.p * math.Exp(-0.5*(math.Log(b.variance/a.variance)+(a.variance+d*d)/b.variance-1))
			}
			information -= a.p * math.Log(near)
		}
		out = append(out, Measurement{Readings: []circuit.Reading{c.axes[0].reading}, For: c.name, Information: max(information, 0)})
	}
	slices.SortStableFunc(out, func(x, y Measurement) int { return cmp.Compare(y.Information, x.Information) })
	return out
}

const (
	planDraws = 300
	planSeed  = 11
)

// Plan says what each reading not yet taken would tell, by drawing what it may
// show from what is believed now and judging again; the same random numbers
// serve all of them, so that they compare. With neither pressure read both
// together stand in the list as well: what connecting gauges would tell. The
// Result is that of the readings so far. It returns the errors of Assess.
func Plan(in Input) (Result, []Measurement, error) {
	m := reference()
	a, all, o, err := assess(m, in)
	if err != nil || !a.Weighed {
		return a, nil, err
	}
	x := planning{m: m, o: o, all: all, losses: a.losses, list: o.predictions(all, 0.1*negligible)}
	now := posterior(all)
	said := expectedLosses(all, now, a.losses)
	a.conclude(said)
	a.Leaning, _ = said.assessment()
	if len(x.list) == 0 {
		return a, nil, nil // nothing known explains these readings
	}
	x.assessment, x.fault = said.assessment()
	x.keep(now[len(all)-1])
	var out []Measurement
	for _, c := range o.candidates(in, true) {
		out = append(out, x.weigh(c))
	}
	slices.SortStableFunc(out, func(x, y Measurement) int { return cmp.Compare(y.Information, x.Information) })
	return a, out, nil
}

// planning is a plan on its way.
type planning struct {
	m      model
	o      *observation
	all    []weighed
	losses losses
	list   []prediction
	// kept are the probabilities of hypotheses of which list has any, and before
	// is their entropy.
	kept   []float64
	before float64
	// What would be said now.
	assessment Assessment
	fault      equipment.Fault

	// Room for one candidate after the other.
	expected    []expects
	logs, after []float64
}

// keep makes the probabilities those of what is drawn only: what the list leaves
// out would count as learnt.
func (x *planning) keep(unexplained float64) {
	x.kept = make([]float64, len(x.all))
	x.kept[len(x.all)-1] = unexplained
	whole := unexplained
	for i := range x.list {
		x.kept[x.list[i].hypothesis] += x.list[i].p
		whole += x.list[i].p
	}
	for i := range x.kept {
		x.kept[i] /= whole
	}
	for i := range x.list {
		x.list[i].p /= whole
	}
	x.before = entropy(x.kept)
	x.after = make([]float64, len(x.all))
	x.expected = make([]expects, len(x.list))
	x.logs = make([]float64, len(x.list)+1)
}

// weigh says what a candidate would tell.
func (x *planning) weigh(c candidate) Measurement {
	for i := range x.list {
		x.expected[i] = x.o.expect(x.m, &x.list[i], c)
	}
	n := len(c.axes)
	// Where nothing ties readings together each is even over its range.
	lnRange := float64(n) * 0.5 * math.Log(2*math.Pi)
	var low, width [2]float64
	for k, a := range c.axes {
		w := x.m.rangeOf(a)
		lnRange -= math.Log(w)
		low[k], width[k] = x.expected[0].mean[k]-w/2, w
	}
	rng := rand.New(rand.NewPCG(planSeed, 0))
	me := Measurement{For: c.name}
	for k, a := range c.axes {
		me.Readings = append(me.Readings, a.reading)
		me.Expected = append(me.Expected, together(x.list, x.expected, k))
	}
	for range planDraws {
		v := x.draw(rng, low, width)
		x.learn(n, &v, lnRange)
		me.Information += (x.before - entropy(x.after)) / planDraws
		if v, f := expectedLosses(x.all, x.after, x.losses).assessment(); v != x.assessment || f != x.fault {
			me.ChangesAdvice += 1. / planDraws
		}
	}
	me.Information = max(me.Information, 0)
	return me
}

// draw is what a candidate may show by what is believed now.
func (x *planning) draw(rng *rand.Rand, low, width [2]float64) [2]float64 {
	pick := rng.Float64()
	g := [2]float64{rng.NormFloat64(), rng.NormFloat64()}
	u := [2]float64{rng.Float64(), rng.Float64()}
	v := [2]float64{low[0] + u[0]*width[0], low[1] + u[1]*width[1]}
	for i := range x.list {
		if pick -= x.list[i].p; pick < 0 {
			e := &x.expected[i]
			v[0] = e.mean[0] + e.root[0]*g[0]
			v[1] = e.mean[1] + e.root[1]*g[0] + e.root[2]*g[1]
			break
		}
	}
	return v
}

// learn puts into after what is believed once n values were seen.
func (x *planning) learn(n int, v *[2]float64, lnRange float64) {
	unexplained := len(x.all) - 1
	for i := range x.list {
		x.logs[i] = math.Log(x.list[i].p) + x.expected[i].log(n, v)
	}
	x.logs[len(x.list)] = math.Log(x.kept[unexplained]) + lnRange
	total := logSum(x.logs)
	clear(x.after)
	for i := range x.list {
		x.after[x.list[i].hypothesis] += math.Exp(x.logs[i] - total)
	}
	x.after[unexplained] = math.Exp(x.logs[len(x.list)] - total)
}

// together gives the moments of reading k of a candidate over all predictions.
func together(list []prediction, e []expects, k int) Expected {
	var whole, mean, second float64
	for i := range list {
		v := e[i].root[0] * e[i].root[0]
		if k == 1 {
			v = e[i].root[1]*e[i].root[1] + e[i].root[2]*e[i].root[2]
		}
		whole += list[i].p
		mean += list[i].p * e[i].mean[k]
		second += list[i].p * (e[i].mean[k]*e[i].mean[k] + v)
	}
	mean /= whole
	return Expected{mean, math.Sqrt(max(second/whole-mean*mean, 0))}
}

// entropy in nats.
func entropy(p []float64) float64 {
	sum := 0.0
	for _, v := range p {
		if v > 0 {
			sum -= v * math.Log(v)
		}
	}
	return sum
}

// rangeOf is the plausible range of a reading to come.
func (m model) rangeOf(a axis) float64 {
	if a.air < 0 {
		return m.plausible[a.coordinate]
	}
	return m.plausible[signature.SupplyDry]
}
