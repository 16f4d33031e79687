package refdata

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTexts(t *testing.T) {
	promise := regexp.MustCompile(`(?i)\bsafe(ly)?\b|harmless`)
	kinds := map[string]bool{}
	seen := map[string]Text{}
	var last string
	for _, x := range Texts() {
		_, twice := seen[x.Code]
		require.False(t, twice, "%+v is malformed, empty, or its code repeated", x)
		require.True(t, snakeCase.MatchString(x.Code), "%+v is malformed, empty, or its code repeated", x)
		require.True(t, snakeCase.MatchString(x.Kind), "%+v is malformed, empty, or its code repeated", x)
		require.NotEmpty(t, x.Text)
		if x.Kind != last && kinds[x.Kind] {
			t.Errorf("%s stands apart from the others of the kind %s", x.Code, x.Kind)
		}
		if promise.MatchString(x.Text) {
			t.Errorf("%s promises something: %q", x.Code, x.Text)
		}
		seen[x.Code], kinds[x.Kind], last = x, true, x.Kind
	}
	of := func(kind string) (codes []string) {
		for _, x := range Texts() {
			if x.Kind == kind {
				codes = append(codes, x.Code)
			}
		}
		slices.Sort(codes)
		return codes
	}
	var cautions, steps []string
	for _, c := range Cautions() {
		cautions = append(cautions, c.Code)
	}
	for _, s := range HoseSteps() {
		steps = append(steps, s.Code)
	}
	slices.Sort(cautions)
	slices.Sort(steps)
	require.Equal(t, cautions, of("caution"))
	require.Equal(t, steps, of("hose_step"))
}
