package query

import "github.com/knurl-hvacr/knurl/engine/intake"

// HasMember reports whether a question has a member at a JSON pointer, whether
// it was given or not.
func HasMember(question any, pointer string) bool {
	_, ok := intake.MemberAt(question, pointer)
	return ok
}
