package stack

import (
	"slices"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// Boxes are the entries of a row, as they stand on the card.
func (r *Row) Boxes() []*Entry {
	return []*Entry{&r.BibSeen, &r.Code, &r.Gate, &r.Panel, &r.Rerun}
}

// settleNothing looks through the rows for those on which nothing is written, as people say.
func (l *loader) settleNothing() {
	for i := range l.Rows {
		r := &l.Rows[i]
		if said := r.saidNothing(); len(said) > 0 {
			r.settleNothing(said)
			if len(r.Nothing) == 0 {
				l.withdraw(r)
			}
			// Another photo may show what isn't on this one.
			if q := l.openQuestion(l.Cards[r.Card].Printed, r.Ref.Row, r.Row.Panel); q != nil {
				r.Nothing = nil
				r.BibState, r.Reason = sheetmodel.BibWaiting, q.why()
			}
		}
	}
}

// saidNothing names who said of a box of the row that nothing is written there, each person once.
func (r *Row) saidNothing() []string {
	var said []string
	for _, e := range r.Boxes() {
		for _, by := range e.Seen.Nothing {
			if !slices.ContainsFunc(said, func(o string) bool { return look.Person(o) == look.Person(by) }) {
				said = append(said, by)
			}
		}
	}
	return said
}

// settleNothing takes the row as empty if the boxes nobody spoke of hold no ink either. A row with no
// bib but other ink isn't empty: the judge is asked, unless a second person may still say that it is.
func (r *Row) settleNothing(said []string) {
	s := &r.BibSeen.Seen
	again := look.Ink{Pictured: true, Reading: r.Ink.BibAgain, Grammar: sheetmodel.GrammarBib}
	whole := again.Reading.Field == "" || look.Specks(again)
	second := false // something beside the bib needs a second person's word of the same kind
	if !whole && again.Reading.State != sheetmodel.Clear {
		whole = len(s.Nothing) > 1
		second = !whole
	}
	for _, e := range r.Boxes() {
		untouched := e.Key == "" || e.Reading.State == sheetmodel.Empty && len(e.Seen.Typed) == 0
		whole = whole && (untouched || len(e.Seen.Nothing) > 0)
		second = second || e.Seen.Next == look.NeedSecondPerson && slices.Contains(e.Seen.Rivals, look.NoWriting)
	}
	switch {
	case s.State == sheetmodel.BibSetAside && len(s.Nothing) == 0: // with a reason of its own
	case whole:
		r.Nothing = said
		r.BibState, r.Reason = sheetmodel.BibSetAside, look.SaidNothing(said)
	case len(s.Nothing) > 0 && second:
		s.State, s.Next, s.Reason, s.Nothing = sheetmodel.BibWaiting, look.NeedSecondPerson, "a second person looks at the row too", nil
		r.BibState, r.Reason = s.State, s.Reason
	case len(s.Nothing) > 0:
		s.State, s.Next, s.Reason, s.Nothing = sheetmodel.BibWaiting, look.NeedJudge, "no bib is written, but the row holds other ink", nil
		r.BibState, r.Reason = s.State, s.Reason
	}
}

// withdraw takes words that were said of a whole row off its single boxes, where the row isn't empty:
// whoever was wrong about the row, or isn't borne out yet, has said nothing of one box in it.
func (l *loader) withdraw(r *Row) {
	ofRow := slices.DeleteFunc(slices.Clone(l.decisions[r.BibSeen.Key]), func(d sheetmodel.Decision) bool { return d.Basis != sheetmodel.BasisNoWriting })
	for _, e := range r.Boxes()[1:] {
		if len(e.Seen.Nothing) == 0 {
			continue
		}
		all := l.decisions[e.Key]
		alone := slices.DeleteFunc(slices.Clone(all), func(d sheetmodel.Decision) bool {
			return d.Basis == sheetmodel.BasisNoWriting && slices.ContainsFunc(ofRow, func(o sheetmodel.Decision) bool { return o.By == d.By && o.At.Equal(d.At) })
		})
		if len(alone) < len(all) && len(look.Count(e.ink, "", alone).Nothing) == 0 {
			e.Seen.State, e.Seen.Next, e.Seen.Nothing = sheetmodel.BibWaiting, look.NeedSecondPerson, nil
			e.Seen.Reason = "the first person read the ink otherwise than the machine"
		}
	}
	r.CodeSure, r.GateSure, r.Row.Rerun = r.Code.Sure(), r.Gate.Sure(), r.mayBeRerun()
	if r.Sheet != nil && r.Panel.Key != "" { // on paper, and in a row that people added, there is none to type
		r.PanelSure = r.Panel.Sure()
	}
}
