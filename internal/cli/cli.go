// Package cli is the command line: one file per command. It is the only place
// where the store meets the server.
//
// Results go to stdout, progress and warnings to stderr. Exit codes: 0 done,
// 1 could not, 2 wrong use, 130 stopped by the user.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// Exit codes, documented in docs/manual/command-line.md.
const (
	exitDone    = 0
	exitFailed  = 1
	exitUsage   = 2
	exitStopped = 130
)

// commands is the whole command line; each field's Run method is in the file
// of its name.
type commands struct {
	Predict predictCmd   `cmd:"" help:"Say what one set-up of a bow does: draw weight, energy, speed."`
	Forgive forgiveCmd   `cmd:"" help:"What a brace height forgives, error by error."`
	Shafts  shaftsCmd    `cmd:"" help:"Shafts to try on a bow: spine, length and point, and where each would land."`
	Nocking nockingCmd   `cmd:"" help:"What a high or low bare shaft says of the nocking point, and when it says nothing."`
	Sight   sightCmd     `cmd:"" help:"Sight marks for every distance from two or more."`
	Fit     fitCmd       `cmd:"" help:"Fit a bow to its readings; say what to measure next."`
	Whatif  whatifCmd    `cmd:"" help:"What moving a setting does on this bow, with its doubt."`
	Advise  adviseCmd    `cmd:"" help:"Two or three routes to a wish, each a ready-made change."`
	Brace   braceCmd     `cmd:"" help:"Step through the brace heights a bow and its string can reach."`
	Plan    planCmd      `cmd:"" help:"Print a trial's plan to follow at the range."`
	Group   groupCmd     `cmd:"" help:"What the arrows of a group tell, and which of two set-ups shoots tighter."`
	Week    weekCmd      `cmd:"" help:"The coach's week: what each bow wants, across archers."`
	Sheet   sheetCmd     `cmd:"" help:"Print a sheet of the notebook: a session, two set-ups side by side, a trial."`
	Taken   takenBackCmd `cmd:"" name:"taken-back" help:"What was taken back: list it, bring it back."`
	Demo    demoCmd      `cmd:"" help:"Open the invented demo notebook in the browser."`
	Serve   serveCmd     `cmd:"" help:"Open your own notebook in the browser."`
	Listen  listenCmd    `cmd:"" help:"Find the shots in a recording and measure them."`
	Verify  verifyCmd    `cmd:"" help:"Check that the notebook is whole."`
	Backup  backupCmd    `cmd:"" help:"Copy the notebook safely and prove the copy."`
	Restore restoreCmd   `cmd:"" help:"Put a backup in the notebook's place; without one, list those there are."`
	Migrate migrateCmd   `cmd:"" help:"Bring the notebook up to date; let a lesser role of the database serve it."`
	GoBack  goBackCmd    `cmd:"" help:"Undo the last update of the notebook, for the program from before."`
	Doctor  doctorCmd    `cmd:"" help:"Say what is wrong with the notebook, and what to do next."`
	Export  exportCmd    `cmd:"" help:"Write the whole notebook as open files."`
	Import  importCmd    `cmd:"" help:"Read an exported notebook into this one."`
	Manual  manualCmd    `cmd:"" help:"Read the manual, or look for words in it."`
	Where   whereCmd     `cmd:"" help:"Print the folder that holds the notebook."`
	Version versionCmd   `cmd:"" help:"Print the program's version."`
}

// terminal is where a command talks: results to out, the rest to err.
type terminal struct {
	in       io.Reader
	out, err io.Writer
	watched  bool // stderr is a person's terminal
}

// warnf writes one line for the person, never part of the result.
func (t *terminal) warnf(format string, args ...any) {
	fmt.Fprintf(t.err, format+"\n", args...) // if that fails there is nobody to tell
}

// usageError marks an error as wrong use: exit code 2.
type usageError struct{ error }

// Main runs one command and returns its exit code.
func Main(args []string, in io.Reader, out, errw io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	if isTerminal(out) {
		out = plain{out}
	}
	term := &terminal{in: in, out: out, err: plain{errw}, watched: isTerminal(errw)}
	exited := -1
	parser, err := newParser(term, func(code int) { exited = code; panic(parserExit{}) })
	if err != nil {
		term.warnf("tautline: %v", err)
		return exitFailed
	}
	run, err := parse(parser, args)
	if exited >= 0 {
		return exited
	}
	if err != nil {
		term.warnf("tautline: %v", err)
		term.warnf("See: tautline --help")
		return exitUsage
	}
	run.BindTo(ctx, (*context.Context)(nil))
	return conclude(ctx, term, run.Run(term))
}

// parserExit unwinds from kong after --help, which prints and then exits.
type parserExit struct{}

func newParser(term *terminal, exit func(int)) (*kong.Kong, error) {
	return kong.New(&commands{}, append(amounts(),
		kong.Name("tautline"),
		kong.Description("The bench instrument and notebook of a recurve archer: what a change does on your bow, measured, with its doubt."),
		kong.Writers(term.out, term.err),
		kong.Exit(exit),
		kong.UsageOnError(),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}),
	)...)
}

// parse reads the arguments; with none it asks for help.
func parse(parser *kong.Kong, args []string) (run *kong.Context, err error) {
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(parserExit); !ok {
				panic(r)
			}
		}
	}()
	if len(args) == 0 {
		args = []string{"--help"}
	}
	return parser.Parse(args)
}

// isTerminal tells whether a person watches w.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0 && os.Getenv("TERM") != "dumb"
}

// conclude prints an error as what is wrong, then what to try, and gives the
// exit code.
func conclude(ctx context.Context, term *terminal, err error) int {
	var usage usageError
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil:
		term.warnf("tautline: stopped")
		return exitStopped
	default:
		term.warnf("tautline: %v", err)
	}
	if errors.As(err, &usage) {
		return exitUsage
	}
	return exitFailed
}
