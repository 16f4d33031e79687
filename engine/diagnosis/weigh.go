package diagnosis

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
)

// The severities over which each fault is integrated, evenly weighed.
const severityCount = 6

// effect is what a hypothesis says of the deviations: their mean and the
// variance that it adds to that of healthy units.
type effect struct {
	severity    float64
	mean, extra vector
}

// hypothesis is nothing wrong, one fault, or something else.
type hypothesis struct {
	name     string
	fault    Fault // empty for the first and the last
	logPrior float64
	effects  []effect

	// What the evidence makes of it.
	logs    [severityCount]float64 // log likelihood by effect
	log     float64                // of all effects
	without vector                 // the same with one quantity left out
	p       float64
}

// evidence is the deviations with their covariance under no fault.
type evidence struct {
	n     int
	r     vector
	s     matrix
	steps []step
}

// step is one quantity with the step of its severity.
type step struct {
	column  string
	opposed bool
	size    float64
	spread  float64
}

// stepOf looks up what the charts call the quantity of a target.
func (m model) stepOf(t Target) step {
	for _, d := range features {
		if d.feature != t.Feature {
			continue
		}
		st := step{column: d.sign, opposed: d.opposed, size: m.si(d.step), spread: math.Hypot(t.spread, t.Standard)}
		if t.Feature == IndoorAirflow {
			st.size *= t.Expected.Value
		}
		return st
	}
	panic("diagnosis: no feature " + string(t.Feature))
}

// gather puts the deviations into one vector with one covariance: what the
// instruments share stays shared, healthy units stray independently.
func (m model) gather(s *circuit.State, ds []Deviation) evidence {
	e := evidence{n: len(ds)}
	for i, d := range ds {
		e.r[i] = d.Deviation.Value
		st := m.stepOf(d.target)
		e.steps = append(e.steps, st)
		for j := range i + 1 {
			e.s[i][j] = s.Covariance(d.Deviation, ds[j].Deviation)
			e.s[j][i] = e.s[i][j]
		}
		e.s[i][i] += st.spread * st.spread
	}
	return e
}

// hypotheses lays out all effects for the quantities in steps.
func (m model) hypotheses(d Device, prior map[string]float64, steps []step) []hypothesis {
	all := []hypothesis{{name: NoFault, effects: []effect{{}}}}
	for _, f := range Faults() {
		all = append(all, hypothesis{name: string(f), fault: f, effects: m.effects(d, f, steps)})
	}
	all = append(all, hypothesis{name: Unexplained, effects: []effect{{}}})
	wide := &all[len(all)-1].effects[0]
	for i, st := range steps {
		w := m.si("unexplained_spread") * st.size
		wide.extra[i] = w * w
	}
	for i := range all {
		all[i].logPrior = math.Log(prior[all[i].name])
	}
	return all
}

// effects turns the signs of a fault into means and variances at each
// severity. The charts give directions only, so sizes are left uncertain in
// proportion.
func (m model) effects(d Device, f Fault, steps []step) []effect {
	middle, half := m.band("severity")
	all := make([]effect, severityCount)
	for k := range all {
		all[k].severity = middle - half + 2*half*float64(k)/(severityCount-1)
	}
	signs := m.signs[d][f]
	moved, held, unknown := m.si("response_uncertainty"), m.si("held_uncertainty"), m.si("unknown_uncertainty")
	for i, st := range steps {
		sign, told := signs[st.column]
		share := moved
		switch {
		case !told:
			share = unknown
		case sign == 0:
			share = held
		}
		if st.opposed {
			sign = -sign
		}
		steps, own := m.sizes[f][st.column]
		if !own {
			steps = 1
		}
		for k := range all {
			size := all[k].severity * st.size * steps
			all[k].mean[i] = float64(sign) * size
			all[k].extra[i] = share * share * size * size
		}
	}
	return all
}

// weigh fills in likelihoods and posterior probabilities.
func (e *evidence) weigh(all []hypothesis) {
	posterior := make([]float64, len(all))
	var held [maxFeatures][severityCount]float64
	for i := range all {
		h := &all[i]
		share := -math.Log(float64(len(h.effects)))
		for k, f := range h.effects {
			s, r := e.s, e.r
			for j := range e.n {
				s[j][j] += f.extra[j]
				r[j] -= f.mean[j]
			}
			log, conditional := logDensity(e.n, &s, &r)
			h.logs[k] = log + share
			for j := range e.n {
				held[j][k] = h.logs[k] - conditional[j]
			}
		}
		h.log = logSum(h.logs[:len(h.effects)])
		for j := range e.n {
			h.without[j] = logSum(held[j][:len(h.effects)])
		}
		posterior[i] = h.logPrior + h.log
	}
	total := logSum(posterior)
	for i := range all {
		all[i].p = math.Exp(posterior[i] - total)
	}
}

// Severity is a range in steps of one tolerance of the quantities concerned:
// the published signs give no other scale.
type Severity struct{ Low, Likely, High float64 }

// severity is the mean of the severities weighed and their central 90 %.
func (h *hypothesis) severity() Severity {
	var s Severity
	sum := 0.0
	for k, f := range h.effects {
		p := math.Exp(h.logs[k] - h.log)
		s.Likely += p * f.severity
		if k == 0 || sum < 0.05 {
			s.Low = f.severity
		}
		if k == 0 || sum < 0.95 {
			s.High = f.severity
		}
		sum += p
	}
	return s
}
