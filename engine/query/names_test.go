//go:build !js

package query_test

import (
	"go/ast"
	"go/token"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// Whoever embeds the engine types and compares constants: each value that the
// document lists has one, and there is none that it does not list.
func TestEveryListedValueIsAConstant(t *testing.T) {
	constants := map[string]bool{}
	for _, f := range source(t, ".") {
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST {
				continue
			}
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				if len(v.Values) == 0 {
					continue
				}
				if l, ok := v.Values[0].(*ast.BasicLit); ok && v.Names[0].IsExported() && v.Type == nil && l.Kind == token.STRING {
					constants[l.Value] = false
				}
			}
		}
	}
	delete(constants, `"`+query.EngineRevision+`"`) // the engine's revision is no listed value
	for _, value := range listedValues(t) {
		_, ok := constants[`"`+value+`"`]
		require.True(t, ok, "the document lists %q, which has no constant", value)
		constants[`"`+value+`"`] = true
	}
	for value, listed := range constants {
		require.True(t, listed, "the constant of %s is no value that the document lists", value)
	}
}
