package charge

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// ErrPhase reports a line whose state is not the phase that the line carries.
var ErrPhase = errors.New("charge: not the phase of this line")

// GivenLineSet names what CorrectLineSet is told.
type GivenLineSet int

// What is told of a line set.
const (
	LineRefrigerant GivenLineSet = iota
	LineLength
	IncludedLength
	FactoryAllowance
	ManufacturerRate
	LiquidDiameter
	VaporDiameter
	LiquidWall
	VaporWall
	LiquidPressure
	LiquidTemperature
	VaporPressure
	VaporTemperature
	givenLineSetCount
)

// String is what it is called in an error.
func (g GivenLineSet) String() string {
	if g < 0 || g >= givenLineSetCount {
		return fmt.Sprintf("charge.GivenLineSet(%d)", int(g))
	}
	return [givenLineSetCount]string{
		"refrigerant", "length", "length that the factory charge covers", "factory allowance", "manufacturer's rate",
		"outside diameter of the liquid line", "outside diameter of the vapor line", "wall of the liquid line", "wall of the vapor line",
		"pressure in the liquid line", "temperature of the liquid line", "pressure in the vapor line", "temperature of the vapor line",
	}[g]
}

// AllGivenLineSet lists all that CorrectLineSet is told.
func AllGivenLineSet() []GivenLineSet {
	all := make([]GivenLineSet, givenLineSetCount)
	for i := range all {
		all[i] = GivenLineSet(i)
	}
	return all
}

// LineSetError says which input of CorrectLineSet is at fault.
type LineSetError = input.Error[GivenLineSet]

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
// *LineSetError; ErrPhase is inside where a line's state is another phase.
func CorrectLineSet(in LineSet) (LineCorrection, error) {
	var bad input.Errors[GivenLineSet]
	if in.System == nil {
		bad.Add(LineRefrigerant, -1, input.Missing)
		return LineCorrection{}, bad.Join()
	}
	if in.Lines == (saturation.Lines{}) {
		in.Lines = saturation.Rigorous(in.System)
	}
	var out LineCorrection
	in.check(&bad)
	out.Liquid = out.line(&bad, in, liquidSide, in.Liquid, in.LiquidState)
	if in.Vapor != nil {
		v := out.line(&bad, in, vaporSide, *in.Vapor, in.VaporState)
		out.Vapor = &v
	}
	if err := bad.Join(); err != nil {
		return LineCorrection{}, err
	}
	out.Published = out.published(in)
	out.NeedsIncluded = in.Included == nil && in.Allowance == nil
	if !out.NeedsIncluded {
		out.correct(in)
	}
	return out, nil
}

func (in LineSet) check(bad *input.Errors[GivenLineSet]) {
	bad.Within(LineLength, -1, in.Length.Metre(), lengths)
	if in.Included != nil && in.Allowance != nil {
		bad.Add(IncludedLength, -1, input.Contradiction)
	}
	if in.Included != nil {
		bad.Within(IncludedLength, -1, in.Included.Metre(), anyLength)
	}
	if in.Allowance != nil {
		bad.Within(FactoryAllowance, -1, in.Allowance.Kilogram(), anyMass)
	}
	if in.Rate != nil {
		bad.Within(ManufacturerRate, -1, *in.Rate, rates)
	}
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

// side is one of the lines with the names of what is told of it.
type side struct {
	phase                                 equilibrium.Side
	diameter, wall, pressure, temperature GivenLineSet
}

var (
	liquidSide = side{equilibrium.Liquid, LiquidDiameter, LiquidWall, LiquidPressure, LiquidTemperature}
	vaporSide  = side{equilibrium.Vapor, VaporDiameter, VaporWall, VaporPressure, VaporTemperature}
)

func (c *LineCorrection) line(bad *input.Errors[GivenLineSet], in LineSet, of side, tube Tube, given *State) Line {
	od := tube.OutsideDiameter.Metre()
	if !diameters.Hold(od) {
		bad.Within(of.diameter, -1, od, diameters)
		return Line{}
	}
	wall := tube.Wall.Metre()
	least, most := wall, wall
	if wall == 0 {
		if wall, least, most = c.usualWall(od); wall == 0 {
			bad.Add(of.wall, -1, NoUsualWall)
			return Line{}
		}
	}
	if !(wall > 0 && 2*wall < od) {
		bad.Add(of.wall, -1, WallTooThick)
		return Line{}
	}
	p, t, rho, err := c.state(in, of, given)
	if err != nil {
		*bad = append(*bad, err)
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

// state is the pressure (Pa), temperature (K) and density (kg/m3) in a line. Its
// error is a *LineSetError.
func (c *LineCorrection) state(in LineSet, of side, given *State) (p, t, rho float64, err error) {
	unsolved := func(of GivenLineSet, err error) (float64, float64, float64, error) {
		return 0, 0, 0, &LineSetError{Input: of, Index: -1, Reason: input.Unsolved, Err: err}
	}
	// What a state hangs on: what was read, or only the refrigerant.
	byPressure, byTemperature := of.pressure, of.temperature
	liquid := of.phase == equilibrium.Liquid
	switch {
	case given == nil:
		byPressure, byTemperature = LineRefrigerant, LineRefrigerant
		if p, t, err = c.usualState(in, liquid); err != nil {
			return unsolved(LineRefrigerant, err)
		}
	case given.Pressure.IsZero():
		at, err := in.Lines.AtTemperature(of.phase, given.Temperature.Kelvin())
		if err != nil {
			return unsolved(of.temperature, err)
		}
		if liquid {
			c.assume(SaturatedLiquid)
		} else {
			c.assume(SaturatedVapor)
		}
		return at.Pressure, at.Temperature, at.Density * in.System.MolarMass(), nil
	default:
		p, t = given.Pressure.Pascal(), given.Temperature.Kelvin()
	}
	if !(p > 0 && p <= in.System.MaxPressure()) {
		return unsolved(byPressure, equilibrium.ErrOutside)
	}
	if !(t >= in.System.MinTemperature() && t <= in.System.MaxTemperature()) {
		return unsolved(byTemperature, equilibrium.ErrOutside)
	}
	at, err := in.Lines.AtPressure(of.phase, p)
	beyond := errors.Is(err, equilibrium.ErrAboveCritical) || errors.Is(err, equilibrium.ErrNearCritical)
	switch {
	case err != nil && !beyond:
		return unsolved(byPressure, err)
	case beyond && !liquid, !beyond && liquid && t > at.Temperature, !beyond && !liquid && t < at.Temperature:
		return 0, 0, 0, &LineSetError{Input: byTemperature, Index: -1, Reason: NotThisPhase, Err: ErrPhase}
	}
	n, err := in.System.Density(t, p, of.phase)
	if err != nil {
		return unsolved(byTemperature, err)
	}
	return p, t, n * in.System.MolarMass(), nil
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
	on := unit.Kelvin(figure.SI(c.figure(figures, saturated)))
	by := unit.KelvinDiff(figure.SI(c.figure(figures, apart)))
	if liquid {
		by = unit.KelvinDiff(-by.Kelvin())
	}
	at, err := in.Lines.AtTemperature(side, on.Kelvin())
	return at.Pressure, on.Add(by).Kelvin(), err
}
