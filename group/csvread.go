package group

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// LineError is one mistake in a file of shots.
type LineError struct {
	Line    int // as an editor counts them, from 1
	Column  string
	Message string
	Hint    string
}

// Error names the line, the column, the mistake and what to try.
func (e LineError) Error() string {
	where := fmt.Sprintf("line %d", e.Line)
	if e.Column != "" {
		where += ", " + e.Column
	}
	return fmt.Sprintf("%s: %s; %s", where, e.Message, e.Hint)
}

// CSVError holds the mistakes of a file. Nothing of the file was taken.
type CSVError struct {
	Lines []LineError // the first 20
	More  int         // further mistakes not listed
}

// Error lists the mistakes, one a line.
func (e *CSVError) Error() string {
	var b strings.Builder
	for i, l := range e.Lines {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(l.Error())
	}
	if e.More > 0 {
		fmt.Fprintf(&b, "\nand %d more mistakes", e.More)
	}
	return b.String()
}

const (
	mistakesListed = 20
	// MaxRows is the largest file read: more arrows than a lifetime.
	MaxRows = 2_000_000
)

// Import is a file read.
type Import struct {
	Shots    []Shot
	Warnings []string
}

// ReadCSV reads shots from a table with a header:
//
//	end,arrow,x_cm,y_cm          places; also _mm, _m, _in; x right, y up
//	end,arrow,ring               rings only: X, 10 … 1, M
//	optional: kind (fletched, bare), setup, time (2026-05-03T10:15:00Z)
//
// Comma, semicolon or tab separate; with semicolons and tabs a decimal comma
// is understood. Columns may stand in any order. A mistake anywhere means that
// nothing is taken: the error, a *CSVError, lists them with their lines.
func ReadCSV(r io.Reader) (Import, error) {
	table, lines, err := openTable(r)
	if err != nil {
		return Import{}, err
	}
	table.ReuseRecord = true
	in := reader{csv: table, lines: lines, decimalComma: table.Comma != ',', marks: marks{usual: usualMark(table.Comma)}}
	return in.read()
}

// OpenTable makes a table ready to be read, as spreadsheets of any country write
// it: with or without a byte-order mark, lines that end in any way, cells apart
// by commas, semicolons or tabs.
func OpenTable(r io.Reader) (*csv.Reader, error) {
	table, _, err := openTable(r)
	return table, err
}

func openTable(r io.Reader) (*csv.Reader, *newlines, error) {
	lines := &newlines{r: r}
	text := bufio.NewReaderSize(lines, 1<<16)
	if bom, err := text.Peek(3); err == nil && bytes.Equal(bom, []byte("\xef\xbb\xbf")) {
		if _, err := text.Discard(3); err != nil {
			return nil, nil, fmt.Errorf("reading the table: %w", err)
		}
	}
	first, err := text.Peek(4096)
	if len(first) == 0 && err != nil && err != io.EOF {
		return nil, nil, fmt.Errorf("reading the table: %w", err)
	}
	if bytes.HasPrefix(first, []byte("\xff\xfe")) || bytes.HasPrefix(first, []byte("\xfe\xff")) || bytes.HasPrefix(first, []byte("PK\x03\x04")) {
		return nil, nil, oneMistake(1, "", "this is no table as plain text", "save it from the spreadsheet as CSV, in UTF-8")
	}
	table := csv.NewReader(text)
	table.Comma, table.FieldsPerRecord = separator(first), -1
	table.TrimLeadingSpace = table.Comma != '\t' // else an empty cell between tabs would be taken for space
	return table, lines, nil
}

func oneMistake(line int, column, message, hint string) *CSVError {
	return &CSVError{Lines: []LineError{{line, column, message, hint}}}
}

// separator looks at the first line that is no comment.
func separator(start []byte) rune {
	line, rest, _ := bytes.Cut(start, []byte("\n"))
	for bytes.HasPrefix(line, []byte("#")) {
		line, rest, _ = bytes.Cut(rest, []byte("\n"))
	}
	for _, c := range []rune{';', '\t'} {
		if bytes.ContainsRune(line, c) {
			return c
		}
	}
	return ','
}

// newlines turns carriage returns into line feeds, so that files of every age
// have lines, and ends a file whose line has no end: csv gathers a whole line,
// or a whole quoted text, in memory.
type newlines struct {
	r      io.Reader
	skip   bool // the last byte was a carriage return: a line feed belongs to it
	inLine int  // bytes since the last row was read
}

// longestLine is far more than the header of any table has.
const longestLine = 1 << 20

var errLongLine = errors.New("a line is too long")

func (n *newlines) Read(p []byte) (int, error) {
	k, err := n.r.Read(p)
	if n.inLine += k; n.inLine > longestLine {
		return 0, errLongLine
	}
	out := p[:0]
	for _, b := range p[:k] {
		if after := n.skip; b == '\n' && after {
			n.skip = false
			continue
		}
		if n.skip = b == '\r'; n.skip {
			b = '\n'
		}
		out = append(out, b)
	}
	return len(out), err
}

// reader gathers shots and mistakes.
type reader struct {
	csv          *csv.Reader
	lines        *newlines
	decimalComma bool
	marks        marks
	columns      []column
	out          Import
	mistakes     CSVError
	rows         int
	seen         map[seenKey]bool
	repeated     int
}

type seenKey struct {
	setup, arrow string
	kind         Kind
	end          int
}

func (in *reader) read() (Import, error) {
	in.seen = map[seenKey]bool{}
	header, err := in.csv.Read()
	if errors.Is(err, io.EOF) {
		return Import{}, oneMistake(1, "", "the file is empty", "start with a header like end,arrow,x_cm,y_cm")
	}
	if err != nil {
		return Import{}, in.broken(err)
	}
	if in.columns, err = parseHeader(header); err != nil {
		return Import{}, err
	}
	for {
		record, err := in.csv.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return Import{}, in.broken(err)
		}
		if in.rows++; in.rows > MaxRows {
			return Import{}, oneMistake(in.rows, "", fmt.Sprintf("more than %d rows", MaxRows), "split the file by session")
		}
		in.row(record)
		in.lines.inLine = 0
	}
	in.marks.settle(&in.mistakes)
	if len(in.mistakes.Lines) > 0 {
		return Import{}, &in.mistakes
	}
	if len(in.out.Shots) == 0 {
		return Import{}, oneMistake(2, "", "there is a header and no shot below it", "add a line like 1,1,3.2,-1.5")
	}
	if in.repeated > 0 {
		in.out.Warnings = append(in.out.Warnings, fmt.Sprintf("%d arrows appear twice in one end; both shots are kept", in.repeated))
	}
	return in.out, nil
}

// broken tells a malformed table from a reader that failed.
func (in *reader) broken(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return oneMistake(p.Line, "", "the quotes of this line do not close: "+p.Err.Error(), `write "…" around a text with a comma, and "" for a quote inside it`)
	}
	if errors.Is(err, errLongLine) {
		line := in.rows + 1
		if in.columns != nil {
			line++
		}
		return oneMistake(line, "", "this line, or a text in quotes, has more than a million characters", "is this a table of arrows? Open it in an editor and look at this line, or at a quote that does not close")
	}
	return fmt.Errorf("reading the table: %w", err)
}

func (in *reader) mistake(line int, column, hint, format string, args ...any) {
	in.mistakes.add(LineError{line, column, fmt.Sprintf(format, args...), hint})
}

func (e *CSVError) add(l LineError) {
	if len(e.Lines) == mistakesListed {
		e.More++
		return
	}
	e.Lines = append(e.Lines, l)
}

// row takes one line; blank lines are skipped.
func (in *reader) row(record []string) {
	line, _ := in.csv.FieldPos(0)
	if len(record) == 1 && strings.TrimSpace(record[0]) == "" || allBlank(record) {
		return
	}
	for len(record) > len(in.columns) && strings.TrimSpace(record[len(record)-1]) == "" {
		record = record[:len(record)-1] // a spreadsheet writes as many cells as its widest line has
	}
	if len(record) != len(in.columns) {
		hint := fmt.Sprintf("the header names %d columns", len(in.columns))
		if len(record) > len(in.columns) && !in.decimalComma {
			hint += "; with decimal commas separate by semicolons, or write 3.2"
		}
		in.mistake(line, "", hint, "%d cells", len(record))
		return
	}
	shot := Shot{End: 1, Kind: Fletched}
	before := len(in.mistakes.Lines) + in.mistakes.More
	var have [2]bool
	for i, c := range in.columns {
		in.cell(line, c, strings.TrimSpace(record[i]), &shot, &have)
	}
	if have[0] != have[1] && len(in.mistakes.Lines)+in.mistakes.More == before {
		in.mistake(line, "", "give both, or neither and a ring", "one coordinate of two")
	}
	shot.Placed = have[0] && have[1]
	if !shot.Placed && shot.Ring == "" && len(in.mistakes.Lines)+in.mistakes.More == before {
		in.mistake(line, "", "give x and y, or a ring; a miss is ring M", "a shot without a place or a ring")
	}
	if len(in.mistakes.Lines)+in.mistakes.More == before {
		in.keep(shot)
	}
}

func allBlank(record []string) bool {
	for _, c := range record {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

func (in *reader) keep(s Shot) {
	if s.Arrow != "" {
		key := seenKey{s.Setup, s.Arrow, s.Kind, s.End}
		if in.seen[key] {
			in.repeated++
		}
		in.seen[key] = true
	}
	in.out.Shots = append(in.out.Shots, s)
}

func parseTime(text string) (time.Time, bool) {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02"} {
		if t, err := time.Parse(layout, text); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}
