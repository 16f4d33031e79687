// Package phrase turns codes of the wire into sentences: it fills the named
// slots of a text with values, worded and rounded as one says them. It must not
// know what any code means, nor which operation says it.
package phrase

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/refdata"
)

// Code is a stable name on the wire that has a text.
type Code string

// Params are the values of a text's slots, by the names of the slots. A value is
// a number (float64 or int), a string, a [Quantity], or a list of these; a
// string may be a code where the slot says so. What a JSON decoder makes of
// such values, map[string]any for a quantity included, is taken too, so that
// whoever has read an answer can fill the texts of another language.
type Params map[string]any

// Quantity is a value with its unit as GET /v1/units spells it. Uncertainty is
// the half-width of its 95 % interval in the same unit as a difference; it
// decides how many digits are said.
type Quantity struct {
	Value       float64  `json:"value"`
	Unit        string   `json:"unit"`
	Uncertainty *float64 `json:"uncertainty,omitempty"`
}

// Entry is one code with its template.
type Entry struct {
	Kind string
	Code Code
	// Name is what the code is called inside another sentence; may be empty.
	Name string
	// Text is the template; Slots are the names in it, in the order in which
	// they first stand there.
	Text  string
	Slots []string
}

// Errors of filling a text.
var (
	// ErrUnknownCode reports a code that has no text.
	ErrUnknownCode = errors.New("phrase: no text for this code")
	// ErrSlots reports values that are not exactly those that a text asks for.
	ErrSlots = errors.New("phrase: values and slots do not agree")
	// ErrValue reports a value that cannot be worded in the form asked for.
	ErrValue = errors.New("phrase: a value cannot be worded")
)

// Entries lists every code, those of one kind side by side.
func Entries() []Entry {
	all := make([]Entry, 0, len(lexicon().order))
	for _, code := range lexicon().order {
		e := lexicon().of[code].Entry
		e.Slots = slices.Clone(e.Slots)
		all = append(all, e)
	}
	return all
}

// Known reports whether a code has a text.
func Known(code Code) bool { _, ok := lexicon().of[code]; return ok }

// Fill is the text of a code with its slots filled. params are exactly the
// values that the text asks for, nil where it asks for none. The errors are
// ErrUnknownCode, ErrSlots and ErrValue.
func Fill(code Code, params Params) (string, error) {
	e, ok := lexicon().of[code]
	if !ok {
		return "", fmt.Errorf("%w: %q", ErrUnknownCode, code)
	}
	if len(e.Slots) == 0 && len(params) == 0 {
		return e.Text, nil
	}
	text, err := e.template.fill(params, e.Slots)
	if err != nil {
		return "", fmt.Errorf("%w (code %s)", err, code)
	}
	return text, nil
}

// Say is Fill for a program's own codes and values: it panics where those do
// not agree with the text, which is a fault of the program and not of any input.
func Say(code Code, params Params) string {
	text, err := Fill(code, params)
	if err != nil {
		panic(err)
	}
	return text
}

// Name is what a code is called inside a sentence, such as "suction pressure":
// its name, or its text where that is no sentence. ErrUnknownCode where there is
// neither.
func Name(code Code) (string, error) {
	e, ok := lexicon().of[code]
	switch {
	case ok && e.Name != "":
		return e.Name, nil
	case ok && len(e.Slots) == 0 && !strings.HasSuffix(e.Text, ".") && !strings.HasSuffix(e.Text, ":"):
		return e.Text, nil
	}
	return "", fmt.Errorf("%w, or no name: %q", ErrUnknownCode, code)
}

type entry struct {
	Entry
	template template
}

type lexiconData struct {
	order []Code
	of    map[Code]entry
}

// lexicon is the embedded English; a fault in it is one of the build.
var lexicon = sync.OnceValue(func() lexiconData {
	l := lexiconData{of: map[Code]entry{}}
	for _, t := range refdata.Texts() {
		code := Code(t.Code)
		if _, twice := l.of[code]; twice {
			panic("phrase: the code " + t.Code + " has two texts")
		}
		parsed, err := parse(t.Text)
		if err != nil {
			panic(fmt.Sprintf("phrase: the text of %s: %v", t.Code, err))
		}
		l.order = append(l.order, code)
		l.of[code] = entry{Entry{Kind: t.Kind, Code: code, Name: t.Name, Text: t.Text, Slots: parsed.slots()}, parsed}
	}
	return l
})

// exactly reports where the values given are not those asked for.
func exactly(params Params, slots []string) error {
	for _, name := range slots {
		if _, ok := params[name]; !ok {
			return fmt.Errorf("%w: no value for {%s}", ErrSlots, name)
		}
	}
	if len(params) == len(slots) {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(params)) {
		if !slices.Contains(slots, name) {
			return fmt.Errorf("%w: there is no slot {%s}", ErrSlots, name)
		}
	}
	return nil
}
