// Command gen makes the published OpenAPI document: it runs swag over the
// annotations, lifts the result to OpenAPI 3.1 and adds what the annotations
// cannot say. It must not know any operation by name.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/getkin/kin-openapi/openapi2"
	"github.com/getkin/kin-openapi/openapi2conv"
	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3conv"
	"github.com/oasdiff/yaml"

	"github.com/knurl-hvacr/knurl/engine/batch"
	"github.com/knurl-hvacr/knurl/engine/operation"
	"github.com/knurl-hvacr/knurl/engine/problem"
)

// Folders whose types and comments make the document.
var sources = []string{"api/httpapi", "engine/query", "engine/intake", "engine/problem", "engine/batch"}

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "openapi/gen:", err)
		os.Exit(1)
	}
}

func run() error {
	mod, err := exec.Command("go", "env", "GOMOD").Output()
	if err != nil {
		return err
	}
	root := filepath.Dir(strings.TrimSpace(string(mod)))
	old, err := annotations(root)
	if err != nil {
		return err
	}
	examples := parameterExamples(old) // the conversion takes them out of old
	doc, err := openapi2conv.ToV3(old)
	if err != nil {
		return err
	}
	if err := addParameterExamples(doc, examples); err != nil {
		return err
	}
	names, err := schemasOf(root)
	if err != nil {
		return err
	}
	shapes := shapesOf(operation.All())
	reach(reflect.TypeFor[batch.Question](), shapes.asked)
	reach(reflect.TypeFor[batch.Line](), shapes.answered)
	reach(reflect.TypeFor[problem.Problem](), shapes.answered)
	reach(reflect.TypeFor[problem.Description](), shapes.answered)
	if err := mend(doc, shapes, names); err != nil {
		return err
	}
	if err := addExamples(doc, filepath.Join(root, "testdata", "demo")); err != nil {
		return err
	}
	openapi3conv.Upgrade(doc)
	doc.OpenAPI = "3.1.1"
	allowNull(doc, shapes, names)
	text, err := json.Marshal(doc)
	if err != nil {
		return err
	}
	read, err := openapi3.NewLoader().LoadFromData(text) // resolves the references
	if err != nil {
		return err
	}
	if err := read.Validate(context.Background()); err != nil {
		return err
	}
	return publish(text, filepath.Join(root, "openapi"))
}

// annotations runs swag in root and reads the Swagger 2.0 that it makes.
func annotations(root string) (*openapi2.T, error) {
	out, err := os.MkdirTemp("", "swag")
	if err != nil {
		return nil, err
	}
	defer func() { _ = os.RemoveAll(out) }()
	swag := exec.Command("go", "tool", "swag", "init",
		"--parseFuncBody", "-d", "./"+strings.Join(sources, ",./"), "-g", "annotations.go", "-o", out, "--outputTypes", "json", "--quiet")
	swag.Dir, swag.Stdout, swag.Stderr = root, os.Stderr, os.Stderr
	if err := swag.Run(); err != nil {
		return nil, fmt.Errorf("swag: %w", err)
	}
	data, err := os.ReadFile(filepath.Join(out, "swagger.json"))
	if err != nil {
		return nil, err
	}
	var doc openapi2.T
	return &doc, json.Unmarshal(data, &doc)
}

// publish writes the document twice, with the same content.
func publish(compact []byte, folder string) error {
	var indented bytes.Buffer
	if err := json.Indent(&indented, compact, "", "  "); err != nil {
		return err
	}
	indented.WriteByte('\n')
	asYAML, err := yaml.JSONToYAML(compact)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(folder, "openapi.json"), indented.Bytes(), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, "openapi.yaml"), asYAML, 0o644)
}
