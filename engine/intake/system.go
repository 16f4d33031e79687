package intake

import (
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Equipment is what is known of a system, resolved; what was not said, or is
// an error, is the zero value.
type Equipment struct {
	Device  equipment.MeteringDevice
	Heating bool
	// CapacityFixed tells whether the unit ran at one known capacity; nil where
	// nothing is said of it.
	CapacityFixed *bool
	// Superheat and Subcooling that the manufacturer asks for.
	Superheat, Subcooling *Target
	RatedEfficiency       *Efficiency
	// NominalCapacity in W and Charge in kg.
	NominalCapacity, Charge *Value
	Microchannel            bool
	Accumulator             *bool
	LineSet                 *Lines
}

// Target is a manufacturer's figure.
type Target struct {
	Value unit.TemperatureDiff
	// Tolerance that the manufacturer gives; nil where none is given, or zero.
	Tolerance *unit.TemperatureDiff
}

// Lines are the lines between the two units; nil is "not said".
type Lines struct {
	Length, FactoryIncluded, LiquidOutside, VaporOutside, Wall *unit.Length
}

// Limits of what is on a nameplate, in SI.
const (
	largestCapacity  = 10e6
	smallestCapacity = 100
	largestTarget    = 50
	mostStages       = 10
)

// TakeSystem resolves what a question says of the equipment, but for its
// refrigerant.
func TakeSystem(s System, at Place, r *Refusal) Equipment {
	r.OneOf(at.Member("mode"), s.Mode, "cooling", "heating")
	var devices []string
	for _, d := range equipment.MeteringDevices() {
		devices = append(devices, string(d))
	}
	r.OneOf(at.Member("metering_device"), s.MeteringDevice, devices...)
	r.OneOf(at.Member("kind"), s.Kind, "split", "packaged")
	r.OneOf(at.Member("condenser_coil"), s.CondenserCoil, "fin_tube", "microchannel")
	e := Equipment{
		Device: equipment.MeteringDevice(s.MeteringDevice), Heating: s.Mode == "heating", CapacityFixed: takeStages(s, at, r),
		Microchannel: s.CondenserCoil == "microchannel", Accumulator: s.Accumulator,
		RatedEfficiency: takeEfficiency(s.RatedEfficiency, at.Member("rated_efficiency"), r),
	}
	if e.NominalCapacity = r.some(s.NominalCapacity, at.Member("nominal_capacity"), unit.KindPower); e.NominalCapacity != nil {
		if v := *e.NominalCapacity; !(v.SI >= smallestCapacity && v.SI <= largestCapacity) {
			r.Outside(at.Member("nominal_capacity").Member("value"), v.Between(smallestCapacity, largestCapacity))
		}
	}
	e.Charge = r.some(s.Charge, at.Member("charge"), unit.KindMass)
	e.Subcooling = takeTarget(s.TargetSubcooling, s.TargetSubcoolingTolerance, at, "target_subcooling", r)
	e.Superheat = takeTarget(s.TargetSuperheat, s.TargetSuperheatTolerance, at, "target_superheat", r)
	e.LineSet = takeLineSet(s.LineSet, at.Member("line_set"), r)
	return e
}

// some is a quantity resolved, nil where there is none that can be used.
func (r *Refusal) some(q *Quantity, at Place, kinds ...unit.Kind) *Value {
	if v, ok := r.Resolve(q, at, kinds...); ok {
		return &v
	}
	return nil
}

func takeTarget(value, tolerance *Quantity, at Place, name string, r *Refusal) *Target {
	figure := func(q *Quantity, name string) *Value {
		v := r.some(q, at.Member(name), unit.KindTemperatureDiff)
		if v != nil && !(v.SI >= 0 && v.SI <= largestTarget) {
			r.Outside(at.Member(name).Member("value"), v.Between(0, largestTarget))
		}
		return v
	}
	v, w := figure(value, name), figure(tolerance, name+"_tolerance")
	if v == nil {
		return nil
	}
	t := &Target{Value: unit.KelvinDiff(v.SI)}
	if w != nil && w.SI > 0 {
		d := unit.KelvinDiff(w.SI)
		t.Tolerance = &d
	}
	return t
}

func takeEfficiency(e *Efficiency, at Place, r *Refusal) *Efficiency {
	if e == nil {
		return nil
	}
	r.OneOf(at.Member("metric"), e.Metric, "SEER", "SEER2", "EER")
	if e.Metric == "" {
		r.Misread(at.Member("metric"), CodeMissing, "efficiency_metric_missing", nil)
	}
	switch {
	case e.Value == nil:
		r.Misread(at.Member("value"), CodeMissingValue, "efficiency_value_missing", nil)
	case !(*e.Value > 0 && *e.Value < 100):
		r.Refuse(at.Member("value"), CodeOutOfRange, "efficiency_out_of_range", nil)
	default:
		return e
	}
	return nil
}

func takeLineSet(l *LineSet, at Place, r *Refusal) *Lines {
	if l == nil {
		return nil
	}
	length := func(q *Quantity, name string) *unit.Length {
		v := r.some(q, at.Member(name), unit.KindLength)
		switch {
		case v == nil:
			return nil
		case !(v.SI >= 0):
			r.Refuse(at.Member(name).Member("value"), CodeOutOfRange, "length_negative", nil)
		}
		m := unit.Metre(v.SI)
		return &m
	}
	return &Lines{
		Length: length(l.Length, "length"), FactoryIncluded: length(l.FactoryIncludedLength, "factory_included_length"),
		LiquidOutside: length(l.LiquidOutsideDiameter, "liquid_outside_diameter"), VaporOutside: length(l.VaporOutsideDiameter, "vapor_outside_diameter"),
		Wall: length(l.WallThickness, "wall_thickness"),
	}
}

// takeStages tells whether the unit ran at one known capacity, noting stages
// that it cannot have.
func takeStages(s System, at Place, r *Refusal) *bool {
	if s.Stages == nil && s.Stage == nil && s.VariableSpeed == nil {
		return nil
	}
	if s.Stages != nil && !(*s.Stages >= 1 && *s.Stages <= mostStages) {
		r.Refuse(at.Member("stages"), CodeOutOfRange, "stages_out_of_range", phrase.Params{"most": mostStages})
	}
	switch {
	case s.Stage == nil:
	case !(*s.Stage >= 1 && *s.Stage <= mostStages):
		r.Refuse(at.Member("stage"), CodeOutOfRange, "stage_out_of_range", phrase.Params{"most": mostStages})
	case s.Stages != nil && *s.Stage > *s.Stages:
		r.Refuse(at.Member("stage"), CodeContradiction, "no_such_stage", phrase.Params{"stages": *s.Stages, "stage": *s.Stage})
	}
	variable := s.VariableSpeed != nil && *s.VariableSpeed
	fixed := s.Stage != nil || !variable && (s.Stages == nil || *s.Stages == 1)
	return &fixed
}
