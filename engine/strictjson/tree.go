package strictjson

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
)

type kind uint8

const (
	anything kind = iota
	object
	mapping
	list
	number
	text
	boolean
)

// node is what one place of the text may hold.
type node struct {
	kind    kind
	members map[string]int // object: name to index in fields
	names   []string       // object: in order of the struct
	fields  []*node        // object
	element *node          // mapping, list
	null    bool           // list and mapping elements: whether null can be told from an empty value
	integer bool           // number
	bits    int            // number
	signed  bool           // number
}

var (
	jsonUnmarshaler = reflect.TypeFor[json.Unmarshaler]()
	textUnmarshaler = reflect.TypeFor[encoding.TextUnmarshaler]()
)

// build makes the tree of t; done holds the nodes of types already met, for
// types that contain themselves.
func build(t reflect.Type, done map[reflect.Type]*node) *node {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if n, ok := done[t]; ok {
		return n
	}
	n := new(node)
	done[t] = n
	if reflect.PointerTo(t).Implements(jsonUnmarshaler) {
		return n
	}
	if reflect.PointerTo(t).Implements(textUnmarshaler) {
		n.kind = text
		return n
	}
	switch t.Kind() {
	case reflect.Interface:
	case reflect.Struct:
		n.kind = object
		n.members = map[string]int{}
		for _, m := range members(t) {
			n.members[m.name] = len(n.fields)
			n.names = append(n.names, m.name)
			n.fields = append(n.fields, build(m.of, done))
		}
	case reflect.Map:
		if t.Key().Kind() != reflect.String {
			panic(fmt.Sprintf("strictjson: %s: the keys of a map must be strings", t))
		}
		n.kind = mapping
		n.element, n.null = build(t.Elem(), done), nilable(t.Elem())
	case reflect.Slice:
		n.kind = list
		if t.Elem().Kind() == reflect.Uint8 {
			n.kind = text // base64, as encoding/json has it
			break
		}
		n.element = build(t.Elem(), done)
		n.null = t.Elem().Kind() == reflect.Interface
	case reflect.String:
		n.kind = text
	case reflect.Bool:
		n.kind = boolean
	case reflect.Float32, reflect.Float64:
		n.kind, n.bits = number, t.Bits()
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		n.kind, n.bits, n.integer, n.signed = number, t.Bits(), true, true
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		n.kind, n.bits, n.integer = number, t.Bits(), true
	default:
		panic(fmt.Sprintf("strictjson: %s cannot be read strictly", t))
	}
	return n
}

func nilable(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Pointer, reflect.Interface, reflect.Map, reflect.Slice:
		return true
	}
	return false
}

type member struct {
	name  string
	of    reflect.Type
	depth int
}

// members lists what encoding/json would fill in t, embedded structs
// included. Two embedded structs with a member of the same name are a mistake
// of the type's author.
func members(t reflect.Type) []member {
	var all []member
	at := map[string]int{}
	for _, m := range reach(t, 0) {
		i, taken := at[m.name]
		switch {
		case !taken:
			at[m.name] = len(all)
			all = append(all, m)
		case m.depth == all[i].depth:
			panic(fmt.Sprintf("strictjson: %s has two members %q", t, m.name))
		case m.depth < all[i].depth:
			all[i] = m
		}
	}
	return all
}

func reach(t reflect.Type, depth int) []member {
	var all []member
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Tag.Get("json") == "-" {
			continue
		}
		if f.Anonymous && name == "" {
			inner := f.Type
			if inner.Kind() == reflect.Pointer {
				inner = inner.Elem()
			}
			if inner.Kind() == reflect.Struct {
				all = append(all, reach(inner, depth+1)...)
				continue
			}
		}
		if !f.IsExported() {
			continue
		}
		for option := range strings.SplitSeq(options, ",") {
			if option == "string" {
				panic(fmt.Sprintf("strictjson: %s.%s: the option \"string\" is not taken", t, f.Name))
			}
		}
		if name == "" {
			name = f.Name
		}
		all = append(all, member{name, f.Type, depth})
	}
	return all
}

// expected says in words what the place takes.
func (n *node) expected() string {
	switch n.kind {
	case object:
		const shown = 6
		switch {
		case len(n.names) == 0:
			return "an object without members"
		case len(n.names) > shown:
			return "an object of " + strings.Join(n.names[:shown], ", ") + ", …"
		}
		return "an object of " + strings.Join(n.names, ", ")
	case mapping:
		return "an object"
	case list:
		return "a list"
	case number:
		if n.integer {
			return "a whole number"
		}
		return "a number"
	case text:
		return "a string"
	case boolean:
		return "true or false"
	}
	return "a JSON value"
}
