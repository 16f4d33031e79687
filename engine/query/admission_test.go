package query_test

import (
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

func TestAdmission(t *testing.T) {
	share := func(designation string, percent float64) query.Share {
		return query.Share{Refrigerant: designation, MassPercent: &percent}
	}
	forty := 40.0
	points := []query.PointQuestion{{Temperature: &query.Quantity{Value: &forty, Unit: "degF"}}}
	catalogued := query.SaturationPointsQuestion{Refrigerant: "R-290", Points: points}
	typed := query.SaturationPointsQuestion{Composition: []query.Share{share("R-32", 71), share("R-125", 29)}, Points: points}

	var asked []bool
	done := 0
	refused := errors.New("not now")
	var answer error
	e := query.New().Admitting(func(typed bool) (func(), error) {
		asked = append(asked, typed)
		return func() { done++ }, answer
	})
	for _, q := range []query.SaturationPointsQuestion{catalogued, typed, catalogued, typed} {
		_, err := e.SaturationPoints(q, query.Presentation{})
		require.NoError(t, err)
	}
	if !slices.Equal(asked, []bool{false, true}) || done != 2 {
		t.Errorf("asked %v, done %d times: known curves need no admission", asked, done)
	}
	answer = refused
	typed.Composition = []query.Share{share("R-32", 72), share("R-125", 28)}
	if _, err := e.SaturationPoints(typed, query.Presentation{}); !errors.Is(err, refused) {
		t.Errorf("%v", err)
	}
}
