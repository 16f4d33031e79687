package query

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/charge"
	"github.com/knurl-hvacr/knurl/engine/hose"
	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/leak"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/stability"
	"github.com/knurl-hvacr/knurl/engine/standing"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// origin is where in a question an input of a calculation stands: JSON pointers,
// %d for the index, of which the first counts that was given. Without any it is
// none of the question's: that it is wrong is a fault of this program.
type origin []string

// Where questions bring what a calculation is told.
var (
	hoseOrigins = map[hose.Given]origin{
		hose.Refrigerant:         {"/system/refrigerant", "/system/composition"},
		hose.SystemCharge:        {"/system/charge"},
		hose.RefrigerantGWP:      {"/gwp_set"},
		hose.AirPressure:         airPressureOrigin,
		hose.AirTemperature:      {"/ambient_temperature", "/readings/outdoor_dry_bulb"},
		hose.StorageTemperature:  {"/storage_temperature"},
		hose.RecoveryEndPressure: {},
		hose.AllHoses:            {"/hoses"},
		hose.ManifoldVolume:      {"/manifold/volume"},
		hose.LowGaugeLimit:       {"/manifold/low_gauge_limit"},
		hose.HighGaugeLimit:      {"/manifold/high_gauge_limit"},
		hose.HoseSide:            {"/hoses/%d/side"},
		hose.HosePort:            {"/hoses/%d/port"},
		hose.HoseShutoff:         {"/hoses/%d/shutoff"},
		hose.HoseLength:          {"/hoses/%d/length"},
		hose.HoseBore:            {"/hoses/%d/bore"},
		hose.HoseShutoffToEnd:    {"/hoses/%d/shutoff_to_end_volume"},
		hose.HoseWorkingPressure: {"/hoses/%d/working_pressure"},
		hose.HosePressure:        {"/hoses/%d/pressure", "/readings/suction_pressure"},
		hose.HoseLineTemperature: {"/readings/suction_line_temperature"},
		hose.HoseTemperature:     {"/hoses/%d/temperature"},
		hose.HoseOilShare:        {"/hoses/%d/oil_fraction"},
	}
	// Of a hose on the high side.
	highHoseOrigins = map[hose.Given]origin{
		hose.HosePressure:        {"/hoses/%d/pressure", "/readings/liquid_pressure"},
		hose.HoseLineTemperature: {"/readings/liquid_line_temperature"},
	}
	lineSetOrigins = map[charge.GivenLineSet]origin{
		charge.LineRefrigerant:   {"/system/refrigerant", "/system/composition"},
		charge.LineLength:        {"/system/line_set/length"},
		charge.IncludedLength:    {"/system/line_set/factory_included_length"},
		charge.FactoryAllowance:  {"/factory_allowance"},
		charge.ManufacturerRate:  {"/manufacturer_rate"},
		charge.LiquidDiameter:    {"/system/line_set/liquid_outside_diameter"},
		charge.VaporDiameter:     {"/system/line_set/vapor_outside_diameter"},
		charge.LiquidWall:        {"/system/line_set/wall_thickness"},
		charge.VaporWall:         {"/system/line_set/wall_thickness"},
		charge.LiquidPressure:    {"/readings/liquid_pressure"},
		charge.LiquidTemperature: {"/readings/liquid_line_temperature"},
		charge.VaporPressure:     {"/readings/suction_pressure"},
		charge.VaporTemperature:  {"/readings/suction_line_temperature"},
	}
	cylinderOrigins = map[charge.GivenCylinder]origin{
		charge.Refrigerant:        {"/refrigerant", "/composition"},
		charge.RefrigerantInside:  {"/refrigerant_inside"},
		charge.WaterCapacity:      {"/water_capacity"},
		charge.CylinderVolume:     {"/volume"},
		charge.TareWeight:         {"/tare"},
		charge.GrossWeight:        {"/gross_weight"},
		charge.SpecificGravity:    {"/specific_gravity"},
		charge.ServicePressure:    {"/service_pressure"},
		charge.AirPressure:        airPressureOrigin,
		charge.MaximumTemperature: {"/maximum_temperature"},
	}
	moistAirOrigins = map[moistair.Given]origin{
		moistair.DryBulb:          {"/dry_bulb"},
		moistair.WetBulb:          {"/wet_bulb"},
		moistair.RelativeHumidity: {"/relative_humidity"},
		moistair.DewPoint:         {"/dew_point"},
		moistair.HumidityRatio:    {"/humidity_ratio"},
		moistair.Pressure:         airPressureOrigin,
		moistair.Altitude:         {"/site/altitude"},
	}
	// Of the return air at a system, in its readings; its pressure is the site's,
	// which has been judged before.
	returnAirOrigins = map[moistair.Given]origin{
		moistair.DryBulb:          {"/return_dry_bulb"},
		moistair.WetBulb:          {"/return_wet_bulb"},
		moistair.RelativeHumidity: {"/return_relative_humidity"},
		moistair.DewPoint:         {},
		moistair.HumidityRatio:    {},
		moistair.Pressure:         {},
		moistair.Altitude:         {},
	}
	standingOrigins = map[standing.Given]origin{
		standing.Gauges:          {"/readings/suction_pressure"},
		standing.Parts:           {"/readings/outdoor_dry_bulb"},
		standing.GaugePressure:   {"/readings/suction_pressure", "/readings/liquid_pressure"},
		standing.PartTemperature: {"/readings/outdoor_dry_bulb", "/readings/return_dry_bulb", "/readings/suction_line_temperature", "/readings/liquid_line_temperature"},
		standing.AirPressure:     airPressureOrigin,
		standing.OffTime:         {"/off_time"},
	}
	gaugeOrigins     = map[standing.Port]string{standing.Suction: "/readings/suction_pressure", standing.Liquid: "/readings/liquid_pressure"}
	stabilityOrigins = map[stability.Given]origin{
		stability.Times:     {"/times/%d"},
		stability.Values:    {"/values/%d"},
		stability.Samples:   {"/values"},
		stability.Tolerance: {"/tolerance"},
	}
	leakOrigins = map[leak.Given]origin{
		leak.Temperature:  {"/temperature"},
		leak.LiquidVolume: {"/fill_fraction"},
		leak.Density:      {"/charge", "/system/charge"},
		leak.FractionLost: {"/fraction_lost"},
		leak.Components:   {},
	}
	airPressureOrigin = origin{"/site/atmospheric_pressure", "/site/altitude"}
)

// refused are codes and reasons for the reasons of calculations; what is out of
// range or has no solution is told with its limits and its cause.
var refused = map[input.Reason]struct{ code, why phrase.Code }{
	input.Missing:              {CodeMissing, "input_missing"},
	input.Unknown:              {CodeUnknownName, "input_unknown"},
	input.Uncertainty:          {CodeOutOfRange, "accuracy_impossible"},
	input.Contradiction:        {CodeContradiction, "input_contradicts"},
	hose.EndTooLarge:           {CodeOutOfRange, "end_larger_than_hose"},
	leak.OnePhase:              {CodeOutOfRange, "charge_of_one_phase"},
	leak.NotRising:             {CodeOutOfRange, "not_rising"},
	stability.NotRising:        {CodeOutOfRange, "times_not_rising"},
	stability.UnequalLengths:   {CodeContradiction, "not_as_many_times_as_values"},
	charge.BelowTare:           {CodeOutOfRange, "below_tare"},
	charge.WallTooThick:        {CodeOutOfRange, "wall_too_thick"},
	charge.NoUsualWall:         {CodeOutOfRange, "no_usual_wall"},
	charge.OtherRefrigerant:    {CodeContradiction, "other_refrigerant_inside"},
	charge.NotThisPhase:        {CodeOutOfRange, "line_of_other_phase"},
	charge.NoLiquidAtReference: {CodeOutOfRange, "no_liquid_at_reference"},
	charge.NoLiquidAtMaximum:   {CodeOutOfRange, "no_liquid_at_maximum"},
}

// asked is a question as its refusal needs it.
type asked struct {
	question any // nil where what was typed is not at hand
	as       Presentation
	// air is what its gauges count from.
	air unit.Pressure
	// unsolved notes at a place what the equations have no answer for.
	unsolved func(r *Refusal, at intake.Place, err error)
}

// refuse notes what a calculation refuses where it came from. It gives the
// refusal, or err as it is where nothing of the question is at fault.
func refuse[Name fmt.Stringer](err error, r *Refusal, q asked, from func(*input.Error[Name]) origin) error {
	before := len(r.Errors)
	for _, bad := range each[*input.Error[Name]](err) {
		pointer, typed := from(bad).in(q.question, bad.Index)
		if pointer == "" {
			return err
		}
		at := intake.At(pointer)
		switch bad.Reason {
		case input.OutOfRange:
			r.Outside(at, q.as.limit(bad.Limits, typed, q.air))
		case input.Unsolved:
			q.unsolved(r, at, bad.Err)
		default:
			words := refused[bad.Reason]
			r.Refuse(at, words.code, words.why, nil)
		}
		// What two inputs have in common is said once.
		if last := r.Errors[len(r.Errors)-1]; slices.ContainsFunc(r.Errors[before:len(r.Errors)-1], last.Same) {
			r.Errors = r.Errors[:len(r.Errors)-1]
		}
	}
	if fault := r.Err(); fault != nil {
		return fault
	}
	return err
}

// unsolvedBy notes what the equations of a refrigerant have no answer for.
func unsolvedBy(as Presentation, f *refrigerant.Refrigerant) func(*Refusal, intake.Place, error) {
	return func(r *Refusal, at intake.Place, err error) { refuseAs(r, at, noSaturation(as, f, err)) }
}

// in is the first place that was given in a question, or else the first of all,
// with what was typed there if that is a quantity.
func (o origin) in(question any, index int) (pointer string, typed *Quantity) {
	for _, p := range o {
		p = strings.ReplaceAll(p, "%d", strconv.Itoa(index))
		if pointer == "" {
			pointer = p
		}
		if question == nil {
			continue
		}
		if v, _ := memberAt(reflect.ValueOf(question), p); v.IsValid() && !v.IsZero() {
			typed, _ = v.Interface().(*Quantity)
			return p, typed
		}
	}
	return pointer, nil
}

// below are the same places in a member of the question.
func (o origin) below(pointer string) origin {
	all := make(origin, len(o))
	for i, p := range o {
		all[i] = pointer + p
	}
	return all
}

// memberAt is what stands at a JSON pointer in a question, no value where
// something on the way was not given; exists tells whether a question has such
// a member at all.
func memberAt(v reflect.Value, pointer string) (at reflect.Value, exists bool) {
	t, exists := v.Type(), true
	for name := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
			if v.IsValid() {
				v = v.Elem() // no value where the pointer is nil
			}
		}
		if t, v, exists = below(t, v, name); !exists {
			return reflect.Value{}, false
		}
	}
	return v, true
}

// below is one step of memberAt: into a list, a map or a struct.
func below(t reflect.Type, v reflect.Value, name string) (reflect.Type, reflect.Value, bool) {
	given := v.IsValid()
	switch t.Kind() {
	case reflect.Slice:
		i, err := strconv.Atoi(name)
		if given = given && i >= 0 && i < v.Len(); given {
			v = v.Index(i)
		}
		t, v = t.Elem(), only(given, v)
		return t, v, err == nil
	case reflect.Map:
		if given {
			v = v.MapIndex(reflect.ValueOf(name))
		}
		return t.Elem(), v, true
	}
	f, exists := memberNamed(t, name)
	if exists && given {
		v = v.FieldByIndex(f.Index)
	}
	return f.Type, v, exists
}

// only is v where it was given, else no value.
func only(given bool, v reflect.Value) reflect.Value {
	if !given {
		return reflect.Value{}
	}
	return v
}

func memberNamed(t reflect.Type, name string) (reflect.StructField, bool) {
	if t.Kind() != reflect.Struct {
		return reflect.StructField{}, false
	}
	for _, f := range reflect.VisibleFields(t) {
		if tag, _, _ := strings.Cut(f.Tag.Get("json"), ","); tag == name {
			return f, true
		}
	}
	return reflect.StructField{}, false
}

// limit is a range in the unit of what was typed, or else of answers. Gauges
// count from air.
func (p Presentation) limit(l input.Limits, typed *Quantity, air unit.Pressure) intake.Limit {
	u, ok := unit.Unit{}, false
	if typed != nil {
		u, ok = unit.Lookup(typed.Unit)
	}
	if !ok {
		u, _ = unit.Lookup(p.measure(l.Kind, 0).Unit)
	}
	shift := 0.0
	switch {
	case u.Kind == unit.KindGaugePressure && l.Kind == unit.KindPressure:
		shift = -air.Pascal()
	case u.Kind == unit.KindPressure && l.Kind == unit.KindGaugePressure:
		shift = air.Pascal()
	}
	return intake.LimitIn(u, l.Min+shift, l.Max+shift, l.Above)
}
