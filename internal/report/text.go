package report

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// WriteText writes the sheet for a terminal, 80 to 100 columns wide. Control
// characters that came with a name are shown, not obeyed.
func (s Sheet) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", harmless(s.Title))
	if s.Subtitle != "" {
		fmt.Fprintf(&b, "%s\n", harmless(s.Subtitle))
	}
	for _, block := range s.Blocks {
		block.writeText(&b)
	}
	for i, c := range s.Cautions {
		if i == 0 {
			b.WriteString("\nCaution\n")
		}
		fmt.Fprintf(&b, "  %s\n", harmless(c))
	}
	if s.Link != "" {
		fmt.Fprintf(&b, "\n%s\n", harmless(s.Link))
	}
	fmt.Fprintf(&b, "\n%s\n", harmless(s.foot()))
	_, err := io.WriteString(w, b.String())
	return err
}

func (k Block) writeText(b *strings.Builder) {
	b.WriteString("\n")
	if k.Heading != "" {
		fmt.Fprintf(b, "%s\n", harmless(k.Heading))
	}
	if k.Text != "" {
		fmt.Fprintf(b, "  %s\n", harmless(k.Text))
	}
	label := 0
	for _, f := range k.Facts {
		label = max(label, utf8.RuneCountInString(f.Label))
	}
	for _, f := range k.Facts {
		fmt.Fprintf(b, "  %s  %s\n", pad(harmless(f.Label), label), harmless(f.text()))
	}
	for _, l := range k.Labels {
		name := l.Name
		if l.Archer != "" {
			name += " (" + l.Archer + ")"
		}
		fmt.Fprintf(b, "  %s  %s\n", harmless(name), l.Address)
	}
	if k.Table != nil && k.Face == nil {
		k.Table.writeText(b)
	}
	if k.Figure != nil {
		fmt.Fprintf(b, "  %s: %s\n", harmless(k.Figure.Title), harmless(k.Figure.Finding))
	}
}

func (t Table) writeText(b *strings.Builder) {
	width := make([]int, len(t.Header))
	rows := append([][]string{t.Header}, t.Rows...)
	for _, row := range rows {
		for i, cell := range row {
			if i < len(width) {
				width[i] = max(width[i], utf8.RuneCountInString(harmless(cell)))
			}
		}
	}
	for _, row := range rows {
		cells := make([]string, len(row))
		for i, cell := range row {
			cells[i] = pad(harmless(cell), width[min(i, len(width)-1)])
		}
		fmt.Fprintf(b, "  %s\n", strings.TrimRight(strings.Join(cells, "  "), " "))
	}
}

func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s)))
}

// harmless replaces control characters, escape sequences among them.
func harmless(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return '\uFFFD'
		}
		return r
	}, s)
}
