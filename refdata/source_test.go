package refdata

import (
	"testing"
)

func usedSources() map[string]string {
	used := map[string]string{}
	for _, f := range Fluids() {
		used[f.Source] = f.Designation
		if a := f.Ancillary; a != nil {
			for _, c := range []AncillaryCurve{a.BubblePressure, a.DewPressure, a.LiquidDensity, a.VaporDensity} {
				used[c.Source] = f.Designation
			}
		}
	}
	for _, p := range Pairs() {
		used[p.Source] = p.First + " with " + p.Second
	}
	for _, d := range Departures() {
		used[d.Source] = d.Name
	}
	for _, b := range Blends() {
		used[b.Source] = b.Designation
	}
	return used
}

func TestSourcesAndUsesAgree(t *testing.T) {
	known, used := Sources(), usedSources()
	for key, where := range used {
		if _, ok := known[key]; !ok {
			t.Errorf("source %q of %s is not in sources.bib", key, where)
		}
	}
	for key := range known {
		if _, ok := used[key]; !ok {
			t.Errorf("sources.bib has %q, which nothing uses", key)
		}
	}
}

func TestSourcesAreComplete(t *testing.T) {
	byDOI := map[string]string{}
	for key, s := range Sources() {
		if s.Title == "" || s.Key != key {
			t.Errorf("%s: key %q, title %q", key, s.Key, s.Title)
		}
		if s.Type == "article" && (s.Author == "" || s.Journal == "" || s.Year == "") {
			t.Errorf("%s: an article without author, journal or year", key)
		}
		if s.DOI == "" {
			continue
		}
		if other, twice := byDOI[s.DOI]; twice {
			t.Errorf("%s and %s share the DOI %s", key, other, s.DOI)
		}
		byDOI[s.DOI] = key
	}
}

func TestParseBibRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"no head":        "title = {x},\n",
		"no end":         "@misc{a,\ntitle = {x},\n",
		"repeated key":   "@misc{a,\ntitle = {x},\n}\n@misc{a,\ntitle = {y},\n}\n",
		"repeated field": "@misc{a,\ntitle = {x},\ntitle = {y},\n}\n",
		"unknown field":  "@misc{a,\nauthors = {x},\n}\n",
		"nested braces":  "@misc{a,\ntitle = {{x}},\n}\n",
		"open field":     "@misc{a,\ntitle = {x,\n}\n",
	} {
		if got, err := parseBib(text); err == nil {
			t.Errorf("%s: parsed as %v", name, got)
		}
	}
}
