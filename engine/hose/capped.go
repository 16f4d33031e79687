package hose

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Case is what was left in a hose when it was shut.
type Case string

// The cases.
const (
	// LiquidLeftIn: the hose was shut with the liquid that it held.
	LiquidLeftIn Case = "liquid_left_in"
	// VaporLeftIn: the hose was shut with vapour: what it held, or after drawing
	// back to suction.
	VaporLeftIn Case = "vapor_left_in"
)

// Band is an estimate between the ends that fill, give of the hose and readings
// allow, as far as they are assumed or known; it is no statistical interval.
type Band struct {
	Value, Low, High float64
	// Unbounded tells that High is not given: a pressure beyond the limit of the
	// equation of state, a temperature that is never reached.
	Unbounded bool
}

// Capped is what a hose that was shut does at the storage temperature.
type Capped struct {
	Hose int
	Name string
	Case Case
	// Phase inside at the storage temperature.
	Phase Phase
	// Pressure in Pa, absolute; nil where the estimate lies beyond the limit of
	// the equation, or where Unresolved.
	Pressure *Band
	// Unresolved tells that the equation gives no single pressure there, since
	// it is near the critical point or outside its temperatures.
	Unresolved bool
	// LiquidFull is the temperature in K at which the hose becomes full of
	// liquid, nil where it does not. Low and High are its ends.
	LiquidFull *Band
	// WorkingPressure and GaugeLimit compare with the hose's rating and with the
	// limit of the gauge on its side.
	WorkingPressure, GaugeLimit Comparison
}

// give is one make of hose between rigid and soft.
type give struct{ loading, perPressure, perTemperature float64 }

func (w *work) capped() error {
	if w.in.Storage.IsZero() {
		return nil
	}
	pressure, firmest, softest := w.band("volume_per_pressure")
	warmth, least, most := w.band("volume_per_temperature")
	like := func(mid, low, high float64) [3]give {
		return [3]give{{mid, pressure, warmth}, {low, softest, most}, {high, firmest, least}}
	}
	suction := w.first(Low)
	for _, h := range w.hoses {
		if h.phase == Empty {
			continue
		}
		if h.share.Value > 0 {
			at := func(share float64, sigmas float64) float64 {
				return share*(h.liquid.Value+sigmas*w.inputs.Standard(h.liquid)) + (1-share)*(h.vapor.Value+sigmas*w.inputs.Standard(h.vapor))
			}
			loads := like(at(h.share.Value, 0), at(h.leastFill, -gum.Coverage), at(h.top, gum.Coverage))
			if err := w.shut(h, LiquidLeftIn, h.p.Value, loads); err != nil {
				return err
			}
		}
		p := h.p
		if h.share.Value > 0 {
			if suction == nil || !(suction.p.Value < h.p.Value) {
				continue
			}
			p = suction.p
		}
		rho, err := w.vaporAt(h.t, p)
		if errors.Is(err, equilibrium.ErrNoPhase) {
			continue
		}
		if err != nil {
			return err
		}
		spread := gum.Coverage * w.inputs.Standard(rho)
		if err := w.shut(h, VaporLeftIn, p.Value, like(rho.Value, rho.Value-spread, rho.Value+spread)); err != nil {
			return err
		}
	}
	return nil
}

// vaporAt is the density of stable vapour, equilibrium.ErrNoPhase where it
// condenses.
func (w *work) vaporAt(t, p gum.Estimate) (gum.Estimate, error) {
	dew, _, err := w.in.Lines.Dew(unit.Pascal(p.Value))
	if err == nil && !(t.Value > dew.Kelvin()) {
		return gum.Estimate{}, equilibrium.ErrNoPhase
	}
	return w.density(t, p, equilibrium.Vapor)
}

func (w *work) shut(h *held, what Case, p float64, makes [3]give) error {
	c := Capped{Hose: h.index, Name: h.hose.Name, Case: what}
	var states [3]ShutState
	var past [3]bool
	var full [3]float64
	var fills [3]bool
	for i, g := range makes {
		s := Shut{
			System: w.in.System, Lines: w.in.Lines, Loading: g.loading, Pressure: p, Temperature: h.t.Value,
			PerPressure: g.perPressure, PerTemperature: g.perTemperature,
		}
		var err error
		states[i], err = s.At(w.in.Storage.Kelvin())
		switch {
		case errors.Is(err, ErrPastLimit):
			past[i] = true
		case errors.Is(err, equilibrium.ErrNearCritical), errors.Is(err, equilibrium.ErrOutside):
			c.Unresolved = true
		case err != nil:
			return err
		}
		if what == LiquidLeftIn {
			if full[i], fills[i], err = s.LiquidFull(); err != nil {
				return err
			}
		}
	}
	if fills[0] {
		c.LiquidFull = &Band{Value: full[0], Low: full[2], High: full[1], Unbounded: !fills[1]}
	}
	switch {
	case c.Unresolved:
	case past[0]:
		c.Phase = SubcooledLiquid
	default:
		c.Phase = states[0].Phase
		c.Pressure = &Band{Value: states[0].Pressure, Low: states[1].Pressure, High: states[2].Pressure, Unbounded: past[2]}
	}
	c.WorkingPressure = w.compare(c, past[0], h.hose.WorkingPressure)
	c.GaugeLimit = w.compare(c, past[0], w.gaugeLimit(h.hose.Side))
	w.out.Capped = append(w.out.Capped, c)
	return nil
}

// gaugeLimit is that of the gauge on the side; a center hose can be open to
// either gauge, so the lower limit counts.
func (w *work) gaugeLimit(side Side) *unit.GaugePressure {
	low, high := w.in.Manifold.LowGaugeLimit, w.in.Manifold.HighGaugeLimit
	switch {
	case side == Low:
		return low
	case side == High || low == nil:
		return high
	case high == nil || low.Pascal() < high.Pascal():
		return low
	default:
		return high
	}
}

func (w *work) compare(c Capped, past bool, limit *unit.GaugePressure) Comparison {
	if limit == nil {
		return RatingUnknown
	}
	most := limit.Pascal() + w.atmosphere
	switch {
	case past:
		return Above
	case c.Unresolved:
		return NotResolved
	case c.Pressure.Low > most:
		return Above
	case !c.Pressure.Unbounded && c.Pressure.High <= most:
		return BelowByEstimate
	default:
		return NotResolved
	}
}
