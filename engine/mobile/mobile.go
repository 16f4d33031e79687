// Package mobile is the engine for phones: bytes in, bytes out, in signatures
// that gobind carries to Java, Kotlin, Objective-C and Swift without leaving
// one out. It must not know any operation in particular.
package mobile

import (
	"errors"

	"github.com/knurl-hvacr/knurl/engine/call"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// Engine answers what the service answers, without a network. It may be used
// from several threads; some questions take a second, so keep them off the one
// that draws. One Engine for the life of a program is enough: it keeps the
// saturation curves of refrigerants asked about, some 16 kB each.
type Engine struct {
	engine *call.Engine
}

// NewEngine makes an Engine from the data built in.
func NewEngine() *Engine { return &Engine{call.New(query.New())} }

// Ask answers a request of the OpenAPI document: method is GET or POST, path
// has its query string with it, such as /v1/diagnosis?units=si, and question is
// the JSON body, nil for GET. The answer is JSON.
//
// The text of the error is the problem document (RFC 9457) that the service
// would send: its status, its type, and in errors every fault of the question.
func (e *Engine) Ask(method, path string, question []byte) ([]byte, error) {
	status, answer := e.engine.Ask(method, path, question)
	if status != 200 {
		return nil, errors.New(string(answer))
	}
	return answer, nil
}

// EngineRevision changes whenever an equal question could get another number.
func EngineRevision() string { return call.EngineRevision() }

// DataRevision changes with the data built in.
func DataRevision() string { return call.DataRevision() }
