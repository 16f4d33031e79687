package near_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/near"
)

func TestNear(t *testing.T) {
	require.True(t, near.Abs(1.5, 1, 0.5))
	require.False(t, near.Abs(1.5, 1, 0.499))
	require.True(t, near.Rel(-2.2, -2, 0.11))
	require.False(t, near.Rel(2.2, 2, 0.09))
	require.False(t, near.Rel(1e-9, 0, 1))
	require.True(t, near.Sum(3, 2, 0.25, 0.5))
	require.False(t, near.Sum(3, 2, 0.25, 0.49))
}

func TestNaNIsNearNothing(t *testing.T) {
	nan := math.NaN()
	for _, x := range [][3]float64{{nan, 1, 1}, {1, nan, 1}, {1, 1, nan}, {nan, nan, 1}} {
		require.False(t, near.Abs(x[0], x[1], x[2]))
		require.False(t, near.Rel(x[0], x[1], x[2]))
		require.False(t, near.Sum(x[0], x[1], x[2], x[2]))
	}
}
