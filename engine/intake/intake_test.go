package intake

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func of(value float64, unit string) *Quantity { return &Quantity{Value: &value, Unit: unit} }

// places are "pointer code reason" of every error.
func places(r *Refusal) []string {
	var all []string
	for _, e := range r.Errors {
		all = append(all, e.Pointer+e.Parameter+" "+string(e.Code)+" "+string(e.Reason))
	}
	return all
}

func TestWhatAVisitSaysIsResolvedOnce(t *testing.T) {
	var r Refusal
	c := Take(Visit{
		System: System{
			Refrigerant: "r410a", Mode: "cooling", MeteringDevice: "thermostatic_valve", Stages: new(2), Stage: new(1),
			TargetSubcooling: of(10, "delta_degF"), TargetSubcoolingTolerance: of(0, "delta_degF"), Charge: of(8, "lb"),
			LineSet: &LineSet{Length: of(50, "ft")},
		},
		Site:        Site{Altitude: of(5000, "ft")},
		Readings:    Readings{SuctionPressure: of(118, "psig"), ReturnDryBulb: of(75, "degF")},
		Instruments: Instruments{SuctionPressure: &Instrument{Accuracy: of(1, "delta_psi")}},
	}, refrigerant.NewCatalogue(), &r)
	require.NoError(t, r.Err())
	require.Equal(t, "R-410A", c.Refrigerant.Designation)
	require.Equal(t, equipment.ThermostaticValve, c.Device)
	require.True(t, *c.CapacityFixed, "a unit held at a stage runs at one capacity")
	require.InDelta(t, 10/1.8, c.Subcooling.Value.Kelvin(), 1e-9)
	require.Nil(t, c.Subcooling.Tolerance, "a tolerance of zero is none")
	require.Nil(t, c.Superheat)
	require.InDelta(t, 15.24, c.LineSet.Length.Metre(), 1e-9)
	require.Nil(t, c.LineSet.Wall)
	require.Equal(t, FromAltitude, c.Air.Basis)
	// 84.307 kPa at 5000 ft: US Standard Atmosphere 1976, table I (from memory, unverified).
	require.InDelta(t, 84307, c.Air.Site.Pascal(), 10)
	suction := c.Readings[circuit.SuctionPressure]
	require.True(t, suction.Gauge)
	require.InDelta(t, unit.PSIG(118).Pascal()+c.Air.Site.Pascal(), suction.Value, 1e-6)
	require.InDelta(t, unit.PSIA(1).Pascal()/1.7320508, suction.Standard, 1e-3)
	require.Equal(t, []circuit.Reading{circuit.ReturnDryBulb}, c.ByDefault)
}

func TestCapacityIsFixedOrNot(t *testing.T) {
	yes, no := true, false
	for _, tt := range []struct {
		name string
		s    System
		want *bool
	}{
		{"nothing said", System{}, nil},
		{"single-stage", System{Stages: new(1)}, &yes},
		{"two stages, none named", System{Stages: new(2)}, &no},
		{"held at the lower", System{Stages: new(2), Stage: new(1)}, &yes},
		{"variable speed", System{VariableSpeed: &yes}, &no},
		{"variable speed, held", System{VariableSpeed: &yes, Stage: new(3)}, &yes},
		{"not variable", System{VariableSpeed: &no}, &yes},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var r Refusal
			require.Equal(t, tt.want, TakeSystem(tt.s, At("/system"), &r).CapacityFixed)
			require.NoError(t, r.Err())
		})
	}
}

func TestEveryErrorAtItsPlace(t *testing.T) {
	var r Refusal
	air := TakeSite(Site{AtmosphericPressure: of(101.325, "kPaa"), Altitude: of(5000, "ft")}, At("/site"), &r)
	TakeReadings(Readings{SuctionPressure: of(9999999, "psig"), ReturnRelativeHumidity: of(120, "percent"), SupplyDryBulb: of(55, "degf")},
		Instruments{LiquidPressure: &Instrument{Accuracy: of(4, "psig")}}, air, At("/earlier/readings"), At("/earlier/instruments"), &r)
	TakeSystem(System{Stages: new(2), Stage: new(3), MeteringDevice: "txv", TargetSuperheat: of(-1, "delta_degF")}, At("/system"), &r)
	require.Equal(t, []string{
		"/site/atmospheric_pressure/value contradiction pressure_not_of_altitude",
		"/earlier/readings/suction_pressure/value out_of_range expected_up_to",
		"/earlier/instruments/liquid_pressure/accuracy/unit wrong_kind_of_unit unit_of_another_kind",
		"/earlier/readings/return_relative_humidity/value out_of_range expected_between",
		"/earlier/readings/supply_dry_bulb/unit unknown_unit unit_unknown_near",
		"/system/metering_device unknown_name name_unknown",
		"/system/stage contradiction no_such_stage",
		"/system/target_superheat/value out_of_range expected_between",
	}, places(&r))
	require.True(t, r.Unreadable)
	for _, e := range r.Errors {
		said, err := phrase.Fill(e.Reason, e.Params)
		require.NoError(t, err)
		require.Equal(t, said, e.Detail)
	}
	require.Equal(t, Limit{High: &Bound{2900.75, "psig"}}, *r.Errors[1].Limit)
	require.Equal(t, []string{"delta_psi", "delta_kPa", "inH2O", "Pa"}, r.Errors[2].Allowed)
	require.Equal(t, []string{"degF"}, r.Errors[4].Suggestions)
}

func TestLimitsCountAsTheUnitDoes(t *testing.T) {
	vacuum, _ := unit.Lookup("inHgv")
	// 10 kPa below the atmosphere is the deeper end.
	require.Equal(t, Limit{Low: &Bound{0, "inHgv"}, High: &Bound{2.953, "inHgv"}}, LimitIn(vacuum, -1e4, 0, false))
}

func TestPlaces(t *testing.T) {
	require.Equal(t, "/a~1b/3/c~0d", At("").Member("a/b").Item(3).Member("c~d").Pointer())
	var r Refusal
	r.Refuse(Parameter("step").Member("value"), CodeOutOfRange, "step_is_zero", nil)
	require.Equal(t, []string{"step out_of_range step_is_zero"}, places(&r))
}
