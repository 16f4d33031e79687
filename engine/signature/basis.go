package signature

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

// Air is the air around a system: temperatures in K, SitePressure in Pa.
type Air struct {
	Outdoor, ReturnDry, ReturnWet float64
	SitePressure                  float64
}

// The axes of Air that are read, with an error of their own.
const (
	OutdoorAxis = iota
	ReturnDryAxis
	ReturnWetAxis
	Axes
)

// Traits are what of a refrigerant matters for temperatures in a circuit.
type Traits struct {
	// Dry is the fall of the dew line's entropy from an evaporator to a
	// condenser over the gas constant: what a compressor turns into superheat.
	Dry float64
	// Lift is the logarithm of the ratio of their dew pressures.
	Lift float64
	// Glide in K at the condenser.
	Glide float64
}

// The temperatures at which traits are taken, K: a usual evaporator and a usual
// condenser.
const (
	traitCold = 280
	traitHot  = 318
	gas       = 8.31446261815324
)

// TraitsOf reads the traits off a curve; false where it does not reach so far.
func TraitsOf(c *saturation.Curve) (Traits, bool) {
	cold, ok := c.Properties(equilibrium.DewLine, traitCold)
	if !ok {
		return Traits{}, false
	}
	hot, ok := c.Properties(equilibrium.DewLine, traitHot)
	if !ok {
		return Traits{}, false
	}
	bubble, ok := c.BubbleTemperature(hot.Pressure)
	if !ok {
		return Traits{}, false
	}
	return Traits{Dry: (cold.Entropy - hot.Entropy) / gas, Lift: math.Log(hot.Pressure / cold.Pressure), Glide: traitHot - bubble}, true
}

// basisSize is the number of terms of a mean.
const basisSize = 21

type basis [basisSize]float64

// scaled are air and traits as numbers about one.
type scaled struct{ u, v, w, a, d, l, g float64 }

const (
	outdoorCentre, outdoorScale = 305.0, 10.0
	dryCentre, dryScale         = 298.0, 5.0
	wetCentre, wetScale         = 291.0, 5.0
)

func scale(a Air, t Traits) scaled {
	return scaled{
		u: (a.Outdoor - outdoorCentre) / outdoorScale,
		v: (a.ReturnDry - dryCentre) / dryScale,
		w: (a.ReturnWet - wetCentre) / wetScale,
		a: (a.SitePressure/101325 - 0.9) / 0.1,
		d: t.Dry, l: t.Lift - 1, g: t.Glide / 5,
	}
}

// terms of the polynomial, and bend its wet and dry coil: a coil takes water
// out of the air only where the wet bulb is near enough the dry bulb.
func (x scaled) terms() basis {
	b, _ := x.bend()
	return basis{
		1, x.u, x.v, x.w, x.u * x.u, x.v * x.v, x.w * x.w, x.u * x.v, x.u * x.w, x.v * x.w, b, x.u * b,
		x.a, x.d, x.d * x.d, x.l, x.g, x.u * x.d, x.u * x.l, x.d * x.l, x.w * x.d,
	}
}

// bend is a smooth ramp over the wet bulb's depression beyond 6 K, and its
// slope.
func (x scaled) bend() (b, slope float64) {
	const start, softness = 6.0, 1.0
	depression := (dryCentre + dryScale*x.v) - (wetCentre + wetScale*x.w)
	z := (depression - start) / softness
	return softness * math.Log1p(math.Exp(z)) / 5, 1 / (1 + math.Exp(-z)) / 5
}

// slopes are the derivatives of the terms along the axes of Air, a K.
func (x scaled) slopes() [Axes]basis {
	b, s := x.bend()
	bv, bw := s*dryScale, -s*wetScale
	u := basis{0, 1, 0, 0, 2 * x.u, 0, 0, x.v, x.w, 0, 0, b, 0, 0, 0, 0, 0, x.d, x.l, 0, 0}
	v := basis{0, 0, 1, 0, 0, 2 * x.v, 0, x.u, 0, x.w, bv, x.u * bv}
	w := basis{0, 0, 0, 1, 0, 0, 2 * x.w, 0, x.u, x.v, bw, x.u * bw, 0, 0, 0, 0, 0, 0, 0, 0, x.d}
	for i := range basisSize {
		u[i] /= outdoorScale
		v[i] /= dryScale
		w[i] /= wetScale
	}
	return [Axes]basis{u, v, w}
}
