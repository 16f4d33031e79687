package page

import (
	"fmt"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
)

var diagramTemplate = sync.OnceValue(func() *template.Template { return parse("diagram.svg.tmpl") })

// Diagram writes a pressure-enthalpy diagram as SVG without script, drawn to
// be read at 360 pixels, in print, in light and in dark.
func Diagram(w io.Writer, a query.PressureEnthalpyDiagramAnswer) error {
	return diagramTemplate().Execute(w, draw(a))
}

// Sizes of the picture in its own units; text is 11 and 12 of them high.
const (
	pictureWidth = 400.
	plotLeft     = 50.
	plotTop      = 44.
	plotHeight   = 350.
	cardHeight   = 84.
	mapSide      = 66.
)

type box struct{ X, Y, W, H float64 }

// Right and Bottom are the far edges.
func (b box) Right() float64  { return b.X + b.W }
func (b box) Bottom() float64 { return b.Y + b.H }

type label struct {
	X, Y  float64
	Text  string
	Class string
}

type tick struct {
	X, Y, TextY float64
	Text        string
}

type stroke struct {
	Path   string
	Inside bool
}

type mark struct {
	Path string
	X, Y float64
	Text string
}

// closeUp shows a state's region larger than the plot can.
type closeUp struct {
	ID                  string
	Box                 box
	Dome, Region, Cross string
	Cut                 bool
}

type card struct {
	Mark  *mark
	Lines []label
	Map   *closeUp
}

// picture is what the template draws.
type picture struct {
	Style                                       template.CSS
	Width, Height                               float64
	Title, Desc, Heading                        string
	PressureUnit, EnthalpyUnit, TemperatureUnit string
	Plot                                        box
	TickX, TickY, NameY, MiddleX, MiddleY       float64
	Across, Up                                  []tick
	Inside, Bubble, Dew, Cap                    string
	Isotherms, Regions                          []stroke
	Levels, Open, Legs                          []string
	Usual                                       string
	LegendY                                     float64
	Labels                                      []label
	Critical                                    *mark
	Marks                                       []mark
	Cards                                       []card
}

// scale maps enthalpy and pressure to a box.
type scale struct {
	box
	left, right, low, high float64 // enthalpy, and ln of pressure
}

func (s scale) x(h float64) float64 { return s.X + s.W*(h-s.left)/(s.right-s.left) }
func (s scale) y(p float64) float64 { return s.Y + s.H*(s.high-math.Log(p))/(s.high-s.low) }

// coordinate writes one with a tenth of a unit, bounded so that what lies far
// outside stays a number that renderers take.
func coordinate(v float64) string {
	return strconv.FormatFloat(math.Round(10*min(max(v, -1e5), 1e5))/10, 'f', -1, 64)
}

func move(x, y float64) string { return "M" + coordinate(x) + " " + coordinate(y) }
func line(x, y float64) string { return "L" + coordinate(x) + " " + coordinate(y) }

// path joins the points of a polyline.
func (s scale) path(l *query.Polyline) string {
	if l == nil {
		return ""
	}
	var b strings.Builder
	for i, h := range l.Enthalpy.Values {
		if i == 0 {
			b.WriteString(move(s.x(h), s.y(l.Pressure.Values[i])))
			continue
		}
		b.WriteString(line(s.x(h), s.y(l.Pressure.Values[i])))
	}
	return b.String()
}

// The shape of each state, around a point.
func shape(state string, x, y, r float64) string {
	switch state {
	case "suction_line": // circle
		return fmt.Sprintf("M%s %sa%s %s 0 1 0 %s 0a%s %s 0 1 0 -%s 0Z", coordinate(x-r), coordinate(y), coordinate(r), coordinate(r), coordinate(2*r), coordinate(r), coordinate(r), coordinate(2*r))
	case "discharge_line": // triangle
		return move(x, y-1.2*r) + line(x+1.15*r, y+0.8*r) + line(x-1.15*r, y+0.8*r) + "Z"
	case "liquid_line": // square
		return move(x-0.9*r, y-0.9*r) + line(x+0.9*r, y-0.9*r) + line(x+0.9*r, y+0.9*r) + line(x-0.9*r, y+0.9*r) + "Z"
	}
	return move(x, y-1.25*r) + line(x+1.25*r, y) + line(x, y+1.25*r) + line(x-1.25*r, y) + "Z" // diamond
}

// numbers of the states, as trainers count them round the circuit.
var stateNumber = map[string]string{"suction_line": "1", "discharge_line": "2", "liquid_line": "3", "after_expansion": "4"}

func draw(a query.PressureEnthalpyDiagramAnswer) picture {
	w := a.Window
	s := scale{box: box{plotLeft, plotTop, pictureWidth - plotLeft - 10, plotHeight},
		left: w.LowestEnthalpy.Value, right: w.HighestEnthalpy.Value,
		low: math.Log(w.LowestPressure.Value), high: math.Log(w.HighestPressure.Value)}
	p := picture{
		Style: template.CSS(asset("diagram.css")), Width: pictureWidth, Plot: s.box,
		Heading: a.Refrigerant, Title: "Pressure-enthalpy diagram of " + a.Refrigerant, Desc: description(a),
		PressureUnit: phrase.Unit(w.LowestPressure.Unit), EnthalpyUnit: phrase.Unit(w.LowestEnthalpy.Unit), TemperatureUnit: temperatureUnit(a),
		TickX: s.X - 5, TickY: s.Bottom() + 14, NameY: s.Bottom() + 32, MiddleX: s.X + s.W/2, MiddleY: s.Y + s.H/2,
	}
	if len(p.Heading) > 28 { // a composition that was typed
		p.Heading = "Typed composition"
	}
	p.axes(s)
	p.dome(s, a.Dome)
	p.isotherms(s, a.Isotherms)
	p.regionNames(s, a.Dome)
	p.circuit(s, a)
	bottom := p.NameY
	if p.Usual = s.closed(a.ExpectedStates); p.Usual != "" {
		bottom += 20
		p.LegendY = round1(bottom - 4)
		p.Labels = append(p.Labels, label{round1(s.X + 34), round1(bottom), "a healthy system in this air: median of what a model expects", "soft"})
	}
	p.Height = bottom + 12
	for i, state := range a.States {
		p.Cards = append(p.Cards, p.card(a, state, bottom+14+cardHeight*float64(i)))
		p.Height = bottom + 14 + cardHeight*float64(i+1)
	}
	return p
}

func temperatureUnit(a query.PressureEnthalpyDiagramAnswer) string {
	if t := a.Dome.Bubble.Temperature; t != nil {
		return phrase.Unit(t.Unit)
	}
	return ""
}

// axes draws round figures: by 1, 2, 5 along the logarithm, evenly across.
func (p *picture) axes(s scale) {
	step := roundStep((s.right - s.left) / 6)
	for k := math.Ceil(s.left / step); k*step <= s.right; k++ {
		p.Across = append(p.Across, tick{X: round1(s.x(k * step)), Text: phrase.Decimal(k*step, max(0, -int(math.Floor(math.Log10(step)))))})
	}
	last := math.Inf(1)
	for decade := math.Floor(s.low / math.Ln10); decade*math.Ln10 <= s.high; decade++ {
		for _, m := range []float64{1, 2, 5} {
			v := m * math.Pow(10, decade)
			y := s.y(v)
			if y < s.Y || y > s.Bottom() || last-y < 13 {
				continue
			}
			last = y
			p.Up = append(p.Up, tick{Y: round1(y), TextY: round1(y + 4), Text: strconv.FormatFloat(v, 'f', -1, 64)})
		}
	}
}

func round1(v float64) float64 { return math.Round(10*v) / 10 }

// roundStep is the next of 1, 2, 5 times a power of ten.
func roundStep(least float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= least {
			return m * power
		}
	}
	return 10 * power
}

// dome draws both lines, and between their ends and the critical point, where
// nothing is resolved, a dashed curve.
func (p *picture) dome(s scale, d query.Dome) {
	p.Bubble, p.Dew = s.path(&d.Bubble), s.path(&d.Dew)
	bx, by, btx, bty := s.end(d.Bubble)
	dx, dy, dtx, dty := s.end(d.Dew)
	arc := line(dx, dy)
	if c := d.Critical; c != nil {
		cx, cy := s.x(c.Enthalpy.Value), s.y(c.Pressure.Value)
		arc = bend(bx, by, btx, bty, cx, cy, 1, 0) + bend(cx, cy, 1, 0, dx, dy, -dtx, -dty)
		p.Critical = &mark{Path: shape("after_expansion", cx, cy, 3)}
		p.Labels = append(p.Labels, label{round1(cx), round1(cy - 7), "critical point", "soft mid halo"})
	}
	p.Cap = move(bx, by) + arc
	// The area: up the bubble line, over the cap, down the dew line.
	reversed := query.Polyline{}
	for i := len(d.Dew.Enthalpy.Values) - 1; i >= 0; i-- {
		reversed.Enthalpy.Values = append(reversed.Enthalpy.Values, d.Dew.Enthalpy.Values[i])
		reversed.Pressure.Values = append(reversed.Pressure.Values, d.Dew.Pressure.Values[i])
	}
	p.Inside = p.Bubble + arc + strings.Replace(s.path(&reversed), "M", "L", 1) + "Z"
}

// end is the last point of a line with its direction.
func (s scale) end(l query.Polyline) (x, y, tx, ty float64) {
	n := len(l.Enthalpy.Values) - 1
	x, y = s.x(l.Enthalpy.Values[n]), s.y(l.Pressure.Values[n])
	tx, ty = x-s.x(l.Enthalpy.Values[n-1]), y-s.y(l.Pressure.Values[n-1])
	length := max(math.Hypot(tx, ty), 1e-9)
	return x, y, tx / length, ty / length
}

// bend is a curve from one point and direction to another (Hermite's, as a
// cubic of Bezier's).
func bend(ax, ay, atx, aty, bx, by, btx, bty float64) string {
	k := math.Hypot(bx-ax, by-ay) / 3
	return "C" + coordinate(ax+k*atx) + " " + coordinate(ay+k*aty) + " " + coordinate(bx-k*btx) + " " + coordinate(by-k*bty) + " " + coordinate(bx) + " " + coordinate(by)
}

// isotherms draws the lines, labelled where they leave at the top and, for
// vapor, near the bottom, as far as there is room.
func (p *picture) isotherms(s scale, list []query.Isotherm) {
	lastTop, lastBottom := math.Inf(-1), math.Inf(-1)
	for _, i := range list {
		for _, part := range []struct {
			line   *query.Polyline
			inside bool
		}{{i.Liquid, false}, {i.TwoPhase, true}, {i.Vapor, false}, {i.AboveCritical, false}} {
			if part.line != nil {
				p.Isotherms = append(p.Isotherms, stroke{s.path(part.line), part.inside})
			}
		}
		text := phrase.Decimal(i.Temperature.Value, 0)
		top := i.Liquid
		if top == nil {
			top = i.AboveCritical
		}
		if top != nil {
			if x := s.x(top.Enthalpy.Values[0]); x > s.X-1 && x < s.Right()-4 && x-lastTop > 21 {
				p.Labels = append(p.Labels, label{round1(x), s.Y - 5, text, "soft mid"})
				lastTop = x
			}
		}
		bottom := i.Vapor
		if bottom == nil {
			bottom = i.AboveCritical
		}
		if bottom != nil {
			n := len(bottom.Enthalpy.Values) - 1
			if x := s.x(bottom.Enthalpy.Values[n]); x < s.Right()-10 && x-lastBottom > 21 {
				p.Labels = append(p.Labels, label{round1(x), s.Bottom() - 5, text, "soft mid halo"})
				lastBottom = x
			}
		}
	}
}

// regionNames says what lies on which side of the dome.
func (p *picture) regionNames(s scale, d query.Dome) {
	at := func(l query.Polyline, share float64) (x, y float64) {
		y = s.Bottom() - share*s.H
		for i := range l.Enthalpy.Values {
			if s.y(l.Pressure.Values[i]) <= y {
				return s.x(l.Enthalpy.Values[i]), y
			}
		}
		n := len(l.Enthalpy.Values) - 1
		return s.x(l.Enthalpy.Values[n]), y
	}
	bx, y := at(d.Bubble, 0.3)
	dx, _ := at(d.Dew, 0.3)
	p.Labels = append(p.Labels, label{round1((bx + dx) / 2), round1(y), "liquid and vapor", "mid halo"})
	if bx-s.X > 36 {
		p.Labels = append(p.Labels, label{round1((s.X + bx) / 2), round1(y), "liquid", "mid halo"})
	}
	p.Labels = append(p.Labels, label{round1((s.Right() + dx) / 2), round1(y), "vapor", "mid halo"})
}

func (p *picture) circuit(s scale, a query.PressureEnthalpyDiagramAnswer) {
	for _, l := range a.Levels {
		p.Levels = append(p.Levels, move(s.x(l.Bubble.Enthalpy.Value), s.y(l.Bubble.Pressure.Value))+line(s.x(l.Dew.Enthalpy.Value), s.y(l.Dew.Pressure.Value)))
	}
	places := map[string]query.CircuitState{}
	for _, state := range a.States {
		places[state.State] = state
		if state.Region != nil {
			p.Regions = append(p.Regions, stroke{s.path(state.Region) + "Z", state.PhaseNotResolved != nil})
		}
		number := stateNumber[state.State]
		y := s.y(state.Pressure.Value)
		if state.Enthalpy == nil {
			for _, l := range a.Levels {
				if l.Dew.Pressure.Value == state.Pressure.Value {
					from, to := s.x(l.Bubble.Enthalpy.Value), s.x(l.Dew.Enthalpy.Value)
					p.Open = append(p.Open, move(from, y)+line(to, y))
					p.Labels = append(p.Labels, label{round1(from + 0.7*(to-from)), round1(y - 6), number + " somewhere here", "strong mid halo"})
				}
			}
			continue
		}
		x := s.x(state.Enthalpy.Value)
		dx, dy := 7., -7.
		switch state.State {
		case "suction_line":
			dy = 15
		case "after_expansion", "liquid_line":
			dx = -15
		}
		p.Marks = append(p.Marks, mark{shape(state.State, x, y, 4), round1(x + dx), round1(y + dy), number})
	}
	for _, l := range a.Legs {
		from, to := places[l.From], places[l.To]
		if from.Enthalpy == nil || to.Enthalpy == nil {
			continue
		}
		ax, ay, bx, by := s.x(from.Enthalpy.Value), s.y(from.Pressure.Value), s.x(to.Enthalpy.Value), s.y(to.Pressure.Value)
		p.Legs = append(p.Legs, move(ax, ay)+line((ax+bx)/2, (ay+by)/2)+line(bx, by))
	}
}

// closed joins states in the order of flow, those with an enthalpy; empty for
// fewer than two.
func (s scale) closed(states []query.CircuitState) string {
	var b strings.Builder
	n := 0
	for _, state := range states {
		if state.Enthalpy == nil {
			continue
		}
		step := line
		if n++; n == 1 {
			step = move
		}
		b.WriteString(step(s.x(state.Enthalpy.Value), s.y(state.Pressure.Value)))
	}
	if n < 2 {
		return ""
	}
	return b.String() + "Z"
}

// card says in words what a state is, beside its region enlarged.
func (p *picture) card(a query.PressureEnthalpyDiagramAnswer, state query.CircuitState, top float64) card {
	const left = 12.
	c := card{Mark: &mark{Path: shape(state.State, left+5, top+9, 5)}}
	add := func(class, text string) {
		y := top + 13 + 16*float64(len(c.Lines))
		x := left + 18
		c.Lines = append(c.Lines, label{x, round1(y), text, class})
	}
	add("strong", stateNumber[state.State]+" "+sentence(state.State)+": "+words(state.Phase))
	readings := figure(state.GaugePressure)
	if state.Temperature != nil {
		readings = figure(*state.Temperature) + " at " + readings
	}
	add("", readings)
	switch {
	case state.Enthalpy == nil && state.Reason != nil && state.Reason.Code == "two_phases_no_enthalpy":
		add("", "No enthalpy: liquid and vapor side by side,")
		add("", "or a reading is wrong")
		return c
	case state.Enthalpy == nil:
		add("", "No enthalpy: no answer of the equations here")
		return c
	}
	add("", figure(*state.Enthalpy))
	if state.VaporFraction != nil {
		add("", figure(*state.VaporFraction)+" of the mass is vapor")
	}
	if state.PhaseNotResolved != nil {
		add("strong", "Phase not resolved: may hold two phases")
	}
	if state.Region != nil {
		c.Map = enlarge(a, state, box{pictureWidth - 10 - mapSide, top + 2, mapSide, mapSide})
	}
	return c
}

// enlarge draws a region to fill a box, with the dome where it comes near.
func enlarge(a query.PressureEnthalpyDiagramAnswer, state query.CircuitState, b box) *closeUp {
	r := state.Region
	s := scale{box: b, left: math.Inf(1), right: math.Inf(-1), low: math.Inf(1), high: math.Inf(-1)}
	for i, h := range r.Enthalpy.Values {
		s.left, s.right = min(s.left, h), max(s.right, h)
		p := math.Log(r.Pressure.Values[i])
		s.low, s.high = min(s.low, p), max(s.high, p)
	}
	padH, padP := 0.3*(s.right-s.left), 0.3*(s.high-s.low)
	s.left, s.right, s.low, s.high = s.left-padH, s.right+padH, s.low-padP, s.high+padP
	if !(s.right > s.left && s.high > s.low) {
		return nil
	}
	x, y := s.x(state.Enthalpy.Value), s.y(state.Pressure.Value)
	return &closeUp{
		ID: "near-" + identifier(state.State), Box: b, Cut: state.PhaseNotResolved != nil,
		Dome: s.path(&a.Dome.Bubble) + s.path(&a.Dome.Dew), Region: s.path(r) + "Z",
		Cross: move(x-4, y) + line(x+4, y) + move(x, y-4) + line(x, y+4),
	}
}

// description says in sentences what the picture shows.
func description(a query.PressureEnthalpyDiagramAnswer) string {
	var b strings.Builder
	w := a.Window
	fmt.Fprintf(&b, "Enthalpy runs to the right from %s to %s %s, absolute pressure upwards on a logarithmic scale from %s to %s %s.",
		phrase.Decimal(w.LowestEnthalpy.Value, 0), phrase.Decimal(w.HighestEnthalpy.Value, 0), phrase.Unit(w.HighestEnthalpy.Unit),
		phrase.Decimal(w.LowestPressure.Value, 0), phrase.Decimal(w.HighestPressure.Value, 0), phrase.Unit(w.HighestPressure.Unit))
	if c := a.Dome.Critical; c != nil {
		fmt.Fprintf(&b, " The dome closes at the critical point, %s and %s.", figure(c.Temperature), figure(c.Pressure))
	}
	if n := len(a.Isotherms); n > 0 {
		fmt.Fprintf(&b, " Isotherms from %s to %s.", figure(a.Isotherms[0].Temperature), figure(a.Isotherms[n-1].Temperature))
	}
	for _, s := range a.States {
		fmt.Fprintf(&b, " State %s, %s: %s at %s", stateNumber[s.State], words(s.State), words(s.Phase), figure(s.GaugePressure))
		if s.Temperature != nil {
			fmt.Fprintf(&b, " and %s", figure(*s.Temperature))
		}
		if s.Enthalpy != nil {
			fmt.Fprintf(&b, ", enthalpy %s", figure(*s.Enthalpy))
		} else {
			b.WriteString(", enthalpy not known")
		}
		if s.PhaseNotResolved != nil {
			b.WriteString(", phase not resolved")
		}
		b.WriteString(".")
	}
	for i, s := range a.ExpectedStates {
		if i == 0 {
			b.WriteString(" A healthy system is expected to have:")
		}
		fmt.Fprintf(&b, " state %s at %s", stateNumber[s.State], figure(s.GaugePressure))
		if s.Enthalpy != nil {
			fmt.Fprintf(&b, " and %s", figure(*s.Enthalpy))
		}
		b.WriteString(";")
	}
	return b.String()
}
