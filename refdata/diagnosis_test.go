package refdata

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDiagnosisModel(t *testing.T) {
	m := Diagnosis()
	if _, ok := Sources()[m.Source]; !ok || m.Status != FromMemory {
		t.Errorf("source %q, status %q", m.Source, m.Status)
	}
	seen := map[string]bool{}
	for _, f := range m.Figures {
		require.True(t, snakeCase.MatchString(f.Code), "figure %+v is malformed or repeated", f)
		require.False(t, seen[f.Code], "figure %+v is malformed or repeated", f)
		require.NotEmpty(t, f.Text)
		require.Contains(t, units, f.Unit)
		require.NotEmpty(t, f.Unit)
		seen[f.Code] = true
	}
	sum := 0.0
	for _, p := range m.Prior {
		if seen[p.Hypothesis] || !(p.Share > 0 && p.Share < 1) {
			t.Errorf("prior of %q is %g, or repeated", p.Hypothesis, p.Share)
		}
		seen[p.Hypothesis] = true
		sum += p.Share
	}
	for _, h := range append([]string{"no_fault", "unexplained"}, faults...) {
		if !seen[h] {
			t.Errorf("no prior for %s", h)
		}
	}
	if !(sum > 0.9 && sum < 1.1) {
		t.Errorf("prior shares sum to %g", sum)
	}
	for _, c := range m.NextChecks {
		if !slices.Contains(faults, c.Fault) || len(c.Checks) == 0 {
			t.Errorf("next checks of %q: %v", c.Fault, c.Checks)
		}
		for _, code := range c.Checks {
			if !snakeCase.MatchString(code) {
				t.Errorf("next check %q of %s is malformed", code, c.Fault)
			}
		}
	}
	if len(m.NextChecks) != len(faults) {
		t.Errorf("next checks for %d faults, want %d", len(m.NextChecks), len(faults))
	}
}
