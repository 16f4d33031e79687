package circuit

import (
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// WetBulb is that of the return air, in K with its standard uncertainty.
type WetBulb struct {
	gum.Uncertain
	// Computed tells that it was not read but follows from dry bulb and relative
	// humidity.
	Computed bool
	slopes   moistair.Slopes
}

// WetBulbOf takes the wet bulb of the return air as it was read, or makes it of
// dry bulb and relative humidity at a pressure of the air in Pa; known is false
// where the readings lead to none. Its error is that of [moistair], of which the
// dry bulb and the relative humidity are the inputs.
func WetBulbOf(readings map[Reading]Measured, air gum.Uncertain) (w WetBulb, known bool, err error) {
	if m, ok := readings[ReturnWetBulb]; ok {
		return WetBulb{Uncertain: m.Uncertain()}, true, nil
	}
	dry, okDry := readings[ReturnDryBulb]
	humidity, okHumidity := readings[ReturnRelativeHumidity]
	if !okDry || !okHumidity {
		return WetBulb{}, false, nil
	}
	s, err := moistair.FromRelativeHumidity(unit.Pascal(air.Value), unit.Kelvin(dry.Value), unit.Fraction(humidity.Value))
	if err != nil {
		return WetBulb{}, false, err
	}
	w = WetBulb{Computed: true}
	if w.slopes, err = s.Slopes(func(s moistair.State) (float64, error) { return s.WetBulb().Kelvin(), nil }); err != nil {
		return WetBulb{}, false, err
	}
	w.Value = s.WetBulb().Kelvin()
	var inputs gum.Inputs
	inputs.Set(ReturnDryBulb.Axis(), dry.Standard)
	inputs.Set(ReturnRelativeHumidity.Axis(), humidity.Standard)
	inputs.Set(SiteAxis, air.Standard)
	w.Standard = inputs.Standard(w.Estimate(true))
	return w, true, nil
}

// Estimate is the wet bulb among the inputs of a [State]. site tells that the
// state's site pressure is the pressure of this air.
func (w WetBulb) Estimate(site bool) gum.Estimate {
	if !w.Computed {
		return gum.Estimate{Value: w.Value, Gradient: gum.Along(ReturnWetBulb.Axis())}
	}
	var pressure gum.Gradient
	if site {
		pressure = gum.Along(SiteAxis)
	}
	return w.slopes.Carry(w.Value, gum.Along(ReturnDryBulb.Axis()), gum.Along(ReturnRelativeHumidity.Axis()), pressure)
}
