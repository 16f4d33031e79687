package page

import (
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// unbroken is a quantity as the engine words it, kept on one line with its unit.
func unbroken(text, name string) string {
	u := phrase.Unit(name)
	if value, ok := strings.CutSuffix(text, " "+u); ok && u != "" {
		return value + "\u00a0" + u
	}
	return text
}

// figure is a measure as it is printed: rounded to its uncertainty, which
// stands beside it, with the unit.
func figure(m query.Measure) string {
	return unbroken(phrase.Figure(phrase.Quantity(m)), m.Unit)
}

// number is a measure's value as it is printed, without its unit.
func number(m query.Measure) string { return phrase.Bare(phrase.Quantity(m)) }

// asked is a quantity as somebody gave it.
func asked(q query.Quantity) string {
	if q.Value == nil {
		return ""
	}
	text := strconv.FormatFloat(*q.Value, 'f', -1, 64)
	if u := phrase.Unit(q.Unit); u != "" {
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
func percent(p float64) string { return unbroken(phrase.Chance(p), "percent") }

// words is what a code is called; what has no name stands as it is.
func words[C ~string](code C) string {
	if name, err := phrase.Name(phrase.Code(code)); err == nil {
		return name
	}
	return string(code)
}

// sentence is words with a capital.
func sentence[C ~string](code C) string { return phrase.Capital(words(code)) }

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
