package plant

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Properties of air and water vapour after ASHRAE Handbook-Fundamentals (2017)
// ch. 1 eq. 30, J/kg and J/(kg K).
const (
	airHeat       = 1006.
	waterHeat     = 1860.
	vaporisation  = 2501e3
	waterOverAir  = 0.621945
	freezingPoint = 273.15
)

// air is the air before a coil.
type air struct {
	t, w     float64 // K, kg/kg
	h        float64 // J/kg of dry air
	heat     float64 // J/(K kg of dry air)
	pressure float64 // Pa
	mass     float64 // kg/s of dry air
}

func enthalpyOfAir(t, w float64) float64 {
	c := t - freezingPoint
	return airHeat*c + w*(vaporisation+waterHeat*c)
}

// saturatedAir gives humidity ratio and enthalpy of saturated air. Off the
// range of the vapour pressure it keeps to the range's end.
func saturatedAir(t, pressure float64) (w, h float64) {
	t = min(max(t, 190), 350)
	v, err := moistair.SaturationPressure(unit.Kelvin(t))
	if err != nil {
		return math.NaN(), math.NaN() // not reached inside the clamped range
	}
	pv := min(v.Pascal(), 0.6*pressure)
	w = waterOverAir * pv / (pressure - pv)
	return w, enthalpyOfAir(t, w)
}

// temperatureOfSaturated inverts saturatedAir from a first guess.
func temperatureOfSaturated(h, pressure, guess float64) float64 {
	lo, hi := 190., 350.
	t := guess
	for range 60 {
		_, at := saturatedAir(t, pressure)
		if at > h {
			hi = t
		} else {
			lo = t
		}
		_, above := saturatedAir(t+0.05, pressure)
		next := t - (at-h)*0.05/(above-at)
		if !(next > lo && next < hi) {
			next = 0.5 * (lo + hi)
		}
		if math.Abs(next-t) < 1e-10 {
			return next
		}
		t = next
	}
	return t
}
