package draft

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"gatefold/review/crop"
	"gatefold/sheetmodel"
)

// A4, in mm.
const (
	paperW, paperH = 210.0, 297.0
	marginX        = 16.0
	top, bottom    = 27.0, 279.0 // of what lies between head and foot
	textW          = paperW - 2*marginX
)

// face is a font of the file; pt its size in points.
type face string

const (
	regular face = "go"
	bold    face = "go-bold"
	italic  face = "go-italic"
)

// paper puts blocks below each other and starts pages.
type paper struct {
	f      *fpdf.Fpdf
	y      float64
	cutter *crop.Cutter
	images map[string]int // padding in px, by name
	widths map[int]bool   // image widths in use
	lost   []string       // pictures that could not be shown
}

// sheetHead is what stands at the head and the foot of every page.
type sheetHead struct {
	race       RaceHead
	at         time.Time
	title      string
	incomplete string // a sentence; empty: nothing
}

func newPaper(d sheetHead, cutter *crop.Cutter) *paper {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: paperW, Ht: paperH}})
	f.SetCatalogSort(true)
	f.SetCreationDate(d.at)
	f.SetModificationDate(d.at)
	f.SetProducer("gatefold", true)
	f.SetTitle(bmp(d.race.Name+": "+d.title), true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	for _, one := range []struct {
		name face
		font sheetmodel.Face
	}{{regular, sheetmodel.Regular}, {bold, sheetmodel.Bold}, {italic, sheetmodel.Italic}} {
		f.AddUTF8FontFromBytes(string(one.name), "", one.font.TTF())
	}
	f.AliasNbPages("{pages}")
	p := &paper{f: f, cutter: cutter, images: map[string]int{}, widths: map[int]bool{}}
	f.SetHeaderFunc(func() { p.head(d) })
	f.SetFooterFunc(func() { p.foot(d) })
	f.AddPage()
	p.y = top
	return p
}

func (p *paper) head(d sheetHead) {
	p.text(marginX, 14, bold, 13, 0, d.race.Name)
	p.text(marginX, 19.5, regular, 9, 60, strings.Join(nonEmpty(d.race.Date, d.race.Discipline, d.race.Rules), "  ·  "))
	p.right(14, bold, 13, 0, d.title)
	p.right(19.5, regular, 9, 60, "as of "+d.at.Format("2006-01-02 15:04:05 MST"))
	p.rule(22.5, 0.4, 0)
}

func (p *paper) foot(d sheetHead) {
	p.rule(283, 0.2, 120)
	p.text(marginX, 287.5, regular, 8, 60, Notice)
	p.right(287.5, regular, 8, 60, fmt.Sprintf("page %d of {pages}", p.f.PageNo()))
	if d.incomplete != "" {
		p.text(marginX, 291.5, bold, 8, 0, d.incomplete)
	}
}

// room starts a new page unless h mm are left.
func (p *paper) room(h float64) {
	if p.y+h > bottom {
		p.f.AddPage()
		p.y = top
	}
}

func (p *paper) set(font face, pt float64, grey int) {
	p.f.SetFont(string(font), "", pt)
	p.f.SetTextColor(grey, grey, grey)
}

func (p *paper) text(x, y float64, font face, pt float64, grey int, text string) {
	p.set(font, pt, grey)
	p.f.Text(x, y, bmp(text))
}

func (p *paper) right(y float64, font face, pt float64, grey int, text string) {
	p.set(font, pt, grey)
	text = bmp(text)
	w := p.f.GetStringWidth(strings.ReplaceAll(text, "{pages}", "99"))
	p.f.Text(paperW-marginX-w, y, text)
}

func (p *paper) rule(y, width float64, grey int) {
	p.f.SetDrawColor(grey, grey, grey)
	p.f.SetLineWidth(width)
	p.f.Line(marginX, y, paperW-marginX, y)
}

// paragraph breaks text into lines of w mm and moves on.
func (p *paper) paragraph(x, w float64, font face, pt float64, grey int, text string) {
	p.set(font, pt, grey)
	lineH := pt * 0.3528 * 1.35 // points to mm, and some air
	for _, line := range p.f.SplitText(bmp(text), w) {
		p.room(lineH)
		p.set(font, pt, grey)
		p.f.Text(x, p.y+lineH*0.75, line)
		p.y += lineH
	}
}

// picture places a crop at its natural size, or smaller to fit w × h mm, and returns its height; 0 if
// it can't be shown.
func (p *paper) picture(x, y, w, h float64, c *crop.Crop) float64 {
	if c == nil || p.cutter == nil {
		return 0
	}
	name := fmt.Sprintf("%s %v %v", c.Page, c.Rect, c.Show)
	pad, ok := p.images[name]
	if !ok {
		var err error
		if pad, err = p.register(name, *c); err != nil {
			p.lost = append(p.lost, err.Error())
			return 0
		}
	}
	scale := min(1, w/float64(c.Rect.W), h/float64(c.Rect.H))
	pw, ph := float64(c.Rect.W)*scale, float64(c.Rect.H)*scale
	p.f.ImageOptions(name, x, y, pw+float64(pad)/c.PxPerMM*scale, ph, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	p.f.SetDrawColor(150, 150, 150)
	p.f.SetLineWidth(0.15)
	p.f.Rect(x, y, pw, ph, "D")
	return ph
}

// register puts a crop into the file. The library orders images by their width and leaves equals to
// chance; white columns at the right make every width its own, and the file the same each time.
func (p *paper) register(name string, c crop.Crop) (pad int, err error) {
	img, err := p.cutter.Cut(c)
	if err != nil {
		return 0, err
	}
	for p.widths[img.Rect.Dx()+pad] {
		pad++
	}
	p.widths[img.Rect.Dx()+pad] = true
	wide := image.NewGray(image.Rect(0, 0, img.Rect.Dx()+pad, img.Rect.Dy()))
	draw.Draw(wide, wide.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(wide, img.Rect, img, image.Point{}, draw.Src)
	var b bytes.Buffer
	if err = png.Encode(&b, wide); err != nil {
		return 0, err
	}
	p.f.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, &b)
	p.images[name] = pad
	return pad, nil
}

func (p *paper) write(w io.Writer) error {
	if err := p.f.Output(w); err != nil {
		return fmt.Errorf("draft: %w", err)
	}
	return nil
}

// bmp replaces what the embedded fonts' index can't hold.
func bmp(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return ' '
		case r > 0xFFFF || r < ' ':
			return '?'
		}
		return r
	}, text)
}
