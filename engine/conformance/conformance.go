// Package conformance judges answers by the pairs of testdata/conformance, and
// answers of one processor by those of another. It is for tests of bindings
// and must not know who answers.
package conformance

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Pair is a request and what its answer must say.
type Pair struct {
	// Name is unique.
	Name   string `json:"name"`
	Method string `json:"method"`
	// Path with its query string.
	Path string `json:"path"`
	// Question is the JSON body, absent for GET.
	Question json.RawMessage `json:"question,omitempty"`
	Status   int             `json:"status"`
	Expect   []Expected      `json:"expect"`
}

// Expected is what stands at one place of an answer: a text, or a number.
type Expected struct {
	// Pointer is a JSON Pointer (RFC 6901) without escapes.
	Pointer string   `json:"pointer"`
	Text    *string  `json:"text,omitempty"`
	Number  *float64 `json:"number,omitempty"`
	// Within is how far the number may be off, absolute.
	Within float64 `json:"within,omitempty"`
	// Source is where the number comes from.
	Source string `json:"source,omitempty"`
}

// Read reads a file of pairs.
func Read(data []byte) ([]Pair, error) {
	var all []Pair
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&all); err != nil {
		return nil, fmt.Errorf("conformance: %w", err)
	}
	return all, nil
}

// Judge gives the places where an answer is not what the pair wants, none where
// the pair holds, and the largest share of what a number may be off that one of
// them is.
func (p Pair) Judge(status int, answer []byte) (faults []string, share float64) {
	var doc any
	if err := json.Unmarshal(answer, &doc); err != nil {
		return []string{err.Error()}, 0
	}
	if status != p.Status || len(p.Expect) == 0 {
		faults = append(faults, fmt.Sprintf("status %d, want %d; %d expectations", status, p.Status, len(p.Expect)))
	}
	for _, e := range p.Expect {
		got, ok := At(doc, e.Pointer)
		switch {
		case !ok:
			faults = append(faults, e.Pointer+" is not there")
		case e.Text != nil && got != *e.Text:
			faults = append(faults, fmt.Sprintf("%s is %v, want %s", e.Pointer, got, *e.Text))
		case e.Number != nil:
			v, ok := got.(float64)
			off := math.Abs(v - *e.Number)
			if !ok || !(off <= e.Within) {
				faults = append(faults, fmt.Sprintf("%s is %v, want %v within %v (%s)", e.Pointer, got, *e.Number, e.Within, e.Source))
			} else if off > 0 {
				share = max(share, off/e.Within)
			}
		}
	}
	return faults, share
}

// At follows a JSON Pointer (RFC 6901) without escapes into what json.Unmarshal
// makes of a text.
func At(doc any, pointer string) (any, bool) {
	for part := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		switch v := doc.(type) {
		case map[string]any:
			inner, ok := v[part]
			if !ok {
				return nil, false
			}
			doc = inner
		case []any:
			i, err := strconv.Atoi(part)
			if err != nil || i < 0 || i >= len(v) {
				return nil, false
			}
			doc = v[i]
		default:
			return nil, false
		}
	}
	return doc, true
}

// Agreement is how two processors' answers to the same questions agree.
type Agreement struct {
	// Numbers and Texts are how many were compared.
	Numbers, Texts int
	// Worst is the largest relative difference of two numbers, and At where.
	Worst float64
	At    string
	// Faults are differences beyond what is stated: of a number more than one
	// in the last digit written, of anything else any.
	Faults []string
}

// Compare adds an answer and the one it is compared with; of names the question.
func (a *Agreement) Compare(of string, answer, with []byte) error {
	read := func(data []byte) (doc any, err error) {
		d := json.NewDecoder(bytes.NewReader(data))
		d.UseNumber()
		err = d.Decode(&doc)
		return doc, err
	}
	got, err := read(answer)
	if err != nil {
		return fmt.Errorf("conformance: %s: %w", of, err)
	}
	want, err := read(with)
	if err != nil {
		return fmt.Errorf("conformance: %s: %w", of, err)
	}
	a.compare(of, got, want)
	return nil
}

func (a *Agreement) compare(at string, got, want any) {
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok || len(g) != len(w) {
			a.fault(at, got, want)
			return
		}
		for name, inner := range w {
			if _, ok := g[name]; !ok {
				a.fault(at+"/"+name, nil, inner)
				continue
			}
			a.compare(at+"/"+name, g[name], inner)
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(w) {
			a.fault(at, got, want)
			return
		}
		for i := range w {
			a.compare(at+"/"+strconv.Itoa(i), g[i], w[i])
		}
	case json.Number:
		a.Numbers++
		g, ok := got.(json.Number)
		if !ok {
			a.fault(at, got, want)
			return
		}
		if g == w {
			return
		}
		x, errX := g.Float64()
		y, errY := w.Float64()
		off := math.Abs(x - y)
		if relative := off / math.Abs(y); !(relative <= a.Worst) {
			a.Worst, a.At = relative, at
		}
		// The half covers what is lost in subtracting.
		if errX != nil || errY != nil || !(off <= 1.5*min(lastDigit(string(g)), lastDigit(string(w)))) {
			a.fault(at, got, want)
		}
	default:
		a.Texts++
		if got != want {
			a.fault(at, got, want)
		}
	}
}

func (a *Agreement) fault(at string, got, want any) {
	a.Faults = append(a.Faults, fmt.Sprintf("%s is %.200s, elsewhere %.200s", at, fmt.Sprint(got), fmt.Sprint(want)))
}

// lastDigit is what one in the last digit of a written number is worth. A
// whole number counts something: nothing in it may differ.
func lastDigit(number string) float64 {
	mantissa, exponent, _ := strings.Cut(strings.ToLower(number), "e")
	_, decimals, _ := strings.Cut(mantissa, ".")
	power, _ := strconv.Atoi(exponent)
	if power -= len(decimals); power >= 0 {
		return 0
	}
	return math.Pow10(power)
}
