package cli

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tautline/internal/store"
)

// logLines is how much of the log a support file holds.
const logLines = 300

// supportOf makes the support file of a notebook that is being served, without
// reading every record.
func supportOf(ctx context.Context, book *store.Store, backups string) (string, error) {
	d := &diagnosis{dir: book.Dir()}
	var err error
	if d.backups, err = filepath.Abs(backups); err != nil {
		return "", err
	}
	if d.dir, err = filepath.Abs(d.dir); err != nil {
		return "", err
	}
	if d.private, err = book.Names(ctx); err != nil {
		return "", err
	}
	facts, err := book.Facts(ctx)
	if err != nil {
		return "", err
	}
	d.folder()
	d.tell(facts)
	d.backedUp(ctx, true)
	d.logged()
	var text strings.Builder
	err = d.support(&text)
	return text.String(), err
}

// support writes the support file.
func (d *diagnosis) support(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Tautline support file, made %s.\nNo name, note, reading or address is in it. Read it before you send it.\n\n", time.Now().UTC().Format(time.RFC3339))
	fmt.Fprintf(&b, "program %s\n%s %s/%s, %d processors\n\nFindings\n", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	clean := d.cleaner()
	for _, f := range d.found {
		fmt.Fprintf(&b, "%-5s  %s\n", f.State, clean(f.What))
	}
	fmt.Fprintln(&b, "\nBackups")
	for _, k := range d.kept {
		m := k.Manifest
		fmt.Fprintf(&b, "%s  %s, version %d, %d records, %d recordings, %s of database\n", m.Made.Format(time.RFC3339), m.Why, m.Version, m.Records(), m.Recordings, size(m.Database.Bytes))
	}
	if f := d.facts; f != nil {
		fmt.Fprintf(&b, "\nNotebook\n%s, schema version %d, this program knows %d\ndatabase %s, journal %s, recordings %s, copies %s, free %s\n", f.Engine, f.Version, f.Known, size(f.Database), size(f.Journal), size(f.Sounds), size(f.Copies), size(f.Free))
		for _, table := range slices.Sorted(maps.Keys(f.Rows)) {
			fmt.Fprintf(&b, "%8d  %s\n", f.Rows[table], table)
		}
		fmt.Fprintf(&b, "\nSchema\n%s\n", strings.Join(f.Schema, "\n"))
	}
	fmt.Fprintf(&b, "\nLog, the last %d lines\n", logLines)
	for _, line := range d.log() {
		fmt.Fprintln(&b, told(line, clean))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// log gives the log's last lines.
func (d *diagnosis) log() []string {
	root, err := os.OpenRoot(d.dir)
	if err != nil {
		return nil
	}
	defer root.Close() // only read
	raw, err := root.ReadFile(logName)
	if err != nil {
		return nil
	}
	lines := strings.Split(strings.TrimSpace(string(raw)), "\n")
	return lines[max(0, len(lines)-logLines):]
}

// ours are the log's fields whose words are the program's own, never anybody's.
var ours = []string{"code", "method", "route", "version"}

// told writes a line of the log so that a name in it is found as it was
// written, whatever JSON made of it. A line that is none of the log's own tells
// nothing that we know to be harmless.
func told(line string, clean func(string) string) string {
	fields := map[string]any{}
	if err := json.Unmarshal([]byte(line), &fields); err != nil {
		return "(a line that is not the log's)"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%v %v %v", fields["time"], fields["level"], clean(fmt.Sprint(fields["msg"])))
	for _, key := range slices.Sorted(maps.Keys(fields)) {
		value := fmt.Sprint(fields[key])
		switch {
		case slices.Contains(ours, key):
			fmt.Fprintf(&b, " %s=%s", key, value)
		case key != "time" && key != "level" && key != "msg":
			fmt.Fprintf(&b, " %s=%s", key, clean(value))
		}
	}
	return strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || !unicode.IsControl(r) {
			return r
		}
		return -1
	}, b.String())
}

// What may be somebody's, whatever it says: text in quotes, which is how
// errors show what was sent; mail addresses; places on a disk; numbers of
// machines; and secrets, which are long runs with digits in them. The ids of
// records tell nothing by themselves.
var (
	inQuotes = regexp.MustCompile("\"(?:[^\"\\\\]|\\\\.)*\"|`[^`]*`|“[^”]*”")
	mail     = regexp.MustCompile(`[\pL\pN._%+-]+@[\pL\pN-]+(\.[\pL\pN-]+)+`)
	onDisk   = regexp.MustCompile(`(^|[\s=(,;:])(?:/[^\s:,;()]+|[A-Za-z]:\\[^\s:,;()]+)`)
	machine  = regexp.MustCompile(`\b\d{1,3}(\.\d{1,3}){3}(:\d+)?\b|\[?\b[0-9a-fA-F]{1,4}(:[0-9a-fA-F]{0,4}){3,7}\b\]?`)
	secret   = regexp.MustCompile(`[A-Za-z0-9_+-]{20,}`)
	anID     = regexp.MustCompile(`^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$`)
	module   = regexp.MustCompile(`@v\d+\.\d+`) // of a package in a stack, not a mail address
)

// cleaner takes out of a text what is a person's: folders, which may hold a
// name; the names and logins of the notebook; and what looks like a secret.
func (d *diagnosis) cleaner() func(string) string {
	folders := []string{d.backups, "BACKUPS", d.dir, "DATA"}
	if home, err := os.UserHomeDir(); err == nil && len(home) > 1 {
		folders = append(folders, home, "HOME")
	}
	known, nameless := strings.NewReplacer(folders...), without(d.private)
	return func(text string) string {
		text = nameless(known.Replace(text))
		text = inQuotes.ReplaceAllString(text, "…")
		text = mail.ReplaceAllStringFunc(text, func(s string) string {
			if module.MatchString(s) {
				return s
			}
			return "MAIL"
		})
		text = machine.ReplaceAllString(text, "ADDRESS")
		text = onDisk.ReplaceAllString(text, "${1}PATH")
		return secret.ReplaceAllStringFunc(text, func(s string) string {
			if anID.MatchString(s) || !strings.ContainsAny(s, "0123456789") {
				return s
			}
			return "SECRET"
		})
	}
}

// without takes names and their words out of a text, the longer first, in
// capitals or not. One of two or three letters is one only where it stands
// alone: else it is in every word.
func without(private []string) func(string) string {
	short, long := map[string]bool{}, []string{}
	for _, name := range private {
		for _, word := range append(strings.Fields(name), strings.TrimSpace(name)) {
			switch n := utf8.RuneCountInString(word); {
			case n > 3:
				long = append(long, regexp.QuoteMeta(word))
			case n > 1:
				short[strings.ToLower(word)] = true
			}
		}
	}
	slices.SortFunc(long, func(a, b string) int { return cmp.Or(len(b)-len(a), strings.Compare(a, b)) })
	var names *regexp.Regexp
	if len(long) > 0 {
		names = regexp.MustCompile("(?i)" + strings.Join(slices.Compact(long), "|"))
	}
	return func(text string) string {
		if names != nil {
			text = names.ReplaceAllString(text, "NAME")
		}
		return aWord.ReplaceAllStringFunc(text, func(word string) string {
			if short[strings.ToLower(word)] {
				return "NAME"
			}
			return word
		})
	}
}

var aWord = regexp.MustCompile(`[\pL\pN]+`)
