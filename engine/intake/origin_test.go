package intake

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func TestLimitsInTheCallersUnit(t *testing.T) {
	asked := Asked{Air: unit.StandardAtmosphere(), Unit: func(unit.Kind) unit.Unit {
		u, _ := unit.Lookup("ft3")
		return u
	}}
	volume := input.Limits{Kind: unit.KindVolume, Max: 1}
	bound := func(v float64, unit string) *Bound { return &Bound{Value: v, Unit: unit} }
	for _, tt := range []struct {
		l     input.Limits
		typed *Quantity
		want  Limit
	}{
		{volume, &Quantity{Unit: "L"}, Limit{Low: bound(0, "L"), High: bound(1000, "L")}},
		{volume, &Quantity{Unit: "in3"}, Limit{Low: bound(0, "in3"), High: bound(61023.7, "in3")}},
		{volume, nil, Limit{Low: bound(0, "ft3"), High: bound(35.3147, "ft3")}},
		{input.Limits{Kind: unit.KindTemperature, Max: 2000, Above: true}, &Quantity{Unit: "degF"}, Limit{Low: bound(-459.67, "degF"), High: bound(3140.33, "degF"), Above: true}},
		{input.Limits{Kind: unit.KindPressure, Max: 1e6, Above: true}, &Quantity{Unit: "kPag"}, Limit{Low: bound(-101.325, "kPag"), High: bound(898.675, "kPag"), Above: true}},
		{input.Limits{Kind: unit.KindGaugePressure, Max: math.Inf(1), Above: true}, &Quantity{Unit: "psia"}, Limit{Low: bound(14.6959, "psia"), Above: true}},
		{input.Limits{Kind: unit.KindMass, Max: math.Inf(1)}, &Quantity{Unit: "lb"}, Limit{Low: bound(0, "lb")}},
	} {
		assert.Equal(t, tt.want, asked.limit(tt.l, tt.typed), "%+v", tt.l)
	}
}
