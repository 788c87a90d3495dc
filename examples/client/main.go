// Command client is a small program of the kind that you may want to write
// around the notebook: it asks a running server over its HTTP API, with
// nothing but Go's own library and one for ids. It shows the three habits that
// such a program needs: a create carries an id of its own and may be sent again,
// a change says which version it starts from, and a long list is read page by
// page.
//
//	go run ./examples/client bows
//	go run ./examples/client add -bow BOW -kind brace_height -text "22.1 cm"
//	go run ./examples/client readings -bow BOW
//	go run ./examples/client rename -bow BOW -name "Heron 70, indoor"
//	go run ./examples/client export -bow BOW > ends.csv
//
// A notebook with accounts wants a token, made on the page "Account": keep it in
// a file that only you can read, and name that file with -token.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/signal"
	"strings"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, os.Args[1:], os.Stdout)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "client:", err)
		os.Exit(1)
	}
}

// run does one command and prints its answer.
func run(ctx context.Context, args []string, out io.Writer) error {
	fs := flag.NewFlagSet("client", flag.ContinueOnError)
	server := fs.String("server", "http://127.0.0.1:8421", "where the notebook is")
	token := fs.String("token", "", "file with a token; - reads it from standard input")
	bow := fs.String("bow", "", "a bow's id, as the command bows prints it")
	kind := fs.String("kind", "brace_height", "what was read")
	text := fs.String("text", "", "the reading as you would say it, such as 22.1 cm")
	id := fs.String("id", "", "the reading's id, to send one again whose answer was lost")
	name := fs.String("name", "", "a bow's new name")
	if len(args) == 0 {
		fs.Usage()
		return errors.New("say what to do: bows, add, readings, rename or export")
	}
	if err := fs.Parse(args[1:]); err != nil {
		return err
	}
	secret, err := readToken(*token)
	if err != nil {
		return err
	}
	c := newClient(*server, secret)
	switch args[0] {
	case "bows":
		return printBows(ctx, c, out)
	case "add":
		return addReading(ctx, c, out, reading{ID: *id, Bow: *bow, Kind: *kind, Text: *text})
	case "readings":
		return printReadings(ctx, c, out, *bow)
	case "rename":
		return rename(ctx, c, out, *bow, *name)
	case "export":
		return c.stream(ctx, "/ends.csv?bow="+url.QueryEscape(*bow), out)
	}
	return fmt.Errorf("no command %q: bows, add, readings, rename or export", args[0])
}

// readToken keeps the secret out of the command line, where others on the same
// machine could read it.
func readToken(file string) (string, error) {
	if file == "" {
		return "", nil
	}
	var raw []byte
	var err error
	if file == "-" {
		raw, err = io.ReadAll(os.Stdin)
	} else {
		raw, err = os.ReadFile(file)
	}
	return strings.TrimSpace(string(raw)), err
}
