package score

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

var (
	cases = flag.String("cases", "", "visits with known faults to be scored instead of those in testdata/eval; NDJSON, plain or gzip")
	write = flag.Bool("write", false, "write the figures into testdata/eval/README.md")
)

const (
	embedded = "../../testdata/eval/single_fault.ndjson.gz"
	readme   = "../../testdata/eval/README.md"
)

// visit is one line of the file; testdata/eval/README.md says what it means.
type visit struct {
	ID       string                  `json:"id"`
	SystemID string                  `json:"system_id"`
	Question query.DiagnosisQuestion `json:"question"`
	Truth    struct {
		Fault    string `json:"fault"`
		Material bool   `json:"material"`
	} `json:"truth"`
	FieldWeight float64 `json:"field_weight"`
}

// counted tells that the visit belongs to the scores of material faults.
func (v visit) counted() bool { return v.Truth.Fault == NoFault || v.Truth.Material }

// sharesOfFile is the prior that the questions of the file carry.
var sharesOfFile = func() map[string]float64 {
	p := map[string]float64{NoFault: 0.3}
	for _, r := range usual {
		p[r.fault] = 0.1
	}
	return p
}()

func readVisits(t *testing.T, path string) []visit {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := bufio.NewScanner(bytes.NewReader(raw))
	if bytes.HasPrefix(raw, []byte{0x1f, 0x8b}) {
		packed, err := gzip.NewReader(bytes.NewReader(raw))
		require.NoError(t, err)
		lines = bufio.NewScanner(packed)
	}
	lines.Buffer(nil, 1<<20)
	var all []visit
	for lines.Scan() {
		if len(bytes.TrimSpace(lines.Bytes())) == 0 {
			continue
		}
		var v visit
		require.NoError(t, json.Unmarshal(lines.Bytes(), &v), "%s, line %d", path, len(all)+1)
		if v.Truth.Fault != NoFault && sharesOfFile[v.Truth.Fault] == 0 {
			t.Fatalf("%s: %s has the unknown fault %q", path, v.ID, v.Truth.Fault)
		}
		all = append(all, v)
	}
	require.NoError(t, lines.Err())
	if len(all) == 0 {
		t.Fatalf("%s has no visits", path)
	}
	return all
}

// scores of one decider.
type scores struct {
	material, all           Tally // with the shares of the file as prior
	fieldMaterial, fieldAll Tally // with the default prior, by field weight
	groups                  map[string]map[string]*Tally
	confusion               map[string]map[string]int
	errors                  []string
}

// The groups that scores are split by.
var groups = []string{"metering device", "refrigerant", "truth"}

func judge(decide Decider, visits []visit) *scores {
	s := &scores{groups: map[string]map[string]*Tally{}, confusion: map[string]map[string]int{}}
	for _, v := range visits {
		truth := v.Truth.Fault
		q := v.Question
		q.Prior = sharesOfFile
		d, err := decide(q)
		if err != nil {
			s.errors = append(s.errors, v.ID+": "+err.Error())
		}
		s.all.Add(truth, d, 1)
		if v.counted() {
			s.material.Add(truth, d, 1)
			for i, of := range []string{q.System.MeteringDevice, q.System.Refrigerant, truth} {
				if s.groups[groups[i]] == nil {
					s.groups[groups[i]] = map[string]*Tally{}
				}
				if s.groups[groups[i]][of] == nil {
					s.groups[groups[i]][of] = &Tally{}
				}
				s.groups[groups[i]][of].Add(truth, d, 1)
			}
			if s.confusion[truth] == nil {
				s.confusion[truth] = map[string]int{}
			}
			s.confusion[truth][saidBy(d)]++
		}
		q.Prior = nil
		if d, err = decide(q); err != nil {
			s.errors = append(s.errors, v.ID+": "+err.Error())
		}
		s.fieldAll.Add(truth, d, v.FieldWeight)
		if v.counted() {
			s.fieldMaterial.Add(truth, d, v.FieldWeight)
		}
	}
	return s
}

func saidBy(d Decision) string {
	switch {
	case d.Assessment == "no_fault_indicated":
		return NoFault
	case d.Assessment == "fault_indicated" && len(d.Faults) > 0:
		return d.Faults[0].Fault
	}
	return "inconclusive"
}

// mark is one figure that is asked for: of the floor, and of the goal.
type mark struct {
	name        string
	of          func(*Tally) float64
	floor, goal float64
	// other is what another making of the usual table got on the same visits, as
	// published with them; NaN where there is no such figure, and then neither
	// table has to be beaten.
	other   float64
	least   bool // more is better
	percent bool
}

// marks are those that a diagnosis has to pass on material faults and no fault.
var marks = []mark{
	{"ranking", (*Tally).Ranking, 0.75, 0.85, 0.56, true, true},
	{"right", (*Tally).Right, 0.68, 0.78, 0.53, true, true},
	{"false alarms", (*Tally).FalseAlarms, 0.08, 0.05, 0.28, false, true},
	// A table always says something.
	{"inconclusive", func(y *Tally) float64 { return y.Share(NoResponse) }, 0.15, 0.15, math.NaN(), false, true},
	{"Brier", (*Tally).Brier, 0.42, 0.30, 0.63, false, false},
	{"calibration error", (*Tally).Calibration, 0.08, 0.04, 0.10, false, false},
}

func (m mark) reached(value, mark float64) bool {
	if m.least {
		return value >= mark
	}
	return value <= mark
}

func (m mark) say(v float64) string {
	switch {
	case math.IsNaN(v):
		return "–"
	case m.percent:
		return fmt.Sprintf("%.1f %%", 100*v)
	}
	return fmt.Sprintf("%.3f", v)
}

// TestVisits scores the engine beside the usual table, on one visit in four. -v
// and KNURL_FULL=1 take all and compare them with what is published, -v prints
// the figures, -args -cases FILE takes other visits.
func TestVisits(t *testing.T) {
	path := embedded
	if *cases != "" {
		path = *cases
	}
	visits := readVisits(t, path)
	whole := *cases != "" || *write || testing.Verbose() || os.Getenv("KNURL_FULL") != ""
	if !whole {
		var some []visit
		for i := 0; i < len(visits); i += 4 {
			some = append(some, visits[i])
		}
		visits = some
	}
	e := query.New()
	engine, table := judge(Engine(e), visits), judge(usualTable(e), visits)
	report := reportOf(engine, table)
	if testing.Verbose() {
		fmt.Print(report, "\n", confusionOf(engine))
	}
	for _, s := range engine.errors {
		t.Errorf("no valid answer: %s", s)
	}
	for _, s := range table.errors {
		t.Errorf("the usual table: %s", s)
	}
	for _, m := range marks {
		got := m.of(&engine.material)
		if !m.reached(got, m.floor) {
			t.Errorf("%s is %.4f, the floor %v", m.name, got, m.floor)
		}
		if math.IsNaN(m.other) {
			continue
		}
		others := []float64{m.of(&table.material)}
		if *cases == "" {
			others = append(others, m.other)
		}
		for _, other := range others {
			if m.reached(other, got) {
				t.Errorf("%s is %.4f, no better than a usual table's %.4f", m.name, got, other)
			}
		}
	}
	// Another processor may round a visit at a limit to the other side.
	if whole && *cases == "" && runtime.GOARCH == "amd64" {
		compareReadme(t, report)
	}
}

const (
	begin = "<!-- made by: go test ./engine/score -args -write -->\n"
	end   = "<!-- until here -->\n"
)

// compareReadme holds the README of the visits to the figures, or writes them
// there.
func compareReadme(t *testing.T, report string) {
	t.Helper()
	raw, err := os.ReadFile(readme)
	require.NoError(t, err)
	before, rest, ok := strings.Cut(string(raw), begin)
	was, after, closed := strings.Cut(rest, end)
	switch {
	case !ok || !closed:
		t.Fatalf("testdata/eval/README.md has no place for the figures: %q to %q", begin, end)
	case *write:
		require.NoError(t, os.WriteFile(readme, []byte(before+begin+report+end+after), 0o644))
	case was != report:
		t.Error("testdata/eval/README.md has other figures: go test ./engine/score -args -write puts these in")
	}
}

// reportOf is what the README of the visits shows.
func reportOf(engine, table *scores) string {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	head := func(first string) {
		line("| %s | visits | ranking | right | missed | misdiagnosed | inconclusive | false alarms | Brier | log score | calibration error |", first)
		line("|---|---|---|---|---|---|---|---|---|---|---|")
	}
	percent, plain := mark{percent: true}, mark{}
	tally := func(name string, y *Tally) {
		line("| %s | %.0f | %s | %s | %s | %s | %s | %s | %s | %s | %s |", name, y.N(),
			percent.say(y.Ranking()), percent.say(y.Right()), percent.say(y.ShareOfFaulty(MissedDetection)), percent.say(y.ShareOfFaulty(Misdiagnosis)),
			percent.say(y.Share(NoResponse)), percent.say(y.FalseAlarms()), plain.say(y.Brier()), plain.say(y.Log()), plain.say(y.Calibration()))
	}

	line("| material faults and no fault | %s |", strings.Join(names(marks), " | "))
	line("|---|%s", strings.Repeat("---|", len(marks)))
	asked := func(name string, of func(mark) float64) {
		cells := make([]string, len(marks))
		for i, m := range marks {
			cells[i] = m.say(of(m))
		}
		line("| %s | %s |", name, strings.Join(cells, " | "))
	}
	asked("this engine", func(m mark) float64 { return m.of(&engine.material) })
	asked("the usual decision table", func(m mark) float64 { return m.of(&table.material) })
	asked("another making of that table, as published with the visits", func(m mark) float64 { return m.other })
	asked("floor", func(m mark) float64 { return m.floor })
	asked("goal", func(m mark) float64 { return m.goal })
	line("")
	for _, of := range []struct {
		word string
		mark func(mark) float64
	}{{"floor", func(m mark) float64 { return m.floor }}, {"goal", func(m mark) float64 { return m.goal }}} {
		var short []string
		for _, m := range marks {
			if got := m.of(&engine.material); !m.reached(got, of.mark(m)) {
				short = append(short, fmt.Sprintf("%s (%s for %s)", m.name, m.say(got), m.say(of.mark(m))))
			}
		}
		if len(short) > 0 {
			line("**The %s is not reached** in %s.", of.word, strings.Join(short, ", "))
		} else {
			line("The %s is reached.", of.word)
		}
	}
	line("")

	head("prior and weights")
	tally("engine, shares of the file, material faults", &engine.material)
	tally("usual table, the same", &table.material)
	tally("engine, shares of the file, all faults", &engine.all)
	tally("usual table, the same", &table.all)
	tally("engine, default prior, field-weighted, material faults", &engine.fieldMaterial)
	tally("usual table, the same", &table.fieldMaterial)
	tally("engine, default prior, field-weighted, all faults", &engine.fieldAll)
	tally("usual table, the same", &table.fieldAll)
	line("")

	for i, g := range groups {
		if i == 0 {
			head("engine, shares of the file, material faults, by")
		}
		for _, of := range sorted(engine.groups[g]) {
			tally(strings.ReplaceAll(of, "_", " "), engine.groups[g][of])
		}
	}
	line("")

	line("| engine, claimed for the likeliest class | visits | mean claim | how often true |")
	line("|---|---|---|---|")
	for i, r := range engine.material.Reliability() {
		if r.Weight > 0 {
			line("| %d to %d %% | %.0f | %s | %s |", 10*i, 10*(i+1), r.Weight, percent.say(r.Claimed), percent.say(r.Hit))
		}
	}
	return b.String()
}

func names(of []mark) []string {
	all := make([]string, len(of))
	for i, m := range of {
		all[i] = m.name
	}
	return all
}

func sorted[V any](of map[string]V) []string {
	all := make([]string, 0, len(of))
	for k := range of {
		all = append(all, k)
	}
	slices.Sort(all)
	return all
}

// confusionOf has a row for each truth and a column for what was said, material
// faults only.
func confusionOf(s *scores) string {
	var b strings.Builder
	columns := append(sorted(sharesOfFile), "inconclusive")
	fmt.Fprintf(&b, "| truth \\ said | %s |\n|---|%s\n", strings.Join(columns, " | "), strings.Repeat("---|", len(columns)))
	for _, truth := range sorted(s.confusion) {
		fmt.Fprintf(&b, "| %s |", truth)
		for _, c := range columns {
			fmt.Fprintf(&b, " %d |", s.confusion[truth][c])
		}
		b.WriteByte('\n')
	}
	return b.String()
}
