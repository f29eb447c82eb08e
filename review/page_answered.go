package review

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"gatefold/review/jury"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// answeredView is a question that somebody has answered. Its answer can be taken back by whoever sits at
// the desk: it is no look at a bib, and a slip of the hand must not stand against a racer.
type answeredView struct {
	Key      string
	Course   string
	Sentence string
	Answer   string
	By       string
	Note     string
	At       time.Time
}

// answered lists the answers that stand, the latest first, as far as they rest on nothing that may still
// be typed unseen. The second result are the readings that the sentences tell of.
func (m *moment) answered() ([]answeredView, []string) {
	answers := m.full.AnswerLog
	var all []answeredView
	var told []string
	seen := map[string]bool{}
	for _, a := range slices.Backward(answers) {
		if jury.IsKey(a.Question) {
			continue // on the page of its bib
		}
		if _, overtaken := m.result.Overtaken[a.Question]; overtaken || seen[a.Question] || a.Value == "" {
			seen[a.Question] = true
			continue
		}
		seen[a.Question] = true
		if v, keys, ok := m.answeredWith(a); ok {
			all, told = append(all, v), append(told, keys...)
		}
	}
	return all, told
}

// answeredWith is a question as it would be asked had it not been answered; false if nothing would ask it.
func (m *moment) answeredWith(a store.Answer) (answeredView, []string, bool) {
	v := answeredView{Key: a.Question, By: a.By, Note: a.Note, At: a.At}
	if at, err := sheetmodel.OfficialTime(a.At, m.race); err == nil {
		v.At = at
	}
	for _, q := range m.full.Questions {
		if q.Key == a.Question && q.Answered {
			v.Course, v.Sentence, v.Answer = cardWords(q.Card, q.Card.Run == 0), q.Ask, labelOf(q.Question, a.Value)
			return v, nil, v.Answer != ""
		}
	}
	if row := m.struckRow(a.Question); row != nil {
		if mark := m.strikeOf(row); mark != nil {
			// No reader saw a line: a person says that there is one.
			v.Course, v.Answer = courseWords(row.Ref.Run, row.Ref.Course), struckWords(*mark)
			v.Sentence = fmt.Sprintf("Card %d row %d is struck out by its judge, and no reader saw it.", row.Ref.Card, row.Ref.Row)
			v.By, v.Note = mark.By, ""
			return v, nil, true
		}
	}
	if card, ok := store.ParseTwoPapers(a.Question); ok {
		v.Course, v.Answer = courseWords(card.Run, card.Course), "two papers; each has a number of its own"
		v.Sentence = fmt.Sprintf("Two papers carry the number of card %d.", card.Card)
		return v, nil, true
	}
	if photo, part, ok := store.ParseWhichCard(a.Question); ok {
		return m.answeredWhich(v, photo, part, a.Value)
	}
	open := *m.full
	open.Answers = maps.Clone(m.full.Answers)
	delete(open.Answers, a.Question)
	without := &moment{race: m.race, full: &open, result: rules.Check(open.Facts())}
	without.shown, without.said, without.covered, without.drawn = veil(&open, without.result)
	for _, f := range without.questions() {
		if f.Question.Key != a.Question {
			continue
		}
		var told []string
		for _, ref := range f.Rows {
			if full := m.full.Row(ref); full != nil && m.covered[full.BibSeen.Key] && !tellsNothing(f) {
				return v, nil, false
			}
			if row := without.shown.Row(ref); row != nil {
				told = append(told, openKeys(without, row)...)
			}
		}
		v.Course, v.Sentence, v.Answer = courseWords(f.Run, f.Course), f.Sentence, labelOf(*f.Question, a.Value)
		return v, told, v.Answer != ""
	}
	return v, nil, false
}

// struckRow is the row about which a question asks whether it is struck out, nil if the question is another.
func (m *moment) struckRow(question string) *stack.Row {
	i := slices.IndexFunc(m.full.Rows, func(r stack.Row) bool {
		key, _ := rules.StruckAnswer(r.Ref)
		return key == question
	})
	if i < 0 {
		return nil
	}
	return &m.full.Rows[i]
}

// answeredWhich is the question which card a side is; photo is the beginning of its name.
func (m *moment) answeredWhich(v answeredView, photo string, part int, value string) (answeredView, []string, bool) {
	k, ok := store.ParseCardName(value)
	if !ok {
		return v, nil, false
	}
	i := slices.IndexFunc(m.full.Photos, func(p store.Photo) bool { return strings.HasPrefix(p.ID, photo) })
	if i < 0 {
		return v, nil, false
	}
	v.Course, v.Sentence, v.Answer = courseWords(k.Run, k.Course), fmt.Sprintf("Which card does photo %s show?", m.full.Photos[i].Sent), fmt.Sprintf("card %d", k.Card)
	if part > 1 {
		v.Sentence = fmt.Sprintf("Which card is side no. %d in photo %s?", part, m.full.Photos[i].Sent)
	}
	return v, nil, true
}

// tellsNothing reports whether a finding holds nothing of what its rows say.
func tellsNothing(f sheetmodel.Finding) bool { return f.Rule == "struck-row" }

// labelOf is the answer with a value, empty if the question has none.
func labelOf(q sheetmodel.Question, value string) string {
	i := slices.IndexFunc(q.Answers, func(a sheetmodel.Answer) bool { return a.Value == value })
	if i < 0 {
		return ""
	}
	return q.Answers[i].Label
}

// askAgain takes the answer to a question back, whoever gave it; it stays in the log.
func (d *Desk) askAgain(w http.ResponseWriter, r *http.Request, s *session, m *moment, key string) error {
	if m.full.Answers[key] == "" || jury.IsKey(key) { // what referee and jury did is changed on the page of its bib, with who says so
		return &pageError{http.StatusConflict, "This has no answer any more", "Nothing was changed. Look at the questions again."}
	}
	again := []store.Answer{{Question: key, By: s.person}}
	words := "Answer taken back; it stays in the log. The question is asked again."
	if row := m.struckRow(key); row != nil {
		if mark := stack.StruckKey(m.full.Cards[row.Card].Printed, row.Ref.Row); m.full.Answers[mark] == stack.Marked {
			again = append(again, store.Answer{Question: mark, By: s.person})
			words = fmt.Sprintf("Taken back; it stays in the log. Row %d of card %d is a row like any other again.", row.Ref.Row, row.Ref.Card)
		}
	}
	if sheet := m.calledBy(key); sheet != nil {
		again, words = takeName(s, sheet, "")
		switch read, _ := d.headerName(r.Context(), sheet); {
		case sheet.Code.Card > 0: // its code says which card it is, and another paper's says the same
		case read == sheet.Card:
			words = "Taken back; it stays in the log. Its head says the same, so the photo stays that card's."
		case read.Card > 0:
			words = strings.Replace(words, "is nobody's card again, and waits under Questions", fmt.Sprintf("is of card %d again, as its head says", read.Card), 1)
		}
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(again...)...); err != nil {
		return err
	}
	var amends []store.Answer
	for _, a := range again {
		if value := m.full.Answers[a.Question]; value != "" {
			said := store.Answer{Question: a.Question, Value: value, By: s.person, Note: m.noteOf(a.Question), Paper: m.paperOf(a.Question)}
			if views := m.full.Views[a.Question]; len(views) > 0 {
				said.View = views[0]
			}
			amends = append(amends, said)
		}
	}
	d.say(s, notice{Words: words, Class: "noted", Redo: amends != nil})
	d.mu.Lock()
	s.back, s.forth, s.amends = 0, nil, amends
	d.mu.Unlock()
	return see(w, r, "/questions")
}

// noteOf is whose word the standing answer to a question is.
func (m *moment) noteOf(question string) string {
	for _, a := range slices.Backward(m.full.AnswerLog) {
		if a.Question == question {
			return a.Note
		}
	}
	return ""
}

// calledBy is the side of a card that has its number by the answer to a question, nil if there is none.
func (m *moment) calledBy(question string) *store.Sheet {
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		for _, sheet := range append([]*store.Sheet{c.Front, c.Back}, c.Other...) {
			if sheet != nil && sheet.Renamable() && store.WhichCard(sheet.Photo, sheet.Part) == question {
				return sheet
			}
		}
	}
	return nil
}
