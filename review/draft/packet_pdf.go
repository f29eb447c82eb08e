package draft

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"gatefold/review/crop"
)

// WriteJSON writes the packet as JSON.
func (k *Packet) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(k)
}

// Who names the bib as the packet does: "14", or "girls 8".
func (k *Packet) Who() string { return strings.TrimSpace(k.Group + " " + k.Bib) }

// WritePDF writes the packet as PDF, A4: each row with its ink, drawing and the gates as its judge set
// them, then what was made public and decided, and room for the jury to write. The error is as for a draft.
func (k *Packet) WritePDF(w io.Writer, cutter *crop.Cutter) error {
	head := sheetHead{race: k.Race, at: k.At, title: "JURY PACKET: bib " + k.Who()}
	for _, c := range k.Cases {
		if c.Incomplete {
			head.incomplete = "INCOMPLETE: the draft of " + caseWords(c) + " is not complete."
		}
	}
	p := newPaper(head, cutter)
	p.paragraph(marginX, textW, regular, 9.5, 40, "The bib is as written by the judge: two looks show that the ink was read rightly, not that the judge saw the right racer. Jury: "+
		orElse(strings.Join(k.Jury, ", "), "not set")+".")
	p.paragraph(marginX, textW, regular, 9.5, 0, k.Known)
	if len(k.Cases) == 0 {
		p.y += 4
		p.paragraph(marginX, textW, bold, 11, 0, "No row of a card that is in names this bib with certainty.")
		if len(k.Open) > 0 {
			p.heading("What can still change it", len(k.Open), "")
			for _, open := range k.Open {
				p.paragraph(marginX, textW, regular, 9.5, 0, "– "+open)
			}
		}
	}
	for i, c := range k.Cases {
		if i > 0 {
			p.f.AddPage()
			p.y = top
		}
		p.packetCase(c)
	}
	p.settings(&Draft{Race: k.Race})
	return p.finish(w, "packet")
}

func caseWords(c Case) string { return fmt.Sprintf("run %d, %s", c.Run, c.Course) }

// article names where a line's rule stands; a line that the draft has no more says none.
func article(basis string) string {
	if basis == "" {
		return ""
	}
	return " Article: " + BasisWords(basis) + "."
}

func (p *paper) packetCase(c Case) {
	p.y += 3
	p.room(30)
	p.f.SetFillColor(235, 235, 235)
	p.f.Rect(marginX, p.y, textW, 9, "F")
	p.text(marginX+2.5, p.y+6.3, bold, 13, 0, fmt.Sprintf("%s · run %d", c.Course, c.Run))
	status := "NO LINE OF THE DRAFT"
	if c.Status != "" {
		status = strings.ToUpper(c.Status)
	}
	if c.Status == "waiting" {
		status = "NOT PROPOSED YET" // "waiting" alone reads as if the jury were waited for
	}
	if c.Status == StatusGone {
		status = "NOT IN THE DRAFT ANY MORE"
	}
	p.set(bold, 11, 0)
	p.text(paperW-marginX-2.5-p.f.GetStringWidth(status), p.y+6.3, bold, 11, 0, status)
	p.y += 11
	if l := c.Line; l != nil {
		p.paragraph(marginX, textW, bold, 11, 0, "Gate "+orDash(l.Gate)+": "+strings.Join(nonEmpty(l.Code, l.Meaning), ", ")+"."+article(l.Basis))
		for _, t := range l.WaitsFor {
			p.paragraph(marginX, textW, bold, 9, 0, "waits: "+t)
		}
		for _, t := range l.Jury.Words() {
			p.paragraph(marginX, textW, bold, 9.5, 0, t)
		}
	}
	for i, f := range c.Faults {
		p.packetFault(i+1, len(c.Faults), f)
	}
	p.bullets("What the cards say together", c.Said)
	p.bullets("What can still change it", c.Open)
	if c.Line != nil {
		p.juryRoom()
	}
}

func (p *paper) packetFault(n, of int, f Fault) {
	p.heading(fmt.Sprintf("Evidence %d of %d: %s", n, of, cardWords(f.Row)), 1, "")
	p.room(60)
	start, page := p.y, p.f.PageNo()
	left, high := textW, 0.0
	x := paperW - marginX - drawingW
	for _, pic := range []struct {
		c    *crop.Crop
		word string
	}{{f.Row.Drawing, "drawing"}, {f.GatesAsSet, "gates as set"}} {
		if pic.c == nil {
			continue
		}
		if h := p.picture(x, start+4.5, drawingW, drawingH, pic.c); h > 0 {
			p.text(x, start+3, regular, 8, 80, pic.word)
			high, left, x = max(high, h+5.5), left-drawingW-4, x-drawingW-4
		}
	}
	if h := p.picture(marginX, p.y+0.5, left, 16, f.Row.Picture); h > 0 {
		p.y += h + 1.5
	} else {
		p.paragraph(marginX, left, bold, 9, 0, "No picture: see the paper.")
	}
	for _, t := range f.Words() {
		p.paragraph(marginX, left, regular, 9, 0, t)
	}
	if p.f.PageNo() == page {
		p.y = max(p.y, start+high)
	}
	if f.Remarks != nil {
		p.room(24)
		p.text(marginX, p.y+3, regular, 8, 80, "remarks on this card, as written; kept as a picture, never posted")
		p.y += 4
		p.y += p.picture(marginX, p.y, textW, 30, f.Remarks) + 1
	}
}

// Words says all about a row but its pictures, a sentence each.
func (f Fault) Words() []string {
	words := []string{
		strings.Join(nonEmpty("Code "+orDash(f.Row.Code), f.Meaning), ": ") + ". Article: " + orDash(f.Article) + ".",
		capital(orElse(f.Place, "no gate is settled")) + ". This judge watched " + f.JudgeGates + ".",
		capital(f.Says) + ".",
	}
	for _, c := range f.Changes {
		words = append(words, capital(c)+".")
	}
	for _, o := range f.Others {
		at := fmt.Sprintf("Card %d", o.Card)
		if o.Place != "" {
			at += " (" + o.Place + ")"
		}
		if rows, ok := strings.CutPrefix(o.Says, "wrote it too: "); ok {
			words = append(words, fmt.Sprintf("%s wrote it too: %s.", at, rows)) // one sentence for translators: codes are the league's
			continue
		}
		words = append(words, at+" "+o.Says+".")
	}
	if f.OtherBib != "" {
		words = append(words, "Another racer in the remark: "+f.OtherBib+", a reference, no call.")
	}
	for _, r := range f.Read {
		words = append(words, readWords(r))
	}
	for _, l := range f.Row.Looks {
		words = append(words, "A look at the bib: "+lookWords(l)+".")
	}
	for _, s := range f.Row.Settled {
		words = append(words, "Settled: "+settledWords(s)+".")
	}
	return words
}

// juryRoom is where the jury writes, on paper as it always did.
func (p *paper) juryRoom() {
	p.heading("The jury's decision", 1, "")
	p.room(52)
	rows := []string{"made public at", "protest handed in at, by", "heard at", "present (by function)", "upheld / overruled, and why", "decided at, signed"}
	for _, r := range rows {
		p.text(marginX, p.y+6, regular, 9, 60, r)
		p.f.SetDrawColor(120, 120, 120)
		p.f.SetLineWidth(0.2)
		p.f.Line(marginX+52, p.y+7, paperW-marginX, p.y+7)
		p.y += 8
	}
}
