// Package call answers requests of the wire with bytes: method, path and body
// as the OpenAPI document has them in, the JSON of an answer or of a problem
// out. It is what bindings to other languages share, and must not know any of
// those languages, nor HTTP.
package call

import (
	"bytes"
	"encoding/json"
	"net/url"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Engine answers requests. It is safe for concurrent use.
type Engine struct {
	engine *query.Engine
}

// New makes an Engine of e.
func New(e *query.Engine) *Engine { return &Engine{e} }

// Ask answers one request. target is the path with its query string, such as
// /v1/diagnosis?units=si; body is the JSON of the question, and not looked at
// where the operation takes none. status is that of the service: 200 with an
// answer, else that of the problem (RFC 9457), which lists every fault of the
// question. A panic is answered by a problem of its own and tells nothing.
func (e *Engine) Ask(method, target string, body []byte) (status int, answer []byte) {
	defer func() {
		if recover() != nil {
			status, answer = refuse(problem.InternalError.Of("", nil))
		}
	}()
	path, values, _ := strings.Cut(target, "?")
	var others []string
	for _, o := range operations {
		parameter, ok := o.at(path)
		if !ok {
			continue
		}
		if o.method != method {
			others = append(others, o.method)
			continue
		}
		answer, err := o.answer(e.engine, question.New(parameter, values), body)
		if err == nil {
			return 200, answer
		}
		p, ok := problem.From(err)
		if !ok {
			p = problem.InternalError.Of("", nil)
		}
		return refuse(p)
	}
	if len(others) > 0 {
		return refuse(problem.MethodNotAllowed.Of("this path takes "+strings.Join(others, ", "), nil))
	}
	return refuse(problem.NotFound.Of("no operation has this path", nil))
}

// EngineRevision changes whenever an equal question could get another number.
func EngineRevision() string { return query.EngineRevision }

// DataRevision changes with the embedded data.
func DataRevision() string { return refdata.Revision() }

func refuse(p problem.Problem) (status int, answer []byte) {
	answer, err := encode(p)
	if err != nil {
		panic(err) // strings and numbers
	}
	return p.Status, answer
}

// encode writes an answer as the service does.
func encode(answer any) ([]byte, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	err := enc.Encode(answer)
	return bytes.TrimSuffix(out.Bytes(), []byte("\n")), err
}

// operation is one operation at its address; a part of the path in braces is a
// parameter.
type operation struct {
	method, path string
	answer       func(*query.Engine, *question.Input, []byte) ([]byte, error)
}

// at gives the parameters of a path that is the operation's.
func (o operation) at(path string) (func(name string) string, bool) {
	known, given := strings.Split(o.path, "/"), strings.Split(path, "/")
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
	return func(name string) string { return parameters[name] }, true
}
