package e2e

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// root is the project's folder, as seen from this package.
const root = "../.."

// built is where the program is built, for all tests of this package.
var built string

// TestMain gives the built program a folder, and clears it away.
func TestMain(m *testing.M) {
	os.Exit(func() int {
		dir, err := os.MkdirTemp("", "tautline-e2e")
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		defer func() {
			if err := os.RemoveAll(dir); err != nil {
				fmt.Fprintln(os.Stderr, err)
			}
		}()
		built = filepath.Join(dir, "tautline")
		return m.Run()
	}())
}

// program builds the program once, with its pages in it, and gives its path.
var program = sync.OnceValues(func() (string, error) {
	if err := bundle(); err != nil {
		return "", err
	}
	return built, run("go", "build", "-o", built, ".")
})

// errNoBundle says what the pages lack to be built here.
var errNoBundle = errors.New("the pages are not bundled, and web/node_modules is missing: run make web")

// bundle makes the pages where a clean clone has none.
func bundle() error {
	if exists(filepath.Join(root, "web/dist/index.html")) {
		return nil
	}
	if !exists(filepath.Join(root, "web/node_modules")) {
		return errNoBundle
	}
	return run("go", "run", "./web/build")
}

func run(name string, args ...string) error {
	cmd := exec.Command(name, args...)
	cmd.Dir = root
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s %v: %w\n%s", name, args, err, out)
	}
	return nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// notebook is the program serving an empty folder on this machine. It can be
// killed and started again at the same address.
type notebook struct {
	t    testing.TB
	dir  string
	addr string
	more []string // further flags of serve
	said hearsay  // what it printed beside its answers
	cmd  *exec.Cmd
}

func openNotebook(t testing.TB, more ...string) *notebook {
	t.Helper()
	n := &notebook{t: t, dir: t.TempDir(), addr: freeAddress(t), more: more}
	n.start()
	t.Cleanup(func() {
		if n.cmd != nil {
			n.kill()
		}
	})
	return n
}

// hearsay is text that one process writes while another reads.
type hearsay struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (h *hearsay) Write(b []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.Write(b)
}

func (h *hearsay) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.String()
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	return l.Addr().String()
}

// start serves the folder and waits until it answers.
func (n *notebook) start() {
	n.t.Helper()
	path, err := program()
	if errors.Is(err, errNoBundle) {
		n.t.Skip(err)
	}
	if err != nil {
		n.t.Fatal(err)
	}
	n.cmd = exec.Command(path, append([]string{"serve", "--data", n.dir, "--listen", n.addr}, n.more...)...)
	n.cmd.Stderr = io.MultiWriter(n.t.Output(), &n.said)
	if err := n.cmd.Start(); err != nil {
		n.t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(n.t.Context(), 15*time.Second)
	defer cancel()
	for ctx.Err() == nil {
		if res, err := http.Get(n.url("/api/v1/ready")); err == nil {
			closed := res.Body.Close()
			if res.StatusCode == http.StatusOK && closed == nil {
				n.promises()
				return
			}
		}
		time.Sleep(20 * time.Millisecond)
	}
	n.t.Fatal("the program did not answer within 15 s")
}

// kill ends the program as a power cut would: no chance to tidy up.
func (n *notebook) kill() {
	n.t.Helper()
	if err := n.cmd.Process.Kill(); err != nil {
		n.t.Error(err)
	}
	if err := n.cmd.Wait(); err == nil {
		n.t.Error("the program ended by itself before it was killed")
	}
	n.cmd = nil
}

func (n *notebook) url(path string) string { return "http://" + n.addr + path }

// get reads one answer of the API.
func (n *notebook) get(path string, into any) {
	n.t.Helper()
	res, err := http.Get(n.url("/api/v1" + path))
	if err != nil {
		n.t.Fatal(err)
	}
	err = errors.Join(json.NewDecoder(res.Body).Decode(into), res.Body.Close())
	if err != nil || res.StatusCode != http.StatusOK {
		n.t.Fatalf("GET %s: status %d, %v", path, res.StatusCode, err)
	}
}
