package diagnosis

import (
	"errors"
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/numeric"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Basis says where a target comes from.
type Basis string

// The bases, as the wire names them.
const (
	Manufacturer   Basis = "manufacturer"
	ChargingChart  Basis = "charging_chart"
	CommonPractice Basis = "common_practice"
)

// Target is what a quantity ought to be. All is in K, or m3/s for air flow.
type Target struct {
	Feature Feature
	// Expected carries the value and how it moves with the readings.
	Expected gum.Estimate
	// Standard is the standard uncertainty of the target itself, beside what
	// its readings bring.
	Standard float64
	// Tolerance is the half-width within which the quantity passes.
	Tolerance float64
	Basis     Basis
	// Source is a key of the bibliography, empty for the manufacturer's own figure;
	// Status how far the figure was checked against it.
	Source, Status string
}

// Missing says why a quantity has no target.
type Missing struct {
	Feature Feature
	// Err is the table's answer where a table was asked: *target.UnavailableError.
	Err error
	// Readings lists what the table still needs.
	Readings []circuit.Reading
	// Capacity tells that the nominal capacity is needed.
	Capacity bool
}

// ManufacturerTarget is a target from the plate or the manufacturer's data.
type ManufacturerTarget struct {
	Value unit.TemperatureDiff
	// Tolerance is nil where the manufacturer gives none: the procedure's then holds.
	Tolerance *unit.TemperatureDiff
}

// Efficiency is the rated efficiency of the unit, which says how large its
// condenser is.
type Efficiency struct {
	Metric string // SEER, SEER2 or EER
	Value  float64
}

// SEER is the efficiency as SEER, false for an unknown metric or no positive
// number.
func (e Efficiency) SEER() (float64, bool) { return e.seer(reference()) }

// seer converts to SEER, false for an unknown metric or no positive number.
func (e Efficiency) seer(m model) (float64, bool) {
	if !(e.Value > 0 && e.Value <= 100) {
		return 0, false
	}
	switch e.Metric {
	case "SEER":
		return e.Value, true
	case "SEER2":
		return e.Value / m.si("seer2_over_seer"), true
	case "EER":
		return e.Value / m.si("eer_over_seer"), true
	default:
		return 0, false
	}
}

// expect gives the target of a feature, or why there is none.
func (m model) expect(f Feature, in Input) (Target, *Missing) {
	t := Target{Feature: f, Basis: CommonPractice, Source: "common-practice"}
	fixed := in.Device.Fixed()
	restsOn := func(code string) { t.Source, t.Status = m.figure(code).Source, m.figure(code).Status }
	switch f {
	case Superheat:
		switch {
		case in.Superheat != nil:
			code := "superheat_tolerance_installer"
			t = m.manufacturer(f, *in.Superheat, code)
		case fixed:
			return m.chart(f, circuit.OutdoorDryBulb, in, target.Superheat)
		default:
			const code = "metering_device_superheat_installer"
			t.Expected.Value, t.Tolerance = m.band(code)
			restsOn(code)
		}
	case Subcooling:
		switch {
		case in.Subcooling != nil:
			t = m.manufacturer(f, *in.Subcooling, "subcooling_tolerance_installer")
		case fixed:
			t.Expected.Value, t.Tolerance = m.si("target_subcooling_fixed"), m.si("tolerance_subcooling_fixed")
			restsOn("target_subcooling_fixed")
		default:
			const code = "subcooling_typical_valve"
			t.Expected.Value, t.Tolerance = m.band(code)
			restsOn(code)
		}
	case TemperatureSplit:
		return m.chart(f, circuit.ReturnDryBulb, in, target.TemperatureSplit)
	case CondensingOverAmbient:
		t.Tolerance = m.si("tolerance_condensing_over_ambient")
		code := "target_condensing_over_ambient"
		if in.Efficiency != nil {
			if seer, ok := in.Efficiency.seer(m); ok {
				code = condensingClass(seer)
			}
		}
		if c := m.figure(code); c.Value == nil && c.High != nil {
			t.Expected.Value = figure.High(c) // "or less"
		} else {
			t.Expected.Value = m.si(code)
		}
		restsOn(code)
	case EvaporatorTemperatureDifference:
		const code = "evaporator_temperature_difference"
		t.Expected.Value = m.si(code)
		_, t.Tolerance = m.band(code)
		restsOn(code)
	case DrierTemperatureDrop:
		t.Expected.Value = m.si("target_drier_temperature_drop")
		limit := m.figure("filter_drier_temperature_drop_restricted")
		t.Tolerance = figure.Low(limit)
		restsOn(limit.Code)
	case IndoorAirflow:
		if !(in.NominalCapacity.Watt() > 0) {
			return Target{}, &Missing{Feature: f, Capacity: true}
		}
		t.Expected.Value = m.si("nominal_airflow") * in.NominalCapacity.Watt()
		t.Tolerance = m.si("airflow_tolerance") * t.Expected.Value
		restsOn("nominal_airflow")
	}
	return t, nil
}

// condensingClass is the figure of an efficiency class; the gaps between the
// printed classes go to the lower one.
func condensingClass(seer float64) string {
	switch {
	case seer < 10:
		return "condensing_over_ambient_seer_6_to_10"
	case seer < 13:
		return "condensing_over_ambient_seer_10_to_12"
	case seer < 16:
		return "condensing_over_ambient_seer_13_to_15"
	default:
		return "condensing_over_ambient_seer_16_up"
	}
}

func (m model) manufacturer(f Feature, given ManufacturerTarget, tolerance string) Target {
	t := Target{Feature: f, Basis: Manufacturer, Tolerance: m.si(tolerance)}
	t.Expected.Value = given.Value.Kelvin()
	if given.Tolerance != nil {
		t.Tolerance = given.Tolerance.Kelvin()
	}
	return t
}

// chart asks a table of dry bulb and return wet bulb.
func (m model) chart(f Feature, dryBulb circuit.Reading, in Input, look func(dry, wet unit.Temperature) (target.Target, error)) (Target, *Missing) {
	dry, ok := in.State.Reading(dryBulb)
	var lacks []circuit.Reading
	if !ok {
		lacks = append(lacks, dryBulb)
	}
	if in.WetBulb == nil {
		lacks = append(lacks, circuit.ReturnWetBulb)
	}
	if len(lacks) > 0 {
		return Target{}, &Missing{Feature: f, Readings: lacks}
	}
	v, err := look(unit.Kelvin(dry.Value), unit.Kelvin(in.WetBulb.Value))
	if err != nil {
		return Target{}, &Missing{Feature: f, Err: err}
	}
	return Target{
		Feature: f,
		Expected: gum.Estimate{
			Value:    v.Value.Kelvin(),
			Gradient: dry.Gradient.Times(v.DryBulbSlope).Plus(in.WetBulb.Gradient.Times(v.WetBulbSlope)),
		},
		Standard: v.Standard.Kelvin(), Tolerance: v.Tolerance.Kelvin(),
		Basis: ChargingChart, Source: v.Source, Status: v.Status,
	}, nil
}

// unavailable tells that a table was asked and had nothing.
func (m Missing) unavailable() bool {
	var none *target.UnavailableError
	return errors.As(m.Err, &none)
}

// Deviation is measured minus target, in K or m3/s.
type Deviation struct {
	Feature   Feature
	Deviation gum.Estimate
	// Standard uncertainty of instruments and target together.
	Standard float64
	// WithinTolerance is the chance that the true deviation passes.
	WithinTolerance float64

	target Target
}

func deviate(s *circuit.State, measured gum.Estimate, t Target) Deviation {
	d := Deviation{Feature: t.Feature, Deviation: measured.Plus(t.Expected.Times(-1)), target: t}
	d.Standard = math.Hypot(s.Standard(d.Deviation), t.Standard)
	d.WithinTolerance = between(d.Deviation.Value, d.Standard, -t.Tolerance, t.Tolerance)
	return d
}

// between is the chance that a normal variable lies in [lo, hi].
func between(mean, sd, lo, hi float64) float64 {
	if sd > 0 {
		return numeric.Above(lo, mean, sd) - numeric.Above(hi, mean, sd)
	}
	if mean >= lo && mean <= hi {
		return 1
	}
	return 0
}
