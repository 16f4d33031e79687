package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"github.com/getkin/kin-openapi/openapi2"
	"github.com/getkin/kin-openapi/openapi3"
)

// parameterExamples are the examples of parameters by path, method, place and
// name: swag writes them though Swagger 2.0 has no word for them, so that they
// are lost on the way to OpenAPI 3.
func parameterExamples(doc *openapi2.T) map[[4]string]any {
	all := map[[4]string]any{}
	for path, item := range doc.Paths {
		for method, op := range item.Operations() {
			for _, p := range op.Parameters {
				if e, ok := p.Extensions["example"]; ok {
					all[[4]string{path, method, p.In, p.Name}] = e
				}
			}
		}
	}
	return all
}

// addParameterExamples gives the parameters of doc their examples.
func addParameterExamples(doc *openapi3.T, all map[[4]string]any) error {
	for at, e := range all {
		p := doc.Paths.Value(at[0]).GetOperation(at[1]).Parameters.GetByInAndName(at[2], at[3])
		if p == nil {
			return fmt.Errorf("%s %s has no parameter %s", at[1], at[0], at[3])
		}
		p.Example = e
	}
	return nil
}

// addExamples shows the answered questions of the demo as examples of their
// operations' bodies.
func addExamples(doc *openapi3.T, folder string) error {
	list, err := os.ReadFile(filepath.Join(folder, "demo.json"))
	if err != nil {
		return err
	}
	var demo []struct {
		Name, Method, Path, Body, Shows string
		Status                          int
	}
	if err := json.Unmarshal(list, &demo); err != nil {
		return err
	}
	for _, d := range demo {
		if d.Body == "" || d.Status != http.StatusOK {
			continue
		}
		path, _, _ := strings.Cut(d.Path, "?")
		item := doc.Paths.Value(path)
		if item == nil || item.GetOperation(d.Method) == nil {
			return fmt.Errorf("the demo asks %s %s, which has no annotation", d.Method, path)
		}
		text, err := os.ReadFile(filepath.Join(folder, d.Body))
		if err != nil {
			return err
		}
		var value any // of lines the first: the schema is that of one
		if err := json.NewDecoder(bytes.NewReader(text)).Decode(&value); err != nil {
			return fmt.Errorf("%s: %w", d.Body, err)
		}
		body := item.GetOperation(d.Method).RequestBody.Value.GetMediaType(mediaOf(d.Body))
		if body == nil {
			return fmt.Errorf("%s is not of a media type that %s %s takes", d.Body, d.Method, path)
		}
		if body.Examples == nil {
			body.Examples = openapi3.Examples{}
		}
		body.Examples[d.Name] = &openapi3.ExampleRef{Value: &openapi3.Example{Summary: d.Shows, Value: value}}
	}
	return nil
}

const linesMedia = "application/x-ndjson"

// mediaOf goes by the ending of a file.
func mediaOf(file string) string {
	if filepath.Ext(file) == ".ndjson" {
		return linesMedia
	}
	return "application/json"
}
