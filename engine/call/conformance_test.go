package call

import (
	"bufio"
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/conformance"
	"github.com/knurl-hvacr/knurl/engine/query"
)

var (
	keepAnswers = flag.String("keep", "", "write the answers to the conformance pairs to this file")
	givenBy     = flag.String("answers", "", "judge the answers in this file, given through a binding or on another processor, and compare each with that of this one")
)

// given is one line of a file of answers.
type given struct {
	Name   string          `json:"name"`
	Status int             `json:"status"`
	Answer json.RawMessage `json:"answer"`
}

// Every pair of testdata/conformance holds. With -answers the pairs are held
// against what was answered elsewhere, of which every number must be the one
// given here, but for one in its last digit.
func TestConformance(t *testing.T) {
	e := New(query.New())
	elsewhere := map[string]given{}
	if *givenBy != "" {
		elsewhere = readAnswers(t, *givenBy)
	}
	var kept bytes.Buffer
	var agreement conformance.Agreement
	pairs, expectations, worst := 0, 0, 0.0
	for _, file := range []string{"outside.json", "regression.json"} {
		data, err := os.ReadFile("../../testdata/conformance/" + file)
		require.NoError(t, err)
		all, err := conformance.Read(data)
		require.NoError(t, err)
		for _, p := range all {
			pairs++
			expectations += len(p.Expect)
			got := given{Name: p.Name}
			got.Status, got.Answer = e.Ask(p.Method, p.Path, p.Question)
			if *givenBy != "" {
				here := got
				if got = elsewhere[p.Name]; got.Name == "" {
					t.Errorf("%s was not answered", p.Name)
					continue
				}
				require.NoError(t, agreement.Compare(p.Name, got.Answer, here.Answer))
			}
			faults, share := p.Judge(got.Status, got.Answer)
			for _, fault := range faults {
				t.Errorf("%s: %s", p.Name, fault)
			}
			worst = max(worst, share)
			line, err := json.Marshal(got)
			require.NoError(t, err)
			kept.Write(append(line, '\n'))
		}
	}
	const shown = 20
	for i, fault := range agreement.Faults {
		if i == shown {
			t.Errorf("and %d more", len(agreement.Faults)-shown)
			break
		}
		t.Error(fault)
	}
	if *keepAnswers != "" {
		require.NoError(t, os.WriteFile(*keepAnswers, kept.Bytes(), 0o644))
	}
	if *givenBy == "" {
		t.Logf("%s/%s: %d pairs, %d expectations, off by at most %.0f %% of what they allow", runtime.GOOS, runtime.GOARCH, pairs, expectations, 100*worst)
		return
	}
	t.Logf("%d pairs, %d expectations, off by at most %.0f %% of what they allow; %d numbers and %d texts of all answers compared with %s/%s: worst relative deviation %.2g %s",
		pairs, expectations, 100*worst, agreement.Numbers, agreement.Texts, runtime.GOOS, runtime.GOARCH, agreement.Worst, agreement.At)
}

func readAnswers(t *testing.T, path string) map[string]given {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all := map[string]given{}
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 16<<20)
	for lines.Scan() {
		var g given
		require.NoError(t, json.Unmarshal(lines.Bytes(), &g))
		all[g.Name] = g
	}
	require.NoError(t, lines.Err())
	return all
}
