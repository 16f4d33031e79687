package query_test

import (
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
)

func BenchmarkDiagnosis(b *testing.B) {
	q := read[query.DiagnosisQuestion](b, healthy(""))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := engine.Diagnosis(q, query.Presentation{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Nothing but thermometers, so that gauges are weighed as well.
func BenchmarkMeasurementPlan(b *testing.B) {
	q := read[query.MeasurementPlanQuestion](b, healthy(""))
	q.Readings.SuctionPressure, q.Readings.LiquidPressure = nil, nil
	b.ReportAllocs()
	for b.Loop() {
		if _, err := engine.MeasurementPlan(q, query.Presentation{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSuperheatSubcooling(b *testing.B) {
	q := query.SuperheatSubcoolingQuestion{Visit: read[query.DiagnosisQuestion](b, healthy("")).Visit}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := engine.SuperheatSubcooling(q, query.Presentation{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSaturation(b *testing.B) {
	for _, name := range []string{"R-22", "R-410A", "R-454B"} {
		b.Run(name, func(b *testing.B) {
			q := query.SaturationQuestion{Designation: name, Pressure: quantity(118, "psig")}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := engine.Saturation(q, query.Presentation{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
