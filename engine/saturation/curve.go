package saturation

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
)

// quantity is what a line carries as a function of temperature.
type quantity int

const (
	lnPressure quantity = iota
	lnDensity           // of the phase whose composition is given, mol/m3
	enthalpy            // of it, J/mol from the equation's own zero
	entropy             // of it, J/(mol K)
	quantities
)

// line is the bubble or the dew line as polynomials.
type line struct {
	origin float64 // K; the variable is x = sqrt(origin - T)
	byT    axis    // over x
	ofT    []coefficients
	byP    axis // over ln p
	ofP    []coefficients
}

// Curve are the bubble and dew lines of one composition, from where it is
// cold to near the critical point, as piecewise polynomials fitted to the
// rigorous solution. It is immutable and safe for concurrent use; evaluating
// it allocates nothing.
type Curve struct {
	lines [2]line
	// ends says for each line why it stops where it does.
	ends [2]Ending
}

// Ending says why a line stops at its upper end.
type Ending uint8

// The endings.
const (
	// NearCritical: liquid and vapour become alike.
	NearCritical Ending = iota
	// Retrograde: temperature or pressure has its extreme there and turns back.
	Retrograde
)

// ErrStopped reports that the caller asked a build to stop.
var ErrStopped = errors.New("saturation: stopped")

// ErrNoCurve reports a composition whose lines cannot be followed far enough
// to be worth a curve; its points may still be found one by one.
var ErrNoCurve = errors.New("saturation: no curve")

// How far curves are at most off the solutions they run through, relative: what
// tests hold every curve to.
const (
	PressureError = 1e-7
	DensityError  = 1e-6
)

// Tolerances of the fit in ln p, ln ρ, and of enthalpy and entropy over RT and
// R. They leave PressureError and 1e-5 K two orders of room.
const (
	tolPressure = 3e-10
	tolDensity  = 3e-9
	tolCaloric  = 3e-9
	tolT        = 3e-8 // K, of the inverse
)

const (
	// coldestPressure bounds the curve below, Pa: a deep vacuum.
	coldestPressure = 300
	// criticalGap is how far below its critical point a pure fluid's curve
	// ends, K.
	criticalGap = 0.01
	// narrowest is the least width of a piece in x, K^(1/2).
	narrowest = 0.02
)

// Build fits the curve of a system. stop, which may be nil, is asked between
// solutions; when it reports true Build returns ErrStopped. It returns
// ErrNoCurve where the lines cannot be followed.
func Build(s *equilibrium.System, stop func() bool) (*Curve, error) {
	c := &Curve{}
	// Below where the liquid of the composition splits in two the dew line has
	// branches as well: it begins no colder than the bubble line.
	var coldest float64
	for _, side := range []equilibrium.Line{equilibrium.BubbleLine, equilibrium.DewLine} {
		b := &builder{s: s, f: s.Follow(side), side: side, stop: stop}
		if err := b.build(coldest); err != nil {
			return nil, err
		}
		c.lines[side], c.ends[side] = b.line, b.ending
		if b.split {
			coldest = b.line.coldest()
		}
	}
	return c, nil
}

type builder struct {
	f      *equilibrium.Follower
	s      *equilibrium.System
	side   equilibrium.Line
	stop   func() bool
	line   line
	ending Ending
	fits   []fitted
	cut    bool // the end that is being filled towards is reached
	split  bool // the cold end is where the liquid begins to split
}

// fitted is a piece over x with its polynomials.
type fitted struct {
	piece
	of [quantities]coefficients
}

func (b *builder) build(atLeast float64) error {
	end, err := b.s.End(b.side)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNoCurve, err)
	}
	critical, err := b.s.Critical()
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNoCurve, err)
	}
	hi := end.Temperature
	switch {
	case b.s.Pure():
		hi -= criticalGap
	case end.MaxTemperature > hi*(1+1e-9) || end.MaxPressure > end.Pressure*(1+1e-9):
		b.ending = Retrograde
		hi = end.MaxTemperature
	}
	lo, err := b.coldest(hi)
	if err != nil {
		return err
	}
	lo = max(lo, atLeast)
	// Densities run into the critical point, or into the turn of the line, as
	// a square root: over x they are smooth there.
	b.line.origin = math.Nextafter(max(critical.Temperature, hi), math.Inf(1))
	cold, hot := math.Sqrt(b.line.origin-lo), math.Sqrt(b.line.origin-hi)
	middle := 0.5 * (cold + hot)
	// From the middle both ways, so that trouble at an end costs that end only.
	for _, half := range []struct {
		p     piece
		hotUp bool
	}{{newPiece(hot, middle), true}, {newPiece(middle, cold), false}} {
		b.cut = false
		if err := b.fill(half.p, half.hotUp); err != nil {
			return err
		}
	}
	if len(b.fits) == 0 {
		return ErrNoCurve
	}
	slices.SortFunc(b.fits, func(a, z fitted) int { return cmp.Compare(a.lo, z.lo) })
	pieces := make([]piece, len(b.fits))
	for i, f := range b.fits {
		pieces[i] = f.piece
		b.line.ofT = append(b.line.ofT, f.of[:]...)
	}
	b.line.byT = newAxis(pieces)
	return b.invert()
}

// coldest is where the curve begins: at the triple point, at a deep vacuum, or
// where by the model the liquid no longer splits in two.
func (b *builder) coldest(hi float64) (float64, error) {
	lo := b.s.MinTemperature()
	p, err := b.s.AtPressure(b.side, coldestPressure)
	if err == nil {
		lo = max(lo, p.Temperature)
	}
	if _, err = b.s.AtTemperature(b.side, lo); err != nil {
		b.split = errors.Is(err, equilibrium.ErrTwoLiquids)
		good := 0.7 * hi
		if _, err := b.s.AtTemperature(b.side, good); err != nil {
			return 0, fmt.Errorf("%w: %w", ErrNoCurve, err)
		}
		for good-lo > 0.1 {
			mid := 0.5 * (lo + good)
			if _, err := b.s.AtTemperature(b.side, mid); err != nil {
				lo = mid
			} else {
				good = mid
			}
		}
		lo = good
	}
	if !(lo < 0.95*hi) {
		return 0, fmt.Errorf("%w: from %.5g to %.5g K only", ErrNoCurve, lo, hi)
	}
	return lo, nil
}

// fill fits a piece, or its halves where it is too wide, that nearer to the
// middle of the line first. The line ends where even the narrowest piece
// cannot be had.
func (b *builder) fill(p piece, towardsHot bool) error {
	if b.cut {
		return nil
	}
	if b.stop != nil && b.stop() {
		return ErrStopped
	}
	if f, ok := b.fit(p); ok {
		b.fits = append(b.fits, f)
		return nil
	}
	if p.hi-p.lo < narrowest || len(b.fits) >= maxPieces-1 {
		b.cut = true
		return nil
	}
	first, second := newPiece(p.lo, p.mid), newPiece(p.mid, p.hi)
	if towardsHot {
		first, second = second, first
	}
	if err := b.fill(first, towardsHot); err != nil {
		return err
	}
	return b.fill(second, towardsHot)
}

// fit solves at the nodes of a piece; false where a node has no solution,
// pressure does not rise, or the piece is too wide for its polynomials.
func (b *builder) fit(p piece) (fitted, bool) {
	var values [quantities][terms]float64
	for j := range terms {
		x := p.node(j) // from the cold end
		t := b.line.origin - x*x
		pt, err := b.f.At(t)
		if err != nil {
			return fitted{}, false
		}
		phase := pt.Liquid
		if b.side == equilibrium.DewLine {
			phase = pt.Vapor
		}
		c := b.s.Caloric(t, phase.Density)
		values[lnPressure][j] = math.Log(pt.Pressure)
		values[lnDensity][j] = math.Log(phase.Density)
		values[enthalpy][j] = c.Enthalpy
		values[entropy][j] = c.Entropy
		if !(pt.Slope > 0) || j > 0 && !(values[lnPressure][j] > values[lnPressure][j-1]) {
			return fitted{}, false
		}
	}
	f := fitted{piece: p}
	middle := b.line.origin - p.mid*p.mid
	r := b.s.Mixture().GasConstant()
	for q, tolerance := range [quantities]float64{tolPressure, tolDensity, tolCaloric * r * middle, tolCaloric * r} {
		var tail float64
		if f.of[q], tail = fit(&values[q]); !(tail <= tolerance) {
			return fitted{}, false
		}
	}
	// Where two liquids are near, a line can have two branches: what was
	// followed must be what is found afresh.
	pt, err := b.s.AtTemperature(b.side, middle)
	if err != nil || !(math.Abs(f.of[lnPressure].at(0)-math.Log(pt.Pressure)) < 100*tolPressure) {
		return fitted{}, false
	}
	return f, true
}

// invert fits T over ln p, from the polynomials themselves.
func (b *builder) invert() error {
	var pieces []piece
	for k := len(b.fits) - 1; k >= 0; k-- {
		of := &b.fits[k].of[lnPressure]
		lo, hi := of.at(1), of.at(-1)
		if len(pieces) > 0 {
			lo = pieces[len(pieces)-1].hi
		}
		if err := b.invertPiece(newPiece(lo, hi), &b.fits[k], &pieces); err != nil {
			return err
		}
	}
	b.line.byP = newAxis(pieces)
	return nil
}

func (b *builder) invertPiece(p piece, f *fitted, pieces *[]piece) error {
	if len(*pieces) >= maxPieces {
		return fmt.Errorf("%w: too many pieces", ErrNoCurve)
	}
	var values [terms]float64
	for j := range terms {
		x := f.mid + crossing(&f.of[lnPressure], p.node(j))/f.inverse
		values[j] = b.line.origin - x*x
	}
	c, tail := fit(&values)
	if tail <= tolT || p.hi-p.lo < 1e-9 {
		*pieces = append(*pieces, p)
		b.line.ofP = append(b.line.ofP, c)
		return nil
	}
	if err := b.invertPiece(newPiece(p.lo, p.mid), f, pieces); err != nil {
		return err
	}
	return b.invertPiece(newPiece(p.mid, p.hi), f, pieces)
}

// crossing is where a polynomial that falls over [-1, 1] has the value: by
// Newton's method, kept between the ends by halving. numeric.RisingRoot ends by
// another condition, which would move the last digits of every curve.
func crossing(c *coefficients, value float64) float64 {
	lo, hi := -1.0, 1.0
	u := 0.0
	for range 80 {
		d := c.at(u) - value
		if d > 0 {
			lo = u
		} else {
			hi = u
		}
		next := u - d/c.slopeAt(u)
		if !(next > lo && next < hi) {
			next = 0.5 * (lo + hi)
		}
		if math.Abs(next-u) < 1e-13 {
			return next
		}
		u = next
	}
	return u // halved to the last digit
}

func (l *line) coldest() float64 { return l.origin - l.byT.hi*l.byT.hi }
func (l *line) hottest() float64 { return l.origin - l.byT.lo*l.byT.lo }

// temperature is the line's temperature at p in Pa; false off the curve.
func (l *line) temperature(p float64) (float64, bool) {
	x := math.Log(p)
	if !l.byP.on(x) {
		return 0, false
	}
	k, u := l.byP.find(x)
	return l.ofP[k].at(u), true
}

// temperatureSlope adds dT/dp in K/Pa.
func (l *line) temperatureSlope(p float64) (t, slope float64, ok bool) {
	x := math.Log(p)
	if !l.byP.on(x) {
		return 0, 0, false
	}
	k, u := l.byP.find(x)
	c := &l.ofP[k]
	return c.at(u), c.slopeAt(u) * l.byP.pieces[k].inverse / p, true
}

// pressure is the line's pressure at t in K; false off the curve.
func (l *line) pressure(t float64) (float64, bool) {
	x := math.Sqrt(l.origin - t)
	if !l.byT.on(x) {
		return 0, false
	}
	k, u := l.byT.find(x)
	return math.Exp(l.ofT[k*int(quantities)].at(u)), true
}

// Properties of the phase that has the composition, on a line.
type Properties struct {
	// Temperature in K, Pressure in Pa, Density in mol/m3, Enthalpy in J/mol
	// and Entropy in J/(mol K) from the equation's own zero.
	Temperature, Pressure, Density, Enthalpy, Entropy float64
}

func (l *line) properties(t float64) (Properties, bool) {
	x := math.Sqrt(l.origin - t)
	if !l.byT.on(x) {
		return Properties{}, false
	}
	k, u := l.byT.find(x)
	c := l.ofT[k*int(quantities) : (k+1)*int(quantities)]
	return Properties{
		Temperature: t,
		Pressure:    math.Exp(c[lnPressure].at(u)),
		Density:     math.Exp(c[lnDensity].at(u)),
		Enthalpy:    c[enthalpy].at(u),
		Entropy:     c[entropy].at(u),
	}, true
}

// BubbleTemperature in K at a pressure in Pa, and DewTemperature, from the
// curve alone; false off its ends.
func (c *Curve) BubbleTemperature(p float64) (float64, bool) { return c.lines[0].temperature(p) }

// DewTemperature in K at a pressure in Pa; false off the curve's ends.
func (c *Curve) DewTemperature(p float64) (float64, bool) { return c.lines[1].temperature(p) }

// BubblePressure in Pa at a temperature in K; false off the curve's ends.
func (c *Curve) BubblePressure(t float64) (float64, bool) { return c.lines[0].pressure(t) }

// DewPressure in Pa at a temperature in K; false off the curve's ends.
func (c *Curve) DewPressure(t float64) (float64, bool) { return c.lines[1].pressure(t) }

// Range of a line: temperatures in K, pressures in Pa, and why it ends.
func (c *Curve) Range(side equilibrium.Line) (coldest, hottest, lowest, highest float64, ending Ending) {
	l := &c.lines[side]
	return l.coldest(), l.hottest(), math.Exp(l.byP.lo), math.Exp(l.byP.hi), c.ends[side]
}

// Pieces counts the polynomials of the curve, for those who look after memory.
func (c *Curve) Pieces() int {
	var n int
	for _, l := range c.lines {
		n += len(l.ofT) + len(l.ofP)
	}
	return n
}

// Properties of a line at a temperature in K; false off the curve's ends.
func (c *Curve) Properties(side equilibrium.Line, t float64) (Properties, bool) {
	return c.lines[side].properties(t)
}
