//go:build unix

package drill

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"strconv"
	"strings"
	"time"
)

// vitals is what the program holds when nobody asks it anything.
type vitals struct {
	residentMB, mostMB               int // now, and at the worst moment since it started
	threads, descriptors, goroutines int
}

func (v vitals) String() string {
	return fmt.Sprintf("%d MB resident (at most %d), %d descriptors, %d goroutines, %d threads", v.residentMB, v.mostMB, v.descriptors, v.goroutines, v.threads)
}

// vitals lets the connections go and looks, once the program has noticed.
func (d *day) vitals(ctx context.Context) (v vitals) {
	d.l.client.CloseIdleConnections()
	time.Sleep(time.Second)
	text, err := d.metrics(ctx)
	if err != nil {
		d.r.Failf("the program's figures: %v", err)
	}
	v.goroutines = sample(text, "go_goroutines")
	at := "/proc/" + strconv.Itoa(d.p.PID())
	status, err := os.ReadFile(at + "/status")
	if err != nil {
		return v
	}
	v.residentMB, v.mostMB, v.threads = sample(string(status), "VmRSS:")/1024, sample(string(status), "VmHWM:")/1024, sample(string(status), "Threads:")
	if entries, err := os.ReadDir(at + "/fd"); err == nil {
		v.descriptors = len(entries)
	}
	return v
}

// metrics reads the program's own figures, as this machine may.
func (d *day) metrics(ctx context.Context) (string, error) {
	r, err := http.NewRequestWithContext(ctx, "GET", d.p.URL()+"/metrics", nil)
	if err != nil {
		return "", err
	}
	answer, err := d.p.client().Do(r)
	if err != nil {
		return "", err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode != http.StatusOK {
		err = fmt.Errorf("answered %s", answer.Status)
	}
	return string(text), err
}

// sample is the number behind a name at the beginning of a line; 0 for none.
func sample(text, name string) int {
	for line := range strings.Lines(text) {
		if fields := strings.Fields(line); len(fields) > 1 && fields[0] == name {
			if v, err := strconv.ParseFloat(fields[1], 64); err == nil {
				return int(v)
			}
		}
	}
	return 0
}

const (
	mostResident = 300 // MB of a club's program (bars.md T22)
	slack        = 20  // descriptors or goroutines that come and go, such as idle connections to the database
)

func (v vitals) more(before vitals) bool {
	return v.descriptors > before.descriptors+slack || v.goroutines > before.goroutines+slack
}

// rest is how long work that nobody asks about any more may still go on.
const rest = 40 * time.Second

// grown demands that the program, once at rest, holds no more than before, and
// never held too much.
func (d *day) grown(ctx context.Context, over string, before vitals) {
	after := d.vitals(ctx)
	for began := time.Now(); after.more(before) && time.Since(began) < rest && ctx.Err() == nil; {
		after = d.vitals(ctx)
	}
	d.r.Logf("the program before: %v; after %s: %v", before, over, after)
	if after.more(before) {
		d.r.Failf("%s: from %v to %v", over, before, after)
	}
	if after.mostMB > mostResident {
		d.r.Failf("%s: %v, over %d MB", over, after, mostResident)
	}
}

// soakLength is how long the quiet evening at the end is.
func soakLength() (time.Duration, error) {
	text := os.Getenv("TAUTLINE_SOAK")
	if text == "" {
		return 0, nil
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		err = fmt.Errorf("TAUTLINE_SOAK: %w", err)
	}
	return d, err
}

// soak goes on at the usual rate: what the program holds does not grow with
// what it has done.
func (d *day) soak(ctx context.Context, length time.Duration) error {
	if length == 0 {
		return nil
	}
	var first vitals
	for tenth := 1; tenth <= 10 && ctx.Err() == nil; tenth++ {
		d.tell(fmt.Sprintf("soak, %v of %v", length/10*time.Duration(tenth), length), d.l.Run(ctx, usual, length/10), &calmBar)
		if tenth == 1 {
			first = d.vitals(ctx)
		}
		d.grown(ctx, fmt.Sprintf("%v of the soak", length/10*time.Duration(tenth)), first)
	}
	return d.kept(ctx, d.l)
}
