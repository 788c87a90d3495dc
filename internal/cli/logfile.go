package cli

import (
	"errors"
	"log/slog"
	"os"
	"sync"
)

// logName is the program's own log in the notebook's folder: what started,
// stopped and failed, as JSON, one line each. No request, name or address is in
// it, so that it can go into a support file.
const logName = "tautline.log"

// logBytes is the size at which the log is begun anew; the one before is kept.
const logBytes = 1 << 20

// logFile is a log that keeps its last one to two megabytes. A log that cannot
// be written is no reason to stop.
type logFile struct {
	mu   sync.Mutex
	in   *os.Root // the notebook's folder
	file *os.File
	size int64
}

func openLog(dir string) *logFile {
	l := &logFile{}
	if root, err := os.OpenRoot(dir); err == nil {
		l.in = root
		l.reopen()
	}
	return l
}

func (l *logFile) reopen() {
	f, err := l.in.OpenFile(logName, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		l.file = nil
		return
	}
	l.file, l.size = f, 0
	if info, err := f.Stat(); err == nil {
		l.size = info.Size()
	}
}

// Write adds a line.
func (l *logFile) Write(line []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.file != nil && l.size+int64(len(line)) > logBytes {
		if err := errors.Join(l.file.Close(), l.in.Rename(logName, logName+".1")); err == nil {
			l.reopen()
		}
	}
	if l.file == nil {
		return len(line), nil
	}
	n, err := l.file.Write(line)
	l.size += int64(n)
	return n, err
}

// Close closes the file.
func (l *logFile) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.file == nil {
		return nil
	}
	f := l.file
	l.file = nil
	return errors.Join(f.Close(), l.in.Close())
}

// logger writes warnings to the terminal, or all requests as JSON when they
// are asked for, and what happened to the program to its file.
func (t *terminal) logger(file *logFile, requests bool) *slog.Logger {
	var shown slog.Handler = slog.NewTextHandler(t.err, &slog.HandlerOptions{Level: slog.LevelWarn, ReplaceAttr: inUTC})
	if requests {
		shown = slog.NewJSONHandler(t.err, &slog.HandlerOptions{Level: slog.LevelDebug, ReplaceAttr: inUTC})
	}
	kept := slog.NewJSONHandler(file, &slog.HandlerOptions{Level: slog.LevelInfo, ReplaceAttr: inUTC})
	return slog.New(slog.NewMultiHandler(shown, kept))
}

// inUTC writes times as the log of who did what does, so that the two can be
// laid side by side whatever the machine's zone.
func inUTC(_ []string, a slog.Attr) slog.Attr {
	if a.Value.Kind() == slog.KindTime {
		a.Value = slog.TimeValue(a.Value.Time().UTC())
	}
	return a
}
