//go:build unix

package drill

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"time"
)

// Program is the real binary serving one notebook on one port, again and again.
type Program struct {
	Data   string   // the notebook's folder; "": where the program itself likes
	Listen string   // host:port
	Args   []string // more arguments of serve
	Env    []string // more environment
	Wrap   []string // a command to run it under that execs it, such as strace -D
	// Dial connects to it; nil: as usual.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)

	bin  string
	race string // where a race-detecting binary writes what it finds
	cmd  *exec.Cmd
	gone chan struct{}
	said page
}

// Program prepares the binary on a folder and a free port.
func (r *Run) Program(data string, args ...string) *Program {
	return &Program{Data: data, Listen: freeAddress(), Args: args, bin: r.bin, race: filepath.Join(r.dir, raceName)}
}

// Command prepares another command of the binary on the same notebook.
func (p *Program) Command(ctx context.Context, args ...string) *exec.Cmd {
	line := append(append([]string{}, p.Wrap...), p.bin)
	line = append(line, args...)
	if p.Data != "" {
		line = append(line, "--data", p.Data)
	}
	c := exec.CommandContext(ctx, line[0], line[1:]...)
	c.Env = append(append(os.Environ(), "TAUTLINE_DATABASE=", "GORACE=log_path="+p.race), p.Env...)
	return c
}

// Start runs the program and waits until it can be used.
func (p *Program) Start(ctx context.Context) error {
	if err := p.Launch(ctx); err != nil {
		return err
	}
	return p.Ready(ctx)
}

// Launch runs the program without waiting.
func (p *Program) Launch(ctx context.Context) error {
	p.cmd = p.Command(ctx, append([]string{"serve", "--listen", p.Listen}, p.Args...)...)
	p.cmd.Stdout, p.cmd.Stderr = &p.said, &p.said
	if err := p.cmd.Start(); err != nil {
		return err
	}
	p.gone = make(chan struct{})
	go func() {
		defer close(p.gone)
		_ = p.cmd.Wait() // how it ended is asked of ProcessState
	}()
	return nil
}

// startTime is how long the program may take to answer, on a busy machine and
// under strace.
const startTime = 60 * time.Second

// Ready waits until the notebook can be read and written.
func (p *Program) Ready(ctx context.Context) error {
	client, last := p.client(), ""
	for deadline := time.Now().Add(startTime); time.Now().Before(deadline) && ctx.Err() == nil; time.Sleep(2 * time.Millisecond) {
		answer, err := client.Get(p.URL() + "/api/v1/ready")
		if err == nil {
			text, _ := io.ReadAll(answer.Body) // only said when it stays unready
			answer.Body.Close()
			if answer.StatusCode == http.StatusOK {
				return nil
			}
			last = string(text)
		}
		select {
		case <-p.gone:
			return fmt.Errorf("the program ended (%v): %s", p.cmd.ProcessState, p.Said())
		default:
		}
	}
	p.Kill()
	return fmt.Errorf("the program is not ready: %s %s", last, p.Said())
}

// client asks it something once.
func (p *Program) client() *http.Client {
	return &http.Client{Timeout: 5 * time.Second, Transport: &http.Transport{DisableKeepAlives: true, DialContext: p.Dial}}
}

// URL is where it is asked.
func (p *Program) URL() string { return "http://" + p.Listen }

// Said is all it wrote.
func (p *Program) Said() string { return p.said.String() }

// Kill ends the program as kill -9 does, and waits for its end. It may have
// ended already.
func (p *Program) Kill() {
	if p.cmd == nil || p.cmd.Process == nil {
		return
	}
	_ = p.cmd.Process.Kill() // gone is gone
	<-p.gone
}

// Stop asks the program to end, and waits for it.
func (p *Program) Stop() error {
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil && !errors.Is(err, os.ErrProcessDone) {
		return err
	}
	select {
	case <-p.gone:
	case <-time.After(startTime):
		p.Kill()
		return errors.New("the program did not end after SIGTERM")
	}
	if code := p.cmd.ProcessState.ExitCode(); code != 0 {
		return fmt.Errorf("the program ended with %d: %s", code, p.Said())
	}
	return nil
}

// Signal sends it a signal.
func (p *Program) Signal(s os.Signal) error { return p.cmd.Process.Signal(s) }

// Ended says how it ended, once it is gone.
func (p *Program) Ended() string { return p.cmd.ProcessState.String() }

// Gone is closed when the program has ended.
func (p *Program) Gone() <-chan struct{} { return p.gone }

// PID is the running program's.
func (p *Program) PID() int { return p.cmd.Process.Pid }

// Run runs another command of the binary on the notebook and gives what it
// printed, both ways.
func (p *Program) Run(ctx context.Context, args ...string) (string, error) {
	out, err := p.Command(ctx, args...).CombinedOutput()
	return string(out), err
}

func freeAddress() string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err) // no network on this machine
	}
	defer l.Close()
	return l.Addr().String()
}

// page is text that several may write.
type page struct {
	mu   sync.Mutex
	text bytes.Buffer
}

// Write adds to it.
func (p *page) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.Write(b)
}

// String is what was written.
func (p *page) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}
