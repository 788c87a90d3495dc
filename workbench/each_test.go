package workbench

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// Everything is done once, whoever else wants the processors; on one of them
// where they do, and on more where they do not.
func TestEach(t *testing.T) {
	for _, spare := range []bool{true, false} {
		var done [200]atomic.Int32
		var now, most atomic.Int32
		err := each(WithSpare(t.Context(), func() bool { return spare }), len(done), func(k int) {
			here := now.Add(1)
			for old := most.Load(); here > old && !most.CompareAndSwap(old, here); old = most.Load() {
			}
			time.Sleep(time.Millisecond)
			now.Add(-1)
			done[k].Add(1)
		})
		if err != nil {
			t.Fatal(err)
		}
		for k := range done {
			if n := done[k].Load(); n != 1 {
				t.Fatalf("spare %v: work %d was done %d times", spare, k, n)
			}
		}
		if several := most.Load() > 1; several != (spare && min(runtime.GOMAXPROCS(0), runtime.NumCPU()) > 1) {
			t.Errorf("spare %v: %d at once", spare, most.Load())
		}
	}
}

// Processors that are wanted are given back in the middle, and what was given
// up is not done.
func TestEachGivesBack(t *testing.T) {
	all := min(runtime.GOMAXPROCS(0), runtime.NumCPU())
	var spare atomic.Bool
	spare.Store(true)
	var meet sync.WaitGroup
	meet.Add(all)
	var now atomic.Int32
	err := each(WithSpare(t.Context(), spare.Load), 10*all, func(k int) {
		if k < all { // one for each processor: they wait for each other
			meet.Done()
			meet.Wait()
			spare.Store(false)
			return
		}
		if here := now.Add(1); here > 1 {
			t.Errorf("work %d was one of %d at once", k, here)
		}
		runtime.Gosched()
		now.Add(-1)
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if err := each(ctx, 5, func(int) { t.Error("done after it was given up") }); err == nil {
		t.Error("given up, it gave no error")
	}
}
