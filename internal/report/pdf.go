package report

import (
	"bytes"
	"fmt"
	"io"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// Paper sizes a sheet can be printed on.
const (
	A4     = "A4"
	Letter = "Letter"
)

// Measures of the page in millimetres and points. Nothing is set smaller than
// 10 pt.
const (
	margin   = 14.0
	bodySize = 10.0
	rowTall  = 5.8
	// pencilTall leaves room for cold fingers.
	pencilTall = 9.5
	// footRoom is left free below the foot and above it together.
	footRoom = 8.4
)

// pdfPage carries the document and how wide the text runs.
type pdfPage struct {
	*fpdf.Fpdf
	left     float64 // where the text begins
	wide     float64
	tight    float64 // 1, less where the sheet would run over
	end      float64 // of what is left free at the page's foot
	pictures int
}

// WritePDF writes the sheet for paper, A4 or Letter, with its fonts embedded
// (Latin, Greek, Cyrillic). A sheet that runs a little over one page is set
// tighter, in lines and pictures but not in type. Equal sheets give equal
// bytes.
func (s Sheet) WritePDF(w io.Writer, paper string) error {
	if paper != A4 && paper != Letter {
		return fmt.Errorf("report: %q is not a paper it prints on; use %s or %s", paper, A4, Letter)
	}
	var first *fpdf.Fpdf
	for _, tight := range []float64{1, 0.9, 0.8} {
		doc, err := s.layOut(paper, tight)
		if err != nil {
			return err
		}
		if first == nil {
			first = doc
		}
		if doc.PageCount() == 1 {
			first = doc
			break
		}
	}
	if err := first.Output(w); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// layOut sets the sheet; tight scales the room between lines and the pictures.
func (s Sheet) layOut(paper string, tight float64) (*fpdf.Fpdf, error) {
	doc := fpdf.New("P", "mm", paper, "")
	doc.SetCreationDate(s.Made)
	doc.SetModificationDate(s.Made)
	doc.SetCatalogSort(true)
	doc.SetTitle(s.Title, true)
	doc.AddUTF8FontFromBytes("body", "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes("body", "B", liberationsansbold.TTF)
	doc.SetMargins(margin, margin, margin)
	width, _ := doc.GetPageSize()
	page := &pdfPage{Fpdf: doc, left: margin, wide: width - 2*margin, tight: tight}
	page.foot(harmless(s.foot()))
	doc.AddPage()
	if err := page.head(s); err != nil {
		return nil, err
	}
	for _, block := range s.Blocks {
		if err := page.block(block); err != nil {
			return nil, err
		}
	}
	page.cautions(s.Cautions)
	return doc, doc.Error()
}

// foot stands at the end of every page, in as many lines as it takes: that of
// two set-ups names both.
func (p *pdfPage) foot(text string) {
	const lineTall = 4.6
	p.SetFont("body", "", bodySize)
	tall := lineTall * float64(len(p.SplitText(text+" · page 99", p.wide)))
	p.SetAutoPageBreak(true, footRoom+tall)
	p.end = footRoom + 1 + tall
	p.SetFooterFunc(func() {
		p.SetY(-footRoom + 1.4 - tall)
		p.SetFont("body", "", bodySize)
		p.MultiCell(0, lineTall, fmt.Sprintf("%s · page %d", text, p.PageNo()), "", "C", false)
	})
}

// linkWide is the code that leads back to the notebook, with its margin.
const linkWide = 24.0

func (p *pdfPage) head(s Sheet) error {
	right := 0.0
	if s.Link != "" {
		right = linkWide
		x := margin + p.wide - linkWide
		if err := p.code(s.Link, x, margin-4, linkWide); err != nil {
			return err
		}
		p.LinkString(x, margin-4, linkWide, linkWide, s.Link)
	}
	p.SetFont("body", "B", 16)
	p.MultiCell(p.wide-right, 8, harmless(s.Title), "", "L", false)
	if s.Subtitle != "" {
		p.SetFont("body", "", 11)
		p.MultiCell(p.wide-right, 6, harmless(s.Subtitle), "", "L", false)
	}
	if right > 0 {
		p.SetY(max(p.GetY(), margin-4+linkWide))
	}
	p.Line(margin, p.GetY()+1, margin+p.wide, p.GetY()+1)
	p.Ln(2)
	return nil
}

func (p *pdfPage) block(k Block) error {
	if k.Face != nil {
		return p.faceBlock(k)
	}
	p.Ln(2 * p.tight)
	if k.Heading != "" {
		p.SetFont("body", "B", 11.5)
		p.MultiCell(0, 6, harmless(k.Heading), "", "L", false)
	}
	p.SetFont("body", "", bodySize)
	if k.Text != "" {
		p.MultiCell(0, 5, harmless(k.Text), "", "L", false)
	}
	p.facts(k.Facts)
	if err := p.labels(k.Labels); err != nil {
		return err
	}
	switch {
	case k.Ruler != nil:
		if err := p.ruler(k); err != nil {
			return err
		}
	case k.Table != nil:
		p.table(*k.Table)
	}
	for range k.Lines {
		p.Ln(8)
		p.Line(margin, p.GetY(), margin+p.wide, p.GetY())
	}
	if k.Figure != nil {
		return p.picture(k)
	}
	return nil
}

func (p *pdfPage) facts(facts []Fact) {
	for _, f := range facts {
		p.SetFont("body", "B", bodySize)
		value := p.SplitText(harmless(f.text()), 0.6*p.wide-2)
		p.SetFont("body", "", bodySize)
		label := p.SplitText(harmless(f.Label), 0.4*p.wide-2)
		for i := range max(len(label), len(value)) {
			p.SetFont("body", "", bodySize)
			p.CellFormat(0.4*p.wide, 5.4*p.tight, lineAt(label, i), "", 0, "L", false, 0, "")
			p.SetFont("body", "B", bodySize)
			p.CellFormat(0.6*p.wide, 5.4*p.tight, lineAt(value, i), "", 1, "L", false, 0, "")
		}
	}
}

func lineAt(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return ""
}

// table draws rows with a rule under each; every row is as tall as its
// longest cell, and no row is cut by the page's end.
func (p *pdfPage) table(t Table) {
	share := t.share()
	p.SetFont("body", "B", bodySize)
	p.row(t.Header, share, rowTall)
	p.SetFont("body", "", bodySize)
	tall := rowTall
	if t.forPencil() {
		tall = pencilTall
	}
	for _, row := range t.Rows {
		p.row(row, share, tall)
	}
}

func (p *pdfPage) row(cells []string, share []float64, tall float64) {
	lines := 1
	for i, cell := range cells {
		lines = max(lines, len(p.SplitText(harmless(cell), share[i]*p.wide-2)))
	}
	tall = tall*p.tight + 4.2*float64(lines-1)
	_, pageTall := p.GetPageSize()
	if p.GetY()+tall > pageTall-p.end {
		p.AddPage()
	}
	x, y := p.left, p.GetY()
	for i, cell := range cells {
		p.SetXY(x, y+1)
		p.MultiCell(share[i]*p.wide, 4.4, harmless(cell), "", "L", false)
		x += share[i] * p.wide
	}
	p.SetLineWidth(0.15)
	p.Line(p.left, y+tall, p.left+p.wide, y+tall)
	p.SetXY(p.left, y+tall)
}

func (p *pdfPage) picture(k Block) error {
	var png bytes.Buffer
	const ratio = 0.34
	if err := k.Figure.Write(&png, "png", p.wide, p.tight*ratio*p.wide); err != nil {
		return err
	}
	p.pictures++
	name := fmt.Sprintf("figure%d", p.pictures)
	p.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, &png)
	p.ImageOptions(name, margin, p.GetY()+1, p.wide, p.tight*ratio*p.wide, true, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	p.MultiCell(0, 5, harmless(k.Figure.Finding), "", "L", false)
	return nil
}

// faceWide is a picture of a target face on paper.
const faceWide = 62.0

// faceBlock sets a picture of a face at the right and its words and numbers
// beside it; neither is cut by the page's end.
func (p *pdfPage) faceBlock(k Block) error {
	wide := faceWide * p.tight
	if _, tall := p.GetPageSize(); p.GetY()+wide+12 > tall-p.end {
		p.AddPage()
	}
	top, page := p.GetY()+2, p.PageNo()
	var png bytes.Buffer
	if err := k.Face.Write(&png, "png", wide); err != nil {
		return err
	}
	p.pictures++
	name := fmt.Sprintf("figure%d", p.pictures)
	p.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, &png)
	x := margin + p.wide - wide
	p.ImageOptions(name, x, top, wide, wide, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	p.SetLineWidth(0.15)
	p.Rect(x, top, wide, wide, "D")
	whole := p.wide
	p.wide -= wide + 5
	p.SetRightMargin(margin + wide + 5)
	beside := k
	beside.Face, beside.Table = nil, nil
	err := p.block(beside)
	if k.Face.Note != "" {
		p.SetFont("body", "", bodySize)
		p.MultiCell(0, 4.6, harmless(k.Face.Note), "", "L", false)
	}
	p.wide = whole
	p.SetRightMargin(margin)
	if p.PageNo() == page {
		p.SetY(max(p.GetY(), top+wide+1))
	}
	return err
}

func (p *pdfPage) cautions(lines []string) {
	if len(lines) == 0 {
		return
	}
	p.Ln(3)
	p.SetFont("body", "B", bodySize)
	p.MultiCell(0, 5, "Caution", "", "L", false)
	p.SetFont("body", "", bodySize)
	for _, line := range lines {
		p.MultiCell(0, 4.8, "• "+harmless(line), "", "L", false)
	}
}
