package problem

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
)

func TestFrom(t *testing.T) {
	field := query.RequestError{Pointer: "/a", Code: "x", Detail: "first"}
	for _, tt := range []struct {
		name   string
		err    error
		kind   problem.Kind
		detail string
		fields int
		known  bool
	}{
		{"of the question", fmt.Errorf("around: %w", &query.Refusal{Errors: []query.RequestError{field}}), problem.InvalidQuestion, "/a: first", 1, true},
		{"raised by HTTP", Because(problem.NotFound, "no %s", "way"), problem.NotFound, "no way", 0, true},
		{"anything else", errors.New("the secret"), problem.InternalError, "", 0, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := From(tt.err)
			d := tt.kind.Describe()
			require.Equal(t, "/problems/"+string(tt.kind), p.Type)
			require.Equal(t, d.Type, p.Type)
			require.Equal(t, d.Status, p.Status)
			require.Equal(t, d.Title, p.Title)
			require.Equal(t, tt.detail, p.Detail)
			require.Len(t, p.Errors, tt.fields)
			require.Equal(t, tt.known, Known(tt.err))
			text, err := json.Marshal(p)
			require.NoError(t, err)
			if strings.Contains(string(text), "secret") {
				t.Errorf("%s: %s", tt.name, text)
			}
		})
	}
}
