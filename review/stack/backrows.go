package stack

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// askBackRows asks about rows with ink on the back of card i, as a form of another make may have them. Rows are taken from fronts alone,
// and what is written there must not be lost without a word: people type it from the paper, as a card of its own. Marks for racers who
// passed are taken from backs too, and aren't asked about.
func (l *loader) askBackRows(i int) {
	c := &l.Cards[i]
	if c.Back == nil {
		return
	}
	var rows []int
	for _, s := range append([]*store.Sheet{c.Back}, c.Other...) {
		if s.Side != sheetmodel.Back {
			continue
		}
		for _, r := range s.Read.Reading.Rows {
			if r.HasInk && !slices.Contains(rows, r.Number) {
				rows = append(rows, r.Number)
			}
		}
	}
	if len(rows) == 0 {
		return
	}
	slices.Sort(rows)
	var names []string
	for _, n := range rows {
		names = append(names, fmt.Sprint(n))
	}
	ask := "%d rows on the back of card %d hold ink. Rows are read on fronts alone: is each of them the row of another card by now, typed from the paper under the number of a spare, or is nothing of it to count?"
	if len(rows) == 1 {
		ask = "%d row on the back of card %d holds ink. Rows are read on fronts alone: is it the row of another card by now, typed from the paper under the number of a spare, or is nothing of it to count?"
	}
	q := PhotoQuestion{Card: c.Printed, Side: sheetmodel.Back, Later: c.Back.ID, Question: sheetmodel.Question{
		Key:     fmt.Sprintf("rows-on-back/%s/%s/%s", store.CardName(c.Printed), strings.Join(names, "+"), c.Back.Paper()),
		Ask:     fmt.Sprintf(ask, len(rows), c.Printed.Card),
		Answers: []sheetmodel.Answer{{Value: AnswerSeen, Label: "yes, looked at the paper: nothing on the back is missing"}},
	}}
	q.Answered = l.Answers[q.Key] == AnswerSeen
	l.Questions = append(l.Questions, q)
}
