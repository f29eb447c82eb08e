package stack

import (
	"fmt"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// askCounted asks about card i where more rows were counted on its paper than are known since it was photographed: a reader may
// have missed one that somebody saw. from is where the card's rows begin.
func (l *loader) askCounted(i, from int) {
	c := &l.Cards[i]
	if c.Front == nil || c.Paper == nil {
		return
	}
	known := 0
	for _, r := range l.Rows[from:] {
		if !r.Blank {
			known++
		}
	}
	if known >= c.Paper.Rows {
		return
	}
	q := PhotoQuestion{Card: c.Printed, Side: sheetmodel.Front, Later: c.Front.ID, Question: sheetmodel.Question{
		Key: fmt.Sprintf("rows-counted/%s/%d-%d/%s", store.CardName(c.Printed), c.Paper.Rows, known, c.Front.Paper()),
		Ask: fmt.Sprintf("%d rows with ink were counted on the paper of card %d before it was photographed, and %d are known now. Is every row there? If one is missing, add it on the page of the card.", c.Paper.Rows, c.Printed.Card, known),
		Answers: []sheetmodel.Answer{
			{Value: AnswerSeen, Label: "yes, looked at the paper: no row is missing"},
		},
	}}
	if c.Paper.Rows == 1 {
		q.Ask = fmt.Sprintf("1 row with ink was counted on the paper of card %d before it was photographed, and none is known now. Is every row there? If it is missing, add it on the page of the card.", c.Printed.Card)
	}
	q.Answered = l.Answers[q.Key] == AnswerSeen
	l.Questions = append(l.Questions, q)
}
