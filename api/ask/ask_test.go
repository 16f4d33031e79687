package ask_test

import (
	"context"
	"errors"
	"testing"

	"github.com/knurl-hvacr/knurl/api/ask"
)

func TestPure(t *testing.T) {
	refused := errors.New("refused")
	double := ask.Pure(func(q int) (int, error) {
		if q < 0 {
			return 0, refused
		}
		return 2 * q, nil
	})
	if a, err := double(t.Context(), 21); a != 42 || err != nil {
		t.Errorf("%d, %v", a, err)
	}
	if _, err := double(t.Context(), -1); !errors.Is(err, refused) {
		t.Errorf("%v", err)
	}
}

// engine is one that only tells whether it was to stop.
type engine struct{ stop func() bool }

func (e engine) stopped(string) (bool, error) { return e.stop(), nil }

func TestStoppable(t *testing.T) {
	f := ask.Stoppable(func(ctx context.Context) engine {
		return engine{func() bool { return ctx.Err() != nil }}
	}, engine.stopped)
	if stopped, err := f(t.Context(), "q"); stopped || err != nil {
		t.Errorf("%v, %v", stopped, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if stopped, err := f(ctx, "q"); !stopped || err != nil {
		t.Errorf("cancelled: %v, %v", stopped, err)
	}
}
