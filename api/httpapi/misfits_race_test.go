//go:build race

package httpapi

import "net/http"

// Under the race detector nobody looks at the document: compiling the
// validator for it takes minutes, and the run without it has looked already.

func misfits(*http.Request, *http.Response) []string { return nil }

func unpromised(*http.Request) []string { return nil }
