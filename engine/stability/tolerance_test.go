package stability_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/stability"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Customary tolerances: common practice, from memory, unverified.
func TestUsualTolerances(t *testing.T) {
	const psi = 6894.757293168
	for _, tt := range []struct {
		course     stability.Course
		last, want float64
	}{
		{stability.Temperature, 290, 5. / 9}, {stability.SuctionPressure, 9e5, 2 * psi}, {stability.HighSidePressure, 2e6, 5 * psi},
		{stability.Humidity, 0.5, 0.02}, {stability.Airflow, 0.6, 0.03}, {stability.Airflow, 0, 1e-6},
	} {
		got, from := stability.Usual(tt.course, tt.last)
		require.InEpsilon(t, tt.want, got, 1e-12, "course %d", tt.course)
		require.Equal(t, refdata.FromMemory, from.Status)
	}
}
