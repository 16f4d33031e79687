// Package call answers requests of the wire with bytes: method, path and body
// as the OpenAPI document has them in, the JSON of an answer or of a problem
// out. It is what bindings to other languages share, and must not know any of
// those languages, nor HTTP.
package call

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/operation"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Engine answers requests. It is safe for concurrent use.
type Engine struct {
	engine     *query.Engine
	operations operation.Registry
}

// New makes an Engine of e.
func New(e *query.Engine) *Engine { return &Engine{e, operation.All()} }

// Ask answers one request. target is the path with its query string, such as
// /v1/diagnosis?units=si; body is the JSON of the question, and not looked at
// where the operation takes none. status is that of the service: 200 with an
// answer, else that of the problem (RFC 9457), which lists every error of the
// question. A panic is answered by a problem of its own and tells nothing.
func (e *Engine) Ask(method, target string, body []byte) (status int, answer []byte) {
	defer func() {
		if recover() != nil {
			status, answer = refuse(problem.InternalError.Of("", nil))
		}
	}()
	path, values, _ := strings.Cut(target, "?")
	served, parameter := e.operations.At(path)
	o, ok := served[method]
	switch {
	case ok:
		answer, err := answerOf(e.engine, o, question.New(parameter, values), body)
		if err == nil {
			return 200, answer
		}
		p, ok := problem.From(err)
		if !ok {
			p = problem.InternalError.Of("", nil)
		}
		return refuse(p)
	case len(served) > 0:
		return refuse(problem.MethodNotAllowed.Of("this path takes "+strings.Join(slices.Sorted(maps.Keys(served)), ", "), nil))
	}
	return refuse(problem.NotFound.Of("no operation has this path", nil))
}

// answerOf asks the engine, also where a question came with errors and enough
// of it was read, so that one problem lists them all.
func answerOf(e *query.Engine, o operation.Operation, in *question.Input, body []byte) ([]byte, error) {
	q := o.Read(in, body)
	if err := in.Finish(); err != nil {
		return nil, err
	}
	a, err := o.Ask(e, q, in.As())
	if err = in.Join(err); err != nil {
		return nil, err
	}
	return encode(a)
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
