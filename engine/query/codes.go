package query

import (
	"slices"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/charge"
	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/diagram"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/hose"
	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/stability"
	"github.com/knurl-hvacr/knurl/engine/standing"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/refdata"
)

// CodesQuestion asks for every code of the wire.
type CodesQuestion struct{}

// CodesAnswer lists every code with its English text, for translators.
type CodesAnswer struct {
	Codes []CodeEntry `json:"codes"`
} //@name Codes

// CodeEntry is one code. Codes are stable, texts may improve.
type CodeEntry struct {
	// Kind of place where the code stands.
	Kind string `json:"kind" example:"caution"`
	Code string `json:"code" example:"manufacturer_figure_wins"`
	Text string `json:"text"`
} //@name CodeEntry

// The kinds of places where codes stand.
const (
	kindFault          = "fault"
	kindAssumption     = "assumption"
	kindCheck          = "reading_check"
	kindMeaning        = "meaning"
	kindReason         = "reason"
	kindAlternative    = "alternative"
	kindCaution        = "caution"
	kindReading        = "reading"
	kindQuantity       = "quantity"
	kindClass          = "accuracy_class"
	kindFinding        = "fault_of_system"
	kindVerdict        = "assessment"
	kindWhy            = "inconclusive_because"
	kindNextCheck      = "next_check"
	kindStep           = "procedure_step"
	kindOutcome        = "procedure_outcome"
	kindCharge         = "charge"
	kindStanding       = "standing_pressure_finding"
	kindMeans          = "finding_means"
	kindOpen           = "finding_does_not_tell"
	kindDoubt          = "doubt"
	kindSteadiness     = "steadiness"
	kindPort           = "port"
	kindHose           = "hose"
	kindWay            = "hose_option"
	kindUnavailable    = "unavailable_because"
	kindVersus         = "versus_limit"
	kindFill           = "cylinder_fill"
	kindHoseStep       = "hose_step"
	kindOpenPoint      = "open_point"
	kindExplains       = "explained_by"
	kindHypothesis     = "hypothesis"
	kindLoss           = "loss"
	kindSeverity       = "severity_of"
	kindInterpretation = "interpretation"
	kindPlan           = "gauges"
	kindBasis          = "basis"
	kindDevice         = "metering_device"
	kindCheckResult    = "reading_check_verdict"
	kindReference      = "enthalpy_reference"
	kindState          = "circuit_state"
	kindWouldNot       = "would_not_hold"
	kindProcess        = "circuit_process"
)

var codeTable = []CodeEntry{
	{kindFault, CodeSyntax, "The body or the query string is not well formed."},
	{kindFault, CodeUnknownMember, "There is no member or parameter of this name."},
	{kindFault, CodeRepeatedMember, "A member or parameter is given more than once."},
	{kindFault, CodeWrongType, "The value is of another type than expected."},
	{kindFault, CodeUnknownUnit, "There is no unit of this name."},
	{kindFault, CodeMissingUnit, "A number without a unit: units are never guessed."},
	{kindFault, CodeMissingValue, "A quantity without its number."},
	{kindFault, CodeUnknownName, "The name is none of those that may stand here."},
	{kindFault, CodeWrongKind, "The unit measures something else than what is asked for here."},
	{kindFault, CodeOutOfRange, "The value lies outside what can be."},
	{kindFault, CodeContradiction, "Two things that are given exclude each other."},
	{kindFault, CodeMissing, "Something that the answer needs is missing."},
	{kindFault, CodeUnknownRefrigerant, "The refrigerant is not in the catalogue."},
	{kindFault, CodeAboveCritical, "Beyond the critical point there is no boiling and no condensing."},
	{kindFault, CodeBelowRange, "Below what the equations cover."},
	{kindFault, CodeNearCritical, "Too near the critical point for liquid and vapor to be told apart."},
	{kindFault, CodeTwoLiquids, "By the model the liquid splits in two here."},
	{kindFault, CodeNotConverged, "The equations gave no answer here."},
	{kindFault, CodeTooMany, "More is asked for than one question may."},

	{kindReason, string(target.BelowMethodRange), "The conditions lie below the published range of the method; nothing is extrapolated."},
	{kindReason, string(target.AboveMethodRange), "The conditions lie above the published range of the method; nothing is extrapolated."},
	{kindReason, string(target.TargetTooLow), "Under these conditions the target would be less than 5 degF: no valid test of superheat is possible."},
	{kindReason, string(target.TableGap), "The table has no figure for air this dry."},
	{kindReason, "readings_missing", "A reading that the target needs is missing."},
	{kindReason, notGiven, "The sources used here do not give it."},
	{kindReason, solidHere, "Below its triple point there is no liquid: it goes from solid to vapor."},
	{kindReason, extrapolatedHere, "A component would be solid here, or its equation ends: the figure is extrapolated."},

	{kindAlternative, string(target.RaiseIndoorLoad), "Raise the indoor load (heat, open windows) and read again once steady."},
	{kindAlternative, string(target.RetestLater), "Come back under conditions inside the method's range."},
	{kindAlternative, string(target.WeighIn), "Recover and weigh the charge in by the plate, corrected for the line set."},
	{kindAlternative, string(target.ManufacturerData), "Use the manufacturer's charging data."},
	{kindAlternative, string(target.SubcoolingForValve), "If an expansion valve is installed, charge by the manufacturer's subcooling."},
	{kindAlternative, string(target.MeasureAirflow), "Measure the airflow."},

	{kindAssumption, string(circuit.LiquidForDischarge), "No discharge pressure was read: the liquid pressure stands in for it, lower by the drop across the condenser."},
	{kindAssumption, string(circuit.DischargeForLiquid), "No liquid pressure was read: the discharge pressure stands in for it, higher by the drop across the condenser."},
	{kindAssumption, string(circuit.CoilIsMean), "A coil's temperature is the mean of bubble and dew point at its pressure; with glide there is no single one."},
	{kindAssumption, string(circuit.IndependentInstruments), "Instruments err independently of each other; what gauges share through the air's pressure is kept."},
	{kindAssumption, "coverage_factor", "Uncertainties are half-widths of 95 % intervals with coverage factor 1.96."},
	{kindAssumption, "sea_level", "Neither altitude nor air pressure was given: the standard atmosphere at sea level is assumed."},
	{kindAssumption, "standard_atmosphere", "The air's pressure is taken from the altitude."},
	{kindAssumption, "barometer_accuracy", "The air's pressure was given without an accuracy: 0.1 kPa is assumed."},
	{kindAssumption, "gauge_zero_sea_level", "The gauges show zero at 101.325 kPa whatever the site."},
	{kindAssumption, "default_instruments", "No accuracy was given for some readings: customary limits of error are assumed."},
	{kindAssumption, "nominal_airflow", "The charging table holds for about 400 cfm a ton of indoor airflow: check airflow before charge."},
	{kindAssumption, "leak_isothermal", "The leak is slow enough for one constant temperature all over."},
	{kindAssumption, "leak_well_mixed", "Liquid and vapor are in equilibrium all the time and each is well mixed; in a real circuit oil, lines and a running compressor change that."},
	{kindAssumption, "usual_service_temperatures", "Where no pressures are given, shifts are judged where the nominal blend evaporates at 40 degF and condenses at 105 degF (common practice, no single source)."},
	{kindAssumption, "ideal_moist_air", "Air and vapor are taken as perfect gases: at saturation the humidity ratio lies about 0.5 % below real-gas tables."},
	{kindAssumption, "composition_from_memory", "The composition stands here from memory and is unverified."},
	{kindAssumption, "estimated_mixing", "For a pair of components no mixing parameters are published: they are combined linearly."},
	{kindAssumption, "safety_group_unknown", "No safety group is given here: treat the refrigerant as flammable and toxic until its label says otherwise."},
	{kindAssumption, "iir_reference", "Enthalpy and entropy count from 200 kJ/kg and 1 kJ/(kg K) for bubble liquid at 0 degC (IIR)."},
	{kindAssumption, "boiling_point_reference", "Enthalpy and entropy count from zero for bubble liquid at 101.325 kPa."},
	{kindAssumption, "below_triple_point", "A component would be solid here, or its equation ends: the answer is extrapolated."},

	{kindMeaning, "superheat_below_zero", "There is no superheat: liquid is coming back towards the compressor, or a reading is wrong. Check clamp, gauge and refrigerant before anything else."},
	{kindMeaning, "superheat_near_zero", "Within the instruments' uncertainty superheat may be zero: liquid may be coming back towards the compressor."},
	{kindMeaning, "subcooling_below_zero", "There is no subcooling: liquid and vapor run together in the liquid line, or a reading is wrong."},
	{kindMeaning, "subcooling_near_zero", "Within the instruments' uncertainty subcooling may be zero: there may be vapor in the liquid line."},

	{kindCheck, circuit.SuctionAboveLiquid, "The suction pressure is not below the liquid pressure: the compressor is not running, or the hoses are swapped."},
	{kindCheck, circuit.PressuresNearlyEqual, "The two pressures are nearly equal: the compressor hardly pumps, or is not running."},
	{kindCheck, circuit.DischargeBelowLiquid, "The discharge pressure lies below the liquid pressure: a gauge is off or the ports are swapped."},
	{kindCheck, circuit.ReturnWetAboveDry, "The return wet bulb lies above the dry bulb, which cannot be: look at wick, water and sensor."},
	{kindCheck, circuit.SupplyWetAboveDry, "The supply wet bulb lies above the dry bulb, which cannot be: look at wick, water and sensor."},
	{kindCheck, circuit.SupplyWarmerThanReturn, "The supply air is warmer than the return air although the unit is said to cool: probes swapped, or heating."},
	{kindCheck, circuit.SupplyWetterThanReturn, "The supply wet bulb lies above the return wet bulb: a cooling coil takes heat out of the air."},
	{kindCheck, circuit.LiquidColderThanAir, "The liquid line is colder than any air that it meets: the clamp may sit on the wrong line."},
	{kindCheck, circuit.LiquidAboveCondensing, "The liquid line is warmer than the refrigerant condenses: clamp on the discharge line, or the wrong refrigerant selected."},
	{kindCheck, circuit.DischargeTooCold, "The discharge line is colder than the refrigerant condenses: clamp reading air, or liquid at the compressor."},
	{kindCheck, circuit.SuctionTooCold, "The suction line is colder than the refrigerant evaporates: gauge, clamp or selected refrigerant is wrong."},
	{kindCheck, circuit.EvaporatorAboveReturn, "The evaporator is warmer than the air that it should cool."},
	{kindCheck, circuit.CondenserBelowOutdoor, "The condenser is colder than the outdoor air into which it should give heat: air in the shade of the coil not read, too little refrigerant, or another refrigerant."},
	{kindCheck, circuit.SuctionLineAboveReturn, "The suction line is warmer than the return air: the clamp may read the air, or sit on another line; far too little refrigerant does that too."},
	{kindCheck, circuit.DischargeBelowLine, "The discharge line is colder than the liquid line, which cannot be while the compressor pumps: clamps swapped, or one reads air."},
	{kindExplains, circuit.ProbesSwapped, "Two probes are swapped."},
	{kindExplains, circuit.ClampReadsAir, "A clamp reads the air: it sits loose, dirty, uninsulated or in the sun."},
	{kindExplains, circuit.ClampOnOtherLine, "A clamp sits on another line than it was entered for."},
	{kindExplains, circuit.GaugeNotZeroed, "A gauge was not zeroed, or was zeroed at another height."},
	{kindExplains, circuit.WickDry, "The wick is dry or dirty, or the sensor is wrong."},
	{kindExplains, circuit.CompressorNotPumping, "The compressor is not running, or does not pump."},
	{kindExplains, circuit.LiquidToCompressor, "Liquid comes back to the compressor."},
	{kindExplains, circuit.NotCooling, "The unit is not cooling: it heats, defrosts or only blows."},
	{kindExplains, circuit.Restriction, "A restriction before the port chills the liquid."},
	{kindExplains, circuit.SunOnSensor, "The air was read in another place than where the coil takes it in, or in the sun."},
	{kindCheck, circuit.DrierOutletWarmer, "The liquid line is warmer behind the filter-drier than before it: clamps swapped."},
	{kindCheck, circuit.NoSaturationAtPressure, "The refrigerant has no saturation at this pressure."},

	{kindCheckResult, string(circuit.Impossible), "Cannot be while the system runs, well beyond what the instruments may be off."},
	{kindCheckResult, string(circuit.Doubtful), "Can hardly be; look again before building on it."},

	{kindVerdict, string(diagnosis.NoFaultIndicated), "Nothing in these readings points to a fault; that does not mean there is none."},
	{kindVerdict, string(diagnosis.FaultIndicated), "These readings point to a fault."},
	{kindVerdict, string(diagnosis.Inconclusive), "These readings do not decide it."},

	{kindFinding, string(equipment.Undercharge), "Too little refrigerant in the circuit."},
	{kindFinding, string(equipment.Overcharge), "Too much refrigerant in the circuit."},
	{kindFinding, string(equipment.LowIndoorAirflow), "Too little air over the indoor coil, or a dirty coil."},
	{kindFinding, string(equipment.LowOutdoorAirflow), "Too little air over the outdoor coil, or a dirty coil."},
	{kindFinding, string(equipment.LiquidLineRestriction), "A restriction in the liquid line, filter-drier or metering device."},
	{kindFinding, string(equipment.NonCondensables), "Air or nitrogen in the circuit."},
	{kindFinding, string(equipment.CompressorValveLeakage), "Gas leaks back from the high to the low side, in the compressor or the reversing valve."},

	{kindHypothesis, diagnosis.NoFault, "None of the known faults is there."},
	{kindHypothesis, diagnosis.Unexplained, "Something else than the known faults, or readings that do not belong together."},
	{kindHypothesis, diagnosis.TwoFaults, "Two faults at once, among systems with a fault."},

	{kindBasis, string(diagnosis.Manufacturer), "The manufacturer's own figure, as the question gave it."},
	{kindBasis, string(diagnosis.ChargingChart), "A published table over the air's temperatures."},
	{kindBasis, string(diagnosis.CommonPractice), "A customary figure of the trade: the manufacturer's own goes before it."},

	{kindDevice, string(equipment.FixedOrifice), "A fixed orifice or piston."},
	{kindDevice, string(equipment.CapillaryTube), "A capillary tube."},
	{kindDevice, string(equipment.ThermostaticValve), "A thermostatic expansion valve."},
	{kindDevice, string(equipment.ElectronicValve), "An electronic expansion valve."},

	{kindReference, refrigerant.IIR, "Enthalpy 200 kJ/kg and entropy 1 kJ/(kg K) for bubble liquid at 0 degC."},
	{kindReference, refrigerant.BoilingPoint, "Enthalpy and entropy zero for bubble liquid at 101.325 kPa."},

	{kindState, string(diagram.SuctionLine), "Vapor in the suction line, at the service port."},
	{kindState, string(diagram.DischargeLine), "Hot gas in the discharge line."},
	{kindState, string(diagram.LiquidLine), "Liquid in the liquid line, ahead of the metering device."},
	{kindState, string(diagram.AfterExpansion), "Liquid and vapor behind the metering device."},
	{kindProcess, string(diagram.Compression), "The compressor raises pressure and enthalpy."},
	{kindProcess, string(diagram.HeatRejection), "The condenser, or the gas cooler, gives heat to the air."},
	{kindProcess, string(diagram.Expansion), "The metering device lets the pressure fall; the enthalpy stays."},
	{kindProcess, string(diagram.Evaporation), "The evaporator takes heat from the air."},
	{kindMeaning, "phase_not_resolved", "Within the instruments' uncertainty there may be liquid and vapor side by side here: the enthalpy could then lie anywhere in the dome at this pressure."},
	{kindReason, "two_phases_no_enthalpy", "Pressure and temperature do not lie on the side of the dome where this state belongs: liquid and vapor run side by side, or a reading is wrong. They give no enthalpy."},
	{kindAssumption, "region_coverage", "Regions hold a state with 95 % probability: the ellipse of pressure and temperature with a radius of 2.45 standard uncertainties (two variables, normal distribution), mapped to enthalpy."},
	{kindAssumption, "expansion_keeps_enthalpy", "The metering device and the lines beside it exchange no heat, and the pressure behind it is that of the suction port: drops of pressure in evaporator and suction line are left out."},
	{kindAssumption, "legs_straight", "Between two states nothing was measured: they are joined by straight lines."},

	{kindWhy, string(diagnosis.HeatingMode), "The published methods hold in cooling only."},
	{kindWhy, string(diagnosis.StageNotHeld), "The published methods need a unit that runs at one known capacity."},
	{kindWhy, string(diagnosis.OutdoorBelowMethod), "It is colder outdoors than the method allows (55 degF): come back in warmer weather."},
	{kindWhy, string(diagnosis.OutdoorAboveMethod), "It is hotter outdoors than the method's table reaches (115 degF)."},
	{kindWhy, string(diagnosis.RunningTimeTooShort), "The system has not run for 15 minutes yet."},
	{kindWhy, string(diagnosis.ReadingCheckFailed), "Readings contradict each other: settle that first."},
	{kindWhy, string(diagnosis.MeteringDeviceUnknown), "Which metering device is fitted decides what the readings mean."},
	{kindWhy, string(diagnosis.TooFewReadings), "There are too few readings for an inference."},
	{kindWhy, string(diagnosis.ProbabilitiesTooClose), "Several explanations are about equally likely."},
	{kindWhy, string(diagnosis.TargetUnavailable), "The quantity that decides about charge has no target under these conditions."},
	{kindWhy, string(diagnosis.ReturnAirOutsideModel), "The return air lies outside what the model of systems was made for (63 to 90 degF)."},
	{kindWhy, string(diagnosis.OtherInterpretation), "The readings fit another interpretation better than the one they were typed with: settle that first."},
	{kindWhy, string(diagnosis.RefrigerantNotCovered), "The model of systems does not reach this refrigerant."},
	{kindWhy, string(diagnosis.NoPatternFits), "The readings fit none of the known patterns."},

	{kindAssumption, string(diagnosis.SingleStageAssumed), "Nothing was said of stages or variable speed: one fixed capacity is assumed."},
	{kindAssumption, string(diagnosis.RunningTimeAssumed), "No running time was given: the system is taken as settled (about 15 minutes, common practice)."},
	{kindAssumption, string(diagnosis.PriorAssumed), "Probabilities before any reading are an assumed mix of what is met in the field; no published source."},
	{kindAssumption, string(diagnosis.LossesAssumed), "What is said has the least expected loss by an assumed table, in which a false alarm costs five times an open answer; no published source."},
	{kindAssumption, string(diagnosis.ModelOfSystems), "What each explanation would show comes from a model of many systems in steady state, widened by what such models miss; many of its ranges are from memory, unverified."},
	{kindAssumption, string(diagnosis.FaultsThatMatter), "A fault stands for one that takes at least 5 percent of capacity or efficiency; smaller ones count little and may be passed over."},
	{kindAssumption, string(diagnosis.AirPartlyUnread), "Outdoor or return air that nobody read is taken as anything usual: the answer is the wider for it."},
	{kindAssumption, "interpretations_prior", "That hoses are swapped, or another refrigerant is in the system, is taken as 3 percent each before any reading; assumed, no published source."},
	{kindAssumption, "gauges_expected", "The pressures in the hoses are those that the readings so far lead one to expect."},
	{kindLoss, diagnosis.FalseAlarm, "Saying a fault where there is none."},
	{kindLoss, diagnosis.WrongFault, "Saying another fault than the one that is there."},
	{kindLoss, diagnosis.MissedFault, "Saying that nothing is wrong where something is."},
	{kindInterpretation, asRead, "The readings as they were typed, with the refrigerant as it was selected."},
	{kindInterpretation, hosesSwapped, "The two hoses are swapped: the low-side gauge shows the high side."},
	{kindInterpretation, otherRefrigerant, "Another refrigerant is in the system than the one that was selected: look at the plate, the label and the cylinder before anything is added."},
	{kindSeverity, "of_rated_charge", "Of the rated charge."},
	{kindSeverity, "of_rated_airflow", "Of the rated air flow."},
	{kindSeverity, "of_pressure_drop_to_evaporator", "Of the pressure drop from condenser to evaporator."},
	{kindSeverity, "of_gas_in_empty_circuit", "Of the mass of air that the empty circuit holds at one atmosphere."},
	{kindSeverity, "of_pumped_flow", "Of the flow that the compressor pumps."},
	{kindPlan, worthConnecting, "Gauges may well change what is said now."},
	{kindPlan, hardlyWorthConnecting, "Gauges would hardly change what is said now: weigh that against what connecting and disconnecting releases."},
	{kindAssumption, string(diagnosis.SubcoolingNotFromManufacturer), "The target subcooling is not the manufacturer's but a customary one: the plate decides."},

	{kindNextCheck, "verify_airflow_first", "Settle the indoor airflow before touching the charge."},
	{kindNextCheck, "compare_manufacturer_data", "Compare with the manufacturer's charging data."},
	{kindNextCheck, "leak_check", "Look for a leak: refrigerant does not wear out."},
	{kindNextCheck, "inspect_air_filter", "Look at the air filter."},
	{kindNextCheck, "inspect_indoor_coil", "Look at the indoor coil for dirt and ice."},
	{kindNextCheck, "inspect_blower_and_ducts", "Look at blower speed, wheel, registers and ducts."},
	{kindNextCheck, "measure_indoor_airflow", "Measure the indoor airflow."},
	{kindNextCheck, "inspect_outdoor_coil", "Look at the outdoor coil for dirt and bent fins."},
	{kindNextCheck, "inspect_outdoor_fan", "Look at the outdoor fan: blade, direction, capacitor, speed."},
	{kindNextCheck, "look_for_recirculating_air", "Look for discharge air drawn back into the outdoor coil."},
	{kindNextCheck, "measure_drier_temperature_drop", "Measure the temperature before and behind the filter-drier."},
	{kindNextCheck, "inspect_liquid_line", "Follow the liquid line for kinks and for a sudden cold spot."},
	{kindNextCheck, "inspect_metering_device", "Look at the metering device: screen, bulb, size."},
	{kindNextCheck, "compare_standing_pressure", "With the unit off and equalized, compare the standing pressure with saturation at the air's temperature."},
	{kindNextCheck, "compare_compressor_data", "Compare current and pressures with the compressor's data."},
	{kindNextCheck, "inspect_reversing_valve", "On a heat pump, feel for a reversing valve that leaks by."},

	{kindStep, string(diagnosis.AirflowStep), "Airflow, before charge:"},
	{kindStep, string(diagnosis.MeteringStep), "Does the metering device work:"},
	{kindStep, string(diagnosis.ChargeStep), "Charge:"},
	{kindOutcome, string(diagnosis.Pass), "within tolerance."},
	{kindOutcome, string(diagnosis.FailLowAirflow), "there is too little air; charge is not judged before that is mended."},
	{kindOutcome, string(diagnosis.PassLowCapacity), "passes, measured again, but the capacity is probably low."},
	{kindOutcome, string(diagnosis.FailHigh), "above tolerance."},
	{kindOutcome, string(diagnosis.FailLow), "below tolerance."},
	{kindOutcome, string(diagnosis.NotTested), "not tested with these readings."},

	{kindCharge, string(diagnosis.AddRefrigerant), "The charge looks low: find the leak, then add by weight or in small steps, waiting 15 minutes after each, to the manufacturer's figure."},
	{kindCharge, string(diagnosis.RemoveRefrigerant), "The charge looks high: recover in small steps, waiting 15 minutes after each, to the manufacturer's figure."},
	{kindCharge, "no_charge_fault_indicated", "Nothing is said of the charge: these readings do not point to it clearly enough, or the published procedure does not agree."},
	{kindCharge, "other_explanations_open", "The charge may be off, but another fault may be there as well, or the published procedure does not agree: settle that first."},
	{kindCharge, "charge_off_by_interval", "By how much the charge is off is an interval: take at most the first step, wait, read again and judge anew. The manufacturer's procedure goes first."},
	{kindStanding, string(standing.NoPressure), "The gauges show no pressure."},
	{kindStanding, string(standing.VaporOnly), "The pressure lies below saturation at every part: vapor alone, with little or no liquid."},
	{kindStanding, string(standing.SomeLiquid), "The pressure fits refrigerant of which some is liquid."},
	{kindStanding, string(standing.AboveSaturation), "The pressure lies above saturation at every part."},
	{kindStanding, string(standing.NotEqualized), "The two sides are not equal yet, or something keeps them apart."},
	{kindStanding, string(standing.Supercritical), "Above the critical point: there is one phase, and no saturation to compare with."},
	{kindStanding, string(standing.PortNotOpenSuspected), "One port shows no pressure while the other does."},
	{kindMeans, "means_empty", "The system may be without refrigerant: do not start it; find the leak first."},
	{kindMeans, "means_port_not_open", "The fitting may not be turned down far enough to open the port's core: it shows no pressure then. Turn it fully on and look again."},
	{kindMeans, "means_valve_front_seated", "A service valve may be front-seated and shut its port off."},
	{kindMeans, "means_side_empty", "A closed valve may have left one side empty."},
	{kindMeans, "means_little_refrigerant", "Most of the charge may have leaked."},
	{kindMeans, "means_holding_charge", "A new unit may hold nitrogen from the factory, or a leak test's."},
	{kindMeans, "means_colder_part", "Liquid may lie in a part colder than any that was read."},
	{kindMeans, "means_some_liquid", "There is refrigerant, some of it liquid at the coldest part."},
	{kindMeans, "means_non_condensables", "Air or nitrogen may be mixed in."},
	{kindMeans, "means_other_refrigerant", "It may be another refrigerant than the one named."},
	{kindMeans, "means_warmer_part", "A part may be warmer than any that was read, as in the sun or with a crankcase heater."},
	{kindMeans, "means_not_equalized", "It may have stopped a short time ago, or a tight valve holds the difference: wait."},
	{kindMeans, "means_supercritical", "The pressure depends on amount and temperature alone and says nothing of liquid."},
	{kindOpen, "tells_not_whether_empty", "Whether it is empty: a port that is not open looks the same."},
	{kindOpen, "tells_not_how_much", "How much there is: a spoonful of liquid and a full charge show the same pressure."},
	{kindOpen, "tells_not_which_gas", "Which gas it is."},
	{kindOpen, "tells_not_purity", "Whether it is pure, or the one named: others can lie in the same band."},
	{kindPort, string(standing.Suction), "The suction service port."},
	{kindPort, string(standing.Liquid), "The liquid service port."},
	{kindDoubt, string(standing.OffTimeShort), "It has rested for less than half an hour: the parts have hardly taken the temperature of the air (common practice, no single source)."},
	{kindDoubt, string(standing.OffTimeUnknown), "How long it has rested is not known."},
	{kindDoubt, string(standing.OnePortOnly), "Only one port was read: whether both sides are equal cannot be seen."},
	{kindDoubt, string(standing.WideBand), "The parts differ by more than 5 K (9 degF): the band judges little."},
	{kindDoubt, string(standing.Undecided), "The pressure lies at an edge of the band within the instruments' uncertainty."},
	{kindAssumption, "standing_margin", "Pressure and temperature of saturated refrigerant are expected to agree within 2 degF (common practice, no single source; from memory, unverified): the band is widened by that."},

	{kindSteadiness, string(stability.Steady), "Steady: what is left to go and the drift over the next 15 minutes lie within the tolerance."},
	{kindSteadiness, string(stability.Settling), "Still on its way."},
	{kindSteadiness, string(stability.Cycling), "Going up and down by more than the tolerance."},
	{kindSteadiness, string(stability.TooShort), "Too short to tell: at least 12 samples over 3 minutes are needed."},
	{kindAssumption, "steady_means", "Steady means that the drift expected over the next 15 minutes lies within the tolerance, beyond doubt at one-sided 95 %."},
	{kindAssumption, "run_time_still_counts", "The published procedure asks for 15 minutes of running before any reading, steady or not."},
	{kindAssumption, "steady_tolerances", "Where no tolerance is given: 1 degF, 2 psi (suction), 5 psi (liquid, discharge), 2 % relative humidity, 5 % of the airflow (common practice, no single source)."},

	{kindHose, string(hose.FilledWithLiquid), "Liquid at the port and the hose colder than the bubble point: it stands full of liquid."},
	{kindHose, string(hose.BoiledBack), "Liquid at the port, but the hose is warmer than the dew point: what was in it has boiled and pushed itself back into the line."},
	{kindHose, string(hose.VaporAtHoseTemperature), "Vapor at the port and in the hose."},
	{kindHose, string(hose.Condensing), "Vapor at the port and the hose colder than the dew point: liquid gathers in it; how far that went is not known."},
	{kindHose, string(hose.NearSaturation), "Within its uncertainty the hose may lie on either side of saturation."},
	{kindHose, string(hose.AboveCritical), "One phase, above the critical pressure."},
	{kindHose, string(hose.NothingInIt), "No pressure was given for this hose: it is taken as empty."},
	{kindHose, string(hose.LikeItsHoses), "The manifold holds what its hoses hold."},
	{kindHose, string(hose.SubcooledLiquid), "Liquid below its bubble point."},
	{kindHose, string(hose.SuperheatedVapor), "Vapor above its dew point."},
	{kindHose, string(hose.TwoPhase), "Liquid and vapor side by side."},
	{kindHose, string(hose.Empty), "Nothing but air."},
	{kindHose, string(hose.LiquidLeftIn), "Capped with the liquid that it held."},
	{kindHose, string(hose.VaporLeftIn), "Capped with vapor only."},
	{kindHose, string(hose.Low), "The suction side."},
	{kindHose, string(hose.High), "The liquid line."},
	{kindHose, string(hose.Center), "The utility hose of the manifold."},
	{kindHose, string(hose.Core), "A spring-loaded valve core that the hose holds open."},
	{kindHose, string(hose.FrontSeatValve), "A service valve whose gauge port has a core of its own."},
	{kindHose, string(hose.BackSeatValve), "A service valve that shuts its gauge port when turned fully back."},
	{kindHose, string(hose.QuickCoupler), "A coupler whose knob lets the core of the port shut."},
	{kindHose, string(hose.Open), "No shut-off at the end of the hose."},
	{kindHose, string(hose.LowLoss), "An end that closes itself when it comes off."},
	{kindHose, string(hose.BallValve), "A ball valve at the end of the hose."},
	{kindWay, string(hose.DisconnectAsIs), "Take the hoses off with what is in them."},
	{kindWay, string(hose.DrawBackToSuction), "Let the high-side hose empty into the running low side first; vapor at suction pressure is left."},
	{kindWay, string(hose.RecoverToCylinder), "Empty the hoses with a recovery machine into a cylinder."},
	{kindUnavailable, string(hose.CompressorNotRunning), "The compressor does not run: there is no low side to draw into."},
	{kindUnavailable, string(hose.NoHighHose), "There is no high-side hose."},
	{kindUnavailable, string(hose.NoSuctionHose), "There is no hose on a suction port."},
	{kindUnavailable, string(hose.HighHoseNotClosed), "The high-side hose cannot be closed off from the liquid line while it is emptied: that needs a self-closing end taken off its core, a ball valve, a coupler or a valve that back-seats."},
	{kindUnavailable, string(hose.HoseNotClosed), "A hose cannot be closed off from the system."},
	{kindUnavailable, string(hose.HeatingVaporPort), "In heating the vapor service port is at discharge pressure: only the true suction port will do."},
	{kindUnavailable, string(hose.NoPressureDifference), "Suction does not lie clearly below the pressure in the high-side hose."},
	{kindUnavailable, string(hose.SuctionAboveGaugeLimit), "Suction pressure is more than the low-side gauge bears."},
	{kindUnavailable, string(hose.SuctionAboveRating), "Suction pressure is more than a hose is rated for."},
	{kindUnavailable, string(hose.LiquidStays), "A hose is so cold that liquid would stay in it."},
	{kindUnavailable, string(hose.NothingToGain), "No less would be released than by taking the hoses off as they are."},
	{kindUnavailable, string(hose.EndStateUnknown), "The equation has no state for what would stay in the hoses."},
	{kindVersus, string(hose.Above), "The whole estimate lies above the limit, or beyond what the equation covers."},
	{kindVersus, string(hose.NotResolved), "The limit lies within the estimate."},
	{kindVersus, string(hose.BelowByEstimate), "The whole estimate lies below the limit; it is an estimate, no clearance."},
	{kindVersus, string(hose.RatingUnknown), "There is no limit to compare with."},
	{kindAssumption, string(hose.DefaultBore), "No bore was given: that of a nominal 1/4 in hose, 3/16 in, is assumed (from memory, unverified). Bore counts twice: give it if you can."},
	{kindAssumption, string(hose.DefaultManifoldVolume), "No manifold volume was given: that of a two-valve manifold is assumed (from memory, unverified)."},
	{kindAssumption, string(hose.DefaultShutoffVolume), "No volume behind the shut-off was given: a customary one is assumed (from memory, unverified)."},
	{kindAssumption, string(hose.DefaultOilShare), "The share of oil in the liquid is assumed (from memory, unverified)."},
	{kindAssumption, string(hose.HoseAtAmbient), "Hoses have the temperature of the air, give or take an allowance."},
	{kindAssumption, string(hose.LiquidAtHighPort), "The high-side port is taken to stand in liquid, the worse case."},
	{kindAssumption, string(hose.VaporAtLowPort), "The low-side port is taken to stand in vapor."},
	{kindAssumption, string(hose.CenterHoseEmpty), "A center hose without a pressure is taken to hold no refrigerant."},
	{kindAssumption, string(hose.FillAllowance), "How full of liquid a hose is has an assumed range (from memory, unverified)."},
	{kindAssumption, string(hose.ComplianceAllowance), "How a hose grows with pressure and temperature is assumed (from memory, unverified)."},
	{kindAssumption, string(hose.PortPressureReached), "Hoses have settled to the pressure of their ports and to their own temperature."},
	{kindAssumption, string(hose.SprayNotCounted), "What leaves the system itself while an end is unscrewed is not counted."},
	{kindAssumption, string(hose.RatingNotGiven), "Suction pressure was not compared with a rating that was not given."},
	{kindAssumption, string(hose.RecoveredToAtmosphere), "The recovery machine is taken to go down to the pressure of the air."},
	{kindFill, string(charge.LiquidVolume), "80 % of the volume as liquid at 77 degF (AHRI Guideline K)."},
	{kindFill, string(charge.LiquidFull), "Less than the usual limit: filled to that, the cylinder would be full of liquid at its highest temperature."},
	{kindAssumption, string(charge.UsualWall), "The wall of coiled copper tube of that outside diameter is assumed (from memory, unverified)."},
	{kindAssumption, string(charge.UsualLiquid), "A customary state of the liquid line is assumed."},
	{kindAssumption, string(charge.UsualVapor), "A customary state of the vapor line is assumed."},
	{kindAssumption, string(charge.SaturatedLiquid), "No liquid pressure was given: the liquid line is taken as saturated."},
	{kindAssumption, string(charge.SaturatedVapor), "No suction pressure was given: the vapor line is taken as saturated."},
	{kindAssumption, string(charge.SameRefrigerantInside), "Nothing was said of what is in the cylinder: the same refrigerant is assumed. Refrigerants may never be mixed."},
	{kindAssumption, string(charge.WaterAtSixty), "Water capacity is counted with water of 60 degF."},
	{kindAssumption, string(charge.PureInside), "The cylinder is taken to hold no air and no oil."},
	{kindAssumption, "venting_carbon_dioxide", "Carbon dioxide is exempt from the US ban on venting; it still harms in closed rooms, stands under far higher pressure, and below 5.2 bar its liquid turns to dry ice that can plug a hose."},
	{kindAssumption, "venting_ammonia", "Ammonia is exempt from the US ban on venting in some uses only, and its vapor endangers life at once at 300 ppm: letting hoses go is for trained people with the means for it (common practice, no single source), never into a room."},
	{kindAssumption, "venting_hydrocarbon", "Hydrocarbons are exempt from the US ban on venting in listed uses only; what is let go can ignite: no ignition source, good ventilation, tools and recovery machine rated for flammable gas."},
	{kindAssumption, "no_gwp", "No global warming potential of this refrigerant is known by that set: no CO2 equivalent is given."},
	{kindAssumption, "modelled_system", "What is expected comes from a model of a single-stage split system in cooling, run over systems drawn evenly from ranges that are mostly judgement: bands hold 95 % of those systems, and do not include errors of instruments nor of the model. Compressor speed and charge are as the manufacturer meant them."},
	{kindAssumption, "target_superheat_of_the_day", "A target superheat of a fixed metering device holds for one day's air and does not narrow what is expected."},
	{kindAssumption, "earlier_fit_few", "The earlier readings fit few of the systems drawn: they were trusted less than their accuracy allows, so that a spread is left. Was the system in order, and is it what is said of it?"},
	{kindAssumption, "practice_invented", "The practice readings are computed for one invented system, with errors of instruments: they are of no system that exists."},

	{kindWouldNot, string(plant.IcedCoil), "The coil lies below freezing and would ice."},
	{kindWouldNot, string(plant.HighPressureTrip), "The high-pressure switch would open."},
	{kindWouldNot, string(plant.LowPressureTrip), "The low-pressure switch would open."},
	{kindWouldNot, string(plant.DischargeTrip), "The discharge line would be hotter than compressors are let run."},
	{kindWouldNot, string(plant.LiquidAtCompressor), "Liquid would reach the compressor."},

	{kindAssumption, "gwp_ar4", "CO2 equivalents use the 100-year potentials of the IPCC's fourth report."},
	{kindAssumption, "gwp_ar5", "CO2 equivalents use the 100-year potentials of the IPCC's fifth report."},
	{kindAssumption, "gwp_ar6", "CO2 equivalents use the 100-year potentials of the IPCC's sixth report."},

	{kindOpenPoint, "open_fault_indicated", "The last readings still point to a fault."},
	{kindOpenPoint, "open_inconclusive", "The last readings did not decide it."},
	{kindOpenPoint, "open_reading_checks", "The last readings contradict each other."},
	{kindOpenPoint, "open_not_steady", "The system was not seen steady."},
	{kindOpenPoint, "open_standing_pressure", "The pressure at rest did not fit refrigerant of which some is liquid."},
	{kindOpenPoint, "open_gauges_way_unknown", "It is not recorded how the gauges came off."},
	{kindOpenPoint, "open_gauges_way_not_available", "The way in which the gauges came off was not open by what is recorded, so what it released is not known."},
	{kindOpenPoint, "open_core_leaking", "The core of a port leaks: replace it."},
	{kindOpenPoint, "open_port_leaking", "A port leaks."},
	{kindOpenPoint, "open_leak_check", "A port was not looked at for leaks."},
	{kindOpenPoint, "open_cap_missing", "A port is without its cap."},
	{kindOpenPoint, "open_seal_missing", "The cap of a port is without its seal."},
	{kindOpenPoint, "open_fitting_to_rebuild", "A hose fitting leaks and has to be rebuilt or replaced."},
	{kindOpenPoint, "open_ports_not_recorded", "How the ports were left is not recorded."},
	{kindOpenPoint, "open_calibration_overdue", "The calibration of an instrument is overdue."},
	{kindOpenPoint, "open_calibration_unknown", "Nothing is recorded of an instrument's calibration."},

	{kindCharge, "airflow_first", "Airflow is suspect or not verified: no advice on charge before that is settled."},
}

// texts are the code table by code.
var texts = sync.OnceValue(func() map[string]string {
	all := make(map[string]string, len(codeTable))
	for _, e := range codeTable {
		all[e.Code] = e.Text
	}
	return all
})

// codeText is the English text of a code.
func codeText(code string) string {
	text, ok := texts()[code]
	if !ok {
		panic("query: no text for the code " + code)
	}
	return text
}

// Codes answers GET /v1/codes.
func (e *Engine) Codes(CodesQuestion) (CodesAnswer, error) {
	all := slices.Clone(codeTable)
	for _, c := range refdata.Cautions() {
		all = append(all, CodeEntry{kindCaution, c.Code, c.Text})
	}
	for _, h := range refdata.HoseSteps() {
		all = append(all, CodeEntry{kindHoseStep, h.Code, h.Text})
	}
	for _, q := range circuit.Readings() {
		all = append(all, CodeEntry{kindReading, q.String(), words(q.String())})
	}
	for _, q := range circuit.Quantities() {
		all = append(all, CodeEntry{kindQuantity, q.String(), words(q.String())})
	}
	for _, c := range instrument.Classes() {
		all = append(all, CodeEntry{kindClass, c, words(c)})
	}
	return CodesAnswer{Codes: all}, nil
}

func words(code string) string { return strings.ReplaceAll(code, "_", " ") }
