package review

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// entryView is one writing that waits. It holds nothing that a reader made of the ink.
type entryView struct {
	frame
	Path   string
	Card   string // where it is, in words
	Course string
	Part   string // bib, gate, what happened
	Label  string // of the line to type into
	Hint   string // how to type it
	Judge  string
	Phone  string
	Ink    *inkView
	Sheet  int64
	Task   task
	Second bool // somebody has typed it before
	Aloud  bool // this judge is reading rows aloud
	Why    string
	Codes  []sheetmodel.Code // what the card's own list says; for what happened only
	// Typed comes back after a typing fault; it is the person's own.
	Typed  string
	Wrong  string
	Digits bool
	After  string // ink to fetch early
	Number int    // how many are left with this one
}

// How a text came to the desk.
const (
	howPaper = "paper" // read off the ink
	howAloud = "aloud" // the judge reads the row aloud
	howAsked = "asked" // the judge, asked, named it
	howNod   = "nod"   // the judge agreed to what we named
)

// entryPath is where a reading's page is.
func entryPath(key string) string { return "/entry/" + escapePath(key) }

func cardPath(card sheetmodel.CardKey) string { return escapePath(store.CardName(card)) }

func escapePath(path string) string {
	parts := strings.Split(path, "/")
	for i := range parts {
		parts[i] = url.PathEscape(parts[i])
	}
	return strings.Join(parts, "/")
}

// showNext leads to the next writing that waits, or to what is left when none does.
func (d *Desk) showNext(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	return see(w, r, d.nextPath(m, s))
}

func (d *Desk) nextPath(m *moment, s *session) string {
	for _, t := range d.todos(m, s) {
		if t.task != taskOther {
			return entryPath(t.Entry.Key)
		}
	}
	if len(m.questions())+len(m.photoQuestions()) > 0 {
		return "/questions"
	}
	return "/draft"
}

func (d *Desk) showEntry(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.entry(w, r, s, http.StatusOK, "", "")
}

func (d *Desk) entry(w http.ResponseWriter, r *http.Request, s *session, status int, typed, wrong string) error {
	m, f, err := d.view(r.Context(), s, "An entry", "next")
	if err != nil {
		return err
	}
	key := r.PathValue("key")
	todos := d.todos(m, s)
	var it *todo
	for i := range todos {
		if todos[i].Entry.Key == key {
			it = &todos[i]
		}
	}
	if it == nil {
		if row, _ := m.row(key); row == nil {
			return &pageError{http.StatusNotFound, "No row with ink has this entry", "Go to the next entry that waits."}
		}
		if f.Notice != nil {
			d.say(s, *f.Notice)
		} else {
			d.say(s, notice{Words: "That entry is settled or can't change the draft.", Class: "noted"})
		}
		return see(w, r, "/next")
	}
	row := m.full.Row(it.Row)
	card := &m.full.Cards[row.Card]
	v := entryView{
		frame: f, Path: entryPath(key), Course: courseWords(card.Key.Run, card.Key.Course),
		Card: fmt.Sprintf("%s, row %d", cardWords(card.Key, card.Spare), row.Ref.Row), Judge: card.Judge, Phone: card.Phone,
		Task: it.task, Second: it.Need == look.NeedSecondPerson, Why: whyWords(it.Wait), Typed: typed, Wrong: wrong,
		Number: f.Left.Type + f.Left.Judge,
	}
	v.Part, v.Hint, v.Digits = partWords(it.Entry.Part)
	v.Title = v.Card + ": " + v.Part
	v.Label = labelWords(it.Entry.Part, it.task == taskJudge)
	if it.Entry.Part == sheetmodel.PartCode {
		v.Codes = m.race.Codes.Codes
	}
	d.mu.Lock()
	v.Aloud = s.aloud == store.CardName(card.Printed)
	d.mu.Unlock()
	if row.Sheet != nil {
		v.Sheet = row.Sheet.ID
		v.Ink = d.entryInk(row, it.Entry)
	}
	for i := range todos {
		if todos[i].Entry.Key == key && i+1 < len(todos) {
			if next := m.full.Row(todos[i+1].Row); next != nil && next.Sheet != nil {
				v.After = inkPath(next.Sheet.ID, fmt.Sprintf("row-%02d", next.Ref.Row))
			}
		}
	}
	if err := d.serve(r.Context(), s, "entry", v.Sheet, false, key); err != nil {
		return err
	}
	return d.render(w, "entry", status, v)
}

// whyWords says why a field waits, in words that hold nothing of its text.
func whyWords(w stack.Wait) string {
	switch w.Need {
	case look.NeedJudge:
		return "Only the judge knows what was meant: " + w.Entry.Seen.Reason + "."
	case look.NeedSecondPerson:
		return "Another person's eyes are needed."
	case look.NeedEntry, look.NeedNothing:
		return ""
	}
	return ""
}

func labelWords(p sheetmodel.Part, judge bool) string {
	name, _, _ := partWords(p)
	switch {
	case p == sheetmodel.PartCode && judge:
		return "What happened, as the judge names it"
	case p == sheetmodel.PartCode:
		return "What happened, as marked or written"
	case judge:
		return "The " + name + ", as the judge names it"
	default:
		return "The " + name + " you see"
	}
}

func partWords(p sheetmodel.Part) (name, hint string, digits bool) {
	switch p {
	case sheetmodel.PartBib:
		return "bib", "every digit, zeros in front too", true
	case sheetmodel.PartGate:
		return "gate", "as written: 12, 12a or 18-19", true
	case sheetmodel.PartCode:
		return "what happened", "the letter of the box that is marked, or of the word that is written", false
	default:
		return strings.ReplaceAll(string(p), "-", " "), "as written", false
	}
}

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
		return &pageError{http.StatusConflict, "The photo of this card has changed", "Nothing was kept. Open the entry again and look at the new photo."}
	}
	e := store.Entry{Reading: key, By: s.person, Session: s.id, Sheet: sheet, Note: strings.TrimSpace(r.PostFormValue("note"))}
	card := store.CardName(m.full.Cards[row.Card].Printed)
	switch r.PostFormValue("do") {
	case "later":
		d.mu.Lock()
		s.later[key] = true
		d.mu.Unlock()
		return see(w, r, d.nextPath(m, s))
	case "aside":
		// A row whose bib, gate or cause nobody can settle goes aside as a whole; its bib stands for it.
		e.Reading, e.Basis = row.BibSeen.Key, sheetmodel.BasisSetAside
		if e.Note == "" {
			return d.entry(w, r, s, http.StatusUnprocessableEntity, "", "Give the reason why this row is set aside.")
		}
		return d.settle(w, r, s, row, e)
	case "settle":
	default:
		return &pageError{http.StatusBadRequest, "The form doesn't say what to do", "Nothing was kept. Open the entry again."}
	}
	how := r.PostFormValue("how")
	switch how {
	case howPaper:
		e.Basis = sheetmodel.BasisOnPaper
	case howAloud:
		e.Basis, e.ReadBack = sheetmodel.BasisOnPaper, true
	case howAsked:
		e.Basis, e.ReadBack = sheetmodel.BasisJudgeAsked, true
	case howNod:
		e.Basis = sheetmodel.BasisJudgeAsked
	default:
		return d.entry(w, r, s, http.StatusUnprocessableEntity, r.PostFormValue("text"), "Say where the text comes from: the ink, or the judge.")
	}
	d.mu.Lock()
	switch {
	case how == howAloud:
		s.aloud = card
	case s.aloud == card:
		s.aloud = ""
	}
	d.mu.Unlock()
	e.Text = tidy(entry.Part, r.PostFormValue("text"))
	if e.Text == "" {
		return d.entry(w, r, s, http.StatusUnprocessableEntity, "", "Type what is written, or leave it for later, or set it aside.")
	}
	if !fits(m.race, entry.Part, e.Text) && r.PostFormValue("sure") != e.Text {
		name, _, _ := partWords(entry.Part)
		return d.entry(w, r, s, http.StatusUnprocessableEntity, e.Text, fmt.Sprintf("“%s” has not the shape of a %s. Enter once more to keep it as it is, or type it again.", e.Text, name))
	}
	return d.settle(w, r, s, row, e)
}

// settle keeps an entry and says on the next page what came of it, without the machine's text.
func (d *Desk) settle(w http.ResponseWriter, r *http.Request, s *session, row *stack.Row, e store.Entry) error {
	kept, err := d.opt.Store.Settle(r.Context(), e)
	if err != nil {
		return err
	}
	d.mu.Lock()
	delete(s.later, e.Reading)
	s.last = append(s.last, kept[0].ID)
	d.mu.Unlock()
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	d.say(s, outcome(m, row, kept[0]))
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
	_, entry := m.row(kept.Reading)
	n.Words = fmt.Sprintf("%s: %s kept.", where, kept.Text)
	if entry == nil {
		return n
	}
	switch entry.Seen.State {
	case sheetmodel.BibTwoLooks:
		n.Words = fmt.Sprintf("%s: %s settled, two looks agree.", where, kept.Text)
	case sheetmodel.BibOneLook, sheetmodel.BibWaiting:
		n.Class = "noted"
		switch entry.Seen.Next {
		case look.NeedSecondPerson:
			n.Words += " It needs a second person, or the judge."
		case look.NeedJudge:
			n.Words += " It needs the judge: this ink can't be settled by reading it."
		case look.NeedEntry:
			n.Words += " It is no look, for it wasn't typed unseen: another person or the judge is needed."
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
			return &pageError{http.StatusForbidden, "Somebody else typed this", "Only " + dec.By + " can take it back. To settle the entry otherwise, ask the judge or set the row aside."}
		}
		if err := d.opt.Store.Undo(r.Context(), id, s.person, s.id); err != nil {
			return err
		}
		d.say(s, notice{Words: "Taken back; it stays in the log. You have seen it now, so what you type there is no look any more: another person or the judge is needed.", Class: "noted"})
		if m, err = d.now(r.Context()); err != nil {
			return err
		}
		for _, t := range d.todos(m, s) {
			if t.Entry.Key == dec.Reading {
				return see(w, r, entryPath(dec.Reading))
			}
		}
		return see(w, r, "/draft")
	}
	return fmt.Errorf("decision %d: %w", id, store.ErrNotFound)
}
