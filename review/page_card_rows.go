package review

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// printedRows are the rows of a front as printed, by number.
func (d *Desk) printedRows(s *store.Sheet) map[int]sheetmodel.Rect {
	rows := map[int]sheetmodel.Rect{}
	side := d.side(s)
	if side == nil {
		return rows
	}
	for _, f := range side.Fields {
		if f.Row > 0 && f.Kind != sheetmodel.Drawing {
			rows[f.Row] = union(rows[f.Row], f.Rect)
		}
	}
	return rows
}

// freeRows are the printed rows of a card's front in which no row is known.
func (d *Desk) freeRows(m *moment, c *stack.Card) []int {
	if c.Front == nil {
		return nil
	}
	var free []int
	for n := range d.printedRows(c.Front) {
		if m.full.Row(sheetmodel.RowRef{CardKey: c.Key, Row: n}) == nil {
			free = append(free, n)
		}
	}
	slices.Sort(free)
	return free
}

// under is the free row that a drawn box lies over, by the middle of its height; 0 if it lies over none.
func under(rows map[int]sheetmodel.Rect, free []int, box sheetmodel.Rect) int {
	middle := box.Y + box.H/2
	for _, n := range free {
		if r := rows[n]; middle >= r.Y && middle < r.Y+r.H {
			return n
		}
	}
	return 0
}

// postAddRow adds a row that a person sees and no reader did. It holds no text: two people type it unseen.
func (d *Desk) postAddRow(w http.ResponseWriter, r *http.Request, s *session) error {
	m, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	refuse := func(words string) error { return d.card(w, r, s, http.StatusUnprocessableEntity, words) }
	if n, err := strconv.Atoi(r.PostFormValue("row")); err == nil && r.PostFormValue("do") == "away" {
		row := m.full.Row(sheetmodel.RowRef{CardKey: c.Key, Row: n})
		if row == nil || !row.Added {
			return refuse("Only a row that a person added can be taken out again.")
		}
		if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(store.Answer{Question: stack.AddedKey(c.Printed, n), By: s.person})...); err != nil {
			return err
		}
		d.say(s, notice{Words: fmt.Sprintf("Row %d is taken out again. What was typed of it is kept and asked about.", n), Class: "settled"})
		return see(w, r, "/card/"+cardPath(c.Printed))
	}
	if c.Front == nil || r.PostFormValue("front") != fmt.Sprint(c.Front.ID) {
		return refuse("Another photo counts now: look at it first.")
	}
	rows, free := d.printedRows(c.Front), d.freeRows(m, c)
	n, _ := strconv.Atoi(r.PostFormValue("row"))
	box, drawn := stack.ParseBox(r.PostFormValue("box"))
	switch {
	case n == 0 && drawn:
		n = under(rows, free, box)
		if n == 0 {
			return refuse("The box lies over no printed row that is free. Draw it over one, or choose its number.")
		}
	case !slices.Contains(free, n):
		return refuse("Choose the number of a printed row that holds ink and isn't listed yet.")
	case !drawn:
		box = rows[n]
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(store.Answer{Question: stack.AddedKey(c.Printed, n), Value: stack.FormatBox(box), By: s.person})...); err != nil {
		return err
	}
	d.say(s, notice{Words: fmt.Sprintf("Row %d is added. Two people type it unseen, like a row that no reader could read.", n), Class: "settled"})
	return see(w, r, "/card/"+cardPath(c.Printed))
}

// postStrike marks a row as struck out by its judge where no reader saw the line, or takes that mark off.
func (d *Desk) postStrike(w http.ResponseWriter, r *http.Request, s *session) error {
	m, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	n, _ := strconv.Atoi(r.PostFormValue("row"))
	row := m.full.Row(sheetmodel.RowRef{CardKey: c.Key, Row: n})
	mark := stack.StruckKey(c.Printed, n)
	marked := m.full.Answers[mark] == stack.Marked
	off := r.PostFormValue("do") == "off"
	front := r.PostForm.Has("front") && r.PostFormValue("front") != fmt.Sprint(frontID(c)) // looked at on another photo
	if row == nil || front || off != marked || !off && row.Struck {
		return &pageError{http.StatusConflict, "The row has changed since this page was loaded", "Nothing was kept. Look at the card again; a row that looks struck out is asked about under Questions."}
	}
	// A row leaves the draft on this word alone, so it is a person's, with what it rests on.
	why := cleanNote(r.PostFormValue("note"))
	if why == "" {
		return d.card(w, r, s, http.StatusUnprocessableEntity, fmt.Sprintf("Row %d: say who says so and how it is known. Nothing was kept.", n))
	}
	question, struck := rules.StruckAnswer(row.Ref)
	value, words := stack.Marked, fmt.Sprintf("Row %d: struck by %s: %s. It stays, and carries no call.", n, s.person, why)
	if off {
		value, struck, words = "", "", fmt.Sprintf("Row %d is not struck out any more.", n)
	}
	err = d.opt.Store.Answer(r.Context(), m.full.OnPaper(store.Answer{Question: mark, Value: value, By: s.person, Note: why}, store.Answer{Question: question, Value: struck, By: s.person, Note: why, View: rules.CardView(c.Card)})...)
	if err != nil {
		return err
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/card/"+cardPath(c.Printed))
}

// strikeOf is the answer by which somebody marked a row as struck out that no reader saw so; nil: nobody did.
func (m *moment) strikeOf(row *stack.Row) *store.Answer {
	mark := stack.StruckKey(m.full.Cards[row.Card].Printed, row.Ref.Row)
	if m.full.Answers[mark] != stack.Marked {
		return nil
	}
	for i, a := range slices.Backward(m.full.AnswerLog) {
		if a.Question == mark {
			return &m.full.AnswerLog[i]
		}
	}
	return nil
}

// struckWords says who struck a row, and on what ground.
func struckWords(a store.Answer) string {
	words := "struck by " + a.By
	if a.Note != "" {
		words += ": " + a.Note
	}
	return words
}
