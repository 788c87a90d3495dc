package workbench

import (
	"context"
	"runtime"
	"sync"
	"time"
)

type spareKey struct{}

// WithSpare gives a context in which long work takes more than one processor
// only while spare says that there is one; it is asked often and from several
// goroutines. What is computed does not hang on it.
func WithSpare(ctx context.Context, spare func() bool) context.Context {
	return context.WithValue(ctx, spareKey{}, spare)
}

// askAgain is how soon a processor that was wanted is asked for again.
const askAgain = 2 * time.Millisecond

// each runs work 0 to n−1 on all cores, or on one where others want them
// (WithSpare); the order has no part in the results.
func each(ctx context.Context, n int, work func(int)) error {
	spare, ok := ctx.Value(spareKey{}).(func() bool)
	if !ok {
		spare = func() bool { return true }
	}
	jobs, over := make(chan int), make(chan struct{})
	var wait sync.WaitGroup
	for k := range min(runtime.GOMAXPROCS(0), runtime.NumCPU(), n) {
		wait.Go(func() {
			for {
				if k > 0 && !spare() {
					select {
					case <-over:
						return
					case <-time.After(askAgain):
						continue
					}
				}
				j, more := <-jobs
				if !more {
					return
				}
				work(j)
			}
		})
	}
	for j := range n {
		if ctx.Err() != nil {
			break
		}
		jobs <- j
	}
	close(jobs)
	close(over)
	wait.Wait()
	return ctx.Err()
}
