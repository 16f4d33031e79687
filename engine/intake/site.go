package intake

import (
	"github.com/knurl-hvacr/knurl/engine/moistair"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Air is the air at the gauges.
type Air struct {
	// Site is its pressure, Zero what gauges count from.
	Site, Zero unit.Pressure
	// SiteStandard and ZeroStandard are their standard uncertainties in Pa.
	SiteStandard, ZeroStandard float64
	// Basis says where its pressure comes from.
	Basis AirBasis
	// GaugesCountFromSeaLevel: the question says so.
	GaugesCountFromSeaLevel bool
}

// AirBasis is where the pressure of the air comes from.
type AirBasis int

// Where the pressure of the air comes from.
const (
	// SeaLevel: nothing is said of it.
	SeaLevel AirBasis = iota
	// FromAltitude: by the standard atmosphere.
	FromAltitude
	// Measured with an accuracy, or without one.
	Measured
	MeasuredWithoutAccuracy
)

// TakeSite resolves a site whose members stand at a pointer, or are parameters
// of the query string.
func TakeSite(s Site, at Place, r *Refusal) Air {
	r.OneOf(at.Member("gauge_zero"), s.GaugeZero, "local_atmosphere", "sea_level")
	altitudeAt, pressureAt := at.Member("altitude"), at.Member("atmospheric_pressure")
	if at.parameter != "" {
		altitudeAt, pressureAt = Parameter("altitude"), Parameter("atmospheric_pressure")
	}
	standardAir := unit.StandardAtmosphere()
	a := Air{Site: standardAir, SiteStandard: moistair.Weather()}
	altitude, okAltitude := r.Resolve(s.Altitude, altitudeAt, unit.KindLength)
	pressure, okPressure := r.Resolve(s.AtmosphericPressure, pressureAt, unit.KindPressure)
	var byAltitude unit.Pressure
	if okAltitude {
		var err error
		if byAltitude, err = moistair.StandardPressure(unit.Metre(altitude.SI)); err != nil {
			r.Outside(altitudeAt.Member("value"), altitude.Between(-5000, 11000))
			okAltitude = false
		}
	}
	if okPressure && !(pressure.SI >= 20e3 && pressure.SI <= 120e3) {
		r.Outside(pressureAt.Member("value"), pressure.Between(20e3, 120e3))
		okPressure = false
	}
	switch {
	case okPressure:
		a.Site, a.SiteStandard, a.Basis = unit.Pascal(pressure.SI), pressure.Standard, Measured
		if !pressure.Stated {
			a.SiteStandard, a.Basis = moistair.Barometer(), MeasuredWithoutAccuracy
		}
		if okAltitude && !moistair.Agree(a.Site, byAltitude) {
			r.Refuse(pressureAt.Member("value"), CodeContradiction, "pressure_not_of_altitude", phrase.Params{
				"expected": pressure.told(byAltitude.Pascal()), "given": pressure.told(pressure.SI),
			})
		}
	case okAltitude:
		a.Site, a.Basis = byAltitude, FromAltitude
	}
	a.Zero, a.ZeroStandard = a.Site, a.SiteStandard
	if s.GaugeZero == "sea_level" {
		a.Zero, a.ZeroStandard, a.GaugesCountFromSeaLevel = standardAir, 0, true
	}
	return a
}

// Absolute turns a pressure that was read into an absolute one.
func (a Air) Absolute(v Value, at Place, r *Refusal) (unit.Pressure, bool) {
	if !v.Gauge {
		return unit.Pascal(v.SI), true
	}
	p, err := unit.PascalGauge(v.SI).Absolute(a.Zero)
	if err != nil {
		r.Refuse(at.Member("value"), CodeOutOfRange, "below_perfect_vacuum", phrase.Params{
			"air": phrase.Quantity{Value: round(a.Zero.PSIA()), Unit: "psia"},
		})
		return unit.Pressure{}, false
	}
	return p, true
}

// Pressure resolves a pressure, of a gauge or absolute, to an absolute one that
// remembers which it was.
func (a Air) Pressure(q *Quantity, at Place, r *Refusal) (v Value, ok bool) {
	if v, ok = r.Resolve(q, at, pressures...); !ok {
		return v, false
	}
	p, ok := a.Absolute(v, at, r)
	v.SI = p.Pascal()
	return v, ok
}

// Rating resolves a rating or an end of scale as a gauge pressure.
func (a Air) Rating(q *Quantity, at Place, r *Refusal) *unit.GaugePressure {
	v, ok := r.Resolve(q, at, pressures...)
	if !ok {
		return nil
	}
	g := unit.PascalGauge(v.SI)
	if !v.Gauge {
		g = unit.Pascal(v.SI).Gauge(a.Site)
	}
	if !(g.Pascal() > 0) {
		r.Refuse(at.Member("value"), CodeOutOfRange, "rating_not_above_atmosphere", nil)
		return nil
	}
	return &g
}
