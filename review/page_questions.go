package review

import (
	"fmt"
	"net/http"
	"slices"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

type questionsView struct {
	frame
	Questions []questionView
	Photos    []questionView
	Later     int // questions that may come once more is typed
	Answered  []store.Answer
}

type questionView struct {
	Key      string
	Course   string
	Sentence string
	Basis    string
	Ask      string
	Answers  []sheetmodel.Answer
	Ink      []inkView
	Words    []string // for each picture
	NoInk    []string // rows without one
}

// questions are the findings that ask a person something, as far as they rest on nothing that may
// still be typed unseen. The others come when it is typed.
func (m *moment) questions() []sheetmodel.Finding {
	var all []sheetmodel.Finding
	for _, f := range m.said.Findings {
		if f.Question == nil || m.shown.Answers[f.Question.Key] != "" {
			continue
		}
		if slices.ContainsFunc(f.Rows, func(ref sheetmodel.RowRef) bool {
			r := m.full.Row(ref)
			return r != nil && m.covered[r.BibSeen.Key]
		}) && f.Bib != "" {
			continue
		}
		all = append(all, f)
	}
	return all
}

func (d *Desk) showQuestions(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "Questions", "questions")
	if err != nil {
		return err
	}
	v := questionsView{frame: f}
	var told []string
	for _, q := range m.questions() {
		view := questionView{
			Key: q.Question.Key, Course: courseWords(q.Run, q.Course), Sentence: q.Sentence, Basis: q.Basis,
			Ask: q.Question.Ask, Answers: q.Question.Answers,
		}
		for _, ref := range q.Rows {
			row := m.shown.Row(ref)
			if row == nil {
				continue
			}
			told = append(told, openKeys(m, row)...)
			words := fmt.Sprintf("Card %d, row %d", ref.Card, ref.Row)
			if row.Sheet == nil {
				view.NoInk = append(view.NoInk, words+": no picture, see the paper")
				continue
			}
			if ink := d.rowInk(row.Sheet, ref); ink != nil {
				view.Ink, view.Words = append(view.Ink, *ink), append(view.Words, words)
			}
		}
		if len(q.Rows) == 0 && q.Card != nil {
			if c := m.full.Card(*q.Card); c != nil && c.Front != nil {
				view.Ink = append(view.Ink, inkView{Src: inkPath(c.Front.ID, "side"), Alt: fmt.Sprintf("Photo of the front of card %d", c.Key.Card)})
				view.Words = append(view.Words, fmt.Sprintf("Card %d, front", c.Key.Card))
			}
		}
		v.Questions = append(v.Questions, view)
	}
	for _, q := range m.photoQuestions() {
		view := questionView{Key: q.Key, Sentence: q.Ask, Ask: "Which one counts?", Answers: q.Answers, Course: q.Words}
		for i, id := range []int64{q.Earlier, q.Later} {
			if id == 0 {
				continue // typed from the paper: there is no picture
			}
			view.Ink = append(view.Ink, inkView{Src: inkPath(id, "side"), Alt: fmt.Sprintf("%s, %s, photo %d of 2", q.Words, q.Side, i+1)})
			view.Words = append(view.Words, []string{"the earlier photo", "the later photo"}[i])
		}
		v.Photos = append(v.Photos, view)
	}
	if err := d.serve(r.Context(), s, "questions", 0, true, told...); err != nil {
		return err
	}
	return d.render(w, "questions", http.StatusOK, v)
}

// rowInk is a whole row as a picture, or nil.
func (d *Desk) rowInk(s *store.Sheet, ref sheetmodel.RowRef) *inkView {
	what := fmt.Sprintf("row-%02d", ref.Row)
	k, ok := d.crop(s, what)
	if !ok {
		return nil
	}
	return &inkView{Src: inkPath(s.ID, what), Rect: k.Rect, Alt: fmt.Sprintf("Photo of card %d, row %d", ref.Card, ref.Row)}
}

// openKeys are the readings of a row whose texts a page may show, and so gives away.
func openKeys(m *moment, r *stack.Row) []string {
	var keys []string
	for _, e := range []stack.Entry{r.BibSeen, r.Code, r.Gate} {
		if e.Key != "" && !m.covered[e.Key] {
			keys = append(keys, e.Key)
		}
	}
	if r.Row.Panel != "" {
		keys = append(keys, r.Panel.Key)
	}
	if r.Row.Rerun {
		keys = append(keys, r.Rerun.Key)
	}
	return keys
}

func (d *Desk) postQuestion(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	key, value := r.PostFormValue("question"), r.PostFormValue("answer")
	known := func(q sheetmodel.Question) bool {
		return q.Key == key && slices.ContainsFunc(q.Answers, func(a sheetmodel.Answer) bool { return a.Value == value })
	}
	ok := slices.ContainsFunc(m.questions(), func(f sheetmodel.Finding) bool { return known(*f.Question) }) ||
		slices.ContainsFunc(m.photoQuestions(), func(q photoQuestion) bool { return known(q.Question) })
	if !ok {
		return &pageError{http.StatusConflict, "This is not asked any more", "Nothing was kept: another entry has changed it. Look at the questions again."}
	}
	if err := d.opt.Store.Answer(r.Context(), store.Answer{Question: key, Value: value, By: s.person, Note: cleanName(r.PostFormValue("note"))}); err != nil {
		return err
	}
	d.say(s, notice{Words: "Answer kept, under your name.", Class: "settled"})
	if m, err = d.now(r.Context()); err != nil {
		return err
	}
	if len(m.questions())+len(m.photoQuestions()) > 0 {
		return see(w, r, "/questions")
	}
	return see(w, r, d.nextPath(m, s))
}
