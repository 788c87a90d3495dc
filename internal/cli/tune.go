package cli

import (
	"os"
	"runtime"
	"runtime/debug"
	"sync"
)

// What a program that serves people while it computes asks of its machine
// (measured in docs/decisions/0097).
const (
	// spareThreads more run at a time than there are processors. Go lets a
	// calculation run for 10 ms before it looks after a request that became ready;
	// on a thread of its own the request is let in by the operating system, which
	// prefers who has waited to who computes.
	spareThreads = 2
	// softMemory is where garbage begins to be collected sooner than at twice what
	// is in use (bars.md T23: 300 MB).
	softMemory = 200 << 20
)

// tuned says how many processors there are, and sets the program up once;
// GOMAXPROCS and GOMEMLIMIT in the environment have the last word, and where
// the program may use a share of the machine only, Go itself follows that.
var tuned = sync.OnceValue(func() (cores int) {
	cores = runtime.GOMAXPROCS(0)
	if os.Getenv("GOMAXPROCS") == "" && cores == runtime.NumCPU() {
		runtime.GOMAXPROCS(cores + spareThreads)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(softMemory)
	}
	return cores
})
