//go:build js && wasm

// Command wasm is the engine for JavaScript: knurl.js beside it starts it and
// is what others import. It must not know any operation in particular.
package main

import (
	"syscall/js"

	"github.com/knurl-hvacr/knurl/engine/call"
	"github.com/knurl-hvacr/knurl/engine/query"
)

func main() {
	engine := call.New(query.New())
	ask := js.FuncOf(func(_ js.Value, args []js.Value) any {
		status, answer := engine.Ask(args[0].String(), args[1].String(), []byte(args[2].String()))
		return map[string]any{"status": status, "answer": string(answer)}
	})
	js.Global().Call("knurlStarted", ask, call.EngineRevision(), call.DataRevision())
	select {}
}
