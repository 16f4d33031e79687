package plant

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/numeric"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// featureOf is a quantity of the published sign tables.
func featureOf(t *testing.T, r *Result, code string) float64 {
	t.Helper()
	switch code {
	case "evaporating_temperature":
		return r.EvaporatingTemperature
	case "superheat":
		return r.Superheat
	case "condensing_temperature":
		return r.CondensingTemperature
	case "subcooling":
		return r.Subcooling
	case "discharge_line_temperature":
		return r.Readings.DischargeLineTemperature
	case "condenser_air_rise":
		return r.CondenserAirRise
	case "temperature_split":
		return r.Readings.ReturnDryBulb - r.Readings.SupplyDryBulb
	}
	t.Fatalf("no feature %q", code)
	return 0
}

// Signs of faults of a fixed-orifice unit: Rossi & Braun (1997) as quoted in
// table 1-1 of the rooftop deliverable, over 20 systems and 3 conditions. At
// least 90 % of the cells must agree, and no fault may be lost among them.
func TestSignsOfFaultsAgreeWithTheTable(t *testing.T) {
	var chart refdata.SignChart
	for _, c := range refdata.FaultSigns().Charts {
		if c.Code == "rossi_braun" {
			chart = c
		}
	}
	if len(chart.Rows) != 5 {
		t.Fatalf("%d rows of the table, want 5", len(chart.Rows))
	}
	rng := rand.New(rand.NewPCG(1, 2))
	agreeing := map[string]map[string]int{}
	agree, cells, looked := 0, 0, 0
	for i := range 20 {
		u := draw(t, fluidOf(t, []string{"R-410A", "R-22"}[i%2]), Known{Device: equipment.FixedOrifice}, rng)
		for _, outdoor := range []float64{82, 95, 105} {
			c := Rating()
			c.OutdoorDryBulb = unit.Fahrenheit(outdoor).Kelvin()
			healthy := solve(t, u, c, Faults{})
			looked++
			for _, row := range chart.Rows {
				r := solve(t, u, c, Faults{}.With(equipment.Fault(row.Fault), 0.2, false))
				if agreeing[row.Fault] == nil {
					agreeing[row.Fault] = map[string]int{}
				}
				for code, sign := range row.Signs {
					cells++
					if (featureOf(t, &r, code)-featureOf(t, &healthy, code))*float64(sign) > 0 {
						agree++
						agreeing[row.Fault][code]++
					}
				}
			}
		}
	}
	share := float64(agree) / float64(cells)
	t.Logf("%d of %d cells agree, %.1f %%", agree, cells, 100*share)
	for fault, codes := range agreeing {
		t.Logf("%s, of %d: %v", fault, looked, codes)
	}
	if !(share >= 0.9) {
		t.Errorf("%.1f %% of the cells agree, want 90 %%", 100*share)
	}
}

// plane is fitted to a quantity over wet bulb and outdoor temperature.
type plane struct {
	a [9]float64
	b [3]float64
}

func (p *plane) add(wet, outdoor, y float64) {
	v := [3]float64{1, wet - 67, outdoor - 90}
	for i := range 3 {
		for j := range 3 {
			p.a[3*i+j] += v[i] * v[j]
		}
		p.b[i] += v[i] * y
	}
}

func (p *plane) slopes(t *testing.T) (wet, outdoor float64) {
	t.Helper()
	a, x := p.a, p.b
	if !numeric.Solve(a[:], 3, x[:], 1e-14) {
		t.Fatal("no plane through the points")
	}
	return x[1], x[2]
}

// dryBulbOf is the return dry bulb that goes with a wet bulb where the table
// gives none: that of half saturated air, kept to rooms of 70 to 85 degF.
func dryBulbOf(t *testing.T, wet float64) float64 {
	t.Helper()
	w := unit.Fahrenheit(wet).Kelvin()
	dry := numeric.Halved(func(dry float64) float64 {
		s, err := moistair.FromRelativeHumidity(unit.StandardAtmosphere(), unit.Kelvin(dry), unit.Fraction(0.5))
		require.NoError(t, err)
		return s.WetBulb().Kelvin() - w
	}, 280, 320)
	return min(max(dry, unit.Fahrenheit(70).Kelvin()), unit.Fahrenheit(85).Kelvin())
}

// Healthy superheat of fixed orifices against CEC table RA3.2-2 over its whole
// range (from memory, unverified): what is expected of a unit of which nothing
// else is known, rms at most 4 degF, slopes within 25 %; and single units, whose
// charts differ as manufacturers' do.
func TestHealthySuperheatFollowsTheChargingTable(t *testing.T) {
	g := refdata.TargetSuperheat()
	rng := rand.New(rand.NewPCG(3, 4))
	const each = 6
	fluids := []string{"R-22", "R-410A", "R-134a", "R-32"}
	type cell struct{ i, j int }
	expected := map[cell]float64{}
	var single float64
	n := 0
	for _, name := range fluids {
		mean := map[cell]float64{}
		for range each {
			u := draw(t, fluidOf(t, name), Known{Device: equipment.FixedOrifice}, rng)
			near := solve(t, u, Rating(), Faults{})
			for i, outdoor := range g.Rows {
				for j, wet := range g.Columns {
					if i%5 != 0 || j%3 != 0 || math.IsNaN(g.Cells[i][j]) {
						continue
					}
					c := Rating()
					c.OutdoorDryBulb, c.ReturnWetBulb = unit.Fahrenheit(outdoor).Kelvin(), unit.Fahrenheit(wet).Kelvin()
					c.ReturnDryBulb = dryBulbOf(t, wet)
					r, err := u.SolveNear(&near, c, Faults{})
					require.NoError(t, err)
					near = r
					got := max(r.Superheat, 0) / fahrenheitSteps
					mean[cell{i, j}] += got / each
					expected[cell{i, j}] += got / float64(each*len(fluids))
					single += (got - g.Cells[i][j]) * (got - g.Cells[i][j])
					n++
				}
			}
		}
		rms, off := against(mean, func(at cell) float64 { return g.Cells[at.i][at.j] })
		t.Logf("%s: mean of %d units, rms %.1f degF, mean %+.1f degF", name, each, rms, off)
	}
	rms, off := against(expected, func(at cell) float64 { return g.Cells[at.i][at.j] })
	var model, table plane
	for at, got := range expected {
		model.add(g.Columns[at.j], g.Rows[at.i], got)
		table.add(g.Columns[at.j], g.Rows[at.i], g.Cells[at.i][at.j])
	}
	wet, outdoor := model.slopes(t)
	wantWet, wantOutdoor := table.slopes(t)
	alone := math.Sqrt(single / float64(n))
	t.Logf("expected: rms %.2f degF, mean %+.2f degF; by wet bulb %.2f (table %.2f), by outdoor %.2f (table %.2f); single units rms %.2f degF", rms, off, wet, wantWet, outdoor, wantOutdoor, alone)
	if !(rms <= 4) || !(alone <= 5) {
		t.Errorf("rms %.2f degF, want at most 4; of single units %.2f, want at most 5", rms, alone)
	}
	if !(math.Abs(wet/wantWet-1) <= 0.25) || !(math.Abs(outdoor/wantOutdoor-1) <= 0.25) {
		t.Errorf("slopes %.3f and %.3f, the table's are %.3f and %.3f", wet, outdoor, wantWet, wantOutdoor)
	}
}

// against gives root mean square and mean of the differences to a table.
func against[K comparable](got map[K]float64, want func(K) float64) (rms, mean float64) {
	for k, v := range got {
		d := v - want(k)
		mean += d / float64(len(got))
		rms += d * d / float64(len(got))
	}
	return math.Sqrt(rms), mean
}

// changes are mean relative changes of capacity and COP over systems.
func changes(t *testing.T, d equipment.MeteringDevice, charge float64) (capacity, cop float64, iced int) {
	t.Helper()
	const systems = 10
	rng := rand.New(rand.NewPCG(9, 9))
	for i := range systems {
		u := draw(t, fluidOf(t, []string{"R-22", "R-410A"}[i%2]), Known{Device: d}, rng)
		c := Rating()
		c.OutdoorDryBulb = unit.Fahrenheit(90).Kelvin()
		h, r := solve(t, u, c, Faults{}), solve(t, u, c, Faults{Charge: charge})
		capacity += (r.Capacity/h.Capacity - 1) / systems
		cop += (r.COP()/h.COP() - 1) / systems
		for _, s := range r.LimitsReached {
			if s == IcedCoil {
				iced++
			}
		}
	}
	return capacity, cop, iced
}

// Charge by device: Farzad (1990, abstract of the dissertation; seasonal
// efficiency of one unit, here COP over all power at 90 degF), Goswami et al.
// (1997/2001, abstract). The model's steady efficiency is held to the order and
// to a band about the published figures.
func TestChargeSensitivity(t *testing.T) {
	for _, tt := range []struct {
		device   equipment.MeteringDevice
		charge   float64
		cop, tol float64
		src      string
	}{
		{equipment.CapillaryTube, -0.2, -0.21, 0.08, "Farzad 1990: capillary at -20 %"},
		{equipment.ThermostaticValve, -0.2, -0.02, 0.03, "Farzad 1990: thermostatic valve at -20 %"},
		{equipment.ThermostaticValve, 0.2, -0.08, 0.04, "Farzad 1990: thermostatic valve at +20 %"},
	} {
		capacity, cop, _ := changes(t, tt.device, tt.charge)
		t.Logf("%s: COP %+.1f %%, capacity %+.1f %%, published %+.0f %%", tt.src, 100*cop, 100*capacity, 100*tt.cop)
		if !(math.Abs(cop-tt.cop) <= tt.tol) {
			t.Errorf("%s: COP changes by %.3f, want %.2f within %.2f", tt.src, cop, tt.cop, tt.tol)
		}
	}
	var cops [3]float64
	for i, d := range []equipment.MeteringDevice{equipment.CapillaryTube, equipment.FixedOrifice, equipment.ThermostaticValve} {
		_, cops[i], _ = changes(t, d, -0.2)
	}
	t.Logf("COP at -20 %% of charge: capillary %+.1f %%, orifice %+.1f %%, valve %+.1f %%", 100*cops[0], 100*cops[1], 100*cops[2])
	if !(cops[0] < cops[1] && cops[1] < cops[2]) {
		t.Errorf("COP changes %v: the capillary must be the most, the valve the least sensitive (Farzad 1990)", cops)
	}

	// Goswami: R-22, the device is not in the abstract; the mean of orifice and valve.
	var at90, at70 float64
	for _, d := range []equipment.MeteringDevice{equipment.FixedOrifice, equipment.ThermostaticValve} {
		q, _, _ := changes(t, d, -0.1)
		at90 += q / 2
		q, _, iced := changes(t, d, -0.3)
		at70 += q / 2
		t.Logf("%s at 70 %% charge: capacity %+.1f %%, %d of 10 coils iced", d, 100*q, iced)
	}
	t.Logf("capacity %+.1f %% at 90 %% charge, %+.1f %% at 70 %%", 100*at90, 100*at70)
	if !(math.Abs(at90+0.035) <= 0.03) || !(at70 < 3*at90) {
		t.Errorf("capacity changes by %.3f at 90 %% and %.3f at 70 %% charge; Goswami: -0.035, and serious below 80 %%", at90, at70)
	}
}

// Levels and movement of healthy units with a thermostatic valve over the
// conditions of NISTIR 7350 appendix D, as the figures of refdata.NoFault sum
// them up: one laboratory unit there, here R-410A units set to its superheat and
// subcooling.
func TestValveLevelsOfTheLaboratory(t *testing.T) {
	get := func(code string) refdata.Figure {
		f, ok := refdata.NoFault().Get(code)
		if !ok {
			t.Fatalf("no figure %q", code)
		}
		return f
	}
	rng := rand.New(rand.NewPCG(21, 22))
	const systems = 12
	names := [4]string{"superheat", "subcooling", "condensing_over_ambient", "evaporator_temperature_difference"}
	var all, within [4]float64
	low, high := [4]float64{1e9, 1e9, 1e9, 1e9}, [4]float64{-1e9, -1e9, -1e9, -1e9}
	falls := 0
	for range systems {
		u := draw(t, fluidOf(t, "R-410A"), Known{Device: equipment.ThermostaticValve, SEER: 14, Superheat: *get("superheat_mean").Value * fahrenheitSteps, Subcooling: *get("subcooling_mean").Value * fahrenheitSteps}, rng)
		var sum, squares [4]float64
		var cold, warm float64
		points := 0.
		for _, outdoor := range []float64{70, 82, 90, 100} {
			for _, indoor := range []float64{70, 80} {
				for _, humidity := range []float64{0.2, 0.5} {
					dry := unit.Fahrenheit(indoor)
					s, err := moistair.FromRelativeHumidity(unit.StandardAtmosphere(), dry, unit.Fraction(humidity))
					require.NoError(t, err)
					c := Rating()
					c.OutdoorDryBulb, c.ReturnDryBulb, c.ReturnWetBulb = unit.Fahrenheit(outdoor).Kelvin(), dry.Kelvin(), s.WetBulb().Kelvin()
					r := solve(t, u, c, Faults{})
					points++
					switch outdoor {
					case 70:
						cold += r.Subcooling
					case 100:
						warm += r.Subcooling
					}
					for k, v := range [4]float64{r.EvaporatorSuperheat, r.Subcooling, r.CondensingTemperature - c.OutdoorDryBulb, c.ReturnDryBulb - r.EvaporatingTemperature} {
						v /= fahrenheitSteps
						sum[k] += v
						squares[k] += v * v
						low[k], high[k] = min(low[k], v), max(high[k], v)
					}
				}
			}
		}
		if warm < cold {
			falls++
		}
		for k := range names {
			mean := sum[k] / points
			all[k] += mean / systems
			within[k] += math.Sqrt(squares[k]/points-mean*mean) / systems
		}
	}
	for k, name := range names {
		r := get(name + "_range")
		t.Logf("%s: mean %.1f, within one unit sd %.1f, from %.1f to %.1f degF; laboratory %.1f to %.1f", name, all[k], within[k], low[k], high[k], *r.Low, *r.High)
		// How large the indoor coil is, is the manufacturer's choice: the laboratory unit's
		// was larger than the 35 degF of the trade, so only its movement compares.
		if name == "evaporator_temperature_difference" {
			if width := *r.High - *r.Low; !(within[k] <= width/2) {
				t.Errorf("%s: moves by %.2f degF within a unit, the laboratory's spans %.1f", name, within[k], width)
			}
			continue
		}
		if !(all[k] >= *r.Low && all[k] <= *r.High) {
			t.Errorf("%s: mean %.2f degF outside the laboratory's %g to %g", name, all[k], *r.Low, *r.High)
		}
	}
	t.Logf("subcooling falls with outdoor temperature in %d of %d units", falls, systems)
	// A fixed subcooling target carries about 2 degF of no-fault movement.
	if limit := *get("subcooling_target_movement").Value; !(within[1] <= limit) {
		t.Errorf("subcooling moves by %.2f degF within a unit, want at most %g", within[1], limit)
	}
	if !(within[0] <= 2**get("superheat_standard_deviation").Value) {
		t.Errorf("superheat moves by %.2f degF within a unit", within[0])
	}
}

// equipment.Overcharge with a valve: subcooling, condensing and discharge temperature
// rise (quoted second-hand from table 5.2 of NIST SP 1087).
func TestOverchargeOfAValve(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 24))
	for range 6 {
		u := draw(t, fluidOf(t, "R-410A"), Known{Device: equipment.ThermostaticValve}, rng)
		h, r := solve(t, u, Rating(), Faults{}), solve(t, u, Rating(), Faults{Charge: 0.15})
		for _, code := range []string{"subcooling", "condensing_temperature", "discharge_line_temperature"} {
			if a, b := featureOf(t, &h, code), featureOf(t, &r, code); !(b > a) {
				t.Errorf("%s goes from %g to %g", code, a, b)
			}
		}
	}
}

// Superheat less subcooling falls with charge for either device (Harms 2002 as
// quoted by Li & Braun).
func TestChargeFeatureFallsWithCharge(t *testing.T) {
	rng := rand.New(rand.NewPCG(25, 26))
	for _, d := range equipment.MeteringDevices() {
		u := draw(t, fluidOf(t, "R-22"), Known{Device: d}, rng)
		last := math.Inf(1)
		for charge := -0.3; charge < 0.16; charge += 0.05 {
			r := solve(t, u, Rating(), Faults{Charge: charge})
			if v := r.Superheat - r.Subcooling; !(v < last) {
				t.Errorf("%s: %g K at charge %+.2f after %g K", d, v, charge, last)
			} else {
				last = v
			}
		}
	}
}
