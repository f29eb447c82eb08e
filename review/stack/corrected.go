package stack

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Judges mend their cards on paper, and the card is photographed again. What was typed or heard of a box before it was
// mended is no look at what stands there now, though it still speaks against it.

// NewerInk is why a field waits whose looks were at ink that has changed since.
const NewerInk = "another photo shows other ink than was typed or heard"

// looksAt returns the decisions about a field as they count for its ink on a sheet, and whether some were about other ink.
func (l *loader) looksAt(s *store.Sheet, ink look.Ink, key string) (all []sheetmodel.Decision, other bool) {
	all = l.decisions[key]
	for i := range all {
		d := &all[i]
		if !d.Blind && !d.ReadBack || !l.changedSince(s, ink.Reading, d) && !l.typedElsewhere(s, key, d) && !l.boxedElsewhere(key, d) && !l.beforeSecond(s, ink, d) {
			continue
		}
		if !other {
			all, other = slices.Clone(all), true // the decisions themselves stay as they are
		}
		all[i] = noLook(all[i])
	}
	return all, other
}

// noLook is a decision about other ink: what was read aloud stays so without being unseen, what the judge named when asked is no longer
// named unprompted, a word that was only agreed to.
func noLook(d sheetmodel.Decision) sheetmodel.Decision {
	d.Blind, d.ReadBack = false, d.ReadBack && d.Basis == sheetmodel.BasisOnPaper
	return d
}

// looksOffPhoto returns the decisions about a field of a row that the photo which counts doesn't show: what was typed or heard at another
// one, or from the paper before that photo came in, is no look at what stands on the paper now, though a person says that something does.
func (l *loader) looksOffPhoto(front *store.Sheet, key string) []sheetmodel.Decision {
	all := slices.Clone(l.decisions[key])
	for i := range all {
		sheet := l.typedOf[all[i].ID]
		at, known := l.inks[sheet]
		if front == nil {
			continue
		}
		ofPaper := sheet == 0 && l.madeBefore(&all[i], front)
		if ofPaper || sheet < 0 || sheet > 0 && known && at != (store.Ink{Photo: front.Photo, Part: front.Part}) {
			all[i] = noLook(all[i])
		}
	}
	return all
}

// madeBefore reports whether a decision may have been made before the photo of a sheet came in: its copy of the race didn't hold that photo
// then. Of what an older program kept nobody knows what it held. What comes from another copy has a later number than a photo that came in
// here meanwhile: then its time tells, as far as two laptops' clocks agree.
func (l *loader) madeBefore(d *sheetmodel.Decision, s *store.Sheet) bool {
	if in, known := l.sights.Photo(l.seenOf[d.ID], s.Photo); known {
		return !in
	}
	return d.ID < s.PhotoOrder || slices.ContainsFunc(l.Photos, func(p store.Photo) bool { return p.ID == s.Photo && d.At.Before(p.Arrived) })
}

// changedSince reports whether the sheet that a decision was made at shows other ink in a field than s does. A sheet of
// the same photo and form, or one that isn't known, shows the same; so does one that only shows it worse.
func (l *loader) changedSince(s *store.Sheet, r sheetmodel.Reading, d *sheetmodel.Decision) bool {
	sheet := l.typedOf[d.ID]
	if sheet == store.OfOtherForm {
		return true
	}
	if sheet < 0 { // from a photo that only another copy of the race holds
		return otherThanSaid(d, sheetmodel.Reading{}, r)
	}
	if sheet == 0 { // from the paper as it was then, if it was typed without a photo
		gone := d.Basis != sheetmodel.BasisNoWriting && l.madeBefore(d, s) && r.State == sheetmodel.Empty && inkBeside(s, r.Field)
		// A photo on which nobody reads the bib may be of another paper that goes by the same number: nothing on it speaks for what was typed.
		unread := partOf(r.Field) == sheetmodel.PartBib && d.Basis == sheetmodel.BasisOnPaper && r.State != sheetmodel.Empty && r.Text == "" && l.madeBefore(d, s) && !mayBe(r, d.Text)
		return slices.ContainsFunc(l.paper, func(p store.PaperCard) bool { return p.Card == s.Card }) && (gone || unread || otherThanSaid(d, sheetmodel.Reading{}, r))
	}
	at, known := l.inks[sheet]
	if known && l.forms[sheet] != s.Layout {
		return true // the rows of another form lie elsewhere on the paper
	}
	if !known || at == (store.Ink{Photo: s.Photo, Part: s.Part}) {
		return false
	}
	if at.Photo == s.Photo && (s.Renamable() || l.ofTwo[s.Photo]) {
		return true // it lies elsewhere in that photo: another paper, whatever its head is taken for or its code says
	}
	o := l.shownAt(sheet, at, s)
	if o == nil || o.ID == s.ID {
		return o == nil && r.State == sheetmodel.Empty && d.Basis != sheetmodel.BasisNoWriting
	}
	was, second := writings(o, r.Field)
	if r.State == sheetmodel.Empty && (was.State == sheetmodel.Clear || inkVanishes(&was, &r)) {
		return true // rubbed out
	}
	if r.Text == "" && slices.ContainsFunc(r.Doubts, func(x sheetmodel.Doubt) bool { return byHand[x.Kind] }) {
		return true // gone over, perhaps once more, and no reader can say that it wasn't
	}
	if was.Text == "" || d.Basis == sheetmodel.BasisNoWriting {
		return otherThanSaid(d, was, r)
	}
	_, now := writings(s, r.Field)
	// What was typed of ink that a hand had gone over isn't what a photo shows that was taken before.
	before := heals(&was, &r) && look.Canonical(grammarOf[partOf(r.Field)], d.Text) != r.Text && !mayBe(r, d.Text)
	return before || otherInk(was, r) || otherInk(second, now)
}

// beforeSecond reports whether a word of the judge's came before any photo showed the other bib that stands in the row's second box, or
// under its drawing, now: it may have been written there since, and of the two nobody knows which is meant. Another person settles no such
// row anyway.
func (l *loader) beforeSecond(s *store.Sheet, ink look.Ink, d *sheetmodel.Decision) bool {
	return d.ReadBack && slices.ContainsFunc(ink.Ties, func(t look.Tied) bool {
		same := t.Second != "" && look.Canonical(ink.Grammar, t.Second) == look.Canonical(ink.Grammar, d.Text)
		return t.Differs && !same && !l.shownBefore(s, t, d)
	})
}

// shownBefore reports whether a photo that was in before a decision shows the second writings of a row as they count now.
func (l *loader) shownBefore(front *store.Sheet, t look.Tied, d *sheetmodel.Decision) bool {
	now := front
	if t.Panel != "" {
		now = l.drawings
	}
	if now == nil {
		return true
	}
	return slices.ContainsFunc(l.sides[sideKey{now.Card, now.Side}], func(o *store.Sheet) bool {
		return !l.madeBefore(d, o) && slices.Equal(seconds(o, t), seconds(now, t))
	})
}

// seconds are a row's second writings, as they were read on a sheet: all that stand under its drawing, or the one in its second box.
func seconds(s *store.Sheet, t look.Tied) (bibs []string) {
	if t.Panel == "" {
		for _, r := range s.Read.Reading.Rows {
			if r.Number == t.Row {
				bibs = append(bibs, r.BibAgain.Text)
			}
		}
		return bibs
	}
	for _, e := range s.Read.Reading.Strips {
		if e.Panel == t.Panel && e.Bib.State != sheetmodel.Empty {
			bibs = append(bibs, e.Bib.Text)
		}
	}
	return bibs
}

// inkBeside reports whether a sheet shows ink in the row of a field. Where it shows none, it may be too pale for the photo: whether the
// row stands is asked.
func inkBeside(s *store.Sheet, field string) bool {
	row, _, _ := strings.Cut(field, ".")
	return slices.ContainsFunc(s.Read.Reading.Rows, func(o sheetmodel.Row) bool {
		return o.HasInk && strings.HasPrefix(o.Bib.Field, row+".")
	})
}

// otherThanSaid reports whether ink can't be what somebody spoke of who was shown ink of which no reader made a text: was, or
// the zero Reading where there is none.
func otherThanSaid(d *sheetmodel.Decision, was, now sheetmodel.Reading) bool {
	if d.Basis == sheetmodel.BasisNoWriting {
		written := now.Text != "" && was.Text != now.Text && !mayBe(was, now.Text)
		return written || !specksOf(now) && (was.Field == "" || specksOf(was)) || goneOver(was, now)
	}
	g := grammarOf[partOf(now.Field)]
	was.Text, was.State = look.Canonical(g, d.Text), sheetmodel.Doubtful
	was.Rivals = append(slices.Clone(was.Rivals), sheetmodel.Rival{Text: now.Text})
	now.Text = look.Canonical(g, now.Text)
	return goneOver(was, now) || otherText(was, now)
}

func specksOf(r sheetmodel.Reading) bool {
	return look.Specks(look.Ink{Pictured: true, Reading: r, Grammar: grammarOf[partOf(r.Field)]})
}

// shownAt is the sheet that shows the side of s as it is in another photo, nil if none does. Where no reader finds the side in
// that photo any more, it is the sheet at which people have looked.
func (l *loader) shownAt(sheet int64, at store.Ink, s *store.Sheet) *store.Sheet {
	var there *store.Sheet
	for i := range l.sheets {
		o := &l.sheets[i]
		if o.Photo != at.Photo || o.Side != s.Side || o.Card != s.Card || o.Layout != s.Layout {
			continue
		}
		if o.Part == at.Part {
			return o
		}
		if !s.Renamable() { // it says itself which card it is, wherever among the sides a newer reader finds it
			there = o
		}
	}
	if there != nil {
		return there
	}
	if o := l.gone[sheet]; o != nil && o.Side == s.Side && o.Layout == s.Layout {
		return o
	}
	return nil
}

// writings are what a sheet shows in a field, and in the box beside it that belongs to the same: the second writing of a bib,
// the free cell of what happened. They are zero if the sheet has none.
func writings(s *store.Sheet, field string) (main, second sheetmodel.Reading) {
	for _, r := range s.Read.Reading.Rows {
		switch field {
		case r.Bib.Field:
			return r.Bib, r.BibAgain
		case r.Code.Field:
			if inFreeCell(r) {
				cell := r.CodeOther
				cell.Field = field
				return cell, sheetmodel.Reading{}
			}
			return r.Code, r.CodeOther
		}
	}
	readings := s.Read.Reading.Readings()
	if k := slices.IndexFunc(readings, func(o sheetmodel.Reading) bool { return o.Field == field }); k >= 0 {
		return readings[k], sheetmodel.Reading{}
	}
	return sheetmodel.Reading{}, sheetmodel.Reading{}
}

// findGone finds the sheets at which people have looked, in photos in which no reader finds that side any more.
func (l *loader) findGone(ctx context.Context, from *store.Store) error {
	type place struct {
		photo string
		part  int
		card  sheetmodel.CardKey
		side  sheetmodel.SideName
	}
	found, in := map[place]bool{}, map[int64]bool{}
	for i := range l.sheets {
		s := &l.sheets[i]
		in[s.ID] = true
		p := place{photo: s.Photo, side: s.Side, card: s.Card}
		if s.Renamable() {
			p.part, p.card = s.Part, sheetmodel.CardKey{}
		}
		found[p] = true
	}
	l.gone = map[int64]*store.Sheet{}
	for _, d := range l.Decisions {
		at, known := l.inks[d.Sheet]
		if !known || in[d.Sheet] || l.gone[d.Sheet] != nil || d.Undone != nil {
			continue
		}
		card, side, _, err := store.ParseKey(d.Reading)
		if err != nil || found[place{photo: at.Photo, side: side, card: card}] || found[place{photo: at.Photo, side: side, part: at.Part}] {
			continue
		}
		s, err := from.Sheet(ctx, d.Sheet)
		if errors.Is(err, store.ErrNotFound) { // what was read of it is lost
			continue
		}
		if err != nil {
			return err
		}
		l.gone[d.Sheet] = &s
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
// text, unless each of them may be either text, or nothing can be made of it any more that is no fault of the photo.
func otherInk(was, now sheetmodel.Reading) bool {
	unread := was.Text != "" && now.Text == "" && now.State == sheetmodel.Doubtful &&
		!slices.ContainsFunc(now.Doubts, func(d sheetmodel.Doubt) bool { return worse[d.Kind] })
	return goneOver(was, now) || unread || otherText(was, now)
}

// otherText reports whether two photos of a box are read as two texts, and neither may be the other. Ink that a hand has gone over
// may have been gone over once more: then anything that it may be now, and wasn't, is another text.
func otherText(was, now sheetmodel.Reading) bool {
	if onceMore(was, now) {
		return true
	}
	over := slices.ContainsFunc(now.Doubts, func(d sheetmodel.Doubt) bool { return byHand[d.Kind] })
	either := !over && was.State != sheetmodel.Clear && now.State != sheetmodel.Clear && mayBe(was, now.Text) && mayBe(now, was.Text)
	return was.Text != "" && now.Text != "" && was.Text != now.Text && !either
}

// onceMore reports whether a box that a hand has gone over may show what it didn't in another photo.
func onceMore(was, now sheetmodel.Reading) bool {
	return was.Text != "" && slices.ContainsFunc(now.Doubts, func(d sheetmodel.Doubt) bool { return byHand[d.Kind] }) &&
		slices.ContainsFunc(now.Rivals, func(o sheetmodel.Rival) bool { return o.Text != "" && o.Text != was.Text && !mayBe(was, o.Text) })
}

// goneOver reports whether a box shows what a hand has done to it, and didn't before, as far as a reader sees it.
func goneOver(was, now sheetmodel.Reading) bool {
	return slices.ContainsFunc(now.Doubts, func(d sheetmodel.Doubt) bool { return mended[d.Kind] && !was.HasDoubt(d.Kind) })
}

// worse are the doubts that tell of a photo which shows a box worse.
var worse = map[sheetmodel.DoubtKind]bool{
	sheetmodel.DoubtPhoto: true, sheetmodel.DoubtHidden: true, sheetmodel.DoubtFaintInk: true,
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
