package refdata

import (
	"cmp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
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
	for _, f := range AllFacts() {
		if f.SafetyGroup != nil {
			used[f.SafetyGroup.Source] = f.Designation
		}
		for _, n := range f.numbers() {
			used[n.Source] = f.Designation
		}
		for _, tol := range f.Tolerances {
			used[tol.Source] = f.Designation
		}
	}
	for _, g := range []Grid{TargetSuperheat(), TargetTemperatureSplit()} {
		used[g.Source] = "a target table"
	}
	for _, f := range slices.Concat(ChargeVerification(), TradeFacts(), NoFault(), HoseFigures(), Tubes().Figures, Allowances(), Plant().Priors, Plant().Weather, Plant().Severities, Plant().Limits) {
		used[f.Source] = f.Code
	}
	for _, i := range Instruments() {
		used[i.Source] = i.Code
	}
	for _, c := range Cautions() {
		used[c.Source] = c.Code
	}
	for _, c := range FaultSigns().Charts {
		used[c.Source] = c.Code
		used[cmp.Or(c.QuotedIn, c.Source)] = c.Code
	}
	for _, d := range FaultSigns().Decoupling {
		used[d.Source] = d.Feature
		used[cmp.Or(d.QuotedIn, d.Source)] = d.Feature
	}
	for _, i := range FaultSigns().Intensities {
		used[i.Source] = i.Fault
	}
	for _, c := range Plant().Correlations {
		used[c.Source] = c.Code
	}
	for _, f := range Diagnosis().Figures {
		used[f.Source] = f.Code
	}
	for _, s := range HoseSteps() {
		used[s.Source] = s.Code
	}
	for _, tube := range Tubes().Tubes {
		used[tube.Source] = tube.Standard
	}
	for _, m := range Methods() {
		used[m.Source] = m.Code
	}
	used[GasConstant().Source] = "the gas constant"
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
		if s.Type == "article" {
			require.NotEmpty(t, s.Author, "%s", key)
			require.NotEmpty(t, s.Journal, "%s", key)
			require.NotEmpty(t, s.Year, "%s", key)
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

// usedStatuses lists the status of everything that has one, under a name.
func usedStatuses() map[string][]string {
	used := map[string][]string{}
	note := func(status, where string) { used[status] = append(used[status], where) }
	for _, b := range Blends() {
		note(b.Status, b.Designation)
	}
	for _, f := range AllFacts() {
		if f.SafetyGroup != nil {
			note(f.SafetyGroup.Status, f.Designation)
		}
		for _, n := range f.numbers() {
			note(n.Status, f.Designation)
		}
		for _, tol := range f.Tolerances {
			note(tol.Status, f.Designation)
		}
	}
	for _, f := range slices.Concat(ChargeVerification(), TradeFacts(), NoFault(), HoseFigures(), Tubes().Figures, Allowances(), Plant().Priors, Plant().Weather, Plant().Severities, Plant().Limits) {
		note(f.Status, f.Code)
	}
	for _, i := range Instruments() {
		note(i.Status, i.Code)
	}
	for _, c := range Cautions() {
		note(c.Status, c.Code)
	}
	for _, c := range FaultSigns().Charts {
		note(c.Status, c.Code)
	}
	for _, d := range FaultSigns().Decoupling {
		note(d.Status, d.Feature)
	}
	for _, i := range FaultSigns().Intensities {
		note(i.Status, i.Fault)
	}
	for _, c := range Plant().Correlations {
		note(c.Status, c.Code)
	}
	for _, s := range HoseSteps() {
		note(s.Status, s.Code)
	}
	for _, tube := range Tubes().Tubes {
		note(tube.Status, tube.Standard)
	}
	note(GasConstant().Status, "the gas constant")
	return used
}

func TestStatusesAreKnown(t *testing.T) {
	for status, where := range usedStatuses() {
		if !slices.Contains(statuses, status) {
			t.Errorf("status %q of %v is not one of %v", status, where, statuses)
		}
	}
}
