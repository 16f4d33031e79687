package page

import (
	"math"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// unitWords are units as one prints them; others stand as they are.
var unitWords = map[string]string{
	"degF": "°F", "degC": "°C", "delta_degF": "°F", "delta_degC": "°C", "delta_K": "K",
	"kPag": "kPa gauge", "kPaa": "kPa abs.", "barg": "bar gauge", "bara": "bar abs.", "MPag": "MPa gauge", "MPaa": "MPa abs.", "Paa": "Pa abs.", "hPaa": "hPa abs.",
	"percent": "%", "fraction": "", "ft3": "ft³", "in3": "in³", "lb/ft3": "lb/ft³", "kg/m3": "kg/m³", "m3/h": "m³/h",
	"Btu/(lb.degF)": "Btu/(lb °F)", "kJ/(kg.K)": "kJ/(kg K)",
}

func unitWord(unit string) string {
	if w, ok := unitWords[unit]; ok {
		return w
	}
	return unit
}

// places is the decimal place to which an uncertainty gives a value meaning:
// that of its leading digit, or one more where that is a 1 or 2.
func places(uncertainty float64) int {
	exponent := math.Floor(math.Log10(uncertainty))
	leading := math.Round(10*uncertainty/math.Pow(10, exponent)) / 10
	if leading < 3 {
		return int(1 - exponent)
	}
	return int(-exponent) // 9.96 becomes 10 and keeps its place, as 1.0 does
}

// decimal writes a value to a decimal place, which may lie before the point.
func decimal(value float64, place int) string {
	if place < 0 {
		step := math.Pow(10, float64(-place))
		value, place = math.Round(value/step)*step, 0
	}
	text := strconv.FormatFloat(value, 'f', place, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

// significantPlace is the decimal place of a value's n-th significant digit.
func significantPlace(value float64, n int) int {
	if value == 0 {
		return 0
	}
	return n - 1 - int(math.Floor(math.Log10(math.Abs(value))))
}

// place is to where a measure is printed: what its uncertainty allows, a tenth
// of a degree, or four digits.
func place(m query.Measure) int {
	switch {
	case m.Uncertainty != nil && *m.Uncertainty > 0:
		return places(*m.Uncertainty)
	case strings.Contains(m.Unit, "deg") || strings.HasSuffix(m.Unit, "K"):
		return 1
	}
	return max(0, significantPlace(m.Value, 4))
}

// number is a measure's value as it is printed, without its unit.
func number(m query.Measure) string {
	text := decimal(m.Value, place(m))
	if m.Uncertainty == nil && strings.Contains(text, ".") {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".") // its digits mean nothing
	}
	return text
}

// figure is a measure as it is printed: rounded to its uncertainty, which
// stands beside it, with the unit.
func figure(m query.Measure) string {
	text := number(m)
	if m.Uncertainty != nil && *m.Uncertainty > 0 {
		text += " ± " + decimal(*m.Uncertainty, place(m))
	}
	if u := unitWord(m.Unit); u != "" {
		text += "\u00a0" + u
	}
	return text
}

// asked is a quantity as somebody gave it.
func asked(q query.Quantity) string {
	if q.Value == nil {
		return ""
	}
	text := strconv.FormatFloat(*q.Value, 'f', -1, 64)
	if u := unitWord(q.Unit); u != "" {
		text += "\u00a0" + u
	}
	return strings.Replace(text, "-", "−", 1)
}

// moment is a date or a time by RFC 3339 as one reads it.
func moment(t string) string {
	if len(t) > 10 && (t[10] == 'T' || t[10] == 't') {
		t = t[:10] + " " + t[11:]
	}
	if rest, ok := strings.CutSuffix(t, "Z"); ok {
		return rest + " UTC"
	}
	return t
}

// percent words a probability without claiming certainty.
func percent(p float64) string {
	switch {
	case !(p >= 0.01):
		return "under 1 %"
	case p > 0.99:
		return "over 99 %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + "\u00a0%"
}

// words turns a code into words.
func words(code string) string { return strings.ReplaceAll(code, "_", " ") }

// sentence is words with a capital.
func sentence(code string) string {
	w := words(code)
	if w == "" {
		return ""
	}
	return strings.ToUpper(w[:1]) + w[1:]
}

// left says whether a cap or a seal is on.
func left(on *bool) string {
	switch {
	case on == nil:
		return "not recorded"
	case *on:
		return "on"
	}
	return "missing"
}

// set reports whether a flag was given and holds.
func set(flag *bool) bool { return flag != nil && *flag }

// identifier makes an HTML id of a name: what is not plain becomes a hyphen.
func identifier(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' {
			return r
		}
		return '-'
	}, name)
}
