//go:build unix

package drill

import (
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// tracedCalls change files or names. Those that the model of a disk does not
// know are traced too, so that a program that begins to use one is noticed.
const tracedCalls = "open,openat,pwrite64,write,writev,fsync,fdatasync,ftruncate,rename,renameat,renameat2,unlink,unlinkat," +
	"creat,openat2,pwritev,pwritev2,truncate,copy_file_range,sendfile,splice,fallocate,link,linkat,symlink,symlinkat,sync_file_range"

// Strace gives the words to run a program under strace as a child of ours:
// the tracer stands beside it. It is an ErrSkip where there is no strace.
func Strace(options ...string) ([]string, error) {
	path, err := exec.LookPath("strace")
	if err != nil {
		return nil, Skipf("strace is not installed")
	}
	return append([]string{path, "-D", "-f", "-q"}, options...), nil
}

// traceInto are the words to write a program's file calls into a log.
func traceInto(log string) ([]string, error) {
	return Strace("--seccomp-bpf", "-y", "-xx", "-s", "70000", "-o", log, "-e", "trace="+tracedCalls)
}

// readTrace waits until the tracer has written the end of process pid, and
// gives the log's lines with interrupted calls put together where they ended.
func readTrace(log string, pid int) ([]string, error) {
	ended := regexp.MustCompile(`(?m)^` + strconv.Itoa(pid) + ` +\+\+\+ (exited|killed)`)
	for deadline := time.Now().Add(startTime); ; time.Sleep(20 * time.Millisecond) {
		end, err := tail(log, 1<<12)
		if err != nil && !os.IsNotExist(err) {
			return nil, err
		}
		if ended.Match(end) {
			raw, err := os.ReadFile(log)
			return strings.Split(joinResumed(string(raw)), "\n"), err
		}
		if time.Now().After(deadline) {
			return nil, fmt.Errorf("strace did not finish: %s", end)
		}
	}
}

// tail reads a file's last bytes.
func tail(path string, n int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	b := make([]byte, min(n, info.Size()))
	_, err = f.ReadAt(b, info.Size()-int64(len(b)))
	return b, err
}

var unfinishedCall = regexp.MustCompile(`^(\d+) +(.*) <unfinished \.\.\.>$`)
var resumedCall = regexp.MustCompile(`^(\d+) +<\.\.\. \w+ resumed>(.*)$`)

// joinResumed puts calls that were interrupted by other threads together, at
// the place where they ended.
func joinResumed(log string) string {
	begun := map[string]string{}
	var out []string
	for _, line := range strings.Split(log, "\n") {
		if m := unfinishedCall.FindStringSubmatch(line); m != nil {
			begun[m[1]] = m[2]
		} else if m := resumedCall.FindStringSubmatch(line); m != nil {
			out = append(out, m[1]+" "+begun[m[1]]+m[2])
		} else {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

// event is one call on a file below a folder, or an answer that left.
type event struct {
	op     string // open, write, truncate, sync, rename, unlink, answer, end
	path   string // below the folder; "." is the folder itself
	to     string // of a rename
	at     int64
	data   []byte
	answer string // of an answer: its socket
	fresh  bool   // of an open: the file may be made by it
}

// tracer reads the calls of one process.
type tracer struct {
	root   string
	places map[string]int64 // of each descriptor, for plain writes; atEnd for those that append
	events []event
}

// splitCall reads: pid call(arguments) = result. The lines are long and
// many, so this is done by hand.
func splitCall(line string) (name, args, result, resultPath string, ok bool) {
	_, rest, _ := strings.Cut(line, " ")
	name, rest, ok = strings.Cut(strings.TrimLeft(rest, " "), "(")
	end := strings.LastIndex(rest, " = ")
	if !ok || end < 0 || strings.ContainsAny(name, " +-") {
		return "", "", "", "", false
	}
	args = strings.TrimSuffix(strings.TrimRight(rest[:end], " "), ")")
	result, _, _ = strings.Cut(rest[end+3:], " ")
	result, resultPath, _ = strings.Cut(strings.TrimSuffix(result, ">"), "<")
	return name, args, result, resultPath, !strings.HasPrefix(result, "-") && result != "?"
}

// named finds the names of a call's arguments, each with the folder it is in
// where a descriptor of that stands before it; descriptor its first file.
var (
	named      = regexp.MustCompile(`(?:(?:\d+|AT_FDCWD)(?:<([^>]*)>)?, )?"((?:\\x[0-9a-f]{2})*)"`)
	descriptor = regexp.MustCompile(`^(\d+)<([^>]*)>`)
)

// events reads what a process did to the files below a folder.
func eventsOf(lines []string, root string) ([]event, error) {
	t := tracer{root: root, places: map[string]int64{}}
	for _, line := range lines {
		name, args, result, resultPath, ok := splitCall(line)
		if !ok {
			continue // a signal, an end, or a call that failed
		}
		if err := t.call(name, args, result, resultPath); err != nil {
			return nil, fmt.Errorf("%w in %.200s", err, line)
		}
	}
	return t.events, nil
}

func (t *tracer) call(name, args, result, resultPath string) error {
	if strings.HasPrefix(name, "open") || name == "creat" {
		return t.open(name, args, result, unescape(resultPath))
	}
	if strings.HasPrefix(name, "rename") || strings.HasPrefix(name, "unlink") {
		return t.names(name, args)
	}
	fd := descriptor.FindStringSubmatch(args)
	if fd == nil {
		return fmt.Errorf("no descriptor")
	}
	path := unescape(fd[2])
	if name == "write" && (fd[1] == "1" || strings.HasPrefix(path, "socket:") || strings.HasPrefix(path, "TCP:")) {
		data, err := bytesOf(args)
		t.events = append(t.events, event{op: "answer", answer: path, data: data})
		return err
	}
	below, ok := t.below(path)
	if !ok {
		return nil
	}
	return t.file(name, args, fd[1], below)
}

// file is a call on an open file of ours.
func (t *tracer) file(name, args, fd, path string) error {
	switch name {
	case "fsync", "fdatasync":
		t.events = append(t.events, event{op: "sync", path: path})
		return nil
	case "write":
		data, err := bytesOf(args)
		t.events = append(t.events, event{op: "write", path: path, at: t.places[fd], data: data})
		if t.places[fd] != atEnd {
			t.places[fd] += int64(len(data))
		}
		return err
	case "pwrite64":
		data, err := bytesOf(args)
		at, bad := strconv.ParseInt(lastArg(args), 10, 64)
		t.events = append(t.events, event{op: "write", path: path, at: at, data: data})
		if err == nil {
			err = bad
		}
		return err
	case "ftruncate":
		at, err := strconv.ParseInt(lastArg(args), 10, 64)
		t.events = append(t.events, event{op: "truncate", path: path, at: at})
		return err
	}
	return fmt.Errorf("the model of the disk does not know %s", name)
}

func (t *tracer) open(name, args, fd, path string) error {
	below, ok := t.below(path)
	if !ok {
		return nil
	}
	if name != "openat" && name != "open" {
		return fmt.Errorf("the model of the disk does not know %s", name)
	}
	if t.places[fd] = 0; strings.Contains(args, "O_APPEND") {
		t.places[fd] = atEnd
	}
	if strings.Contains(args, "O_CREAT") {
		t.events = append(t.events, event{op: "open", path: below, fresh: true})
	}
	if strings.Contains(args, "O_TRUNC") {
		t.events = append(t.events, event{op: "truncate", path: below})
	}
	return nil
}

// atEnd is the place of a descriptor opened with O_APPEND: each write goes to
// where the file ends at that moment.
const atEnd = -1

func (t *tracer) names(name, args string) error {
	var paths []string
	for _, m := range named.FindAllStringSubmatch(args, -1) {
		path := unescape(m[2])
		if !filepath.IsAbs(path) {
			if !strings.HasPrefix(m[1], "/") && !strings.HasPrefix(m[1], `\x`) {
				return fmt.Errorf("%s of a relative path", name)
			}
			path = filepath.Join(unescape(m[1]), path)
		}
		below, ok := t.below(path)
		if !ok {
			return nil
		}
		paths = append(paths, below)
	}
	switch {
	case strings.HasPrefix(name, "unlink") && len(paths) == 1:
		t.events = append(t.events, event{op: "unlink", path: paths[0]})
	case strings.HasPrefix(name, "rename") && len(paths) == 2:
		t.events = append(t.events, event{op: "rename", path: paths[0], to: paths[1]})
	default:
		return fmt.Errorf("%s with %d names", name, len(paths))
	}
	return nil
}

// below gives a path as seen from the folder. Shared memory of SQLite is left
// out, since it never outlives a power cut, and so are the program's own log and
// the room it holds back, which promise nothing.
func (t *tracer) below(path string) (string, bool) {
	rel, err := filepath.Rel(t.root, path)
	if err != nil || strings.HasPrefix(rel, "..") || strings.HasSuffix(rel, "-shm") || strings.HasPrefix(rel, "tautline.log") || rel == "reserve" {
		return "", false
	}
	return rel, true
}

// bytesOf decodes the first string of a call's arguments.
func bytesOf(args string) ([]byte, error) {
	_, rest, _ := strings.Cut(args, `"`)
	text, rest, ok := strings.Cut(rest, `"`)
	if !ok || strings.HasPrefix(rest, "...") || len(text)%4 != 0 {
		return nil, fmt.Errorf("the bytes are not in the trace")
	}
	digits := make([]byte, 0, len(text)/2)
	for i := 0; i < len(text); i += 4 {
		digits = append(digits, text[i+2], text[i+3])
	}
	b := make([]byte, len(text)/4)
	_, err := hex.Decode(b, digits)
	return b, err
}

func lastArg(args string) string { return strings.TrimSpace(args[strings.LastIndexByte(args, ',')+1:]) }

// unescape reads the paths that -xx wrote in hex.
func unescape(s string) string {
	if raw, err := hex.DecodeString(strings.ReplaceAll(s, `\x`, "")); err == nil {
		return string(raw)
	}
	return s
}
