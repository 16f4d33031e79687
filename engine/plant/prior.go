package plant

import (
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Known is what one knows of a system besides refrigerant and metering device;
// zero and nil mean unknown.
type Known struct {
	Device equipment.MeteringDevice
	// Capacity in W, SEER in Btu/(W h), IndoorAirflow in m3/s.
	Capacity, SEER, IndoorAirflow float64
	// Superheat and Subcooling, the manufacturer's targets, in K; the superheat at the
	// place that [Spec] has for the device.
	Superheat, Subcooling float64
	// LineLength one way, SuctionBore and LiquidBore in m.
	LineLength, SuctionBore, LiquidBore float64
	Accumulator                         *bool
	// Microchannel tells that the condenser has flat tubes with small channels.
	Microchannel bool
}

// Uniform gives numbers evenly spread over [0, 1), such as the method Float64 of
// a rand.Rand.
type Uniform func() float64

const (
	ton             = 3516.853 // W
	cubicFoot       = 0.028316846592
	cfm             = cubicFoot / 60 // m3/s
	foot            = 0.3048
	litre           = 1e-3
	millimetre      = 1e-3
	fahrenheitSteps = 5. / 9 // K
)

// Priors are the published or assumed ranges over systems that one does not
// know, see refdata.Plant.
type Priors struct {
	data refdata.PlantData
	// chart is the charging table's superheat at the rating point, K.
	chart float64
}

// NewPriors reads the embedded ranges.
func NewPriors() *Priors {
	p := &Priors{data: refdata.Plant()}
	g := refdata.TargetSuperheat()
	for i, outdoor := range g.Rows {
		for j, wet := range g.Columns {
			if outdoor == 95 && wet == 67 {
				p.chart = g.Cells[i][j] * fahrenheitSteps
			}
		}
	}
	return p
}

// figure of embedded data: one that is missing is a fault of the build.
func figure(of refdata.Figures, code string) refdata.Figure {
	f, ok := of.Get(code)
	if !ok {
		panic(fmt.Sprintf("plant: no figure %q", code))
	}
	return f
}

// Spec draws a system for a refrigerant evenly from the ranges, given what is
// known. The numbers
// are used in a fixed order and number, so that common random numbers compare
// systems that differ in one thing.
func (p *Priors) Spec(f *Fluid, k Known, uniform Uniform) Spec {
	between := func(code string) float64 {
		f := figure(p.data.Priors, code)
		return *f.Low + uniform()*(*f.High-*f.Low)
	}
	given := func(known, drawn float64) float64 {
		if known > 0 {
			return known
		}
		return drawn
	}
	limit := func(code string) float64 { return *figure(p.data.Limits, code).Value }

	var s Spec
	s.Device = k.Device
	s.Capacity = given(k.Capacity, between("capacity")*ton)
	tons := s.Capacity / ton
	class := (given(k.SEER, between("seer")) - 8) / (17 - 8)
	bySEER := func(code string) float64 {
		u := uniform()
		at := func(seer string) float64 {
			f := figure(p.data.Priors, code+"_at_seer_"+seer)
			return *f.Low + u*(*f.High-*f.Low)
		}
		low, high := at("8"), at("17")
		return low + min(max(class, -0.2), 1.2)*(high-low)
	}
	s.CondensingOverAmbient = bySEER("condensing_over_ambient") * fahrenheitSteps
	s.EvaporatorTemperatureDifference = between("evaporator_temperature_difference") * fahrenheitSteps
	s.IndoorAirflow = given(k.IndoorAirflow, between("indoor_airflow")*tons*cfm)
	fixed := p.chart + between("superheat_offset")*fahrenheitSteps
	valve := between("superheat_valve") * fahrenheitSteps
	fixedSubcooling := between("subcooling_fixed") * fahrenheitSteps
	valveSubcooling := between("subcooling_valve") * fahrenheitSteps
	if s.Device.Valve() {
		s.Superheat, s.Subcooling = given(k.Superheat, valve), given(k.Subcooling, valveSubcooling)
	} else {
		s.Superheat, s.Subcooling = given(k.Superheat, fixed), given(k.Subcooling, fixedSubcooling)
	}
	s.CondenserEffectiveness = between("condenser_effectiveness")
	// Liquid cannot leave colder than the air: little room makes a short approach.
	rated := f.at(f.pressureOfMean(Rating().OutdoorDryBulb + s.CondensingOverAmbient))
	s.Subcooling = min(s.Subcooling, mostSubcooling*(rated.bubble-Rating().OutdoorDryBulb))
	s.LineLength = given(k.LineLength, between("line_length")*foot)
	s.BlowerPower = between("blower_power") / cfm * s.IndoorAirflow
	s.FanPower = between("fan_power") * tons
	volume := between("accumulator_volume") * litre * tons
	has := uniform() < limit("accumulator_share")
	if k.Accumulator != nil {
		has = *k.Accumulator
	}
	if has {
		s.Accumulator = volume
	}
	s.Compressor = CompressorSpec{
		Efficiency: bySEER("compressor_efficiency"), BestRatio: between("best_pressure_ratio"), EfficiencyFall: between("efficiency_fall"),
		Clearance: between("clearance"), Filling: between("filling"), Heating: between("shell_heat_loss"),
		Shell: between("shell_volume") * litre / ton, Oil: between("oil") / ton, OilMolarMass: between("oil_molar_mass"),
	}
	coil := func(name string, volume float64) CoilSpec {
		return CoilSpec{
			TubeShare: between(name + "_tube_share"), GasRatio: between(name + "_gas_ratio"), LiquidRatio: between(name + "_liquid_ratio"),
			AirExponent: between(name + "_air_exponent"), Volume: volume * litre / ton,
			MassFlux: between(name + "_mass_flux"), Bore: between(name+"_bore") * millimetre, Drop: between(name + "_drop"),
		}
	}
	s.Condenser = coil("condenser", bySEER("condenser_volume"))
	if volume, bore := between("microchannel_volume"), between("microchannel_bore"); k.Microchannel {
		s.Condenser.Volume, s.Condenser.Bore = volume*litre/ton, bore*millimetre
	}
	s.Evaporator = coil("evaporator", between("evaporator_volume"))
	s.Lines = LineSpec{
		SuctionVelocity: between("suction_velocity"), LiquidVelocity: between("liquid_velocity"),
		SuctionBore: k.SuctionBore, LiquidBore: k.LiquidBore,
		SuctionGain: between("suction_gain"), LiquidGain: between("liquid_gain"),
		DischargeVolume: between("discharge_volume") * litre / ton, DrierVolume: between("drier_volume") * litre / ton,
		AccumulatorBleed: between("accumulator_bleed"),
	}
	s.Orifice = OrificeSpec{FlashDelay: between("orifice_flash_delay"), FlashDelayBySubcooling: between("orifice_flash_delay_by_subcooling")}
	s.CapillaryLength = between("capillary_length")
	s.CapillaryBore = between("capillary_bore") * millimetre
	thermostatic, electronic := between("thermostatic_static"), between("electronic_static")
	s.Valve = ValveSpec{Static: thermostatic, Reserve: between("valve_reserve")}
	if s.Device == equipment.ElectronicValve {
		s.Valve.Static = electronic
	}
	s.Limits = LimitSpec{
		HighPressureDew: unit.Fahrenheit(limit("high_pressure_cutout")).Kelvin(),
		LowPressureDew:  unit.Fahrenheit(limit("low_pressure_cutout")).Kelvin(),
		Discharge:       unit.Fahrenheit(limit("discharge_cutout")).Kelvin(),
		Liquid:          limit("liquid_at_compressor"),
	}
	return s
}

// mostSubcooling is the largest subcooling that is taken, over the bubble point
// over outdoor temperature.
const mostSubcooling = 0.75

// Weather draws the air around a system. It returns the errors of moistair,
// which the embedded ranges do not cause.
func (p *Priors) Weather(uniform Uniform) (Conditions, error) {
	between := func(code string) float64 {
		f := figure(p.data.Weather, code)
		return *f.Low + uniform()*(*f.High-*f.Low)
	}
	c := Conditions{
		OutdoorDryBulb: unit.Fahrenheit(between("outdoor_dry_bulb")).Kelvin(),
		ReturnDryBulb:  unit.Fahrenheit(between("return_dry_bulb")).Kelvin(),
	}
	humidity := between("return_relative_humidity")
	site, err := moistair.StandardPressure(unit.Foot(between("altitude")))
	if err != nil {
		return Conditions{}, err
	}
	c.SitePressure = site.Pascal()
	s, err := moistair.FromRelativeHumidity(site, unit.Kelvin(c.ReturnDryBulb), unit.Fraction(humidity))
	if err != nil {
		return Conditions{}, err
	}
	c.ReturnWetBulb = s.WetBulb().Kelvin()
	return c, nil
}

// SEER is the range of seasonal efficiencies, Btu/(W h).
func (p *Priors) SEER() (low, high float64) {
	f := figure(p.data.Priors, "seer")
	return *f.Low, *f.High
}

// Severity gives the range of severities to draw a fault from; false for a
// name that is no fault.
func (p *Priors) Severity(fault equipment.Fault) (low, high float64, ok bool) {
	f, ok := p.data.Severities.Get(string(fault))
	if !ok {
		return 0, 0, false
	}
	return *f.Low, *f.High, true
}

// Unit draws systems until one can be built: ranges are independent, so some
// draws contradict themselves. It returns the last ErrDesign where a number
// of draws all did.
func (p *Priors) Unit(f *Fluid, k Known, uniform Uniform) (*Unit, error) {
	var err error
	for range maxDraws {
		var u *Unit
		if u, err = Design(f, p.Spec(f, k, uniform)); err == nil {
			return u, nil
		}
	}
	return nil, fmt.Errorf("%w after %d draws", err, maxDraws)
}

const maxDraws = 50
