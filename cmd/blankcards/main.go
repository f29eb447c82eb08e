// Blankcards makes the blank cards of testdata/blank-cards: five that no league has, each as a scan or a PDF, and
// beside it the layout that a person would describe it with.
//
//	go run ./cmd/blankcards -out testdata/blank-cards
//
// The same program gives the same files.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

func main() {
	out := flag.String("out", "testdata/blank-cards", "folder")
	flag.Parse()
	if err := run(*out); err != nil {
		fmt.Fprintln(os.Stderr, "blankcards:", err)
		os.Exit(1)
	}
}

// scanPxPerMM is 200 dpi, as offices scan.
const scanPxPerMM = 8.0

func run(out string) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	for i, c := range cards() {
		l := c.layout()
		data, name := []byte(nil), l.Name+".png"
		var err error
		switch side := &l.Sides[0]; {
		case c.pdf:
			name = l.Name + ".pdf"
			data, err = pdfOf(side, l.Name)
		default:
			bare := *side
			bare.Fields = nil // their frames are ours; a league draws its own
			data, err = pngOf(scanned(print.RasterBlank(&bare, scanPxPerMM), c.look, uint64(i)))
		}
		if err != nil {
			return fmt.Errorf("%s: %w", l.Name, err)
		}
		if err := os.WriteFile(filepath.Join(out, name), data, 0o644); err != nil {
			return err
		}
		for i := range l.Sides {
			l.Sides[i].Print = nil // whoever describes a card has its picture, not its drawing
		}
		text, err := sheetmodel.EncodeDraft(l, "Described by hand, in mm. The blank card lies beside it as "+name+".")
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(out, l.Name+".yaml"), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func pngOf(m *image.Gray) ([]byte, error) {
	// Sixteen greys are enough for a scan and make small files.
	p := image.NewPaletted(m.Rect, greys())
	for i, v := range m.Pix {
		p.Pix[i] = uint8((int(v) + 8) / 17)
	}
	var out bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestCompression}
	err := e.Encode(&out, p)
	return out.Bytes(), err
}

// pdfOf draws a side as a PDF of one page of its size: lines and letters, no picture.
func pdfOf(side *sheetmodel.Side, title string) ([]byte, error) {
	p := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: float64(side.W), Ht: float64(side.H)}})
	p.SetCreationDate(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC))
	p.SetModificationDate(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC))
	p.SetCatalogSort(true)
	p.SetTitle(title, true)
	p.SetAutoPageBreak(false, 0)
	p.AddPage()
	p.AddUTF8FontFromBytes("regular", "", sheetmodel.Regular.TTF())
	p.AddUTF8FontFromBytes("bold", "", sheetmodel.Bold.TTF())
	for _, i := range side.Print {
		switch {
		case i.Box != nil:
			p.SetLineWidth(float64(i.Width))
			p.Rect(float64(i.Box.X), float64(i.Box.Y), float64(i.Box.W), float64(i.Box.H), "D")
		case len(i.Line) > 1:
			p.SetLineWidth(float64(i.Width))
			for k := 1; k < len(i.Line); k++ {
				p.Line(float64(i.Line[k-1].X), float64(i.Line[k-1].Y), float64(i.Line[k].X), float64(i.Line[k].Y))
			}
		case i.Text != "":
			family := "regular"
			if i.Bold {
				family = "bold"
			}
			const pointsPerMM = 72 / 25.4
			p.SetFont(family, "", float64(i.Size)/sheetmodel.CapHeight*pointsPerMM)
			x := float64(i.At.X)
			if i.Align == sheetmodel.AlignCenter {
				x -= p.GetStringWidth(i.Text) / 2
			}
			p.Text(x, float64(i.At.Y), i.Text)
		}
	}
	var out bytes.Buffer
	err := p.Output(&out)
	return out.Bytes(), err
}
