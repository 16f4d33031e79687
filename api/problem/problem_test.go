package problem

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

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
		p := From(tt.err)
		d := tt.kind.Describe()
		if p.Type != "/problems/"+string(tt.kind) || p.Type != d.Type || p.Status != d.Status || p.Title != d.Title || p.Detail != tt.detail || len(p.Errors) != tt.fields || Known(tt.err) != tt.known {
			t.Errorf("%s: %+v", tt.name, p)
		}
		if text, err := json.Marshal(p); err != nil || strings.Contains(string(text), "secret") {
			t.Errorf("%s: %s, %v", tt.name, text, err)
		}
	}
}
