package review

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A card of another make says to no machine which one it is. Where its header leaves a doubt, a person says it, from the
// header as they see it: nothing that was read there is shown, and nothing is filled in for them. Until then the side
// has no rows, and every list is open.

// whichView asks which card one side is.
type whichView struct {
	Sheet   int64
	Words   string // the photo and the side
	Side    sheetmodel.SideName
	Code    int // the number in its code, which two papers carry; 0: it carries none
	Free    int // a number that no card has
	Layout  string
	Ink     inkView
	Head    *inkView
	Runs    []string
	Courses []string
	Form    whichForm // what was sent, if it can't be kept as it is
	Wrong   string    // why
	Confirm string    // the box to mark: further or same; empty: none
	Forms   []formView
}

// formView is one of several forms that a paper may be: its print fits each about as well. None is chosen for anybody.
type formView struct {
	Sheet int64
	Name  string // of its layout
	Side  sheetmodel.SideName
	Blank string // path of the blank form's picture, empty: it is not here
	Said  bool
}

// whichForm is what a person sends.
type whichForm struct{ Run, Course, Card, Further, Same string }

// whichCards lists the sides of which nobody knows the card: fronts in the order of arrival, then backs, for these have no head,
// and are known by the paper, or by the front that they belong to.
func (d *Desk) whichCards(m *moment) []whichView {
	var all []whichView
	for i := range m.full.Unnamed {
		s := &m.full.Unnamed[i]
		name := d.layoutName(s)
		if s.Undecided() {
			if k := slices.IndexFunc(all, func(v whichView) bool {
				return slices.ContainsFunc(v.Forms, func(f formView) bool { return m.sameFork(s, f.Sheet) })
			}); k >= 0 {
				all[k].Forms = append(all[k].Forms, d.formOf(s, name))
				continue
			}
		}
		v := whichView{
			Sheet: s.ID, Layout: name, Side: s.Side, Words: fmt.Sprintf("Photo %s, %s", m.sentName(s.Photo), s.Side), Courses: m.race.Courses,
			Ink: inkView{Src: inkPath(s.ID, "side"), Alt: "Photo of a whole side of a card"}, Code: s.Code.Card, Free: m.freeNumber(),
		}
		if k, ok := d.crop(s, "side"); ok {
			v.Ink.Rect = k.Rect
		}
		if k, ok := d.crop(s, "top"); ok && s.Side == sheetmodel.Front {
			v.Head = &inkView{Src: inkPath(s.ID, "top"), Rect: k.Rect, Alt: "Photo of the head of that card"}
		}
		if s.Undecided() {
			v.Forms = []formView{d.formOf(s, name)}
		}
		for _, run := range m.race.Runs {
			v.Runs = append(v.Runs, strconv.Itoa(run.Number))
		}
		all = append(all, v)
	}
	slices.SortStableFunc(all, func(a, b whichView) int {
		back := func(v whichView) int {
			if v.Side == sheetmodel.Back {
				return 1
			}
			return 0
		}
		return cmp.Compare(back(a), back(b))
	})
	for _, v := range all { // by name: an order by how well they fit would answer the question
		slices.SortStableFunc(v.Forms, func(a, b formView) int { return strings.Compare(a.Name, b.Name) })
	}
	return all
}

func (d *Desk) layoutName(s *store.Sheet) string {
	if l := d.opt.Layout(s.Layout); l != nil {
		return l.Name
	}
	return "another make"
}

// sameFork reports whether s and the unnamed sheet with an id are one paper, read as two forms.
func (m *moment) sameFork(s *store.Sheet, id int64) bool {
	i := slices.IndexFunc(m.full.Unnamed, func(o store.Sheet) bool { return o.ID == id })
	return i >= 0 && m.full.Unnamed[i].Photo == s.Photo && slices.Contains(s.OtherForms(), m.full.Unnamed[i].Part)
}

// formOf is one of the forms that a paper may be.
func (d *Desk) formOf(s *store.Sheet, name string) formView {
	f := formView{Sheet: s.ID, Name: name, Side: s.Side}
	if d.opt.Blank != nil && d.opt.Blank(s.Layout, s.Side) != "" {
		f.Blank = fmt.Sprintf("/form/%d", s.ID)
	}
	return f
}

// showForm sends the picture of the blank form that a sheet was taken for. Nothing is written on it.
func (d *Desk) showForm(w http.ResponseWriter, r *http.Request, _ *session) error {
	id, err := strconv.ParseInt(r.PathValue("sheet"), 10, 64)
	if err != nil {
		return fmt.Errorf("sheet %q: %w", r.PathValue("sheet"), store.ErrNotFound)
	}
	sheet, err := d.opt.Store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	file := ""
	if d.opt.Blank != nil {
		file = d.opt.Blank(sheet.Layout, sheet.Side)
	}
	picture, err := os.ReadFile(file)
	if err != nil {
		return fmt.Errorf("blank form of sheet %d: %w", id, store.ErrNotFound)
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(picture) // the browser has gone: there is nobody left to tell
	return nil
}

// freeNumber is one that no card has, far from those of places and spares: who reads it sees at once that the paper was numbered anew.
func (m *moment) freeNumber() int {
	n := 901
	for slices.ContainsFunc(m.full.Cards, func(c stack.Card) bool { return c.Printed.Card == n || c.Key.Card == n }) {
		n++
	}
	return n
}

// notCard takes the name of a side away: the question is asked again.
const notCard = "not-known"

// postWhich keeps which card a side is, or that it isn't the one it was taken for.
func (d *Desk) postWhich(w http.ResponseWriter, r *http.Request, s *session) error {
	d.answers.Lock()
	defer d.answers.Unlock()
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	// Which form a paper is, is said by the sheet that was read as that form; asked is the question's own.
	asked := cmp.Or(r.PostFormValue("asked"), r.PostFormValue("sheet"))
	if r.PostFormValue("sheet") == "" && asked != "" {
		return d.whichAgain(w, r, s, asked, "Choose the form that lies before you: its print fits both.", "")
	}
	id, err := strconv.ParseInt(r.PostFormValue("sheet"), 10, 64)
	if err != nil {
		return fmt.Errorf("sheet %q: %w", r.PostFormValue("sheet"), store.ErrNotFound)
	}
	sheet, err := d.opt.Store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	if r.PostFormValue("do") == "apart" {
		return d.postApart(w, r, s, m, id)
	}
	if !sheet.Renamable() {
		return &pageError{http.StatusConflict, "This card says itself which one it is", "Nothing was kept."}
	}
	if r.PostFormValue("do") == "not" {
		if !sheet.Named() {
			return see(w, r, "/questions")
		}
		away, words := takeName(s, &sheet, notCard)
		if err := d.opt.Store.Answer(r.Context(), away...); err != nil {
			return err
		}
		d.say(s, notice{Words: words, Class: "noted"})
		return see(w, r, "/questions")
	}
	if !slices.ContainsFunc(m.full.Unnamed, func(u store.Sheet) bool { return u.ID == id }) {
		return &pageError{http.StatusConflict, "This is not asked any more", "Nothing was kept: somebody has said which card it is, or there is a newer reading. Look at the questions again."}
	}
	card, wrong, confirm := m.whichAnswer(r, &sheet)
	if wrong != "" {
		return d.whichAgain(w, r, s, asked, wrong, confirm)
	}
	if err := d.passOn(r.Context(), &sheet, card); err != nil {
		return err
	}
	key := store.WhichCard(sheet.Photo, sheet.Part)
	// Two people or two copies of the race may have named it as two forms: what is said now is the one.
	var said []store.Answer
	for _, part := range sheet.OtherForms() {
		if other := store.WhichCard(sheet.Photo, part); m.full.Answers[other] != "" {
			said = append(said, store.Answer{Question: other, By: s.person})
		}
	}
	said = append(said, store.Answer{Question: key, Value: store.CardName(card), By: s.person})
	if err := d.opt.Store.Answer(r.Context(), said...); err != nil {
		return err
	}
	if t, ok := d.opt.Taker.(Tier); ok {
		t.Tie()
	}
	d.say(s, notice{Words: fmt.Sprintf("Kept: it is the %s of card %d, %s, under your name.", sheet.Side, card.Card, courseWords(card.Run, card.Course)), Class: "settled", Again: key})
	return see(w, r, "/questions")
}

// whichAgain shows the questions once more, the one about the sheet asked with what was sent and why it can't be kept.
func (d *Desk) whichAgain(w http.ResponseWriter, r *http.Request, s *session, asked, wrong, confirm string) error {
	form := whichForm{r.PostFormValue("run"), r.PostFormValue("course"), r.PostFormValue("card"), r.PostFormValue("further"), r.PostFormValue("same")}
	return d.questionsWith(w, r, s, http.StatusUnprocessableEntity, func(v *whichView) {
		if fmt.Sprint(v.Sheet) != asked {
			return
		}
		v.Form, v.Wrong, v.Confirm = form, wrong, confirm
		for i := range v.Forms {
			v.Forms[i].Said = fmt.Sprint(v.Forms[i].Sheet) == r.PostFormValue("sheet")
		}
	})
}

// postApart keeps that a photo is of another paper than the other photos of its card.
func (d *Desk) postApart(w http.ResponseWriter, r *http.Request, s *session, m *moment, id int64) error {
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		all := c.Other
		for _, used := range []*store.Sheet{c.Front, c.Back} {
			if used != nil {
				all = append(slices.Clone(all), used) // that which counts goes before those that don't
			}
		}
		at := slices.IndexFunc(all, func(o *store.Sheet) bool { return o.ID == id })
		if at < 0 {
			continue
		}
		for _, o := range slices.Backward(all) {
			if o.Side == all[at].Side && o.ID != id {
				return d.tellApart(w, r, s, m, o.ID, id, cleanNote(r.PostFormValue("note")))
			}
		}
	}
	return &pageError{http.StatusConflict, "There is one photo of this side, so one paper", "Nothing was kept. Photograph the other paper with the same number first, or look at the card again."}
}

// tellApart keeps that two photos of one card are of two papers with one number: the one that keeps it and the one that goes, and
// is asked about. So is every other photo of that number, fronts and backs: nothing of it is guessed.
func (d *Desk) tellApart(w http.ResponseWriter, r *http.Request, s *session, m *moment, keeps, goes int64, note string) error {
	var of [2]*store.Sheet
	for i, id := range []int64{keeps, goes} {
		sheet, err := d.opt.Store.Sheet(r.Context(), id)
		if err != nil {
			return err
		}
		of[i] = &sheet
	}
	card := of[1].Card
	answers := []store.Answer{
		{Question: store.WhichCard(of[0].Photo, of[0].Part), Value: store.CardName(card), By: s.person, Note: note},
		{Question: store.WhichCard(of[1].Photo, of[1].Part), Value: notCard, By: s.person, Note: note},
	}
	if !of[1].Renamable() {
		answers = append(answers, store.Answer{Question: store.TwoPapers(card), Value: store.AnswerTwoPapers, By: s.person, Note: note})
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(answers...)...); err != nil {
		return err
	}
	d.say(s, notice{Words: fmt.Sprintf("Kept: two papers, under your name. Photo %s keeps number %d. Below, give the other paper the number of its own place, or one that no card has, and write it on the paper.",
		m.sentName(of[0].Photo), card.Card), Class: "settled"})
	return see(w, r, "/questions")
}

// takeName is the answer that takes the name from a side, and what to say of it; value is what is said of the side instead. What was
// marked by hand in its rows goes with the paper.
func takeName(s *session, sheet *store.Sheet, value string) (away []store.Answer, words string) {
	away = []store.Answer{{Question: store.WhichCard(sheet.Photo, sheet.Part), Value: value, By: s.person}}
	return away, "The photo is nobody's card again, and waits under Questions. What was marked by hand in its rows goes with it."
}

// whichAnswer takes the card out of a form. wrong says why it can't be kept; confirm which box would let it.
func (m *moment) whichAnswer(r *http.Request, sheet *store.Sheet) (card sheetmodel.CardKey, wrong, confirm string) {
	run, errRun := strconv.Atoi(r.PostFormValue("run"))
	number, errCard := strconv.Atoi(strings.TrimSpace(r.PostFormValue("card")))
	course := r.PostFormValue("course")
	if errRun != nil || m.race.Run(run) == nil || !slices.Contains(m.race.Courses, course) {
		return card, "Choose run and course.", ""
	}
	if errCard != nil || number < 1 || number > 65535 {
		return card, "Type the card's number in digits: that of its place, or one that no other card has.", ""
	}
	card = sheetmodel.CardKey{Run: run, Course: course, Card: number}
	c := m.full.Card(card)
	if c != nil {
		for _, other := range append([]*store.Sheet{c.Front, c.Back}, c.Other...) {
			if other != nil && other.Side == sheet.Side && r.PostFormValue("same") == "" {
				return card, fmt.Sprintf("A %s of card %d is there already, in photo %s. Another sheet of paper needs a number of its own.", sheet.Side, number, m.sentName(other.Photo)), "same"
			}
		}
	}
	proposed := sheet.Code.Card != 0 && number == m.freeNumber() // by the question itself, to the copied card
	if m.placeOf(card).Card == 0 && (c == nil || !c.In) && !proposed && r.PostFormValue("further") == "" {
		return card, fmt.Sprintf("The placing list has no card %d in %s. Mend the number, or say below that it isn't in the list.", number, courseWords(run, course)), "further"
	}
	return card, "", ""
}

// passOn lets whoever was shown what stands on a side know it under its new name too: a text that somebody has seen is
// not unseen because its card has another number now.
func (d *Desk) passOn(ctx context.Context, sheet *store.Sheet, to sheetmodel.CardKey) error {
	answers, err := d.opt.Store.Answers(ctx)
	if err != nil {
		return err
	}
	was := map[sheetmodel.CardKey]bool{}
	for _, a := range answers {
		photo, part, _ := store.ParseWhichCard(a.Question)
		ofIt := a.Question == store.WhichCard(sheet.Photo, sheet.Part) ||
			photo != "" && strings.HasPrefix(sheet.Photo, photo) && slices.Contains(sheet.OtherForms(), part)
		if k, ok := store.ParseCardName(a.Value); ok && ofIt && k != to {
			was[k] = true
		}
	}
	if k, ok := d.headerName(ctx, sheet); ok && k != to {
		was[k] = true
	}
	if len(was) == 0 {
		return nil
	}
	log, err := d.opt.Store.ServedLog(ctx)
	if err != nil {
		return err
	}
	d.logging.Lock()
	defer d.logging.Unlock()
	for _, v := range log {
		if !v.Reveals {
			continue
		}
		var keys []string
		for _, reading := range v.Readings {
			if k, side, field, err := store.ParseKey(reading); err == nil && was[k] && side == sheet.Side {
				keys = append(keys, store.Key(to, side, field))
			}
		}
		if len(keys) == 0 {
			continue
		}
		again := store.Served{Session: v.Session, Person: v.Person, Readings: keys, Sheet: sheet.ID, Reveals: true, What: "renamed"}
		if err := d.opt.Store.Serve(ctx, again); err != nil {
			return err
		}
		d.mu.Lock()
		d.told.note(again)
		d.mu.Unlock()
	}
	return nil
}

// headerName is the card that a side's own header was read as.
func (d *Desk) headerName(ctx context.Context, sheet *store.Sheet) (sheetmodel.CardKey, bool) {
	k, err := d.opt.Store.CardAsRead(ctx, sheet.ID)
	return k, err == nil && k.Card > 0
}

// placeOf is the place of a card in the placing list; its Card is 0 if there is none.
func (m *moment) placeOf(k sheetmodel.CardKey) sheetmodel.Place {
	if run := m.race.Run(k.Run); run != nil {
		if course := run.Course(k.Course); course != nil {
			for _, p := range course.Places {
				if p.Card == k.Card {
					return p
				}
			}
		}
	}
	return sheetmodel.Place{}
}
