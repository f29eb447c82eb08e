package print

import (
	"errors"
	"fmt"
	"io"
	"time"

	"gatefold/sheetmodel"
)

// Form says how cards lie on the paper they are printed on.
type Form string

// The forms. The layout's paper decides between A4 (for A5 cards) and Letter (for half-letter).
const (
	TwoUp    Form = "two-up"    // two cards a sheet, duplex, flip on the short edge, then cut
	FoldOver Form = "fold-over" // front and back on one face, folded; no duplex printer needed
)

// Stack is a pile of cards of one layout. The layout's hash goes into each card's identity.
type Stack struct {
	Layout *sheetmodel.Layout
	Cards  []CardPrint
}

// Job is one PDF.
type Job struct {
	Title   string
	Form    Form      // empty: TwoUp
	Created time.Time // stands in the file; the same Job gives the same bytes
	Stacks  []Stack   // one after the other, each beginning on a new sheet
}

// Placement says where one side of one card lies in a PDF: a point (x, y) of the side, in mm, lies
// on the page, from its top left corner, at
//
//	turn  0: (X + x, Y + y)
//	turn 90: (X - y, Y + x)
type Placement struct {
	Page   int                 `json:"page"` // from 1
	X      float64             `json:"x_mm"`
	Y      float64             `json:"y_mm"`
	Turn   int                 `json:"turn_deg"` // clockwise
	Side   sheetmodel.SideName `json:"side"`
	Layout string              `json:"layout"` // hash of the layout, 64 hex digits
	Run    int                 `json:"run"`
	Course int                 `json:"course"`
	Card   int                 `json:"card"`
}

// Numbered returns copies of base with the card numbers first to last.
func Numbered(base CardPrint, first, last int) []CardPrint {
	var cards []CardPrint
	for n := first; n <= last; n++ {
		c := base
		c.Identity.Card = n
		cards = append(cards, c)
	}
	return cards
}

// Spares returns copies of base without date, run and course, numbered first to last.
func Spares(base CardPrint, first, last int) []CardPrint {
	base.Date, base.Course = "", ""
	base.Identity.Run, base.Identity.Course = 0, 0
	return Numbered(base, first, last)
}

// Cards writes the PDF of a job and returns where each side lies in it, in the order of the pages.
// Cut in the middle, the left pile on top of the right, two-up cards lie in the order of their stack.
// It reads no file and no clock; nothing was written to w if the job itself is at fault.
func Cards(w io.Writer, job Job) ([]Placement, error) {
	if job.Form == "" {
		job.Form = TwoUp
	}
	if job.Form != TwoUp && job.Form != FoldOver {
		return nil, fmt.Errorf("print: unknown form %q; known are %s and %s", job.Form, TwoUp, FoldOver)
	}
	p := printer{pdf: newPDF(job.Title, job.Created)}
	for _, s := range job.Stacks {
		if err := p.stack(s, job.Form); err != nil {
			return nil, err
		}
	}
	if p.pages == 0 {
		return nil, errors.New("print: no cards to print; give at least one number")
	}
	if err := p.pdf.write(w); err != nil {
		return nil, err
	}
	return p.placements, nil
}

// printer places sides on pages.
type printer struct {
	pdf        *pdf
	pages      int
	paper      paper
	placements []Placement
}

// paper is a sheet held wide; half of it holds one card.
type paper struct{ w, h float64 }

var papers = map[string]paper{
	"a5":          {297, 210},
	"half-letter": {279.4, 215.9},
}

func (p *printer) stack(s Stack, form Form) error {
	if s.Layout == nil {
		return errors.New("print: a stack without a layout")
	}
	var ok bool
	if p.paper, ok = papers[s.Layout.Paper]; !ok {
		return fmt.Errorf("print: layout %s: no sheet for paper %q", s.Layout.Name, s.Layout.Paper)
	}
	hash := s.Layout.Hash()
	cards := make([]CardPrint, len(s.Cards))
	for i, c := range s.Cards {
		c.Identity.Layout = hash[:6]
		cards[i] = c
	}
	if form == FoldOver {
		for _, c := range cards {
			p.page()
			p.pdf.draw(p.middleLine("fold back here"))
			if err := p.side(s.Layout, hash, sheetmodel.Front, c, 1); err != nil {
				return err
			}
			if err := p.side(s.Layout, hash, sheetmodel.Back, c, 0); err != nil {
				return err
			}
		}
		return nil
	}
	sheets := (len(cards) + 1) / 2
	for i := range sheets {
		// Flipped on the short edge, the left half's back is the right half of the next page.
		for _, side := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
			p.page()
			p.pdf.draw(p.middleLine("cut here"))
			for slot, n := range []int{i, i + sheets} {
				if n >= len(cards) {
					continue
				}
				if side == sheetmodel.Back {
					slot = 1 - slot
				}
				if err := p.side(s.Layout, hash, side, cards[n], slot); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (p *printer) page() {
	p.pages++
	p.pdf.page(p.paper.w, p.paper.h)
}

// side draws one side into the left (0) or right (1) half of the page. A back, read with the card
// held wide, is turned clockwise.
func (p *printer) side(l *sheetmodel.Layout, hash string, name sheetmodel.SideName, c CardPrint, slot int) error {
	side := l.Side(name)
	if side == nil {
		return nil
	}
	shapes, err := drawSide(side, &c)
	if err != nil {
		return fmt.Errorf("print: card %d: %w", c.Identity.Card, err)
	}
	half, left := p.paper.w/2, p.paper.w/2*float64(slot)
	w, h, turn := float64(side.W), float64(side.H), 0
	x, y := left+(half-w)/2, (p.paper.h-h)/2
	if w > h {
		turn = 90
		x, y = left+(half+h)/2, (p.paper.h-w)/2
	}
	p.pdf.draw(placed(shapes, x, y, float64(turn)))
	p.placements = append(p.placements, Placement{
		Page: p.pages, X: hundredth(x), Y: hundredth(y), Turn: turn, Side: name, Layout: hash,
		Run: c.Identity.Run, Course: c.Identity.Course, Card: c.Identity.Card,
	})
	return nil
}

// middleLine is a pale dashed line between the halves, with its word at both ends.
func (p *printer) middleLine(word string) []shape {
	const grey = 0.6
	c := &canvas{}
	x := p.paper.w / 2
	for y := 5.0; y < p.paper.h-5; y += 3 {
		c.line([]point{{x, y}, {x, y + 1.2}}, 0.15, grey)
	}
	c.write(word, point{x + 1.9, 28}, 1.6, sheetmodel.Italic, sheetmodel.AlignLeft, -90, grey)
	return c.shapes
}
