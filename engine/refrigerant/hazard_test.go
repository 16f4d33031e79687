package refrigerant_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

func TestHazards(t *testing.T) {
	c := refrigerant.NewCatalogue()
	for _, tt := range []struct {
		designation string
		want        []refrigerant.Hazard
	}{
		{"R-410A", nil},
		{"R-32", []refrigerant.Hazard{refrigerant.Flammable}},
		{"R-290", []refrigerant.Hazard{refrigerant.Flammable}},
		{"R-717", []refrigerant.Hazard{refrigerant.Flammable, refrigerant.ToxicityClassB, refrigerant.AmmoniaToxic, refrigerant.AmmoniaAttacksCopper}},
		{"R-744", []refrigerant.Hazard{refrigerant.CarbonDioxideExposure, refrigerant.CarbonDioxidePressure, refrigerant.DryIcePlug}},
	} {
		r, err := c.Find(tt.designation)
		require.NoError(t, err)
		assert.Equal(t, tt.want, r.Hazards(), tt.designation)
	}
	mixed, err := c.Compose([]refrigerant.Component{{Designation: "R-744", MassFraction: 0.2}, {Designation: "R-134a", MassFraction: 0.8}})
	require.NoError(t, err)
	assert.Empty(t, mixed.Hazards(), "of carbon dioxide alone, not of a blend with some")
}

func TestKindAndBoiling(t *testing.T) {
	c := refrigerant.NewCatalogue()
	for _, tt := range []struct {
		designation string
		want        refrigerant.Kind
		below       bool
	}{
		{"R-134a", refrigerant.Pure, false},
		{"R-410A", refrigerant.Zeotrope, false},
		{"R-507A", refrigerant.Azeotrope, false},
		{"R-744", refrigerant.Pure, true},
	} {
		r, err := c.Find(tt.designation)
		require.NoError(t, err)
		assert.Equal(t, tt.want, r.Kind(), tt.designation)
		n, err := r.Boiling()
		require.NoError(t, err)
		assert.Equal(t, tt.below, n.BelowTriplePoint, tt.designation)
		if published := r.Facts.NormalBubble; published != nil && !tt.below {
			assert.InDelta(t, published.Value, n.Bubble, 0.5, tt.designation)
		}
	}
}
