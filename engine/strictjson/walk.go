package strictjson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// step is one reference token of a pointer, spelled only when a misfit needs
// it: a member's name, or an index where name is nil.
type step struct {
	name  []byte
	index int
}

// walker goes once over a text that is known to be valid JSON.
type walker struct {
	data    []byte
	at      int
	path    [MaxDepth]step
	depth   int
	misfits []Misfit
	tooDeep bool
}

// stopped reports whether nothing more is to be found out.
func (w *walker) stopped() bool { return w.tooDeep || len(w.misfits) >= MaxMisfits }

func (w *walker) run(root *node) {
	w.space()
	w.value(root, false)
}

func (w *walker) space() {
	for w.at < len(w.data) {
		switch w.data[w.at] {
		case ' ', '\t', '\r', '\n':
			w.at++
		default:
			return
		}
	}
}

// value passes over one value. A nil node takes anything and looks at nothing.
func (w *walker) value(n *node, null bool) {
	switch w.data[w.at] {
	case '{':
		if n != nil && n.kind != object && n.kind != mapping && n.kind != anything {
			w.wrongType(n, "an object")
			n = nil
		}
		w.object(n)
	case '[':
		if n != nil && n.kind != list && n.kind != anything {
			w.wrongType(n, "a list")
			n = nil
		}
		w.list(n)
	case '"':
		if n != nil && n.kind != text && n.kind != anything {
			w.wrongType(n, "a string")
		}
		w.text()
	case 't', 'f':
		if n != nil && n.kind != boolean && n.kind != anything {
			w.wrongType(n, "true or false")
		}
		w.word()
	case 'n':
		if n != nil && !null && n.kind != anything {
			w.wrongType(n, "null")
		}
		w.word()
	default:
		w.number(n)
	}
}

// down enters an object or a list, up leaves it.
func (w *walker) down() bool {
	if w.depth == MaxDepth {
		w.tooDeep = true
		w.misfit(CodeSyntax, fmt.Sprintf("nested more than %d deep", MaxDepth))
		return false
	}
	w.path[w.depth] = step{}
	w.depth++
	w.at++
	w.space()
	return true
}

func (w *walker) up() {
	w.depth--
	w.at++
}

func (w *walker) object(n *node) {
	if !w.down() {
		return
	}
	const few = 64
	var given [few]bool
	seen := given[:]
	if n != nil && len(n.fields) > few {
		seen = make([]bool, len(n.fields))
	}
	var names nameSet
	here := &w.path[w.depth-1]
	for w.data[w.at] != '}' {
		name := w.name()
		here.name = name
		w.at++ // colon
		w.space()
		var of *node
		null := true
		switch {
		case n == nil:
		case n.kind == object:
			i, known := n.members[string(name)]
			switch {
			case !known:
				w.note(n.unknown(string(name)))
			case seen[i]:
				w.repeated(name)
			default:
				seen[i] = true
				of = n.fields[i]
			}
		default:
			if !names.add(name) {
				w.repeated(name)
			} else if n.kind == mapping {
				of, null = n.element, n.null
			} else {
				of = n
			}
		}
		w.value(of, null)
		if w.stopped() {
			return
		}
		w.next()
	}
	w.up()
}

func (w *walker) list(n *node) {
	if !w.down() {
		return
	}
	var of *node
	null := true
	if n != nil {
		of = n
		if n.kind == list {
			of, null = n.element, n.null
		}
	}
	here := &w.path[w.depth-1]
	for w.data[w.at] != ']' {
		w.value(of, null)
		if w.stopped() {
			return
		}
		here.index++
		w.next()
	}
	w.up()
}

// next passes over what stands between two elements.
func (w *walker) next() {
	w.space()
	if w.data[w.at] == ',' {
		w.at++
		w.space()
	}
}

// text passes over a string and returns it with its quotes.
func (w *walker) text() []byte {
	start := w.at
	w.at++
	for {
		switch w.data[w.at] {
		case '\\':
			w.at += 2
		case '"':
			w.at++
			return w.data[start:w.at]
		default:
			w.at++
		}
	}
}

// name passes over a member's name and what stands before its colon, and
// returns the name with its escapes resolved.
func (w *walker) name() []byte {
	quoted := w.text()
	w.space()
	if bytes.IndexByte(quoted, '\\') < 0 {
		return quoted[1 : len(quoted)-1]
	}
	var plain string
	if json.Unmarshal(quoted, &plain) != nil {
		return quoted
	}
	return []byte(plain)
}

func (w *walker) word() {
	for w.at < len(w.data) && w.data[w.at] >= 'a' && w.data[w.at] <= 'z' {
		w.at++
	}
}

func (w *walker) number(n *node) {
	start := w.at
	plain := true
scan:
	for w.at < len(w.data) {
		switch c := w.data[w.at]; {
		case c >= '0' && c <= '9' || c == '-':
		case c == '.' || c == 'e' || c == 'E' || c == '+':
			plain = plain && c == '.'
		default:
			break scan
		}
		w.at++
	}
	if n == nil {
		return
	}
	token := w.data[start:w.at]
	switch {
	case n.kind == anything:
		w.float(token, plain, 64) // what encoding/json makes of it
	case n.kind != number:
		w.wrongType(n, "a number")
	case n.integer:
		w.integer(n, token)
	default:
		w.float(token, plain, n.bits)
	}
}

func (w *walker) float(token []byte, plain bool, bits int) {
	const certain = 30 // digits that any float has room for
	if plain && len(token) < certain {
		return
	}
	if _, err := strconv.ParseFloat(string(token), bits); err != nil {
		w.misfit(CodeOutOfRange, "the number is too large")
	}
}

func (w *walker) integer(n *node, token []byte) {
	var err error
	if n.signed {
		_, err = strconv.ParseInt(string(token), 10, n.bits)
	} else {
		_, err = strconv.ParseUint(string(token), 10, n.bits)
	}
	switch {
	case errors.Is(err, strconv.ErrRange):
		w.misfit(CodeOutOfRange, "the number is too large")
	case err != nil:
		w.wrongType(n, "the number "+shorten(string(token)))
	}
}

func (w *walker) wrongType(n *node, got string) {
	w.misfit(CodeWrongType, "expected "+n.expected()+", got "+got)
}

func (w *walker) repeated(name []byte) {
	w.misfit(CodeRepeatedMember, fmt.Sprintf("%q is given more than once", shorten(string(name))))
}

func (w *walker) misfit(code, detail string) { w.note(Misfit{Code: code, Detail: detail}) }

// note places a misfit where the walker is.
func (w *walker) note(f Misfit) {
	var pointer strings.Builder
	for _, s := range w.path[:w.depth] {
		pointer.WriteByte('/')
		if s.name != nil {
			pointer.WriteString(escape.Replace(string(s.name)))
		} else {
			pointer.WriteString(strconv.Itoa(s.index))
		}
	}
	f.Pointer = pointer.String()
	w.misfits = append(w.misfits, f)
}

var escape = strings.NewReplacer("~", "~0", "/", "~1")

// shorten keeps a message readable whatever name was sent.
func shorten(s string) string {
	const most = 40
	runes := []rune(s)
	if len(runes) <= most {
		return s
	}
	return string(runes[:most]) + "…"
}

// unknown names the nearest member that the object does have.
func (n *node) unknown(name string) Misfit {
	f := Misfit{Code: CodeUnknownMember, Suggestion: Nearest(name, n.names)}
	f.Detail = fmt.Sprintf("%q is not known here, did you mean %q?", shorten(name), f.Suggestion)
	if f.Suggestion == "" {
		f.Detail = fmt.Sprintf("%q is not known here, expected %s", shorten(name), n.expected())
	}
	return f
}

// nameSet finds repeats: a short list first, a map once that would take long.
type nameSet struct {
	few  [][]byte
	many map[string]struct{}
}

// add notes a name and reports whether it is new.
func (s *nameSet) add(name []byte) bool {
	const short = 24
	if s.many != nil {
		if _, ok := s.many[string(name)]; ok {
			return false
		}
		s.many[string(name)] = struct{}{}
		return true
	}
	for _, known := range s.few {
		if bytes.Equal(known, name) {
			return false
		}
	}
	s.few = append(s.few, name)
	if len(s.few) > short {
		s.many = make(map[string]struct{}, 4*short)
		for _, known := range s.few {
			s.many[string(known)] = struct{}{}
		}
	}
	return true
}
