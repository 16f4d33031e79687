package problem

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
)

func TestFrom(t *testing.T) {
	field := query.Field{Pointer: "/a", Code: "x", Detail: "first"}
	for _, tt := range []struct {
		name   string
		err    error
		kind   Kind
		detail string
		fields int
		known  bool
	}{
		{"of the question", fmt.Errorf("around: %w", &query.Refusal{Fields: []query.Field{field}}), InvalidQuestion, "/a: first", 1, true},
		{"raised by HTTP", NotFound.Because("no %s", "way"), NotFound, "no way", 0, true},
		{"anything else", errors.New("the secret"), InternalError, "", 0, false},
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
