// Package standing says what the pressure of a system at rest tells: whether
// refrigerant is there, and whether some of it is liquid. It must not know
// designations or the wire, and never how much there is, which pressure does
// not tell.
package standing

import (
	"errors"
	"fmt"
	"math"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/numeric"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Given names what Judge is told.
type Given int

// What is told of a system at rest.
const (
	// Gauges and Parts are all of them; GaugePressure and PartTemperature one,
	// by its index.
	Gauges Given = iota
	Parts
	GaugePressure
	PartTemperature
	AirPressure
	OffTime
	givenCount
)

// String is what it is called in an error.
func (g Given) String() string {
	if g < 0 || g >= givenCount {
		return fmt.Sprintf("standing.Given(%d)", int(g))
	}
	return [givenCount]string{"gauges", "parts of the system", "pressure of gauge", "temperature of part", "pressure of the air", "time since the stop"}[g]
}

// AllGiven lists all that Judge is told.
func AllGiven() []Given {
	return []Given{Gauges, Parts, GaugePressure, PartTemperature, AirPressure, OffTime}
}

// ErrInput is wrapped by every [InputError].
var ErrInput = input.Err

// InputError says which input is at fault; its Index is that of a gauge or part.
type InputError = input.Error[Given]

// Lines are what standing needs to know of the refrigerant: saturation
// pressures (Pa) at a temperature (K).
type Lines interface {
	BubblePressure(t float64) (float64, error)
	DewPressure(t float64) (float64, error)
}

// Of makes Lines of saturation lines.
func Of(l saturation.Lines) Lines { return lines{l} }

type lines struct{ saturation.Lines }

func (l lines) BubblePressure(t float64) (float64, error) {
	p, err := l.AtTemperature(equilibrium.BubbleLine, t)
	return p.Pressure, err
}

func (l lines) DewPressure(t float64) (float64, error) {
	p, err := l.AtTemperature(equilibrium.DewLine, t)
	return p.Pressure, err
}

// Consistent tells whether the pressures could be those of another refrigerant
// with some of it liquid.
func Consistent(in Input, other *equilibrium.System) bool {
	in.Critical = Critical(other)
	// Two points: not worth a curve.
	found, err := Judge(in, Of(saturation.Rigorous(other)))
	return err == nil && found.Finding == SomeLiquid
}

// Critical is the critical temperature of a refrigerant in K, without end where
// none is found.
func Critical(s *equilibrium.System) float64 {
	c, err := s.Critical()
	if err != nil {
		return math.Inf(1)
	}
	return c.Temperature
}

// Port names where a gauge is connected.
type Port string

// The ports.
const (
	Suction Port = "suction"
	Liquid  Port = "liquid"
)

// Gauge is one pressure reading.
type Gauge struct {
	Port Port
	// Absolute pressure in Pa and the standard uncertainty of the instrument.
	Absolute, Standard float64
	// FromAtmosphere is set where the gauge counts from the air's pressure, so
	// that all such readings share its error.
	FromAtmosphere bool
}

// Part is a part of the system whose temperature was read or is that of the
// air around it.
type Part struct {
	Name string
	// Temperature in K and its standard uncertainty.
	Temperature, Standard float64
}

// Input is a system at rest.
type Input struct {
	Gauges []Gauge
	Parts  []Part
	// Atmosphere in Pa with its standard uncertainty.
	Atmosphere, AtmosphereStandard float64
	// Critical temperature of the refrigerant in K.
	Critical float64
	// OffTime in s since the compressor stopped; NaN where nobody knows.
	OffTime float64
}

// Finding is the stable code of what the pressures say.
type Finding string

// The findings.
const (
	NoPressure           Finding = "no_pressure"
	VaporOnly            Finding = "vapor_only"
	SomeLiquid           Finding = "some_liquid_indicated"
	AboveSaturation      Finding = "above_saturation"
	NotEqualized         Finding = "not_equalized"
	Supercritical        Finding = "supercritical"
	PortNotOpenSuspected Finding = "port_not_open_suspected"
)

// Doubt is the stable code of what weakens a finding.
type Doubt string

// The doubts.
const (
	// OffTimeShort: the parts have hardly taken the temperature of the air.
	OffTimeShort Doubt = "off_time_short"
	// OffTimeUnknown: nobody said how long the system has rested.
	OffTimeUnknown Doubt = "off_time_unknown"
	// OnePortOnly: whether both sides are equal cannot be seen.
	OnePortOnly Doubt = "one_port_only"
	// WideBand: the parts differ so much that the band hardly judges.
	WideBand Doubt = "parts_far_apart"
	// Undecided: the pressure lies at an edge of the band within the
	// uncertainty.
	Undecided Doubt = "at_the_edge_of_the_band"
)

const (
	// decided is the probability from which a finding counts as clear.
	decided = 0.95
	// gradient is the step in K that differentiates a saturation pressure.
	gradient = 0.05
)

// rules are the figures of reference data that findings rest on, in SI.
var rules = sync.OnceValue(func() (r struct {
	// equalized is a rest after which a system is usually taken as equalized and
	// near the air's temperature; apart is a spread of temperatures beyond which
	// the band says little; match is how well pressure and temperature of
	// saturated refrigerant are expected to agree: the band is widened by it on
	// both sides.
	equalized, apart, match float64
}) {
	r.equalized = figure.SI(figure.Allowance("rest_equalized"))
	r.apart = figure.SI(figure.Allowance("parts_apart"))
	f, ok := refdata.TradeFacts().Get("standing_pressure_tolerance")
	if !ok {
		panic("standing: no figure standing_pressure_tolerance")
	}
	r.match = figure.SI(f)
	return r
})

// Band is the pressure that a system with liquid in it should have.
type Band struct {
	// Low is the dew pressure at the coldest part, High the bubble pressure at
	// the warmest, in Pa, with standard uncertainties. High is NaN where the
	// warmest part is above the critical temperature.
	Low, LowStandard, High, HighStandard float64
	// Margin below Low and above High, Pa, within which a pressure still counts
	// as saturated: two degrees Fahrenheit.
	LowMargin, HighMargin float64
	Coldest, Warmest      string
}

// Judgement is what one gauge says against the band.
type Judgement struct {
	Port Port
	// Below, Within and Above are probabilities that the true pressure lies
	// below, in and above the band with its margins.
	Below, Within, Above float64
	// NoPressure tells that the reading is not clearly above the air's.
	NoPressure bool
	// Standard uncertainty of the absolute pressure, that of the air included.
	Standard float64
}

// Result is the answer.
type Result struct {
	Finding Finding
	// Band is meaningful unless Supercritical (no saturation at any part).
	Band       Band
	Judgements []Judgement
	Doubts     []Doubt
	// Difference of the two gauges in Pa with its standard uncertainty, where
	// there are two.
	Difference, DifferenceStandard float64
	// Equal tells whether it may be nothing.
	Equal bool
}

// Judge weighs the pressures of a system at rest. Refrigerant condenses at the
// coldest part, so liquid anywhere holds the pressure between the dew pressure
// there and the bubble pressure at the warmest part. It returns joined
// *InputError, with the saturation's error inside where that is the matter.
func Judge(in Input, lines Lines) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}
	r := Result{Doubts: in.doubts(), Equal: true}
	open := 0
	for _, g := range in.Gauges {
		none := g.Absolute-in.Atmosphere <= gum.Coverage*math.Hypot(g.Standard, in.zeroStandard(g))
		r.Judgements = append(r.Judgements, Judgement{Port: g.Port, NoPressure: none, Standard: in.absoluteStandard(g)})
		if !none {
			open++
		}
	}
	if len(in.Gauges) == 2 {
		a, b := in.Gauges[0], in.Gauges[1]
		r.Difference = a.Absolute - b.Absolute
		r.DifferenceStandard = math.Hypot(a.Standard, b.Standard)
		if a.FromAtmosphere != b.FromAtmosphere {
			r.DifferenceStandard = math.Hypot(r.DifferenceStandard, in.AtmosphereStandard)
		}
		r.Equal = math.Abs(r.Difference) <= gum.Coverage*r.DifferenceStandard
	}
	coldest, warmest := 0, 0
	for i, p := range in.Parts {
		if p.Temperature < in.Parts[coldest].Temperature {
			coldest = i
		}
		if p.Temperature > in.Parts[warmest].Temperature {
			warmest = i
		}
	}
	cold, warm := in.Parts[coldest], in.Parts[warmest]
	r.Band.Coldest, r.Band.Warmest = cold.Name, warm.Name
	switch {
	case open == 0:
		r.Finding = NoPressure
		// The band is still what ought to be there, where it exists.
		if cold.Temperature < in.Critical {
			_ = r.fill(in, lines, coldest, warmest)
		}
		return r, nil
	case !(cold.Temperature < in.Critical):
		r.Finding = Supercritical
		return r, nil
	}
	if err := r.fill(in, lines, coldest, warmest); err != nil {
		return Result{}, err
	}
	switch {
	case open < len(in.Gauges):
		r.Finding = PortNotOpenSuspected
	case !r.Equal:
		r.Finding = NotEqualized
	default:
		r.Finding = r.overall()
	}
	return r, nil
}

// zeroStandard is what the air's pressure adds to the comparison of a gauge
// with it: nothing where the gauge counts from it.
func (in Input) zeroStandard(g Gauge) float64 {
	if g.FromAtmosphere {
		return 0
	}
	return in.AtmosphereStandard
}

// absoluteStandard is the standard uncertainty of a gauge's absolute pressure.
func (in Input) absoluteStandard(g Gauge) float64 {
	if g.FromAtmosphere {
		return math.Hypot(g.Standard, in.AtmosphereStandard)
	}
	return g.Standard
}

// OverAir is an absolute pressure (Pa) with its standard uncertainty as a gauge
// shows it.
func (in Input) OverAir(p, standard float64) gum.Uncertain {
	return gum.Uncertain{Value: p - in.Atmosphere, Standard: math.Hypot(standard, in.AtmosphereStandard)}
}

// fill works out the band between two parts and weighs every open gauge against
// it.
func (r *Result) fill(in Input, lines Lines, coldest, warmest int) error {
	cold, warm := in.Parts[coldest], in.Parts[warmest]
	low, slope, err := with(lines.DewPressure, cold)
	if err != nil {
		return &InputError{Input: PartTemperature, Index: coldest, Reason: input.Unsolved, Err: err}
	}
	r.Band.Low, r.Band.LowStandard, r.Band.LowMargin = low, slope*cold.Standard, slope*rules().match
	r.Band.High, r.Band.HighStandard, r.Band.HighMargin = math.NaN(), math.NaN(), math.NaN()
	high, slope, err := with(lines.BubblePressure, warm)
	switch {
	case err == nil:
		r.Band.High, r.Band.HighStandard, r.Band.HighMargin = high, slope*warm.Standard, slope*rules().match
	case errors.Is(err, equilibrium.ErrAboveCritical), errors.Is(err, equilibrium.ErrNearCritical):
		// Open upwards: the warmest part cannot hold liquid.
	default:
		return &InputError{Input: PartTemperature, Index: warmest, Reason: input.Unsolved, Err: err}
	}
	for i, g := range in.Gauges {
		j := &r.Judgements[i]
		if j.NoPressure {
			continue
		}
		u := j.Standard
		j.Below = numeric.Below((r.Band.Low-r.Band.LowMargin-g.Absolute)/math.Hypot(u, r.Band.LowStandard), 0, 1)
		if !math.IsNaN(r.Band.High) {
			j.Above = min(1-j.Below, numeric.Below((g.Absolute-r.Band.High-r.Band.HighMargin)/math.Hypot(u, r.Band.HighStandard), 0, 1))
		}
		j.Within = 1 - j.Below - j.Above
	}
	if warm.Temperature-cold.Temperature > rules().apart {
		r.Doubts = append(r.Doubts, WideBand)
	}
	return nil
}

// with is a saturation pressure at a part with its slope in Pa/K.
func with(at func(float64) (float64, error), p Part) (pressure, slope float64, err error) {
	if pressure, err = at(p.Temperature); err != nil {
		return 0, 0, err
	}
	cooler, err := at(p.Temperature - gradient)
	if err != nil {
		return 0, 0, err
	}
	return pressure, (pressure - cooler) / gradient, nil
}

// overall joins the gauges, which show one pressure.
func (r *Result) overall() Finding {
	var below, above float64
	for _, j := range r.Judgements {
		below += j.Below / float64(len(r.Judgements))
		above += j.Above / float64(len(r.Judgements))
	}
	within := 1 - below - above
	finding, most := SomeLiquid, within
	if below > most {
		finding, most = VaporOnly, below
	}
	if above > most {
		finding, most = AboveSaturation, above
	}
	if most < decided {
		r.Doubts = append(r.Doubts, Undecided)
	}
	return finding
}

func (in Input) doubts() []Doubt {
	var d []Doubt
	switch {
	case math.IsNaN(in.OffTime):
		d = append(d, OffTimeUnknown)
	case in.OffTime < rules().equalized:
		d = append(d, OffTimeShort)
	}
	if len(in.Gauges) == 1 {
		d = append(d, OnePortOnly)
	}
	return d
}

// Ranges of inputs.
var (
	pressures    = input.Limits{Kind: unit.KindPressure, Max: math.Inf(1), Above: true}
	temperatures = input.Limits{Kind: unit.KindTemperature, Max: math.Inf(1), Above: true}
	times        = input.Limits{Kind: unit.KindTime, Max: math.Inf(1)}
)

func (in Input) check() error {
	var bad input.Errors[Given]
	if len(in.Gauges) == 0 || len(in.Gauges) > 2 {
		bad.Add(Gauges, -1, input.Missing)
	}
	if len(in.Parts) == 0 {
		bad.Add(Parts, -1, input.Missing)
	}
	for i, g := range in.Gauges {
		bad.Measured(GaugePressure, i, &gum.Uncertain{Value: g.Absolute, Standard: g.Standard}, pressures)
	}
	for i, p := range in.Parts {
		bad.Measured(PartTemperature, i, &gum.Uncertain{Value: p.Temperature, Standard: p.Standard}, temperatures)
	}
	bad.Measured(AirPressure, -1, &gum.Uncertain{Value: in.Atmosphere, Standard: in.AtmosphereStandard}, pressures)
	if !math.IsNaN(in.OffTime) {
		bad.Within(OffTime, -1, in.OffTime, times)
	}
	return bad.Join()
}
