package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

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
		var value any
		if err := json.Unmarshal(text, &value); err != nil {
			return fmt.Errorf("%s: %w", d.Body, err)
		}
		body := item.GetOperation(d.Method).RequestBody.Value.Content.Get("application/json")
		if body.Examples == nil {
			body.Examples = openapi3.Examples{}
		}
		body.Examples[d.Name] = &openapi3.ExampleRef{Value: &openapi3.Example{Summary: d.Shows, Value: value}}
	}
	return nil
}
