package refdata

import (
	"slices"
	"sync"
)

// Text is what a code of the wire says in English, as a template: a slot in
// braces, such as {superheat}, stands for a value; a slot may say after colons
// in which form, as {probability:chance}. Package phrase defines the forms. A
// translation is another file with the same codes and the same slots.
type Text struct {
	Kind string `json:"kind"` // of the place where the code stands
	Code string `json:"code"` // stable, snake_case, once over all kinds
	// Name is what the code is called inside another sentence, where the text is
	// a sentence of its own; empty where nothing names it.
	Name string `json:"name,omitempty"`
	Text string `json:"text"`
}

// Texts returns all texts, those of one kind side by side.
func Texts() []Text { return slices.Clone(texts()) }

var texts = sync.OnceValue(func() []Text {
	type file struct {
		Texts []Text `json:"texts"`
	}
	return mustRead[file]("texts/en.json").Texts
})
