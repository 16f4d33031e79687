package refrigerant

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/refdata"
)

// PseudoPure is a blend published as if it were a single fluid, with explicit
// bubble and dew pressures: a second opinion on the mixture model, which is
// what answers are made of.
type PseudoPure struct {
	System *equilibrium.System
	data   refdata.Fluid
}

// PseudoPure gives the pseudo-pure equation of a blend, false where none is
// published.
func (c *Catalogue) PseudoPure(designation string) (*PseudoPure, bool) {
	f, ok := c.equations.data[designation]
	if !ok || !f.PseudoPure {
		return nil, false
	}
	m := must(helmholtz.NewMixture([]*helmholtz.Fluid{c.equations.fluids[designation]}, c.equations.binary))
	return &PseudoPure{System: must(equilibrium.New(m, []float64{1})), data: f}, true
}

// Saturation gives the published bubble and dew pressures (Pa) at t (K) and
// the densities (mol/m3) that the equation has there. It returns
// equilibrium.ErrOutside beyond the published curves, or a density error.
func (p *PseudoPure) Saturation(t float64) (bubble, dew, liquid, vapor float64, err error) {
	a := p.data.Ancillary
	for _, c := range []refdata.AncillaryCurve{a.BubblePressure, a.DewPressure} {
		if !(t >= c.MinTemperature && t <= c.MaxTemperature) {
			return 0, 0, 0, 0, fmt.Errorf("%w: pseudo-pure %s at %g K", equilibrium.ErrOutside, p.data.Designation, t)
		}
	}
	bubble, dew = curve(a.BubblePressure, t), curve(a.DewPressure, t)
	if liquid, err = p.System.Density(t, bubble, equilibrium.Liquid); err != nil {
		return 0, 0, 0, 0, err
	}
	if vapor, err = p.System.Density(t, dew, equilibrium.Vapor); err != nil {
		return 0, 0, 0, 0, err
	}
	return bubble, dew, liquid, vapor, nil
}

// curve evaluates an ancillary equation of the exponential form.
func curve(c refdata.AncillaryCurve, t float64) float64 {
	theta := 1 - t/c.ReducingTemperature
	var sum float64
	for i, n := range c.N {
		sum += n * math.Pow(theta, c.T[i])
	}
	if c.TimesTau {
		sum *= c.ReducingTemperature / t
	}
	return c.ReducingValue * math.Exp(sum)
}
