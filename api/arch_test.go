//go:build !js

package api_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/parser"
	"go/token"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "github.com/knurl-hvacr/knurl/"

type arrow struct{ of, may, why string }

// arrows say which packages of the module each package imports, its tests apart,
// and why. A package that is not here fails: write down where it stands first.
var arrows = []arrow{
	{"engine/unit", "", "everything counts in its quantities"},
	{"engine/numeric", "", "methods, whatever the numbers are"},
	{"engine/gum", "engine/numeric", "carries uncertainty, whatever is measured"},
	{"engine/input", "engine/gum engine/unit", "what is wrong with an input, whichever calculation it is for"},
	{"engine/figure", "engine/unit refdata", "figures of the data in SI, whatever they are for"},
	{"engine/helmholtz", "", "the equations, floats inside"},
	{"engine/equilibrium", "engine/helmholtz engine/numeric", "solves the equations, whatever fluid they are of"},
	{"engine/saturation", "engine/equilibrium engine/numeric engine/unit", "curves through what equilibrium solves"},
	{"engine/refrigerant", "engine/equilibrium engine/helmholtz engine/unit refdata", "makes fluids of published data"},
	{"engine/moistair", "engine/figure engine/gum engine/input engine/numeric engine/unit", "the handbook's equations and nothing of refrigerants"},
	{"engine/instrument", "engine/figure engine/unit refdata", "accuracy classes are data"},
	{"engine/equipment", "", "names of devices and faults; everything that tells them apart imports it"},
	{"engine/circuit", "engine/gum engine/moistair engine/unit", "readings to quantities"},
	{"engine/target", "engine/unit refdata", "published tables of targets"},
	{"engine/standing", "engine/equilibrium engine/figure engine/gum engine/input engine/numeric engine/saturation engine/unit refdata", "a system at rest"},
	{"engine/stability", "engine/figure engine/input engine/unit refdata", "series of numbers, whatever they measure"},
	{"engine/plant", "engine/equilibrium engine/equipment engine/moistair engine/numeric engine/saturation engine/unit refdata", "a whole system in steady state"},
	{"engine/expectation", "engine/circuit engine/equipment engine/instrument engine/plant", "the spread of what systems show"},
	{"engine/signature", "engine/equilibrium engine/equipment engine/numeric engine/saturation refdata", "what instruments show under each explanation; distilled, so it needs no plant"},
	{"engine/diagnosis", "engine/circuit engine/equipment engine/figure engine/gum engine/numeric engine/signature engine/target engine/unit refdata", "weighs readings; knows neither refrigerants nor the wire"},
	{"engine/hose", "engine/equilibrium engine/figure engine/gum engine/input engine/numeric engine/saturation engine/unit refdata", "what hoses hold"},
	{"engine/charge", "engine/equilibrium engine/figure engine/gum engine/input engine/saturation engine/unit refdata", "line sets and cylinders"},
	{"engine/leak", "engine/equilibrium engine/figure engine/helmholtz engine/input engine/saturation engine/unit refdata", "composition while a blend leaks"},
	{"engine/diagram", "engine/circuit engine/equilibrium engine/gum engine/refrigerant engine/saturation engine/unit", "geometry, whoever draws it"},
	{"engine/strictjson", "engine/unit", "names and types of JSON; takes the distance of two names from unit"},
	{"engine/canonicaljson", "", "one form of JSON, whatever it says"},
	{"engine/phrase", "engine/unit refdata", "words for codes and values, whoever says them"},
	{"engine/intake", "engine/circuit engine/equipment engine/gum engine/input engine/instrument engine/moistair engine/phrase engine/refrigerant engine/unit", "what a question says, judged once; no computation of its own"},
	{"engine/query", "engine/canonicaljson engine/charge engine/circuit engine/diagnosis engine/diagram engine/equilibrium engine/equipment engine/expectation engine/gum engine/hose engine/input engine/instrument engine/intake engine/leak engine/moistair engine/phrase engine/plant engine/refrigerant engine/saturation engine/signature engine/stability engine/standing engine/target engine/unit refdata", "the one wire model assembles all physics"},
	{"engine/near", "", "compares numbers in tests; in no other row, so that nothing that ships carries it"},
	{"engine/score", "engine/query", "judges answers in tests; in no other row, so that nothing that ships carries it"},
	{"engine/problem", "engine/intake engine/phrase engine/query engine/refrigerant engine/strictjson", "the one table from error to problem: it names every error that a question brings about"},
	{"engine/question", "engine/intake engine/phrase engine/problem engine/query engine/strictjson engine/unit", "reads questions; unit for text in query strings"},
	{"engine/operation", "engine/query engine/question", "the one registry of what can be asked"},
	{"engine/batch", "engine/intake engine/problem engine/query engine/question", "one line of a batch; whoever brings the lines"},
	{"engine/call", "engine/operation engine/problem engine/query engine/question refdata", "requests to bytes, for every binding; of refdata its revision only"},
	{"engine/conformance", "", "judges answers, whoever gives them"},
	{"engine/mobile", "engine/call engine/query", "call for phones"},
	{"engine/wasm", "engine/call engine/query", "call for browsers"},

	{"refdata", "", "data depends on nothing"},
	{"refdata/gen", "engine/equipment engine/plant engine/refrigerant engine/saturation engine/signature refdata", "makes the distilled data of the plant"},
	{"openapi", "", "the document as bytes"},
	{"openapi/gen", "engine/batch engine/operation engine/phrase engine/problem", "reads the shapes of the wire"},

	{"api/ask", "", "the shape of an operation, whichever it is"},
	{"api/auth", "", "who may ask, whatever it is"},
	{"api/limit", "", "how much and how often, whatever it is"},
	{"api/telemetry", "", "counts routes and codes, never values"},
	{"api/tracing", "", "spans of routes and times, never values"},
	{"api/ndjson", "", "streams of lines, whatever they ask"},
	{"api/cache", "api/ask", "keeps bytes, whatever they say"},
	{"api/redis", "api/tracing", "bytes and counts in a server; knows no operation"},
	{"api/redis/redistest", "api/patience", "real servers for tests"},
	{"api/patience", "", "how tests wait, whatever they wait for"},
	{"api/page", "engine/phrase engine/query openapi", "what people look at, made of answers and of the document"},
	{"api/problem", "engine/problem", "what HTTP adds to the problems of the engine"},
	{"api/httpapi", "api/ask api/auth api/cache api/limit api/ndjson api/page api/problem api/tracing engine/batch engine/operation engine/problem engine/query engine/question openapi", "speaks query"},
	{"api/app", "api/auth api/cache api/httpapi api/limit api/redis api/telemetry api/tracing engine/query refdata", "wiring; of refdata its revision only"},
	{"api/cmd/knurld", "api/app", "main is short"},
}

// Standard packages that the engine does without. What reads and writes the
// wire may encode; nothing else may.
var withheld = map[string]string{
	"context":       "what can be cancelled takes a stop func() bool; contexts begin in api",
	"encoding/json": "the wire is query's alone",
	"log":           "the engine answers or returns an error",
	"log/slog":      "the engine answers or returns an error",
	"net":           "no input or output",
	"net/http":      "no input or output",
	"os":            "no input or output",
	"time":          "clocks live in api",
}

var encodes = []string{"engine/query", "engine/strictjson", "engine/canonicaljson", "engine/batch", "engine/call", "engine/conformance"}

// Modules that one package owns.
var owned = []struct{ path, owner, why string }{
	{"github.com/gin-gonic/gin", "api/httpapi", "HTTP is spoken in one place"},
	{"github.com/redis/go-redis", "api/redis", "the client belongs to one package"},
	{"go.opentelemetry.io", "api/tracing", "what is told of a request is decided in one place"},
	{"github.com/getkin/kin-openapi", "openapi/gen", "the contract is made in one place"},
}

// pkg is what go list says of a package.
type pkg struct {
	ImportPath, Dir           string
	GoFiles, Imports          []string
	TestImports, XTestImports []string
}

// short is the path inside the module.
func (p pkg) short() string {
	return strings.TrimPrefix(strings.TrimSuffix(p.ImportPath, "/"), module)
}

func list(t *testing.T, pattern string, env ...string) []pkg {
	t.Helper()
	c := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports,TestImports,XTestImports", pattern)
	c.Dir = ".."
	c.Env = append(os.Environ(), env...)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	out, err := c.Output()
	require.NoError(t, err, "%s", &stderr)
	var all []pkg
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p pkg
		err := d.Decode(&p)
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err)
		all = append(all, p)
	}
}

var listed []pkg

// packages are all packages of the module, with what is for browsers only.
func packages(t *testing.T) []pkg {
	t.Helper()
	if listed != nil {
		return listed
	}
	all := list(t, "./...")
	for _, p := range list(t, "./engine/...", "GOOS=js", "GOARCH=wasm") {
		i := slices.IndexFunc(all, func(q pkg) bool { return q.ImportPath == p.ImportPath })
		if i < 0 {
			all = append(all, p)
			continue
		}
		for _, imported := range p.Imports {
			if !slices.Contains(all[i].Imports, imported) {
				all[i].Imports = append(all[i].Imports, imported)
			}
		}
	}
	listed = all
	return all
}

// inside gives the imports that are of the module, shortened.
func inside(imports []string) []string {
	var all []string
	for _, i := range imports {
		if short, ok := strings.CutPrefix(i, module); ok {
			all = append(all, short)
		}
	}
	return all
}

// The table is as tight as the code: what is imported is permitted, what is
// permitted is imported. What tests import is apart.
func TestArrows(t *testing.T) {
	all := packages(t)
	for _, row := range arrows {
		i := slices.IndexFunc(all, func(p pkg) bool { return p.short() == row.of })
		if i < 0 {
			t.Errorf("there is no package %s", row.of)
			continue
		}
		for _, may := range strings.Fields(row.may) {
			if !slices.Contains(all[i].Imports, module+may) {
				t.Errorf("%s may import %s and does not: delete the arrow", row.of, may)
			}
		}
	}
	for _, p := range all {
		if len(p.GoFiles) == 0 {
			continue // tests of the whole
		}
		i := slices.IndexFunc(arrows, func(a arrow) bool { return a.of == p.short() })
		if i < 0 {
			t.Errorf("%s has no row in the table of arrows: say what it may import, and why", p.short())
			continue
		}
		row := arrows[i]
		for _, imported := range inside(p.Imports) {
			if !slices.Contains(strings.Fields(row.may), imported) {
				t.Errorf("%s imports %s; it may import only [%s]: %s", row.of, imported, row.may, row.why)
			}
		}
		if !strings.HasPrefix(row.of, "engine/") {
			continue
		}
		for _, imported := range inside(slices.Concat(p.TestImports, p.XTestImports)) {
			if strings.HasPrefix(imported, "api/") {
				t.Errorf("tests of %s import %s: the engine stands without api", row.of, imported)
			}
		}
	}
}

// The engine is built by people who want nothing else in their module: the
// standard library and refdata. Its tests, which they never compile, may take
// more, but nothing of api.
func TestEngineNeedsTheStandardLibraryOnly(t *testing.T) {
	for _, p := range packages(t) {
		if s := p.short(); !strings.HasPrefix(s, "engine/") && s != "refdata" {
			continue
		}
		for _, imported := range p.Imports {
			first, _, _ := strings.Cut(imported, "/")
			if strings.Contains(first, ".") && !strings.HasPrefix(imported, module) {
				t.Errorf("%s imports %s", p.short(), imported)
			}
		}
		if !strings.HasPrefix(p.short(), "engine/") {
			continue
		}
		for _, imported := range p.Imports {
			why, isWithheld := withheld[imported]
			if imported == "encoding/json" && slices.Contains(encodes, p.short()) {
				continue
			}
			if isWithheld {
				t.Errorf("%s imports %s: %s", p.short(), imported, why)
			}
		}
	}
}

// Whatever is built into the engine, for whichever system, is of the standard
// library, of the engine itself, or refdata.
func TestWhatTheEngineDependsOn(t *testing.T) {
	for _, env := range [][]string{{"GOOS=linux"}, {"GOOS=js", "GOARCH=wasm"}, {"GOOS=android", "GOARCH=arm64"}, {"GOOS=ios", "GOARCH=arm64"}} {
		c := exec.Command("go", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", "./engine/...")
		c.Dir = ".."
		c.Env = append(os.Environ(), env...)
		out, err := c.Output()
		require.NoError(t, err, "%v", env)
		all := strings.Fields(string(out))
		for _, path := range all {
			if path != module+"refdata" && !strings.HasPrefix(path, module+"engine/") {
				t.Errorf("%v: the engine depends on %s", env, path)
			}
		}
		if !slices.Contains(all, module+"engine/mobile") {
			t.Errorf("%v: nothing was listed", env)
		}
	}
}

func TestModulesWithOneOwner(t *testing.T) {
	for _, p := range packages(t) {
		for _, imported := range p.Imports {
			for _, o := range owned {
				if imported == o.path || strings.HasPrefix(imported, o.path+"/") {
					require.Equal(t, o.owner, p.short(), "%s imports %s, which only %s may", p.short(), imported, o.owner)
				}
			}
		}
	}
}

// A package says once what it is for, and what it must not know.
func TestOnePackageCommentEach(t *testing.T) {
	for _, p := range packages(t) {
		var comments []string
		for _, file := range p.GoFiles {
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, file), nil, parser.PackageClauseOnly|parser.ParseComments)
			require.NoError(t, err)
			if f.Doc != nil {
				comments = append(comments, f.Doc.Text())
			}
		}
		switch {
		case len(p.GoFiles) == 0: // tests only
		case len(comments) != 1:
			t.Errorf("%s has %d package comments", p.short(), len(comments))
		case !strings.HasPrefix(comments[0], "Package ") && !strings.HasPrefix(comments[0], "Command "),
			!strings.Contains(strings.Join(strings.Fields(comments[0]), " "), "must not"):
			t.Errorf("%s: the comment should say what it is for, then what it must not know:\n%s", p.short(), comments[0])
		}
	}
}

// Whoever imports this module sees what ships, its test libraries, and the one
// tool that makes a part of it. Tools that only check stand in .ci.
func TestOneTool(t *testing.T) {
	c := exec.Command("go", "mod", "edit", "-json")
	c.Dir = ".."
	out, err := c.Output()
	require.NoError(t, err)
	var mod struct{ Tool []struct{ Path string } }
	require.NoError(t, json.Unmarshal(out, &mod))
	require.Len(t, mod.Tool, 1)
	require.Equal(t, "github.com/swaggo/swag/cmd/swag", mod.Tool[0].Path)
}

func TestNoReplacements(t *testing.T) {
	for _, path := range []string{"go.mod", ".ci/tools.mod"} {
		c := exec.Command("go", "mod", "edit", "-json", path)
		c.Dir = ".."
		out, err := c.Output()
		require.NoError(t, err)
		var mod struct{ Replace []any }
		require.NoError(t, json.Unmarshal(out, &mod))
		if len(mod.Replace) > 0 {
			t.Errorf("%s replaces %v: whoever imports this module would not get that", path, mod.Replace)
		}
	}
}
