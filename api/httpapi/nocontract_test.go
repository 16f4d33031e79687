//go:build race || nocontract

package httpapi

import "net/http"

// Under the race detector and while fuzzing nobody looks at the document:
// compiling the validator for them takes minutes, and the plain run has looked
// already.

func misfits(*http.Request, *http.Response) []string { return nil }

func unpromised(*http.Request) []string { return nil }
