package hose

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/numeric"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

// ErrPastLimit reports that what is shut in would reach a pressure beyond the
// limit of the equation of state.
var ErrPastLimit = errors.New("hose: pressure beyond the limit of the equation of state")

// Shut is a volume that was closed with refrigerant in it. It grows a little
// with pressure and temperature; with no growth it is a rigid vessel.
type Shut struct {
	System *equilibrium.System
	Lines  saturation.Lines
	// Loading in kg of refrigerant a m3, at the Pressure (Pa) and Temperature (K)
	// at which the volume was closed.
	Loading, Pressure, Temperature float64
	// PerPressure (1/Pa) and PerTemperature (1/K) are the relative growth of the
	// volume.
	PerPressure, PerTemperature float64
}

// ShutState is what is inside at some temperature.
type ShutState struct {
	// Pressure in Pa, absolute.
	Pressure float64
	Phase    Phase
}

// loading at another state, mol/m3.
func (s Shut) loading(t, p float64) float64 {
	growth := 1 + s.PerPressure*(p-s.Pressure) + s.PerTemperature*(t-s.Temperature)
	return s.Loading / s.System.MolarMass() / growth
}

// At gives the state at t (K). It returns ErrPastLimit,
// equilibrium.ErrNearCritical where the equation has no single pressure there,
// equilibrium.ErrOutside beyond its temperatures, or a solver's error.
func (s Shut) At(t float64) (ShutState, error) {
	if !(t >= s.System.MinTemperature() && t <= s.System.MaxTemperature()) {
		return ShutState{}, fmt.Errorf("%w: %v K", equilibrium.ErrOutside, t)
	}
	bubble, err := s.Lines.AtTemperature(equilibrium.BubbleLine, t)
	if errors.Is(err, equilibrium.ErrAboveCritical) || errors.Is(err, equilibrium.ErrNearCritical) {
		return s.single(t, 0, Supercritical)
	}
	if err != nil {
		return ShutState{}, err
	}
	if s.loading(t, bubble.Pressure) >= bubble.Density {
		return s.single(t, bubble.Pressure, SubcooledLiquid)
	}
	dew, err := s.Lines.AtTemperature(equilibrium.DewLine, t)
	if err != nil {
		return ShutState{}, err
	}
	if s.loading(t, dew.Pressure) <= dew.Density {
		return s.single(t, 0, SuperheatedVapor)
	}
	p := bubble.Pressure
	for range 30 {
		at, err := s.System.AtTemperatureDensity(t, s.loading(t, p))
		if err != nil {
			return ShutState{}, err
		}
		if math.Abs(at.Pressure-p) <= 1e-9*p {
			return ShutState{at.Pressure, TwoPhase}, nil
		}
		p = at.Pressure
	}
	return ShutState{}, fmt.Errorf("%w: shut volume at %g K", equilibrium.ErrNotConverged, t)
}

// single finds the pressure of one phase from least (Pa) up: the equation's
// pressure at the loading falls as the volume gives way, so there is one.
func (s Shut) single(t, least float64, phase Phase) (ShutState, error) {
	rho := s.loading(t, least)
	if !(rho > 0) {
		return ShutState{}, fmt.Errorf("%w: a volume that gives way without end", equilibrium.ErrOutside)
	}
	x := s.System.Composition()
	top, slope, _ := s.System.Mixture().Pressure(t, rho, x)
	if !(slope > 0) || math.IsInf(top, 0) {
		return ShutState{}, fmt.Errorf("%w: %g K, %g mol/m3", equilibrium.ErrNearCritical, t, rho)
	}
	excess := func(p float64) (float64, error) { return s.System.Pressure(t, s.loading(t, p)) - p, nil }
	p := least // where a liquid on its line comes out a rounding below it
	if top > least {
		var err error
		if p, err = root(excess, least, top, 1e-10*top); err != nil {
			return ShutState{}, err
		}
	}
	if !(p <= s.System.MaxPressure()) {
		return ShutState{}, fmt.Errorf("%w: %.4g MPa at %g K", ErrPastLimit, p/1e6, t)
	}
	if phase == Supercritical {
		end, err := s.System.End(equilibrium.BubbleLine)
		if err != nil {
			return ShutState{}, err
		}
		if p < end.MaxPressure {
			phase = SuperheatedVapor
		}
	}
	return ShutState{p, phase}, nil
}

// LiquidFull gives the temperature in K at which what is inside becomes all
// liquid; false where that does not happen below the end of the bubble line.
func (s Shut) LiquidFull() (float64, bool, error) {
	end, err := s.System.End(equilibrium.BubbleLine)
	if err != nil {
		return 0, false, err
	}
	excess := func(t float64) (float64, error) {
		b, err := s.Lines.AtTemperature(equilibrium.BubbleLine, t)
		if err != nil {
			return 0, err
		}
		return s.loading(t, b.Pressure) - b.Density, nil
	}
	const short = 1e-3 // of the end's temperature, where a pure fluid has its critical point
	hot := end.Temperature * (1 - short)
	f, err := excess(hot)
	if err != nil || !(f >= 0) {
		return 0, false, err
	}
	cold := min(s.Temperature, hot)
	for {
		if f, err = excess(cold); errors.Is(err, equilibrium.ErrBelowRange) {
			return 0, false, nil
		} else if err != nil {
			return 0, false, err
		}
		if f <= 0 {
			break
		}
		if cold *= 0.95; cold < s.System.MinTemperature() {
			return 0, false, nil
		}
	}
	t, err := root(excess, cold, hot, 1e-7)
	return t, err == nil, err
}

// root is numeric.Root whose failure to converge is the solver's.
func root(f func(float64) (float64, error), lo, hi, tolerance float64) (float64, error) {
	x, err := numeric.Root(f, lo, hi, tolerance)
	if errors.Is(err, numeric.ErrNotConverged) {
		err = fmt.Errorf("%w: %w", equilibrium.ErrNotConverged, err)
	}
	return x, err
}

// Comparison says how an estimated pressure stands to a limit.
type Comparison string

// The comparisons. None says that a hose is fit for anything.
const (
	// Above: the whole band lies above the limit, or beyond the equation's.
	Above Comparison = "above"
	// NotResolved: the limit lies within the band.
	NotResolved Comparison = "not_resolved"
	// BelowByEstimate: the whole band lies below the limit; it is an estimate.
	BelowByEstimate Comparison = "below_by_estimate"
	// RatingUnknown: there is no limit to compare with.
	RatingUnknown Comparison = "rating_unknown"
)
