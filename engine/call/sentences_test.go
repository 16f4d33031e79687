package call

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/conformance"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// Every sentence of every answer is its code's text filled with its params, as
// a client reads them from the document: with the texts of another language the
// same params give the same sentence there.
func TestSentencesFollowFromCodesAndParams(t *testing.T) {
	e := New(query.New())
	said := map[phrase.Code]bool{}
	for _, r := range requests(t) {
		for _, ask := range []string{"units=ip&explain=true", "units=si&explain=true"} {
			path := r.Path + "?" + ask
			if strings.Contains(r.Path, "?") {
				path = r.Path + "&" + ask
			}
			status, answer := e.Ask(r.Method, path, r.Question)
			if status != 200 {
				continue
			}
			var decoded any
			require.NoError(t, json.Unmarshal(answer, &decoded), "%s", r.Name)
			sentences(decoded, "", func(at string, code phrase.Code, text string, params phrase.Params) {
				said[code] = true
				if got, err := phrase.Fill(code, params); got != text || err != nil {
					t.Errorf("%s?%s: %s has the text\n%s\nand its code %s with %v gives\n%s (%v)", r.Name, ask, at, text, code, params, got, err)
				}
			})
		}
	}
	if len(said) < 150 {
		t.Errorf("only %d codes were met", len(said))
	}
	var never []string
	for _, x := range phrase.Entries() {
		if len(x.Slots) > 0 && !said[x.Code] {
			never = append(never, string(x.Code))
		}
	}
	t.Logf("%d codes met; texts with slots that no request brings about: %v", len(said), never)
}

// requests are those of the demo and of the conformance pairs.
func requests(t *testing.T) []conformance.Pair {
	t.Helper()
	var all []conformance.Pair
	for _, file := range []string{"outside.json", "regression.json"} {
		data, err := os.ReadFile("../../testdata/conformance/" + file)
		require.NoError(t, err)
		pairs, err := conformance.Read(data)
		require.NoError(t, err)
		all = append(all, pairs...)
	}
	return all
}

// named are members whose value is the code of the text beside it, where that
// is not called code.
var named = []string{"code", "fault", "option", "case", "state", "process", "interpretation", "status"}

// sentences gives every text of a document with its code and its params.
func sentences(v any, at string, found func(at string, code phrase.Code, text string, params phrase.Params)) {
	switch v := v.(type) {
	case []any:
		for i, x := range v {
			sentences(x, fmt.Sprintf("%s/%d", at, i), found)
		}
	case map[string]any:
		_, template := v["slots"]
		if text, ok := v["text"].(string); ok && !template {
			i := slices.IndexFunc(named, func(name string) bool { _, ok := v[name].(string); return ok })
			code := ""
			if i >= 0 {
				code, _ = v[named[i]].(string)
			}
			params, _ := v["params"].(map[string]any)
			found(at, phrase.Code(code), text, params)
		}
		for name, x := range v {
			if name != "params" {
				sentences(x, at+"/"+name, found)
			}
		}
	}
}
