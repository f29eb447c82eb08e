package stack

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// rows adds the rows of card i, in their order: those with ink, and those that were entered.
func (l *loader) rows(i int) {
	c := &l.Cards[i]
	from := len(l.Rows)
	switch {
	case c.Front != nil:
		l.inkRows(i)
		l.addedRows(i, from)
	case c.Paper != nil:
		for n := 1; n <= c.Paper.Rows; n++ {
			l.Rows = append(l.Rows, l.paperRow(i, n))
		}
	default:
		return
	}
	l.enteredRows(i, from)
	l.askCounted(i, from)
	l.askAside(i, from)
	slices.SortFunc(l.Rows[from:], func(a, b Row) int { return a.Ref.Row - b.Ref.Row })
}

// inkRows adds the rows of card i that have ink in any photo. A row seen only in a photo that doesn't
// count is kept too while nobody has said which photo does.
func (l *loader) inkRows(i int) {
	c := &l.Cards[i]
	inks := map[int]*store.Sheet{}
	var numbers []int
	for _, s := range append([]*store.Sheet{c.Front}, c.Other...) {
		if s.Side != sheetmodel.Front {
			continue
		}
		for _, r := range s.Read.Reading.Rows {
			if inks[r.Number] != nil || !r.HasInk {
				continue
			}
			if s != c.Front && l.openQuestion(c.Printed, r.Number, "") == nil {
				continue
			}
			inks[r.Number] = s
			numbers = append(numbers, r.Number)
		}
	}
	for _, n := range numbers {
		s := inks[n]
		at := slices.IndexFunc(s.Read.Reading.Rows, func(r sheetmodel.Row) bool { return r.Number == n })
		l.Rows = append(l.Rows, l.row(i, s, s.Read.Reading.Rows[at]))
	}
}

func (l *loader) row(i int, s *store.Sheet, ink sheetmodel.Row) Row {
	c := &l.Cards[i]
	ink.Struck = ink.Struck || l.marked(c, ink.Number) || l.saidStruck(c, ink.Number)
	ink = doubted(ink)
	var ties []look.Tied
	for _, t := range c.ties {
		if t.Row == ink.Number && s == c.Front {
			if t.Clear && l.mayBeAnothers(c, t) {
				t.Clear, t.Detail = false, "a row that was not read with the bibs under its drawing may belong there"
			}
			ties = append(ties, t)
		}
	}
	r := Row{Card: i, Sheet: s, Ink: ink}
	r.BibSeen = l.entry(s, sheetmodel.PartBib, ink.Bib, ties)
	r.Code = l.code(s, ink)
	r.Gate = l.entry(s, sheetmodel.PartGate, ink.Gate, nil)
	r.Panel = l.entry(s, sheetmodel.PartPanel, ink.Panel, nil)
	r.Rerun = l.entry(s, sheetmodel.PartRerun, ink.Rerun, nil)
	r.Row = rules.Row{
		Ref: sheetmodel.RowRef{CardKey: c.Key, Row: ink.Number},
		Bib: r.BibSeen.Seen.Text, BibState: r.BibSeen.Seen.State, Reason: r.BibSeen.Seen.Reason,
		Code: r.Code.Seen.Text, CodeSure: r.Code.Sure(), Gate: r.Gate.Seen.Text, GateSure: r.Gate.Sure(),
		Panel: r.Panel.Seen.Text, PanelSure: r.Panel.Sure(),
		Rerun:     r.mayBeRerun(),
		Struck:    ink.Struck,
		Drawn:     r.Panel.Seen.Text != "" && drawn(c.PanelSheet(), r.Panel.Seen.Text),
		PathDoubt: r.Panel.Seen.Text != "" && pathDoubt(c.PanelSheet(), r.Panel.Seen.Text),
	}
	if s == c.Front && c.untied && secondWriting(c, ink) {
		r.hold("its two writings have not been read together yet: run gatefold collect again")
	}
	r.Entered = slices.Contains(l.entered[c.Printed], ink.Number)
	r.Unsure, r.Unread = !r.Entered && specks(ink, ties), !r.Entered && unread(ink)
	l.holdReused(&r, s.Layout)
	if q := l.openQuestion(c.Printed, ink.Number, r.Panel.Seen.Text); q != nil {
		r.hold(q.why())
	}
	return r
}

// doubted takes the certainty from all ink of a row that is seen as struck out, whatever its reader left
// of it: a line through digits makes others of them. A person may say that the row stands; that makes
// none of its readings clear.
func doubted(ink sheetmodel.Row) sheetmodel.Row {
	if !ink.Struck {
		return ink
	}
	for _, r := range []*sheetmodel.Reading{&ink.Bib, &ink.BibAgain, &ink.Code, &ink.CodeOther, &ink.Gate, &ink.Panel, &ink.Rerun} {
		if r.State != sheetmodel.Empty && r.Field != "" && !r.HasDoubt(sheetmodel.DoubtStruckOut) {
			r.Doubts = slices.Clone(r.Doubts)
			r.Doubt(sheetmodel.DoubtStruckOut, "a line runs through the row")
		}
	}
	return ink
}

// secondWriting reports whether a row's bib may be written a second time: in its second box, or in a strip on the back.
func secondWriting(c *Card, ink sheetmodel.Row) bool {
	if ink.BibAgain.Field != "" && ink.BibAgain.State != sheetmodel.Empty {
		return true
	}
	panels := c.PanelSheet()
	return panels != nil && slices.ContainsFunc(panels.Read.Reading.Strips, func(e sheetmodel.StripEntry) bool {
		return e.Bib.State != sheetmodel.Empty && (e.Panel == ink.Panel.Text || ink.Panel.State == sheetmodel.Doubtful)
	})
}

// mayBeRerun reports whether the row is marked as one of a re-run. A mark that may be one counts as one:
// it can only hold the row.
func (r *Row) mayBeRerun() bool {
	ink := r.Ink.Rerun
	return ink.Field != "" && ink.State != sheetmodel.Empty && (r.Rerun.Seen.Text != "" || !r.Rerun.Sure())
}

// specks reports whether all ink of a row may be grain of the paper.
func specks(ink sheetmodel.Row, ties []look.Tied) bool {
	for _, r := range []sheetmodel.Reading{ink.Bib, ink.BibAgain, ink.Code, ink.CodeOther, ink.Gate, ink.Panel, ink.Rerun} {
		if r.Field != "" && !look.Specks(look.Ink{Pictured: true, Reading: r, Ties: ties, Grammar: grammarOf[partOf(r.Field)]}) {
			return false
		}
	}
	return true
}

// unread reports whether a reader makes no text of the bib in a row: a row that is scribbled over may look so.
func unread(ink sheetmodel.Row) bool { return ink.Bib.Text == "" && ink.BibAgain.Text == "" }

// hold lets a row wait for the answer to a question; one that was set aside stays so.
func (r *Row) hold(why string) {
	if r.BibState == sheetmodel.BibSetAside {
		return
	}
	r.BibState, r.Reason = sheetmodel.BibWaiting, why
	r.BibSeen.Seen.State, r.BibSeen.Seen.Looks, r.BibSeen.Seen.Reason = r.BibState, nil, r.Reason
}

// code joins the ticks and the free cell beside them. Ticks are read; a word in the free cell is typed
// by a person, and so is a row that has both.
func (l *loader) code(s *store.Sheet, ink sheetmodel.Row) Entry {
	free := ink.CodeOther.Field != "" && ink.CodeOther.State != sheetmodel.Empty
	r := ink.Code
	switch {
	case inFreeCell(ink):
		field := r.Field
		r = ink.CodeOther
		if field != "" {
			r.Field = field // one decision settles what happened, wherever it is written
		}
		alone := slices.Contains(s.Read.Alone, ink.CodeOther.Field)
		if r.State == sheetmodel.Clear {
			r.State = sheetmodel.Doubtful // words are never used unseen
		}
		e := Entry{Part: sheetmodel.PartCode, Reading: r, Key: s.Key(r.Field)}
		e.ink = look.Ink{Pictured: true, Reading: r, Alone: alone, Grammar: sheetmodel.GrammarCode, Judge: l.judge, Relief: l.relief}
		e.Seen = l.countOn(s, e.ink, e.Key)
		return e
	case free:
		r.Doubts = slices.Clone(r.Doubts)
		r.Doubt(sheetmodel.DoubtTwoMarks, "a box is ticked and the free cell holds ink too")
	}
	return l.entry(s, sheetmodel.PartCode, r, nil)
}

// inFreeCell reports whether what happened stands in the free cell of a row alone.
func inFreeCell(r sheetmodel.Row) bool {
	return r.CodeOther.Field != "" && r.CodeOther.State != sheetmodel.Empty && r.Code.State == sheetmodel.Empty
}

// drawn reports whether a panel holds ink on the back.
func drawn(back *store.Sheet, panel string) bool {
	if back == nil {
		return false
	}
	return slices.ContainsFunc(back.Read.Reading.Ink, func(r sheetmodel.Reading) bool {
		return OnPanel(r.Field, panel) && r.State != sheetmodel.Empty
	})
}

// pathDoubt reports whether a panel's ink seems to be nothing but the gates as sketched.
func pathDoubt(back *store.Sheet, panel string) bool {
	if back == nil {
		return false
	}
	field := PanelField(panel, sheetmodel.PartDrawing)
	return slices.ContainsFunc(back.Read.Reading.Ink, func(r sheetmodel.Reading) bool {
		return strings.EqualFold(r.Field, field) && r.HasDoubt(sheetmodel.DoubtNoPath)
	})
}

// OnPanel reports whether a field belongs to a drawing panel; a card of another make may write its letter large.
func OnPanel(field, panel string) bool {
	return panel != "" && strings.HasPrefix(strings.ToLower(field), PanelField(panel, ""))
}

// PanelField returns the name of a drawing panel's field, such as "panel-b.drawing".
func PanelField(panel string, part sheetmodel.Part) string {
	return "panel-" + strings.ToLower(panel) + "." + string(part)
}

// RowField returns the name of a field of a row, such as "row-03.bib".
func RowField(row int, part sheetmodel.Part) string {
	return fmt.Sprintf("row-%02d.%s", row, part)
}

// fromPictures calls those looks at a row without a photo what they were that were at a photo: one that no reader finds the row in
// any more.
func (l *loader) fromPictures(seen look.Seen, key string) look.Seen {
	seen.Looks = slices.Clone(seen.Looks)
	for i := range seen.Looks {
		k := &seen.Looks[i]
		if k.Kind == sheetmodel.LookPaper && slices.ContainsFunc(l.decisions[key], func(d sheetmodel.Decision) bool {
			return l.typedOf[d.ID] != 0 && d.By == k.By && d.At.Equal(k.At)
		}) {
			k.Kind = sheetmodel.LookBlind
		}
	}
	return seen
}

// paperRow is a row of a card as it is typed from the paper.
func (l *loader) paperRow(i, n int) Row {
	c := &l.Cards[i]
	typed := func(part sheetmodel.Part) Entry {
		e := Entry{Part: part, Reading: sheetmodel.Reading{Field: RowField(n, part), Side: sheetmodel.Front, State: sheetmodel.Doubtful}}
		e.Key = store.Key(c.Printed, sheetmodel.Front, e.Reading.Field)
		e.ink = look.Ink{Grammar: grammarOf[part], Judge: l.judge, Relief: l.relief}
		e.Seen = l.fromPictures(l.undisputed(e.Key, look.Count(e.ink, "", l.looksOffPhoto(c.Front, e.Key))), e.Key)
		return e
	}
	r := Row{Card: i, Ink: sheetmodel.Row{Number: n, HasInk: true}}
	r.BibSeen, r.Code, r.Gate = typed(sheetmodel.PartBib), typed(sheetmodel.PartCode), typed(sheetmodel.PartGate)
	r.Row = rules.Row{
		Ref: sheetmodel.RowRef{CardKey: c.Key, Row: n},
		Bib: r.BibSeen.Seen.Text, BibState: r.BibSeen.Seen.State, Reason: r.BibSeen.Seen.Reason,
		Code: r.Code.Seen.Text, CodeSure: r.Code.Sure(), Gate: r.Gate.Seen.Text, GateSure: r.Gate.Sure(), PanelSure: true,
		Drawn:  true, // the paper is at hand: whether it is drawn is the referee's to see
		Struck: l.marked(c, n) || l.saidStruck(c, n), Entered: slices.Contains(l.entered[c.Printed], n),
	}
	l.holdReused(&r, "")
	return r
}
