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
		{"faulty JSON", &strictjson.Faults{List: []strictjson.Fault{{Code: "syntax", Detail: "here"}}}, UnreadableQuestion, "here", 1},
		{"unknown refrigerant", &refrigerant.UnknownError{Spelling: "R-9", Nearest: []string{"R-90", "R-91"}}, UnknownRefrigerant, `"R-9" is not in the catalogue, did you mean R-90 or R-91?`, 1},
		{"stopped", fmt.Errorf("around: %w", query.ErrStopped), TookTooLong, "", 0},
	} {
		p, ok := From(tt.err)
		d := tt.is.Describe()
		if !ok || p.Type != d.Type || p.Status != d.Status || p.Title != d.Title || p.Detail != tt.detail || len(p.Errors) != tt.fields {
			t.Errorf("%s: %+v, %v", tt.name, p, ok)
		}
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
		if d.Status < 400 || d.Status > 599 || d.Meaning == "" || d.Action == "" {
			t.Errorf("%s: %+v", k, d)
		}
	}
	if _, ok := Describe("nothing"); ok {
		t.Error("an unknown name is described")
	}
}
