package query

import (
	"fmt"

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
)

// Where questions bring what a calculation is told.
var (
	hoseOrigins = intake.Origins[hose.Given]{
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
	highHoseOrigins = intake.Origins[hose.Given]{
		hose.HosePressure:        {"/hoses/%d/pressure", "/readings/liquid_pressure"},
		hose.HoseLineTemperature: {"/readings/liquid_line_temperature"},
	}
	lineSetOrigins = intake.Origins[charge.GivenLineSet]{
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
	cylinderOrigins = intake.Origins[charge.GivenCylinder]{
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
	moistAirOrigins = intake.Origins[moistair.Given]{
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
	returnAirOrigins = intake.Origins[moistair.Given]{
		moistair.DryBulb:          {"/readings/return_dry_bulb"},
		moistair.WetBulb:          {"/readings/return_wet_bulb"},
		moistair.RelativeHumidity: {"/readings/return_relative_humidity"},
		moistair.DewPoint:         {},
		moistair.HumidityRatio:    {},
		moistair.Pressure:         {},
		moistair.Altitude:         {},
	}
	standingOrigins = intake.Origins[standing.Given]{
		standing.Gauges:          {"/readings/suction_pressure"},
		standing.Parts:           {"/readings/outdoor_dry_bulb"},
		standing.GaugePressure:   {"/readings/suction_pressure", "/readings/liquid_pressure"},
		standing.PartTemperature: {"/readings/outdoor_dry_bulb", "/readings/return_dry_bulb", "/readings/suction_line_temperature", "/readings/liquid_line_temperature"},
		standing.AirPressure:     airPressureOrigin,
		standing.OffTime:         {"/off_time"},
	}
	gaugeOrigins     = map[standing.Port]string{standing.Suction: "/readings/suction_pressure", standing.Liquid: "/readings/liquid_pressure"}
	stabilityOrigins = intake.Origins[stability.Given]{
		stability.Times:     {"/times/%d"},
		stability.Values:    {"/values/%d"},
		stability.Samples:   {"/values"},
		stability.Tolerance: {"/tolerance"},
	}
	leakOrigins = intake.Origins[leak.Given]{
		leak.Temperature:  {"/temperature"},
		leak.LiquidVolume: {"/fill_fraction"},
		leak.Density:      {"/charge", "/system/charge"},
		leak.FractionLost: {"/fraction_lost"},
		leak.Components:   {},
	}
	airPressureOrigin = intake.Origin{"/site/atmospheric_pressure", "/site/altitude"}
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

// asked is a question about a case.
func (t *trail) asked(question any, c intake.Case) intake.Asked {
	return intake.Asked{Question: question, At: c.At, ReadingsAt: c.ReadingsAt, Air: c.Air.Zero, Unsolved: unsolvedBy(t.as, c.Refrigerant)}
}

// refuse notes what a calculation refuses where it came from. It gives the
// refusal, or err as it is where nothing of the question is at fault.
func refuse[Name fmt.Stringer](t *trail, err error, r *Refusal, q intake.Asked, from func(*input.Error[Name]) intake.Origin) error {
	q.Unit = t.as.unit
	q.Reasons = func(reason input.Reason) (code, why phrase.Code) { w := refused[reason]; return w.code, w.why }
	return intake.Reject(err, r, q, from)
}

// unsolvedBy notes what the equations of a refrigerant have no answer for.
func unsolvedBy(as Presentation, f *refrigerant.Refrigerant) func(*Refusal, intake.Place, error) {
	return func(r *Refusal, at intake.Place, err error) { refuseAs(r, at, noSaturation(as, f, err)) }
}
