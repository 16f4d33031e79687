package hose_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/hose"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

const (
	inch  = 0.0254       // m, exact by definition
	foot  = 12 * inch    // m
	ounce = 0.0283495231 // kg, avoirdupois
)

var (
	catalogue = refrigerant.NewCatalogue()
	curves    = saturation.NewCurves(nil, "test", 20)
)

func fluid(t *testing.T, name string) (*equilibrium.System, saturation.Lines) {
	t.Helper()
	r, err := catalogue.Find(name)
	require.NoError(t, err)
	lines, err := curves.Of(r.System(), nil)
	require.NoError(t, err)
	return r.System(), lines
}

func psig(g float64) *gum.Uncertain {
	p, err := unit.PSIG(g).Absolute(unit.StandardAtmosphere())
	if err != nil {
		panic(err)
	}
	return &gum.Uncertain{Value: p.Pascal()}
}

func degF(t float64) *gum.Uncertain { return &gum.Uncertain{Value: unit.Fahrenheit(t).Kelvin()} }

func rating(p float64) *unit.GaugePressure {
	g := unit.PSIG(p)
	return &g
}

// visit is a running R-410A unit in cooling with two 5 ft hoses on cores.
func visit(t *testing.T) hose.Input {
	t.Helper()
	s, lines := fluid(t, "R-410A")
	one := func(side hose.Side, pressure, line float64) hose.Hose {
		return hose.Hose{
			Name: string(side), Side: side, Port: hose.Core, Shutoff: hose.LowLoss,
			Length: gum.Uncertain{Value: 5 * foot}, Bore: &gum.Uncertain{Value: 3. / 16 * inch},
			WorkingPressure: rating(800), Pressure: psig(pressure), LineTemperature: degF(line), Temperature: degF(90),
		}
	}
	return hose.Input{
		System: s, Lines: lines, Running: true,
		Hoses:      []hose.Hose{one(hose.Low, 118, 52), one(hose.High, 418, 105)},
		Manifold:   hose.Manifold{LowGaugeLimit: rating(350), HighGaugeLimit: rating(800)},
		Atmosphere: unit.StandardAtmosphere(), Ambient: degF(90), Storage: unit.Fahrenheit(140),
		Charge: &gum.Uncertain{Value: 3},
	}
}

func assess(t *testing.T, in hose.Input) hose.Answer {
	t.Helper()
	a, err := hose.Assess(in)
	require.NoError(t, err)
	return a
}

func option(t *testing.T, a hose.Answer, way hose.Way) hose.Option {
	t.Helper()
	for _, o := range a.Options {
		if o.Way == way {
			return o
		}
	}
	t.Fatalf("no option %s", way)
	return hose.Option{}
}

// The volumes per length are π/4 d² (elementary), printed to 0.1 mL.
func TestVolumes(t *testing.T) {
	for _, tt := range []struct {
		bore, length, want float64 // m, m, mL
	}{
		{3. / 16 * inch, 1, 17.8}, {3. / 16 * inch, 36 * inch, 16.3}, {3. / 16 * inch, 60 * inch, 27.1}, {3. / 16 * inch, 72 * inch, 32.6},
		{5e-3, 1, 19.6}, {5e-3, 36 * inch, 18.0}, {5e-3, 60 * inch, 29.9}, {5e-3, 72 * inch, 35.9},
		{1. / 4 * inch, 1, 31.7}, {1. / 4 * inch, 36 * inch, 29.0}, {1. / 4 * inch, 60 * inch, 48.3}, {1. / 4 * inch, 72 * inch, 57.9},
		{5. / 16 * inch, 1, 49.5}, {5. / 16 * inch, 36 * inch, 45.2}, {5. / 16 * inch, 60 * inch, 75.4}, {5. / 16 * inch, 72 * inch, 90.5},
		{3. / 8 * inch, 1, 71.3}, {3. / 8 * inch, 36 * inch, 65.2}, {3. / 8 * inch, 60 * inch, 108.6}, {3. / 8 * inch, 72 * inch, 130.3},
	} {
		in := visit(t)
		in.Hoses = in.Hoses[:1]
		in.Hoses[0].Bore, in.Hoses[0].Length = &gum.Uncertain{Value: tt.bore}, gum.Uncertain{Value: tt.length}
		in.Hoses[0].Pressure = &gum.Uncertain{Value: 101325} // no growth
		if got := assess(t, in).Held[0].Volume.Value * 1e6; !(math.Abs(got-tt.want) <= 0.051) {
			t.Errorf("%g m of %g m bore hold %.2f mL, want %g (V = π/4 d² L, elementary)", tt.length, tt.bore, got, tt.want)
		}
	}
}

// An article (a textbook author, August 2014, trade literature, weak) has a
// 5 ft hose called 1/4 in hold 3.5 oz of liquid R-22. At the density of R-22
// (1.19 g/mL) that is 83 mL, a bore of 8.3 mm: wider than 5/16 in. A hose is
// called by its 1/4 in flare fitting and has a bore of about 3/16 in (from
// memory, unverified), which gives 1.1 oz, and a true bore of 1/4 in gives
// 2.0 oz. The figure stands as an upper bound and the answer does not reach it.
// Liquid lines say the same: 1/4 in tube, whose bore is near 3/16 in, holds
// 0.27 oz of R-410A a foot (published equipment manual), 1.35 oz in 5 ft.
func TestLiquidOfAFullHose(t *testing.T) {
	for _, tt := range []struct {
		refrigerant string
		bore, want  float64
		tolerance   float64 // oz
		source      string
	}{
		{"R-22", 3. / 16 * inch, 1.1, 0.06, "27.1 mL at 1.19 g/mL, elementary"},
		{"R-22", 1. / 4 * inch, 2.0, 0.06, "48.3 mL at 1.19 g/mL, elementary"},
		{"R-22", 8.3e-3, 3.5, 0.1, "trade article, August 2014, with the bore that it implies"},
		{"R-410A", 3. / 16 * inch, 1.35, 0.4, "0.27 oz/ft of 1/4 in liquid line, published equipment manual"},
	} {
		in := visit(t)
		in.System, in.Lines = fluid(t, tt.refrigerant)
		h := in.Hoses[1]
		h.Pressure = psig(250)
		h.Bore, h.Temperature, h.OilShare = &gum.Uncertain{Value: tt.bore}, degF(77), &gum.Uncertain{}
		in.Hoses = []hose.Hose{h}
		c := assess(t, in).Held[0]
		full := c.Density.Value / c.LiquidShare.Value * math.Pi / 4 * tt.bore * tt.bore * 5 * foot / ounce
		if !(math.Abs(full-tt.want) <= tt.tolerance) {
			t.Errorf("5 ft of %g m bore full of %s: %.3f oz, want %g (%s)", tt.bore, tt.refrigerant, full, tt.want, tt.source)
		}
	}
}

func TestWhatIsInAHose(t *testing.T) {
	for _, tt := range []struct {
		name           string
		side           hose.Side
		pressure       float64 // psig
		line, hose     float64 // degF
		phase          hose.Phase
		basis          hose.Basis
		assumedAtPorts hose.Assumption
	}{
		// R-410A at 418 psig boils at about 120 degF, at 118 psig at about 40 degF.
		{"liquid line", hose.High, 418, 105, 90, hose.SubcooledLiquid, hose.FilledWithLiquid, ""},
		{"liquid line, hose in the sun", hose.High, 418, 105, 140, hose.SuperheatedVapor, hose.BoiledBack, ""},
		{"liquid line, hose at the bubble point", hose.High, 418, 105, 119.8, hose.TwoPhase, hose.NearSaturation, ""},
		{"hot gas in a cold hose", hose.High, 418, 160, 50, hose.TwoPhase, hose.Condensing, ""},
		{"two phases at the port", hose.High, 418, 119.75, 50, hose.TwoPhase, hose.Condensing, ""},
		{"vapor port in heating", hose.Low, 418, 160, 50, hose.TwoPhase, hose.Condensing, ""},
		{"suction", hose.Low, 118, 52, 90, hose.SuperheatedVapor, hose.VaporAtHoseTemperature, ""},
		{"suction, flooding", hose.Low, 118, 30, 20, hose.SubcooledLiquid, hose.FilledWithLiquid, ""},
		{"suction, cold hose", hose.Low, 118, 52, 20, hose.TwoPhase, hose.Condensing, ""},
		{"no line temperature, high", hose.High, 418, 0, 90, hose.SubcooledLiquid, hose.FilledWithLiquid, hose.LiquidAtHighPort},
		{"no line temperature, low", hose.Low, 118, 0, 90, hose.SuperheatedVapor, hose.VaporAtHoseTemperature, hose.VaporAtLowPort},
		{"center with vapor", hose.Center, 118, 0, 90, hose.SuperheatedVapor, hose.VaporAtHoseTemperature, ""},
		{"center with liquid", hose.Center, 418, 0, 90, hose.SubcooledLiquid, hose.FilledWithLiquid, ""},
		{"above critical, cold", hose.High, 900, 105, 90, hose.SubcooledLiquid, hose.AboveCritical, ""},
		{"above critical, hot", hose.High, 900, 105, 200, hose.Supercritical, hose.AboveCritical, ""},
	} {
		in := visit(t)
		h := in.Hoses[0]
		h.Side, h.Pressure, h.Temperature = tt.side, psig(tt.pressure), &gum.Uncertain{Value: unit.Fahrenheit(tt.hose).Kelvin(), Standard: 0.3}
		if h.LineTemperature = nil; tt.line != 0 {
			h.LineTemperature = degF(tt.line)
		}
		in.Hoses, in.Storage = []hose.Hose{h}, unit.Temperature{}
		a := assess(t, in)
		c := a.Held[0]
		if c.Phase != tt.phase || c.Basis != tt.basis {
			t.Errorf("%s: %s, %s; want %s, %s", tt.name, c.Phase, c.Basis, tt.phase, tt.basis)
		}
		if !near.Rel(c.Mass.Value, c.Density.Value*c.Volume.Value, 1e-12) || !(c.LiquidMass.Value <= c.Mass.Value) || !(c.Mass.Value > 0) {
			t.Errorf("%s: %+v does not add up", tt.name, c)
		}
		if tt.assumedAtPorts != "" && !slices.Contains(a.Assumptions, tt.assumedAtPorts) {
			t.Errorf("%s: assumptions %v lack %s", tt.name, a.Assumptions, tt.assumedAtPorts)
		}
	}
}

// A hose whose phase is not resolved covers both phases in its interval.
func TestUnresolvedPhaseCoversBoth(t *testing.T) {
	in := visit(t)
	liquid := assess(t, in).Held[1].Mass.Value
	in.Hoses[1].Temperature = degF(140)
	vapor := assess(t, in).Held[1].Mass.Value
	in.Hoses[1].Temperature = &gum.Uncertain{Value: degF(119).Value, Standard: 3}
	m := assess(t, in).Held[1].Mass
	if !(m.Value-1.96*m.Standard < vapor && m.Value+1.96*m.Standard > 0.95*liquid) {
		t.Errorf("%g kg, standard uncertainty %g, does not reach from %g to %g", m.Value, m.Standard, vapor, liquid)
	}
}

// JCGM 100:2008 (GUM) 5.1.2: the relative uncertainty of d² is twice that of d,
// and inputs that two hoses share add up without squaring.
func TestUncertainty(t *testing.T) {
	in := visit(t)
	in.Manifold.Volume = &gum.Uncertain{}
	low := in.Hoses[0]
	low.Pressure = &gum.Uncertain{Value: 101325} // no growth by pressure
	low.Bore = &gum.Uncertain{Value: 4.8e-3, Standard: 0.1e-3}
	in.Hoses = []hose.Hose{low}
	one := assess(t, in).Total
	if want := 2 * 0.1 / 4.8 * one.Value; !near.Rel(one.Standard, want, 1e-9) {
		t.Errorf("one hose: standard uncertainty %g, want %g", one.Standard, want)
	}
	in.Hoses = []hose.Hose{low, low}
	if two, want := assess(t, in).Total, math.Sqrt2*one.Standard; !near.Rel(two.Standard, want, 1e-9) {
		t.Errorf("two hoses of their own bore: standard uncertainty %g, want %g", two.Standard, want)
	}
	low.Bore = nil
	in.Hoses = []hose.Hose{low}
	one = assess(t, in).Total
	in.Hoses = []hose.Hose{low, low}
	if two := assess(t, in).Total; !near.Rel(two.Standard, 2*one.Standard, 1e-9) {
		t.Errorf("two hoses of the assumed bore: standard uncertainty %g, want twice %g", two.Standard, one.Standard)
	}
	// The same by brute force: the whole answer at one standard deviation away.
	for name, shift := range map[string]func(*hose.Hose, float64){
		"pressure":    func(h *hose.Hose, by float64) { h.Pressure.Value += by * 5000 },
		"temperature": func(h *hose.Hose, by float64) { h.Temperature.Value += by * 0.5 },
	} {
		for i := range 2 {
			total := func(by float64) gum.Uncertain {
				in := visit(t)
				h := in.Hoses[i]
				shift(&h, by)
				in.Hoses[i] = h
				return assess(t, in).Total
			}
			want := math.Abs(total(1e-3).Value-total(-1e-3).Value) / 2e-3
			in := visit(t)
			rest := assess(t, in).Total.Standard
			if name == "pressure" {
				in.Hoses[i].Pressure.Standard = 5000
			} else {
				in.Hoses[i].Temperature.Standard = 0.5
			}
			all := assess(t, in).Total.Standard
			if got := math.Sqrt(all*all - rest*rest); !(math.Abs(got-want) <= 1e-3*want+1e-9) {
				t.Errorf("%s of hose %d moves the total by %g, brute force %g", name, i, got, want)
			}
		}
	}
}

func TestMonotone(t *testing.T) {
	total := func(change func(*hose.Input)) float64 {
		in := visit(t)
		in.Storage = unit.Temperature{}
		change(&in)
		a := assess(t, in)
		return a.Total.Value
	}
	rising := func(what string, f func(x float64) float64, xs ...float64) {
		t.Helper()
		for i := 1; i < len(xs); i++ {
			if a, b := f(xs[i-1]), f(xs[i]); !(b > a) {
				t.Errorf("%s: from %g to %g the mass goes from %g to %g", what, xs[i-1], xs[i], a, b)
			}
		}
	}
	for i := range 2 {
		rising("bore", func(x float64) float64 {
			return total(func(in *hose.Input) { in.Hoses[i].Bore = &gum.Uncertain{Value: x} })
		}, 4e-3, 4.8e-3, 5e-3, 6.35e-3, 9.5e-3)
		rising("length", func(x float64) float64 {
			return total(func(in *hose.Input) { in.Hoses[i].Length.Value = x })
		}, 0.9, 1.2, 1.5, 1.8, 2.4)
		rising("cold", func(x float64) float64 {
			return total(func(in *hose.Input) { in.Hoses[i].Temperature = degF(-x) })
		}, -110, -100, -90, -70)
		rising("pressure", func(x float64) float64 {
			return total(func(in *hose.Input) { in.Hoses[i].Pressure = psig([]float64{118, 418}[i] * x) })
		}, 1, 1.02, 1.1)
	}
}

func TestBalance(t *testing.T) {
	gwp := 2088. // IPCC AR4, R-410A
	n := 0
	for _, port := range hose.Ports() {
		for _, shutoff := range hose.Shutoffs() {
			for _, refrigerant := range []string{"R-410A", "R-454B", "R-407C"} {
				for _, center := range []bool{false, true} {
					in := visit(t)
					in.System, in.Lines = fluid(t, refrigerant)
					in.GWP, in.Storage = &gwp, unit.Temperature{}
					for i := range in.Hoses {
						in.Hoses[i].Port, in.Hoses[i].Shutoff = port, shutoff
					}
					if center {
						in.Hoses = append(in.Hoses, hose.Hose{Side: hose.Center, Length: gum.Uncertain{Value: 1.5}})
					}
					a := assess(t, in)
					sum := a.Manifold.Mass.Value
					for _, c := range a.Held {
						sum += c.Mass.Value
					}
					if !near.Rel(sum, a.Total.Value, 1e-12) {
						t.Errorf("%s, %s, %s: held sums to %g, total %g", port, shutoff, refrigerant, sum, a.Total.Value)
					}
					all := a.Options[0].Balance
					for _, o := range a.Options {
						require.Equal(t, o.Balance != nil, o.Available, "%s", o.Way)
						require.NotEqual(t, len(o.Because) > 0, o.Available, "%s", o.Way)
						require.Equal(t, len(o.Steps) > 0, o.Available, "%s", o.Way)
						b := o.Balance
						if b == nil {
							continue
						}
						n++
						if !near.Rel(b.Released.Value+b.Returned.Value, sum, 1e-9) || !near.Rel(b.AtOnce.Value+b.KeptInHoses.Value, b.Released.Value, 1e-9) {
							t.Errorf("%s, %s, %s: %s: %+v does not balance with %g", port, shutoff, refrigerant, o.Way, b, sum)
						}
						if !(b.Released.Value <= all.Released.Value && b.LiquidReleased.Value <= b.Released.Value && b.LiquidReleased.Value >= 0 && b.AtOnce.Value >= 0 && b.KeptInHoses.Value >= 0) {
							t.Errorf("%s, %s, %s: %s releases %+v, disconnecting %+v", port, shutoff, refrigerant, o.Way, b, all)
						}
						if !near.Rel(b.CO2Equivalent.Value, gwp*b.Released.Value, 1e-12) || !near.Rel(b.ShareOfCharge.Value, b.Released.Value/3, 1e-12) {
							t.Errorf("%s: CO2 equivalent %g, share %g of %g kg", o.Way, b.CO2Equivalent.Value, b.ShareOfCharge.Value, b.Released.Value)
						}
					}
				}
			}
		}
	}
	if n < 150 {
		t.Errorf("only %d balances were looked at", n)
	}
}

// What is left after drawing back is vapour at suction pressure and the
// temperature of each hose, worked out here by itself.
func TestDrawBackEndsAtSuctionPressure(t *testing.T) {
	in := visit(t)
	in.Manifold.Volume = &gum.Uncertain{Value: 15e-6}
	for i := range in.Hoses {
		in.Hoses[i].Port = hose.BackSeatValve // nothing is lost behind a shut-off
	}
	o := option(t, assess(t, in), hose.DrawBackToSuction)
	p, temp := in.Hoses[0].Pressure.Value, in.Hoses[0].Temperature.Value
	rho, err := in.System.Density(temp, p, equilibrium.Vapor)
	require.NoError(t, err)
	const growth = 1e-8 // 1/Pa, the assumed 1 percent/MPa
	hoses := 2 * math.Pi / 4 * math.Pow(3./16*inch, 2) * 5 * foot * (1 + growth*(p-101325))
	want := rho * in.System.MolarMass() * (hoses + 15e-6)
	if got := o.Balance.Released.Value; !near.Rel(got, want, 1e-9) || o.Balance.LiquidReleased.Value != 0 {
		t.Errorf("released %g kg, want %g of vapour at suction", got, want)
	}
}

func TestAvailability(t *testing.T) {
	first := func(in *hose.Input) *hose.Hose { return &in.Hoses[0] }
	second := func(in *hose.Input) *hose.Hose { return &in.Hoses[1] }
	for _, tt := range []struct {
		name   string
		change func(*hose.Input)
		way    hose.Way
		want   []hose.Reason
	}{
		{"as it is", func(*hose.Input) {}, hose.DrawBackToSuction, nil},
		{"as it is", func(*hose.Input) {}, hose.RecoverToCylinder, nil},
		{"off", func(in *hose.Input) { in.Running = false }, hose.DrawBackToSuction, []hose.Reason{hose.CompressorNotRunning}},
		{"off", func(in *hose.Input) { in.Running = false }, hose.RecoverToCylinder, nil},
		{"open end on a core", func(in *hose.Input) { second(in).Shutoff = hose.Open }, hose.DrawBackToSuction, []hose.Reason{hose.HighHoseNotClosed}},
		{"open end on a core", func(in *hose.Input) { second(in).Shutoff = hose.Open }, hose.RecoverToCylinder, []hose.Reason{hose.HoseNotClosed}},
		{"shut-off not said", func(in *hose.Input) { second(in).Shutoff = "" }, hose.DrawBackToSuction, []hose.Reason{hose.HighHoseNotClosed}},
		{"open end on a front-seating valve", func(in *hose.Input) { second(in).Shutoff, second(in).Port = hose.Open, hose.FrontSeatValve }, hose.DrawBackToSuction, []hose.Reason{hose.HighHoseNotClosed}},
		{"open end on a back-seating valve", func(in *hose.Input) { second(in).Shutoff, second(in).Port = hose.Open, hose.BackSeatValve }, hose.DrawBackToSuction, nil},
		{"ball valve on a core", func(in *hose.Input) { second(in).Shutoff = hose.BallValve }, hose.DrawBackToSuction, nil},
		{"coupler", func(in *hose.Input) { second(in).Shutoff, second(in).Port = hose.Open, hose.QuickCoupler }, hose.DrawBackToSuction, nil},
		{"open low end", func(in *hose.Input) { first(in).Shutoff = hose.Open }, hose.DrawBackToSuction, nil},
		{"open low end", func(in *hose.Input) { first(in).Shutoff = hose.Open }, hose.RecoverToCylinder, []hose.Reason{hose.HoseNotClosed}},
		{"no low hose", func(in *hose.Input) { in.Hoses = in.Hoses[1:] }, hose.DrawBackToSuction, []hose.Reason{hose.NoSuctionHose}},
		{"no high hose", func(in *hose.Input) { in.Hoses = in.Hoses[:1] }, hose.DrawBackToSuction, []hose.Reason{hose.NoHighHose}},
		{"heating", func(in *hose.Input) { in.Heating = true }, hose.DrawBackToSuction, []hose.Reason{hose.HeatingVaporPort}},
		{"heating, vapor port at discharge", func(in *hose.Input) { in.Heating, first(in).Pressure = true, psig(425) }, hose.DrawBackToSuction,
			[]hose.Reason{hose.HeatingVaporPort, hose.NoPressureDifference, hose.SuctionAboveGaugeLimit}},
		{"heating, true suction port", func(in *hose.Input) { in.Heating, first(in).TrueSuction = true, true }, hose.DrawBackToSuction, nil},
		{"equal pressures", func(in *hose.Input) { second(in).Pressure = psig(118) }, hose.DrawBackToSuction, []hose.Reason{hose.NoPressureDifference}},
		{"low gauge too small", func(in *hose.Input) { in.Manifold.LowGaugeLimit = rating(100) }, hose.DrawBackToSuction, []hose.Reason{hose.SuctionAboveGaugeLimit}},
		{"hose too weak", func(in *hose.Input) { first(in).WorkingPressure = rating(100) }, hose.DrawBackToSuction, []hose.Reason{hose.SuctionAboveRating}},
		{"freezing hose", func(in *hose.Input) { second(in).Temperature = degF(20) }, hose.DrawBackToSuction, []hose.Reason{hose.LiquidStays}},
		{"freezing hose", func(in *hose.Input) { second(in).Temperature = degF(20) }, hose.RecoverToCylinder, nil},
		{"hot hoses with a large empty one", func(in *hose.Input) {
			second(in).Temperature = degF(140)
			in.Hoses = append(in.Hoses, hose.Hose{Side: hose.Center, Length: gum.Uncertain{Value: 3}, Bore: &gum.Uncertain{Value: 12e-3}})
		}, hose.DrawBackToSuction, []hose.Reason{hose.NothingToGain}},
		{"several", func(in *hose.Input) { in.Running, in.Heating, second(in).Shutoff = false, true, hose.Open }, hose.DrawBackToSuction,
			[]hose.Reason{hose.CompressorNotRunning, hose.HighHoseNotClosed, hose.HeatingVaporPort}},
	} {
		in := visit(t)
		tt.change(&in)
		a := assess(t, in)
		o := option(t, a, tt.way)
		if o.Available != (len(tt.want) == 0) || !slices.Equal(o.Because, tt.want) {
			t.Errorf("%s: %s available %t, because %v; want %v", tt.name, tt.way, o.Available, o.Because, tt.want)
		}
		if d := option(t, a, hose.DisconnectAsIs); !d.Available || d.Balance.Returned.Value != 0 {
			t.Errorf("%s: disconnecting is %+v", tt.name, d)
		}
	}
}

// Steps come in an order in which nobody is sprayed: protection first, the high
// side shut off before the manifold opens, leak check last; and all have words.
func TestSteps(t *testing.T) {
	words := map[string]bool{}
	for _, s := range refdata.HoseSteps() {
		words[s.Code] = false
	}
	for _, port := range hose.Ports() {
		for _, shutoff := range hose.Shutoffs() {
			for _, mode := range []string{"running", "off", "heating", "true suction"} {
				in := visit(t)
				in.Running, in.Heating = mode != "off", mode == "heating" || mode == "true suction"
				in.Hoses[0].TrueSuction = mode == "true suction"
				in.Hoses = append(in.Hoses, hose.Hose{Side: hose.Center, Length: gum.Uncertain{Value: 0.5}})
				for i := range in.Hoses {
					in.Hoses[i].Port, in.Hoses[i].Shutoff = port, shutoff
				}
				for _, o := range assess(t, in).Options {
					if !o.Available {
						continue
					}
					at := func(s hose.Step) int { return slices.Index(o.Steps, s) }
					for _, s := range o.Steps {
						if _, ok := words[string(s)]; !ok {
							t.Errorf("no words for %s", s)
						}
						words[string(s)] = true
					}
					if o.Steps[0] != hose.WearProtection || o.Steps[len(o.Steps)-1] != hose.LeakCheck {
						t.Errorf("%s begins with %s and ends with %s", o.Way, o.Steps[0], o.Steps[len(o.Steps)-1])
					}
					if at(hose.CapHigh) < 0 {
						t.Errorf("%s: the high port is not capped", o.Way)
					}
					if o.Way == hose.DrawBackToSuction {
						closed := max(at(hose.SelfClosingOff), at(hose.CloseBall), at(hose.BackSeatHigh), at(hose.TurnCoupler))
						require.Greater(t, closed, at(hose.KeepRunning), "%s, %s", port, shutoff)
						require.Less(t, closed, at(hose.OpenLow), "%s, %s", port, shutoff)
						require.Less(t, at(hose.OpenLow), at(hose.CrackHigh), "%s, %s", port, shutoff)
						require.Less(t, at(hose.CrackHigh), at(hose.SuctionOffLast), "%s, %s", port, shutoff)
					}
				}
			}
		}
	}
	for s, used := range words {
		if !used {
			t.Errorf("step %s is never taken", s)
		}
	}
}

func TestIsochores(t *testing.T) {
	f, err := os.Open("../../testdata/check/isochoric.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column := func(name string) int { return slices.Index(rows[0], name) }
	worst, past := 0.0, 0
	for _, r := range rows[1:] {
		num := func(name string) float64 {
			v, err := strconv.ParseFloat(r[column(name)], 64)
			require.NoError(t, err)
			return v
		}
		s, lines := fluid(t, r[column("refrigerant")])
		shut := hose.Shut{System: s, Lines: lines, Loading: num("density_kg_per_m3"), Pressure: 1e6, Temperature: 298.15}
		temp, want := num("temperature_k"), num("pressure_pa")
		got, err := shut.At(temp)
		if want > s.MaxPressure() {
			if !errors.Is(err, hose.ErrPastLimit) {
				t.Errorf("%v: %v, %v; want past the limit of %g Pa", r, got, err, s.MaxPressure())
			}
			past++
			continue
		}
		// The table calls every pressure above the critical one supercritical. At
		// the filling of 1 and 25 degC liquid is at its bubble point, either phase.
		phases := map[string][]hose.Phase{
			"two_phase": {hose.TwoPhase}, "liquid": {hose.SubcooledLiquid}, "supercritical": {hose.SubcooledLiquid},
		}[r[column("phase")]]
		if num("density_over_liquid_density_at_25_degc") == 1 && temp == 298.15 {
			phases = []hose.Phase{hose.TwoPhase, hose.SubcooledLiquid}
		}
		if d := math.Abs(got.Pressure/want - 1); err != nil || !(d <= 1e-9) || !slices.Contains(phases, got.Phase) {
			t.Errorf("%s, %g kg/m3 at %g K: %.10g Pa, %s, %v; want %.10g, %s (%s)", r[0], shut.Loading, temp, got.Pressure, got.Phase, err, want, phases, r[len(r)-1])
		} else {
			worst = max(worst, d)
		}
	}
	t.Logf("worst relative deviation of pressure over %d rows: %.2g; %d more lie past an equation's limit", len(rows)-1-past, worst, past)
}

// ACHR News 103476 quotes a service manual: a cylinder full of liquid R-12 that
// warms from 70 to 80 degF comes to about 1000 psi. The equation of state gives
// some 600 psia where the vessel is just full at 70 degF; the quote does not say
// from which pressure it starts. A hose that gives way stays far below.
func TestLiquidFullVessel(t *testing.T) {
	s, lines := fluid(t, "R-12")
	start := unit.Fahrenheit(70).Kelvin()
	full, err := lines.AtTemperature(equilibrium.BubbleLine, start)
	require.NoError(t, err)
	shut := hose.Shut{System: s, Lines: lines, Loading: full.Density * s.MolarMass(), Pressure: full.Pressure, Temperature: start}
	at, err := shut.At(unit.Fahrenheit(80).Kelvin())
	psi := unit.Pascal(at.Pressure).PSIA()
	require.NoError(t, err, "rigid")
	if !(psi > 500 && psi < 1100) {
		t.Errorf("rigid: %.0f psia; want the order of 1000 psi (ACHR News 103476)", psi)
	}
	shut.PerPressure = 2e-8
	soft, err := shut.At(unit.Fahrenheit(80).Kelvin())
	require.NoError(t, err, "soft")
	if !(soft.Pressure < 0.5*at.Pressure && soft.Pressure > full.Pressure) {
		t.Errorf("soft: %g Pa, rigid %g Pa", soft.Pressure, at.Pressure)
	}
}

func TestShutHose(t *testing.T) {
	for _, name := range []string{"R-410A", "R-407C", "R-290", "R-744"} {
		s, lines := fluid(t, name)
		b, err := lines.AtTemperature(equilibrium.BubbleLine, 280)
		require.NoError(t, err)
		d, err := lines.AtTemperature(equilibrium.DewLine, 280)
		require.NoError(t, err)
		for _, fill := range []float64{0.002, 0.3, 0.7, 0.9, 0.98} {
			for _, perPressure := range []float64{0, 1e-8} {
				shut := hose.Shut{
					System: s, Lines: lines, Loading: (fill*b.Density + (1-fill)*d.Density) * s.MolarMass(),
					Pressure: b.Pressure, Temperature: 280, PerPressure: perPressure, PerTemperature: 3e-4,
				}
				last := hose.ShutState{}
				for temp := 260.; temp < 345; temp += 6 {
					st, err := shut.At(temp)
					if errors.Is(err, equilibrium.ErrNearCritical) || errors.Is(err, hose.ErrPastLimit) {
						continue
					}
					require.NoError(t, err, "%s, fill %g at %g K", name, fill, temp)
					if !(st.Pressure > last.Pressure) {
						t.Errorf("%s, fill %g at %g K: %g Pa after %g", name, fill, temp, st.Pressure, last.Pressure)
					}
					last = st
				}
				full, ok, err := shut.LiquidFull()
				require.NoError(t, err, "%s, fill %g", name, fill)
				if !ok {
					if fill > 0.6 {
						t.Errorf("%s: a fill of %g never becomes all liquid", name, fill)
					}
					continue
				}
				before, err1 := shut.At(full - 0.01)
				after, err2 := shut.At(full + 0.01)
				require.NoError(t, err1, "%s, fill %g, full at %g K", name, fill, full)
				require.NoError(t, err2, "%s, fill %g, full at %g K", name, fill, full)
				if before.Phase != hose.TwoPhase || after.Phase != hose.SubcooledLiquid {
					t.Errorf("%s, fill %g, full at %g K: %v before, %v after", name, fill, full, before, after)
				}
			}
		}
	}
}

func capped(t *testing.T, a hose.Answer, name string, what hose.Case) hose.Capped {
	t.Helper()
	for _, c := range a.Capped {
		if c.Name == name && c.Case == what {
			return c
		}
	}
	t.Fatalf("no capped hose %s, %s in %+v", name, what, a.Capped)
	return hose.Capped{}
}

func TestCapped(t *testing.T) {
	last := 0.0
	for _, storage := range []float64{100, 120, 140, 155} {
		in := visit(t)
		in.Storage = unit.Fahrenheit(storage)
		a := assess(t, in)
		liquid, vapor := capped(t, a, "high", hose.LiquidLeftIn), capped(t, a, "high", hose.VaporLeftIn)
		for _, c := range a.Capped {
			if b := c.Pressure; !(b.Low <= b.Value && (b.Unbounded || b.Value <= b.High)) {
				t.Errorf("%g degF: band %+v", storage, b)
			}
		}
		if b := liquid.LiquidFull; !(b.Low < b.Value && b.Value < b.High) {
			t.Errorf("liquid full at %+v", b)
		}
		if vapor.LiquidFull != nil || !(vapor.Pressure.High < liquid.Pressure.Low) {
			t.Errorf("%g degF: vapour only %+v, liquid left in %+v", storage, vapor.Pressure, liquid.Pressure)
		}
		if vapor.WorkingPressure != hose.BelowByEstimate || vapor.GaugeLimit != hose.BelowByEstimate {
			t.Errorf("%g degF: vapour at %g Pa is %s the rating, %s the gauge", storage, vapor.Pressure.Value, vapor.WorkingPressure, vapor.GaugeLimit)
		}
		if !(liquid.Pressure.Value > last) {
			t.Errorf("%g degF: %g Pa after %g", storage, liquid.Pressure.Value, last)
		}
		last = liquid.Pressure.Value
		if capped(t, a, "low", hose.VaporLeftIn).Phase != hose.SuperheatedVapor {
			t.Error("the low-side hose does not hold vapour")
		}
	}
}

func TestCappedVerdicts(t *testing.T) {
	for _, tt := range []struct {
		name     string
		limit    *unit.GaugePressure
		storage  float64 // degF
		hose     float64 // degF
		pressure bool
		want     hose.Comparison
	}{
		{"weak hose", rating(400), 155, 70, true, hose.Above},
		{"usual hose", rating(800), 140, 90, true, hose.NotResolved},
		{"strong hose", rating(20000), 140, 90, true, hose.BelowByEstimate},
		{"unknown", nil, 140, 90, true, hose.RatingUnknown},
		{"colder than shut", rating(800), 60, 90, true, hose.BelowByEstimate},
	} {
		t.Run(tt.name, func(t *testing.T) {
			in := visit(t)
			in.Hoses[1].WorkingPressure, in.Manifold.HighGaugeLimit = tt.limit, tt.limit
			in.Hoses[1].Temperature, in.Storage = degF(tt.hose), unit.Fahrenheit(tt.storage)
			c := capped(t, assess(t, in), "high", hose.LiquidLeftIn)
			require.Equal(t, tt.want, c.WorkingPressure)
			require.Equal(t, tt.want, c.GaugeLimit)
			require.Equal(t, tt.pressure, c.Pressure != nil)
		})
	}
	// Beyond the equation of state there is no number: R-236ea ends at 6 MPa.
	in := visit(t)
	in.System, in.Lines = fluid(t, "R-236ea")
	in.Hoses[1].Pressure, in.Hoses[1].LineTemperature, in.Hoses[1].Temperature = psig(150), degF(90), degF(40)
	in.Hoses[0].Pressure, in.Hoses[0].LineTemperature = psig(5), degF(52)
	in.Storage = unit.Fahrenheit(190)
	c := capped(t, assess(t, in), "high", hose.LiquidLeftIn)
	require.Nil(t, c.Pressure, "beyond the limit")
	require.Equal(t, hose.Above, c.WorkingPressure, "beyond the limit")
	require.Equal(t, hose.Above, c.GaugeLimit, "beyond the limit")
	require.Equal(t, hose.SubcooledLiquid, c.Phase, "beyond the limit")
	if s := fluidOnly(t, "R-236ea"); !near.Rel(s.MaxPressure(), 6e6, 1e-9) {
		t.Errorf("the equation ends at %g Pa", s.MaxPressure())
	}
}

func fluidOnly(t *testing.T, name string) *equilibrium.System {
	t.Helper()
	s, _ := fluid(t, name)
	return s
}

func TestNeeds(t *testing.T) {
	in := visit(t)
	in.Hoses[1].Pressure = nil
	in.Hoses[0].Temperature, in.Ambient = nil, nil
	a := assess(t, in)
	want := []hose.Need{{Hose: 0, Given: hose.HoseTemperature}, {Hose: 1, Given: hose.HosePressure}}
	require.Equal(t, want, a.Needs)
	require.Nil(t, a.Options)
	require.Nil(t, a.Capped)
	require.Equal(t, 0.0, a.Total.Value)
	in = visit(t)
	in.Hoses[0].Temperature = nil
	in.Hoses[0].Bore = nil
	a = assess(t, in)
	for _, code := range []hose.Assumption{hose.HoseAtAmbient, hose.DefaultBore, hose.DefaultManifoldVolume} {
		if !slices.Contains(a.Assumptions, code) || !slices.Contains(hose.Assumptions(), code) {
			t.Errorf("assumptions %v lack %s", a.Assumptions, code)
		}
	}
	if !slices.ContainsFunc(a.Figures, func(f refdata.Figure) bool {
		return f.Code == "bore_nominal_quarter_inch" && f.Status == refdata.FromMemory
	}) {
		t.Errorf("figures %v do not say that the bore is from memory", a.Figures)
	}
}

func TestRefusals(t *testing.T) {
	nan := math.NaN()
	for given, change := range map[hose.Given]func(*hose.Input){
		hose.Refrigerant:         func(in *hose.Input) { in.System = nil },
		hose.AllHoses:            func(in *hose.Input) { in.Hoses = nil },
		hose.HoseSide:            func(in *hose.Input) { in.Hoses[0].Side = "left" },
		hose.HosePort:            func(in *hose.Input) { in.Hoses[0].Port = "" },
		hose.HoseShutoff:         func(in *hose.Input) { in.Hoses[0].Shutoff = "valve" },
		hose.HoseLength:          func(in *hose.Input) { in.Hoses[0].Length.Value = 0 },
		hose.HoseBore:            func(in *hose.Input) { in.Hoses[0].Bore.Value = nan },
		hose.HoseShutoffToEnd:    func(in *hose.Input) { in.Hoses[0].ShutoffToEnd = &gum.Uncertain{Value: -1e-6} },
		hose.HoseWorkingPressure: func(in *hose.Input) { in.Hoses[0].WorkingPressure = rating(nan) },
		hose.HosePressure:        func(in *hose.Input) { in.Hoses[0].Pressure = &gum.Uncertain{Value: math.Inf(1)} },
		hose.HoseLineTemperature: func(in *hose.Input) { in.Hoses[0].LineTemperature.Value = nan },
		hose.HoseTemperature:     func(in *hose.Input) { in.Hoses[0].Temperature.Standard = nan },
		hose.HoseOilShare:        func(in *hose.Input) { in.Hoses[0].OilShare = &gum.Uncertain{Value: 1} },
		hose.ManifoldVolume:      func(in *hose.Input) { in.Manifold.Volume = &gum.Uncertain{Value: nan} },
		hose.LowGaugeLimit:       func(in *hose.Input) { in.Manifold.LowGaugeLimit = rating(-1) },
		hose.HighGaugeLimit:      func(in *hose.Input) { in.Manifold.HighGaugeLimit = rating(0) },
		hose.AirTemperature:      func(in *hose.Input) { in.Ambient = &gum.Uncertain{Value: -1} },
		hose.SystemCharge:        func(in *hose.Input) { in.Charge = &gum.Uncertain{} },
		hose.AirPressure:         func(in *hose.Input) { in.Atmosphere = unit.Pressure{} },
		hose.RecoveryEndPressure: func(in *hose.Input) { in.RecoveryEnd = unit.Pascal(nan) },
		hose.StorageTemperature:  func(in *hose.Input) { in.Storage = unit.Kelvin(nan) },
		hose.RefrigerantGWP:      func(in *hose.Input) { in.GWP = &nan },
	} {
		t.Run(given.String(), func(t *testing.T) {
			in := visit(t)
			change(&in)
			_, err := hose.Assess(in)
			var fault *hose.InputError
			require.ErrorIs(t, err, hose.ErrInput)
			require.ErrorAs(t, err, &fault)
			require.Equal(t, given, fault.Input)
			require.NotEmpty(t, fault.Error())
		})
	}
	// Every fault at once, and what physics refuses with the solver's error.
	in := visit(t)
	in.Hoses[0].Length.Value, in.Hoses[1].Side = -1, ""
	_, err := hose.Assess(in)
	if joined, ok := err.(interface{ Unwrap() []error }); !ok || len(joined.Unwrap()) != 2 {
		t.Errorf("two faults give %v", err)
	}
	in = visit(t)
	in.Hoses[1].ShutoffToEnd = &gum.Uncertain{Value: 1e-3}
	if _, err := hose.Assess(in); !errors.Is(err, hose.ErrInput) {
		t.Errorf("an end larger than the hose: %v", err)
	}
	in = visit(t)
	in.Hoses[0].Temperature, in.Hoses[1].Pressure = degF(-300), &gum.Uncertain{Value: 9e8}
	if _, err := hose.Assess(in); !errors.Is(err, hose.ErrInput) || !errors.Is(err, equilibrium.ErrOutside) {
		t.Errorf("beyond the equation: %v", err)
	}
}
