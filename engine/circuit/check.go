package circuit

// Verdict weighs a contradiction among readings.
type Verdict string

// The verdicts of a check.
const (
	// Impossible: by physics not to be had while the system runs, beyond three
	// standard uncertainties.
	Impossible Verdict = "impossible"
	// Doubtful: beyond two standard uncertainties, or an odd state that a
	// running system can just about be in.
	Doubtful Verdict = "doubtful"
)

// How many standard uncertainties make a verdict.
const (
	doubtfulBeyond   = 2
	impossibleBeyond = 3
)

// Check is a contradiction found among readings.
type Check struct {
	// Code is stable.
	Code     string
	Readings []Reading
	Verdict  Verdict
	// Shortfall is by how much what must hold fails to, in K or Pa, and
	// Standard its standard uncertainty. Both are zero where Err says more.
	Shortfall, Standard float64
	// ExplainedBy are stable codes of what would explain it, the commonest first:
	// common practice, no single source.
	ExplainedBy []string
	// Err is why a pressure has no saturation point, nil for other checks.
	Err error
}

// What explains contradictions among readings.
const (
	HosesSwapped         = "hoses_swapped"
	ProbesSwapped        = "probes_swapped"
	ClampReadsAir        = "clamp_reads_air"
	ClampOnOtherLine     = "clamp_on_another_line"
	OtherRefrigerant     = "other_refrigerant"
	GaugeNotZeroed       = "gauge_not_zeroed"
	WickDry              = "wick_or_sensor_wrong"
	CompressorNotPumping = "compressor_not_pumping"
	LiquidToCompressor   = "liquid_to_compressor"
	NotCooling           = "not_cooling"
	Restriction          = "restriction_before_port"
	SunOnSensor          = "air_read_in_another_place"
)

// explanations of each check.
var explanations = map[string][]string{
	SuctionAboveLiquid:     {HosesSwapped, CompressorNotPumping},
	PressuresNearlyEqual:   {CompressorNotPumping, GaugeNotZeroed},
	DischargeBelowLiquid:   {HosesSwapped, GaugeNotZeroed},
	ReturnWetAboveDry:      {WickDry, ProbesSwapped},
	SupplyWetAboveDry:      {WickDry, ProbesSwapped},
	SupplyWarmerThanReturn: {ProbesSwapped, NotCooling},
	SupplyWetterThanReturn: {ProbesSwapped, WickDry},
	SuctionLineAboveReturn: {ClampReadsAir, ClampOnOtherLine},
	LiquidColderThanAir:    {Restriction, ClampOnOtherLine, SunOnSensor},
	LiquidAboveCondensing:  {ClampOnOtherLine, OtherRefrigerant, GaugeNotZeroed},
	DischargeTooCold:       {ClampReadsAir, LiquidToCompressor, OtherRefrigerant},
	DischargeBelowLine:     {ProbesSwapped, ClampReadsAir},
	SuctionTooCold:         {OtherRefrigerant, GaugeNotZeroed, ClampOnOtherLine},
	EvaporatorAboveReturn:  {OtherRefrigerant, CompressorNotPumping, GaugeNotZeroed},
	CondenserBelowOutdoor:  {SunOnSensor, OtherRefrigerant, GaugeNotZeroed},
	DrierOutletWarmer:      {ProbesSwapped},
	NoSaturationAtPressure: {OtherRefrigerant, HosesSwapped},
}

// The codes of checks.
const (
	SuctionAboveLiquid     = "suction_pressure_not_below_liquid_pressure"
	PressuresNearlyEqual   = "pressures_nearly_equal"
	DischargeBelowLiquid   = "discharge_pressure_below_liquid_pressure"
	ReturnWetAboveDry      = "return_wet_bulb_above_dry_bulb"
	SupplyWetAboveDry      = "supply_wet_bulb_above_dry_bulb"
	SupplyWarmerThanReturn = "supply_air_warmer_than_return_air"
	SupplyWetterThanReturn = "supply_wet_bulb_above_return_wet_bulb"
	LiquidColderThanAir    = "liquid_line_colder_than_air"
	LiquidAboveCondensing  = "liquid_line_warmer_than_condenser_dew_point"
	DischargeTooCold       = "discharge_line_colder_than_condensing_refrigerant"
	SuctionTooCold         = "suction_line_colder_than_evaporating_refrigerant"
	EvaporatorAboveReturn  = "evaporator_warmer_than_return_air"
	CondenserBelowOutdoor  = "condenser_colder_than_outdoor_air"
	SuctionLineAboveReturn = "suction_line_warmer_than_return_air"
	DischargeBelowLine     = "discharge_line_colder_than_liquid_line"
	DrierOutletWarmer      = "drier_outlet_warmer_than_liquid_line"
	NoSaturationAtPressure = "no_saturation_at_pressure"
)

// leastRatio is the compression ratio below which a system is hardly pumping:
// common practice, no single source (2.5 to 3.5 is usual in air conditioning).
const leastRatio = 1.2

// rule is a sum that must not be negative.
type rule struct {
	code        string
	margin      []term
	hard        bool // beyond three standard uncertainties it is impossible
	coolingOnly bool
	atOnce      bool // doubtful at any negative margin
}

var rules = []rule{
	{code: SuctionAboveLiquid, margin: []term{{1, at(LiquidPressure)}, {-1, at(SuctionPressure)}}, hard: true},
	{code: PressuresNearlyEqual, margin: []term{{1, at(LiquidPressure)}, {-leastRatio, at(SuctionPressure)}}, atOnce: true},
	{code: DischargeBelowLiquid, margin: []term{{1, at(DischargePressure)}, {-1, at(LiquidPressure)}}, hard: true},
	{code: ReturnWetAboveDry, margin: []term{{1, at(ReturnDryBulb)}, {-1, at(ReturnWetBulb)}}, hard: true},
	{code: SupplyWetAboveDry, margin: []term{{1, at(SupplyDryBulb)}, {-1, at(SupplyWetBulb)}}, hard: true},
	{code: SupplyWarmerThanReturn, margin: []term{{1, at(ReturnDryBulb)}, {-1, at(SupplyDryBulb)}}, hard: true, coolingOnly: true},
	{code: SupplyWetterThanReturn, margin: []term{{1, at(ReturnWetBulb)}, {-1, at(SupplyWetBulb)}}, coolingOnly: true},
	// Superheat seldom reaches the room's temperature; a clamp in the sun does.
	{code: SuctionLineAboveReturn, margin: []term{{1, at(ReturnDryBulb)}, {-1, at(SuctionLineTemperature)}}, coolingOnly: true},
	{code: DischargeBelowLine, margin: []term{{1, at(DischargeLineTemperature)}, {-1, at(LiquidLineTemperature)}}, hard: true},
	// A restriction before the service port chills the liquid.
	{code: LiquidColderThanAir, margin: []term{{1, at(LiquidLineTemperature)}, {-1, at(OutdoorDryBulb)}}, coolingOnly: true},
	{code: LiquidAboveCondensing, margin: []term{{1, liquidDew}, {-1, at(LiquidLineTemperature)}}, hard: true},
	// Non-condensable gas makes the pressure claim too warm a refrigerant.
	{code: DischargeTooCold, margin: []term{{1, at(DischargeLineTemperature)}, {-1, dischargeBubble}}},
	{code: SuctionTooCold, margin: []term{{1, at(SuctionLineTemperature)}, {-1, suctionBubble}}, hard: true},
	{code: EvaporatorAboveReturn, margin: []term{{1, at(ReturnDryBulb)}, {-0.5, suctionDew}, {-0.5, suctionBubble}}, coolingOnly: true},
	{code: CondenserBelowOutdoor, margin: []term{{0.5, liquidDew}, {0.5, liquidBubble}, {-1, at(OutdoorDryBulb)}}, coolingOnly: true},
	{code: DrierOutletWarmer, margin: []term{{1, at(LiquidLineTemperature)}, {-1, at(DrierOutletTemperature)}}},
}

// check applies every rule whose readings are there.
func (s *State) check(c *points) {
	for _, p := range []struct {
		reading     Reading
		dew, bubble point
	}{{SuctionPressure, suctionDew, suctionBubble}, {LiquidPressure, liquidDew, liquidBubble}, {DischargePressure, dischargeDew, dischargeBubble}} {
		if !s.readings[p.reading].known {
			continue
		}
		for _, err := range []error{c.fault[p.dew], c.fault[p.bubble]} {
			if err != nil {
				s.Checks = append(s.Checks, Check{Code: NoSaturationAtPressure, Readings: []Reading{p.reading}, Verdict: Doubtful, ExplainedBy: explanations[NoSaturationAtPressure], Err: err})
				break
			}
		}
	}
	for _, r := range rules {
		if s.Heating && r.coolingOnly || len(c.lacking(r.margin)) > 0 {
			continue
		}
		margin, _, err := c.sum(r.margin)
		if err != nil {
			continue
		}
		u := s.Standard(margin)
		if !(margin.Value < 0) || !r.atOnce && !(margin.Value < -doubtfulBeyond*u) {
			continue
		}
		if r.code == PressuresNearlyEqual && s.found(SuctionAboveLiquid) {
			continue
		}
		v := Doubtful
		if r.hard && margin.Value < -impossibleBeyond*u {
			v = Impossible
		}
		s.Checks = append(s.Checks, Check{Code: r.code, Readings: s.named(r.margin), Verdict: v, Shortfall: -margin.Value, Standard: u, ExplainedBy: explanations[r.code]})
	}
}

func (s *State) found(code string) bool {
	for _, c := range s.Checks {
		if c.Code == code {
			return true
		}
	}
	return false
}

// named lists the readings behind a sum as they were read, each once.
func (s *State) named(of []term) []Reading {
	var names []Reading
	for _, t := range of {
		r := t.point.origin()
		switch {
		case r == LiquidPressure && !s.readings[r].known:
			r = DischargePressure
		case r == DischargePressure && !s.readings[r].known:
			r = LiquidPressure
		}
		if len(names) == 0 || names[len(names)-1] != r {
			names = append(names, r)
		}
	}
	return names
}
