package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"

	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/problem"
)

// mend adds to the document what all operations have in common and what
// Swagger 2.0 has no words for.
func mend(doc *openapi3.T, s shapes, names map[string]schema) error {
	doc.Info.Contact = &openapi3.Contact{Name: "knurl", URL: "https://github.com/knurl-hvacr/knurl/issues"}
	doc.Servers = openapi3.Servers{{URL: "/", Description: "The server that gave this document"}}
	if err := mendSchemas(doc, s, names); err != nil {
		return err
	}
	chooseOne(doc, s, names)
	allowScalars(doc, s, names)
	describeParams(doc, s, names)
	doc.Components.Headers = headers()
	doc.Components.Parameters = parameters()
	doc.Components.SecuritySchemes = openapi3.SecuritySchemes{keyScheme: {Value: openapi3.NewSecurityScheme().WithType("http").WithScheme("bearer").
		WithDescription("A key that the server's operator gave out. A server without keys asks for none.")}}
	doc.Components.Responses = openapi3.ResponseBodies{}
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			if err := mendOperation(doc, path, method, op); err != nil {
				return err
			}
		}
	}
	return nil
}

// mendSchemas closes what is asked, since unknown members are refused, and
// leaves open what is answered, which may grow; says which members an answer
// always has.
func mendSchemas(doc *openapi3.T, s shapes, names map[string]schema) error {
	for name, ref := range doc.Components.Schemas {
		if strings.ContainsAny(name, ".-") {
			return fmt.Errorf("schema %s needs a //@name comment", name)
		}
		clean(ref.Value)
		for _, property := range ref.Value.Properties {
			if property.Value != nil {
				clean(property.Value)
			}
		}
	}
	for t := range s.answered {
		describe(doc, t, names)
		if s.asked[t] {
			continue
		}
		schema := schemaOf(doc, t, names)
		if schema == nil {
			continue
		}
		schema.Required = nil
		for _, m := range membersOf(t) {
			if p := schema.Properties[m.name]; p != nil && p.Value != nil && p.Ref == "" {
				open(p.Value)
			}
			if !m.optional {
				schema.Required = append(schema.Required, m.name)
			}
		}
	}
	closed := false
	for t := range s.asked {
		describe(doc, t, names)
		if schema := schemaOf(doc, t, names); schema != nil {
			schema.AdditionalProperties = openapi3.AdditionalProperties{Has: &closed}
		}
	}
	return nil
}

// chooseOne makes a choice of a struct whose members are alternatives.
func chooseOne(doc *openapi3.T, s shapes, names map[string]schema) {
	for t := range s.answered {
		var one openapi3.SchemaRefs
		for _, f := range reflect.VisibleFields(t) {
			if f.Tag.Get("contract") == "alternative" {
				one = append(one, openapi3.NewSchemaRef("#/components/schemas/"+schemaFor(f.Type.Elem(), names).name, nil))
			}
		}
		if of := schemaOf(doc, t, names); of != nil && len(one) > 0 {
			*of = openapi3.Schema{Description: of.Description, OneOf: one}
		}
	}
}

// schemaOf is nil for a struct that the document does not show: a question
// that comes in the path and the query string, or one of no operation yet.
func schemaOf(doc *openapi3.T, t reflect.Type, names map[string]schema) *openapi3.Schema {
	if ref, ok := doc.Components.Schemas[schemaFor(t, names).name]; ok {
		return ref.Value
	}
	return nil
}

// describe takes over the comment before the struct, and calls members by
// their names on the wire where comments begin with their names in Go.
func describe(doc *openapi3.T, t reflect.Type, names map[string]schema) {
	of := schemaOf(doc, t, names)
	if of == nil {
		return
	}
	source := schemaFor(t, names)
	of.Description = renamed(source.doc, t.Name(), source.name)
	for _, m := range membersOf(t) {
		if p := of.Properties[m.name]; p != nil && p.Value != nil && p.Ref == "" {
			p.Value.Description = renamed(p.Value.Description, m.field, m.name)
		}
	}
}

func renamed(text, from, to string) string {
	if rest, ok := strings.CutPrefix(text, from+" "); ok {
		return to + " " + rest
	}
	return text
}

// open lets the values that an answer may name grow without breaking callers.
func open(s *openapi3.Schema) {
	if len(s.Enum) == 0 {
		return
	}
	if s.Extensions == nil {
		s.Extensions = map[string]any{}
	}
	s.Extensions["x-extensible-enum"] = s.Enum
	s.Enum = nil
}

// clean drops what swag adds for generators of Go code, and says how wide
// numbers are: some generators take 32 bits where nothing is said.
func clean(s *openapi3.Schema) {
	if s.Type.Is("number") {
		s.Format = "double"
	}
	for _, inner := range []*openapi3.SchemaRef{s.Items, s.AdditionalProperties.Schema} {
		if inner != nil && inner.Value != nil && inner.Ref == "" {
			clean(inner.Value)
		}
	}
	for key := range s.Extensions {
		if strings.HasPrefix(key, "x-enum-") {
			delete(s.Extensions, key)
		}
	}
}

// allowNull says which members of answers may be null: pointers that are
// never left out. It needs the words of OpenAPI 3.1.
func allowNull(doc *openapi3.T, s shapes, names map[string]schema) {
	null := openapi3.NewSchemaRef("", &openapi3.Schema{Type: &openapi3.Types{"null"}})
	for t := range s.answered {
		schema := schemaOf(doc, t, names)
		if schema == nil || s.asked[t] {
			continue
		}
		for _, m := range membersOf(t) {
			p := schema.Properties[m.name]
			if m.optional || m.of.Kind() != reflect.Pointer || p == nil {
				continue
			}
			switch {
			case p.Ref != "":
				schema.Properties[m.name] = openapi3.NewSchemaRef("", &openapi3.Schema{AnyOf: openapi3.SchemaRefs{p, null}})
			case len(p.Value.AllOf) > 0: // a described reference
				p.Value.AnyOf = append(p.Value.AllOf, null)
				p.Value.AllOf = nil
			case !p.Value.Type.IncludesNull():
				types := append(p.Value.Type.Clone(), "null")
				p.Value.Type = &types
			}
		}
	}
}

// allowScalars says what members may be that come back as they were written:
// a string or a number, which generators of code know as alternatives only.
func allowScalars(doc *openapi3.T, s shapes, names map[string]schema) {
	for _, types := range []map[reflect.Type]bool{s.asked, s.answered} {
		for t := range types {
			of := schemaOf(doc, t, names)
			if of == nil {
				continue
			}
			for _, m := range membersOf(t) {
				if p := of.Properties[m.name]; p != nil && m.of == reflect.TypeFor[json.RawMessage]() {
					p.Value.Type = nil
					p.Value.OneOf = openapi3.SchemaRefs{openapi3.NewSchemaRef("", openapi3.NewStringSchema()), openapi3.NewSchemaRef("", openapi3.NewFloat64Schema())}
				}
			}
		}
	}
}

// describeParams says what the values of a text can be.
func describeParams(doc *openapi3.T, s shapes, names map[string]schema) {
	value := func() openapi3.SchemaRefs {
		return openapi3.SchemaRefs{
			openapi3.NewSchemaRef("", openapi3.NewStringSchema()), openapi3.NewSchemaRef("", openapi3.NewFloat64Schema()),
			openapi3.NewSchemaRef("#/components/schemas/Measure", nil),
		}
	}
	list := openapi3.NewArraySchema()
	list.Items = openapi3.NewSchemaRef("", &openapi3.Schema{OneOf: value()})
	params := openapi3.NewObjectSchema()
	params.Description = "The values in a text by the names of its slots: numbers, words, quantities, or lists of these."
	mixed := &openapi3.Schema{OneOf: append(value(), openapi3.NewSchemaRef("", list))}
	params.AdditionalProperties = openapi3.AdditionalProperties{Schema: openapi3.NewSchemaRef("", mixed)}
	for t := range s.answered {
		of := schemaOf(doc, t, names)
		if of == nil {
			continue
		}
		for _, m := range membersOf(t) {
			if p := of.Properties[m.name]; p != nil && m.of == reflect.TypeFor[phrase.Params]() {
				of.Properties[m.name] = openapi3.NewSchemaRef("#/components/schemas/Params", nil)
			}
		}
	}
	doc.Components.Schemas["Params"] = openapi3.NewSchemaRef("", params)
}

const (
	versioned = "/v1/"
	metrics   = "/metrics"
	keyScheme = "key"
)

// cached reports whether the answers of an operation may be kept.
func cached(path, method string) bool {
	return method == http.MethodGet && !slices.Contains([]string{"/livez", "/readyz", "/version", metrics}, path)
}

func mendOperation(doc *openapi3.T, path, method string, op *openapi3.Operation) error {
	own := len(op.Parameters)
	statuses := []problem.Kind{problem.NotAcceptable, problem.InternalError}
	op.Security = openapi3.NewSecurityRequirements()
	if strings.HasPrefix(path, versioned) {
		op.Security.With(openapi3.NewSecurityRequirement().Authenticate(keyScheme)).With(openapi3.NewSecurityRequirement())
		for _, name := range []string{"units-of-answer", "working-of-answer"} {
			op.Parameters = append(op.Parameters, &openapi3.ParameterRef{Ref: "#/components/parameters/" + name})
		}
		statuses = append(statuses, problem.UnreadableQuestion, problem.Unauthorized, problem.QuotaExceeded)
		if own > 0 || op.RequestBody != nil && !byLines(op) {
			statuses = append(statuses, problem.InvalidQuestion, problem.TookTooLong)
		}
		if strings.Contains(path, "{") {
			statuses = append(statuses, problem.UnknownRefrigerant)
		}
		statuses = append(statuses, problem.Overloaded)
	}
	if path == metrics {
		op.Security.With(openapi3.NewSecurityRequirement().Authenticate(keyScheme)).With(openapi3.NewSecurityRequirement())
		statuses = []problem.Kind{problem.Unauthorized, problem.InternalError}
	}
	if op.RequestBody != nil {
		op.RequestBody.Value.Required = true
		delete(op.RequestBody.Value.Extensions, "x-originalParamName")
		statuses = append(statuses, problem.UnsupportedMediaType)
		if !byLines(op) {
			statuses = append(statuses, problem.RequestTimeout, problem.BodyTooLarge)
		}
	}
	for status, response := range op.Responses.Map() {
		code, err := strconv.Atoi(status)
		if err != nil {
			return fmt.Errorf("%s %s: status %s", method, path, status)
		}
		mendResponse(code, response.Value)
		if strings.HasPrefix(path, versioned) && code == http.StatusOK {
			for _, name := range []string{"RateLimit", "RateLimit-Policy"} {
				response.Value.Headers[name] = &openapi3.HeaderRef{Ref: "#/components/headers/" + name}
			}
		}
		if cached(path, method) && code == http.StatusOK {
			for _, name := range []string{"ETag", "Cache-Control", "Vary"} {
				response.Value.Headers[name] = &openapi3.HeaderRef{Ref: "#/components/headers/" + name}
			}
		}
	}
	for _, kind := range statuses {
		status := strconv.Itoa(kind.Describe().Status)
		if op.Responses.Value(status) == nil {
			op.Responses.Set(status, &openapi3.ResponseRef{Ref: "#/components/responses/" + componentName(kind)})
			doc.Components.Responses[componentName(kind)] = problemResponse(kind)
		}
	}
	if cached(path, method) {
		unchanged := "The answer that the caller holds, by its ETag, still stands"
		op.Responses.Set("304", &openapi3.ResponseRef{Value: &openapi3.Response{Description: &unchanged, Headers: openapi3.Headers{
			"ETag": {Ref: "#/components/headers/ETag"}, "Cache-Control": {Ref: "#/components/headers/Cache-Control"}, "Vary": {Ref: "#/components/headers/Vary"},
		}}})
		op.Parameters = append(op.Parameters, &openapi3.ParameterRef{Ref: "#/components/parameters/If-None-Match"})
	}
	return nil
}

// byLines reports whether an operation answers line by line: what is wrong with
// a line is told in its place, after the status.
func byLines(op *openapi3.Operation) bool {
	return op.RequestBody != nil && op.RequestBody.Value.GetMediaType(linesMedia) != nil
}

// mendResponse leaves problems to errors and other media types to answers,
// and lets text be text.
func mendResponse(status int, r *openapi3.Response) {
	if status >= 400 {
		r.Content = problemContent()
	} else {
		for media, content := range r.Content {
			if !strings.HasSuffix(media, "json") {
				content.Schema = openapi3.NewSchemaRef("", openapi3.NewStringSchema())
			}
		}
	}
	if r.Headers == nil {
		r.Headers = openapi3.Headers{}
	}
	names := []string{"X-Request-Id"}
	switch status {
	case http.StatusUnauthorized:
		names = append(names, "WWW-Authenticate")
	case http.StatusTooManyRequests, http.StatusServiceUnavailable:
		names = append(names, "Retry-After")
	}
	for _, name := range names {
		r.Headers[name] = &openapi3.HeaderRef{Ref: "#/components/headers/" + name}
	}
}

func problemContent() openapi3.Content {
	return openapi3.NewContentWithSchemaRef(openapi3.NewSchemaRef("#/components/schemas/Problem", nil), []string{problem.MediaType})
}

// componentName is a kind's name in the manner of schemas: NotFound.
func componentName(k problem.Kind) string {
	var b strings.Builder
	for word := range strings.SplitSeq(string(k), "-") {
		b.WriteString(strings.ToUpper(word[:1]) + word[1:])
	}
	return b.String()
}

func problemResponse(k problem.Kind) *openapi3.ResponseRef {
	d := k.Describe()
	text := d.Title + ". " + d.Meaning
	r := &openapi3.Response{Description: &text}
	mendResponse(d.Status, r)
	return &openapi3.ResponseRef{Value: r}
}

func headers() openapi3.Headers {
	all := openapi3.Headers{}
	for name, text := range map[string]string{
		"X-Request-Id":  "Finds this request in the server's log; the caller's own where it sent one",
		"ETag":          "Made from the question; send it back in If-None-Match",
		"Cache-Control": "How long the answer may be kept",
		"Vary":          "The answer depends on these headers of the request",

		"Retry-After":      "Seconds after which it is worth asking again",
		"WWW-Authenticate": "How a key is sent",
		"RateLimit":        "What is left of the caller's quota (r) and when all of it is there again (t), where the server has one",
		"RateLimit-Policy": "The quota (q) and its time in seconds (w), where the server has one",
	} {
		all[name] = &openapi3.HeaderRef{Value: &openapi3.Header{Parameter: openapi3.Parameter{
			Description: text, Schema: openapi3.NewSchemaRef("", openapi3.NewStringSchema()),
		}}}
	}
	return all
}

func parameters() openapi3.ParametersMap {
	return openapi3.ParametersMap{
		// Named apart from the schema Units: generators of code make types of both.
		"units-of-answer": {Value: openapi3.NewQueryParameter("units").WithSchema(openapi3.NewStringSchema().WithEnum("ip", "si").WithDefault("ip")).
			WithDescription("Units of the answer: inch-pound or SI; never what the question means")},
		"working-of-answer": {Value: openapi3.NewQueryParameter("explain").WithSchema(openapi3.NewBoolSchema().WithDefault(false)).
			WithDescription("Adds the working, step by step, rounded as one would read it aloud")},
		"If-None-Match": {Value: openapi3.NewHeaderParameter("If-None-Match").WithSchema(openapi3.NewStringSchema()).
			WithDescription("Entity tags of answers that the caller holds")},
	}
}
