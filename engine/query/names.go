package query

// Modes of operation of a System.
const (
	ModeCooling = "cooling"
	ModeHeating = "heating"
)

// Metering devices of a System.
const (
	FixedOrifice      = "fixed_orifice"
	CapillaryTube     = "capillary_tube"
	ThermostaticValve = "thermostatic_valve"
	ElectronicValve   = "electronic_valve"
)

// Kinds of a System, and constructions of its condenser coil.
const (
	KindSplit        = "split"
	KindPackaged     = "packaged"
	CoilFinTube      = "fin_tube"
	CoilMicrochannel = "microchannel"
)

// Metrics of an Efficiency.
const (
	MetricSEER  = "SEER"
	MetricSEER2 = "SEER2"
	MetricEER   = "EER"
)

// What gauges of a Site count from.
const (
	GaugeZeroLocalAtmosphere = "local_atmosphere"
	GaugeZeroSeaLevel        = "sea_level"
)

// What the accuracy of a Quantity is.
const (
	AccuracyLimitOfError = "limit_of_error"
	AccuracyNormal95     = "normal_95"
)

// Units of a Presentation.
const (
	UnitsIP = "ip"
	UnitsSI = "si"
)

// Types of refrigerants.
const (
	TypePure      = "pure"
	TypeAzeotrope = "azeotrope"
	TypeZeotrope  = "zeotrope"
)

// What enthalpy and entropy count from.
const (
	ReferenceIIR                = "iir"
	ReferenceNormalBoilingPoint = "normal_boiling_point"
	ReferenceNone               = "none"
)

// Saturation lines, and why a curve ends.
const (
	LineBubble       = "bubble"
	LineDew          = "dew"
	EndsNearCritical = "near_critical"
	EndsRetrograde   = "retrograde"
)

// Assessments of a diagnosis.
const (
	AssessmentNoFaultIndicated = "no_fault_indicated"
	AssessmentFaultIndicated   = "fault_indicated"
	AssessmentInconclusive     = "inconclusive"
)

// Faults of a system, by place, and what a scenario without one is called.
const (
	FaultNone                   = "no_fault"
	FaultUndercharge            = "undercharge"
	FaultOvercharge             = "overcharge"
	FaultLowIndoorAirflow       = "low_indoor_airflow"
	FaultLowOutdoorAirflow      = "low_outdoor_airflow"
	FaultLiquidLineRestriction  = "liquid_line_restriction"
	FaultNonCondensables        = "non_condensables"
	FaultCompressorValveLeakage = "compressor_valve_leakage"
)

// What a target rests on.
const (
	BasisManufacturer   = "manufacturer"
	BasisChargingChart  = "charging_chart"
	BasisCommonPractice = "common_practice"
	BasisAsked          = "asked"
)

// Verdicts of a ReadingCheck.
const (
	VerdictImpossible = "impossible"
	VerdictDoubtful   = "doubtful"
)

// How readings may be understood.
const (
	InterpretationAsRead           = "as_read"
	InterpretationHosesSwapped     = "hoses_swapped"
	InterpretationOtherRefrigerant = "other_refrigerant"
)

// Faults that expected readings compare.
const (
	CompareAll = "all"
)

// Findings of a standing pressure.
const (
	FindingNoPressure           = "no_pressure"
	FindingVaporOnly            = "vapor_only"
	FindingSomeLiquidIndicated  = "some_liquid_indicated"
	FindingAboveSaturation      = "above_saturation"
	FindingNotEqualized         = "not_equalized"
	FindingSupercritical        = "supercritical"
	FindingPortNotOpenSuspected = "port_not_open_suspected"
)

// Service ports.
const (
	PortSuction = "suction"
	PortLiquid  = "liquid"
)

// Whether a series has settled.
const (
	StatusSteady   = "steady"
	StatusSettling = "settling"
	StatusCycling  = "cycling"
	StatusTooShort = "too_short"
)

// Sides, ports and shut-offs of a hose.
const (
	SideLow                = "low"
	SideHigh               = "high"
	SideCenter             = "center"
	HosePortCore           = "core"
	HosePortFrontSeatValve = "front_seat_valve"
	HosePortBackSeatValve  = "back_seat_valve"
	HosePortQuickCoupler   = "quick_coupler"
	ShutoffNone            = "none"
	ShutoffLowLoss         = "low_loss"
	ShutoffBallValve       = "ball_valve"
)

// What refrigerant is in a hose or at a state.
const (
	PhaseSubcooledLiquid  = "subcooled_liquid"
	PhaseSuperheatedVapor = "superheated_vapor"
	PhaseTwoPhase         = "two_phase"
	PhaseSupercritical    = "supercritical"
	PhaseEmpty            = "empty"
)

// Ways of taking hoses off.
const (
	OptionDisconnectAsIs    = "disconnect_as_is"
	OptionDrawBackToSuction = "draw_back_to_suction"
	OptionRecoverToCylinder = "recover_to_cylinder"
)

// What a capped hose holds, and why it has no pressure.
const (
	CappedLiquidLeftIn        = "liquid_left_in"
	CappedVaporLeftIn         = "vapor_left_in"
	PressureBeyondTheEquation = "beyond_the_equation"
	PressureNotResolved       = "not_resolved"
)

// How an estimate compares with a rating.
const (
	VersusAbove           = "above"
	VersusNotResolved     = "not_resolved"
	VersusBelowByEstimate = "below_by_estimate"
	VersusRatingUnknown   = "rating_unknown"
)

// Sets of global warming potentials, by report of the IPCC.
const (
	GWPAR4 = "ar4"
	GWPAR5 = "ar5"
	GWPAR6 = "ar6"
)

// What leaves a leaking blend, and how its path ended.
const (
	LeavingVapor           = "vapor"
	LeavingLiquid          = "liquid"
	EndingReached          = "reached"
	EndingPressureBalanced = "pressure_balanced"
)

// States and processes of a circuit on its diagram.
const (
	StateSuctionLine     = "suction_line"
	StateDischargeLine   = "discharge_line"
	StateLiquidLine      = "liquid_line"
	StateAfterExpansion  = "after_expansion"
	ProcessCompression   = "compression"
	ProcessHeatRejection = "heat_rejection"
	ProcessExpansion     = "expansion"
	ProcessEvaporation   = "evaporation"
)

// How a port was left, in a visit record.
const (
	CoreTight          = "tight"
	CoreLeaking        = "leaking"
	CoreReplaced       = "replaced"
	CoreNotChecked     = "not_checked"
	LeakCheckNoneFound = "no_leak_found"
	LeakCheckLeaking   = "leaking"
	LeakCheckNotDone   = "not_done"
)

// Parts of a visit record.
const (
	PartBeforeStart = "before_start"
	PartRunning     = "running"
	PartAfterChange = "after_change"
	PartGaugesOff   = "gauges_off"
)

// How a visit record is hashed.
const (
	HashSHA256       = "SHA-256"
	CanonicalRFC8785 = "RFC 8785"
)
