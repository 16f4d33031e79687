package phrase

import (
	"math"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/unit"
)

// unitWords are units as one writes them in a sentence; others stand as they are.
var unitWords = map[string]string{
	"degF": "°F", "degC": "°C", "delta_degF": "°F", "delta_degC": "°C", "delta_K": "K",
	"delta_psi": "psi", "delta_kPa": "kPa",
	"kPag": "kPa gauge", "kPaa": "kPa absolute", "barg": "bar gauge", "bara": "bar absolute", "MPag": "MPa gauge", "MPaa": "MPa absolute", "Paa": "Pa absolute", "hPaa": "hPa absolute",
	"percent": "%", "fraction": "", "ft2": "ft²", "m2": "m²", "ft3": "ft³", "in3": "in³", "lb/ft3": "lb/ft³", "kg/m3": "kg/m³", "m3/h": "m³/h",
	"ft3/lb": "ft³/lb", "m3/kg": "m³/kg", "Btu/(lb.degF)": "Btu/(lb °F)", "kJ/(kg.K)": "kJ/(kg K)", "micron.L/s": "micron L/s",
}

// The words that the forms of slots put around values.
const (
	chanceUnder Code = "chance_under"
	chanceOver  Code = "chance_over"
	factorOver  Code = "factor_over"
	valueWithin Code = "value_within"
	listOr      Code = "list_or"
	listAnd     Code = "list_and"
)

// wording is the text of one of them as it stands.
func wording(code Code) string { return lexicon().of[code].Text }

// Unit is a unit as one writes it in a sentence.
func Unit(name string) string {
	if w, ok := unitWords[name]; ok {
		return w
	}
	return name
}

// Number is a number as one says it: whole, or to four digits.
func Number(v float64) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e15 {
		return Decimal(v, 0)
	}
	return trimmed(Decimal(v, max(0, significantPlace(v, 4))))
}

// Chance is a probability as one says it; none is ever nought or certain.
func Chance(p float64) string {
	switch {
	case !(p >= 0.01):
		return wording(chanceUnder)
	case p > 0.99:
		return wording(chanceOver)
	}
	return Decimal(100*p, 0) + " %"
}

// times is a factor as one says it.
func times(x float64) string {
	switch {
	case x > 1000:
		return wording(factorOver)
	case x >= 10:
		return Decimal(x, 0)
	}
	return Decimal(x, 1)
}

// Said is a quantity as one says it: down to the leading digit of its
// uncertainty and to five digits at most; without an uncertainty to a tenth of
// a degree, or to four digits.
func Said(q Quantity) string {
	if !uncertain(q) {
		return spoken(q, place(q), trimmed)
	}
	leading := int(-math.Floor(math.Log10(*q.Uncertainty)))
	if q.Value != 0 {
		leading = min(leading, significantPlace(q.Value, 5))
	}
	return spoken(q, leading, asItIs)
}

// About is a quantity of which two digits mean something.
func About(q Quantity) string { return spoken(q, significantPlace(q.Value, 2), trimmed) }

func asItIs(text string) string { return text }

// spoken is a quantity to a decimal place with its unit in words. Pounds come
// with ounces, as scales show them, and less than a kilogram in grams.
func spoken(q Quantity, place int, tidy func(string) string) string {
	switch {
	case q.Unit == "lb" && place > 0 && math.Abs(q.Value) < withOunces:
		return pounds(q.Value)
	case q.Unit == "kg" && math.Abs(q.Value) < 1 && q.Value != 0:
		q.Value, q.Unit, place = 1000*q.Value, "g", place-3
	}
	text := tidy(Decimal(q.Value, place))
	if one, many := timeWords[q.Unit][0], timeWords[q.Unit][1]; text == "1" && one != "" {
		return text + " " + one
	} else if many != "" {
		return text + " " + many
	}
	return text + unitAfter(q)
}

// withOunces is from how many pounds on ounces mean nothing any more.
const withOunces = 100

var timeWords = map[string][2]string{"s": {"second", "seconds"}, "min": {"minute", "minutes"}, "h": {"hour", "hours"}}

// pounds is a mass in pounds and whole ounces; less than an ounce in tenths.
func pounds(lb float64) string {
	if math.Abs(lb) < 1./16 {
		return Decimal(16*lb, 1) + " oz"
	}
	ounces := math.Round(16 * math.Abs(lb))
	whole, rest := math.Floor(ounces/16), math.Mod(ounces, 16)
	text := Decimal(whole, 0) + " lb"
	switch {
	case whole == 0:
		text = Decimal(rest, 0) + " oz"
	case rest > 0:
		text += " " + Decimal(rest, 0) + " oz"
	}
	if lb < 0 {
		return "−" + text
	}
	return text
}

// Figure is a quantity as one prints it in a table: rounded to its uncertainty,
// which stands beside it.
func Figure(q Quantity) string {
	text := Bare(q)
	if uncertain(q) {
		text += " ± " + Decimal(*q.Uncertainty, place(q))
	}
	return text + unitAfter(q)
}

// Bare is the value of a Figure alone.
func Bare(q Quantity) string {
	text := Decimal(q.Value, place(q))
	if !uncertain(q) {
		text = trimmed(text) // its last digits mean nothing
	}
	return text
}

// within is a quantity with its interval in words.
func within(q Quantity) string {
	if !uncertain(q) {
		return Said(q)
	}
	after := unitAfter(q)
	return strings.NewReplacer("{value}", Decimal(q.Value, place(q))+after, "{uncertainty}", Decimal(*q.Uncertainty, place(q))+after).Replace(wording(valueWithin))
}

func uncertain(q Quantity) bool { return q.Uncertainty != nil && *q.Uncertainty > 0 }

// unitAfter is the unit with the blank before it.
func unitAfter(q Quantity) string {
	if u := Unit(q.Unit); u != "" {
		return " " + u
	}
	return ""
}

// place is to where a quantity is printed: what its uncertainty allows, a tenth
// of a degree, or four digits.
func place(q Quantity) int {
	u, _ := unit.Lookup(q.Unit)
	switch {
	case uncertain(q):
		return uncertaintyPlace(*q.Uncertainty)
	case u.Kind == unit.KindTemperature, u.Kind == unit.KindTemperatureDiff:
		return 1
	}
	return max(0, significantPlace(q.Value, 4))
}

// uncertaintyPlace is the decimal place to which an uncertainty gives a value
// meaning: that of its leading digit, or one more where that is a 1 or 2.
func uncertaintyPlace(uncertainty float64) int {
	exponent := math.Floor(math.Log10(uncertainty))
	leading := math.Round(10*uncertainty/math.Pow(10, exponent)) / 10
	if leading < 3 {
		return int(1 - exponent)
	}
	return int(-exponent) // 9.96 becomes 10 and keeps its place, as 1.0 does
}

// significantPlace is the decimal place of a value's n-th significant digit.
func significantPlace(value float64, n int) int {
	if value == 0 {
		return 0
	}
	return n - 1 - int(math.Floor(math.Log10(math.Abs(value))))
}

// Decimal writes a value to a decimal place, which may lie before the point.
func Decimal(value float64, place int) string {
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

// trimmed is a number without the noughts at its end.
func trimmed(text string) string {
	if !strings.Contains(text, ".") {
		return text
	}
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

// counterparts are the units that say the same in the other system.
var counterparts = func() map[string]string {
	all := map[string]string{}
	for _, pair := range [][2]string{
		{"degF", "degC"}, {"delta_degF", "delta_K"}, {"psig", "kPag"}, {"psia", "kPaa"}, {"delta_psi", "delta_kPa"},
		{"ft", "m"}, {"in", "mm"}, {"lb", "kg"}, {"oz", "g"}, {"ft3", "L"}, {"in3", "mL"}, {"ft2", "m2"}, {"cfm", "m3/h"},
		{"lb/ft3", "kg/m3"}, {"Btu/lb", "kJ/kg"}, {"gr/lb", "g/kg"}, {"oz/ft", "g/m"}, {"oz/yr", "g/yr"}, {"ton", "kW"},
	} {
		all[pair[0]], all[pair[1]] = pair[1], pair[0]
	}
	return all
}()

// counterpart is a quantity in the other system of units.
func counterpart(q Quantity) (Quantity, bool) {
	from, _ := unit.Lookup(q.Unit)
	to, ok := unit.Lookup(counterparts[q.Unit])
	if !ok {
		return Quantity{}, false
	}
	other := Quantity{Value: to.FromSI(from.ToSI(q.Value)), Unit: to.Name}
	if q.Uncertainty != nil {
		u := to.SpanFromSI(from.SpanToSI(*q.Uncertainty))
		other.Uncertainty = &u
	}
	return other, true
}
