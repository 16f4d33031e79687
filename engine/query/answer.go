package query

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/diagnosis"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/signature"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// EngineRevision changes whenever an equal question could get another number.
const EngineRevision = "4"

// Provenance says what an answer rests on.
type Provenance struct {
	EngineRevision string `json:"engine_revision" example:"1"`
	DataRevision   string `json:"data_revision" example:"3f2a9c1d0b7e"`
	// SignatureRevision of the distilled model that a diagnosis weighs by; absent elsewhere.
	SignatureRevision string   `json:"signature_revision,omitempty" example:"9b1c44e0d2aa"`
	Sources           []Source `json:"sources"`
} //@name Provenance

// Source is a publication that an answer rests on.
type Source struct {
	Key      string `json:"key" example:"kamei-1995"`
	Citation string `json:"citation"`
	DOI      string `json:"doi,omitempty" example:"10.1007/BF02081283"`
	// Status tells how far the figures used were checked against the source; absent where they were read in it.
	Status string `json:"status,omitempty" example:"from memory, unverified"`
} //@name Source

// Note is a stable code with its English text and the values that stand in it.
type Note struct {
	Code phrase.Code `json:"code" swaggertype:"string"`
	Text string      `json:"text"`
	// Params are the values in the text by the names of its slots: numbers, words, quantities, or lists of these; absent where it has none.
	Params phrase.Params `json:"params,omitempty" swaggertype:"object"`
} //@name Note

// say is a code in words.
func say(code phrase.Code, params phrase.Params) Note {
	return Note{Code: code, Text: phrase.Say(code, params), Params: params}
}

// note is say for a code without values.
func note[C ~string](code C) Note { return say(phrase.Code(code), nil) }

// notes are codes with their texts.
func notes[C ~string](codes []C) []Note {
	list := make([]Note, len(codes))
	for i, code := range codes {
		list[i] = note(code)
	}
	return list
}

// namesOf are the names of what has one.
func namesOf[T fmt.Stringer](list []T) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = x.String()
	}
	return out
}

// codesOf are codes as they stand on the wire.
func codesOf[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, c := range list {
		out[i] = string(c)
	}
	return out
}

// text is the English of a code without values.
func text[C ~string](code C) string { return phrase.Say(phrase.Code(code), nil) }

// Step is one line of the working, rounded as one would say it.
type Step struct {
	// Quantity that the step leads to.
	Quantity string `json:"quantity" example:"superheat"`
	Note
	// Formula or rule behind it.
	Formula string `json:"formula,omitempty"`
	// Source is a key among the sources of the provenance.
	Source string `json:"source,omitempty"`
} //@name Step

// Common closes every answer.
type Common struct {
	// Steps are the working, where explain=true asked for it.
	Steps       []Step     `json:"steps,omitempty"`
	Cautions    []Note     `json:"cautions,omitempty"`
	Assumptions []Note     `json:"assumptions"`
	Provenance  Provenance `json:"provenance"`
}

// trail collects what an answer rests on while it is made.
type trail struct {
	as          Presentation
	steps       []Step
	cautions    []Note
	assumptions []Note
	sources     map[string]string // key -> worst status
	signatures  string            // revision of the distilled model, where it was used
}

func newTrail(as Presentation) *trail { return &trail{as: as, sources: map[string]string{}} }

// step adds a line of working where that was asked for.
func (t *trail) step(quantity string, code phrase.Code, formula, source string, params phrase.Params) {
	if t.as.Explain {
		t.steps = append(t.steps, Step{Quantity: quantity, Note: say(code, params), Formula: formula, Source: source})
	}
}

// assume says once what is taken for granted.
func (t *trail) assume(code phrase.Code, params phrase.Params) { t.take(say(code, params)) }

// assumeAll is assume for codes without values.
func assumeAll[C ~string](t *trail, codes []C) {
	for _, code := range codes {
		t.assume(phrase.Code(code), nil)
	}
}

// take is assume for what is in words already.
func (t *trail) take(assumed Note) {
	if !slices.ContainsFunc(t.assumptions, func(n Note) bool { return n.Code == assumed.Code }) {
		t.assumptions = append(t.assumptions, assumed)
	}
}

// cautions are the embedded warnings by code.
var cautions = sync.OnceValue(func() map[phrase.Code]refdata.Caution {
	all := map[phrase.Code]refdata.Caution{}
	for _, c := range refdata.Cautions() {
		all[phrase.Code(c.Code)] = c
	}
	return all
})

// caution adds warnings by code from the embedded data.
func (t *trail) caution(codes ...phrase.Code) {
	for _, code := range codes {
		if slices.ContainsFunc(t.cautions, func(n Note) bool { return n.Code == code }) {
			continue
		}
		c, ok := cautions()[code]
		if !ok {
			panic("query: no caution of the code " + string(code))
		}
		t.cautions = append(t.cautions, say(code, nil))
		t.source(c.Source, c.Status)
	}
}

// source notes a publication; of several statuses the weakest stays.
func (t *trail) source(key, status string) {
	if key == "" {
		return
	}
	rank := func(s string) int {
		switch s {
		case refdata.FromMemory:
			return 3
		case refdata.PartFromMemory:
			return 2
		case refdata.Seen, "":
			return 0
		}
		return 1
	}
	if old, ok := t.sources[key]; !ok || rank(status) > rank(old) {
		t.sources[key] = status
	}
}

// refrigerant notes what the properties of r rest on.
func (t *trail) refrigerant(r *refrigerant.Refrigerant) {
	for _, key := range r.Sources {
		t.source(key, "")
	}
	t.source(r.CompositionSource, r.CompositionStatus)
	if r.CompositionStatus == refdata.FromMemory {
		t.assume(compositionFromMemory, phrase.Params{"refrigerant": r.Designation})
	}
	if pairs := r.EstimatedPairs(); len(pairs) > 0 {
		names := make([]string, len(pairs))
		for i, p := range pairs {
			names[i] = p[0] + "/" + p[1]
		}
		t.assume(estimatedMixing, phrase.Params{"pairs": names, "miss": t.as.said(unit.KindTemperatureDiff, refrigerant.EstimatedMiss, 0)})
	}
	if r.Facts != nil && r.Facts.SafetyGroup != nil {
		t.source(r.Facts.SafetyGroup.Source, r.Facts.SafetyGroup.Status)
	} else {
		t.assume(safetyGroupUnknown, phrase.Params{"refrigerant": r.Designation})
	}
	for _, h := range r.Hazards() {
		t.caution(phrase.Code(h))
	}
}

// uncertain says once which coverage the intervals of an answer have.
func (t *trail) uncertain() {
	t.assume(coverageFactor, phrase.Params{"factor": CoverageFactor})
	t.source("jcgm-100-2008", "")
}

// inferred notes what a diagnosis weighs by.
func (t *trail) inferred() {
	for _, source := range diagnosis.Sources() {
		t.source(source.Key, source.Status)
	}
	t.signatures = signature.Embedded().Revision
}

func (t *trail) common() Common {
	c := Common{
		Steps: t.steps, Cautions: t.cautions, Assumptions: t.assumptions,
		Provenance: Provenance{EngineRevision: EngineRevision, DataRevision: refdata.Revision(), SignatureRevision: t.signatures, Sources: []Source{}},
	}
	if c.Assumptions == nil {
		c.Assumptions = []Note{}
	}
	known := bibliography()
	keys := make([]string, 0, len(t.sources))
	for k := range t.sources {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		s := known[k]
		if status := t.sources[k]; status != refdata.Seen {
			s.Status = status
		}
		c.Provenance.Sources = append(c.Provenance.Sources, s)
	}
	return c
}

// bibliography are the sources as the wire shows them, by key.
var bibliography = sync.OnceValue(func() map[string]Source {
	all := map[string]Source{}
	for key, s := range refdata.Sources() {
		all[key] = Source{Key: key, Citation: citation(s), DOI: s.DOI}
	}
	return all
})

func citation(s refdata.Source) string {
	var parts []string
	for _, p := range []string{s.Author, s.Title, s.Journal, s.Booktitle, s.Year, s.Note} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	return strings.Join(parts, ". ")
}
