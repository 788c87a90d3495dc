package store

import (
	"context"
	"errors"
	"slices"
	"testing"
)

// One failure gives up the rest, and is what is told.
func TestTogether(t *testing.T) {
	bad := errors.New("bad")
	waits := func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() }
	if err := together(t.Context(), waits, func(context.Context) error { return bad }, waits); !errors.Is(err, bad) {
		t.Errorf("gave %v", err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if err := together(ctx, waits, waits); !errors.Is(err, context.Canceled) {
		t.Errorf("given up, it gave %v", err)
	}
}

// While people are served, one thing is done after the other, none after a
// failure.
func TestUnhurried(t *testing.T) {
	bad := errors.New("bad")
	var done []int
	step := func(n int, err error) func(context.Context) error {
		return func(context.Context) error { done = append(done, n); return err } // the race detector sees two at once
	}
	if err := together(unhurried(t.Context()), step(0, nil), step(1, bad), step(2, nil)); !errors.Is(err, bad) || !slices.Equal(done, []int{0, 1}) {
		t.Errorf("did %v: %v", done, err)
	}
}

// Pieces come in their order; a taker that fails stops the giver, and a giver
// the taker.
func TestHandOn(t *testing.T) {
	t.Run("side by side", func(t *testing.T) { testHandOn(t, t.Context()) })
	t.Run("in turn", func(t *testing.T) { testHandOn(t, unhurried(t.Context())) })
}

func testHandOn(t *testing.T, ctx context.Context) {
	bad := errors.New("bad")
	for name, fails := range map[string]struct{ giving, taking int }{"all": {1 << 30, 1 << 30}, "giving": {50, 1 << 30}, "taking": {1 << 30, 30}} {
		var taken []int
		err := handOn(ctx, func(_ context.Context, on func(int) error) error {
			for n := range 100 {
				if n == fails.giving {
					return bad
				}
				if err := on(n); err != nil {
					return err
				}
			}
			return nil
		}, func(_ context.Context, n int) error {
			if n == fails.taking {
				return bad
			}
			taken = append(taken, n)
			return nil
		})
		if want := min(100, fails.giving, fails.taking); len(taken) != want || (want < 100) != errors.Is(err, bad) {
			t.Errorf("%s: %d taken, not %d: %v", name, len(taken), want, err)
		}
		for n, have := range taken {
			if n != have {
				t.Fatalf("%s: %d came as number %d", name, have, n)
			}
		}
	}
}
