package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"maps"
	"slices"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/openapi"
)

// document is what the page shows of an OpenAPI document.
type document struct {
	OpenAPI string `json:"openapi"`
	Info    struct{ Title, Version, Description string }
	Tags    []struct{ Name, Description string }
	Paths   map[string]map[string]operation
	// Components of every kind are looked up by reference.
	Components struct {
		Schemas    map[string]schema
		Parameters map[string]parameter
		Responses  map[string]response
	}
}

type operation struct {
	ID          string `json:"operationId"`
	Summary     string
	Description string
	Tags        []string
	Parameters  []parameter
	RequestBody *struct {
		Content map[string]struct {
			Schema   schema
			Examples map[string]struct {
				Summary string
				Value   json.RawMessage
			}
		}
	}
	Responses map[string]response
}

type parameter struct {
	Ref         string `json:"$ref"`
	Name, In    string
	Description string
	Required    bool
	Schema      schema
	Example     any
	Examples    map[string]struct{ Value any }
}

type response struct {
	Ref         string `json:"$ref"`
	Description string
	Content     map[string]struct{ Schema schema }
}

type schema struct {
	Ref                  string `json:"$ref"`
	Type                 types
	Format               string
	Description          string
	Enum                 []any
	Extensible           []any `json:"x-extensible-enum"`
	Examples             []any
	Items                *schema
	AdditionalProperties json.RawMessage
	AllOf, AnyOf, OneOf  []schema
	Properties           map[string]schema
	Required             []string
}

// types are one name or several.
type types []string

// UnmarshalJSON takes both forms of JSON Schema.
func (t *types) UnmarshalJSON(data []byte) error {
	var one string
	if json.Unmarshal(data, &one) == nil {
		*t = types{one}
		return nil
	}
	return json.Unmarshal(data, (*[]string)(t))
}

// What the template shows.
type (
	topic struct {
		Name, Description string
		Operations        []shownOperation
	}
	shownOperation struct {
		ID, Summary, Method, Path string
		Paragraphs                []string
		Parameters                []shownParameter
		Body                      *typeText
		BodyMedia                 string
		Examples                  []example
		Answers                   []shownAnswer
		Media                     []string // of success
	}
	shownParameter struct {
		Name, In, Place, Description string
		Required, Flag, Fillable     bool
		Choices                      []string
		Values, Example              string
	}
	shownAnswer struct {
		Status, Description string
		Media               []string
		Of                  *typeText
	}
	example struct{ ID, Summary, Text string }
	// typeText words a type around the schema that it leads to.
	typeText    struct{ Before, Schema, After string }
	shownSchema struct {
		Name       string
		Paragraphs []string
		Members    []shownMember
	}
	shownMember struct {
		Name, Description string
		Required          bool
		Of                typeText
		Values, Example   string
	}
)

// Docs is the published document as one page, with a form to try each
// operation.
func Docs() ([]byte, error) { return docs(openapi.JSON) }

func docs(text []byte) ([]byte, error) {
	var d document
	if err := json.Unmarshal(text, &d); err != nil {
		return nil, err
	}
	topics, err := d.topics()
	if err != nil {
		return nil, err
	}
	var page bytes.Buffer
	err = parse("docs.html.tmpl").Execute(&page, struct {
		Title, Version, OpenAPI string
		Paragraphs              []string
		Topics                  []topic
		Schemas                 []shownSchema
		Style                   template.CSS
		Script                  template.JS
	}{d.Info.Title, d.Info.Version, d.OpenAPI, paragraphs(d.Info.Description), topics, d.schemas(), template.CSS(asset("docs.css")), template.JS(asset("docs.js"))})
	return page.Bytes(), err
}

func paragraphs(text string) []string {
	var all []string
	for p := range strings.SplitSeq(text, "\n\n") {
		if p = strings.TrimSpace(p); p != "" {
			all = append(all, p)
		}
	}
	return all
}

// topics are the operations by tag, in the order of the document's tags and
// then by path.
func (d *document) topics() ([]topic, error) {
	byTag := map[string][]shownOperation{}
	for _, path := range slices.Sorted(maps.Keys(d.Paths)) {
		for _, method := range []string{"get", "post", "put", "patch", "delete"} {
			op, ok := d.Paths[path][method]
			if !ok {
				continue
			}
			if len(op.Tags) == 0 {
				return nil, fmt.Errorf("page: %s %s has no tag", method, path)
			}
			shown, err := d.operation(path, strings.ToUpper(method), op)
			if err != nil {
				return nil, err
			}
			byTag[op.Tags[0]] = append(byTag[op.Tags[0]], shown)
		}
	}
	var all []topic
	for _, t := range d.Tags {
		if ops := byTag[t.Name]; len(ops) > 0 {
			all = append(all, topic{t.Name, t.Description, ops})
			delete(byTag, t.Name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(byTag)) {
		all = append(all, topic{Name: name, Operations: byTag[name]})
	}
	return all, nil
}

const (
	jsonMedia  = "application/json"
	linesMedia = "application/x-ndjson"
)

func (d *document) operation(path, method string, op operation) (s shownOperation, err error) {
	s = shownOperation{ID: identifier("op-" + op.ID), Summary: op.Summary, Method: method, Path: path, Paragraphs: paragraphs(op.Description)}
	for _, p := range op.Parameters {
		s.Parameters = append(s.Parameters, d.parameter(p))
	}
	if op.RequestBody != nil {
		s.BodyMedia = jsonMedia
		if _, ok := op.RequestBody.Content[linesMedia]; ok {
			s.BodyMedia = linesMedia
		}
		body := op.RequestBody.Content[s.BodyMedia]
		of := d.typeOf(body.Schema)
		s.Body = &of
		for _, name := range slices.Sorted(maps.Keys(body.Examples)) {
			e := body.Examples[name]
			var text bytes.Buffer
			if s.BodyMedia == linesMedia {
				err = json.Compact(&text, e.Value)
			} else {
				err = json.Indent(&text, e.Value, "", "  ")
			}
			if err != nil {
				return s, fmt.Errorf("page: example %s of %s: %w", name, op.ID, err)
			}
			summary := e.Summary
			if summary == "" {
				summary = phrase.Capital(strings.ReplaceAll(name, "_", " "))
			}
			s.Examples = append(s.Examples, example{identifier("example-" + op.ID + "-" + name), summary, text.String()})
		}
	}
	for _, status := range slices.Sorted(maps.Keys(op.Responses)) {
		r := op.Responses[status]
		if name, ok := strings.CutPrefix(r.Ref, "#/components/responses/"); ok {
			r = d.Components.Responses[name]
		}
		a := shownAnswer{Status: status, Description: r.Description, Media: slices.Sorted(maps.Keys(r.Content))}
		for _, media := range a.Media {
			if of := d.typeOf(r.Content[media].Schema); of.Schema != "" {
				a.Of = &of
			}
		}
		if status == "200" {
			// The one that is answered by default comes first.
			slices.SortStableFunc(a.Media, func(x, y string) int { return rank(x) - rank(y) })
			s.Media = a.Media
		}
		s.Answers = append(s.Answers, a)
	}
	return s, nil
}

func rank(media string) int {
	if media == jsonMedia {
		return 0
	}
	return 1
}

func (d *document) parameter(p parameter) shownParameter {
	if name, ok := strings.CutPrefix(p.Ref, "#/components/parameters/"); ok {
		p = d.Components.Parameters[name]
	}
	s := shownParameter{Name: p.Name, In: p.In, Place: p.In, Description: stop(p.Description), Required: p.Required, Flag: slices.Contains(p.Schema.Type, "boolean"), Fillable: p.In == "path" || p.In == "query"}
	if p.In == "query" {
		s.In = "query string"
	}
	for _, v := range p.Schema.Enum {
		s.Choices = append(s.Choices, fmt.Sprint(v))
	}
	s.Values = strings.Join(s.Choices, ", ")
	for _, name := range slices.Sorted(maps.Keys(p.Examples)) {
		p.Example = p.Examples[name].Value
	}
	if p.Example == nil && len(p.Schema.Examples) > 0 {
		p.Example = p.Schema.Examples[0]
	}
	if p.Example != nil {
		s.Example = fmt.Sprint(p.Example)
	}
	return s
}

// stop ends a description with a full stop.
func stop(text string) string {
	text = strings.TrimSpace(text)
	if text == "" || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

const schemaRef = "#/components/schemas/"

// typeOf words a type.
func (d *document) typeOf(s schema) typeText {
	if name, ok := strings.CutPrefix(s.Ref, schemaRef); ok {
		return typeText{Schema: name}
	}
	for _, list := range [][]schema{s.AllOf, s.AnyOf, s.OneOf} {
		if len(list) == 0 {
			continue
		}
		var first typeText
		var rest []string
		for i, of := range list {
			t := d.typeOf(of)
			if i == 0 {
				first = t
				continue
			}
			rest = append(rest, t.Before+t.Schema+t.After)
		}
		if len(rest) > 0 {
			first.After += " or " + strings.Join(rest, " or ")
		}
		return first
	}
	name := strings.Join(s.Type, " or ")
	switch {
	case slices.Contains(s.Type, "array") && s.Items != nil:
		t := d.typeOf(*s.Items)
		t.Before = "list of " + t.Before
		return t
	case slices.Contains(s.Type, "object") && len(s.AdditionalProperties) > 0:
		var of schema
		if json.Unmarshal(s.AdditionalProperties, &of) == nil && (of.Ref != "" || len(of.Type) > 0) {
			t := d.typeOf(of)
			t.Before = "by name, " + t.Before
			return t
		}
	case name == "":
		name = "anything"
	}
	return typeText{Before: name}
}

func (d *document) schemas() []shownSchema {
	var all []shownSchema
	for _, name := range slices.Sorted(maps.Keys(d.Components.Schemas)) {
		s := d.Components.Schemas[name]
		shown := shownSchema{Name: name, Paragraphs: paragraphs(s.Description)}
		for _, member := range slices.Sorted(maps.Keys(s.Properties)) {
			p := s.Properties[member]
			m := shownMember{Name: member, Description: stop(p.Description), Required: slices.Contains(s.Required, member), Of: d.typeOf(p)}
			var values []string
			for _, v := range slices.Concat(p.Enum, p.Extensible) {
				if v != nil {
					values = append(values, fmt.Sprint(v))
				}
			}
			m.Values = strings.Join(values, ", ")
			if len(p.Examples) > 0 {
				m.Example = fmt.Sprint(p.Examples[0])
			}
			shown.Members = append(shown.Members, m)
		}
		all = append(all, shown)
	}
	return all
}
