package query

import "github.com/knurl-hvacr/knurl/engine/phrase"

// CodesQuestion asks for every code of the wire.
type CodesQuestion struct{}

// CodesAnswer lists every code with its English text, for translators.
type CodesAnswer struct {
	Codes []CodeEntry `json:"codes"`
} //@name CodesAnswer

// CodeEntry is one code. Codes are stable, texts may improve.
type CodeEntry struct {
	// Kind of place where the code stands.
	Kind string `json:"kind" example:"caution"`
	Code string `json:"code" example:"manufacturer_figure_wins"`
	// Name that the code goes by inside other texts; absent where there is none or where the text is the name.
	Name string `json:"name,omitempty" example:"low indoor airflow"`
	// Text as a template: a slot in braces, such as {superheat}, stands for the value of that name in params. After a colon stands its form: name or text of a code, a number as chance, percent or times, a quantity about, as figure, within its uncertainty or in both systems of units, a list with or, and.
	Text string `json:"text"`
	// Slots are the names of the values that the text takes.
	Slots []string `json:"slots"`
} //@name CodeEntry

// Codes answers GET /v1/codes.
func (e *Engine) Codes(CodesQuestion, Presentation) (CodesAnswer, error) {
	entries := phrase.Entries()
	all := make([]CodeEntry, len(entries))
	for i, x := range entries {
		all[i] = CodeEntry{Kind: x.Kind, Code: string(x.Code), Name: x.Name, Text: x.Text, Slots: append([]string{}, x.Slots...)}
	}
	return CodesAnswer{Codes: all}, nil
}
