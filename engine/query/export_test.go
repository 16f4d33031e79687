package query

import "reflect"

// HasMember reports whether a question has a member at a JSON pointer, whether
// it was given or not.
func HasMember(question any, pointer string) bool {
	_, ok := memberAt(reflect.ValueOf(question), pointer)
	return ok
}
