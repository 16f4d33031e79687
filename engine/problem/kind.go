package problem

import (
	"fmt"

	"github.com/knurl-hvacr/knurl/engine/query"
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
type Description struct {
	// Type is the reference that problems carry.
	Type string `json:"type" example:"/problems/unreadable-question"`
	// Title is the short name that problems carry.
	Title string `json:"title" example:"The question cannot be read"`
	// Status is the HTTP status that it comes with.
	Status int `json:"status" example:"400"`
	// Meaning says when it arises.
	Meaning string `json:"meaning"`
	// Action says what the client should do.
	Action string `json:"action"`
} //@name ProblemDescription

var descriptions = []struct {
	kind Kind
	Description
}{
	{UnreadableQuestion, Description{
		Title: "The question cannot be read", Status: 400,
		Meaning: "The body or the query string is not what the operation takes: malformed JSON, an unknown, repeated or wrongly typed member, an unknown unit or name. Every error is listed in errors, with a pointer into the body or the name of the parameter.",
		Action:  "Mend each listed place; the same request will fail again.",
	}},
	{InvalidQuestion, Description{
		Title: "The question cannot be answered as it stands", Status: 422,
		Meaning: "The question was read, but its values contradict each other, lie outside what the physics or the data allow, or nothing at all follows from them. Every error is listed in errors.",
		Action:  "Check the readings and units at each listed place with the person who took them.",
	}},
	{UnknownRefrigerant, Description{
		Title: "The refrigerant is not in the catalogue", Status: 404,
		Meaning: "The designation in the path is no spelling of a refrigerant that is known here.",
		Action:  "Look it up under /v1/refrigerants; a mixture of one's own can be asked about by its composition in POST /v1/saturation.",
	}},
	{NotFound, Description{
		Title: "Nothing is served at this path", Status: 404,
		Meaning: "No operation has this path.",
		Action:  "Compare the path with /openapi.json.",
	}},
	{MethodNotAllowed, Description{
		Title: "The path does not take this method", Status: 405,
		Meaning: "The path is served, with other methods: the header Allow lists them.",
		Action:  "Use one of the methods in Allow.",
	}},
	{NotAcceptable, Description{
		Title: "No acceptable form of the answer", Status: 406,
		Meaning: "The header Accept leaves out every media type that the operation can send.",
		Action:  "Accept one of the media types named in detail.",
	}},
	{RequestTimeout, Description{
		Title: "The body did not arrive in time", Status: 408,
		Meaning: "The connection broke off or was too slow while the body was being read.",
		Action:  "Send the request again.",
	}},
	{BodyTooLarge, Description{
		Title: "The body is too large", Status: 413,
		Meaning: "The body is longer than this server reads; of a batch, a line, or there are too many.",
		Action:  "Divide the question into smaller ones, or the batch.",
	}},
	{UnsupportedMediaType, Description{
		Title: "The body is of a media type that is not read", Status: 415,
		Meaning: "The body is not plain application/json, or application/x-ndjson for a batch, in UTF-8 without a content coding.",
		Action:  "Send the Content-Type that the header Accept of the answer names.",
	}},
	{InternalError, Description{
		Title: "The server failed", Status: 500,
		Meaning: "An error of this server, not of the question.",
		Action:  "Report the request_id to whoever runs the server; the same question may be asked again.",
	}},
	{NotReady, Description{
		Title: "The server is not ready", Status: 503,
		Meaning: "The server is starting or stopping.",
		Action:  "Ask another instance, or again in a moment.",
	}},
	{TookTooLong, Description{
		Title: "The answer took too long", Status: 503,
		Meaning: "The server stopped computing when its time for one request was over: it is overloaded, or the question is a very large one.",
		Action:  "Ask again later, or divide the question.",
	}},
	{Unauthorized, Description{
		Title: "A key is needed", Status: 401,
		Meaning: "This server answers those who have a key, and the request carries none that it knows.",
		Action:  "Send the key that the operator of the server gave out: Authorization: Bearer <key>.",
	}},
	{QuotaExceeded, Description{
		Title: "Too many requests", Status: 429,
		Meaning: "More was asked with this key, or from this address where there are no keys, than the server allows in a time: requests altogether, or compositions that it had never seen. The header RateLimit says what is left of the quota of requests.",
		Action:  "Wait as long as Retry-After says.",
	}},
	{Overloaded, Description{
		Title: "The server is busy", Status: 503,
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

// Of is the problem of kind k on one occasion: detail and fields are about
// that occasion and may be empty.
func (k Kind) Of(detail string, fields []query.RequestError) Problem {
	d := k.Describe()
	return Problem{Type: d.Type, Title: d.Title, Status: d.Status, Detail: detail, Errors: fields}
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
