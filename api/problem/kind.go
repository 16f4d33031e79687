package problem

import (
	"fmt"
	"html/template"
	"io"
	"net/http"

	"github.com/knurl-hvacr/knurl/engine/problem"
)

// Kind is the name of a type of problem: the last part of its address. One
// kind is one thing for the client to do.
type Kind string

// The kinds of problem.
const (
	UnreadableQuestion   Kind = "unreadable-question"
	InvalidQuestion      Kind = "invalid-question"
	UnknownRefrigerant   Kind = "unknown-refrigerant"
	NotFound             Kind = "not-found"
	MethodNotAllowed     Kind = "method-not-allowed"
	NotAcceptable        Kind = "not-acceptable"
	RequestTimeout       Kind = "request-timeout"
	BodyTooLarge         Kind = "body-too-large"
	UnsupportedMediaType Kind = "unsupported-media-type"
	InternalError        Kind = "internal-error"
	NotReady             Kind = "not-ready"
	TookTooLong          Kind = "took-too-long"
	Unauthorized         Kind = "unauthorized"
	QuotaExceeded        Kind = "quota-exceeded"
	Overloaded           Kind = "overloaded"
)

// Description is what a type of problem means.
type Description = problem.Description

var descriptions = []struct {
	kind Kind
	Description
}{
	{UnreadableQuestion, problem.UnreadableQuestion},
	{InvalidQuestion, problem.InvalidQuestion},
	{UnknownRefrigerant, problem.UnknownRefrigerant},
	{NotFound, problem.NotFound},
	{MethodNotAllowed, problem.MethodNotAllowed},
	{NotAcceptable, Description{
		Title: "No acceptable form of the answer", Status: http.StatusNotAcceptable,
		Meaning: "The header Accept leaves out every media type that the operation can send.",
		Action:  "Accept one of the media types named in detail.",
	}},
	{RequestTimeout, Description{
		Title: "The body did not arrive in time", Status: http.StatusRequestTimeout,
		Meaning: "The connection broke off or was too slow while the body was being read.",
		Action:  "Send the request again.",
	}},
	{BodyTooLarge, Description{
		Title: "The body is too large", Status: http.StatusRequestEntityTooLarge,
		Meaning: "The body is longer than this server reads; of a batch, a line, or there are too many.",
		Action:  "Divide the question into smaller ones, or the batch.",
	}},
	{UnsupportedMediaType, Description{
		Title: "The body is of a media type that is not read", Status: http.StatusUnsupportedMediaType,
		Meaning: "The body is not plain application/json, or application/x-ndjson for a batch, in UTF-8 without a content coding.",
		Action:  "Send the Content-Type that the header Accept of the answer names.",
	}},
	{InternalError, problem.InternalError},
	{NotReady, Description{
		Title: "The server is not ready", Status: http.StatusServiceUnavailable,
		Meaning: "The server is starting or stopping.",
		Action:  "Ask another instance, or again in a moment.",
	}},
	{TookTooLong, problem.TookTooLong},
	{Unauthorized, Description{
		Title: "A key is needed", Status: http.StatusUnauthorized,
		Meaning: "This server answers those who have a key, and the request carries none that it knows.",
		Action:  "Send the key that the operator of the server gave out: Authorization: Bearer <key>.",
	}},
	{QuotaExceeded, Description{
		Title: "Too many requests", Status: http.StatusTooManyRequests,
		Meaning: "More was asked with this key, or from this address where there are no keys, than the server allows in a time: requests altogether, or compositions that it had never seen. The header RateLimit says what is left of the quota of requests.",
		Action:  "Wait as long as Retry-After says.",
	}},
	{Overloaded, Description{
		Title: "The server is busy", Status: http.StatusServiceUnavailable,
		Meaning: "As many requests as the server takes at once are under way. Nothing of this one was computed.",
		Action:  "Ask another instance, or again after the time in Retry-After.",
	}},
}

// Describe is the description of k; k must be one of the kinds of this
// package.
func (k Kind) Describe() Description {
	d, ok := Describe(string(k))
	if !ok {
		panic(fmt.Sprintf("problem: no kind %q", k))
	}
	return d
}

// Describe finds a description by its name.
func Describe(name string) (Description, bool) {
	for _, d := range descriptions {
		if string(d.kind) == name {
			d.Type = "/problems/" + name
			return d.Description, true
		}
	}
	return Description{}, false
}

// Kinds lists every kind.
func Kinds() []Kind {
	all := make([]Kind, len(descriptions))
	for i, d := range descriptions {
		all[i] = d.kind
	}
	return all
}

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
func WriteHTML(w io.Writer, d Description) error { return page.Execute(w, d) }
