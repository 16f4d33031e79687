package diagnosis

import (
	"cmp"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/circuit"
)

// Measurement is a reading that was not taken and what it promises.
type Measurement struct {
	Reading circuit.Reading
	For     Feature
	// Information is the mean reduction of the entropy of the hypotheses, in
	// nats, that the quantity alone would bring; a reading that leads to
	// several quantities is ranked by the best of them, which is a lower bound.
	Information float64
}

// next ranks the readings that each lead, alone, to a quantity not yet known.
// Every hypothesis predicts that quantity as a normal variable with the moments
// of its severities; what the new quantity would share with those already
// known is left out.
func (m model) next(in Input, a Assessment, all []hypothesis) []Measurement {
	var list []Measurement
	for _, d := range features {
		if slices.ContainsFunc(a.Deviations, func(v Deviation) bool { return v.Feature == d.feature }) {
			continue
		}
		reading, ok := m.lacking(in, d.feature, d.readings)
		if !ok {
			continue
		}
		info := m.information(in, d.feature, all)
		if i := slices.IndexFunc(list, func(x Measurement) bool { return x.Reading == reading }); i >= 0 {
			if info > list[i].Information {
				list[i].For, list[i].Information = d.feature, info
			}
			continue
		}
		list = append(list, Measurement{reading, d.feature, info})
	}
	slices.SortStableFunc(list, func(x, y Measurement) int { return cmp.Compare(y.Information, x.Information) })
	return list
}

// lacking is the one reading that a feature lacks, false where it lacks none or
// several, or where its table would have no figure anyway.
func (m model) lacking(in Input, f Feature, readings []circuit.Reading) (circuit.Reading, bool) {
	if f == Superheat && in.Superheat == nil && in.Device.Fixed() {
		readings = append(slices.Clone(readings), circuit.OutdoorDryBulb, circuit.ReturnWetBulb)
	}
	if f == IndoorAirflow && !(in.NominalCapacity.Watt() > 0) {
		return 0, false
	}
	var lacks []circuit.Reading
	for _, r := range readings {
		_, have := in.State.Reading(r)
		switch r {
		case circuit.ReturnWetBulb:
			have = in.WetBulb != nil
		case circuit.LiquidPressure:
			_, discharge := in.State.Reading(circuit.DischargePressure)
			have = have || discharge
		}
		if !have {
			lacks = append(lacks, r)
		}
	}
	if len(lacks) != 1 {
		return 0, false
	}
	return lacks[0], true
}

// information is the mutual information of the hypotheses and a quantity still
// to be measured, by integrating over its predicted distribution.
func (m model) information(in Input, f Feature, all []hypothesis) float64 {
	t, missing := m.expect(f, in)
	if missing != nil {
		t = m.stand(f)
	}
	st := m.stepOf(t)
	inst := m.si("future_instrument")
	if f == IndoorAirflow {
		inst = st.spread
	}
	type normal struct{ p, mean, sd float64 }
	var ns []normal
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range all {
		h := &all[i]
		base := st.spread*st.spread + inst*inst
		n := normal{p: h.p}
		switch h.name {
		case NoFault:
			n.sd = math.Sqrt(base)
		case Unexplained:
			n.sd = math.Hypot(math.Sqrt(base), m.si("unexplained_spread")*st.size)
		default:
			effects := m.effects(in.Device, h.fault, []step{st})
			var second float64
			for k, e := range effects {
				w := math.Exp(h.logs[k] - h.log)
				n.mean += w * e.mean[0]
				second += w * (e.mean[0]*e.mean[0] + e.extra[0])
			}
			n.sd = math.Sqrt(base + second - n.mean*n.mean)
		}
		ns = append(ns, n)
		lo, hi = math.Min(lo, n.mean-5*n.sd), math.Max(hi, n.mean+5*n.sd)
	}
	const points = 80
	dx := (hi - lo) / points
	sum := 0.0
	densities := make([]float64, len(ns))
	for i := range points + 1 {
		x := lo + float64(i)*dx
		mix := 0.0
		for k, n := range ns {
			z := (x - n.mean) / n.sd
			densities[k] = math.Exp(-0.5*z*z) / (n.sd * math.Sqrt(2*math.Pi))
			mix += n.p * densities[k]
		}
		for k, n := range ns {
			if n.p > 0 && densities[k] > 0 {
				sum += n.p * densities[k] * math.Log(densities[k]/mix) * dx
			}
		}
	}
	return math.Max(sum, 0)
}

// stand is a target of zero where the true one waits for the very reading that
// is being judged: only spread and step matter then.
func (m model) stand(f Feature) Target {
	t := Target{Feature: f, spread: m.si("spread_temperature_split")}
	if f == Superheat {
		t.spread = m.si("spread_superheat_charging_chart")
	}
	return t
}
