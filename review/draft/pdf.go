package draft

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"gatefold/review/crop"
)

// WritePDF writes the draft as PDF, A4, with the ink of each row that it rests on. cutter shows the
// ink; nil leaves all pictures out and says so at each row. The same draft gives the same bytes.
//
// The file is written even if some pictures can't be shown; the error then joins one sentence for each.
func (d *Draft) WritePDF(w io.Writer, cutter *crop.Cutter) error {
	head := sheetHead{race: d.Race, at: d.At, title: "DRAFT for the referee"}
	if d.Incomplete {
		head.incomplete = "INCOMPLETE: " + strings.Join(openSections(d), ", ") + "."
	}
	p := newPaper(head, cutter)
	p.overview(d)
	p.summary(d)
	first := true
	for _, s := range d.Sections {
		if s.Counts.CardsExpected == 0 {
			continue // the summary has said all there is
		}
		if first {
			p.f.AddPage()
			p.y = top
		}
		first = false
		p.section(s)
	}
	p.settings(d)
	return p.finish(w, "draft")
}

// finish writes the file; the error joins one sentence for each picture that could not be shown.
func (p *paper) finish(w io.Writer, what string) error {
	if err := p.write(w); err != nil {
		return err
	}
	var errs []error
	for _, l := range p.lost {
		errs = append(errs, errors.New(what+": "+l))
	}
	return errors.Join(errs...)
}

// overview is what the referee needs to know before the first line.
func (p *paper) overview(d *Draft) {
	p.paragraph(marginX, textW, regular, 9.5, 40, Notice+" Each line shows the ink it rests on. A line is proposed only with two looks at its bib. Drawings are shown as drawn: whether one fits its row is for people to see.")
	for _, n := range d.Race.Notes {
		p.paragraph(marginX, textW, italic, 9, 60, n)
	}
	ph := d.Photos
	words := fmt.Sprintf("Photos: %d, %d accepted, %d refused", ph.Total, ph.Accepted, ph.Refused)
	if ph.Unread > 0 {
		words += fmt.Sprintf(", %d not read yet", ph.Unread)
	}
	if ph.Foreign > 0 {
		words += fmt.Sprintf("; %d sheets of another race, not used", ph.Foreign)
	}
	p.paragraph(marginX, textW, regular, 9, 60, words+".")
	if len(d.Sections) == 0 {
		p.y += 6
		p.paragraph(marginX, textW, bold, 11, 0, "No card is expected and none is in: place the judges first.")
	}
}

// settings prints what holds in this race where rule books differ, so that a referee can look it up.
func (p *paper) settings(d *Draft) {
	p.heading("What holds in this race: "+d.Race.Rules, len(d.Race.Settings), "")
	for _, s := range d.Race.Settings {
		p.room(5)
		p.paragraph(marginX+1, textW-1, regular, 9, 0, capital(s.Words)+" ("+orDash(s.Basis)+").")
	}
}

func capital(words string) string {
	if words == "" {
		return words
	}
	return strings.ToUpper(words[:1]) + words[1:]
}

func (p *paper) section(s Section) {
	p.y += 5
	p.room(40)
	p.f.SetFillColor(235, 235, 235)
	p.f.Rect(marginX, p.y, textW, 9, "F")
	p.text(marginX+2.5, p.y+6.3, bold, 13, 0, sectionWords(s))
	state := "complete"
	if len(s.Incomplete) > 0 {
		state = "INCOMPLETE"
	}
	p.set(bold, 11, 0)
	p.text(paperW-marginX-2.5-p.f.GetStringWidth(state), p.y+6.3, bold, 11, 0, state)
	p.y += 11
	c := s.Counts
	p.paragraph(marginX, textW, regular, 9.5, 0, fmt.Sprintf("Cards %d of %d in  ·  rows %d  ·  proposed %d  ·  waiting %s  ·  set aside %d  ·  recorded only %d",
		c.CardsIn, c.CardsExpected, c.Rows, c.Proposed, s.WaitingWords(), c.SetAside, c.Recorded))
	p.paragraph(marginX, textW, regular, 9.5, 0, fmt.Sprintf("Lists: did not start %s  ·  did not finish %s  ·  re-runs %s",
		listWords(s.Lists.DidNotStart), listWords(s.Lists.DidNotFinish), listWords(s.Lists.Reruns)))
	p.bullets("Incomplete because", s.Incomplete)
	p.unmade(s)

	p.heading("Proposed disqualifications", len(s.Proposed), "none")
	for _, l := range s.Proposed {
		p.line(l)
	}
	p.heading("Waiting: would be proposed, something is still open", len(s.Waiting), "")
	for _, l := range s.Waiting {
		p.line(l)
	}
	p.heading("Overruled by the jury: struck, the rows stay", len(s.Overruled), "")
	for _, l := range s.Overruled {
		p.line(l)
	}
	p.rows("Rows that wait", s.Rows)
	p.rows("Set aside: no proposal, for the referee to see", s.SetAside)
	p.missing("Missing cards", s.Missing)
	p.missing("Backs that are not in", s.Backs)
	p.bullets("Gates that no card covers", s.OpenGates)
	var jury, conflicts, notes []string
	for _, f := range s.ForJury {
		jury = append(jury, f.Sentence)
	}
	for _, f := range s.Conflicts {
		conflicts = append(conflicts, f.Sentence)
	}
	for _, f := range s.Notes {
		notes = append(notes, f.Sentence)
	}
	p.bullets("For the jury", jury)
	p.bullets("Needs a person", conflicts)
	p.rows("Recorded, proposes nothing", s.Recorded)
	p.bullets("Notes", notes)
}

// heading prints a sub-heading. Without entries it prints the word for none, or nothing at all.
func (p *paper) heading(title string, n int, none string) {
	if n == 0 && none == "" {
		return
	}
	p.y += 3
	p.room(22)
	p.text(marginX, p.y+4, bold, 10.5, 0, title)
	p.y += 5.5
	p.rule(p.y, 0.2, 120)
	p.y += 1.5
	if n == 0 {
		p.paragraph(marginX, textW, italic, 9.5, 60, none)
	}
}

// unmade says how many lines are public that the draft doesn't make.
func (p *paper) unmade(s Section) {
	if words := s.UnmadeWords(); words != "" {
		p.paragraph(marginX, textW, bold, 9, 0, words)
	}
}

func (p *paper) bullets(title string, sentences []string) {
	p.heading(title, len(sentences), "")
	for _, t := range sentences {
		p.room(5)
		p.text(marginX+1, p.y+3.2, regular, 9, 0, "–")
		p.paragraph(marginX+4, textW-4, regular, 9, 0, t)
	}
}

func (p *paper) missing(title string, cards []MissingCard) {
	var words []string
	for _, m := range cards {
		t := fmt.Sprintf("card %d", m.Card)
		for _, part := range [][2]string{{", place ", m.Place}, {", judge ", m.Judge}, {", phone ", m.Phone}, {": ", m.Reason}} {
			if part[1] != "" {
				t += part[0] + part[1]
			}
		}
		if n := len(m.Gates); n > 0 {
			t += fmt.Sprintf(" (gates %s to %s)", m.Gates[0], m.Gates[n-1])
		}
		words = append(words, t)
	}
	p.bullets(title, words)
}

// line is one proposed or waiting disqualification, with the ink below it.
func (p *paper) line(l Line) {
	p.room(46) // the bold words never stand alone at the foot of a page
	y := p.y + 6
	bib := l.Bib
	if l.Group != "" {
		bib += " " + l.Group
	}
	p.text(marginX, y, bold, 15, 0, "Bib "+bib)
	p.text(marginX+52, y, bold, 11, 0, "gate "+orDash(l.Gate))
	p.text(marginX+80, y, regular, 10, 0, strings.Join(nonEmpty(l.Code, l.Meaning), ": "))
	p.right(y, regular, 9, 60, BasisWords(l.Basis))
	p.y = y + 1.5
	if l.Name != "" {
		p.paragraph(marginX, textW, regular, 9.5, 40, strings.Join(nonEmpty(l.Name, l.Club), ", ")+" (start list)")
	}
	for _, t := range l.WaitsFor {
		p.paragraph(marginX, textW, bold, 9, 0, "waits: "+t)
	}
	for _, t := range l.Jury.Words() {
		p.paragraph(marginX, textW, bold, 9, 0, t)
	}
	for _, r := range l.Rows {
		p.evidence(r, "")
	}
	for _, r := range l.Further {
		p.evidence(r, "further evidence: ")
	}
	p.y += 2
	p.rule(p.y, 0.1, 190)
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func (p *paper) rows(title string, rows []Row) {
	p.heading(title, len(rows), "")
	for _, r := range rows {
		p.evidence(r, fmt.Sprintf("bib %s, %s, gate %s: ", bibWords(r), orDash(r.Code), orDash(r.Gate)))
	}
}

// drawingW and drawingH bound the panel's picture beside the row.
const drawingW, drawingH = 34.0, 44.0

// evidence shows one row: its picture, the drawing beside it, and in words what its bib rests on.
func (p *paper) evidence(r Row, before string) {
	high := 22.0
	if r.Drawing != nil {
		high = drawingH + 3
	}
	p.room(high)
	start, page := p.y, p.f.PageNo()
	p.y += 1
	left := textW
	drawn := p.picture(paperW-marginX-drawingW, p.y, drawingW, drawingH, r.Drawing)
	if drawn > 0 {
		left = textW - drawingW - 4
	}
	p.paragraph(marginX, left, regular, 9, 0, before+cardWords(r)+why(r))
	if h := p.picture(marginX, p.y+0.5, left, 16, r.Picture); h > 0 {
		p.y += h + 1.5
	} else {
		p.paragraph(marginX, left, bold, 9, 0, "No picture: see the paper.")
	}
	for _, l := range r.Looks {
		p.paragraph(marginX+2, left-2, regular, 8.5, 40, "look: "+lookWords(l))
	}
	for _, s := range r.Settled {
		p.paragraph(marginX+2, left-2, regular, 8.5, 80, settledWords(s))
	}
	if p.f.PageNo() == page {
		p.y = max(p.y, start+1+drawn)
	}
	p.y += 1
}

func why(r Row) string {
	if r.Why == "" || r.Why == "carries a proposal" {
		return ""
	}
	if words := StakeWords(r); words != "" {
		return " – " + r.Why + ". " + words
	}
	return " – " + r.Why
}
