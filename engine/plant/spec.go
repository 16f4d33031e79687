package plant

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equipment"
)

// Spec is a system by what its manufacturer and its installer decide, in SI units.
// Differences are at the [Rating] conditions.
type Spec struct {
	Device equipment.MeteringDevice
	// Capacity of the coil at the rating point, W.
	Capacity float64
	// CondensingOverAmbient is the mean of bubble and dew point at the
	// condenser's inlet above the outdoor air, EvaporatorTemperatureDifference the return
	// air above the mean of bubble and dew point at the suction port; K.
	CondensingOverAmbient, EvaporatorTemperatureDifference float64
	// Superheat in K: at the suction port for an orifice or a capillary, which
	// are charged by it, at the evaporator's outlet for a valve, which keeps it.
	Superheat float64
	// Subcooling in K at the liquid port.
	Subcooling float64
	// IndoorAirflow in m3/s of return air.
	IndoorAirflow float64
	// CondenserEffectiveness is the rise of the outdoor air over CondensingOverAmbient.
	CondenserEffectiveness float64
	// LineLength in m, one way.
	LineLength float64
	// BlowerPower and FanPower in W.
	BlowerPower, FanPower float64
	// Accumulator is its volume in m3, zero where there is none.
	Accumulator float64

	Compressor            CompressorSpec
	Condenser, Evaporator CoilSpec
	Lines                 LineSpec
	Valve                 ValveSpec
	Orifice               OrificeSpec
	// CapillaryLength and CapillaryBore in m.
	CapillaryLength, CapillaryBore float64
	Limits                         LimitSpec
}

// CompressorSpec are shares of 1 but for the two ratios.
type CompressorSpec struct {
	Efficiency                  float64 // best overall isentropic efficiency, motor included
	BestRatio, EfficiencyFall   float64 // pressure ratio of it; k of 1/(1 + k ln²)
	Clearance, Filling, Heating float64 // clearance, full volumetric efficiency, heat loss
	// Shell is the volume of suction gas, m3 a W of capacity; Oil kg a W; OilMolarMass kg/mol.
	Shell, Oil, OilMolarMass float64
}

// CoilSpec describes a coil apart from its size, which the design finds.
type CoilSpec struct {
	// TubeShare is the refrigerant's share in the whole resistance of the
	// two-phase zone, dry; GasRatio and LiquidRatio are the conductances of the
	// other zones over that of the two-phase zone, refrigerant side.
	TubeShare, GasRatio, LiquidRatio float64
	// AirExponent is the power of the air flow in the air-side conductance.
	AirExponent float64
	// Volume inside the tubes, m3 a W of capacity; MassFlux kg/(m2 s); Bore m.
	Volume, MassFlux, Bore float64
	// Drop is the pressure drop as a change of the saturation temperature, K.
	Drop float64
}

// LineSpec describes the lines.
type LineSpec struct {
	SuctionVelocity, LiquidVelocity float64 // m/s, at the rating point
	// SuctionBore and LiquidBore in m, where known, take the place of the velocities.
	SuctionBore, LiquidBore      float64
	SuctionGain, LiquidGain      float64 // W/(m2 K) of inner surface
	DischargeVolume, DrierVolume float64 // m3 a W
	AccumulatorBleed             float64 // share of liquid in the flow at which it is full
}

// ValveSpec describes a valve.
type ValveSpec struct {
	// Static is the superheat at which it begins to open over that at rating;
	// Reserve by how much of its rated flow it can open further.
	Static, Reserve float64
}

// OrificeSpec describes a fixed orifice: by what share of the saturation
// pressure delayed flashing lowers the pressure at its outlet, and how much of
// that each part of subcooling over temperature takes away.
type OrificeSpec struct{ FlashDelay, FlashDelayBySubcooling float64 }

// LimitSpec is where a real unit stops: dew points of the discharge and the
// suction pressure and discharge temperature in K, liquid as a share of the flow.
type LimitSpec struct {
	HighPressureDew, LowPressureDew, Discharge, Liquid float64
}

func (s *Spec) check() error {
	var faults []error
	positive := func(name string, v float64) {
		if !(v > 0) || math.IsInf(v, 0) {
			faults = append(faults, fmt.Errorf("%w: %s %v is not positive", ErrDesign, name, v))
		}
	}
	notNegative := func(name string, v float64) {
		if !(v >= 0) || math.IsInf(v, 0) {
			faults = append(faults, fmt.Errorf("%w: %s %v is negative", ErrDesign, name, v))
		}
	}
	share := func(name string, v float64) {
		if !(v > 0 && v < 1) {
			faults = append(faults, fmt.Errorf("%w: %s %v is not between 0 and 1", ErrDesign, name, v))
		}
	}
	if !s.Device.Known() {
		faults = append(faults, fmt.Errorf("%w: unknown metering device %q", ErrDesign, s.Device))
	}
	positive("capacity", s.Capacity)
	positive("condensing over ambient", s.CondensingOverAmbient)
	positive("evaporator temperature difference", s.EvaporatorTemperatureDifference)
	positive("superheat", s.Superheat)
	positive("subcooling", s.Subcooling)
	positive("indoor airflow", s.IndoorAirflow)
	share("condenser effectiveness", s.CondenserEffectiveness)
	positive("line length", s.LineLength)
	notNegative("blower power", s.BlowerPower)
	notNegative("fan power", s.FanPower)
	notNegative("accumulator", s.Accumulator)
	c := s.Compressor
	share("compressor efficiency", c.Efficiency)
	positive("best pressure ratio", c.BestRatio)
	notNegative("fall of the efficiency", c.EfficiencyFall)
	notNegative("clearance", c.Clearance)
	positive("filling", c.Filling)
	notNegative("heat loss", c.Heating)
	notNegative("shell", c.Shell)
	notNegative("oil", c.Oil)
	positive("molar mass of the oil", c.OilMolarMass)
	for _, k := range []struct {
		name string
		CoilSpec
	}{{"condenser", s.Condenser}, {"evaporator", s.Evaporator}} {
		share(k.name+" tube share", k.TubeShare)
		positive(k.name+" gas ratio", k.GasRatio)
		positive(k.name+" liquid ratio", k.LiquidRatio)
		positive(k.name+" air exponent", k.AirExponent)
		positive(k.name+" volume", k.Volume)
		positive(k.name+" mass flux", k.MassFlux)
		positive(k.name+" bore", k.Bore)
		notNegative(k.name+" drop", k.Drop)
	}
	positive("suction velocity", s.Lines.SuctionVelocity)
	positive("liquid velocity", s.Lines.LiquidVelocity)
	notNegative("suction bore", s.Lines.SuctionBore)
	notNegative("liquid bore", s.Lines.LiquidBore)
	notNegative("suction gain", s.Lines.SuctionGain)
	notNegative("liquid gain", s.Lines.LiquidGain)
	notNegative("discharge volume", s.Lines.DischargeVolume)
	notNegative("drier volume", s.Lines.DrierVolume)
	positive("accumulator bleed", s.Lines.AccumulatorBleed)
	switch {
	case s.Device == equipment.FixedOrifice:
		share("delayed flashing", s.Orifice.FlashDelay)
		notNegative("loss of delay by subcooling", s.Orifice.FlashDelayBySubcooling)
	case s.Device == equipment.CapillaryTube:
		positive("capillary length", s.CapillaryLength)
		positive("capillary bore", s.CapillaryBore)
	case s.Device.Valve():
		share("static superheat", s.Valve.Static)
		positive("valve reserve", s.Valve.Reserve)
	}
	positive("high pressure limit", s.Limits.HighPressureDew)
	positive("low pressure limit", s.Limits.LowPressureDew)
	positive("discharge limit", s.Limits.Discharge)
	positive("liquid limit", s.Limits.Liquid)
	return errors.Join(faults...)
}
