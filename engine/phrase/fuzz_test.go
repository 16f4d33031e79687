package phrase

import (
	"strings"
	"testing"
)

// Whatever stands in a file of texts is taken as a template that says it all
// again, or refused.
func FuzzParse(f *testing.F) {
	for _, e := range Entries() {
		f.Add(e.Text)
	}
	for _, text := range []string{"{", "{a:name:or}", "{{a}}", "a}b", "{a:}"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		parsed, err := parse(text)
		if err != nil {
			return
		}
		var b strings.Builder
		params := Params{}
		for _, p := range parsed {
			b.WriteString(p.words)
			if p.slot == "" {
				continue
			}
			b.WriteString("{" + strings.Join(append([]string{p.slot}, p.forms...), ":") + "}")
			params[p.slot] = "x"
		}
		if again := b.String(); again != text {
			t.Errorf("%q became %q", text, again)
		}
		if _, err := parsed.fill(Params{}, parsed.slots()); len(params) > 0 && err == nil {
			t.Errorf("%q was filled with nothing", text)
		}
		_, _ = parsed.fill(params, parsed.slots()) // forms may refuse a word, and never panic
	})
}
