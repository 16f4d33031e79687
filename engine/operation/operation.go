// Package operation is the one registry of what can be asked: the name, the
// address, the question and how the engine answers it. It must not know how
// requests arrive, nor in what form an answer leaves.
package operation

import (
	"net/url"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// Operation is one thing that can be asked, at its address.
type Operation struct {
	// Name is the operation's identifier in the OpenAPI document.
	Name   string
	Method string
	// Path as the document has it: a part in braces is a parameter.
	Path string

	question, answer any // zero values
	read             func(*question.Input, []byte) any
	ask              func(*query.Engine, any, query.Presentation) (any, error)
}

// Get makes an operation whose question stands in path and query string.
func Get[Q, A any](name, path string, read func(*question.Input) Q, method func(*query.Engine, Q, query.Presentation) (A, error)) Operation {
	return Operation{name, "GET", path, *new(Q), *new(A), func(in *question.Input, _ []byte) any { return read(in) }, asking(method)}
}

// Post makes an operation whose question is the body.
func Post[Q, A any](name, path string, method func(*query.Engine, Q, query.Presentation) (A, error)) Operation {
	read := question.Body[Q]()
	return Operation{name, "POST", path, *new(Q), *new(A), func(in *question.Input, body []byte) any { return read(in, body) }, asking(method)}
}

// asking is a method of the engine for a question of any type, which is Q.
func asking[Q, A any](method func(*query.Engine, Q, query.Presentation) (A, error)) func(*query.Engine, any, query.Presentation) (any, error) {
	return func(e *query.Engine, q any, as query.Presentation) (any, error) { return method(e, q.(Q), as) }
}

// HasBody reports whether the question is the body of the request.
func (o Operation) HasBody() bool { return o.Method == "POST" }

// Shapes gives an empty question and an empty answer, for those who describe
// them.
func (o Operation) Shapes() (question, answer any) { return o.question, o.answer }

// Read reads the question. What is wrong with it stands in in; where the
// question holds what did fit, Ask finds what else is wrong.
func (o Operation) Read(in *question.Input, body []byte) any { return o.read(in, body) }

// Ask answers a question that Read gave, with the errors of the engine's
// method.
func (o Operation) Ask(e *query.Engine, q any, as query.Presentation) (any, error) {
	return o.ask(e, q, as)
}

// Registry is a list of operations.
type Registry []Operation

// At finds what is served at a path, by method, with the parameters of the
// path by name; none where no operation has the path.
func (r Registry) At(path string) (map[string]Operation, func(name string) string) {
	methods := map[string]Operation{}
	var parameters map[string]string
	for _, o := range r {
		if found, ok := o.match(path); ok {
			methods[o.Method], parameters = o, found
		}
	}
	return methods, func(name string) string { return parameters[name] }
}

func (o Operation) match(path string) (map[string]string, bool) {
	known, given := strings.Split(o.Path, "/"), strings.Split(path, "/")
	if len(known) != len(given) {
		return nil, false
	}
	parameters := map[string]string{}
	for i, part := range known {
		if name, ok := strings.CutPrefix(part, "{"); ok {
			value, err := url.PathUnescape(given[i])
			if err != nil || value == "" {
				return nil, false
			}
			parameters[strings.TrimSuffix(name, "}")] = value
		} else if part != given[i] {
			return nil, false
		}
	}
	return parameters, true
}
