package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
	"github.com/knurl-hvacr/knurl/openapi"
)

var engine = query.New()

func read[Q any](t *testing.T, body string) Q {
	t.Helper()
	q, err := strictjson.For[Q]().Decode([]byte(body))
	require.NoError(t, err)
	return q
}

// visit are readings, in psig and degF, with a limit of error each.
func visit(refrigerant, suctionLine string) string {
	return `{"system":{"refrigerant":"` + refrigerant + `"},"readings":{"suction_pressure":{"value":121,"unit":"psig","accuracy":2},
		"suction_line_temperature":{"value":` + suctionLine + `,"unit":"degF","accuracy":1},"liquid_pressure":{"value":340,"unit":"psig","accuracy":4},
		"liquid_line_temperature":{"value":95.5,"unit":"degF","accuracy":1},"discharge_line_temperature":{"value":165,"unit":"degF","accuracy":2}}}`
}

func diagram(t *testing.T, body, units string) (query.PressureEnthalpyDiagramAnswer, string) {
	t.Helper()
	q := read[query.PressureEnthalpyDiagramQuestion](t, body)
	a, err := engine.PressureEnthalpyDiagram(q, query.Presentation{Units: units})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Diagram(&b, a))
	return a, b.String()
}

// elements reads a document as XML, which must be well formed, and gives the
// text of each kind of element.
func elements(t *testing.T, text string) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	var open []string
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err, "not well formed:\n%s", text)
		switch e := token.(type) {
		case xml.StartElement:
			open = append(open, e.Name.Local)
			all[e.Name.Local] = append(all[e.Name.Local], "")
			for _, a := range e.Attr {
				require.False(t, strings.HasPrefix(strings.ToLower(a.Name.Local), "on"), "<%s> has the attribute %s", e.Name.Local, a.Name.Local)
				require.NotEqual(t, "href", a.Name.Local)
				require.NotEqual(t, "style", a.Name.Local)
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if n := len(open); n > 0 {
				of := all[open[n-1]]
				of[len(of)-1] += string(e)
			}
		}
	}
}

func TestDiagramIsAPictureForEverybody(t *testing.T) {
	for _, tt := range []struct{ body, units, wants string }{
		{visit("R-410A", "53"), "ip", "Btu/lb"},
		{visit("R-410A", "53"), "si", "kJ/kg"},
		{visit("R-410A", "42.3"), "ip", "Phase not resolved"},
		{visit("R-410A", "30"), "ip", "1 somewhere here"},
		{`{"system":{"refrigerant":"R-454C"}}`, "ip", "critical point"},
		{`{"system":{"composition":[{"refrigerant":"R-32","mass_percent":40},{"refrigerant":"R-125","mass_percent":40},{"refrigerant":"R-134a","mass_percent":20}]}}`, "ip", "Typed composition"},
	} {
		a, svg := diagram(t, tt.body, tt.units)
		found := elements(t, svg)
		require.LessOrEqual(t, len(found["script"])+len(found["foreignObject"])+len(found["image"]), 0, "%s", tt.body)
		if strings.Contains(svg, "http://") {
			require.Equal(t, 1, strings.Count(svg, "http"), "%s", tt.body)
		}
		require.Len(t, found["title"], 1, "%s", tt.body)
		require.Len(t, found["desc"], 1, "%s", tt.body)
		require.Contains(t, found["title"][0], a.Refrigerant, "%s", tt.body)
		require.GreaterOrEqual(t, len(found["desc"][0]), 100, "%s", tt.body)
		root := regexp.MustCompile(`^<svg [^>]*>`).FindString(svg)
		if !strings.Contains(root, `role="img"`) || !strings.Contains(root, "viewBox=") || strings.Contains(root, " width=") {
			t.Errorf("%s", root)
		}
		text := strings.Join(found["text"], "\n")
		if !strings.Contains(text, tt.wants) || !strings.Contains(text, "Absolute pressure") {
			t.Errorf("%s in %s: %q is not among\n%s", tt.body, tt.units, tt.wants, text)
		}
		for _, s := range a.States {
			if !strings.Contains(text, sentence(s.State)) || !strings.Contains(found["desc"][0], words(s.State)) {
				t.Errorf("%s is not named in words", s.State)
			}
		}
		if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Errorf("%s: a number is none", tt.body)
		}
	}
}

func TestScaleOfTheDiagram(t *testing.T) {
	s := scale{box: box{10, 20, 100, 200}, left: 0, right: 50, low: math.Log(1), high: math.Log(100)}
	// Half of the width, and half of the height at the geometric mean.
	if x, y := s.x(25), s.y(10); x != 60 || !(math.Abs(y-120) <= 1e-9) {
		t.Errorf("%g, %g", x, y)
	}
}

const hostile = `</title></textarea><script>alert(1)</script><img src=x onerror=alert(2)>"' {{.}} javascript:alert(3) \u2028 ]]>`

func TestRecordEscapesWhatPeopleWrite(t *testing.T) {
	a, page := record(t, func(q *query.VisitRecordQuestion) {
		q.Reference = hostile
		q.Remarks = []string{hostile, strings.Repeat("x", 2000)}
		q.InstrumentList = []query.InstrumentEntry{{Name: hostile, Serial: hostile}}
		q.System.RatedEfficiency = nil
	})
	if a.Reference != hostile {
		t.Fatal("the reference was lost")
	}
	lower := strings.ToLower(page)
	for _, bad := range []string{"<script", "<img", "<iframe", "<link", "onerror=alert(2)>", "url(", "@import", "http://", "https://"} {
		if strings.Contains(lower, bad) {
			t.Errorf("the page holds %s", bad)
		}
	}
	if n := strings.Count(page, "&lt;script&gt;alert(1)&lt;/script&gt;"); n < 4 {
		t.Errorf("what was written stands there %d times as text", n)
	}
}

func record(t *testing.T, change func(*query.VisitRecordQuestion)) (query.VisitRecordAnswer, string) {
	t.Helper()
	body, err := os.ReadFile("../../testdata/demo/museum-visit-record.json")
	require.NoError(t, err)
	q := read[query.VisitRecordQuestion](t, string(body))
	change(&q)
	a, err := engine.VisitRecord(q, query.Presentation{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Record(&b, a))
	return a, b.String()
}

func TestRecordShowsTheVisit(t *testing.T) {
	a, page := record(t, func(*query.VisitRecordQuestion) {})
	var want []string
	for _, n := range append(a.OpenPoints, a.Cautions...) {
		want = append(want, n.Text)
	}
	want = append(want, a.Reference, a.DocumentHash.Value, figure(a.Running.State.Superheat.Measure), figure(a.Running.Deviations[1].Deviation),
		"digital gauges", "no leak found", "Running", "After the change", "above", "below", "within", "Undercharge", figure(a.Masses.Added.Mass))
	plain := strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&#43;", "+", "&amp;", "&").Replace(page)
	for _, w := range want {
		if !strings.Contains(plain, w) {
			t.Errorf("the page does not show %q", w)
		}
	}
	if strings.Count(page, "<svg") != len(a.Running.Deviations)+len(a.AfterChange.Deviations) {
		t.Errorf("%d bars for %d deviations", strings.Count(page, "<svg"), len(a.Running.Deviations)+len(a.AfterChange.Deviations))
	}
	// A seal that is missing is not "on".
	if !regexp.MustCompile(`Liquid</th><td>tight</td><td>on</td><td>missing</td>`).MatchString(page) {
		t.Error("the seal of the liquid port")
	}
}

// A record with nothing but what it must have is a page too.
func TestRecordOfLittle(t *testing.T) {
	q := read[query.VisitRecordQuestion](t, `{"issued_at":"2026-07-14","system":{"refrigerant":"R-22"}}`)
	a, err := engine.VisitRecord(q, query.Presentation{})
	require.NoError(t, err)
	var b bytes.Buffer
	err = Record(&b, a)
	require.NoError(t, err)
	if !strings.Contains(b.String(), "2026-07-14") {
		t.Errorf("%s", &b)
	}
}

func TestBars(t *testing.T) {
	u := 1.0
	for _, tt := range []struct {
		value         float64
		p             float64
		class, shaped string
	}{{0, 0.99, "good", "a"}, {20, 0.001, "bad", "M"}, {-20, 0.001, "bad", "M"}, {3, 0.5, "unsure", "M"}, {1e9, 0, "bad", "M"}} {
		r := rowOf(query.Measure{Value: tt.value, Unit: "delta_degF"}, query.Target{Tolerance: query.Measure{Value: 3, Unit: "delta_degF"}, Target: query.Measure{Value: 10, Unit: "delta_degF"}},
			query.Deviation{Deviation: query.Measure{Value: tt.value, Unit: "delta_degF", Uncertainty: &u}, WithinToleranceProbability: tt.p})
		require.Equal(t, tt.class, r.Class, "%g", tt.value)
		require.NotEmpty(t, r.Verdict, "%g", tt.value)
		require.NotEmpty(t, r.Sign, "%g", tt.value)
		require.Contains(t, r.Bar.Sign, tt.shaped, "%g", tt.value)
		if b := r.Bar; !(b.From >= 0 && b.From <= b.To && b.To <= 200) {
			t.Errorf("%g: bar from %g to %g", tt.value, b.From, b.To)
		}
	}
}

func TestFigures(t *testing.T) {
	m := func(v float64, unit string, u float64) query.Measure {
		out := query.Measure{Value: v, Unit: unit}
		if u > 0 {
			out.Uncertainty = &u
		}
		return out
	}
	for _, tt := range []struct {
		m    query.Measure
		want string
	}{
		{m(31.803, "delta_degF", 1.7), "31.8 ± 1.7\u00a0°F"},
		{m(31.803, "degF", 4.2), "32 ± 4\u00a0°F"},
		{m(-6.305, "delta_degF", 1.89), "−6.3 ± 1.9\u00a0°F"},
		{m(-0.004, "delta_K", 0.3), "0.0 ± 0.3\u00a0K"},
		{m(1828.75, "lb", 73.9), "1830 ± 70\u00a0lb"},
		{m(0.0950356, "oz", 0.0233), "0.095 ± 0.023\u00a0oz"},
		{m(9.96, "psig", 0.996), "10.0 ± 1.0\u00a0psig"},
		{m(2.802, "fraction", 0.0538), "2.80 ± 0.05"},
		{m(215.765, "psia", 0), "215.8\u00a0psia"},
		{m(14.5, "degC", 0), "14.5\u00a0°C"},
		{m(9, "delta_degF", 0), "9\u00a0°F"},
		{m(0, "percent", 0), "0\u00a0%"},
	} {
		if got := figure(tt.m); got != tt.want {
			t.Errorf("%v ± %v: %q, want %q", tt.m.Value, tt.m.Uncertainty, got, tt.want)
		}
	}
	for p, want := range map[float64]string{0: "under 1\u00a0%", 0.007: "under 1\u00a0%", 0.5: "50\u00a0%", 1: "more than 99\u00a0%", math.NaN(): "under 1\u00a0%"} {
		if got := percent(p); got != want {
			t.Errorf("%g: %q", p, got)
		}
	}
}

// What stands inline is what the policy allows, and nothing else is allowed.
func TestPoliciesFitThePages(t *testing.T) {
	_, svg := diagram(t, visit("R-410A", "53"), "ip")
	_, html := record(t, func(*query.VisitRecordQuestion) {})
	contract, err := Docs()
	require.NoError(t, err)
	inline := regexp.MustCompile(`(?s)<(style|script)>(.*?)</(?:style|script)>`)
	for _, p := range []struct{ page, policy string }{{svg, DiagramPolicy}, {html, RecordPolicy}, {string(contract), DocsPolicy}} {
		list := inline.FindAllStringSubmatch(p.page, -1)
		if len(list) != strings.Count(p.policy, "'sha256-") || len(list) == 0 {
			t.Errorf("%d inline parts under %s", len(list), p.policy)
		}
		for _, m := range list {
			sum := sha256.Sum256([]byte(m[2]))
			if !strings.Contains(p.policy, m[1]+"-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'") {
				t.Errorf("a %s is not allowed by %s", m[1], p.policy)
			}
		}
		if strings.Contains(p.page, " style=") || strings.Contains(p.policy, "unsafe") || strings.Contains(p.policy, "*") || !strings.HasPrefix(p.policy, "default-src 'none'") {
			t.Errorf("%s", p.policy)
		}
	}
}

func TestDocsShowTheWholeDocument(t *testing.T) {
	contract, err := Docs()
	require.NoError(t, err)
	page := string(contract)
	var d document
	require.NoError(t, json.Unmarshal(openapi.JSON, &d))
	ids := map[string]int{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]]++; ids[m[1]] > 1 {
			t.Errorf("the id %s stands twice", m[1])
		}
	}
	for _, m := range regexp.MustCompile(` (?:href="#|for="|aria-labelledby=")([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] != 1 {
			t.Errorf("nothing has the id %s", m[1])
		}
	}
	for path, methods := range d.Paths {
		for method, op := range methods {
			if ids["op-"+op.ID] != 1 || !strings.Contains(page, "<code>"+path+"</code>") {
				t.Errorf("%s %s is not on the page", method, path)
			}
			if method == "post" && ids["op-"+op.ID+"-body"] != 1 {
				t.Errorf("%s %s cannot be tried", method, path)
			}
		}
	}
	for name := range d.Components.Schemas {
		if ids["schema-"+name] != 1 {
			t.Errorf("the schema %s is not on the page", name)
		}
	}
	for _, bad := range []string{"src=", "http://", "<link", "@import"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %s", bad)
		}
	}
}

func TestDocsEscapeAndRefuse(t *testing.T) {
	written, err := json.Marshal(hostile)
	require.NoError(t, err)
	h := string(written)
	page, err := docs([]byte(`{"openapi":"3.1.1","info":{"title":` + h + `,"version":` + h + `,"description":` + h + `},"tags":[{"name":` + h + `}],
		"paths":{"/x":{"post":{"operationId":` + h + `,"summary":` + h + `,"tags":[` + h + `],"parameters":[{"name":` + h + `,"in":"query","description":` + h + `,"schema":{"type":["string","null"],"enum":[` + h + `]}}],
		"requestBody":{"content":{"application/json":{"schema":{"$ref":"#/components/schemas/A"},"examples":{"a":{"summary":` + h + `,"value":{"a":` + h + `}}}}}},"responses":{"200":{"description":` + h + `,"content":{"text/html":{"schema":{"type":"string"}}}}}}}},
		"components":{"schemas":{"A":{"type":"object","description":` + h + `,"properties":{"b":{"type":"array","description":` + h + `,"items":{"$ref":"#/components/schemas/A"}},"c":{"anyOf":[{"$ref":"#/components/schemas/A"},{"type":"null"}]}}}}}}`))
	require.NoError(t, err)
	if n := strings.Count(strings.ToLower(string(page)), "<script"); n != 1 || strings.Contains(string(page), "<img src") {
		t.Errorf("%d scripts on the page", n)
	}
	if !strings.Contains(string(page), `list of <a href="#schema-A">A</a>`) || !strings.Contains(string(page), `<a href="#schema-A">A</a> or null`) {
		t.Errorf("types of members:\n%s", page)
	}
	for _, bad := range []string{`{`, `{"paths":{"/x":{"get":{"operationId":"x"}}}}`} {
		if _, err := docs([]byte(bad)); err == nil {
			t.Errorf("%s: taken", bad)
		}
	}
}
