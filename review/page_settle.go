package review

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// maxTyped is more than a box of a row holds, in letters: browsers take no more, and lists are made for no more.
const maxTyped = 40

const tooMuchTyped = "Not kept: that is more than stands in a box. Type what is written there and nothing else."

func (d *Desk) postEntry(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	key := r.PathValue("key")
	row, entry := m.row(key)
	if row == nil {
		return &pageError{http.StatusNotFound, "No row with ink has this entry", "Nothing was kept. Go to the next entry that waits."}
	}
	sheet, err := strconv.ParseInt(r.PostFormValue("sheet"), 10, 64)
	if err != nil {
		return &pageError{http.StatusBadRequest, "The form names no photo", "Nothing was kept. Open the entry again."}
	}
	// What was typed counts for the ink that was shown: a photo that came in between shows other ink.
	var shown int64
	if row.Sheet != nil {
		shown = row.Sheet.ID
	}
	if sheet != shown {
		return d.stale(w, r, s, newInk)
	}
	if row.BibState == sheetmodel.BibSetAside && len(row.Nothing) == 0 {
		// A page that was open before would make the row stand again without anybody meaning to.
		return setAside(r)
	}
	// What others did meanwhile may have settled it. A look that is given all the same is given knowingly.
	if seen := r.PostFormValue("seen"); seen != "" && seen != m.marked(s, key) && r.PostFormValue("do") != "later" {
		return d.stale(w, r, s, overtook)
	}
	e := store.Entry{Reading: key, By: s.person, Session: s.id, Sheet: sheet, Note: cleanReason(r.PostFormValue("note")), Head: m.full.Head}
	card := store.CardName(m.full.Cards[row.Card].Printed)
	switch r.PostFormValue("do") {
	case "later":
		d.letGo(s, key)
		d.mu.Lock()
		s.rounds++
		s.later[key] = s.rounds
		d.mu.Unlock()
		if r.PostFormValue("spot") != "" {
			return see(w, r, "/spot")
		}
		return see(w, r, d.nextPath(m, s))
	case "aside":
		// A row whose bib, gate or cause nobody can settle goes aside as a whole; its bib stands for it.
		e.Reading, e.Basis = row.BibSeen.Key, sheetmodel.BasisSetAside
		if e.Note == "" {
			return d.entry(w, r, s, http.StatusUnprocessableEntity, "", "Give the reason why this row is set aside.")
		}
		return d.settle(w, r, s, row, e)
	case "nothing", "nothing-here":
		if strings.TrimSpace(r.PostFormValue("text")) != "" {
			return d.entry(w, r, s, http.StatusUnprocessableEntity, r.PostFormValue("text"), "You have typed something, and said that nothing is written. Empty the field, or settle what you typed.")
		}
		if r.PostFormValue("do") == "nothing" {
			return d.settle(w, r, s, row, emptyRow(row, e)...)
		}
		e.Basis = sheetmodel.BasisNoWriting
		return d.settle(w, r, s, row, e)
	case "settle":
	default:
		return &pageError{http.StatusBadRequest, "The form doesn't say what to do", "Nothing was kept. Open the entry again."}
	}
	how := r.PostFormValue("how")
	fresh := d.fresh(m, s, key)
	if asked := how == howAsked || how == howNod || how == howAloud && !fresh; asked && !s.roles().Ask() {
		return d.entry(w, r, s, http.StatusForbidden, r.PostFormValue("text"), "Not kept: what a judge says when asked is entered by the chief gate judge or the referee, at the laptop or at a phone that was let in for it.")
	}
	switch how {
	case howPaper:
		e.Basis = sheetmodel.BasisOnPaper
	case howAloud:
		e.Basis, e.ReadBack = sheetmodel.BasisOnPaper, true
		if fresh {
			break
		}
		// Whoever has typed it before doesn't type it unseen; what the judge says unprompted is the
		// judge's word all the same. The store makes it a nod for those who were shown the text.
		e.Basis = sheetmodel.BasisJudgeAsked
	case howAsked:
		e.Basis, e.ReadBack = sheetmodel.BasisJudgeAsked, true
	case howNod:
		e.Basis = sheetmodel.BasisJudgeAsked
	default:
		return d.entry(w, r, s, http.StatusUnprocessableEntity, r.PostFormValue("text"), "Not kept yet. Choose below where it comes from, or press * until the right one is marked; then Enter.")
	}
	d.mu.Lock()
	switch {
	case how == howAloud:
		s.aloud = card
	case s.aloud == card:
		s.aloud = ""
	}
	d.mu.Unlock()
	e.Text = tidy(entry.Part, cleanText(r.PostFormValue("text"), maxForm)) // what doesn't show would make another text of it
	if e.Text == "" {
		return d.entry(w, r, s, http.StatusUnprocessableEntity, "", "Type what is written, or leave it for later, or set it aside.")
	}
	if len([]rune(e.Text)) > maxTyped {
		return d.entry(w, r, s, http.StatusUnprocessableEntity, "", tooMuchTyped)
	}
	if !fits(m.race, entry.Part, e.Text) && r.PostFormValue("sure") != e.Text {
		name, _, _ := partWords(entry.Part)
		return d.entry(w, r, s, http.StatusUnprocessableEntity, e.Text, fmt.Sprintf("“%s” has not the shape of a %s. Enter once more to keep it as it is, or type it again.", e.Text, name))
	}
	return d.settle(w, r, s, row, e)
}

func setAside(r *http.Request) error {
	return &pageError{http.StatusConflict, "Somebody has set this row aside", "Nothing was kept" + typedWords(r) + ". If it should stand after all, take that back on the draft page; then it can be typed."}
}

// typedWords repeats what the person has typed themselves, where it couldn't be kept.
func typedWords(r *http.Request) string {
	typed := strings.TrimSpace(r.PostFormValue("text"))
	if typed == "" || len(typed) > 40 {
		return ""
	}
	return fmt.Sprintf(" of what you typed, “%s”", typed)
}

// settle keeps an entry and says on the next page what came of it, without the machine's text.
func (d *Desk) settle(w http.ResponseWriter, r *http.Request, s *session, row *stack.Row, entries ...store.Entry) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := d.tellCalled(r.Context(), m, s, e.Reading); err != nil {
			return err
		}
	}
	before := m.unmadeAll()
	kept, err := d.opt.Store.Settle(r.Context(), entries...)
	if errors.Is(err, store.ErrSetAside) { // while the form was on its way
		return setAside(r)
	}
	if err != nil {
		return err
	}
	d.letGo(s, r.PathValue("key"))
	d.mu.Lock()
	for _, dec := range kept {
		delete(s.later, dec.Reading)
	}
	d.mu.Unlock()
	if m, err = d.now(r.Context()); err != nil {
		return err
	}
	after := m.unmadeAll()
	n := outcome(m, row, kept[0])
	n.Words += lostPublic(before, after)
	d.say(s, n)
	if r.PostFormValue("spot") != "" {
		return see(w, r, "/spot")
	}
	if row.Sheet == nil && row.Card < len(m.full.Cards) {
		return see(w, r, d.nextOnPaper(m, s, m.full.Cards[row.Card].Printed))
	}
	return see(w, r, d.nextPath(m, s))
}

// outcome says what became of a decision. The text in it is the one this person has just typed.
func outcome(m *moment, before *stack.Row, kept store.Decision) notice {
	where := fmt.Sprintf("Card %d row %d", before.Ref.Card, before.Ref.Row)
	n := notice{Undo: kept.ID, Class: "settled"}
	if kept.Basis == sheetmodel.BasisSetAside {
		n.Words = where + ": set aside, with its reason. It goes to the referee with the ink."
		return n
	}
	row, entry := m.row(kept.Reading)
	if kept.Basis == sheetmodel.BasisNoWriting {
		return nothingOutcome(where, row, entry, n)
	}
	n.Words = fmt.Sprintf("%s: %s kept.", where, kept.Text)
	if entry == nil {
		return n
	}
	judge := kept.Basis == sheetmodel.BasisJudgeAsked || kept.ReadBack
	if judge && kept.Basis == sheetmodel.BasisJudgeAsked && !kept.ReadBack {
		n.Class = "noted"
		n.Words += " It is no look: you had been shown what was read there, or have typed another word of the judge's before. Somebody else asks the judge, or the row is set aside."
		return n
	}
	switch entry.Seen.State {
	case sheetmodel.BibTwoLooks:
		n.Words = fmt.Sprintf("%s: %s settled, two looks agree.", where, kept.Text)
	case sheetmodel.BibOneLook, sheetmodel.BibWaiting:
		n.Class = "noted"
		switch entry.Seen.Next {
		case look.NeedSecondPerson:
			if judge {
				n.Words = fmt.Sprintf("%s: %s kept, as the judge named it. The judge is not asked again: what is left is a second person who reads the ink unseen, or to set the row aside.", where, kept.Text)
			} else {
				n.Words += " It needs a second person, or the judge."
			}
		case look.NeedJudge:
			n.Words += " It needs the judge: this ink can't be settled by reading it."
		case look.NeedEntry:
			n.Words += " It is kept as your word and no look, for it wasn't typed unseen: another person or the judge is needed."
		case look.NeedNothing:
		}
	case sheetmodel.BibSetAside:
	}
	return n
}

// tidy brings typed text into its written form.
func tidy(p sheetmodel.Part, text string) string {
	switch p {
	case sheetmodel.PartBib:
		return sheetmodel.CanonicalBib(text)
	case sheetmodel.PartGate:
		return sheetmodel.CanonicalGate(text)
	default:
		return strings.ToUpper(strings.Join(strings.Fields(text), " "))
	}
}

// fits only asks about slips of the keyboard; it never looks at the start list.
func fits(race *sheetmodel.Race, p sheetmodel.Part, text string) bool {
	switch p {
	case sheetmodel.PartBib:
		return sheetmodel.GrammarBib.Fits(text)
	case sheetmodel.PartGate:
		return sheetmodel.GrammarGate.Fits(text)
	case sheetmodel.PartCode:
		_, known := race.Codes.Find(text)
		return known
	default:
		return true
	}
}

// emptyRow says of every box of a row that holds ink, and of its bib, that nothing is written there.
func emptyRow(row *stack.Row, e store.Entry) []store.Entry {
	e.Basis = sheetmodel.BasisNoWriting
	var all []store.Entry
	for i, box := range row.Boxes() {
		if box.Key != "" && (i == 0 || box.Reading.State != sheetmodel.Empty) {
			e.Reading = box.Key
			all = append(all, e)
		}
	}
	return all
}

// nothingOutcome says what became of a word that nothing is written.
func nothingOutcome(where string, row *stack.Row, entry *stack.Entry, n notice) notice {
	switch {
	case row != nil && len(row.Nothing) > 0:
		n.Words = where + ": no writing, under your name. The draft lists the row so, with its ink."
	case entry != nil && len(entry.Seen.Nothing) > 0:
		n.Words = where + ": no writing in that box, under your name."
	case entry != nil && entry.Seen.Next == look.NeedSecondPerson:
		n.Class, n.Words = "noted", where+": your word is kept. A second person looks at it too before the row goes."
	default:
		n.Class, n.Words = "noted", where+": your word is kept, and doesn't settle it alone: the judge is asked, or the row is set aside."
	}
	return n
}
