package plant

import (
	"errors"
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// OperatingLimit names a state in which a real unit would not go on running as solved.
type OperatingLimit string

// The states.
const (
	// IcedCoil: the wetted coil is colder than freezing and its water freezes.
	IcedCoil OperatingLimit = "iced_coil"
	// HighPressureTrip and LowPressureTrip: a pressure switch opens.
	HighPressureTrip OperatingLimit = "high_pressure_trip"
	LowPressureTrip  OperatingLimit = "low_pressure_trip"
	// DischargeTrip: the discharge line is hotter than compressors are let run.
	DischargeTrip OperatingLimit = "discharge_temperature_trip"
	// LiquidAtCompressor: more than traces of liquid reach the compressor.
	LiquidAtCompressor OperatingLimit = "liquid_at_compressor"
)

// AllOperatingLimits lists the states.
func AllOperatingLimits() []OperatingLimit {
	return []OperatingLimit{IcedCoil, HighPressureTrip, LowPressureTrip, DischargeTrip, LiquidAtCompressor}
}

// Readings are what gauges at the outdoor unit's service ports and
// thermometers would show without error: K, Pa absolute.
type Readings struct {
	SuctionPressure, SuctionLineTemperature     float64
	LiquidPressure, LiquidLineTemperature       float64
	DischargePressure, DischargeLineTemperature float64
	OutdoorDryBulb                              float64
	ReturnDryBulb, ReturnWetBulb                float64
	ReturnRelativeHumidity                      float64 // of 1
	SupplyDryBulb, SupplyWetBulb                float64
	IndoorAirflow                               float64 // m3/s as it returns
	// DrierOutletTemperature is behind all that restricts the liquid line, before
	// the metering device.
	DrierOutletTemperature float64
}

// Inventory is where the refrigerant is, kg.
type Inventory struct {
	DischargeLine, Condenser, LiquidLine, Evaporator, SuctionLine, Accumulator, Shell, Oil float64
}

// Total is the charge.
func (i Inventory) Total() float64 {
	return i.DischargeLine + i.Condenser + i.LiquidLine + i.Evaporator + i.SuctionLine + i.Accumulator + i.Shell + i.Oil
}

// Balance is where energy goes, W.
type Balance struct {
	// Evaporator is the heat from the indoor air, Condenser that to the outdoor
	// air, Compressor the electric power, Shell what leaves the compressor's
	// shell, Suction and Liquid what the two lines take up.
	Evaporator, Condenser, Compressor, Shell, Suction, Liquid float64
}

// Result is a converged state.
type Result struct {
	Readings Readings
	// LimitsReached lists what a real unit would not hold, empty for a plausible state.
	LimitsReached []OperatingLimit

	// MassFlow in kg/s. Capacity of the coil and Power of compressor and both
	// fans in W.
	MassFlow, Capacity, Power float64
	// Superheat and Subcooling in K as they follow from the readings at the
	// service ports, by the refrigerant's dew and bubble point there. Where two
	// phases are they are zero, less than zero for a blend with glide, and the
	// subcooling is what non-condensables make of it.
	Superheat, Subcooling float64
	// EvaporatorSuperheat in K at the evaporator's outlet, and SuctionQuality,
	// above 1 for superheated vapour.
	EvaporatorSuperheat, SuctionQuality float64
	// EvaporatingTemperature and CondensingTemperature in K are the means of bubble
	// and dew point of the suction and the discharge pressure as gauges show them.
	EvaporatingTemperature, CondensingTemperature float64
	// CondenserAirRise in K over the coil.
	CondenserAirRise float64
	// WetCoil tells that the evaporator takes water out of the air.
	WetCoil   bool
	Inventory Inventory
	Balance   Balance

	start unknowns
}

// finite reports whether every number of the result is finite.
func (r *Result) finite() bool {
	x := r.Readings
	for _, v := range [...]float64{
		x.SuctionPressure, x.SuctionLineTemperature, x.LiquidPressure, x.LiquidLineTemperature, x.DischargePressure,
		x.DischargeLineTemperature, x.SupplyDryBulb, x.SupplyWetBulb, x.DrierOutletTemperature,
		r.MassFlow, r.Capacity, r.Power, r.Superheat, r.Subcooling, r.CondenserAirRise, r.Inventory.Total(),
	} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// COP is capacity over all electric power.
func (r *Result) COP() float64 { return r.Capacity / r.Power }

// result reads a converged march out.
func (u *Unit) result(x *unknowns, a *around, m *march) (Result, error) {
	if !u.fluid.inside(m.suction.p) || !u.fluid.inside(m.discharge.p) {
		return Result{}, fmt.Errorf("%w: %.4g Pa and %.4g Pa", ErrBeyondPressures, m.suction.p, m.discharge.p)
	}
	e := &m.evaporated
	supply := e.airT + a.blower/(a.indoor.mass*(airHeat+e.airW*waterHeat))
	p := unit.Pascal(a.SitePressure)
	moist, err := moistair.FromHumidityRatio(p, unit.Kelvin(supply), unit.KilogramPerKilogram(e.airW))
	if errors.Is(err, moistair.ErrSupersaturated) {
		moist, err = moistair.FromRelativeHumidity(p, unit.Kelvin(supply), unit.Fraction(1))
	}
	if err != nil {
		return Result{}, fmt.Errorf("%w: supply air: %w", ErrNotConverged, err)
	}
	r := Result{
		Readings: Readings{
			SuctionPressure: m.suction.p, SuctionLineTemperature: m.suction.t,
			LiquidPressure: m.port.p, LiquidLineTemperature: m.port.t,
			DischargePressure: m.discharge.p, DischargeLineTemperature: m.pumped.t,
			OutdoorDryBulb: a.OutdoorDryBulb, ReturnDryBulb: a.ReturnDryBulb, ReturnWetBulb: a.ReturnWetBulb,
			ReturnRelativeHumidity: a.state.RelativeHumidity().Fraction(),
			SupplyDryBulb:          supply, SupplyWetBulb: moist.WetBulb().Kelvin(),
			IndoorAirflow: a.flow, DrierOutletTemperature: m.device.t,
		},
		MassFlow: m.pumped.flow, Capacity: e.heat, Power: m.pumped.power + a.fans,
		Superheat: m.suction.t - m.suction.dew, Subcooling: m.port.bubble - m.port.t,
		EvaporatorSuperheat: m.superheat, SuctionQuality: m.suction.quality(m.suction.h),
		EvaporatingTemperature: 0.5 * (m.suction.bubble + m.suction.dew), CondensingTemperature: 0.5 * (m.discharge.bubble + m.discharge.dew),
		CondenserAirRise: m.condensed.airOut - a.OutdoorDryBulb, WetCoil: e.wet,
		Inventory: m.inventory,
		Balance: Balance{
			Evaporator: e.heat, Condenser: m.condensed.heat, Compressor: m.pumped.power,
			Shell: m.pumped.heat, Suction: m.suctionHeat, Liquid: m.liquidHeat,
		},
		start: *x,
	}
	frost := 0. // air too dry for a dew point frosts nothing
	if dew, err := a.state.DewPoint(); err == nil {
		frost = min(dew.Kelvin(), freezingPoint)
	}
	for _, s := range []struct {
		is   bool
		name OperatingLimit
	}{
		{e.surface < frost && e.shares[0] > 0, IcedCoil},
		{m.discharge.dew > u.limits.highPressure, HighPressureTrip},
		{m.suction.dew < u.limits.lowPressure, LowPressureTrip},
		{m.pumped.t > u.limits.discharge, DischargeTrip},
		{r.SuctionQuality < 1-u.limits.liquid, LiquidAtCompressor},
	} {
		if s.is {
			r.LimitsReached = append(r.LimitsReached, s.name)
		}
	}
	if !r.finite() {
		return Result{}, fmt.Errorf("%w: a reading is no number", ErrNotConverged)
	}
	return r, nil
}
