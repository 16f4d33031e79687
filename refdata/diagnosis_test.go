package refdata

import (
	"math"
	"slices"
	"testing"
)

func TestDiagnosisModel(t *testing.T) {
	m := Diagnosis()
	if _, ok := Sources()[m.Source]; !ok || m.Status != FromMemory {
		t.Errorf("source %q, status %q", m.Source, m.Status)
	}
	seen := map[string]bool{}
	for _, f := range m.Figures {
		if !snakeCase.MatchString(f.Code) || seen[f.Code] || f.Text == "" || !slices.Contains(units, f.Unit) || f.Unit == "" {
			t.Errorf("figure %+v is malformed or repeated", f)
		}
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
	for _, e := range m.Sizes {
		if !slices.Contains(faults, e.Fault) || !slices.ContainsFunc(FaultSigns().Features, func(f Feature) bool { return f.Code == e.Feature }) || !(e.Steps > 0 && e.Steps <= 4) || e.Text == "" {
			t.Errorf("effect size %+v", e)
		}
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

// Practice must not contradict a published chart for the same devices.
func TestPracticeSignsFillOnlyGaps(t *testing.T) {
	for _, c := range Diagnosis().Charts {
		if len(c.Rows) != len(faults) {
			t.Errorf("%s: %d rows, want one for each of %d faults", c.Code, len(c.Rows), len(faults))
		}
		for _, row := range c.Rows {
			if !slices.Contains(faults, row.Fault) {
				t.Errorf("%s: unknown fault %q", c.Code, row.Fault)
			}
			for feature, sign := range row.Signs {
				if math.Abs(float64(sign)) > 1 {
					t.Errorf("%s: %s has sign %d for %s", c.Code, row.Fault, sign, feature)
				}
				for _, published := range FaultSigns().Charts {
					if !slices.ContainsFunc(published.MeteringDevices, func(d string) bool { return slices.Contains(c.MeteringDevices, d) }) {
						continue
					}
					for _, p := range published.Rows {
						if have, ok := p.Signs[feature]; ok && p.Fault == row.Fault && have != sign {
							t.Errorf("%s: %s moves %s by %d, published in %s as %d", c.Code, row.Fault, feature, sign, published.Code, have)
						}
					}
				}
			}
		}
	}
}
