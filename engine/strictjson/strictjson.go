// Package strictjson reads JSON into Go values and lists everything that does
// not fit, each with its RFC 6901 pointer: unknown, repeated and wrongly typed
// members, numbers that no float64 holds, bad UTF-8. It must not know what any
// member means.
package strictjson

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"
)

// Codes of misfits.
const (
	CodeSyntax         = "syntax"
	CodeUnknownMember  = "unknown_member"
	CodeRepeatedMember = "repeated_member"
	CodeWrongType      = "wrong_type"
	CodeOutOfRange     = "out_of_range"
)

const (
	// MaxDepth is how many objects and arrays may stand inside one another.
	MaxDepth = 64
	// MaxMisfits is how many misfits are listed before reading stops.
	MaxMisfits = 100
)

// Misfit is one thing that does not fit.
type Misfit struct {
	// Pointer is the RFC 6901 pointer of the value that does not fit, empty for the whole text.
	Pointer string
	// Code is one of the Code constants.
	Code string
	// Detail is English.
	Detail string
	// Suggestion is the known name nearest to an unknown one, empty where none
	// is near.
	Suggestion string
}

// Misfits is the error of Decode: everything that does not fit in the order of the
// text, at most MaxMisfits of it. A misfit of syntax stands alone.
type Misfits struct {
	List []Misfit
}

func (f *Misfits) Error() string {
	var b strings.Builder
	b.WriteString("strictjson: the text does not fit")
	for _, misfit := range f.List {
		fmt.Fprintf(&b, "; %s: %s", misfit.Pointer, misfit.Detail)
	}
	return b.String()
}

// Decoder reads texts into values of type T. It is safe for concurrent use.
type Decoder[T any] struct {
	root *node
}

// For makes the decoder of T. It panics for a type that cannot be read
// strictly: one that holds channels, functions, complex numbers, arrays of
// fixed length, maps whose keys are not strings, or members with the "string"
// option.
func For[T any]() *Decoder[T] {
	return &Decoder[T]{root: build(reflect.TypeFor[T](), map[reflect.Type]*node{})}
}

// Decode reads one JSON text. Member names match exactly, upper and lower
// case included. A member that is null counts as not given; null as an element
// of a list, as a value in a map that could not tell it from an empty one, or
// as the whole text is of the wrong type.
//
// The error is a *Misfits or nil. Unless it is a misfit of syntax the value
// beside it holds whatever did fit, so that a caller can go on to judge the
// rest of the question in the same answer.
func (d *Decoder[T]) Decode(data []byte) (T, error) {
	var into T
	if misfit, ok := d.syntax(data); !ok {
		return into, &Misfits{List: []Misfit{misfit}}
	}
	w := walker{data: data}
	w.run(d.root)
	if w.tooDeep {
		return into, &Misfits{List: w.misfits[len(w.misfits)-1:]}
	}
	err := json.Unmarshal(data, &into)
	if err != nil && len(w.misfits) == 0 { // a type's own UnmarshalJSON or UnmarshalText refused
		w.misfits = []Misfit{{Code: CodeWrongType, Detail: err.Error()}}
	}
	if len(w.misfits) > 0 {
		return into, &Misfits{List: w.misfits}
	}
	return into, nil
}

// syntax judges whether data is one JSON text at all.
func (d *Decoder[T]) syntax(data []byte) (Misfit, bool) {
	if json.Valid(data) && utf8.Valid(data) {
		return Misfit{}, true
	}
	misfit := Misfit{Code: CodeSyntax}
	if len(strings.Trim(string(data), " \t\r\n")) == 0 {
		misfit.Detail = "the text is empty, expected " + d.root.expected()
		return misfit, false
	}
	for i, rest := 0, data; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		if r == utf8.RuneError && size == 1 {
			misfit.Detail = fmt.Sprintf("%s: the byte 0x%02x is not UTF-8", position(data, i), rest[0])
			return misfit, false
		}
		i, rest = i+size, rest[size:]
	}
	if strings.HasPrefix(string(data), "\ufeff") {
		misfit.Detail = "the text begins with a byte order mark, which JSON does not allow"
		return misfit, false
	}
	var whole json.RawMessage
	err := json.Unmarshal(data, &whole)
	misfit.Detail = err.Error()
	var at *json.SyntaxError
	if errors.As(err, &at) {
		misfit.Detail = fmt.Sprintf("%s: %s", position(data, int(at.Offset)-1), err)
		if after := data[max(0, int(at.Offset)-1):]; len(after) > 0 && (after[0] == 'N' || after[0] == 'I' || after[0] == '+' || after[0] == '.') {
			misfit.Detail += " (numbers are plain decimal: 0.5, -40, 1e3)"
		}
	}
	return misfit, false
}

// position spells a byte offset as line and column, counted from 1 in
// characters.
func position(data []byte, offset int) string {
	before := string(data[:min(max(offset, 0), len(data))])
	line := strings.Count(before, "\n")
	column := utf8.RuneCountInString(before[strings.LastIndexByte(before, '\n')+1:])
	return fmt.Sprintf("line %d, column %d", line+1, column+1)
}
