package phrase

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// template is a text cut at its slots.
type template []part

// part is words, or a slot with its forms.
type part struct {
	words string
	slot  string
	forms []string
}

// The forms in which a slot can ask for its value. Without one a string stands
// as it is, a number and a quantity are said, and a list is joined by commas.
const (
	formName    = "name"    // a code: what it is called inside a sentence
	formText    = "text"    // a code: its own text, which has no slots
	formChance  = "chance"  // a probability: in percent, never 0 or 100
	formPercent = "percent" // a fraction: in percent
	formTimes   = "times"   // a factor
	formAbout   = "about"   // a quantity of which two digits mean something
	formFigure  = "figure"  // a quantity with the digits to go on counting with
	formWithin  = "within"  // a quantity with its interval
	formBoth    = "both"    // a quantity, and in the other system of units
	formOr      = "or"      // a list of which one holds
	formAnd     = "and"     // a list of which all hold
)

var forms = []string{formName, formText, formChance, formPercent, formTimes, formAbout, formFigure, formWithin, formBoth, formOr, formAnd}

var slotName = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

// parse cuts a text at its slots.
func parse(text string) (template, error) {
	var t template
	for text != "" {
		at := strings.IndexAny(text, "{}")
		if at < 0 {
			return append(t, part{words: text}), nil
		}
		if text[at] == '}' {
			return nil, errors.New("a brace closes what none opened")
		}
		if at > 0 {
			t = append(t, part{words: text[:at]})
		}
		inside, rest, closed := strings.Cut(text[at+1:], "}")
		if !closed {
			return nil, errors.New("a brace is not closed")
		}
		name, tail, formed := strings.Cut(inside, ":")
		p := part{slot: name}
		if formed {
			p.forms = strings.Split(tail, ":")
		}
		if !slotName.MatchString(name) {
			return nil, fmt.Errorf("a slot cannot be called %q", name)
		}
		for _, f := range p.forms {
			if !slices.Contains(forms, f) {
				return nil, fmt.Errorf("there is no form %q", f)
			}
		}
		t, text = append(t, p), rest
	}
	return t, nil
}

// slots are the names in the order in which they first stand.
func (t template) slots() []string {
	var names []string
	for _, p := range t {
		if p.slot != "" && !slices.Contains(names, p.slot) {
			names = append(names, p.slot)
		}
	}
	return names
}

// fill words the template; slots are its own.
func (t template) fill(params Params, slots []string) (string, error) {
	if err := exactly(params, slots); err != nil {
		return "", err
	}
	var b strings.Builder
	b.Grow(256)
	for i, p := range t {
		if p.slot == "" {
			b.WriteString(p.words)
			continue
		}
		text, err := p.word(params[p.slot])
		if err != nil {
			return "", fmt.Errorf("%w: {%s}", err, p.slot)
		}
		if i == 0 {
			text = Capital(text)
		}
		b.WriteString(text)
	}
	return b.String(), nil
}

// Capital is a text with a capital at its beginning.
func Capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// word words a value in the forms of its slot.
func (p part) word(value any) (string, error) {
	list, many := elements(value)
	if !many {
		return p.one(value)
	}
	if len(list) == 0 {
		return "", fmt.Errorf("%w: the list is empty", ErrValue)
	}
	said := make([]string, len(list))
	for i, v := range list {
		text, err := p.one(v)
		if err != nil {
			return "", err
		}
		said[i] = text
	}
	n := len(said) - 1
	join := func(code Code) (string, error) {
		rest := strings.Join(said[:n], ", ")
		return strings.NewReplacer("{rest}", rest, "{last}", said[n]).Replace(wording(code)), nil
	}
	switch {
	case n > 0 && slices.Contains(p.forms, formOr):
		return join(listOr)
	case n > 0 && slices.Contains(p.forms, formAnd):
		return join(listAnd)
	}
	return strings.Join(said, ", "), nil
}

// elements are those of a list.
func elements(value any) ([]any, bool) {
	switch list := value.(type) {
	case []any:
		return list, true
	case []string:
		return anys(list), true
	case []float64:
		return anys(list), true
	case []Quantity:
		return anys(list), true
	}
	return nil, false
}

func anys[T any](list []T) []any {
	all := make([]any, len(list))
	for i, v := range list {
		all[i] = v
	}
	return all
}

// one words a single value.
func (p part) one(value any) (string, error) {
	var form string
	for _, f := range p.forms {
		if f != formOr && f != formAnd {
			form = f
		}
	}
	switch v := value.(type) {
	case string:
		return word(v, form)
	case int:
		return number(float64(v), form)
	case float64:
		return number(v, form)
	case Quantity:
		return quantity(v, form)
	case map[string]any:
		q, ok := decoded(v)
		if !ok {
			return "", fmt.Errorf("%w: %v is no quantity", ErrValue, v)
		}
		return quantity(q, form)
	}
	return "", fmt.Errorf("%w: a %T", ErrValue, value)
}

func word(s, form string) (string, error) {
	switch form {
	case "":
		return s, nil
	case formName:
		return Name(Code(s))
	case formText:
		return Fill(Code(s), nil)
	}
	return "", fmt.Errorf("%w: %q as %s", ErrValue, s, form)
}

func number(v float64, form string) (string, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "", fmt.Errorf("%w: %v", ErrValue, v)
	}
	switch form {
	case "":
		return Number(v), nil
	case formChance:
		return Chance(v), nil
	case formPercent:
		return Decimal(100*v, 0) + " %", nil
	case formTimes:
		return times(v), nil
	}
	return "", fmt.Errorf("%w: %v as %s", ErrValue, v, form)
}

func quantity(q Quantity, form string) (string, error) {
	if math.IsNaN(q.Value) || math.IsInf(q.Value, 0) {
		return "", fmt.Errorf("%w: %v %s", ErrValue, q.Value, q.Unit)
	}
	switch form {
	case "":
		return Said(q), nil
	case formAbout:
		return About(q), nil
	case formFigure:
		return Bare(q) + unitAfter(q), nil
	case formWithin:
		return within(q), nil
	case formBoth:
		other, ok := counterpart(q)
		if !ok {
			return "", fmt.Errorf("%w: %s has no counterpart", ErrValue, q.Unit)
		}
		return Said(q) + " (" + Said(other) + ")", nil
	}
	return "", fmt.Errorf("%w: %v as %s", ErrValue, q, form)
}

// decoded is a quantity as a JSON decoder gives it.
func decoded(m map[string]any) (Quantity, bool) {
	value, ok := m["value"].(float64)
	name, named := m["unit"].(string)
	q := Quantity{Value: value, Unit: name}
	if u, given := m["uncertainty"].(float64); given {
		q.Uncertainty = &u
	}
	return q, ok && named
}
