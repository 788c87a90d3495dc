package cli

import (
	"io"
	"unicode"
	"unicode/utf8"
)

// plain is a terminal that cannot be played with: names and notes come from
// other people, and a terminal obeys the escape sequences that a text may
// hold. Each control character but line ends and tabs is shown as U+FFFD.
type plain struct{ w io.Writer }

// Write shows text.
func (p plain) Write(b []byte) (int, error) {
	out := make([]byte, 0, len(b))
	for rest := b; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		switch {
		case unicode.IsControl(r) && r != '\n' && r != '\t' && r != '\r':
			out = utf8.AppendRune(out, utf8.RuneError)
		default:
			out = append(out, rest[:size]...)
		}
		rest = rest[size:]
	}
	if _, err := p.w.Write(out); err != nil {
		return 0, err
	}
	return len(b), nil
}

// draw shows what we made up ourselves, colours included.
func (t *terminal) draw(text string) {
	w := t.err
	if p, ok := w.(plain); ok {
		w = p.w
	}
	_, _ = io.WriteString(w, text+"\n") // a terminal that is gone shows nothing
}
