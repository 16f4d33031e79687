package charge

import (
	"errors"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// ErrPhase reports a line whose state is not the phase that the line carries.
var ErrPhase = errors.New("charge: not the phase of this line")

// Tube is one line; a Wall of zero means the usual one, from memory.
type Tube struct{ OutsideDiameter, Wall unit.Length }

// State is what is in a line. A Pressure (absolute) of zero means saturated.
type State struct {
	Pressure    unit.Pressure
	Temperature unit.Temperature
}

// LineSet is a pair of lines and what of them the factory charge covers.
type LineSet struct {
	System *equilibrium.System
	// Lines of System; the zero value means those of the rigorous solver.
	Lines saturation.Lines
	// Designation of the refrigerant, R-410A, by which published charges per
	// length are found.
	Designation string
	Length      unit.Length
	// Included is the length that the factory charge covers, Allowance the mass
	// meant for the line set in it: one of them, or neither.
	Included  *unit.Length
	Allowance *unit.Mass
	Liquid    Tube
	Vapor     *Tube
	// LiquidState and VaporState; nil for customary ones.
	LiquidState, VaporState *State
	// Rate is the manufacturer's own charge in kg a m of line, nil where not given.
	Rate *float64
}

// Line is what one of the lines holds.
type Line struct {
	OutsideDiameter, Wall, Bore unit.Length
	Pressure                    unit.Pressure
	Temperature                 unit.Temperature
	Density                     unit.Density
	// PerLength in kg/m. Its uncertainty is that of a wall that was not given:
	// the usual walls of that diameter.
	PerLength gum.Uncertain
	// Correction in kg: to add, or if negative to remove; nil under Needs.
	Correction *gum.Uncertain
}

// Published is the charge per length that manufacturers print for this refrigerant
// and size, in kg/m from Low to High (equal where one figure is printed), and
// the correction by it in kg.
type Published struct {
	Figure    refdata.Figure
	Low, High float64
	// CorrectionLow and CorrectionHigh; nil under Needs.
	CorrectionLow, CorrectionHigh *float64
}

// LineCorrection is what a line set needs. The liquid line alone is what manufacturers
// correct for; the vapour line holds little and stands beside.
type LineCorrection struct {
	Liquid Line
	Vapor  *Line
	// Published is nil where nothing is published for the refrigerant and size.
	Published *Published
	// ByRate in kg by the manufacturer's own rate, nil where that was not given.
	ByRate *float64
	// NeedsIncluded tells that neither Included nor Allowance was given, without
	// which there are charges per length and no correction.
	NeedsIncluded bool
	Basis
}

// Correction in kg for a line of which rate kg a m are charged: what the length
// holds beyond the included length, or beyond the allowance (kg) where the
// factory states a mass.
func Correction(rate float64, length, included unit.Length, allowance unit.Mass) float64 {
	return rate*(length.Metre()-included.Metre()) - allowance.Kilogram()
}

// CorrectLineSet works out what the line set needs. It returns joined
// *FieldError; ErrPhase is inside where a line's state is another phase.
func CorrectLineSet(in LineSet) (LineCorrection, error) {
	var bad faults
	if in.System == nil {
		bad.add("refrigerant", "is missing")
		return LineCorrection{}, bad.err()
	}
	if in.Lines == (saturation.Lines{}) {
		in.Lines = saturation.Rigorous(in.System)
	}
	var out LineCorrection
	bad.positive("length", in.Length.Metre())
	if in.Included != nil && in.Allowance != nil {
		bad.add("factory_included_length", "and an allowance exclude each other")
	}
	if in.Included != nil && !(in.Included.Metre() >= 0 && in.Included.Metre() <= math.MaxFloat64) {
		bad.add("factory_included_length", "is not a finite length from zero up")
	}
	if in.Allowance != nil && !(in.Allowance.Kilogram() >= 0 && in.Allowance.Kilogram() <= math.MaxFloat64) {
		bad.add("factory_allowance", "is not a finite mass from zero up")
	}
	if in.Rate != nil {
		bad.positive("charge_per_length", *in.Rate)
	}
	out.Liquid = out.line(&bad, in, equilibrium.Liquid, in.Liquid, in.LiquidState)
	if in.Vapor != nil {
		v := out.line(&bad, in, equilibrium.Vapor, *in.Vapor, in.VaporState)
		out.Vapor = &v
	}
	if err := bad.err(); err != nil {
		return LineCorrection{}, err
	}
	out.Published = out.published(in)
	out.NeedsIncluded = in.Included == nil && in.Allowance == nil
	if !out.NeedsIncluded {
		out.correct(in)
	}
	return out, nil
}

func (c *LineCorrection) correct(in LineSet) {
	var included unit.Length
	var allowance unit.Mass
	if in.Included != nil {
		included = *in.Included
	}
	if in.Allowance != nil {
		allowance = *in.Allowance
	}
	by := func(rate float64) *float64 {
		m := Correction(rate, in.Length, included, allowance)
		return &m
	}
	extra := math.Abs(in.Length.Metre() - included.Metre())
	c.Liquid.Correction = &gum.Uncertain{Value: *by(c.Liquid.PerLength.Value), Standard: c.Liquid.PerLength.Standard * extra}
	if c.Vapor != nil {
		// An allowance is for the liquid line.
		m := Correction(c.Vapor.PerLength.Value, in.Length, included, unit.Mass{})
		if c.Vapor.Correction = (&gum.Uncertain{Value: m, Standard: c.Vapor.PerLength.Standard * extra}); in.Included == nil {
			c.Vapor.Correction = nil
		}
	}
	if p := c.Published; p != nil {
		p.CorrectionLow, p.CorrectionHigh = by(p.Low), by(p.High)
		if *p.CorrectionLow > *p.CorrectionHigh {
			p.CorrectionLow, p.CorrectionHigh = p.CorrectionHigh, p.CorrectionLow
		}
	}
	if in.Rate != nil {
		c.ByRate = by(*in.Rate)
	}
}

const (
	inch         = 0.0254                   // m
	ounceAFoot   = 0.45359237 / 16 / 0.3048 // kg/m
	sizeResolved = 1e-4                     // m: far less than sizes differ by
)

func (c *LineCorrection) published(in LineSet) *Published {
	od := in.Liquid.OutsideDiameter.Metre()
	for _, l := range refdata.Tubes().LineCharges {
		if l.Refrigerant != in.Designation || !(math.Abs(l.OutsideDiameter*inch-od) < sizeResolved) {
			continue
		}
		f := c.figure(refdata.TradeFacts(), l.Figure)
		if f.Value != nil {
			return &Published{Figure: f, Low: *f.Value * ounceAFoot, High: *f.Value * ounceAFoot}
		}
		return &Published{Figure: f, Low: *f.Low * ounceAFoot, High: *f.High * ounceAFoot}
	}
	return nil
}

// usualStandard is the form that line sets come in.
const usualStandard = "b280_coil"

func (c *LineCorrection) line(bad *faults, in LineSet, side equilibrium.Side, tube Tube, given *State) Line {
	name := map[equilibrium.Side]string{equilibrium.Liquid: "liquid", equilibrium.Vapor: "vapor"}[side]
	od := tube.OutsideDiameter.Metre()
	if !(od > 0 && od <= 1) {
		bad.add(name+"_outside_diameter", "is not a diameter above zero and up to 1 m")
		return Line{}
	}
	wall := tube.Wall.Metre()
	least, most := wall, wall
	if wall == 0 {
		if wall, least, most = c.usualWall(od); wall == 0 {
			bad.add("wall_thickness", "is not given and no usual one is known for this outside diameter")
			return Line{}
		}
	}
	if !(wall > 0 && 2*wall < od) {
		bad.add("wall_thickness", "does not fit into the outside diameter")
		return Line{}
	}
	p, t, rho, err := c.state(in, side, given)
	if err != nil {
		bad.because(name+"_line_state", "has no such phase", err)
		return Line{}
	}
	area := func(wall float64) float64 { return math.Pi / 4 * (od - 2*wall) * (od - 2*wall) }
	return Line{
		OutsideDiameter: tube.OutsideDiameter, Wall: unit.Metre(wall), Bore: unit.Metre(od - 2*wall),
		Pressure: unit.Pascal(p), Temperature: unit.Kelvin(t), Density: unit.KilogramPerCubicMetre(rho),
		PerLength: gum.Evenly(rho*area(wall), rho*(area(least)-area(most))),
	}
}

// usualWall of coiled tube, between the thinnest and the thickest wall that
// any standard here has for the diameter; zero where none has it.
func (c *LineCorrection) usualWall(od float64) (wall, least, most float64) {
	for _, t := range refdata.Tubes().Tubes {
		if !(math.Abs(t.OutsideDiameter*inch-od) < sizeResolved) {
			continue
		}
		w := t.Wall * inch
		if t.Standard == usualStandard {
			wall = w
		}
		if least == 0 {
			least, most = w, w
		}
		least, most = min(least, w), max(most, w)
		if !slices.Contains(c.Tubes, t) {
			c.Tubes = append(c.Tubes, t)
		}
	}
	if wall != 0 {
		c.assume(UsualWall)
	}
	return wall, least, most
}

// state is the pressure (Pa), temperature (K) and density (kg/m3) in a line.
func (c *LineCorrection) state(in LineSet, side equilibrium.Side, given *State) (p, t, rho float64, err error) {
	molar := in.System.MolarMass()
	liquid := side == equilibrium.Liquid
	switch {
	case given == nil:
		p, t, err = c.usualState(in, liquid)
	case given.Pressure.IsZero():
		at, err := in.Lines.AtTemperature(side, given.Temperature.Kelvin())
		if err != nil {
			return 0, 0, 0, err
		}
		if liquid {
			c.assume(SaturatedLiquid)
		} else {
			c.assume(SaturatedVapor)
		}
		return at.Pressure, at.Temperature, at.Density * molar, nil
	default:
		p, t = given.Pressure.Pascal(), given.Temperature.Kelvin()
	}
	if err != nil {
		return 0, 0, 0, err
	}
	if !(p > 0 && p <= in.System.MaxPressure() && t >= in.System.MinTemperature() && t <= in.System.MaxTemperature()) {
		return 0, 0, 0, equilibrium.ErrOutside
	}
	at, err := in.Lines.AtPressure(side, p)
	beyond := errors.Is(err, equilibrium.ErrAboveCritical) || errors.Is(err, equilibrium.ErrNearCritical)
	switch {
	case err != nil && !beyond:
		return 0, 0, 0, err
	case beyond && !liquid, !beyond && liquid && t > at.Temperature, !beyond && !liquid && t < at.Temperature:
		return 0, 0, 0, ErrPhase
	}
	n, err := in.System.Density(t, p, side)
	return p, t, n * molar, err
}

// usualState is a customary state of a line: below the bubble point of the
// condensing pressure, above the dew point of the evaporating pressure.
func (c *LineCorrection) usualState(in LineSet, liquid bool) (p, t float64, err error) {
	figures := refdata.Tubes().Figures
	side, saturated, apart, a := equilibrium.DewLine, "line_evaporating_temperature", "line_superheat", UsualVapor
	if liquid {
		side, saturated, apart, a = equilibrium.BubbleLine, "line_condensing_temperature", "line_subcooling", UsualLiquid
	}
	c.assume(a)
	on := unit.Fahrenheit(*c.figure(figures, saturated).Value)
	by := unit.FahrenheitDiff(*c.figure(figures, apart).Value)
	if liquid {
		by = unit.KelvinDiff(-by.Kelvin())
	}
	at, err := in.Lines.AtTemperature(side, on.Kelvin())
	return at.Pressure, on.Add(by).Kelvin(), err
}
