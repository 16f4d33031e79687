//go:build !js

package query_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/refdata"
)

// textOf is every code that GET /v1/codes lists with its text.
func textOf(t *testing.T) map[string]string {
	t.Helper()
	texts := map[string]string{}
	for _, c := range answer(t, engine.Codes, query.CodesQuestion{}).Codes {
		if old, twice := texts[c.Code]; twice && old != c.Text {
			t.Errorf("the code %s has two texts:\n%s\n%s", c.Code, old, c.Text)
		}
		texts[c.Code] = c.Text
	}
	return texts
}

func source(t *testing.T, folder string) []*ast.File {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(folder, "*.go"))
	require.NoError(t, err)
	var files []*ast.File
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		files = append(files, f)
	}
	if len(files) == 0 {
		t.Fatalf("no source in %s", folder)
	}
	return files
}

var snake = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

func literal(e ast.Expr) (string, bool) {
	l, ok := e.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(l.Value)
	return s, err == nil && snake.MatchString(s)
}

// constants are the exported constants of a package that look like codes.
func constants(t *testing.T, folder string) map[string]string {
	t.Helper()
	found := map[string]string{}
	for _, f := range source(t, folder) {
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST {
				continue
			}
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				for i, name := range v.Names {
					if i >= len(v.Values) || !name.IsExported() {
						continue
					}
					if s, ok := literal(v.Values[i]); ok {
						found[s] = name.Name
					}
				}
			}
		}
	}
	return found
}

// Every code that physics can hand to the wire has a text there.
func TestEveryCodeHasAText(t *testing.T) {
	texts := textOf(t)
	for folder, least := range map[string]int{"../circuit": 15, "../target": 8, "../diagnosis": 40, "../refrigerant": 2, "../standing": 10, "../stability": 4, "../hose": 60, "../charge": 10, "../diagram": 10, "../intake": 15} {
		all := constants(t, folder)
		if len(all) < least {
			t.Errorf("%s: only %d codes were found, the search is broken", folder, len(all))
		}
		for code, name := range all {
			if texts[code] == "" {
				t.Errorf("%s.%s: the code %q has no text", strings.TrimPrefix(folder, "../"), name, code)
			}
		}
	}
	for _, c := range refdata.Diagnosis().NextChecks {
		for _, code := range c.Checks {
			if texts[code] == "" {
				t.Errorf("next check of %s: the code %q has no text", c.Fault, code)
			}
		}
	}
}

// Every code that this package names itself has a text and is a constant, so
// that a misspelled one does not compile.
func TestCodesNamedInSource(t *testing.T) {
	texts := textOf(t)
	named := 0
	for _, f := range source(t, ".") {
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ValueSpec:
				typed, ok := n.Type.(*ast.SelectorExpr)
				if !ok || typed.Sel.Name != "Code" {
					return true
				}
				for i, v := range n.Values {
					named++
					if code, ok := literal(v); !ok || texts[code] == "" {
						t.Errorf("%s: the code %q has no text", n.Names[i], code)
					}
				}
			case *ast.CallExpr:
				name := ""
				switch f := n.Fun.(type) {
				case *ast.SelectorExpr:
					name = f.Sel.Name
				case *ast.Ident:
					name = f.Name
				}
				if !slices.Contains([]string{"assume", "note", "say", "text", "caution", "step"}, name) {
					return true
				}
				args := n.Args
				if name == "step" {
					args = args[1:2] // the quantity stands first
				}
				for _, a := range args {
					if code, ok := literal(a); ok {
						t.Errorf("%s(%q): the code is no constant", name, code)
					}
				}
			}
			return true
		})
	}
	if named < 100 {
		t.Errorf("only %d codes were found in the source, the search is broken", named)
	}
}

// listedValues are the values that the document lists, questions and answers
// alike.
func listedValues(t *testing.T) []string {
	t.Helper()
	data, err := os.ReadFile("../../openapi/openapi.json")
	require.NoError(t, err)
	var document any
	require.NoError(t, json.Unmarshal(data, &document))
	var found []string
	var walk func(any)
	walk = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			for name, x := range v {
				if list, ok := x.([]any); ok && (name == "enum" || name == "x-extensible-enum") {
					for _, of := range list {
						if value, ok := of.(string); ok {
							found = append(found, value)
						}
					}
				}
				walk(x)
			}
		}
	}
	walk(document)
	require.Greater(t, len(found), 100, "the search is broken")
	return found
}

// Every name that an answer can hold is listed with its text, but for those that
// say nothing in any language.
func TestEnumeratedNamesHaveTexts(t *testing.T) {
	texts := textOf(t)
	plain := []string{"ip", "si", "all", "SHA-256", "RFC 8785", "SEER", "SEER2", "EER", "ar4", "ar5", "ar6"}
	for _, value := range listedValues(t) {
		if texts[value] == "" && !slices.Contains(plain, value) {
			t.Errorf("the document names %q, which has no text", value)
		}
	}
}
