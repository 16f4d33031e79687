//go:build !js

package query_test

import (
	"go/ast"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/phrase"
)

// Every reason that is named in the source has a text that takes just the
// values given there.
func TestReasonsOfErrorsHaveTexts(t *testing.T) {
	slots := map[string][]string{}
	for _, e := range phrase.Entries() {
		if e.Kind == "request_error_reason" {
			slots[string(e.Code)] = e.Slots
		}
	}
	named := map[string]bool{}
	for _, folder := range []string{".", "../intake", "../question", "../batch"} {
		for _, f := range source(t, folder) {
			ast.Inspect(f, func(n ast.Node) bool {
				if l, ok := n.(*ast.BasicLit); ok {
					if code, ok := literal(l); ok && slots[code] != nil || len(slots[code]) == 0 && ok {
						named[code] = true
					}
				}
				call, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				why := -1
				switch f := call.Fun.(type) {
				case *ast.SelectorExpr:
					why = map[string]int{"Refuse": 2, "Misread": 2, "Because": 1}[f.Sel.Name]
				case *ast.Ident:
					why = map[string]int{"Because": 1}[f.Name]
				}
				if why < 1 || len(call.Args) != why+2 {
					return true
				}
				code, ok := literal(call.Args[why])
				if !ok {
					return true // a reason that a table or a calculation gives
				}
				want, known := slots[code]
				require.True(t, known, "the reason %q has no text", code)
				var given []string
				if values, ok := call.Args[why+1].(*ast.CompositeLit); ok {
					for _, of := range values.Elts {
						name := of.(*ast.KeyValueExpr).Key.(*ast.BasicLit).Value
						given = append(given, strings.Trim(name, `"`))
					}
				}
				want = slices.Clone(want)
				slices.Sort(want)
				slices.Sort(given)
				require.Equal(t, strings.Join(want, " "), strings.Join(given, " "), "values of %s", code)
				return true
			})
		}
	}
	for code := range slots {
		if !named[code] && !slices.Contains([]string{"entry_unknown", "prior_out_of_range", "prior_sums_to_more_than_one", "prior_leaves_nothing_possible", "loss_out_of_range"}, code) {
			t.Errorf("nothing gives the reason %s", code)
		}
	}
}
