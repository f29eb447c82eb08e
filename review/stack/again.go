package stack

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A row that a person added is one that no reader saw. When its card is photographed again, no reader says whether its judge has
// mended it meanwhile: a person holds the two photos beside each other.

// againWord begins the key of that question.
const againWord = "row-again"

// rowAt is a row as it was typed from one photo of its card.
type rowAt struct {
	card sheetmodel.CardKey // as printed
	row  int
	at   store.Ink
}

// askAgain asks about the rows of a card that were added by hand and typed from another photo than the one that counts, which is
// mostly the one that came last. Photos may come in another order than they were taken in, as from a phone that was out of reach:
// then a person says that the earlier photo counts. aside are those of which somebody has said that another one counts.
func (l *loader) askAgain(c *Card, sheets []*store.Sheet, aside []bool) {
	turned := l.turnBack(c, sheets, aside)
	now := store.Ink{Photo: c.Front.Photo, Part: c.Front.Part}
	for _, n := range l.addedOn(c) {
		var asked []store.Ink
		start := store.Key(c.Printed, sheetmodel.Front, RowField(n, ""))
		for _, d := range l.Decisions {
			at, known := l.inks[d.Sheet]
			if !known || at == now || d.Undone != nil || !d.Blind && !d.ReadBack || !strings.HasPrefix(d.Reading, start) || slices.Contains(asked, at) {
				continue
			}
			asked = append(asked, at)
			may := slices.IndexFunc(sheets, func(s *store.Sheet) bool { return s.Photo == at.Photo && s.Part == at.Part })
			q := againQuestion(c, n, at, !turned && may >= 0 && mayTurn(c, sheets[may], aside[may]))
			q.Earlier = d.Sheet
			l.askAgainAt(q, rowAt{c.Printed, n, at})
		}
	}
}

// mayTurn reports whether a photo may be said to count after all, beside the front that does.
func mayTurn(c *Card, s *store.Sheet, aside bool) bool {
	return s != c.Front && s.Layout == c.Front.Layout && !aside
}

// turnBack lets that photo of a front count of which somebody said so when asked about an added row; false if nobody has.
func (l *loader) turnBack(c *Card, sheets []*store.Sheet, aside []bool) bool {
	for i, s := range slices.Backward(sheets) {
		if !mayTurn(c, s, aside[i]) {
			continue
		}
		for _, n := range l.addedOn(c) {
			q := againQuestion(c, n, store.Ink{Photo: s.Photo, Part: s.Part}, true)
			if l.Answers[q.Key] == AnswerEarlier {
				q.Earlier, q.Answered = s.ID, true
				l.Questions = append(l.Questions, q)
				c.Front = s
				return true
			}
		}
	}
	return false
}

// againQuestion asks about an added row that was typed from a photo; turn: whether it may be answered that that photo counts.
func againQuestion(c *Card, n int, at store.Ink, turn bool) PhotoQuestion {
	q := PhotoQuestion{Card: c.Printed, Side: sheetmodel.Front, Rows: []int{n}, Later: c.Front.ID, Question: sheetmodel.Question{
		Key: fmt.Sprintf("%s/%s/row-%02d/%s/%s", againWord, store.CardName(c.Printed), n, store.PaperName(at.Photo, at.Part), c.Front.Paper()),
		Ask: fmt.Sprintf("Row %d of card %d was added by hand and typed from another photo than the one that counts now. Does the row look alike on both?", n, c.Printed.Card),
		Answers: []sheetmodel.Answer{
			{Value: AnswerSame, Label: "yes: what was typed counts"},
			{Value: AnswerOther, Label: "no, or it can't be told: it is typed anew"},
		},
	}}
	if turn {
		q.Answers = append(q.Answers, sheetmodel.Answer{Value: AnswerEarlier, Label: "no, and the earlier photo shows the card as it was handed in: that one counts"})
	}
	return q
}

func (l *loader) askAgainAt(q PhotoQuestion, row rowAt) {
	answer := l.Answers[q.Key]
	if q.Answered = slices.ContainsFunc(q.Answers, func(a sheetmodel.Answer) bool { return a.Value == answer }); !q.Answered {
		answer = ""
	}
	if l.again == nil {
		l.again = map[rowAt]string{}
	}
	l.again[row] = answer
	l.Questions = append(l.Questions, q)
}

// typedElsewhere reports whether a decision about an added row was made at another photo of its card than s, on which nobody has
// found the row as it was.
func (l *loader) typedElsewhere(s *store.Sheet, key string, d *sheetmodel.Decision) bool {
	if len(l.again) == 0 {
		return false
	}
	card, n, isRow := rowOf(key)
	at := l.inks[l.typedOf[d.ID]]
	if !isRow || at == (store.Ink{Photo: s.Photo, Part: s.Part}) {
		return false
	}
	answer, asked := l.again[rowAt{card, n, at}]
	return asked && answer != AnswerSame
}

// rowOf takes the key of a reading in a row of a front apart.
func rowOf(key string) (card sheetmodel.CardKey, row int, ok bool) {
	card, side, field, err := store.ParseKey(key)
	word, _, _ := strings.Cut(field, ".")
	number, isRow := strings.CutPrefix(word, "row-")
	row, errRow := strconv.Atoi(number)
	return card, row, err == nil && errRow == nil && isRow && side == sheetmodel.Front
}

// boxedElsewhere reports whether a decision about an added row was made while another box was drawn around it: it was taken out since,
// and added again where its ink is. What was said in another copy of the race has a number from when that was joined: which box was drawn there then,
// what that copy held tells.
func (l *loader) boxedElsewhere(key string, d *sheetmodel.Decision) bool {
	if len(l.added) == 0 {
		return false
	}
	card, n, isRow := rowOf(key)
	if !isRow || !slices.Contains(l.added, n) {
		return false
	}
	mark, then, there := AddedKey(card, n), "", ""
	for i := range l.AnswerLog {
		a := &l.AnswerLog[i]
		if a.Question != mark {
			continue
		}
		if a.ID < d.ID {
			then = a.Value
		}
		if in, _ := l.sights.Answer(l.seenOf[d.ID], *a); in {
			there = a.Value
		}
	}
	return slices.ContainsFunc([]string{then, there}, func(box string) bool {
		_, drawn := ParseBox(box)
		return drawn && box != l.Answers[mark]
	})
}

// OfAddedRow reports whether the question is whether a row that was added by hand looks alike on two photos.
func (q *PhotoQuestion) OfAddedRow() bool { return strings.HasPrefix(q.Key, againWord+"/") }

// why is why a row waits for the answer.
func (q *PhotoQuestion) why() string {
	if q.OfAddedRow() {
		return "it was added by hand and typed from another photo of its card"
	}
	if strings.HasPrefix(q.Key, markWord+"/") {
		return "two copies of this race say differently whether it is struck out, or was added by hand"
	}
	return fmt.Sprintf("two photos of the %s of its card differ", q.Side)
}
