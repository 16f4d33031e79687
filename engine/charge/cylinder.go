package charge

import (
	"errors"
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

var (
	// ErrMixed reports a cylinder that holds another refrigerant.
	ErrMixed = errors.New("charge: the cylinder holds another refrigerant")
	// ErrNoLimit reports a refrigerant that has no liquid at the reference or
	// the highest temperature, so that a limit by liquid volume says nothing.
	ErrNoLimit = errors.New("charge: no liquid there, so no limit by liquid volume")
)

// GivenCylinder names what FillCylinder is told.
type GivenCylinder int

// What is told of a cylinder.
const (
	Refrigerant GivenCylinder = iota
	RefrigerantInside
	WaterCapacity
	CylinderVolume
	TareWeight
	GrossWeight
	SpecificGravity
	ServicePressure
	AirPressure
	MaximumTemperature
	givenCylinderCount
)

// String is what it is called in an error.
func (g GivenCylinder) String() string {
	if g < 0 || g >= givenCylinderCount {
		return fmt.Sprintf("charge.GivenCylinder(%d)", int(g))
	}
	return [givenCylinderCount]string{
		"refrigerant", "refrigerant inside", "water capacity", "volume", "tare weight", "gross weight", "specific gravity",
		"service pressure", "pressure of the air", "maximum temperature",
	}[g]
}

// AllGivenCylinder lists all that FillCylinder is told.
func AllGivenCylinder() []GivenCylinder {
	all := make([]GivenCylinder, givenCylinderCount)
	for i := range all {
		all[i] = GivenCylinder(i)
	}
	return all
}

// CylinderError says which input of FillCylinder is at fault.
type CylinderError = input.Error[GivenCylinder]

// Cylinder is a refillable cylinder and what is to go into it.
type Cylinder struct {
	System *equilibrium.System
	// Lines of System; the zero value means those of the rigorous solver.
	Lines saturation.Lines
	// Inside is the refrigerant that is in it already, nil where not said.
	Inside *equilibrium.System
	// WaterCapacity in kg of water, or Volume in m3: one of them.
	WaterCapacity, Volume *gum.Uncertain
	// Tare in kg.
	Tare gum.Uncertain
	// Gross in kg as it stands on the scale, nil where not weighed.
	Gross *gum.Uncertain
	// SpecificGravity of the liquid at the reference temperature as published;
	// nil for that of the equation of state.
	SpecificGravity *float64
	// Maximum is the highest temperature that it may reach; zero for the
	// customary one.
	Maximum unit.Temperature
	// ServicePressure is stamped on it, nil where unknown. Atmosphere is needed
	// with it.
	ServicePressure *unit.GaugePressure
	Atmosphere      unit.Pressure
}

// Limit is what bounds the filling.
type Limit string

// The limits.
const (
	// LiquidVolume: the share of the volume that liquid may take at the
	// reference temperature.
	LiquidVolume Limit = "liquid_volume_at_reference_temperature"
	// LiquidFull: less than that, since the cylinder would be full of liquid at
	// its highest temperature.
	LiquidFull Limit = "liquid_full_at_maximum_temperature"
)

// Comparison says how an estimated pressure stands to a rating.
type Comparison string

// The comparisons. None says that a cylinder is fit for anything.
const (
	Above           Comparison = "above"
	BelowByEstimate Comparison = "below_by_estimate"
	RatingUnknown   Comparison = "rating_unknown"
)

// Level is how full the cylinder is with some mass, at a temperature.
type Level struct {
	Temperature unit.Temperature
	Pressure    unit.Pressure
	// LiquidShare of the volume: 1 where it is full of liquid.
	LiquidShare float64
}

// Fill is how much the cylinder may hold. Masses are in kg.
type Fill struct {
	// Volume in m3.
	Volume gum.Uncertain
	// Reference temperature, the specific gravity used there, and the share of
	// the volume that liquid may take.
	Reference       unit.Temperature
	SpecificGravity float64
	LiquidShare     float64
	// AllowedNet and AllowedGross, and what bounds them.
	AllowedNet, AllowedGross gum.Uncertain
	LimitedBy                Limit
	// Net is what is in it; Fits what may still go in, or if negative what is
	// in it too much. Both nil where it was not weighed.
	Net, Fits *gum.Uncertain
	// AtMaximum is the cylinder filled to AllowedNet at its highest temperature;
	// AtMaximumNow with what is in it, nil where that is nothing or unknown, or
	// where it would be full of liquid (FullNow).
	AtMaximum    Level
	AtMaximumNow *Level
	FullNow      bool
	// ServicePressure compares AtMaximum with the rating.
	ServicePressure Comparison
	Basis
}

// FillCylinder works out how much a cylinder may hold: 80 percent of its volume
// as liquid at 77 degF (AHRI Guideline K), and never full of liquid at its
// highest temperature. It returns joined *CylinderError, with
// ErrMixed or ErrNoLimit inside where that is the matter.
func FillCylinder(in Cylinder) (Fill, error) {
	if err := in.check(); err != nil {
		return Fill{}, err
	}
	if in.Lines == (saturation.Lines{}) {
		in.Lines = saturation.Rigorous(in.System)
	}
	var out Fill
	if in.Inside == nil {
		out.assume(SameRefrigerantInside)
	}
	var w weighing
	if err := out.limit(in, &w); err != nil {
		return Fill{}, err
	}
	return out, out.present(in, &w)
}

func (in Cylinder) check() error {
	var bad input.Errors[GivenCylinder]
	if in.System == nil {
		bad.Add(Refrigerant, -1, input.Missing)
		return bad.Join()
	}
	if in.Inside != nil && in.Inside.Key() != in.System.Key() {
		bad = append(bad, &CylinderError{Input: RefrigerantInside, Index: -1, Reason: OtherRefrigerant, Err: ErrMixed})
	}
	switch {
	case in.WaterCapacity == nil && in.Volume == nil:
		bad.Add(WaterCapacity, -1, input.Missing)
	case in.WaterCapacity != nil && in.Volume != nil:
		bad.Add(CylinderVolume, -1, input.Contradiction)
	}
	bad.Measured(WaterCapacity, -1, in.WaterCapacity, masses)
	bad.Measured(CylinderVolume, -1, in.Volume, volumes)
	bad.Measured(TareWeight, -1, &in.Tare, anyMass)
	bad.Measured(GrossWeight, -1, in.Gross, anyMass)
	if in.Gross != nil && in.Gross.Value < in.Tare.Value {
		bad.Add(GrossWeight, -1, BelowTare)
	}
	if in.SpecificGravity != nil {
		bad.Within(SpecificGravity, -1, *in.SpecificGravity, gravities)
	}
	if p := in.ServicePressure; p != nil {
		bad.Within(ServicePressure, -1, p.Pascal(), ratings)
		bad.Within(AirPressure, -1, in.Atmosphere.Pascal(), airPressures)
	}
	if t := in.Maximum; !t.IsZero() {
		bad.Within(MaximumTemperature, -1, t.Kelvin(), input.Limits{Kind: unit.KindTemperature, Max: in.System.MaxTemperature(), Above: true})
	}
	return bad.Join()
}

// The inputs whose errors are carried through.
const (
	axisVolume = iota
	axisTare
	axisGross
)

// weighing is one filling on its way.
type weighing struct {
	gum.Inputs
	volume, tare, allowed gum.Estimate
}

func (f *Fill) limit(in Cylinder, w *weighing) error {
	facts := refdata.TradeFacts()
	f.assume(PureInside)
	f.LiquidShare = figure.SI(f.figure(facts, "cylinder_fill_fraction"))
	f.Reference = unit.Kelvin(figure.SI(f.figure(facts, "cylinder_fill_reference_temperature")))
	water := figure.SI(f.figure(refdata.Tubes().Figures, "water_density_60_degf"))
	f.assume(WaterAtSixty)
	w.tare = w.Take(axisTare, in.Tare)
	if in.Volume != nil {
		w.volume = w.Take(axisVolume, *in.Volume)
	} else {
		capacity := w.Take(axisVolume, *in.WaterCapacity)
		w.volume = gum.Linear(capacity.Value/water, 1/water, capacity, 0, gum.Estimate{})
	}
	f.Volume = w.Of(w.volume)
	maximum := in.Maximum
	if maximum.IsZero() {
		maximum = unit.Kelvin(figure.SI(f.figure(facts, "cylinder_maximum_temperature")))
	}

	molar := in.System.MolarMass()
	liquid := func(t unit.Temperature, of GivenCylinder, without input.Reason) (float64, error) {
		at, err := in.Lines.AtTemperature(equilibrium.BubbleLine, t.Kelvin())
		if err != nil {
			return 0, &CylinderError{Input: of, Index: -1, Reason: without, Err: errors.Join(ErrNoLimit, err)}
		}
		return at.Density * molar, nil
	}
	reference, err := liquid(f.Reference, Refrigerant, NoLiquidAtReference)
	if err != nil {
		return err
	}
	hot, err := liquid(maximum, MaximumTemperature, NoLiquidAtMaximum)
	if err != nil {
		return err
	}
	if f.SpecificGravity = reference / water; in.SpecificGravity != nil {
		f.SpecificGravity = *in.SpecificGravity
	}
	density := f.LiquidShare * f.SpecificGravity * water
	if f.LimitedBy = LiquidVolume; hot < density {
		f.LimitedBy, density = LiquidFull, hot
	}
	w.allowed = w.volume.Times(density)
	f.AllowedNet, f.AllowedGross = w.Of(w.allowed), w.Of(w.allowed.Plus(w.tare))
	if f.AtMaximum, err = level(in, maximum, density); err != nil {
		return err
	}
	f.ServicePressure = RatingUnknown
	if p := in.ServicePressure; p != nil {
		if f.ServicePressure = Above; f.AtMaximum.Pressure.Gauge(in.Atmosphere).Pascal() <= p.Pascal() {
			f.ServicePressure = BelowByEstimate
		}
	}
	return nil
}

// present weighs what is in the cylinder.
func (f *Fill) present(in Cylinder, w *weighing) error {
	if in.Gross == nil {
		return nil
	}
	inside := w.Take(axisGross, *in.Gross).Minus(w.tare)
	net, fits := w.Of(inside), w.Of(w.allowed.Minus(inside))
	f.Net, f.Fits = &net, &fits
	if f.Net.Value == 0 {
		return nil
	}
	t, density := f.AtMaximum.Temperature, f.Net.Value/f.Volume.Value
	bubble, err := in.Lines.AtTemperature(equilibrium.BubbleLine, t.Kelvin())
	if err != nil {
		return err
	}
	if density >= bubble.Density*in.System.MolarMass() {
		f.FullNow = true
		return nil
	}
	now, err := level(in, t, density)
	f.AtMaximumNow = &now
	return err
}

// level is how density kg/m3, at most that of bubble liquid, divides at t.
func level(in Cylinder, t unit.Temperature, density float64) (Level, error) {
	st, err := in.System.AtTemperatureDensity(t.Kelvin(), density/in.System.MolarMass())
	if err != nil {
		return Level{}, err
	}
	l := Level{Temperature: t, Pressure: unit.Pascal(st.Pressure)}
	if at, ok := st.Isochore(); ok {
		l.LiquidShare = 1 - at.VaporVolume
		return l, nil
	}
	dew, err := in.Lines.AtTemperature(equilibrium.DewLine, t.Kelvin())
	if err != nil {
		return Level{}, err
	}
	if st.Density > dew.Density*(1+1e-6) {
		l.LiquidShare = 1
	}
	return l, nil
}
