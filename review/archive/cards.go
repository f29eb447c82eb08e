package archive

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

const cardsFile = "data/cards.pdf"

// pages writes cards.pdf, each kept side as one page of its true size over the readings as hidden text
// where their ink is, and an ALTO file for each. A doubtful text is followed by a question mark: who
// searches for a bib sees that it isn't sure. Pages that were left out are left out here as well. One
// picture at a time is in memory.
func pages(b *bag, sheets []store.Sheet, in Input) error {
	sheets = slices.DeleteFunc(slices.Clone(sheets), func(s store.Sheet) bool {
		return s.Page == "" || s.PagePxPerMM <= 0 || slices.Contains(b.leftOut, s.Page)
	})
	if len(sheets) == 0 {
		return nil // a PDF has a page at least
	}
	sizes := make([]sheetmodel.Rect, len(sheets))
	err := b.write(cardsFile, func(w io.Writer) error {
		p := newPDF(w)
		for i, s := range sheets {
			file, err := readStored(in.Store, s.Page)
			if err != nil {
				return err
			}
			picture, err := readPicture(file)
			if err != nil {
				return fmt.Errorf("%s: %w", s.Page, err)
			}
			sizes[i].W = sheetmodel.MM(float64(picture.width) / s.PagePxPerMM)
			sizes[i].H = sheetmodel.MM(float64(picture.height) / s.PagePxPerMM)
			p.page(fmt.Sprintf("%s, %s", store.CardName(s.Card), s.Side), sizes[i], picture, shownReadings(s, in.Names))
		}
		return p.finish(oneLine(in.Stack.Race.Name)+": gate judges' cards", in.At)
	})
	for i, s := range sheets {
		if err != nil {
			return err
		}
		err = b.alto(s, i+1, sizes[i], in.Names)
	}
	return err
}

func readStored(s *store.Store, file string) ([]byte, error) {
	f, err := s.OpenFile(file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; bring it back from a copy", file, err)
	}
	all, err := io.ReadAll(f)
	return all, errors.Join(err, f.Close())
}

// pdf writes pages as they come. The library that draws the draft keeps all pictures in memory and, where
// they are equally wide, puts them in another order each time.
//
// Source: ISO 32000-1: objects and cross references, 7.3 to 7.5; text, 9.3 and 9.4; outline, 12.3.3.
type pdf struct {
	w       io.Writer
	err     error
	at      int
	offsets []int // of object 1, 2, 3 ...; 0: not written yet
	kids    []int // objects of pages
	names   []string
}

// Objects that others point to before they are written. Those of page n come after, three a page.
const (
	objCatalog = iota + 1
	objPages
	objFont
	objInfo
	objOutline
	objFirstFree
)

func newPDF(w io.Writer) *pdf {
	p := &pdf{w: w, offsets: make([]int, objFirstFree-1)}
	p.print("%%PDF-1.7\n%%\xe2\xe3\xcf\xd3\n")
	// A font that every reader has, each letter as wide as the next: the hidden text can be made
	// exactly as wide as its field. It is never drawn, so none is embedded.
	p.object(objFont, "<< /Type /Font /Subtype /Type1 /BaseFont /Courier /Encoding /WinAnsiEncoding >>")
	return p
}

func (p *pdf) print(format string, args ...any) {
	if p.err != nil {
		return
	}
	var n int
	n, p.err = fmt.Fprintf(p.w, format, args...)
	p.at += n
}

func (p *pdf) add() int {
	p.offsets = append(p.offsets, 0)
	return len(p.offsets)
}

func (p *pdf) object(number int, body string) {
	p.offsets[number-1] = p.at
	p.print("%d 0 obj\n%s\nendobj\n", number, body)
}

func (p *pdf) stream(number int, dict string, body []byte) {
	p.object(number, fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(body), body))
}

const (
	ptPerMM      = 72 / 25.4
	courierWidth = 0.6 // of the font's size, each letter
	hiddenHeight = 0.7 // of the field's height: ascent and descent then stay in it; our own logic
	hiddenWidth  = 0.8 // of the field's width: fields that touch stay two words; our own logic
	highestText  = 9.0 // mm, in fields for drawings
	digitHeight  = 0.6 // of the font's size, about
)

// page adds one page, size in mm at the top left, with readings hidden under picture.
func (p *pdf) page(name string, size sheetmodel.Rect, picture picture, readings []sheetmodel.Reading) {
	shown, text, page := p.add(), p.add(), p.add()
	w, h := float64(size.W)*ptPerMM, float64(size.H)*ptPerMM
	p.stream(shown, "/Type /XObject /Subtype /Image "+picture.dict(), picture.body)
	var c bytes.Buffer
	fmt.Fprintf(&c, "q %.3f 0 0 %.3f 0 0 cm /P Do Q\nBT 3 Tr\n", w, h) // 3: neither filled nor stroked
	for _, r := range readings {
		hide(&c, h, r)
	}
	c.WriteString("ET\n")
	p.stream(text, "", c.Bytes())
	p.object(page, fmt.Sprintf("<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %.3f %.3f] /Contents %d 0 R "+
		"/Resources << /XObject << /P %d 0 R >> /Font << /F %d 0 R >> >> >>", objPages, w, h, text, shown, objFont))
	p.kids = append(p.kids, page)
	p.names = append(p.names, name)
}

// hide puts a reading nearly as wide as its field, its figures in the middle of the height.
func hide(c *bytes.Buffer, pageHeight float64, r sheetmodel.Reading) {
	text := strings.Join(strings.Fields(r.Text), " ")
	if text == "" {
		return
	}
	if r.State != sheetmodel.Clear {
		text += "?"
	}
	var line []byte
	for _, letter := range text {
		code, ok := charmap.Windows1252.EncodeRune(letter)
		if !ok {
			code = '*' // the ALTO file has it
		}
		line = append(line, code)
	}
	x, w := float64(r.Region.X)*ptPerMM, float64(r.Region.W)*ptPerMM
	top, h := float64(r.Region.Y)*ptPerMM, float64(r.Region.H)*ptPerMM
	size := min(h*hiddenHeight, highestText*ptPerMM)
	stretch := 100 * w * hiddenWidth / (courierWidth * size * float64(len(line)))
	x += w * (1 - hiddenWidth) / 2
	line = append(line, ' ') // else a program that looks for words joins fields that touch
	base := pageHeight - top - h/2 - size*digitHeight/2
	fmt.Fprintf(c, "/F %.3f Tf %.3f Tz 1 0 0 1 %.3f %.3f Tm <%x> Tj\n", size, stretch, x, base, line)
}

// finish writes what points to the pages.
func (p *pdf) finish(title string, at time.Time) error {
	var kids strings.Builder
	for _, k := range p.kids {
		fmt.Fprintf(&kids, "%d 0 R ", k)
	}
	p.object(objPages, fmt.Sprintf("<< /Type /Pages /Count %d /Kids [%s] >>", len(p.kids), kids.String()))
	first := len(p.offsets) + 1
	for range p.kids {
		p.add()
	}
	last := len(p.offsets)
	for i, k := range p.kids {
		beside := ""
		if i > 0 {
			beside += fmt.Sprintf(" /Prev %d 0 R", first+i-1)
		}
		if first+i < last {
			beside += fmt.Sprintf(" /Next %d 0 R", first+i+1)
		}
		p.object(first+i, fmt.Sprintf("<< /Title %s /Parent %d 0 R /Dest [%d 0 R /Fit]%s >>", pdfText(p.names[i]), objOutline, k, beside))
	}
	p.object(objOutline, fmt.Sprintf("<< /Type /Outlines /First %d 0 R /Last %d 0 R /Count %d >>", first, last, len(p.kids)))
	zone := at.Format("-07'00'")
	p.object(objInfo, fmt.Sprintf("<< /Title %s /Producer (gatefold) /CreationDate (D:%s%s) >>", pdfText(title), at.Format("20060102150405"), zone))
	p.object(objCatalog, fmt.Sprintf("<< /Type /Catalog /Pages %d 0 R /Outlines %d 0 R >>", objPages, objOutline))
	start := p.at
	p.print("xref\n0 %d\n0000000000 65535 f \n", len(p.offsets)+1)
	for _, o := range p.offsets {
		p.print("%010d 00000 n \n", o)
	}
	p.print("trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(p.offsets)+1, objCatalog, objInfo, start)
	return p.err
}

// pdfText spells a text string as big-endian UTF-16 with its mark. Source: ISO 32000-1, 7.9.2.2.
func pdfText(s string) string {
	var t strings.Builder
	t.WriteString("<FEFF")
	for _, unit := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&t, "%04X", unit)
	}
	t.WriteString(">")
	return t.String()
}
