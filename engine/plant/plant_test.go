package plant

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func draw(t testing.TB, f *Fluid, k Known, rng *rand.Rand) *Unit {
	t.Helper()
	u, err := NewPriors().Unit(f, k, rng.Float64)
	require.NoError(t, err)
	return u
}

func solve(t testing.TB, u *Unit, c Conditions, f Faults) Result {
	t.Helper()
	r, err := u.Solve(c, f)
	require.NoError(t, err, "%+v %+v", c, f)
	return r
}

// A healthy unit meets its targets at the rating point.
func TestDesignMeetsItsTargets(t *testing.T) {
	p := NewPriors()
	rng := rand.New(rand.NewPCG(1, 2))
	for _, name := range []string{"R-410A", "R-22", "R-454B"} {
		f := fluidOf(t, name)
		for _, d := range equipment.MeteringDevices() {
			s := p.Spec(f, Known{Device: d}, rng.Float64)
			u, err := Design(f, s)
			require.NoError(t, err)
			c := Rating()
			r := solve(t, u, c, Faults{})
			superheat := r.Superheat
			if d.Valve() {
				superheat = r.EvaporatorSuperheat
			}
			for _, q := range []struct {
				name           string
				got, want, tol float64
			}{
				{"capacity", r.Capacity / s.Capacity, 1, 1e-8},
				{"superheat", superheat, s.Superheat, 1e-5},
				{"subcooling", r.Subcooling, s.Subcooling, 1e-5},
				{"condensing over ambient", r.CondensingTemperature - c.OutdoorDryBulb, s.CondensingOverAmbient, 1e-5},
				{"evaporator temperature difference", c.ReturnDryBulb - r.EvaporatingTemperature, s.EvaporatorTemperatureDifference, 1e-5},
				{"condenser air rise", r.CondenserAirRise, s.CondenserEffectiveness * s.CondensingOverAmbient, 1e-5},
				{"charge", r.Inventory.Total() / u.Charge(), 1, 1e-9},
				{"air flow", r.Readings.IndoorAirflow, s.IndoorAirflow, 1e-12},
			} {
				if !(math.Abs(q.got-q.want) <= q.tol) {
					t.Errorf("%s, %s: %s is %.9g, want %.9g", name, d, q.name, q.got, q.want)
				}
			}
		}
	}
}

// randomFaults draws none, one or two different faults.
func randomFaults(p *Priors, rng *rand.Rand) Faults {
	all := equipment.Faults()
	var f Faults
	for i := range rng.IntN(3) {
		j := i + rng.IntN(len(all)-i)
		all[i], all[j] = all[j], all[i]
		low, high, _ := p.Severity(all[i])
		f = f.With(all[i], low+rng.Float64()*(high-low), rng.IntN(2) == 0)
	}
	return f
}

var tenRefrigerants = []string{"R-410A", "R-22", "R-32", "R-454B", "R-134a", "R-407C", "R-290", "R-1234yf", "R-452B", "R-438A"}

// Random systems in random weather with random faults: mass and energy close,
// all but a few converge, and what does not is a classified error.
func TestRandomSystemsCloseAndConverge(t *testing.T) {
	systems, fluids := 300, []string{"R-410A", "R-22", "R-407C"}
	if os.Getenv("KNURL_FULL") != "" {
		systems, fluids = 10000, tenRefrigerants
	}
	p := NewPriors()
	rng := rand.New(rand.NewPCG(7, 8))
	unsolved, beyond, unbuilt := 0, 0, 0
	reached := map[OperatingLimit]int{}
	for i := range systems {
		f := fluidOf(t, fluids[rng.IntN(len(fluids))])
		u, err := Design(f, p.Spec(f, Known{Device: equipment.MeteringDevices()[i%4]}, rng.Float64))
		if err != nil {
			require.ErrorIs(t, err, ErrDesign)
			unbuilt++
			continue
		}
		c, err := p.Weather(rng.Float64)
		require.NoError(t, err)
		faults := randomFaults(p, rng)
		r, err := u.Solve(c, faults)
		switch {
		case errors.Is(err, ErrBeyondPressures):
			beyond++
			continue
		case errors.Is(err, ErrNotConverged):
			unsolved++
			t.Logf("%v %+v %+v", err, c, faults)
			continue
		}
		require.NoError(t, err)
		for _, s := range r.LimitsReached {
			reached[s]++
		}
		closes(t, u, &r, faults)
	}
	t.Logf("of %d: %d not converged, %d beyond pressures, %d specifications without a unit, limits reached %v", systems, unsolved, beyond, unbuilt, reached)
	if float64(unsolved) > 0.002*float64(systems) {
		t.Errorf("%d of %d not converged, at most 0.2 %% may be", unsolved, systems)
	}
	if float64(beyond) > 0.02*float64(systems) || float64(unbuilt) > 0.03*float64(systems) {
		t.Errorf("%d beyond pressures, %d not built of %d", beyond, unbuilt, systems)
	}
}

func closes(t *testing.T, u *Unit, r *Result, f Faults) {
	t.Helper()
	if m := r.Inventory.Total() / (u.Charge() * (1 + f.Charge)); !(math.Abs(m-1) < 1e-8) {
		t.Errorf("the circuit holds %.12g of its charge", m)
	}
	b := r.Balance
	if off := b.Evaporator + b.Compressor + b.Suction + b.Liquid - b.Condenser - b.Shell; !(math.Abs(off) < 1e-8*b.Condenser) {
		t.Errorf("energy is off by %g W of %g W", off, b.Condenser)
	}
	x := r.Readings
	if !(x.SuctionPressure < x.LiquidPressure && x.LiquidPressure <= x.DischargePressure) {
		t.Errorf("pressures %g, %g, %g Pa", x.SuctionPressure, x.LiquidPressure, x.DischargePressure)
	}
	if !(x.SuctionLineTemperature < max(x.ReturnDryBulb, x.OutdoorDryBulb)+1e-6 && x.SupplyWetBulb <= x.SupplyDryBulb+1e-9 && r.Capacity > 0) {
		t.Errorf("readings that cannot be: %+v", x)
	}
}

// The heat that the refrigerant takes up is what the air loses, the water in it
// counted: the supply air tells the capacity.
func TestAirSideCloses(t *testing.T) {
	u := draw(t, fluidOf(t, "R-410A"), Known{Device: equipment.ThermostaticValve}, rand.New(rand.NewPCG(3, 3)))
	for _, wet := range []float64{55, 67, 72} {
		c := Rating()
		c.ReturnWetBulb = unit.Fahrenheit(wet).Kelvin()
		a, err := u.surroundings(c, Faults{})
		require.NoError(t, err)
		n := newton{u: u}
		x := u.rated
		if !n.settle(&x, &a, Faults{}) {
			t.Fatal("not settled")
		}
		e := &n.best.evaporated
		got := a.indoor.mass * (a.indoor.h - enthalpyOfAir(e.airT, e.airW))
		// A dry coil's enthalpy is split by the air's heat capacity, which is exact too.
		if !(math.Abs(got/e.heat-1) < 1e-9) {
			t.Errorf("wet bulb %g degF: the air loses %.9g W, the refrigerant takes %.9g W", wet, got, e.heat)
		}
		if e.wet != (wet > 60) {
			t.Errorf("wet bulb %g degF: wet coil %t", wet, e.wet)
		}
	}
}

// What is found does not depend on where the search began.
func TestWarmStartFindsTheSame(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	p := NewPriors()
	for _, d := range equipment.MeteringDevices() {
		u := draw(t, fluidOf(t, "R-22"), Known{Device: d}, rng)
		near := solve(t, u, Rating(), Faults{})
		for range 10 {
			c, err := p.Weather(rng.Float64)
			require.NoError(t, err)
			f := randomFaults(p, rng)
			cold, err := u.Solve(c, f)
			if err != nil {
				continue
			}
			warm, err := u.SolveNear(&near, c, f)
			require.NoError(t, err)
			if d := math.Abs(cold.Superheat-warm.Superheat) + math.Abs(cold.Subcooling-warm.Subcooling); !(d < 1e-5) {
				t.Errorf("%s %+v %+v: differs by %g K", u.metering.kind, c, f, d)
			}
			near = warm
		}
	}
}

func TestSolveRefuses(t *testing.T) {
	u := draw(t, fluidOf(t, "R-22"), Known{Device: equipment.FixedOrifice}, rand.New(rand.NewPCG(1, 1)))
	nan := math.NaN()
	for name, q := range map[string]struct {
		change func(*Conditions)
		f      Faults
	}{
		"no outdoor":         {func(c *Conditions) { c.OutdoorDryBulb = 0 }, Faults{}},
		"NaN outdoor":        {func(c *Conditions) { c.OutdoorDryBulb = nan }, Faults{}},
		"wet above dry":      {func(c *Conditions) { c.ReturnWetBulb = c.ReturnDryBulb + 1 }, Faults{}},
		"vacuum around":      {func(c *Conditions) { c.SitePressure = 1 }, Faults{}},
		"NaN charge":         {func(*Conditions) {}, Faults{Charge: nan}},
		"no charge":          {func(*Conditions) {}, Faults{Charge: -1}},
		"all air lost":       {func(*Conditions) {}, Faults{IndoorAirflow: 1}},
		"negative gas":       {func(*Conditions) {}, Faults{NonCondensables: -0.1}},
		"two full drops":     {func(*Conditions) {}, Faults{RestrictionBeforePort: 0.6, RestrictionAfterPort: 0.6}},
		"leak without limit": {func(*Conditions) {}, Faults{ValveLeakage: math.Inf(1)}},
	} {
		c := Rating()
		q.change(&c)
		if r, err := u.Solve(c, q.f); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}

// Whatever faults are asked for, the answer is finite or a classified error.
func TestExtremesAreAnsweredOrRefused(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	wide := func(lo, hi float64) float64 {
		if rng.IntN(2) == 0 {
			return 0
		}
		return lo + rng.Float64()*(hi-lo)
	}
	for i := range 160 {
		u := draw(t, fluidOf(t, []string{"R-410A", "R-22"}[i%2]), Known{Device: equipment.MeteringDevices()[i%4]}, rng)
		for range 2 {
			c := Conditions{OutdoorDryBulb: 276 + 53*rng.Float64(), ReturnDryBulb: 284 + 35*rng.Float64(), SitePressure: 6e4 + 4e4*rng.Float64()}
			c.ReturnWetBulb = max(271, c.ReturnDryBulb-12*rng.Float64())
			f := Faults{
				wide(-maxChargeChange, maxChargeChange), wide(leastAirflowLoss, maxAirflowLoss), wide(leastAirflowLoss, maxAirflowLoss),
				wide(0, 0.45), wide(0, 0.45), wide(0, maxNonCondensables), wide(0, maxLeakage),
			}
			r, err := u.Solve(c, f)
			switch {
			case err == nil:
				closes(t, u, &r, f)
			case !errors.Is(err, ErrNotConverged) && !errors.Is(err, ErrBeyondPressures) && !errors.Is(err, ErrInput):
				t.Errorf("%+v %+v: %v", c, f, err)
			}
		}
	}
}

func TestDesignRefuses(t *testing.T) {
	f := fluidOf(t, "R-22")
	good := NewPriors().Spec(f, Known{Device: equipment.ThermostaticValve}, rand.New(rand.NewPCG(1, 1)).Float64)
	for name, change := range map[string]func(*Spec){
		"nothing":                 func(s *Spec) { *s = Spec{} },
		"NaN capacity":            func(s *Spec) { s.Capacity = math.NaN() },
		"infinite flow":           func(s *Spec) { s.IndoorAirflow = math.Inf(1) },
		"device":                  func(s *Spec) { s.Device = "needle_valve" },
		"liquid colder than air":  func(s *Spec) { s.Subcooling = s.CondensingOverAmbient + 1 },
		"vapour warmer than air":  func(s *Spec) { s.Superheat = s.EvaporatorTemperatureDifference + 1 },
		"too little air":          func(s *Spec) { s.IndoorAirflow /= 10 },
		"drop above the pressure": func(s *Spec) { s.Evaporator.Drop = 60 },
	} {
		s := good
		change(&s)
		if u, err := Design(f, s); !errors.Is(err, ErrDesign) {
			t.Errorf("%s: %v, %v", name, u, err)
		}
	}
}

// A state that a unit would not hold has a name.
func TestOperatingLimitsAreNamed(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 11))
	f := fluidOf(t, "R-410A")
	orifice := draw(t, f, Known{Device: equipment.FixedOrifice, SEER: 10}, rng)
	hot := Rating()
	hot.OutdoorDryBulb = unit.Fahrenheit(120).Kelvin()
	for _, tt := range []struct {
		name   string
		c      Conditions
		f      Faults
		want   OperatingLimit
		sealed bool // an error in place of a result will do
	}{
		{"little indoor air", Rating(), Faults{IndoorAirflow: 0.85}, IcedCoil, false},
		{"much charge", Rating(), Faults{Charge: 0.35}, LiquidAtCompressor, false},
		{"little outdoor air", hot, Faults{OutdoorAirflow: 0.6}, HighPressureTrip, true},
		{"shut liquid line", Rating(), Faults{RestrictionAfterPort: 0.9}, LowPressureTrip, false},
		{"next to no charge", Rating(), Faults{Charge: -0.6}, DischargeTrip, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r, err := orifice.Solve(tt.c, tt.f)
			if tt.sealed && errors.Is(err, ErrBeyondPressures) {
				return
			}
			require.NoError(t, err)
			if !slices.Contains(r.LimitsReached, tt.want) {
				t.Errorf("%s: %v; want %s", tt.name, r.LimitsReached, tt.want)
			}
		})
	}
	if r := solve(t, orifice, Rating(), Faults{}); len(r.LimitsReached) != 0 {
		t.Errorf("a healthy unit at its rating point: %v", r.LimitsReached)
	}
}

// Elementary physics of single faults that no table is needed for.
func TestFaultsActWhereTheyAre(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 13))
	for _, d := range equipment.MeteringDevices() {
		u := draw(t, fluidOf(t, "R-410A"), Known{Device: d}, rng)
		h := solve(t, u, Rating(), Faults{})

		// Non-condensables raise the discharge pressure above that of the
		// refrigerant, so the liquid seems more subcooled with a valve.
		gas := solve(t, u, Rating(), Faults{NonCondensables: 0.5})
		if !(gas.Readings.DischargePressure > h.Readings.DischargePressure*1.01 && gas.Power > h.Power) {
			t.Errorf("%s: non-condensables give %g Pa after %g Pa", d, gas.Readings.DischargePressure, h.Readings.DischargePressure)
		}
		if d.Valve() && !(gas.Subcooling > h.Subcooling+1) {
			t.Errorf("%s: subcooling %g K with non-condensables, %g K without", d, gas.Subcooling, h.Subcooling)
		}

		// A restriction chills the liquid behind it; before the port it takes
		// the subcooling that the port shows, after it leaves it.
		before := solve(t, u, Rating(), Faults{RestrictionBeforePort: 0.5})
		after := solve(t, u, Rating(), Faults{RestrictionAfterPort: 0.5})
		if !(before.Subcooling < h.Subcooling && after.Subcooling > before.Subcooling) {
			t.Errorf("%s: subcooling %g, restricted before %g, after %g K", d, h.Subcooling, before.Subcooling, after.Subcooling)
		}
		if !(after.Readings.DrierOutletTemperature < after.Readings.LiquidLineTemperature-1) {
			t.Errorf("%s: liquid of %g K leaves a restriction at %g K", d, after.Readings.LiquidLineTemperature, after.Readings.DrierOutletTemperature)
		}

		leak := solve(t, u, Rating(), Faults{ValveLeakage: 0.2})
		if !(leak.EvaporatingTemperature > h.EvaporatingTemperature && leak.CondensingTemperature < h.CondensingTemperature && leak.Capacity < h.Capacity) {
			t.Errorf("%s: leakage gives %+v after %+v", d, leak, h)
		}

		// Thin air carries less heat.
		high := Rating()
		high.SitePressure = 80e3
		thin := solve(t, u, high, Faults{})
		if !(thin.CondensingTemperature > h.CondensingTemperature && thin.CondenserAirRise > h.CondenserAirRise) {
			t.Errorf("%s: at 80 kPa condensing at %g K, at sea level at %g K", d, thin.CondensingTemperature, h.CondensingTemperature)
		}
	}
}

// An accumulator keeps liquid from the compressor while it has room.
func TestAccumulatorKeepsLiquid(t *testing.T) {
	f := fluidOf(t, "R-22")
	var quality [2]float64
	for i, has := range []bool{false, true} {
		u := draw(t, f, Known{Device: equipment.FixedOrifice, Accumulator: &has}, rand.New(rand.NewPCG(19, 19)))
		r := solve(t, u, Rating(), Faults{Charge: 0.25})
		quality[i] = r.SuctionQuality
		if has != (r.Inventory.Accumulator > 0) {
			t.Errorf("accumulator %t holds %g kg", has, r.Inventory.Accumulator)
		}
	}
	if !(quality[0] < quality[1] && quality[1] < 1) {
		t.Errorf("quality at the compressor %.3f without and %.3f with an accumulator", quality[0], quality[1])
	}
}

// A valve keeps its superheat until it is fully open; an electronic one nearer.
func TestValvesKeepSuperheat(t *testing.T) {
	f := fluidOf(t, "R-410A")
	for _, d := range []equipment.MeteringDevice{equipment.ThermostaticValve, equipment.ElectronicValve} {
		u := draw(t, f, Known{Device: d}, rand.New(rand.NewPCG(17, 17)))
		h := solve(t, u, Rating(), Faults{})
		c := Rating()
		c.OutdoorDryBulb = unit.Fahrenheit(80).Kelvin()
		r := solve(t, u, c, Faults{IndoorAirflow: 0.2})
		if moved := math.Abs(r.EvaporatorSuperheat - h.EvaporatorSuperheat); !(moved < 3) {
			t.Errorf("%s: superheat moved by %g K", d, moved)
		}
		if r := solve(t, u, Rating(), Faults{RestrictionAfterPort: 0.8}); !(r.EvaporatorSuperheat > h.EvaporatorSuperheat+5) {
			t.Errorf("%s: superheat %g K behind a restriction that no valve makes up for", d, r.EvaporatorSuperheat)
		}
	}
	for z, want := range map[float64]float64{-1: 0.02, 0.5: 0.51, 2: 1} {
		if got := opening(z); !(math.Abs(got-want) < 1e-3) {
			t.Errorf("opening(%g) = %g, want %g", z, got, want)
		}
	}
}

// What is known of a system is taken, the rest is drawn alike.
func TestPriorsTakeWhatIsKnown(t *testing.T) {
	p := NewPriors()
	f := fluidOf(t, "R-410A")
	yes := true
	k := Known{Device: equipment.ThermostaticValve, Capacity: 9000, SEER: 14, Superheat: 5, Subcooling: 4, LineLength: 9, LiquidBore: 0.008, IndoorAirflow: 0.5, Accumulator: &yes, Microchannel: true}
	s := p.Spec(f, k, rand.New(rand.NewPCG(1, 1)).Float64)
	if s.Capacity != 9000 || s.Superheat != 5 || s.Subcooling != 4 || s.LineLength != 9 || s.Lines.LiquidBore != 0.008 || s.IndoorAirflow != 0.5 || !(s.Accumulator > 0) || !(s.Condenser.Bore < 2e-3) {
		t.Errorf("drawn %+v", s)
	}
	_, err := Design(f, s)
	require.NoError(t, err)
	free := p.Spec(f, Known{Device: equipment.ThermostaticValve, Capacity: 9000}, rand.New(rand.NewPCG(1, 1)).Float64)
	if free.Compressor.Clearance != s.Compressor.Clearance || free.Valve != s.Valve {
		t.Error("knowing more must not change what else is drawn")
	}
	low := p.Spec(f, Known{SEER: 8}, rand.New(rand.NewPCG(2, 2)).Float64)
	high := p.Spec(f, Known{SEER: 17}, rand.New(rand.NewPCG(2, 2)).Float64)
	if !(low.CondensingOverAmbient > high.CondensingOverAmbient && low.Compressor.Efficiency < high.Compressor.Efficiency) {
		t.Errorf("SEER 8 condenses %g K over ambient, SEER 17 %g K", low.CondensingOverAmbient, high.CondensingOverAmbient)
	}
	if _, _, ok := p.Severity("rust"); ok {
		t.Error("rust is no fault")
	}
	for _, fault := range equipment.Faults() {
		low, high, ok := p.Severity(fault)
		require.True(t, ok, "%s", fault)
		require.Less(t, low, high, "%s", fault)
		require.NoError(t, (Faults{}).With(fault, high, true).check(), "%s", fault)
	}
}

func BenchmarkNewFluid(b *testing.B) {
	r, err := catalogue().Find("R-454B")
	require.NoError(b, err)
	lines, err := curves.Of(r.System(), nil)
	require.NoError(b, err)
	for b.Loop() {
		if _, err := NewFluid(r.System(), lines, nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDesign(b *testing.B) {
	f := fluidOf(b, "R-410A")
	s := NewPriors().Spec(f, Known{Device: equipment.ThermostaticValve}, rand.New(rand.NewPCG(1, 1)).Float64)
	for b.Loop() {
		if _, err := Design(f, s); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSolve is warm from the healthy state under the same conditions, and
// cold from the rating point.
func BenchmarkSolve(b *testing.B) {
	c := Rating()
	c.OutdoorDryBulb = unit.Fahrenheit(82).Kelvin()
	c.ReturnWetBulb = unit.Fahrenheit(63).Kelvin()
	fault := Faults{Charge: -0.15}
	for _, name := range []string{"R-410A", "R-22", "R-454B", "R-407C", "R-134a"} {
		for _, d := range equipment.MeteringDevices() {
			u := draw(b, fluidOf(b, name), Known{Device: d}, rand.New(rand.NewPCG(1, 1)))
			near := solve(b, u, c, Faults{})
			b.Run(name+"/"+string(d)+"/cold", func(b *testing.B) {
				for b.Loop() {
					if _, err := u.Solve(c, fault); err != nil {
						b.Fatal(err)
					}
				}
			})
			b.Run(name+"/"+string(d)+"/warm", func(b *testing.B) {
				for b.Loop() {
					if _, err := u.SolveNear(&near, c, fault); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
