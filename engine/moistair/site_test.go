package moistair

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/unit"
)

// A weather report's sea-level figure does not pass for the air of Denver.
func TestAgree(t *testing.T) {
	denver, err := StandardPressure(unit.Foot(5280))
	require.NoError(t, err)
	require.True(t, Agree(denver, denver))
	require.True(t, Agree(unit.Pascal(denver.Pascal()+4*Weather()), denver))
	require.False(t, Agree(unit.Pascal(denver.Pascal()-5*Weather()), denver))
	require.False(t, Agree(unit.StandardAtmosphere(), denver))
	require.Less(t, Barometer(), Weather())
}
