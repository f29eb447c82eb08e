package stack

import (
	"fmt"
	"slices"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// askAside asks about the rows of card i that were set aside, mostly because nobody could tell what stands there, and that the photo
// which counts now shows otherwise: their judge may have mended them, and nobody would look at them any more. from is where the card's
// rows begin. A row stays aside until somebody takes that back.
func (l *loader) askAside(i, from int) {
	c := &l.Cards[i]
	for k := range l.Rows[from:] {
		r := &l.Rows[from+k]
		if r.BibState != sheetmodel.BibSetAside || r.Blank || r.Sheet == nil || r.Sheet != c.Front || len(r.BibSeen.Seen.Nothing) > 0 {
			continue
		}
		all := l.decisions[r.BibSeen.Key]
		at := len(all) - 1
		if at < 0 || all[at].Basis != sheetmodel.BasisSetAside || !l.otherSince(r, &all[at]) {
			continue
		}
		q := PhotoQuestion{Card: c.Printed, Side: sheetmodel.Front, Rows: []int{r.Ref.Row}, Later: c.Front.ID, Question: sheetmodel.Question{
			// By its time: two copies of the race number it otherwise.
			Key: fmt.Sprintf("%s/%d/%s", rowKey(store.AsideAgain, c.Printed, r.Ref.Row), all[at].At.UnixNano(), c.Front.Paper()),
			Ask: fmt.Sprintf("Row %d of card %d was set aside, and the photo that counts now shows it otherwise. Look at it: does it stay aside? If not, take that back on the page of the draft, beside the row.", r.Ref.Row, c.Printed.Card),
			Answers: []sheetmodel.Answer{
				{Value: AnswerSeen, Label: "yes, looked at it: it stays aside"},
			},
		}}
		q.Answered = l.Answers[q.Key] == AnswerSeen
		l.Questions = append(l.Questions, q)
	}
}

// otherSince reports whether a row reads otherwise than it did where it was set aside, or can be read now and couldn't.
func (l *loader) otherSince(r *Row, d *sheetmodel.Decision) bool {
	sheet := l.typedOf[d.ID]
	at, known := l.inks[sheet]
	if sheet == 0 { // on the paper, before there was a photo of it
		return l.madeBefore(d, r.Sheet)
	}
	if !known || at == (store.Ink{Photo: r.Sheet.Photo, Part: r.Sheet.Part}) {
		return false
	}
	o := l.shownAt(sheet, at, r.Sheet)
	if o == nil || o.ID == r.Sheet.ID {
		return false
	}
	return slices.ContainsFunc([]sheetmodel.Reading{r.Ink.Bib, r.Ink.Code, r.Ink.CodeOther, r.Ink.Gate}, func(now sheetmodel.Reading) bool {
		was := plainly(o, now.Field)
		readable := was.State == sheetmodel.Doubtful && now.State == sheetmodel.Clear
		return now.Field != "" && (readable || otherInk(was, now) || readingsDiffer(&was, &now))
	})
}

// plainly is what a sheet shows in a field alone.
func plainly(s *store.Sheet, field string) sheetmodel.Reading {
	readings := s.Read.Reading.Readings()
	if k := slices.IndexFunc(readings, func(o sheetmodel.Reading) bool { return o.Field == field }); k >= 0 {
		return readings[k]
	}
	return sheetmodel.Reading{}
}
