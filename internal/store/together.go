package store

import (
	"context"
	"sync"
)

type unhurriedKey struct{}

// unhurried gives a context in which what could be done side by side is done
// one after the other, and in little memory: the program serves people
// meanwhile.
func unhurried(ctx context.Context) context.Context {
	return context.WithValue(ctx, unhurriedKey{}, true)
}

func isUnhurried(ctx context.Context) bool { return ctx.Value(unhurriedKey{}) != nil }

// together does several things at once, and gives them all up when one fails.
func together(ctx context.Context, all ...func(context.Context) error) error {
	if isUnhurried(ctx) {
		for _, do := range all {
			if err := do(ctx); err != nil {
				return err
			}
		}
		return nil
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var group sync.WaitGroup
	var first error // the others are given up for it, and may say so in many words
	var once sync.Once
	for _, do := range all {
		group.Go(func() {
			if err := do(ctx); err != nil {
				once.Do(func() { first = err; stop() })
			}
		})
	}
	group.Wait()
	return first
}

// handOn does two halves of a work side by side, or in turn: one gives pieces,
// the other takes them in their order.
func handOn[T any](ctx context.Context, give func(ctx context.Context, on func(T) error) error, take func(context.Context, T) error) error {
	if isUnhurried(ctx) {
		return give(ctx, func(piece T) error { return take(ctx, piece) })
	}
	pieces := make(chan T, 4)
	return together(ctx,
		func(ctx context.Context) error {
			defer close(pieces)
			return give(ctx, func(piece T) error {
				select {
				case pieces <- piece:
					return nil
				case <-ctx.Done():
					return ctx.Err()
				}
			})
		},
		func(ctx context.Context) error {
			for piece := range pieces {
				if err := take(ctx, piece); err != nil {
					return err
				}
			}
			return nil
		})
}
