package print

import (
	"fmt"
	"io"
	"math"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"gatefold/sheetmodel"
)

// pdf writes shapes onto pages. The same shapes and the same time give the same bytes.
type pdf struct{ f *fpdf.Fpdf }

// families are the names of the embedded fonts inside the file.
var families = map[sheetmodel.Face]string{
	sheetmodel.Regular: "go", sheetmodel.Bold: "go-bold", sheetmodel.Italic: "go-italic",
}

func newPDF(title string, created time.Time) *pdf {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm"})
	f.SetCatalogSort(true)
	f.SetCreationDate(created)
	f.SetModificationDate(created)
	f.SetProducer("gatefold", true)
	f.SetTitle(title, true)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	for _, face := range []sheetmodel.Face{sheetmodel.Regular, sheetmodel.Bold, sheetmodel.Italic} {
		f.AddUTF8FontFromBytes(families[face], "", face.TTF())
	}
	return &pdf{f: f}
}

// page starts a page of w × h mm.
func (p *pdf) page(w, h float64) {
	p.f.AddPageFormat("P", fpdf.SizeType{Wd: w, Ht: h})
}

func (p *pdf) draw(shapes []shape) {
	for _, s := range shapes {
		grey := int(math.Round(s.grey * 255))
		if s.text != "" {
			p.f.SetTextColor(grey, grey, grey)
			p.f.SetFont(families[s.face], "", 0)
			p.f.SetFontUnitSize(s.size / sheetmodel.CapHeight)
			if s.turn != 0 {
				p.f.TransformBegin()
				p.f.TransformRotate(-s.turn, s.at.x, s.at.y)
			}
			p.f.Text(s.at.x, s.at.y, s.text)
			if s.turn != 0 {
				p.f.TransformEnd()
			}
			continue
		}
		if len(s.polys) == 0 {
			continue
		}
		p.f.SetFillColor(grey, grey, grey)
		for _, poly := range s.polys {
			for i, q := range poly {
				if i == 0 {
					p.f.MoveTo(q.x, q.y)
				} else {
					p.f.LineTo(q.x, q.y)
				}
			}
			p.f.ClosePath()
		}
		p.f.DrawPath("F")
	}
}

func (p *pdf) write(w io.Writer) error {
	if err := p.f.Output(w); err != nil {
		return fmt.Errorf("pdf: %w", err)
	}
	return nil
}
