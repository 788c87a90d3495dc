package cli

import (
	"strings"
	"testing"
)

// T18: what a stranger wrote into a name does not reach the terminal as a
// command to it.
func TestTerminalIsNotPlayedWith(t *testing.T) {
	var out strings.Builder
	text := "Blue\x1b[2J 68\a, \u009b31m 8 ¾ in\tµ\r\n\xff\x00"
	n, err := plain{&out}.Write([]byte(text))
	if err != nil || n != len(text) || out.String() != "Blue\ufffd[2J 68\ufffd, \ufffd31m 8 ¾ in\tµ\r\n\xff\ufffd" {
		t.Errorf("%d, %v, %q", n, err, out.String())
	}
	var errs strings.Builder
	if code := Main([]string{"verify", "--data", "no\x1b[31mwhere"}, nil, &out, &errs); code != exitFailed || strings.ContainsRune(errs.String(), '\x1b') || !strings.Contains(errs.String(), "where") {
		t.Errorf("%d, %q", code, errs.String())
	}
}
