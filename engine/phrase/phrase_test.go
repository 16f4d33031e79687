package phrase

import (
	"errors"
	"math"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func off(u float64) *float64 { return &u }

// One rule for every place that words a probability.
func TestChance(t *testing.T) {
	for p, want := range map[float64]string{
		0: "under 1 %", 0.007: "under 1 %", 0.00999: "under 1 %", 0.01: "1 %", 0.374: "37 %",
		0.99: "99 %", 0.9901: "more than 99 %", 1: "more than 99 %", math.NaN(): "under 1 %",
	} {
		if got := Chance(p); got != want {
			t.Errorf("Chance(%g) = %q, want %q", p, got, want)
		}
	}
}

func TestQuantitiesAsOneSaysThem(t *testing.T) {
	for _, tt := range []struct {
		q                    Quantity
		said, figure, within string
	}{
		{Quantity{12.107, "delta_degF", off(1.43)}, "12 °F", "12.1 ± 1.4 °F", "12.1 °F, give or take 1.4 °F (95 %)"},
		{Quantity{12.107, "delta_degF", off(3.4)}, "12 °F", "12 ± 3 °F", "12 °F, give or take 3 °F (95 %)"},
		{Quantity{12.107, "delta_degF", nil}, "12.1 °F", "12.1 °F", "12.1 °F"},
		{Quantity{40, "degF", nil}, "40 °F", "40 °F", "40 °F"},
		{Quantity{-40.03, "degC", nil}, "−40 °C", "−40 °C", "−40 °C"},
		{Quantity{-0.04, "degC", off(0.2)}, "0.0 °C", "−0.04 ± 0.20 °C", "−0.04 °C, give or take 0.20 °C (95 %)"},
		{Quantity{403.1712, "psig", off(5.6)}, "403 psig", "403 ± 6 psig", "403 psig, give or take 6 psig (95 %)"},
		{Quantity{1237, "cfm", off(62)}, "1240 cfm", "1240 ± 60 cfm", "1240 cfm, give or take 60 cfm (95 %)"},
		{Quantity{101.325, "kPaa", nil}, "101.3 kPa absolute", "101.3 kPa absolute", "101.3 kPa absolute"},
		{Quantity{0, "percent", off(0)}, "0 %", "0 %", "0 %"},
		{Quantity{14.6959488, "psia", off(1e-9)}, "14.696 psia", "14.6959488000 ± 0.0000000010 psia", "14.6959488000 psia, give or take 0.0000000010 psia (95 %)"},
		{Quantity{0.3, "fraction", nil}, "0.3", "0.3", "0.3"},
		{Quantity{2, "delta_psi", nil}, "2 psi", "2 psi", "2 psi"},
	} {
		said, figure, in := Said(tt.q), Figure(tt.q), within(tt.q)
		require.Equal(t, tt.said, said)
		require.Equal(t, tt.figure, figure)
		require.Equal(t, tt.within, in)
	}
}

// Masses as scales show them, times in words.
func TestMassesAndTimes(t *testing.T) {
	for _, tt := range []struct {
		q           Quantity
		said, about string
	}{
		{Quantity{1.91550506, "lb", nil}, "1 lb 15 oz", "1 lb 15 oz"},
		{Quantity{1.91550506, "lb", off(0.1)}, "1 lb 15 oz", "1 lb 15 oz"},
		{Quantity{23.6, "lb", off(2)}, "24 lb", "24 lb"},
		{Quantity{23.97, "lb", off(0.2)}, "24 lb", "24 lb"},
		{Quantity{957.62, "lb", nil}, "957.6 lb", "960 lb"},
		{Quantity{0.5, "lb", nil}, "8 oz", "8 oz"},
		{Quantity{0.02, "lb", nil}, "0.3 oz", "0.3 oz"},
		{Quantity{-1.25, "lb", nil}, "−1 lb 4 oz", "−1 lb 4 oz"},
		{Quantity{0, "lb", nil}, "0 lb", "0 lb"},
		{Quantity{0.86886, "kg", off(0.02)}, "870 g", "870 g"},
		{Quantity{0.86886, "kg", nil}, "868.9 g", "870 g"},
		{Quantity{12.34, "kg", off(0.2)}, "12.3 kg", "12 kg"},
		{Quantity{15, "min", nil}, "15 minutes", "15 minutes"},
		{Quantity{1, "min", nil}, "1 minute", "1 minute"},
		{Quantity{1.5, "h", nil}, "1.5 hours", "1.5 hours"},
	} {
		if said, about := Said(tt.q), About(tt.q); said != tt.said || about != tt.about {
			t.Errorf("%+v is said %q, about %q; want %q, %q", tt.q, said, about, tt.said, tt.about)
		}
	}
}

func TestForms(t *testing.T) {
	half := map[string]any{"value": 12.107, "unit": "delta_degF", "uncertainty": 1.43}
	for _, tt := range []struct {
		text   string
		params Params
		want   string
	}{
		{"Nothing to fill.", nil, "Nothing to fill."},
		{"{refrigerant} it is.", Params{"refrigerant": "R-410A"}, "R-410A it is."},
		{"{q:name} is {x}, the {q:name}.", Params{"q": "suction_pressure", "x": Quantity{118.4, "psig", off(3)}}, "Suction pressure is 118 psig, the suction pressure."},
		{"{x:within}", Params{"x": half}, "12.1 °F, give or take 1.4 °F (95 %)"},
		{"{x:both}", Params{"x": Quantity{95, "degF", nil}}, "95 °F (35 °C)"},
		{"{x:both}", Params{"x": Quantity{5, "delta_K", off(0.5)}}, "5.0 K (9.0 °F)"},
		{"From {all:name:or}", Params{"all": []string{"return_dry_bulb", "return_wet_bulb", "supply_dry_bulb"}}, "From return dry bulb, return wet bulb or supply dry bulb"},
		{"{all:and}", Params{"all": []any{"a", "b"}}, "A and b"},
		{"{all}", Params{"all": []string{"a", "b"}}, "A, b"},
		{"{all:and}", Params{"all": []string{"a"}}, "A"},
		{"It is {p:chance}, {p:percent}, {f:times}, {n}", Params{"p": 0.007, "f": 12.34, "n": 3}, "It is under 1 %, 1 %, 12, 3"},
		{"{f:times}, {g:times}", Params{"f": 1e9, "g": 1.26}, "More than 1000, 1.3"},
		{"{code:text}", Params{"code": "fault_indicated"}, "These readings point to a fault."},
		{"{x} or {x:figure}", Params{"x": half}, "12 °F or 12.1 °F"},
		{"{m:about}", Params{"m": Quantity{1.9155, "percent", nil}}, "1.9 %"},
	} {
		parsed, err := parse(tt.text)
		require.NoError(t, err, "%q", tt.text)
		if got, err := parsed.fill(tt.params); got != tt.want || err != nil {
			t.Errorf("%q with %v is %q, %v; want %q", tt.text, tt.params, got, err, tt.want)
		}
	}
}

func TestWrongValuesAndSlots(t *testing.T) {
	for _, tt := range []struct {
		text   string
		params Params
		want   error
	}{
		{"{a}", nil, ErrSlots},
		{"{a}", Params{"a": 1, "b": 2}, ErrSlots},
		{"a", Params{"b": 2}, ErrSlots},
		{"{a}", Params{"a": math.NaN()}, ErrValue},
		{"{a}", Params{"a": Quantity{Value: math.Inf(1), Unit: "psig"}}, ErrValue},
		{"{a}", Params{"a": true}, ErrValue},
		{"{a}", Params{"a": nil}, ErrValue},
		{"{a}", Params{"a": []string{}}, ErrValue},
		{"{a}", Params{"a": map[string]any{"value": "12", "unit": "psig"}}, ErrValue},
		{"{a:chance}", Params{"a": "often"}, ErrValue},
		{"{a:within}", Params{"a": 0.5}, ErrValue},
		{"{a:times}", Params{"a": Quantity{Value: 1, Unit: "psig"}}, ErrValue},
		{"{a:both}", Params{"a": Quantity{Value: 1, Unit: "min"}}, ErrValue},
		{"{a:name}", Params{"a": "no_such_code"}, ErrUnknownCode},
		{"{a:name}", Params{"a": "sea_level"}, ErrUnknownCode}, // a sentence, and no name beside it
		{"{a:text}", Params{"a": "no_such_code"}, ErrUnknownCode},
	} {
		parsed, err := parse(tt.text)
		require.NoError(t, err, "%q", tt.text)
		if got, err := parsed.fill(tt.params); !errors.Is(err, tt.want) || got != "" {
			t.Errorf("%q with %v is %q, %v; want %v", tt.text, tt.params, got, err, tt.want)
		}
	}
	if _, err := Fill("no_such_code", nil); !errors.Is(err, ErrUnknownCode) {
		t.Errorf("an unknown code gives %v", err)
	}
	for _, text := range []string{"{", "}", "{}", "{a", "a}", "{a b}", "{a:loud}", "{a:}", "{:name}", "{A}", "{a:name:}", "{{a}}"} {
		if _, err := parse(text); err == nil {
			t.Errorf("%q was taken for a template", text)
		}
	}
}

// A template with slots is no text of its own, and prose shows no unit of the
// wire.
func TestEntries(t *testing.T) {
	wire := regexp.MustCompile(`\b(delta_)?deg[FC]\b|\bdelta_|_`)
	all := Entries()
	if len(all) < 400 {
		t.Fatalf("only %d texts", len(all))
	}
	for _, e := range all {
		parsed, err := parse(e.Text)
		require.NoError(t, err, "%s", e.Code)
		if !slices.Equal(parsed.slots(), e.Slots) {
			t.Errorf("%s: slots %v", e.Code, e.Slots)
		}
		for _, p := range parsed {
			if wire.MatchString(p.words) {
				t.Errorf("%s shows a spelling of the wire: %q", e.Code, p.words)
			}
		}
		if len(e.Slots) == 0 {
			text, err := Fill(e.Code, nil)
			require.NoError(t, err, "%s", e.Code)
			require.Equal(t, e.Text, text, "%s", e.Code)
		}
		if !Known(e.Code) {
			t.Errorf("%s is not known", e.Code)
		}
	}
}
