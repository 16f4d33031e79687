package signature

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

func someAir(rng *rand.Rand) Air {
	dry := 293 + 10*rng.Float64()
	return Air{Outdoor: 290 + 28*rng.Float64(), ReturnDry: dry, ReturnWet: dry - 2 - 8*rng.Float64(), SitePressure: 80e3 + 21e3*rng.Float64()}
}

// A fit finds the plane that samples lie on, and the covariance of what is added.
func TestFitFindsWhatIsThere(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var samples []Sample
	for range 6000 {
		a, x := someAir(rng), Traits{Dry: 1 + rng.NormFloat64()/3, Lift: 1 + rng.NormFloat64()/20, Glide: 5 * rng.Float64()}
		s := Sample{Air: a, Traits: x, Weight: 0.5}
		shared := rng.NormFloat64()
		s.At[SuctionDew] = 280 + 0.1*(a.Outdoor-305) + 0.5*(a.ReturnWet-291) + shared
		s.At[SuctionLine] = 287 + 0.2*(a.ReturnDry-298) + shared + 0.5*rng.NormFloat64()
		samples = append(samples, s)
	}
	c, err := Fit(nil, nil, samples)
	require.NoError(t, err)
	air := Air{Outdoor: 310, ReturnDry: 300, ReturnWet: 292, SitePressure: 95e3}
	conditions := ConditionsAt(air, Traits{Dry: 1, Lift: 1})
	for _, x := range []struct {
		what      string
		got, want float64
		within    float64
	}{
		{"suction dew", c.Mean(&conditions, SuctionDew), 281, 0.1},
		{"suction line", c.Mean(&conditions, SuctionLine), 287.4, 0.1},
		{"slope by outdoor air", c.Slope(&conditions, SuctionDew, OutdoorAxis), 0.1, 0.02},
		{"slope by wet bulb", c.Slope(&conditions, SuctionDew, ReturnWetAxis), 0.5, 0.05},
		{"variance", c.Covariance(SuctionDew, SuctionDew), 1, 0.05},
		{"covariance", c.Covariance(SuctionDew, SuctionLine), 1, 0.08},
		{"variance of the line", c.Covariance(SuctionLine, SuctionLine), 1.25, 0.07},
	} {
		if !(math.Abs(x.got-x.want) <= x.within) {
			t.Errorf("%s is %g, drawn with %g", x.what, x.got, x.want)
		}
	}
	if _, err := Fit(nil, nil, samples[:100]); !errors.Is(err, ErrTooFew) {
		t.Errorf("a hundred samples: %v", err)
	}
}

// The slopes are the derivatives of the means.
func TestSlopesAreDerivatives(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	components, ok := Embedded().Device("thermostatic_valve")
	if !ok {
		t.Fatal("no components")
	}
	for range 50 {
		a, x := someAir(rng), Traits{Dry: rng.Float64() + 0.5, Lift: 1, Glide: 3}
		c := &components[rng.IntN(len(components))]
		conditions := ConditionsAt(a, x)
		for axis, move := range []func(*Air, float64){
			func(a *Air, d float64) { a.Outdoor += d }, func(a *Air, d float64) { a.ReturnDry += d }, func(a *Air, d float64) { a.ReturnWet += d },
		} {
			up, down := a, a
			move(&up, 1e-3)
			move(&down, -1e-3)
			high, low := ConditionsAt(up, x), ConditionsAt(down, x)
			for k := range Coordinates {
				want := (c.Mean(&high, k) - c.Mean(&low, k)) / 2e-3
				if got := c.Slope(&conditions, k, axis); !(math.Abs(got-want) < 1e-5*(1+math.Abs(want))) {
					t.Errorf("%v of %v along %d: %g, by differences %g", k, c.Faults, axis, got, want)
				}
			}
		}
	}
}

// What the embedded model says of plain cases: the weights of each set of faults
// sum to one, spreads are spreads, and charge moves subcooling with a valve and
// superheat with an orifice (Li and Braun 2007, second-hand).
func TestEmbedded(t *testing.T) {
	m := Embedded()
	if m.Systems < 1000 || len(m.Revision) != 12 {
		t.Errorf("%d systems, revision %q", m.Systems, m.Revision)
	}
	conditions := ConditionsAt(Air{Outdoor: 305, ReturnDry: 298, ReturnWet: 291, SitePressure: 1e5}, Traits{Dry: 1, Lift: 1})
	for _, device := range equipment.MeteringDevices() {
		components, ok := m.Device(device)
		if !ok {
			t.Fatalf("nothing of %s", device)
		}
		sums := map[string]float64{}
		for i := range components {
			c := &components[i]
			key := ""
			for k, f := range c.Faults {
				key += string(f) + " "
				if !(c.Bands[k].Low > 0 && c.Bands[k].High > c.Bands[k].Low) {
					t.Errorf("%s: %v has bands %v", device, c.Faults, c.Bands)
				}
			}
			sums[key] += c.Weight
			for k := range Readable {
				for l := range Readable {
					v := c.Covariance(k, k) * c.Covariance(l, l)
					if !(c.Covariance(k, k) > 0 && c.Covariance(k, l)*c.Covariance(k, l) <= v*(1+1e-6)) {
						t.Errorf("%s %v: covariance of %v and %v is %g", device, c.Faults, k, l, c.Covariance(k, l))
					}
				}
			}
		}
		if len(sums) != 1+7+20 {
			t.Errorf("%s: %d sets of faults", device, len(sums))
		}
		for key, sum := range sums {
			if !(math.Abs(sum-1) <= 1e-4) {
				t.Errorf("%s: weights of %q sum to %g", device, key, sum)
			}
		}
		none, short := &components[0], &components[3]
		if len(none.Faults) != 0 || short.Faults[0] != "undercharge" {
			t.Fatalf("order of components: %v, %v", none.Faults, short.Faults)
		}
		superheat := func(c *Component) float64 { return c.Mean(&conditions, SuctionLine) - c.Mean(&conditions, SuctionDew) }
		subcooling := func(c *Component) float64 { return c.Mean(&conditions, LiquidBubble) - c.Mean(&conditions, LiquidLine) }
		fixed := device == "fixed_orifice" || device == "capillary_tube"
		moved := superheat(short) - superheat(none)
		if fixed {
			require.Greater(t, moved, 5.0, "%s", device)
		}
		if !fixed {
			require.Less(t, moved, 4.0, "%s", device)
		}
		if moved := subcooling(short) - subcooling(none); !(moved < -2) {
			t.Errorf("%s: subcooling moves by %g K with charge missing", device, moved)
		}
	}
	if _, ok := m.Device("needle_valve"); ok {
		t.Error("components of an unknown device")
	}
}

func TestEncoding(t *testing.T) {
	b, err := Embedded().MarshalBinary()
	require.NoError(t, err)
	var again Model
	err = again.UnmarshalBinary(b)
	require.NoError(t, err, "written and read again")
	if again.Revision != Embedded().Revision {
		t.Errorf("written and read again: revision %s and %s", again.Revision, Embedded().Revision)
	}
	for name, bad := range map[string][]byte{
		"nothing": nil, "no numbers": b[:200], "cut": b[:len(b)-1], "too long": append(slices.Clone(b), 0), "another thing": []byte("{}\n\n"),
		"a word too many": []byte(magic + "10 systems\nfixed_orifice 1 1 undercharge\n\n"),
		"no number":       []byte(magic + "10 systems\nfixed_orifice one 1\n\n"),
		"no systems":      []byte(magic + "many systems\n\n"),
	} {
		var m Model
		if err := m.UnmarshalBinary(bad); !errors.Is(err, ErrFormat) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestTraits(t *testing.T) {
	catalogue, curves := refrigerant.NewCatalogue(), saturation.NewCurves(nil, "", 4)
	of := func(name string) Traits {
		r, err := catalogue.Find(name)
		require.NoError(t, err)
		lines, err := curves.Of(r.System(), nil)
		require.NoError(t, err)
		x, ok := TraitsOf(lines.Curve())
		if !ok {
			t.Fatalf("%s has no traits", name)
		}
		return x
	}
	// R-32 leaves a compressor hotter than R-22, R-1234yf hardly superheated;
	// only blends glide, R-407C by some 4 to 6 K (any table of refrigerants).
	hot, usual, cool, blend := of("R-32"), of("R-22"), of("R-1234yf"), of("R-407C")
	if !(hot.Dry > usual.Dry && usual.Dry > cool.Dry) || !(math.Abs(usual.Glide) <= 1e-6) || !(blend.Glide > 3 && blend.Glide < 6) {
		t.Errorf("R-32 %+v, R-22 %+v, R-1234yf %+v, R-407C %+v", hot, usual, cool, blend)
	}
}
