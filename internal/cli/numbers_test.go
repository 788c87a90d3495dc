package cli

import (
	"bytes"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// measureTypes are the types in a flag's tag under which a text is a measure.
var measureTypes = []string{"length", "distance", "speed", "mass", "temperature", "pressure"}

// amountPlace is one place of the command line that takes a number or a measure.
type amountPlace struct {
	args []string // the command
	of   *kong.Value
	flag string // "" for an argument
}

// allAsked are all such places, found in the command tree itself.
func allAsked(t *testing.T) (out []amountPlace) {
	t.Helper()
	parser, err := newParser(&terminal{in: os.Stdin, out: os.Stdout, err: os.Stderr}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	for _, leaf := range parser.Model.Leaves(false) {
		var path []string
		for n := leaf; n.Parent != nil; n = n.Parent {
			path = append([]string{n.Name}, path...)
		}
		for _, group := range leaf.AllFlags(false) {
			for _, f := range group {
				if takesAmount(f.Value) {
					out = append(out, amountPlace{path, f.Value, f.Name})
				}
			}
		}
		for _, p := range leaf.Positional {
			if takesAmount(p) {
				out = append(out, amountPlace{path, p, ""})
			}
		}
	}
	return out
}

func takesAmount(v *kong.Value) bool {
	kind := v.Target.Kind()
	if kind == reflect.Pointer {
		kind = v.Target.Type().Elem().Kind()
	}
	return slices.Contains(measureTypes, v.Tag.Type) || kind >= reflect.Int && kind <= reflect.Float64
}

// library are words of the flag library and of Go, which no archer speaks.
var library = regexp.MustCompile(`expected (a )?(valid|float|int|uint|string|duration|")|float|\bu?int\b|\d+ bit|EOL|\(string\)|strconv|invalid|short flag|%!|time:`)

// A number or measure that cannot be read is refused with the flag's name, what
// is wrong and what to write, by every command and for every flag that takes
// one; a negative count and an endless number too.
func TestNumbersOnTheCommandLine(t *testing.T) {
	places := allAsked(t)
	if len(places) < 40 {
		t.Fatalf("only %d places take a number or a measure: the tree is not walked", len(places))
	}
	for _, at := range places {
		bad := []string{"banana", "3 bananas", "NaN", "1e999", "8 3/0", "--1", ""}
		isNumber := at.of.Tag.Type == ""
		if isNumber {
			bad = append(bad, "3 cm", "-1", "1e20", "1,234")
			if at.of.Target.Kind() != reflect.Float64 && !strings.Contains(at.of.Target.Type().String(), "Duration") {
				bad = append(bad, "2.5")
			}
		}
		for _, text := range bad {
			if text == "" && !isNumber || text == "--1" && at.flag == "" {
				continue // not said: the default; a flag of its own
			}
			args := append(slices.Clone(at.args), "--"+at.flag+"="+text)
			if at.flag == "" {
				args = append(slices.Clone(at.args), text)
			}
			refusedWell(t, args, at.flag, text)
		}
		if at.flag != "" {
			refusedWell(t, append(slices.Clone(at.args), "--"+at.flag), at.flag, "")
		}
	}
	t.Logf("%d places take a number or a measure", len(places))
}

// refusedWell runs a command and demands a refusal that helps.
func refusedWell(t *testing.T, args []string, flag, text string) {
	t.Helper()
	var said bytes.Buffer
	code := Main(args, strings.NewReader(""), &said, &said)
	line, _, _ := strings.Cut(said.String(), "\n")
	helps := strings.Contains(line, "write ") && (flag == "" || strings.HasPrefix(line, "tautline: --"+flag))
	if code != exitUsage || !helps || text != "" && !strings.Contains(line, text) && !strings.Contains(line, strconv.Quote(text)) || library.MatchString(line) {
		t.Errorf("%q: code %d: %s", args, code, line)
	}
}

// Every flag that asks for a measure is checked where it is typed, but for the
// few that take words beside it; those name themselves when they run.
func TestMeasuresAreChecked(t *testing.T) {
	words := []string{"advise --offset"}
	parser, err := newParser(&terminal{in: os.Stdin, out: os.Stdout, err: os.Stderr}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	for _, leaf := range parser.Model.Leaves(false) {
		for _, group := range leaf.AllFlags(false) {
			for _, f := range group {
				measure := slices.Contains([]string{"LENGTH", "MASS", "SPEED", "TEMPERATURE", "PRESSURE"}, strings.Trim(f.FormatPlaceHolder(), `"….,`))
				if measure && !slices.Contains(measureTypes, f.Tag.Type) && !slices.Contains(words, leaf.Name+" --"+f.Name) {
					t.Errorf("%s --%s asks for a measure and does not say of which type", leaf.FullPath(), f.Name)
				}
			}
		}
	}
	bow := "../../examples/heron-70.json"
	for _, row := range []struct {
		flag, tries string
		args        []string
	}{
		{"--offset", "write it like", []string{"advise", bow, "--wish", "bare", "--offset", "banana"}},
		{"--from", "write it like", []string{"forgive", bow, "--from", "banana", "--to", "20 cm"}},
		{"--to", "write it like", []string{"forgive", bow, "--from", "20 cm", "--to", "banana"}},
		{"--set brace_height", "write it like", []string{"predict", bow, "--set", "brace_height=banana"}},
		{"--set button", "write it like 3", []string{"predict", bow, "--set", "button=banana"}},
		{"--set string.strands", "whole number", []string{"predict", bow, "--set", "string.strands=1.5"}},
		{"--change: button", "write it like 3", []string{"whatif", bow, "--change", "button=banana"}},
		{"--reading", "write it like", []string{"nocking", bow, "--reading", "banana; 30 m; -12 cm"}},
		{"--air", "something like", []string{"sight", bow, "../../examples/marks.csv", "--air", "banana"}},
		{"face", "one of 122", []string{"group", "../../examples/group-a.csv", "--face", "banana"}},
	} {
		var said bytes.Buffer
		code := Main(row.args, strings.NewReader(""), &said, &said)
		text := said.String()
		if code == exitDone || !strings.Contains(text, row.flag) || !strings.Contains(text, row.tries) || !strings.Contains(text, "banana") && !strings.Contains(text, "1.5") || library.MatchString(text) {
			t.Errorf("%q: code %d: %s", row.args, code, text)
		}
	}
}

// What a person writes is read: a comma, a fraction, the sign of a frost.
func TestNumbersThatAreRead(t *testing.T) {
	c := commands{}
	parser, err := kong.New(&c, amounts()...)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		args []string
		got  func() any
		want any
	}{
		{[]string{"brace", "bow.json", "--twists", "2,5"}, func() any { return c.Brace.Twists }, 2.5},
		{[]string{"brace", "bow.json", "--twists=2 1/2"}, func() any { return c.Brace.Twists }, 2.5},
		{[]string{"plan", "two", "--seed", "7"}, func() any { return c.Plan.Two.Seed }, uint64(7)},
		{[]string{"sight", "bow.json", "marks.csv", "--temperature", "-5"}, func() any { return c.Sight.Temperature }, "-5"},
		{[]string{"sight", "bow.json", "marks.csv", "--temperature", "41 °F"}, func() any { return c.Sight.Temperature }, "41 °F"},
		{[]string{"serve", "--backup-every", "90 min"}, func() any { return c.Serve.BackupEvery.Minutes() }, 90.0},
		{[]string{"serve", "--backup-every", "1h30m"}, func() any { return c.Serve.BackupEvery.Minutes() }, 90.0},
		{[]string{"serve", "--backup-every", "0"}, func() any { return c.Serve.BackupEvery.Minutes() }, 0.0},
		{[]string{"shafts", "bow.json", "--points", "100 gr,7 g"}, func() any { return strings.Join(c.Shafts.Points, "|") }, "100 gr|7 g"},
		{[]string{"plan", "walk-back", "10 m", "33 ft"}, func() any { return strings.Join(c.Plan.Walk.Distances, "|") }, "10 m|33 ft"},
	} {
		if _, err := parser.Parse(row.args); (err != nil) != (row.want == "") {
			t.Errorf("%q: %v", row.args, err)
		} else if err == nil && row.got() != row.want {
			t.Errorf("%q: read as %v", row.args, row.got())
		}
	}
}
