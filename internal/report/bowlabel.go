package report

import (
	"context"
	"fmt"
	"strings"

	"rsc.io/qr"

	"tautline/notebook"
)

// BowLabel is a label for a bow: its name, the address of its round as a QR
// code, and in a notebook of several people whose it is.
type BowLabel struct {
	Name    string
	Address string
	Archer  string `json:",omitempty"`
}

// Measures of a label in millimetres. Two labels fit side by
// side on both papers.
const (
	bowLabelWide, bowLabelTall = 88.0, 42.0
	codeWide                   = 34.0
	quietModules               = 4 // the margin that readers need, ISO/IEC 18004
)

// MaxLabels bounds the labels of one sheet.
const MaxLabels = 200

// Labels is a sheet of labels for bows. base is where phones find the
// notebook, such as "https://192.168.1.20:8443/"; far is false when only this
// machine finds it there, which the sheet then says.
func (m Maker) Labels(ctx context.Context, actor notebook.ID, ids []notebook.ID, base string, far bool) (Sheet, error) {
	if len(ids) > MaxLabels {
		return Sheet{}, &notebook.Error{Code: notebook.Invalid, Field: "/also", Message: fmt.Sprintf("%d labels are too many for one sheet", len(ids)), Hint: fmt.Sprintf("ask for at most %d at a time", MaxLabels)}
	}
	names, err := m.whose(ctx, actor)
	if err != nil {
		return Sheet{}, err
	}
	var labels []BowLabel
	sheet := Sheet{Title: "Bow labels", Source: base}
	for _, id := range ids {
		bow, err := m.Notebook.Bows().Get(ctx, actor, id)
		if err != nil {
			return Sheet{}, err
		}
		archer, err := names.of(ctx, bow)
		if err != nil {
			return Sheet{}, err
		}
		labels = append(labels, BowLabel{bow.Name, strings.TrimSuffix(base, "/") + "/bows/" + string(id) + "/round", archer})
		if bow.At.After(sheet.Made) {
			sheet.Made = bow.At
		}
	}
	text := "Scan a label: the page reads brace height, nocking point and tiller of that bow. Cut along the lines; stick it where neither string nor hand touches."
	if !far {
		text += " These codes open on this computer only: start the notebook with --lan and print them then."
	}
	sheet.Blocks = []Block{{Text: text}, {Labels: labels}}
	return sheet, nil
}

// labels draws the labels two in a row; none is cut by the page's end.
func (p *pdfPage) labels(labels []BowLabel) error {
	_, pageTall := p.GetPageSize()
	left, top := p.left+(p.wide-2*bowLabelWide)/2, p.GetY()+2
	for i, l := range labels {
		if i%2 == 0 && i > 0 {
			top += bowLabelTall
		}
		if i%2 == 0 && top+bowLabelTall > pageTall-p.end {
			p.AddPage()
			top = p.GetY() + 2
		}
		if err := p.label(l, left+float64(i%2)*bowLabelWide, top); err != nil {
			return err
		}
	}
	if len(labels) > 0 {
		p.SetXY(p.left, top+bowLabelTall)
	}
	return nil
}

func (p *pdfPage) label(l BowLabel, x, y float64) error {
	p.SetLineWidth(0.1)
	p.Rect(x, y, bowLabelWide, bowLabelTall, "D")
	if err := p.code(l.Address, x+2, y+(bowLabelTall-codeWide)/2, codeWide); err != nil {
		return err
	}
	p.labelName(l, x+codeWide+4, y)
	return nil
}

// code draws an address as a code to scan, its quiet margin included.
func (p *pdfPage) code(address string, x, y, wide float64) error {
	code, err := qr.Encode(address, qr.M)
	if err != nil {
		return fmt.Errorf("report: the address %q does not fit into a code: %w", address, err)
	}
	module := wide / float64(code.Size+2*quietModules)
	p.SetFillColor(0, 0, 0)
	for row := range code.Size {
		for from := 0; from < code.Size; from++ {
			to := from
			for to < code.Size && code.Black(to, row) {
				to++
			}
			if to > from { // one bar a run: no hairlines between modules
				p.Rect(x+module*float64(quietModules+from), y+module*float64(quietModules+row), module*float64(to-from), module, "F")
				from = to
			}
		}
	}
	return nil
}

// labelName sets the name as large as three lines allow, and below it the
// archer's on one line.
func (p *pdfPage) labelName(l BowLabel, x, y float64) {
	name, archer := harmless(l.Name), harmless(l.Archer)
	const wide, archerSize, archerTall = bowLabelWide - codeWide - 6, bodySize + 1, 6.0
	room := bowLabelTall - 4
	if archer != "" {
		room -= archerTall
	}
	var lines []string
	size := 20.0
	for ; size > bodySize; size -= 2 {
		p.SetFont("body", "B", size)
		if lines = p.SplitText(name, wide); len(lines) <= 3 {
			break
		}
	}
	p.SetFont("body", "B", size)
	lines = p.SplitText(name, wide)
	tall := size * 0.45
	lines = lines[:min(len(lines), int(room/tall))]
	at := y + 2 + max(0, (room-tall*float64(len(lines)))/2)
	for _, line := range lines {
		p.SetXY(x, at)
		p.CellFormat(wide, tall, line, "", 0, "L", false, 0, "")
		at += tall
	}
	if archer == "" {
		return
	}
	p.SetFont("body", "", archerSize)
	if cut := p.SplitText(archer, wide); len(cut) > 1 {
		archer = strings.TrimSpace(cut[0]) + "…"
	}
	p.SetXY(x, at)
	p.CellFormat(wide, archerTall, archer, "", 0, "L", false, 0, "")
}
