package query_test

import (
	"slices"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// Carbon dioxide has no liquid at the customary highest temperature.
func TestCylinderOfCarbonDioxide(t *testing.T) {
	q := query.CylinderFillQuestion{Refrigerant: "R-744", WaterCapacity: quantity(50, "lb"), Tare: quantity(7.5, "lb")}
	if got := faults(t, engine.CylinderFill, q); !slices.Equal(got, []string{"/maximum_temperature out_of_range"}) {
		t.Errorf("%q", got)
	}
}
