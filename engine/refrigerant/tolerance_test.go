package refrigerant_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

func TestWithinTolerance(t *testing.T) {
	c := refrigerant.NewCatalogue()
	blend, err := c.Find("R-410A")
	require.NoError(t, err)
	nominal := blend.MassFractions()
	within, published := blend.WithinTolerance(nominal)
	require.True(t, within && published)
	moved := []float64{nominal[0] + 0.05, nominal[1] - 0.05}
	within, published = blend.WithinTolerance(moved)
	require.True(t, published)
	require.False(t, within)

	pure, err := c.Find("R-32")
	require.NoError(t, err)
	within, published = pure.WithinTolerance([]float64{1})
	require.True(t, within && published)

	typed, err := c.Compose([]refrigerant.Component{{Designation: "R-32", MassFraction: 0.4}, {Designation: "R-134a", MassFraction: 0.6}})
	require.NoError(t, err)
	_, published = typed.WithinTolerance([]float64{0.4, 0.6})
	require.False(t, published)
}

func TestFractionsOfComponents(t *testing.T) {
	blend, err := refrigerant.NewCatalogue().Find("R-407C")
	require.NoError(t, err)
	require.InDeltaSlice(t, blend.System().Composition(), blend.MoleFractions(blend.MassFractions()), 1e-12)
	mean := 0.0
	for i, x := range blend.System().Composition() {
		mean += x * blend.MolarMasses()[i]
	}
	require.InEpsilon(t, blend.MolarMass(), mean, 1e-12)
}
