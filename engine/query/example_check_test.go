//go:build !js

package query_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whoever embeds the engine finds a runnable example of every operation.
func TestEveryOperationHasAnExample(t *testing.T) {
	examples := map[string]bool{}
	parsed, err := parser.ParseFile(token.NewFileSet(), "example_test.go", nil, 0)
	require.NoError(t, err)
	for _, d := range parsed.Decls {
		if f, ok := d.(*ast.FuncDecl); ok {
			examples[strings.TrimPrefix(f.Name.Name, "ExampleEngine_")] = true
		}
	}
	operations := 0
	for _, f := range source(t, ".") {
		for _, d := range f.Decls {
			method, ok := d.(*ast.FuncDecl)
			if !ok || method.Recv == nil || !method.Name.IsExported() || len(method.Type.Params.List) != 2 {
				continue
			}
			if of, ok := method.Type.Params.List[1].Type.(*ast.Ident); !ok || of.Name != "Presentation" {
				continue
			}
			operations++
			require.True(t, examples[method.Name.Name], "%s has no example", method.Name.Name)
		}
	}
	require.Greater(t, operations, 20)
}
