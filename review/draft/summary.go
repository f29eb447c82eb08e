package draft

import (
	"fmt"
	"strings"

	"gatefold/sheetmodel"
)

// columns of the summary, in mm from the margin.
const (
	colBib, colGate, colCode, colJudge, colLooks = 0.0, 20.0, 33.0, 80.0, 118.0
)

// summary lists on the first page what the pages after it show with the ink: a line for each proposed
// disqualification, then how much is open.
func (p *paper) summary(d *Draft) {
	for _, s := range d.Sections {
		p.y += 4
		p.room(26)
		p.text(marginX, p.y+4, bold, 11, 0, sectionWords(s))
		state := "complete"
		if len(s.Incomplete) > 0 {
			state = "INCOMPLETE"
		}
		p.right(p.y+4, bold, 9.5, 0, state)
		p.y += 5.5
		p.rule(p.y, 0.2, 120)
		p.y += 1
		if len(s.Proposed) > 0 {
			words := "Proposed, not decided."
			if state != "complete" {
				words += " While it is incomplete this list goes out on the referee's word only."
			}
			if s.MayTakeBack() {
				words += " " + NotFinal
			}
			p.paragraph(marginX, textW, bold, 9, 0, words)
			p.cells(italic, 80, [5]string{"bib", "gate", "code", "judge", "the two looks at its bib"})
		}
		for _, l := range s.Proposed {
			p.cells(regular, 0, summaryCells(l))
		}
		p.unmade(s)
		if s.Counts.CardsExpected == 0 {
			p.paragraph(marginX, textW, regular, 9, 0, strings.Join(s.Incomplete, " "))
			continue
		}
		p.paragraph(marginX, textW, regular, 9, 0, countWords(s))
	}
}

// cells prints one line of the summary; a cell that is too long for its column is broken.
func (p *paper) cells(font face, grey int, cells [5]string) {
	const pt, lineH = 9.0, 4.3
	starts := [6]float64{colBib, colGate, colCode, colJudge, colLooks, textW}
	var broken [5][]string
	high := 1
	p.set(font, pt, grey)
	for i, c := range cells {
		broken[i] = p.f.SplitText(bmp(c), starts[i+1]-starts[i]-2)
		high = max(high, len(broken[i]))
	}
	p.room(float64(high)*lineH + 0.8)
	for i, lines := range broken {
		for j, line := range lines {
			p.text(marginX+starts[i], p.y+3.3+float64(j)*lineH, font, pt, grey, line)
		}
	}
	p.y += float64(high)*lineH + 0.8
}

func summaryCells(l Line) [5]string {
	bib := l.Bib
	if l.Group != "" {
		bib = l.Group + " " + bib
	}
	var judges, looks []string
	for i, r := range l.Rows {
		who := fmt.Sprintf("card %d", r.Card)
		if r.Spare {
			who = "spare " + who
		}
		for _, more := range []string{r.Place, r.Judge} {
			if more != "" {
				who += ", " + more
			}
		}
		judges = append(judges, who)
		if i == 0 {
			for _, k := range r.Looks {
				looks = append(looks, shortLook(k.Kind))
			}
		}
	}
	words := strings.Join(looks, " + ")
	if n := len(l.Rows) - 1; n == 1 {
		words += "; 1 row agrees"
	} else if n > 1 {
		words += fmt.Sprintf("; %d rows agree", n)
	}
	return [5]string{bib, orDash(l.Gate), strings.Join(nonEmpty(l.Code, l.Meaning), ": "), strings.Join(judges, "; "), words}
}

// shortLook names a look in a few words; the pages with the ink say it in full.
func shortLook(k sheetmodel.LookKind) string {
	switch k {
	case sheetmodel.LookWriting:
		return "in the row"
	case sheetmodel.LookSecondBox:
		return "in the second box"
	case sheetmodel.LookStrip:
		return "under the drawing"
	case sheetmodel.LookReadBack:
		return "judge read aloud"
	case sheetmodel.LookBlind:
		return "typed unseen"
	case sheetmodel.LookJudgeAsked:
		return "judge asked"
	case sheetmodel.LookPaper:
		return "typed from paper"
	}
	return string(k)
}

func countWords(s Section) string {
	gone, backs := unexplained(s.Missing), unexplained(s.Backs)
	words := fmt.Sprintf("proposed %d  ·  waiting %s  ·  set aside %d  ·  questions for a person %d  ·  missing cards %d  ·  gates without a card: %s",
		s.Counts.Proposed, s.WaitingWords(), s.Counts.SetAside, len(s.Conflicts), gone, yesNo(len(s.OpenGates) > 0))
	if backs > 0 {
		words += fmt.Sprintf("  ·  backs that are not in %d", backs)
	}
	if n := len(s.Overruled); n > 0 {
		words += fmt.Sprintf("  ·  overruled by the jury %d", n)
	}
	return words
}

// unexplained counts the cards without a reason.
func unexplained(cards []MissingCard) int {
	n := 0
	for _, m := range cards {
		if m.Reason == "" {
			n++
		}
	}
	return n
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "none"
}

// openSections names the sections that are not complete.
func openSections(d *Draft) []string {
	var open []string
	for _, s := range d.Sections {
		if len(s.Incomplete) > 0 {
			open = append(open, sectionWords(s))
		}
	}
	if len(open) == 0 {
		return []string{"nothing is known yet"}
	}
	return open
}
