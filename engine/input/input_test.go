package input

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/gum"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

type name string

func (n name) String() string { return string(n) }

func TestLimits(t *testing.T) {
	for _, tt := range []struct {
		l    Limits
		v    float64
		want bool
	}{
		{Limits{Min: 0, Max: 1}, 0, true}, {Limits{Min: 0, Max: 1, Above: true}, 0, false},
		{Limits{Min: 0, Max: 1}, 1, true}, {Limits{Min: 0, Max: 1}, 1.1, false}, {Limits{Min: 0, Max: 1}, math.NaN(), false},
		{Limits{Min: 0, Max: math.Inf(1)}, 1e300, true}, {Limits{Min: 0, Max: math.Inf(1)}, math.Inf(1), false},
	} {
		if got := tt.l.Hold(tt.v); got != tt.want {
			t.Errorf("%+v hold %g: %v", tt.l, tt.v, got)
		}
	}
}

func TestEveryFaultAtOnce(t *testing.T) {
	cause := errors.New("no root")
	limits := Limits{Kind: unit.KindLength, Max: 3, Above: true}
	var all Errors[name]
	all.Measured("left out", -1, nil, limits)
	all.Measured("good", -1, &gum.Uncertain{Value: 2}, limits)
	if all.Join() != nil {
		t.Fatal(all.Join())
	}
	all.Measured("length", 1, &gum.Uncertain{}, limits)
	all.Measured("length", 2, &gum.Uncertain{Value: 1, Standard: math.NaN()}, limits)
	all.Add("port", -1, Unknown)
	all.Unsolved("state", -1, cause)
	err := all.Join()
	var first *Error[name]
	require.ErrorIs(t, err, Err)
	require.ErrorIs(t, err, cause)
	require.ErrorAs(t, err, &first)
	require.Equal(t, Error[name]{"length", 1, OutOfRange, limits, nil}, *first)
	require.Len(t, all, 4)
	want := "input: length 2 lies outside its range from 0 to 3 (SI)\ninput: length 3 has an impossible uncertainty\n" +
		"input: port is not known\ninput: state cannot be used: no root"
	if err.Error() != want {
		t.Errorf("%q", err)
	}
}
