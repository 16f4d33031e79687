package phrase

import (
	"math"
	"regexp"
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
		require.Equal(t, want, Chance(p), "%g", p)
	}
}

func TestQuantities(t *testing.T) {
	type worded struct{ said, figure, within string }
	for _, tt := range []struct {
		q    Quantity
		want worded
	}{
		{Quantity{12.107, "delta_degF", off(1.43)}, worded{"12 °F", "12.1 ± 1.4 °F", "12.1 °F, give or take 1.4 °F (95 %)"}},
		{Quantity{12.107, "delta_degF", off(3.4)}, worded{"12 °F", "12 ± 3 °F", "12 °F, give or take 3 °F (95 %)"}},
		{Quantity{12.107, "delta_degF", nil}, worded{"12.1 °F", "12.1 °F", "12.1 °F"}},
		{Quantity{40, "degF", nil}, worded{"40 °F", "40 °F", "40 °F"}},
		{Quantity{-40.03, "degC", nil}, worded{"−40 °C", "−40 °C", "−40 °C"}},
		{Quantity{-0.04, "degC", off(0.2)}, worded{"0.0 °C", "−0.04 ± 0.20 °C", "−0.04 °C, give or take 0.20 °C (95 %)"}},
		{Quantity{403.1712, "psig", off(5.6)}, worded{"403 psig", "403 ± 6 psig", "403 psig, give or take 6 psig (95 %)"}},
		{Quantity{1237, "cfm", off(62)}, worded{"1240 cfm", "1240 ± 60 cfm", "1240 cfm, give or take 60 cfm (95 %)"}},
		{Quantity{101.325, "kPaa", nil}, worded{"101.3 kPa absolute", "101.3 kPa absolute", "101.3 kPa absolute"}},
		{Quantity{0, "percent", off(0)}, worded{"0 %", "0 %", "0 %"}},
		{Quantity{14.6959488, "psia", off(1e-6)}, worded{"14.696 psia", "14.6959488 ± 0.0000010 psia", "14.6959488 psia, give or take 0.0000010 psia (95 %)"}},
		{Quantity{0.3, "fraction", nil}, worded{"0.3", "0.3", "0.3"}},
		{Quantity{2, "delta_psi", nil}, worded{"2 psi", "2 psi", "2 psi"}},
	} {
		require.Equal(t, tt.want, worded{Said(tt.q), Figure(tt.q), within(tt.q)}, "%+v", tt.q)
	}
}

// Masses as scales show them, times in words.
func TestMassesAndTimes(t *testing.T) {
	type worded struct{ said, about string }
	for _, tt := range []struct {
		q    Quantity
		want worded
	}{
		{Quantity{1.91550506, "lb", nil}, worded{"1 lb 15 oz", "1 lb 15 oz"}},
		{Quantity{1.91550506, "lb", off(0.1)}, worded{"1 lb 15 oz", "1 lb 15 oz"}},
		{Quantity{23.6, "lb", off(2)}, worded{"24 lb", "24 lb"}},
		{Quantity{23.97, "lb", off(0.2)}, worded{"24 lb", "24 lb"}},
		{Quantity{957.62, "lb", nil}, worded{"957.6 lb", "960 lb"}},
		{Quantity{0.5, "lb", nil}, worded{"8 oz", "8 oz"}},
		{Quantity{0.02, "lb", nil}, worded{"0.3 oz", "0.3 oz"}},
		{Quantity{-1.25, "lb", nil}, worded{"−1 lb 4 oz", "−1 lb 4 oz"}},
		{Quantity{0, "lb", nil}, worded{"0 lb", "0 lb"}},
		{Quantity{0.86886, "kg", off(0.02)}, worded{"870 g", "870 g"}},
		{Quantity{0.86886, "kg", nil}, worded{"868.9 g", "870 g"}},
		{Quantity{12.34, "kg", off(0.2)}, worded{"12.3 kg", "12 kg"}},
		{Quantity{15, "min", nil}, worded{"15 minutes", "15 minutes"}},
		{Quantity{1, "min", nil}, worded{"1 minute", "1 minute"}},
		{Quantity{1.5, "h", nil}, worded{"1.5 hours", "1.5 hours"}},
	} {
		require.Equal(t, tt.want, worded{Said(tt.q), About(tt.q)}, "%+v", tt.q)
	}
}

func TestForms(t *testing.T) {
	decoded := map[string]any{"value": 12.107, "unit": "delta_degF", "uncertainty": 1.43}
	for _, tt := range []struct {
		name, text string
		params     Params
		want       string
	}{
		{"nothing", "Nothing to fill.", nil, "Nothing to fill."},
		{"word", "It is {refrigerant}.", Params{"refrigerant": "R-410A"}, "It is R-410A."},
		{"name", "{q:name} is {x}, the {q:name}.", Params{"q": "suction_pressure", "x": Quantity{118.4, "psig", off(3)}}, "Suction pressure is 118 psig, the suction pressure."},
		{"text", "{code:text}", Params{"code": "fault_indicated"}, "These readings point to a fault."},
		{"within", "{x:within}", Params{"x": decoded}, "12.1 °F, give or take 1.4 °F (95 %)"},
		{"figure", "{x} or {x:figure}", Params{"x": decoded}, "12 °F or 12.1 °F"},
		{"about", "{x:about}", Params{"x": Quantity{1.9155, "percent", nil}}, "1.9 %"},
		{"both", "{x:both}", Params{"x": Quantity{95, "degF", nil}}, "95 °F (35 °C)"},
		{"both, SI first", "{x:both}", Params{"x": Quantity{5, "delta_K", off(0.5)}}, "5.0 K (9.0 °F)"},
		{"list", "{all}", Params{"all": []string{"a", "b"}}, "A, b"},
		{"and", "{all:and}", Params{"all": []any{"a", "b"}}, "A and b"},
		{"and, alone", "{all:and}", Params{"all": []string{"a"}}, "A"},
		{"or, names", "From {all:name:or}", Params{"all": []string{"return_dry_bulb", "return_wet_bulb", "supply_dry_bulb"}}, "From return dry bulb, return wet bulb or supply dry bulb"},
		{"numbers", "It is {p:chance}, {p:percent}, {f:times}, {n}", Params{"p": 0.007, "f": 12.34, "n": 3}, "It is under 1 %, 1 %, 12, 3"},
		{"factors", "{f:times}, {g:times}", Params{"f": 1e9, "g": 1.26}, "More than 1000, 1.3"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			parsed, err := parse(tt.text)
			require.NoError(t, err)
			got, err := parsed.fill(tt.params, parsed.slots())
			require.NoError(t, err)
			require.Equal(t, tt.want, got)
		})
	}
}

func TestWrongValuesAndSlots(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		params     Params
		want       error
	}{
		{"no value", "{a}", nil, ErrSlots},
		{"no slot", "a", Params{"b": 2}, ErrSlots},
		{"one slot too few", "{a}", Params{"a": 1, "b": 2}, ErrSlots},
		{"not a number", "{a}", Params{"a": math.NaN()}, ErrValue},
		{"infinite", "{a}", Params{"a": Quantity{Value: math.Inf(1), Unit: "psig"}}, ErrValue},
		{"of no type", "{a}", Params{"a": true}, ErrValue},
		{"nil", "{a}", Params{"a": nil}, ErrValue},
		{"empty list", "{a}", Params{"a": []string{}}, ErrValue},
		{"no quantity", "{a}", Params{"a": map[string]any{"value": "12", "unit": "psig"}}, ErrValue},
		{"word as chance", "{a:chance}", Params{"a": "often"}, ErrValue},
		{"number with interval", "{a:within}", Params{"a": 0.5}, ErrValue},
		{"quantity as factor", "{a:times}", Params{"a": Quantity{Value: 1, Unit: "psig"}}, ErrValue},
		{"no counterpart", "{a:both}", Params{"a": Quantity{Value: 1, Unit: "min"}}, ErrValue},
		{"unknown name", "{a:name}", Params{"a": "no_such_code"}, ErrUnknownCode},
		{"a sentence without a name", "{a:name}", Params{"a": "sea_level"}, ErrUnknownCode},
		{"unknown text", "{a:text}", Params{"a": "no_such_code"}, ErrUnknownCode},
	} {
		t.Run(tt.name, func(t *testing.T) {
			parsed, err := parse(tt.text)
			require.NoError(t, err)
			got, err := parsed.fill(tt.params, parsed.slots())
			require.ErrorIs(t, err, tt.want)
			require.Empty(t, got)
		})
	}
	_, err := Fill("no_such_code", nil)
	require.ErrorIs(t, err, ErrUnknownCode)
	for _, text := range []string{"{", "}", "{}", "{a", "a}", "{a b}", "{a:loud}", "{a:}", "{:name}", "{A}", "{a:name:}", "{{a}}"} {
		_, err := parse(text)
		require.Error(t, err, text)
	}
}

// Every embedded text is a template whose slots are listed, and its words show
// no spelling of the wire.
func TestEntries(t *testing.T) {
	wire := regexp.MustCompile(`\b(delta_)?deg[FC]\b|\bdelta_|_`)
	all := Entries()
	require.Greater(t, len(all), 400)
	for _, e := range all {
		require.True(t, Known(e.Code), "%s", e.Code)
		parsed, err := parse(e.Text)
		require.NoError(t, err, "%s", e.Code)
		require.Equal(t, e.Slots, parsed.slots(), "%s", e.Code)
		for _, p := range parsed {
			require.NotRegexp(t, wire, p.words, "%s", e.Code)
		}
		if len(e.Slots) == 0 {
			require.Equal(t, e.Text, Say(e.Code, nil))
		}
	}
}
