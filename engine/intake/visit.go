package intake

// System is what is known of the equipment. Everything is optional but what an
// operation says it needs.
type System struct {
	// Refrigerant by designation, in any usual spelling.
	Refrigerant string `json:"refrigerant,omitempty" example:"R-410A"`
	// Composition instead of a designation, for a blend that has none.
	Composition []Share `json:"composition,omitempty"`
	// Mode of operation.
	Mode string `json:"mode,omitempty" enums:"cooling,heating"`
	// MeteringDevice at the evaporator.
	MeteringDevice string `json:"metering_device,omitempty" enums:"fixed_orifice,capillary_tube,thermostatic_valve,electronic_valve"`
	// TargetSubcooling of the manufacturer.
	TargetSubcooling *Quantity `json:"target_subcooling,omitempty"`
	// TargetSubcoolingTolerance of the manufacturer.
	TargetSubcoolingTolerance *Quantity `json:"target_subcooling_tolerance,omitempty"`
	// TargetSuperheat of the manufacturer.
	TargetSuperheat *Quantity `json:"target_superheat,omitempty"`
	// TargetSuperheatTolerance of the manufacturer.
	TargetSuperheatTolerance *Quantity `json:"target_superheat_tolerance,omitempty"`
	// RatedEfficiency from the plate.
	RatedEfficiency *Efficiency `json:"rated_efficiency,omitempty"`
	// NominalCapacity in cooling.
	NominalCapacity *Quantity `json:"nominal_capacity,omitempty"`
	// Charge on the plate.
	Charge *Quantity `json:"charge,omitempty"`
	// Kind of equipment.
	Kind string `json:"kind,omitempty" enums:"split,packaged"`
	// CondenserCoil construction.
	CondenserCoil string `json:"condenser_coil,omitempty" enums:"fin_tube,microchannel"`
	// Accumulator in the suction line.
	Accumulator *bool `json:"accumulator,omitempty"`
	// Stages of capacity that the unit has: 1 for a single-stage unit.
	Stages *int `json:"stages,omitempty" minimum:"1" maximum:"10" example:"2"`
	// Stage at which it was held while the readings were taken, counted from the lowest.
	Stage *int `json:"stage,omitempty" minimum:"1" maximum:"10" example:"2"`
	// VariableSpeed of the compressor: without a stage at which it was held no fixed capacity is known.
	VariableSpeed *bool `json:"variable_speed,omitempty"`
	// LineSet between the two units.
	LineSet *LineSet `json:"line_set,omitempty"`
} //@name System

// Share is one component of a typed composition.
type Share struct {
	// Refrigerant is a pure fluid by designation.
	Refrigerant string `json:"refrigerant" binding:"required" example:"R-32"`
	// MassPercent of the blend.
	MassPercent *float64 `json:"mass_percent" binding:"required" example:"68.9"`
} //@name Share

// Efficiency is the rated efficiency of a unit.
type Efficiency struct {
	Metric string   `json:"metric" binding:"required" enums:"SEER,SEER2,EER"`
	Value  *float64 `json:"value" binding:"required" example:"14"`
} //@name Efficiency

// LineSet are the lines between the indoor and the outdoor unit.
type LineSet struct {
	Length                *Quantity `json:"length,omitempty"`
	FactoryIncludedLength *Quantity `json:"factory_included_length,omitempty"`
	LiquidOutsideDiameter *Quantity `json:"liquid_outside_diameter,omitempty"`
	VaporOutsideDiameter  *Quantity `json:"vapor_outside_diameter,omitempty"`
	WallThickness         *Quantity `json:"wall_thickness,omitempty"`
} //@name LineSet

// Site is where the gauges are. With neither altitude nor pressure given,
// 101.325 kPa is assumed, and the answer says so.
type Site struct {
	// Altitude above sea level.
	Altitude *Quantity `json:"altitude,omitempty"`
	// AtmosphericPressure is absolute and at the site, not a weather report's sea-level figure.
	AtmosphericPressure *Quantity `json:"atmospheric_pressure,omitempty"`
	// GaugeZero is the atmosphere at which the gauges show zero.
	GaugeZero string `json:"gauge_zero,omitempty" enums:"local_atmosphere,sea_level"`
} //@name Site

// Readings are what gauges and thermometers show. All are optional: an answer
// gives what follows from those that are there.
type Readings struct {
	SuctionPressure          *Quantity `json:"suction_pressure,omitempty"`
	SuctionLineTemperature   *Quantity `json:"suction_line_temperature,omitempty"`
	LiquidPressure           *Quantity `json:"liquid_pressure,omitempty"`
	LiquidLineTemperature    *Quantity `json:"liquid_line_temperature,omitempty"`
	DischargePressure        *Quantity `json:"discharge_pressure,omitempty"`
	DischargeLineTemperature *Quantity `json:"discharge_line_temperature,omitempty"`
	OutdoorDryBulb           *Quantity `json:"outdoor_dry_bulb,omitempty"`
	ReturnDryBulb            *Quantity `json:"return_dry_bulb,omitempty"`
	ReturnWetBulb            *Quantity `json:"return_wet_bulb,omitempty"`
	ReturnRelativeHumidity   *Quantity `json:"return_relative_humidity,omitempty"`
	SupplyDryBulb            *Quantity `json:"supply_dry_bulb,omitempty"`
	SupplyWetBulb            *Quantity `json:"supply_wet_bulb,omitempty"`
	IndoorAirflow            *Quantity `json:"indoor_airflow,omitempty"`
	DrierOutletTemperature   *Quantity `json:"drier_outlet_temperature,omitempty"`
} //@name Readings

// Instrument is the accuracy of the instrument behind one reading: a class
// (with the gauge's span where the class counts by it) or an accuracy.
type Instrument struct {
	// AccuracyClass as GET /v1/codes lists them.
	AccuracyClass string `json:"accuracy_class,omitempty" example:"grade_1a"`
	// Span is the full scale of a gauge.
	Span *Quantity `json:"span,omitempty"`
	// Accuracy is the limit of error, a difference, with its unit.
	Accuracy *Quantity `json:"accuracy,omitempty"`
} //@name Instrument

// Instruments by the name of the reading; used where a reading has no
// accuracy of its own.
type Instruments struct {
	SuctionPressure          *Instrument `json:"suction_pressure,omitempty"`
	SuctionLineTemperature   *Instrument `json:"suction_line_temperature,omitempty"`
	LiquidPressure           *Instrument `json:"liquid_pressure,omitempty"`
	LiquidLineTemperature    *Instrument `json:"liquid_line_temperature,omitempty"`
	DischargePressure        *Instrument `json:"discharge_pressure,omitempty"`
	DischargeLineTemperature *Instrument `json:"discharge_line_temperature,omitempty"`
	OutdoorDryBulb           *Instrument `json:"outdoor_dry_bulb,omitempty"`
	ReturnDryBulb            *Instrument `json:"return_dry_bulb,omitempty"`
	ReturnWetBulb            *Instrument `json:"return_wet_bulb,omitempty"`
	ReturnRelativeHumidity   *Instrument `json:"return_relative_humidity,omitempty"`
	SupplyDryBulb            *Instrument `json:"supply_dry_bulb,omitempty"`
	SupplyWetBulb            *Instrument `json:"supply_wet_bulb,omitempty"`
	IndoorAirflow            *Instrument `json:"indoor_airflow,omitempty"`
	DrierOutletTemperature   *Instrument `json:"drier_outlet_temperature,omitempty"`
} //@name Instruments

// Visit are the blocks that every question about a system may have.
type Visit struct {
	System      System      `json:"system"`
	Site        Site        `json:"site"`
	Readings    Readings    `json:"readings"`
	Instruments Instruments `json:"instruments"`
}
