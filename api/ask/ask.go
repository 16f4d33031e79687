// Package ask is the shape that every operation has between HTTP and the
// engine: a function from question to answer, wrapped by decorators. It must
// not know any operation in particular.
package ask

import "context"

// Func answers question Q with answer A. Handlers call it, decorators wrap it.
type Func[Q, A any] func(context.Context, Q) (A, error)

// Pure lifts an engine's function, which does no input or output and so needs
// no context, into a Func.
func Pure[Q, A any](f func(Q) (A, error)) Func[Q, A] {
	return func(_ context.Context, q Q) (A, error) { return f(q) }
}

// Stoppable lifts a method of an engine that computes long enough to be
// stopped: until gives the engine as the request of ctx may use it, which asks
// now and then whether the caller still waits.
func Stoppable[E, Q, A any](until func(context.Context) E, method func(E, Q) (A, error)) Func[Q, A] {
	return func(ctx context.Context, q Q) (A, error) { return method(until(ctx), q) }
}
