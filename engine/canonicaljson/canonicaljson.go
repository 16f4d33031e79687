// Package canonicaljson writes JSON in the one form that RFC 8785 (JSON
// Canonicalization Scheme) defines, so that a hash over a document does not
// depend on who wrote it. It must not know what the document says.
package canonicaljson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// ErrJSON reports input that is not one JSON value of finite numbers and valid
// text.
var ErrJSON = errors.New("canonicaljson: not canonicalizable")

// Marshal encodes a value as encoding/json does and canonicalizes it.
func Marshal(v any) ([]byte, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJSON, err)
	}
	return Transform(data)
}

// Transform canonicalizes a JSON text: members sorted by the UTF-16 units of
// their names, numbers and strings as ECMAScript writes them, no white space.
func Transform(data []byte) ([]byte, error) {
	if !utf8.Valid(data) {
		return nil, fmt.Errorf("%w: not UTF-8", ErrJSON)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJSON, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%w: more than one value", ErrJSON)
	}
	return appendValue(nil, v)
}

func appendValue(b []byte, v any) ([]byte, error) {
	var err error
	switch v := v.(type) {
	case nil:
		return append(b, "null"...), nil
	case bool:
		return strconv.AppendBool(b, v), nil
	case string:
		return appendString(b, v), nil
	case json.Number:
		f, err := strconv.ParseFloat(string(v), 64)
		if err != nil || math.IsInf(f, 0) {
			return nil, fmt.Errorf("%w: number %s", ErrJSON, v)
		}
		return appendNumber(b, f), nil
	case []any:
		b = append(b, '[')
		for i, e := range v {
			if i > 0 {
				b = append(b, ',')
			}
			if b, err = appendValue(b, e); err != nil {
				return nil, err
			}
		}
		return append(b, ']'), nil
	case map[string]any:
		names := make([]string, 0, len(v))
		for name := range v {
			names = append(names, name)
		}
		slices.SortFunc(names, func(a, b string) int {
			return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
		})
		b = append(b, '{')
		for i, name := range names {
			if i > 0 {
				b = append(b, ',')
			}
			b = append(appendString(b, name), ':')
			if b, err = appendValue(b, v[name]); err != nil {
				return nil, err
			}
		}
		return append(b, '}'), nil
	}
	return nil, fmt.Errorf("%w: %T", ErrJSON, v)
}

// appendString escapes only what RFC 8785 section 3.2.2.2 does.
func appendString(b []byte, s string) []byte {
	b = append(b, '"')
	for _, c := range s {
		switch c {
		case '"', '\\':
			b = append(b, '\\', byte(c))
		case '\b':
			b = append(b, `\b`...)
		case '\t':
			b = append(b, `\t`...)
		case '\n':
			b = append(b, `\n`...)
		case '\f':
			b = append(b, `\f`...)
		case '\r':
			b = append(b, `\r`...)
		default:
			if c < 0x20 {
				b = fmt.Appendf(b, `\u%04x`, c)
			} else {
				b = utf8.AppendRune(b, c)
			}
		}
	}
	return append(b, '"')
}

// appendNumber writes a number as ECMAScript's Number::toString does
// (ECMA-262, RFC 8785 section 3.2.2.3).
func appendNumber(b []byte, f float64) []byte {
	if f == 0 {
		return append(b, '0') // minus zero as well
	}
	if a := math.Abs(f); a >= 1e-6 && a < 1e21 {
		return strconv.AppendFloat(b, f, 'f', -1, 64)
	}
	start := len(b)
	b = strconv.AppendFloat(b, f, 'e', -1, 64)
	// Go pads the exponent to two digits, ECMAScript does not.
	if e := bytes.IndexByte(b[start:], 'e') + start; b[e+2] == '0' {
		b = append(b[:e+2], b[e+3:]...)
	}
	return b
}
