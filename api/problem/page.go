package problem

import (
	"html/template"
	"io"

	"github.com/knurl-hvacr/knurl/engine/problem"
)

var page = template.Must(template.New("problem").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{.Title}}</title>
</head>
<body>
<main>
<h1>{{.Title}}</h1>
<p>Status {{.Status}}, type <code>{{.Type}}</code></p>
<h2>What it means</h2>
<p>{{.Meaning}}</p>
<h2>What to do</h2>
<p>{{.Action}}</p>
</main>
</body>
</html>
`))

// WriteHTML writes a description as a page to read.
func WriteHTML(w io.Writer, d problem.Description) error { return page.Execute(w, d) }
