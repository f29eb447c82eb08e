package review

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// postUndo takes one of this person's decisions back.
func (d *Desk) postUndo(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.PostFormValue("decision"), 10, 64)
	if err != nil {
		return &pageError{http.StatusBadRequest, "The form names no decision", "Go back and choose what to take back."}
	}
	for _, dec := range m.full.Decisions {
		if dec.ID != id {
			continue
		}
		// What another person typed speaks for or against a bib; only they may take it back.
		if dec.Basis != sheetmodel.BasisSetAside && look.Person(dec.By) != look.Person(s.person) {
			if !s.roles().Settle() { // who only hears is told no names of those who type
				return &pageError{http.StatusForbidden, "Somebody else typed this", "Only they can take it back, or somebody at the desk asks the judge or sets the row aside."}
			}
			return &pageError{http.StatusForbidden, "Somebody else typed this", "Only " + dec.By + " can take it back. To settle the entry otherwise, ask the judge or set the row aside."}
		}
		if heard := dec.ReadBack && dec.Basis == sheetmodel.BasisOnPaper; !s.roles().Settle() && !heard && look.Person(dec.By) == look.Person(s.person) {
			return &pageError{http.StatusForbidden, "This phone takes back only what it heard", "What was typed, asked or set aside is taken back at the desk, or on a phone that settles."}
		}
		if !s.roles().Settle() && look.Person(dec.By) != look.Person(s.person) {
			return &pageError{http.StatusForbidden, "Somebody else set this aside", "Whoever settles can take it back, at the desk."}
		}
		before := m.unmadeAll()
		gone := together(m, dec)
		for _, id := range gone {
			if err := d.opt.Store.Undo(r.Context(), id, s.person, s.id); err != nil {
				return err
			}
		}
		if m, err = d.now(r.Context()); err != nil {
			return err
		}
		after := m.unmadeAll()
		words := d.undoneWords(s, dec)
		if s.roles().Settle() { // who only hears isn't told whether what they typed had made a line
			words += lostPublic(before, after)
		}
		d.say(s, notice{Words: words, Class: "noted", Redo: dec.Undone == nil})
		d.mu.Lock()
		s.back, s.forth, s.amends = 0, nil, nil
		if dec.Undone == nil {
			s.forth = gone
		}
		d.mu.Unlock()
		if card, _, _, err := store.ParseKey(dec.Reading); err == nil && (dec.ReadBack && dec.Basis == sheetmodel.BasisOnPaper && s.phone != nil || !s.roles().Settle()) {
			return see(w, r, readBackPath(card))
		}
		for _, t := range d.todos(m, s) {
			if t.Entry.Key == dec.Reading {
				return see(w, r, entryPath(dec.Reading))
			}
		}
		if row, _ := m.row(dec.Reading); row == nil {
			return see(w, r, "/questions") // a card's head
		}
		return see(w, r, m.onFrom(dec.Reading, "/draft"))
	}
	return fmt.Errorf("decision %d: %w", id, store.ErrNotFound)
}

// together are the decisions that were kept in one step with dec, such as a whole row said to be empty.
func together(m *moment, dec store.Decision) []int64 {
	var ids []int64
	for _, o := range m.full.Decisions {
		if o.Undone == nil && o.Session == dec.Session && o.At.Equal(dec.At) {
			ids = append(ids, o.ID)
		}
	}
	if !slices.Contains(ids, dec.ID) {
		ids = append(ids, dec.ID) // taking back twice changes nothing
	}
	return ids
}

// postRedo puts back what this session took back last: what was typed, as it was typed, or an answer.
func (d *Desk) postRedo(w http.ResponseWriter, r *http.Request, s *session) error {
	d.mu.Lock()
	forth, amends := s.forth, s.amends
	d.mu.Unlock()
	switch {
	case forth != nil:
		return d.redo(w, r, s, forth)
	case amends != nil && s.roles().Settle():
		return d.answerAgain(w, r, s, amends)
	}
	return &pageError{http.StatusConflict, "There is nothing to put back", "Nothing was changed: your last step took nothing back, or it is put back already."}
}

func (d *Desk) redo(w http.ResponseWriter, r *http.Request, s *session, forth []int64) error {
	again, err := d.opt.Store.Redo(r.Context(), forth, s.person, s.id)
	if errors.Is(err, store.ErrSince) {
		return &pageError{http.StatusConflict, "It can't be put back: something was said of it, or its card was photographed, since", "Nothing was changed. Open the entry and look at the ink again; what you type now is kept beside what was typed before."}
	}
	if err != nil {
		return err
	}
	d.say(s, notice{Words: "Put back as it was, under your name; the log keeps all three steps.", Class: "settled", Undo: again[0].ID})
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	if card, _, _, err := store.ParseKey(again[0].Reading); err == nil && (again[0].ReadBack && again[0].Basis == sheetmodel.BasisOnPaper && s.phone != nil || !s.roles().Settle()) {
		return see(w, r, readBackPath(card))
	}
	if row, _ := m.row(again[0].Reading); row == nil {
		return see(w, r, "/questions") // a card's head
	}
	return see(w, r, m.onFrom(again[0].Reading, d.nextPath(m, s)))
}

// answerAgain gives answers again that this session took back, unless somebody has answered since.
func (d *Desk) answerAgain(w http.ResponseWriter, r *http.Request, s *session, amends []store.Answer) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	for _, a := range amends {
		if m.full.Answers[a.Question] != "" {
			return &pageError{http.StatusConflict, "It can't be put back: somebody has answered since", "Nothing was changed. Look at the questions again."}
		}
		// It was said of what the photo showed that counted then, and of what the rows read.
		if a.Paper != m.paperOf(a.Question) || rules.ViewChanged(a.View, m.full.ViewOf(m.result, a.Question)) != "" {
			return &pageError{http.StatusConflict, "It can't be put back: the card was photographed again since, or reads otherwise", "Nothing was changed. Look at the questions again."}
		}
	}
	if err := d.nameAgain(r.Context(), m, amends); err != nil {
		return err
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(amends...)...); err != nil {
		return err
	}
	d.say(s, notice{Words: "Answer put back, under your name; the log keeps all three steps.", Class: "settled", Again: amends[0].Question})
	return see(w, r, "/questions")
}

// nameAgain makes ready for sides to be called by a name again that was taken from them. It refuses where the paper has got a name as
// another form, where no reader finds the side any more, and where another photo has that name now: whether they are one
// paper is asked with the name, and nobody is asked when it is put back.
func (d *Desk) nameAgain(ctx context.Context, m *moment, amends []store.Answer) error {
	sheets, err := d.opt.Store.Sheets(ctx)
	if err != nil {
		return err
	}
	refused := func(why string) error {
		return &pageError{http.StatusConflict, "It can't be put back: " + why, "Nothing was changed. Look at the questions again, and say there which card it is."}
	}
	for _, a := range amends {
		_, _, which := store.ParseWhichCard(a.Question)
		card, named := store.ParseCardName(a.Value)
		if !which || !named {
			continue
		}
		i := slices.IndexFunc(sheets, func(s store.Sheet) bool { return store.WhichCard(s.Photo, s.Part) == a.Question })
		if i < 0 || !sheets[i].Renamable() {
			return refused("the paper was named as another form, or is read otherwise now")
		}
		sheet := &sheets[i]
		if c := m.full.Card(card); c != nil && sheet.Card != card {
			for _, o := range append([]*store.Sheet{c.Front, c.Back}, c.Other...) {
				if o != nil && o.Side == sheet.Side {
					return refused(fmt.Sprintf("another photo is card %d by now", card.Card))
				}
			}
		}
		if err := d.passOn(ctx, sheet, card); err != nil {
			return err
		}
	}
	return nil
}

// undoneWords says what a taken back decision means for whoever took it back.
func (d *Desk) undoneWords(s *session, dec store.Decision) string {
	words := "Taken back; it stays in the log. "
	d.mu.Lock()
	told := d.told.knows(s, dec.Reading)
	d.mu.Unlock()
	switch {
	case !strings.Contains(dec.Reading, "/row-"):
		return words + "The card is read again as it was before."
	case told:
		return words + "You have been shown what was read or typed there, so what you type now is no look: another person or the judge is needed."
	case dec.Basis == sheetmodel.BasisSetAside:
		return words + "The row waits again, for somebody who has neither typed it nor set it aside."
	case dec.Basis == sheetmodel.BasisJudgeAsked || dec.ReadBack:
		return words + "The same word of the judge's can be typed again. Another one counts only through another person: you may have been told that the first doesn't fit."
	}
	return words + "Mistyped? Type it again: it is kept as your word, but is no look, for only what is typed first counts as unseen. Another person, or the judge, gives the look."
}
