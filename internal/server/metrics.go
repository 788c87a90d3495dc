package server

import (
	"bytes"
	"fmt"
	"maps"
	"net"
	"net/http"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// tally counts what was asked and how it went, for /metrics: routes are
// patterns, so no id, name or address is in it.
type tally struct {
	mu      sync.Mutex
	answers map[answerKind]int64
	times   map[string]*histogram // by route
	refused map[string]int64      // failures of the program or its storage, by code
}

type answerKind struct {
	route  string
	status int
}

// timeBounds are the upper bounds of the histogram of answer times, s; the 0.2
// and the 1 are the bars for a club.
var timeBounds = [...]float64{0.005, 0.01, 0.025, 0.05, 0.1, 0.2, 0.5, 1, 2.5, 10, 60}

type histogram struct {
	counts [len(timeBounds) + 1]int64
	sum    float64
}

func (t *tally) answered(route string, status int, took time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.answers == nil {
		t.answers, t.times = map[answerKind]int64{}, map[string]*histogram{}
	}
	t.answers[answerKind{route, status}]++
	h := t.times[route]
	if h == nil {
		h = &histogram{}
		t.times[route] = h
	}
	i, _ := slices.BinarySearch(timeBounds[:], took.Seconds())
	h.counts[i]++
	h.sum += took.Seconds()
}

func (t *tally) failed(code string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.refused == nil {
		t.refused = map[string]int64{}
	}
	t.refused[code]++
}

// serveMetrics answers in the text format of Prometheus (version 0.0.4), to
// this machine alone unless the configuration says otherwise.
func (s *server) serveMetrics(w http.ResponseWriter, r *http.Request) {
	if ip := net.ParseIP(addressOf(r, s.Proxied)); !s.Metrics && (ip == nil || !ip.IsLoopback()) {
		writeProblem(w, r, newProblem(http.StatusNotFound, codeNotFound, "There is nothing at this address.", "The metrics are read on the machine itself, or with serve --metrics."))
		return
	}
	var b bytes.Buffer
	s.tally.write(&b)
	s.writeState(&b)
	writeRuntime(&b)
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	if _, err := b.WriteTo(w); err != nil {
		return // the client has gone
	}
}

// family begins a group of samples.
func family(b *bytes.Buffer, name, kind, help string) {
	fmt.Fprintf(b, "# HELP %s %s\n# TYPE %s %s\n", name, help, name, kind)
}

// single writes a group of one sample.
func single(b *bytes.Buffer, name, kind, help string, value float64) {
	family(b, name, kind, help)
	fmt.Fprintf(b, "%s %s\n", name, number(value))
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// label quotes a label's value.
func label(v string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`).Replace(v) + `"`
}

func (t *tally) write(b *bytes.Buffer) {
	t.mu.Lock()
	defer t.mu.Unlock()
	family(b, "tautline_requests_total", "counter", "Requests answered, by route and status.")
	kinds := slices.SortedFunc(maps.Keys(t.answers), func(x, y answerKind) int {
		if c := strings.Compare(x.route, y.route); c != 0 {
			return c
		}
		return x.status - y.status
	})
	for _, k := range kinds {
		fmt.Fprintf(b, "tautline_requests_total{route=%s,status=\"%d\"} %d\n", label(k.route), k.status, t.answers[k])
	}
	family(b, "tautline_request_seconds", "histogram", "Time to answer, by route.")
	for _, route := range slices.Sorted(maps.Keys(t.times)) {
		t.times[route].write(b, label(route))
	}
	family(b, "tautline_errors_total", "counter", "Requests that the program or its storage failed, by code.")
	for _, code := range slices.Sorted(maps.Keys(t.refused)) {
		fmt.Fprintf(b, "tautline_errors_total{code=%s} %d\n", label(code), t.refused[code])
	}
}

func (h *histogram) write(b *bytes.Buffer, route string) {
	sum := int64(0)
	for i, n := range h.counts {
		sum += n
		bound := "+Inf"
		if i < len(timeBounds) {
			bound = number(timeBounds[i])
		}
		fmt.Fprintf(b, "tautline_request_seconds_bucket{route=%s,le=\"%s\"} %d\n", route, bound, sum)
	}
	fmt.Fprintf(b, "tautline_request_seconds_sum{route=%s} %s\ntautline_request_seconds_count{route=%s} %d\n", route, number(h.sum), route, sum)
}

// writeState writes how the notebook, its backups and its queue stand.
func (s *server) writeState(b *bytes.Buffer) {
	family(b, "tautline_info", "gauge", "The program's version.")
	fmt.Fprintf(b, "tautline_info{version=%s} 1\n", label(s.Version))
	single(b, "tautline_writable", "gauge", "1 while the notebook takes writing.", oneIf(s.Notebook.Writable() == nil))
	single(b, "tautline_panics_total", "counter", "Caught panics. Any is worth a report.", float64(s.counts.panics.Load()))
	single(b, "tautline_shed_total", "counter", "Requests refused because there was more to do than could be done.", float64(s.counts.shed.Load()))
	single(b, "tautline_open_work", "gauge", "Long calculations that hold a place in the queue.", float64(len(s.queue.places)))
	single(b, "tautline_waiting_work", "gauge", "Long calculations that wait for a place.", float64(s.queue.waiting.Load()))
	single(b, "tautline_open_work_places", "gauge", "Places in that queue.", float64(cap(s.queue.places)))
	if s.Backups == nil {
		return
	}
	now := s.Backups()
	if !now.Last.IsZero() {
		single(b, "tautline_backup_age_seconds", "gauge", "Age of the last proved backup.", s.Now().Sub(now.Last).Seconds())
		single(b, "tautline_backup_seconds", "gauge", "Time the last backup took; 0 if it was made before this start.", now.Took.Seconds())
	}
	single(b, "tautline_backup_failed", "gauge", "1 when the last try to make a backup failed.", oneIf(now.Failed != nil))
	single(b, "tautline_recordings_lost", "gauge", "Recordings missing or damaged in the notebook at the last backup.", float64(now.Lost))
}

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// writeRuntime writes the usual figures of a Go program and its process.
func writeRuntime(b *bytes.Buffer) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	family(b, "go_info", "gauge", "The version of Go.")
	fmt.Fprintf(b, "go_info{version=%s} 1\n", label(runtime.Version()))
	single(b, "go_goroutines", "gauge", "Goroutines.", float64(runtime.NumGoroutine()))
	single(b, "go_memstats_heap_alloc_bytes", "gauge", "Bytes of allocated heap objects.", float64(m.HeapAlloc))
	single(b, "go_memstats_sys_bytes", "gauge", "Bytes taken from the system.", float64(m.Sys))
	single(b, "go_gc_cycles_total", "counter", "Completed collections of garbage.", float64(m.NumGC))
	if open, err := os.ReadDir("/proc/self/fd"); err == nil { // Linux only
		single(b, "process_open_fds", "gauge", "Open file descriptors.", float64(len(open)))
	}
	if resident, ok := residentBytes(); ok {
		single(b, "process_resident_memory_bytes", "gauge", "Resident memory.", resident)
	}
}

// residentBytes reads the second number of /proc/self/statm (proc_pid_statm(5)).
func residentBytes() (float64, bool) {
	raw, err := os.ReadFile("/proc/self/statm")
	fields := strings.Fields(string(raw))
	if err != nil || len(fields) < 2 {
		return 0, false
	}
	pages, err := strconv.ParseFloat(fields[1], 64)
	return pages * float64(os.Getpagesize()), err == nil
}
