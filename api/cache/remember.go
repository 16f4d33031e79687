package cache

import (
	"context"
	"encoding/json"
	"fmt"

	"golang.org/x/sync/singleflight"

	"github.com/knurl-hvacr/knurl/api/ask"
)

// Remember answers from the store what was answered before, and computes equal
// questions in flight once. What it keeps are the bytes of an answer, so that
// an answer kept and one just computed are the same to the last byte. scope
// stands for the operation and every revision that an answer depends on; a
// question must be told whole by its JSON. Errors are never kept.
func Remember[Q any](next ask.Func[Q, []byte], store Store, scope string) ask.Func[Q, []byte] {
	var flights singleflight.Group
	return func(ctx context.Context, q Q) ([]byte, error) {
		spelled, err := json.Marshal(q)
		if err != nil {
			return nil, fmt.Errorf("cache: a question without a key: %w", err)
		}
		key := scope + "\n" + string(spelled)
		for {
			if answer, ok := store.Get(ctx, key); ok {
				return answer, nil
			}
			mine := false
			landed, _, _ := flights.Do(key, func() (any, error) { // the flight holds the error
				mine = true
				answer, err := next(ctx, q)
				if err == nil {
					store.Set(ctx, key, answer)
				}
				return flight{answer, err, ctx.Err() != nil}, nil
			})
			f := landed.(flight)
			if f.err != nil && f.abandoned && !mine && ctx.Err() == nil {
				continue // another caller lost interest, this one has not
			}
			return f.answer, f.err
		}
	}
}

// flight is how the computation of a question ended.
type flight struct {
	answer []byte
	err    error
	// abandoned: whoever computed it was not waited for any longer.
	abandoned bool
}
