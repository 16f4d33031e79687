//go:build !js

package api_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What a question asks for is read, asked and written in steps: a function of
// engine/query that grows beyond this does several of them at once.
func TestFunctionsOfQueryAreShort(t *testing.T) {
	const most = 60
	names, err := filepath.Glob("../engine/query/*.go")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	files := token.NewFileSet()
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(files, name, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				lines := files.Position(f.End()).Line - files.Position(f.Pos()).Line + 1
				require.LessOrEqual(t, lines, most, "%s: %s", filepath.Base(name), f.Name.Name)
			}
		}
	}
}
