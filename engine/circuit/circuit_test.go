package circuit

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

var errAbove = errors.New("above the critical point of the invented refrigerant")

// invented is a made-up refrigerant: ln p = a - b/T on either side, a glide of
// some kelvins, a critical pressure.
type invented struct{}

const (
	bubbleA, dewA, b = 22.0, 21.9, 2250.
	critical         = 4.9e6
)

func (invented) side(p, a float64) (unit.Temperature, float64, error) {
	if !(p < critical) {
		return unit.Temperature{}, 0, errAbove
	}
	t := b / (a - math.Log(p))
	return unit.Kelvin(t), t * t / (b * p), nil
}
func (i invented) Bubble(p unit.Pressure) (unit.Temperature, float64, error) {
	return i.side(p.Pascal(), bubbleA)
}
func (i invented) Dew(p unit.Pressure) (unit.Temperature, float64, error) {
	return i.side(p.Pascal(), dewA)
}

func bubblePressure(t float64) float64 { return math.Exp(bubbleA - b/t) }

// healthy is a plausible set of readings with all instruments named.
func healthy() Input {
	return Input{
		Site: Measured{Value: 98e3, Standard: 400},
		Readings: map[Reading]Measured{
			SuctionPressure:          {Value: bubblePressure(278), Standard: 9e3, Gauge: true},
			SuctionLineTemperature:   {Value: 289, Standard: 0.6},
			LiquidPressure:           {Value: bubblePressure(316), Standard: 20e3, Gauge: true},
			LiquidLineTemperature:    {Value: 310, Standard: 0.6},
			DischargePressure:        {Value: bubblePressure(317), Standard: 20e3, Gauge: true},
			DischargeLineTemperature: {Value: 345, Standard: 0.7},
			OutdoorDryBulb:           {Value: 306, Standard: 0.3},
			ReturnDryBulb:            {Value: 299, Standard: 0.3},
			ReturnWetBulb:            {Value: 292, Standard: 0.4},
			SupplyDryBulb:            {Value: 288, Standard: 0.3},
			SupplyWetBulb:            {Value: 286.5, Standard: 0.4},
			IndoorAirflow:            {Value: 0.5, Standard: 0.03},
			DrierOutletTemperature:   {Value: 309.8, Standard: 0.3},
		},
	}
}

func with(in Input, r Reading, f func(*Measured)) Input {
	out := in
	out.Readings = make(map[Reading]Measured, len(in.Readings))
	for k, v := range in.Readings {
		out.Readings[k] = v
	}
	m := out.Readings[r]
	f(&m)
	out.Readings[r] = m
	return out
}

func without(in Input, rs ...Reading) Input {
	out := in
	out.Readings = make(map[Reading]Measured, len(in.Readings))
	for k, v := range in.Readings {
		if !slices.Contains(rs, k) {
			out.Readings[k] = v
		}
	}
	return out
}

func mustDerive(t *testing.T, in Input) State {
	t.Helper()
	s, err := Derive(in, invented{})
	require.NoError(t, err)
	return s
}

func TestDefinitions(t *testing.T) {
	in := healthy()
	s := mustDerive(t, in)
	ps, pl, pd := in.Readings[SuctionPressure].Value, in.Readings[LiquidPressure].Value, in.Readings[DischargePressure].Value
	dew := func(p float64) float64 { return b / (dewA - math.Log(p)) }
	bubble := func(p float64) float64 { return b / (bubbleA - math.Log(p)) }
	for q, want := range map[Quantity]float64{
		Superheat:                       289 - dew(ps),
		Subcooling:                      bubble(pl) - 310,
		EvaporatorDewTemperature:        dew(ps),
		EvaporatorMeanTemperature:       (dew(ps) + bubble(ps)) / 2,
		CondenserBubbleTemperature:      bubble(pl),
		CondenserDewTemperature:         dew(pl),
		CondenserMeanTemperature:        (dew(pl) + bubble(pl)) / 2,
		CondensingOverAmbient:           (dew(pl)+bubble(pl))/2 - 306,
		EvaporatorTemperatureDifference: 299 - (dew(ps)+bubble(ps))/2,
		TemperatureSplit:                11,
		DischargeSuperheat:              345 - dew(pd),
		CompressionRatio:                pd / ps,
		DrierTemperatureDrop:            0.2,
	} {
		if got, ok := s.Quantity(q); !ok || !near.Sum(got.Value, want, 1e-12, 1e-10) {
			t.Errorf("%v = %v, want %v by its definition", q, got.Value, want)
		}
	}
	if len(s.Checks)+len(s.Needs)+len(s.Failures) != 0 {
		t.Errorf("a complete healthy set: checks %+v, needs %+v, failures %+v", s.Checks, s.Needs, s.Failures)
	}
	if slices.Contains(s.Assumptions, LiquidForDischarge) || slices.Contains(s.Assumptions, DischargeForLiquid) {
		t.Errorf("both pressures read, yet %v", s.Assumptions)
	}
}

func TestGradientsAreDerivatives(t *testing.T) {
	in := healthy()
	s := mustDerive(t, in)
	for q := range quantityCount {
		e, ok := s.Quantity(q)
		if !ok {
			t.Fatalf("%v missing", q)
		}
		for r, m := range in.Readings {
			h := 1e-5 * m.Value
			up := mustDerive(t, with(in, r, func(m *Measured) { m.Value += h }))
			down := mustDerive(t, with(in, r, func(m *Measured) { m.Value -= h }))
			eu, _ := up.Quantity(q)
			ed, _ := down.Quantity(q)
			if want := (eu.Value - ed.Value) / (2 * h); !near.Sum(e.Gradient.By(r.Axis()), want, 1e-6, 1e-9) {
				t.Errorf("d %v / d %v = %g, by differences %g", q, r, e.Gradient.By(r.Axis()), want)
			}
		}
		// a higher site pressure lifts all gauges' absolute pressures alike
		h := 50.
		shift := func(by float64) float64 {
			moved := in
			for _, r := range []Reading{SuctionPressure, LiquidPressure, DischargePressure} {
				moved = with(moved, r, func(m *Measured) { m.Value += by })
			}
			st := mustDerive(t, moved)
			e, _ := st.Quantity(q)
			return e.Value
		}
		if want := (shift(h) - shift(-h)) / (2 * h); !near.Sum(e.Gradient.By(SiteAxis), want, 1e-6, 1e-12) {
			t.Errorf("d %v / d site = %g, by differences %g", q, e.Gradient.By(SiteAxis), want)
		}
	}
}

// The sample covariance of 12 000 draws has a relative standard error of about
// sqrt(2/12000) = 1.3 %; 6 % of the product of the spreads leaves room for
// curvature too.
func TestCovarianceEqualsMonteCarlo(t *testing.T) {
	in := healthy()
	s := mustDerive(t, in)
	qs := Quantities()
	var es []gum.Estimate
	for _, q := range qs {
		e, _ := s.Quantity(q)
		es = append(es, e)
	}
	want := s.CovarianceMatrix(es...)
	rng := rand.New(rand.NewPCG(7, 11))
	const draws = 12000
	sum := make([]float64, len(qs))
	products := make([][]float64, len(qs))
	for i := range products {
		products[i] = make([]float64, len(qs))
	}
	order := Readings() // a fixed order keeps the draws repeatable
	readings := make(map[Reading]Measured, len(in.Readings))
	for range draws {
		site := in.Site.Standard * rng.NormFloat64()
		for _, r := range order {
			m, ok := in.Readings[r]
			if !ok {
				continue
			}
			m.Value += m.Standard * rng.NormFloat64()
			if m.Gauge {
				m.Value += site
			}
			readings[r] = m
		}
		st, err := Derive(Input{Readings: readings, Site: in.Site}, invented{})
		require.NoError(t, err)
		d := make([]float64, len(qs))
		for i, q := range qs {
			e, _ := st.Quantity(q)
			d[i] = e.Value - es[i].Value
			sum[i] += d[i]
		}
		for i := range d {
			for j := range d {
				products[i][j] += d[i] * d[j]
			}
		}
	}
	for i := range qs {
		for j := range qs {
			got := products[i][j]/draws - sum[i]*sum[j]/draws/draws
			if scale := math.Sqrt(want[i][i] * want[j][j]); !(math.Abs(got-want[i][j]) <= 0.06*scale) {
				t.Errorf("covariance of %v and %v: %g by draws, %g by gradients", qs[i], qs[j], got, want[i][j])
			}
		}
	}
}

func TestCommonPressureCorrelates(t *testing.T) {
	s := mustDerive(t, healthy())
	q := func(q Quantity) gum.Estimate { e, _ := s.Quantity(q); return e }
	for _, tt := range []struct {
		a, b Quantity
		sign float64
		why  string
	}{
		{Superheat, EvaporatorDewTemperature, -1, "a suction pressure read too high lifts one and lowers the other"},
		{Subcooling, CondenserBubbleTemperature, 1, "a liquid pressure read too high lifts both"},
		{Subcooling, CondensingOverAmbient, 1, "the same pressure in both"},
		{CondensingOverAmbient, TemperatureSplit, 0, "no common reading"},
		{TemperatureSplit, EvaporatorTemperatureDifference, 1, "the return air in both"},
		{EvaporatorDewTemperature, CondenserDewTemperature, 1, "only the site pressure is common"},
	} {
		c := s.Covariance(q(tt.a), q(tt.b))
		if tt.sign == 0 && c != 0 || tt.sign != 0 && !(c*tt.sign > 0) {
			t.Errorf("covariance of %v and %v is %g: %s", tt.a, tt.b, c, tt.why)
		}
	}
	for _, in := range []Input{healthy()} {
		for _, r := range []Reading{SuctionPressure, LiquidPressure, DischargePressure} {
			in = with(in, r, func(m *Measured) { m.Gauge = false })
		}
		s := mustDerive(t, in)
		dew, _ := s.Quantity(EvaporatorDewTemperature)
		cond, _ := s.Quantity(CondenserDewTemperature)
		if c := s.Covariance(dew, cond); c != 0 {
			t.Errorf("absolute pressures share no site pressure, yet covariance %g", c)
		}
	}
}

// The law of propagation held to the worked sum of the end-gauge example:
// independent standard uncertainties of 25, 9.7, 2.9 and 16.6 nm give 32 nm.
func TestPropagationAgainstPublishedExample(t *testing.T) {
	s := mustDerive(t, Input{Readings: map[Reading]Measured{
		SuctionLineTemperature: {Value: 300, Standard: 25},
		LiquidLineTemperature:  {Value: 300, Standard: 9.7},
		OutdoorDryBulb:         {Value: 300, Standard: 2.9},
		ReturnDryBulb:          {Value: 300, Standard: 16.6},
	}})
	var sum gum.Estimate
	for _, r := range []Reading{SuctionLineTemperature, LiquidLineTemperature, OutdoorDryBulb, ReturnDryBulb} {
		e, _ := s.Reading(r)
		sum = sum.Plus(e)
	}
	if got := s.Standard(sum); !near.Sum(got, 32, 0, 0.5) {
		t.Errorf("combined standard uncertainty %.3g, want 32 (JCGM 100:2008, H.1.3.5 and table H.1, to two digits)", got)
	}
}

func TestNeedsAndStandIns(t *testing.T) {
	all := healthy()
	s := mustDerive(t, without(all, DischargePressure))
	hot, ok := s.Quantity(DischargeSuperheat)
	if !ok || !slices.Contains(s.Assumptions, LiquidForDischarge) || len(s.Needs) != 0 {
		t.Errorf("liquid pressure should stand in: %+v %v %+v", hot, s.Assumptions, s.Needs)
	}
	s = mustDerive(t, without(all, LiquidPressure))
	if _, ok := s.Quantity(Subcooling); !ok || !slices.Contains(s.Assumptions, DischargeForLiquid) {
		t.Errorf("discharge pressure should stand in: %v", s.Assumptions)
	}
	s = mustDerive(t, Input{Readings: map[Reading]Measured{SuctionLineTemperature: {Value: 290}}})
	got := map[Reading][]Quantity{}
	for _, n := range s.Needs {
		got[n.Reading] = n.For
	}
	for r, want := range map[Reading][]Quantity{
		SuctionPressure: {Superheat, EvaporatorDewTemperature, EvaporatorMeanTemperature, EvaporatorTemperatureDifference, CompressionRatio},
		LiquidPressure: {Subcooling, CondenserBubbleTemperature, CondenserDewTemperature, CondenserMeanTemperature,
			CondensingOverAmbient, DischargeSuperheat, CompressionRatio},
		LiquidLineTemperature:    {Subcooling, DrierTemperatureDrop},
		OutdoorDryBulb:           {CondensingOverAmbient},
		ReturnDryBulb:            {EvaporatorTemperatureDifference, TemperatureSplit},
		SupplyDryBulb:            {TemperatureSplit},
		DischargeLineTemperature: {DischargeSuperheat},
		DrierOutletTemperature:   {DrierTemperatureDrop},
	} {
		if !slices.Equal(got[r], want) {
			t.Errorf("need of %v is for %v, want %v", r, got[r], want)
		}
	}
	if _, asked := got[DischargePressure]; asked {
		t.Error("a discharge pressure is asked for although the liquid pressure would do")
	}
}

func TestSaturationErrorsCostOnlyTheirQuantities(t *testing.T) {
	in := with(healthy(), LiquidPressure, func(m *Measured) { m.Value = critical + 1e4 })
	s := mustDerive(t, without(in, DischargePressure))
	if _, ok := s.Quantity(Superheat); !ok {
		t.Error("superheat lost")
	}
	if _, ok := s.Quantity(CompressionRatio); !ok {
		t.Error("compression ratio lost, though it needs no saturation point")
	}
	var failed []Quantity
	for _, f := range s.Failures {
		failed = append(failed, f.Quantity)
		if !errors.Is(f.Err, errAbove) {
			t.Errorf("%v: %v", f.Quantity, f.Err)
		}
	}
	if !slices.Equal(failed, []Quantity{Subcooling, CondenserBubbleTemperature, CondenserDewTemperature, CondenserMeanTemperature, CondensingOverAmbient, DischargeSuperheat}) {
		t.Errorf("failed: %v", failed)
	}
	require.Len(t, s.Checks, 1, "checks")
	require.Equal(t, NoSaturationAtPressure, s.Checks[0].Code, "checks")
	require.ErrorIs(t, s.Checks[0].Err, errAbove, "checks")
}

func TestReadingChecks(t *testing.T) {
	set := func(r Reading, v float64) func(Input) Input {
		return func(in Input) Input { return with(in, r, func(m *Measured) { m.Value = v }) }
	}
	for _, tt := range []struct {
		name    string
		change  func(Input) Input
		code    string
		verdict Verdict
		about   []Reading
	}{
		{"gauges swapped", set(SuctionPressure, 3e6), SuctionAboveLiquid, Impossible, []Reading{LiquidPressure, SuctionPressure}},
		{"not pumping", set(SuctionPressure, 0.95*bubblePressure(316)), PressuresNearlyEqual, Doubtful, []Reading{LiquidPressure, SuctionPressure}},
		{"discharge gauge low", set(DischargePressure, 1.5e6), DischargeBelowLiquid, Impossible, []Reading{DischargePressure, LiquidPressure}},
		{"wet above dry", set(ReturnWetBulb, 301), ReturnWetAboveDry, Impossible, []Reading{ReturnDryBulb, ReturnWetBulb}},
		{"wet a little above dry", set(ReturnWetBulb, 300.2), ReturnWetAboveDry, Doubtful, []Reading{ReturnDryBulb, ReturnWetBulb}},
		{"probes swapped", set(SupplyDryBulb, 302), SupplyWarmerThanReturn, Impossible, []Reading{ReturnDryBulb, SupplyDryBulb}},
		{"liquid below outdoor, as after a restriction", set(LiquidLineTemperature, 294), LiquidColderThanAir, Doubtful, []Reading{LiquidLineTemperature, OutdoorDryBulb}},
		{"liquid superheated", set(LiquidLineTemperature, 326), LiquidAboveCondensing, Impossible, []Reading{LiquidPressure, LiquidLineTemperature}},
		{"discharge cold, as under other gas", set(DischargeLineTemperature, 312), DischargeTooCold, Doubtful, []Reading{DischargeLineTemperature, DischargePressure}},
		{"suction cold", set(SuctionLineTemperature, 273), SuctionTooCold, Impossible, []Reading{SuctionLineTemperature, SuctionPressure}},
		{"coil warmer than room", set(ReturnDryBulb, 276), EvaporatorAboveReturn, Doubtful, []Reading{ReturnDryBulb, SuctionPressure}},
		{"outdoor above condensing", set(OutdoorDryBulb, 325), CondenserBelowOutdoor, Doubtful, []Reading{LiquidPressure, OutdoorDryBulb}},
		{"drier warms", set(DrierOutletTemperature, 313), DrierOutletWarmer, Doubtful, []Reading{LiquidLineTemperature, DrierOutletTemperature}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := mustDerive(t, tt.change(healthy()))
			found := false
			for _, c := range s.Checks {
				if c.Code == tt.code {
					found = true
					require.Equal(t, tt.verdict, c.Verdict)
					require.Equal(t, tt.about, c.Readings)
					require.Greater(t, c.Shortfall, 0.0)
				}
			}
			if !found {
				t.Errorf("%s: no %s among %+v", tt.name, tt.code, s.Checks)
			}
		})
	}
	within := mustDerive(t, set(ReturnWetBulb, 299.5)(healthy()))
	if len(within.Checks) != 0 {
		t.Errorf("half a kelvin at a standard uncertainty of half a kelvin is no contradiction: %+v", within.Checks)
	}
	heating := healthy()
	heating.Heating = true
	heating = set(SupplyDryBulb, 312)(heating)
	if s := mustDerive(t, heating); len(s.Checks) != 0 {
		t.Errorf("supply air is warmer in heating: %+v", s.Checks)
	} else if _, ok := s.Quantity(CondensingOverAmbient); ok {
		t.Error("condensing over ambient has no meaning in heating")
	}
}

func TestProbabilityOfEachSide(t *testing.T) {
	in := healthy()
	s := mustDerive(t, in)
	e, _ := s.Quantity(Superheat)
	u := s.Standard(e)
	for _, tt := range []struct{ shift, want float64 }{{0, 0.5}, {1.959964, 0.025}, {-1.644854, 0.95}} {
		moved := e
		moved.Value = tt.shift * u
		if got := s.ProbabilityBelow(moved, 0); !near.Sum(got, tt.want, 0, 1e-6) {
			t.Errorf("%g standard uncertainties above zero: %g below it, want %g (normal distribution, any table)", tt.shift, got, tt.want)
		}
	}
	exact := mustDerive(t, Input{Readings: map[Reading]Measured{ReturnDryBulb: {Value: 300}, SupplyDryBulb: {Value: 301}}})
	if e, _ := exact.Quantity(TemperatureSplit); exact.ProbabilityBelow(e, 0) != 1 || exact.ProbabilityBelow(e, -1) != 0 {
		t.Error("without uncertainty the side is certain")
	}
}

func TestRefusesEveryBadReadingAtOnce(t *testing.T) {
	_, err := Derive(Input{
		Site: Measured{Value: math.NaN()},
		Readings: map[Reading]Measured{
			SuctionPressure:        {Value: -5},
			LiquidPressure:         {Value: math.Inf(1), Gauge: true},
			ReturnRelativeHumidity: {Value: 1.2},
			OutdoorDryBulb:         {Value: 300, Standard: math.NaN()},
			IndoorAirflow:          {Value: -1},
			Reading(99):            {Value: 1},
		},
	}, invented{})
	for _, want := range []string{"suction_pressure", "liquid_pressure", "return_relative_humidity", "outdoor_dry_bulb", "indoor_airflow", "site pressure", "Reading(99)"} {
		if !errors.Is(err, ErrReading) || !contains(err, want) {
			t.Errorf("%s not refused: %v", want, err)
		}
	}
	if _, err := Derive(Input{Readings: map[Reading]Measured{SuctionPressure: {Value: 5e5, Gauge: true}}}, invented{}); !errors.Is(err, ErrReading) {
		t.Errorf("a gauge without a site pressure: %v", err)
	}
	s, err := Derive(Input{}, invented{})
	require.NoError(t, err, "nothing read")
	if len(s.Needs) == 0 {
		t.Errorf("nothing read: %+v", s.Needs)
	}
}

func contains(err error, part string) bool {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range joined.Unwrap() {
			var r *ReadingError
			if errors.As(e, &r) && (r.Reading.String() == part || r.Site && part == "site pressure" || r.Reading == 99 && part == "Reading(99)") {
				return true
			}
		}
	}
	return false
}

func TestNames(t *testing.T) {
	for _, r := range Readings() {
		if back, ok := ParseReading(r.String()); !ok || back != r {
			t.Errorf("%v does not read back", r)
		}
	}
	if _, ok := ParseReading("suction"); ok {
		t.Error("a part of a name was taken")
	}
	seen := map[string]bool{}
	for _, q := range Quantities() {
		if seen[q.String()] {
			t.Errorf("%v twice", q)
		}
		seen[q.String()] = true
	}
}

func ExampleDerive() {
	s, err := Derive(Input{Readings: map[Reading]Measured{
		ReturnDryBulb: {Value: unit.Fahrenheit(76).Kelvin(), Standard: 0.3},
		SupplyDryBulb: {Value: unit.Fahrenheit(57).Kelvin(), Standard: 0.3},
	}}, invented{})
	if err != nil {
		fmt.Println(err)
		return
	}
	split, _ := s.Quantity(TemperatureSplit)
	fmt.Printf("%.0f degF, within %.1f\n", unit.KelvinDiff(split.Value).Fahrenheit(), unit.KelvinDiff(1.96*s.Standard(split)).Fahrenheit())
	// Output: 19 degF, within 1.5
}
