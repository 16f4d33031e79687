package intake

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Origin is where in a question an input of a calculation stands: JSON pointers,
// %d for the index, of which the first counts that was given. Without any it is
// none of the question's: that it is wrong is a fault of this program.
type Origin []string

// Origins are those of everything that a calculation is told.
type Origins[Name interface {
	comparable
	fmt.Stringer
}] map[Name]Origin

// Of is where what a calculation refuses stands.
func (o Origins[Name]) Of(bad *input.Error[Name]) Origin { return o[bad.Input] }

// in is the first place that was given in a question, or else the first of all,
// with what was typed there if that is a quantity.
func (o Origin) in(question any, index int) (pointer string, typed *Quantity) {
	for _, p := range o {
		p = strings.ReplaceAll(p, "%d", strconv.Itoa(index))
		if pointer == "" {
			pointer = p
		}
		if question == nil {
			continue
		}
		if v, _ := MemberAt(question, p); v.IsValid() && !v.IsZero() {
			typed, _ = v.Interface().(*Quantity)
			return p, typed
		}
	}
	return pointer, nil
}

// Asked is a question as [Reject] needs it.
type Asked struct {
	Question any // nil where what was typed is not at hand
	// At and ReadingsAt are where it and its readings stand.
	At, ReadingsAt Place
	// Air is what its gauges count from.
	Air unit.Pressure
	// Unit is that of answers, for limits of what was not typed.
	Unit func(unit.Kind) unit.Unit
	// Reasons are code and reason for the reasons of the calculation.
	Reasons func(input.Reason) (code, why phrase.Code)
	// Unsolved notes at a place what the equations have no answer for.
	Unsolved func(r *Refusal, at Place, err error)
}

// Reject notes what a calculation refuses where it came from: what is out of
// range with its limits in the unit that was typed. It gives the refusal, or err
// as it is where nothing of the question is at fault.
func Reject[Name fmt.Stringer](err error, r *Refusal, q Asked, from func(*input.Error[Name]) Origin) error {
	before := len(r.Errors)
	for _, bad := range input.Each[*input.Error[Name]](err) {
		pointer, typed := from(bad).in(q.Question, bad.Index)
		if pointer == "" {
			return err
		}
		at := q.place(pointer)
		switch bad.Reason {
		case input.OutOfRange:
			r.Outside(at, q.limit(bad.Limits, typed))
		case input.Unsolved:
			q.Unsolved(r, at, bad.Err)
		default:
			code, why := q.Reasons(bad.Reason)
			r.Refuse(at, code, why, nil)
		}
		// What two inputs have in common is said once.
		if last := r.Errors[len(r.Errors)-1]; slices.ContainsFunc(r.Errors[before:len(r.Errors)-1], last.Same) {
			r.Errors = r.Errors[:len(r.Errors)-1]
		}
	}
	if refusal := r.Err(); refusal != nil {
		return refusal
	}
	return err
}

// place is that of a member of the question: what is about the whole visit stands
// where it always does.
func (q Asked) place(pointer string) Place {
	first, rest, _ := strings.Cut(pointer[1:], "/")
	switch first {
	case "readings":
		return At(q.ReadingsAt.pointer + "/" + rest)
	case "system", "site", "gwp_set":
		return At(pointer)
	}
	return At(q.At.pointer + pointer)
}

// limit is a range in the unit of what was typed, or else of answers. Gauges
// count from the air.
func (q Asked) limit(l input.Limits, typed *Quantity) Limit {
	u, ok := unit.Unit{}, false
	if typed != nil {
		u, ok = unit.Lookup(typed.Unit)
	}
	if !ok {
		u = q.Unit(l.Kind)
	}
	shift := 0.0
	switch {
	case u.Kind == unit.KindGaugePressure && l.Kind == unit.KindPressure:
		shift = -q.Air.Pascal()
	case u.Kind == unit.KindPressure && l.Kind == unit.KindGaugePressure:
		shift = q.Air.Pascal()
	}
	return LimitIn(u, l.Min+shift, l.Max+shift, l.Above)
}

// MemberAt is what stands at a JSON pointer in a question, no value where
// something on the way was not given; exists tells whether a question has such
// a member at all.
func MemberAt(question any, pointer string) (at reflect.Value, exists bool) {
	v := reflect.ValueOf(question)
	t, exists := v.Type(), true
	for name := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
			if v.IsValid() {
				v = v.Elem() // no value where the pointer is nil
			}
		}
		if t, v, exists = stepInto(t, v, name); !exists {
			return reflect.Value{}, false
		}
	}
	return v, true
}

// stepInto is one step of MemberAt: into a list, a map or a struct.
func stepInto(t reflect.Type, v reflect.Value, name string) (reflect.Type, reflect.Value, bool) {
	given := v.IsValid()
	switch t.Kind() {
	case reflect.Slice:
		i, err := strconv.Atoi(name)
		if given = given && i >= 0 && i < v.Len(); given {
			v = v.Index(i)
		}
		t, v = t.Elem(), only(given, v)
		return t, v, err == nil
	case reflect.Map:
		if given {
			v = v.MapIndex(reflect.ValueOf(name))
		}
		return t.Elem(), v, true
	}
	f, exists := memberNamed(t, name)
	if exists && given {
		v = v.FieldByIndex(f.Index)
	}
	return f.Type, v, exists
}

// only is v where it was given, else no value.
func only(given bool, v reflect.Value) reflect.Value {
	if !given {
		return reflect.Value{}
	}
	return v
}

func memberNamed(t reflect.Type, name string) (reflect.StructField, bool) {
	if t.Kind() != reflect.Struct {
		return reflect.StructField{}, false
	}
	for _, f := range reflect.VisibleFields(t) {
		if tag, _, _ := strings.Cut(f.Tag.Get("json"), ","); tag == name {
			return f, true
		}
	}
	return reflect.StructField{}, false
}
