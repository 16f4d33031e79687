// Package page makes what people look at: the diagram as SVG, the printable
// record of a visit and the contract's page as HTML. It writes answers of
// package query and the published document and must not compute anything of
// its own, load anything from elsewhere, or know how it is served.
package page

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/phrase"
)

//go:embed *.tmpl *.css *.js
var files embed.FS

// asset is the text of an embedded file.
func asset(name string) string {
	text, err := files.ReadFile(name)
	if err != nil {
		panic(err) // embedded
	}
	return strings.TrimSpace(string(text))
}

func parse(name string) *template.Template {
	return template.Must(template.New(name).Funcs(template.FuncMap{
		"words": words[string], "sentence": sentence[string], "figure": figure, "percent": percent, "capital": phrase.Capital, "id": identifier, "left": left, "set": set,
	}).ParseFS(files, name))
}

// allowed is the source expression of Content Security Policy Level 3 for one
// inline style or script.
func allowed(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// nothing is the policy that everything begins with: no source of any kind,
// no frame around it, no form, no other base.
const nothing = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// Policies for the header Content-Security-Policy of each page: their own
// style, and for the contract's page its own script, requests to where it came
// from, and pictures that the script was answered.
var (
	DiagramPolicy = nothing + "; style-src " + allowed(asset("diagram.css"))
	RecordPolicy  = nothing + "; style-src " + allowed(asset("record.css"))
	DocsPolicy    = nothing + "; style-src " + allowed(asset("docs.css")) + "; script-src " + allowed(asset("docs.js")) + "; connect-src 'self'; img-src blob:"
)
