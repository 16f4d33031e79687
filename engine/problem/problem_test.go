package problem

import (
	"errors"
	"fmt"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

func TestFrom(t *testing.T) {
	field := query.Field{Pointer: "/a", Code: "x", Detail: "first"}
	for _, tt := range []struct {
		name   string
		err    error
		is     Description
		detail string
		fields int
	}{
		{"refused by physics", &query.Refusal{Fields: []query.Field{field}}, InvalidQuestion, "/a: first", 1},
		{"refused, wrapped", fmt.Errorf("around: %w", &query.Refusal{Fields: []query.Field{field, field}}), InvalidQuestion, "/a: first (and 1 more)", 2},
		{"unreadable", &query.Refusal{Unreadable: true, Fields: []query.Field{field}}, UnreadableQuestion, "/a: first", 1},
		{"faulty JSON", &strictjson.Faults{List: []strictjson.Fault{{Code: "syntax", Detail: "here"}}}, UnreadableQuestion, "here", 1},
		{"unknown refrigerant", &refrigerant.UnknownError{Spelling: "R-9", Nearest: []string{"R-90", "R-91"}}, UnknownRefrigerant, `"R-9" is not in the catalogue, did you mean R-90 or R-91?`, 1},
		{"stopped", fmt.Errorf("around: %w", query.ErrStopped), TookTooLong, "", 0},
	} {
		p, ok := From(tt.err)
		if !ok || p.Type != tt.is.Type || p.Status != tt.is.Status || p.Title != tt.is.Title || p.Detail != tt.detail || len(p.Errors) != tt.fields {
			t.Errorf("%s: %+v, %v", tt.name, p, ok)
		}
	}
	if p, ok := From(errors.New("the secret")); ok {
		t.Errorf("%+v", p)
	}
}
