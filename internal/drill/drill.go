//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// Drill is one thing that may happen to a notebook.
type Drill struct {
	Name  string // D1 …
	Title string // what happens, in a few words
	Short int    // rounds in go test
	Long  int    // rounds in make drills at scale 1
	Run   func(context.Context, *Run) error
}

// All are the drills in their order.
var All = []Drill{
	powerCut,
	kill,
	ioErrors,
	fullDisk,
	backupRestore,
	upgrade,
	hostileFiles,
	intruder,
	manyClients,
	badDay,
	sigterm,
}

// ErrSkip says that the machine cannot run a drill: strace missing, not root.
var ErrSkip = errors.New("drill: cannot run here")

// Skipf is an ErrSkip with its reason.
func Skipf(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrSkip}, args...)...)
}

// Run is one run of a drill.
type Run struct {
	N    int    // rounds to make
	Seed uint64 // of all chance

	bin  string
	dir  string
	disk string
	log  io.Writer
	mu   sync.Mutex
	n    int
	bad  int
	made int
	dice *rand.Rand
	ends []func() error
}

// Result is what a run found.
type Result struct {
	Drill    Drill
	Seed     uint64
	N        int
	Failures int
	Took     time.Duration
}

// String is the line that make drills prints: drill, seed, n, failures.
func (r Result) String() string {
	return fmt.Sprintf("%s %s, %d, %d, %d", r.Drill.Name, r.Drill.Title, r.Seed, r.N, r.Failures)
}

// Do runs a drill with the binary bin. What it finds is written to log; an
// error wrapping ErrSkip says that it could not run here.
func Do(ctx context.Context, d Drill, bin string, seed uint64, n int, log io.Writer) (res Result, err error) {
	dir, err := os.MkdirTemp(scratch(), "tautline-drill-")
	if err != nil {
		return res, err
	}
	disk, err := os.MkdirTemp("", "tautline-drill-")
	if err != nil {
		return res, errors.Join(err, os.RemoveAll(dir))
	}
	r := &Run{N: n, Seed: seed, bin: bin, dir: dir, disk: disk, log: log, dice: rand.New(rand.NewPCG(seed, 0x7a071))}
	begun := time.Now()
	err = d.Run(ctx, r)
	for _, end := range r.ends {
		err = errors.Join(err, end())
	}
	if err != nil && !errors.Is(err, ErrSkip) {
		r.Failf("%v", err)
		err = nil
	}
	if r.races(); r.n == 0 && err == nil {
		r.Failf("no round was made")
	}
	return Result{d, seed, r.n, r.bad, time.Since(begun)}, errors.Join(err, os.RemoveAll(dir), os.RemoveAll(disk))
}

// scratch is where the folders of a drill are made: in memory where there is
// such a place, since what a real disk does is none of a drill's business.
func scratch() string {
	if info, err := os.Stat("/dev/shm"); err == nil && info.IsDir() {
		return "/dev/shm"
	}
	return os.TempDir()
}

// Random gives a source of chance of its own to each caller, in the order of
// the calls.
func (r *Run) Random() *rand.Rand {
	r.mu.Lock()
	defer r.mu.Unlock()
	return rand.New(rand.NewPCG(r.dice.Uint64(), r.dice.Uint64()))
}

// Folder makes an empty folder that goes with the run.
func (r *Run) Folder() string { return r.folder(r.dir) }

// Disk makes an empty folder on a real disk: where a flush takes its time,
// more happens meanwhile.
func (r *Run) Disk() string { return r.folder(r.disk) }

func (r *Run) folder(in string) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.made++
	dir := filepath.Join(in, fmt.Sprintf("%06d", r.made))
	if err := os.Mkdir(dir, 0o700); err != nil {
		panic(err) // the run's own folder is gone
	}
	return dir
}

// Counted counts a round that was made.
func (r *Run) Counted() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.n++
}

// mostSaid keeps the log of a drill that fails everywhere readable.
const mostSaid = 40

// Failf notes something that should not be.
func (r *Run) Failf(format string, args ...any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.bad++
	if r.bad <= mostSaid {
		fmt.Fprintf(r.log, "FAIL "+format+"\n", args...)
	}
}

// Fail notes each of what was found, with where.
func (r *Run) Fail(where string, found []string) {
	for _, f := range found {
		r.Failf("%s: %s", where, f)
	}
}

// Logf tells what a reader of the figures may want to know.
func (r *Run) Logf(format string, args ...any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	fmt.Fprintf(r.log, format+"\n", args...)
}

// AtEnd is called when the run is over.
func (r *Run) AtEnd(f func() error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.ends = append(r.ends, f)
}
