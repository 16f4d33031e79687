// Package ask is the shape that every operation has between HTTP and the
// engine: a function from question to answer, wrapped by decorators. It must
// not know any operation in particular.
package ask

import "context"

// Func answers question Q with answer A. Handlers call it, decorators wrap it.
type Func[Q, A any] func(context.Context, Q) (A, error)
