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
)

const module = "github.com/knurl-hvacr/knurl/"

// shapes are the structs of the wire, as Go has them.
type shapes struct {
	asked    map[reflect.Type]bool // reachable from a question
	answered map[reflect.Type]bool // reachable from an answer
}

// shapesOf collects the structs that the methods of engine take and give.
func shapesOf(engine reflect.Type) shapes {
	s := shapes{map[reflect.Type]bool{}, map[reflect.Type]bool{}}
	for method := range engine.Methods() {
		f := method.Type
		if f.NumIn() != 2 || f.NumOut() != 2 { // no operation
			continue
		}
		reach(f.In(1), s.asked)
		reach(f.Out(0), s.answered)
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
		all = append(all, member{name, f.Type, strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")})
	}
	return all
}

// schemaNames reads the name that each struct of the wire has in the document
// from the comment behind it: folder and type to schema name.
func schemaNames(root string) (map[string]string, error) {
	names := map[string]string{}
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
	for of, name := range names {
		if other, taken := owner[name]; taken {
			return nil, fmt.Errorf("%s and %s are both named %s", of, other, name)
		}
		owner[name] = of
	}
	return names, nil
}

// nameOf is the name of t in the document, empty where it has none.
func nameOf(t reflect.Type, names map[string]string) string {
	return names[strings.TrimPrefix(t.PkgPath(), module)+"."+t.Name()]
}

func namesIn(path, folder string, names map[string]string) error {
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
			if t.Comment == nil {
				continue
			}
			for _, c := range t.Comment.List {
				if name, ok := strings.CutPrefix(c.Text, "//@name "); ok {
					names[folder+"."+t.Name.Name] = strings.TrimSpace(name)
				}
			}
		}
	}
	return nil
}
