package problem

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

func TestFrom(t *testing.T) {
	field := query.RequestError{Pointer: "/a", Code: "x", Detail: "first"}
	for _, tt := range []struct {
		name   string
		err    error
		is     Kind
		detail string
		fields int
	}{
		{"refused by physics", &query.Refusal{Errors: []query.RequestError{field}}, InvalidQuestion, "/a: first", 1},
		{"refused, wrapped", fmt.Errorf("around: %w", &query.Refusal{Errors: []query.RequestError{field, field}}), InvalidQuestion, "/a: first (and 1 more)", 2},
		{"unreadable", &query.Refusal{Unreadable: true, Errors: []query.RequestError{field}}, UnreadableQuestion, "/a: first", 1},
		{"malformed JSON", &strictjson.Misfits{List: []strictjson.Misfit{{Code: "syntax", Detail: "here"}}}, UnreadableQuestion, "here", 1},
		{"unknown refrigerant", &refrigerant.UnknownError{Spelling: "R-9", Nearest: []string{"R-90", "R-91"}}, UnknownRefrigerant, `"R-9" is not in the catalog, did you mean R-90 or R-91?`, 1},
		{"stopped", fmt.Errorf("around: %w", query.ErrStopped), TookTooLong, "", 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p, ok := From(tt.err)
			d := tt.is.Describe()
			require.True(t, ok)
			require.Equal(t, d.Type, p.Type)
			require.Equal(t, d.Status, p.Status)
			require.Equal(t, d.Title, p.Title)
			require.Equal(t, tt.detail, p.Detail)
			require.Len(t, p.Errors, tt.fields)
		})
	}
	if p, ok := From(errors.New("the secret")); ok {
		t.Errorf("%+v", p)
	}
}

func TestKindsAreDistinct(t *testing.T) {
	titles := map[string]Kind{}
	for _, k := range Kinds() {
		d := k.Describe()
		if other, taken := titles[d.Title]; taken {
			t.Errorf("%s and %s share a title", k, other)
		}
		titles[d.Title] = k
		require.GreaterOrEqual(t, d.Status, 400, "%s", k)
		require.LessOrEqual(t, d.Status, 599, "%s", k)
		require.NotEmpty(t, d.Meaning, "%s", k)
		require.NotEmpty(t, d.Action, "%s", k)
	}
	if _, ok := Describe("nothing"); ok {
		t.Error("an unknown name is described")
	}
}
