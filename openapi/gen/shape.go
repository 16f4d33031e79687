package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/operation"
)

const module = "github.com/knurl-hvacr/knurl/"

// shapes are the structs of the wire, as Go has them.
type shapes struct {
	asked    map[reflect.Type]bool // reachable from a question
	answered map[reflect.Type]bool // reachable from an answer
}

// shapesOf collects the structs that operations take and give.
func shapesOf(operations operation.Registry) shapes {
	s := shapes{map[reflect.Type]bool{}, map[reflect.Type]bool{}}
	for _, o := range operations {
		question, answer := o.Shapes()
		reach(reflect.TypeOf(question), s.asked)
		reach(reflect.TypeOf(answer), s.answered)
	}
	return s
}

func reach(t reflect.Type, found map[reflect.Type]bool) {
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Map:
		reach(t.Elem(), found)
	case reflect.Struct:
		if found[t] {
			return
		}
		found[t] = true
		for _, m := range membersOf(t) {
			reach(m.of, found)
		}
	}
}

// member is one member of an object on the wire.
type member struct {
	name     string
	field    string // its name in Go
	of       reflect.Type
	optional bool // left out where empty
}

func membersOf(t reflect.Type) []member {
	var all []member
	for _, f := range reflect.VisibleFields(t) {
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		if tag == "-" || !f.IsExported() || f.Anonymous && name == "" {
			continue
		}
		if name == "" {
			name = f.Name
		}
		all = append(all, member{name, f.Name, f.Type, strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")})
	}
	return all
}

// schema is what the source says of a struct of the wire.
type schema struct {
	name string // in the document, from the comment behind the struct
	doc  string // the comment before it
}

// schemasOf reads the source: folder and type to schema.
func schemasOf(root string) (map[string]schema, error) {
	names := map[string]schema{}
	for _, folder := range sources {
		files, err := filepath.Glob(filepath.Join(root, folder, "*.go"))
		if err != nil {
			return nil, err
		}
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			if err := namesIn(path, folder, names); err != nil {
				return nil, err
			}
		}
	}
	owner := map[string]string{}
	for of, s := range names {
		if other, taken := owner[s.name]; taken {
			return nil, fmt.Errorf("%s and %s are both named %s", of, other, s.name)
		}
		owner[s.name] = of
	}
	return names, nil
}

// schemaFor is the schema of t, empty where the document does not show it.
func schemaFor(t reflect.Type, names map[string]schema) schema {
	return names[strings.TrimPrefix(t.PkgPath(), module)+"."+t.Name()]
}

func namesIn(path, folder string, names map[string]schema) error {
	src, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	file, err := parser.ParseFile(token.NewFileSet(), path, src, parser.ParseComments)
	if err != nil {
		return err
	}
	for _, d := range file.Decls {
		types, ok := d.(*ast.GenDecl)
		if !ok || types.Tok != token.TYPE {
			continue
		}
		for _, spec := range types.Specs {
			t := spec.(*ast.TypeSpec)
			if t.Comment == nil || t.Assign.IsValid() { // an alias names what stands elsewhere
				continue
			}
			for _, c := range t.Comment.List {
				if name, ok := strings.CutPrefix(c.Text, "//@name "); ok {
					if embedded := folder == "engine/query" || folder == "engine/intake"; embedded && strings.TrimSpace(name) != t.Name.Name {
						return fmt.Errorf("%s.%s is named %s: who embeds the engine and who reads the document call it the same", folder, t.Name.Name, name)
					}
					names[folder+"."+t.Name.Name] = schema{strings.TrimSpace(name), docOf(types, t)}
				}
			}
		}
	}
	return nil
}

// docOf is the comment before a type, in one line a paragraph.
func docOf(group *ast.GenDecl, t *ast.TypeSpec) string {
	doc := t.Doc
	if doc == nil {
		doc = group.Doc
	}
	paragraphs := strings.Split(strings.TrimSpace(doc.Text()), "\n\n")
	for i, p := range paragraphs {
		paragraphs[i] = strings.Join(strings.Fields(p), " ")
	}
	return strings.Join(paragraphs, "\n\n")
}
