package httpapi

import (
	"reflect"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/operation"
)

// The key of a kept answer is the JSON of its question, beside its presentation
// and what the path says: what else JSON left out would be shared by questions
// that differ in it.
func TestQuestionsAreToldWholeByTheirJSON(t *testing.T) {
	for _, o := range operation.All() {
		question, _ := o.Shapes()
		told(t, o.Name, reflect.TypeOf(question), map[reflect.Type]bool{})
	}
}

func told(t *testing.T, path string, of reflect.Type, seen map[reflect.Type]bool) {
	t.Helper()
	for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice || of.Kind() == reflect.Map {
		of = of.Elem()
	}
	if of.Kind() != reflect.Struct || seen[of] {
		return
	}
	seen[of] = true
	for i := range of.NumField() {
		f := of.Field(i)
		at := path + "." + f.Name
		switch {
		case f.Name == "Designation":
		case !f.IsExported() && !f.Anonymous:
			t.Errorf("%s is not in the JSON", at)
		case f.Tag.Get("json") == "-":
			t.Errorf("%s is left out of the JSON", at)
		case f.Type.Kind() == reflect.Interface || f.Type.Kind() == reflect.Func:
			t.Errorf("%s has no one form in JSON", at)
		default:
			told(t, at, f.Type, seen)
		}
	}
}
