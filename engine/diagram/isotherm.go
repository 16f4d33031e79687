package diagram

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

// Isotherm is a line of equal temperature, from high to low pressure; a part
// is empty where the window does not hold it.
type Isotherm struct {
	// Temperature in K.
	Temperature float64
	// Liquid, TwoPhase and Vapor below the critical temperature: the two-phase
	// part is level for a pure fluid and falls where there is glide.
	Liquid, TwoPhase, Vapor []Point
	// Beyond is the one part of an isotherm above the critical temperature.
	Beyond []Point
	// Err says why there are no parts: equilibrium.ErrNearCritical, or the
	// solver's error.
	Err error
}

const (
	liquidPoints = 9
	insidePoints = 7
	vaporPoints  = 25
	beyondPoints = 49
	// clear is how far above the top of the dome an isotherm counts as beyond
	// it, relative.
	clear = 5e-4
)

// isotherms computes those of the window.
func (f *fluid) isotherms(d *Diagram, o Options) ([]Isotherm, error) {
	cold := max(d.Dome.Bubble[0].Temperature, d.Dome.Dew[0].Temperature)
	top := max(f.ends[0], f.ends[1])
	if f.critical != nil {
		top = max(top, f.critical.Temperature)
	}
	hot := top + 0.4*(top-cold)
	for _, s := range d.Circuit.States {
		if s.Err == nil {
			hot = max(hot, s.Temperature.Value+o.Step)
		}
	}
	hot = min(hot, f.s.MaxTemperature())
	step := o.Step
	for (hot-cold)/step > maxIsotherms-1 {
		step *= 2
	}
	var all []Isotherm
	for k := math.Ceil((cold - o.Origin) / step); len(all) < maxIsotherms; k++ {
		t := o.Origin + k*step
		if !(t <= hot) {
			break
		}
		if f.stopped() {
			return nil, saturation.ErrStopped
		}
		i, err := f.isotherm(t, top, d.Window)
		if err != nil {
			return nil, err
		}
		if len(i.Beyond) > 0 && i.Beyond[0].Enthalpy > d.Window.Right {
			break
		}
		all = append(all, i)
	}
	return all, nil
}

// isotherm computes one; its only error is saturation.ErrStopped.
func (f *fluid) isotherm(t, top float64, w Window) (Isotherm, error) {
	i := Isotherm{Temperature: t}
	switch {
	case t <= min(f.ends[0], f.ends[1]):
		return f.below(t, w)
	case t > top*(1+clear):
		i.Beyond, i.Err = f.beyond(t, w)
	default:
		i.Err = fmt.Errorf("%w: isotherm of %.6g K", equilibrium.ErrNearCritical, t)
	}
	return i, nil
}

// beyond goes by density, in which every point is explicit and the flat
// stretch above the critical point is resolved.
func (f *fluid) beyond(t float64, w Window) ([]Point, error) {
	dense, err := f.density(t, w.Highest, equilibrium.Vapor)
	if err != nil {
		return nil, err
	}
	thinnest, err := f.s.Density(t, w.Lowest, equilibrium.Vapor)
	if err != nil {
		return nil, err
	}
	return f.byDensity(t, dense, thinnest, beyondPoints)
}

func (f *fluid) byDensity(t, from, to float64, n int) ([]Point, error) {
	list := make([]Point, n)
	for i := range list {
		rho := from * math.Pow(to/from, float64(i)/float64(n-1))
		list[i] = Point{f.shown(f.s.Caloric(t, rho).Enthalpy), f.s.Pressure(t, rho)}
		if !(list[i].Pressure > 0) || math.IsNaN(list[i].Enthalpy) {
			return nil, fmt.Errorf("%w: state at %.6g K, %.6g mol/m3", equilibrium.ErrNotConverged, t, rho)
		}
	}
	return list, nil
}

// density is the one root beyond the dome, from whichever side it is reached.
func (f *fluid) density(t, p float64, side equilibrium.Side) (float64, error) {
	rho, err := f.s.Density(t, p, side)
	if err == nil {
		return rho, nil
	}
	if rho, err2 := f.s.Density(t, p, 1-side); err2 == nil {
		return rho, nil
	}
	return 0, err
}

// below computes an isotherm that crosses the dome.
func (f *fluid) below(t float64, w Window) (Isotherm, error) {
	i := Isotherm{Temperature: t}
	bubble, err := f.lines.AtTemperature(equilibrium.BubbleLine, t)
	if err != nil {
		i.Err = err
		return i, nil
	}
	dew, err := f.lines.AtTemperature(equilibrium.DewLine, t)
	if err != nil {
		i.Err = err
		return i, nil
	}
	boils, condenses := f.onLine(bubble).Point, f.onLine(dew).Point
	if i.Liquid, i.Err = f.liquid(t, w.Highest, boils); i.Err != nil {
		return Isotherm{Temperature: t, Err: i.Err}, nil
	}
	i.TwoPhase = []Point{boils}
	if !f.s.Pure() {
		for k := 1; k <= insidePoints; k++ {
			if f.stopped() {
				return i, saturation.ErrStopped
			}
			st, err := f.s.AtVaporFraction(t, float64(k)/(insidePoints+1))
			if err != nil {
				return Isotherm{Temperature: t, Err: err}, nil
			}
			i.TwoPhase = append(i.TwoPhase, Point{f.shown(st.Enthalpy), st.Pressure})
		}
	}
	i.TwoPhase = append(i.TwoPhase, condenses)
	if !(dew.Pressure > w.Lowest) {
		return i, nil
	}
	thinnest, err := f.s.Density(t, w.Lowest, equilibrium.Vapor)
	if err == nil {
		i.Vapor, err = f.byDensity(t, dew.Density, thinnest, vaporPoints)
	}
	if err != nil {
		return Isotherm{Temperature: t, Err: err}, nil
	}
	i.Vapor[0] = condenses
	return i, nil
}

// liquid goes evenly in ln p down to the bubble point.
func (f *fluid) liquid(t, highest float64, boils Point) ([]Point, error) {
	list := make([]Point, 0, liquidPoints)
	for k := range liquidPoints - 1 {
		p := highest * math.Pow(boils.Pressure/highest, float64(k)/(liquidPoints-1))
		rho, err := f.s.Density(t, p, equilibrium.Liquid)
		if err != nil {
			return nil, err
		}
		list = append(list, Point{f.shown(f.s.Caloric(t, rho).Enthalpy), p})
	}
	return append(list, boils), nil
}
