package stack

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Judges mend their cards on paper, and the card is photographed again. What was typed or heard of a box before it was
// mended is no look at what stands there now, though it still speaks against it.

// NewerInk is why a field waits whose looks were at ink that has changed since.
const NewerInk = "another photo shows other ink than was typed or heard"

// looksAt returns the decisions about a field as they count for its ink on a sheet, and whether some were about other ink.
func (l *loader) looksAt(s *store.Sheet, r sheetmodel.Reading, key string) (all []sheetmodel.Decision, other bool) {
	all = l.decisions[key]
	for i := range all {
		d := &all[i]
		if !d.Blind && !d.ReadBack || !l.changedSince(s, r, d) && !l.typedElsewhere(s, key, d) {
			continue
		}
		if !other {
			all, other = slices.Clone(all), true // the decisions themselves stay as they are
			d = &all[i]
		}
		// What was read aloud stays so without being unseen, what the judge named when asked is no longer named unprompted:
		// a word that was only agreed to.
		d.Blind, d.ReadBack = false, d.ReadBack && d.Basis == sheetmodel.BasisOnPaper
	}
	return all, other
}

// changedSince reports whether the sheet that a decision was made at shows other ink in a field than s does. A sheet of
// the same photo, or one that isn't known, shows the same; so does one that only shows it worse.
func (l *loader) changedSince(s *store.Sheet, r sheetmodel.Reading, d *sheetmodel.Decision) bool {
	if l.typedOf[d.ID] < 0 { // from a photo that only another copy of the race holds
		return otherInk(sheetmodel.Reading{}, r)
	}
	if l.typedOf[d.ID] == 0 { // from the paper as it was then, if it was typed without a photo
		return otherInk(sheetmodel.Reading{}, r) && slices.ContainsFunc(l.paper, func(p store.PaperCard) bool { return p.Card == s.Card })
	}
	at, known := l.inks[l.typedOf[d.ID]]
	if !known || at == (store.Ink{Photo: s.Photo, Part: s.Part}) {
		return false
	}
	o := l.shownAt(at, s)
	if o == nil {
		return false
	}
	readings := o.Read.Reading.Readings()
	k := slices.IndexFunc(readings, func(o sheetmodel.Reading) bool { return o.Field == r.Field })
	if k < 0 {
		return false
	}
	was := readings[k]
	if d.Basis == sheetmodel.BasisNoWriting { // said where nothing could be read
		return r.Text != "" && was.Text != r.Text && !mayBe(was, r.Text)
	}
	return otherInk(was, r) || otherInk(secondOf(o, r.Field), secondOf(s, r.Field))
}

// shownAt is the sheet that shows the side of s as it is in another photo, nil if none does. Where no reader finds the side in
// that photo any more, it is the sheet that was found there before: people have looked at that.
func (l *loader) shownAt(at store.Ink, s *store.Sheet) *store.Sheet {
	i := slices.IndexFunc(l.sheets, func(o store.Sheet) bool {
		return o.Photo == at.Photo && o.Part == at.Part && o.Side == s.Side && o.Card == s.Card && o.Layout == s.Layout
	})
	if i >= 0 {
		return &l.sheets[i]
	}
	if o := l.gone[at]; o != nil && o.Side == s.Side && o.Layout == s.Layout {
		return o
	}
	return nil
}

// secondOf is the second writing in the row of a bib, zero if the field is none of a bib.
func secondOf(s *store.Sheet, bib string) sheetmodel.Reading {
	rows := s.Read.Reading.Rows
	i := slices.IndexFunc(rows, func(r sheetmodel.Row) bool { return r.Bib.Field == bib })
	if i < 0 {
		return sheetmodel.Reading{}
	}
	return rows[i].BibAgain
}

// findGone finds the sheets that people have looked at, in photos in which no reader finds that side any more.
func (l *loader) findGone(ctx context.Context, from *store.Store) error {
	found := map[store.Ink]bool{}
	for _, s := range l.sheets {
		found[store.Ink{Photo: s.Photo, Part: s.Part}] = true
	}
	l.gone = map[store.Ink]*store.Sheet{}
	for _, d := range l.Decisions {
		at, known := l.inks[d.Sheet]
		if !known || found[at] || d.Undone != nil || !d.Blind && !d.ReadBack {
			continue
		}
		if l.gone[at] != nil && l.gone[at].ID >= d.Sheet {
			continue
		}
		s, err := from.Sheet(ctx, d.Sheet)
		if errors.Is(err, store.ErrNotFound) { // what was read of it is lost
			continue
		}
		if err != nil {
			return err
		}
		l.gone[at] = &s
	}
	return nil
}

// mended are the doubts that tell of something a hand has done to ink, as far as a reader sees it.
var mended = map[sheetmodel.DoubtKind]bool{
	sheetmodel.DoubtStruckOut: true, sheetmodel.DoubtOverwritten: true, sheetmodel.DoubtOutsideBox: true,
	sheetmodel.DoubtQuestionMark: true, sheetmodel.DoubtDitto: true, sheetmodel.DoubtTwoMarks: true,
	sheetmodel.DoubtOnPrint: true, // a further stroke where the print hides it; a poor photo may look so too, and is asked about then
}

// otherInk reports whether a box was mended between two photos: it shows what a hand has done to it, or it is read as another
// text, unless each of them may be either text.
func otherInk(was, now sheetmodel.Reading) bool {
	for _, d := range now.Doubts {
		if mended[d.Kind] && !was.HasDoubt(d.Kind) {
			return true
		}
	}
	either := was.State != sheetmodel.Clear && now.State != sheetmodel.Clear && mayBe(was, now.Text) && mayBe(now, was.Text)
	return was.Text != "" && now.Text != "" && was.Text != now.Text && !either
}

func mayBe(r sheetmodel.Reading, text string) bool {
	return slices.ContainsFunc(r.Rivals, func(o sheetmodel.Rival) bool { return o.Text == text })
}

// overtaken says of a field that waits why what was said of it doesn't settle it.
func overtaken(s look.Seen) look.Seen {
	if s.State == sheetmodel.BibWaiting {
		s.Reason, s.Next = NewerInk, cmp.Or(s.Next, look.NeedJudge)
	}
	return s
}
