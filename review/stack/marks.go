package stack

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// markWord begins the key of the question about a mark that two copies of the race have otherwise.
const markWord = "mark-again"

// askMarks asks about marks on rows that two copies of the race have otherwise, by the number of the dispute. Until somebody has marked
// the row anew, or said that nothing is to be marked, the row waits: a strike that is forgotten makes a call of what its judge took
// back, and one too many takes a call from the list.
func (l *loader) askMarks(marks map[string]int64) {
	for _, key := range slices.Sorted(maps.Keys(marks)) {
		word, card, row, _ := markOf(key)
		q := PhotoQuestion{Card: card, Side: sheetmodel.Front, Rows: []int{row}, Question: sheetmodel.Question{
			Key:     fmt.Sprintf("%s/%s/%d", markWord, key, marks[key]),
			Ask:     fmt.Sprintf("Two copies of this race say differently whether row %d of card %d is struck out. Look at the paper; if it is, mark it on the page of the card. Was that done?", row, card.Card),
			Answers: []sheetmodel.Answer{{Value: AnswerSeen, Label: "yes, or there is nothing to mark"}},
		}}
		if word == addedWord {
			q.Ask = fmt.Sprintf("Two copies of this race say differently whether row %d of card %d was added by hand. Look at the paper; if nothing is written there, take it out on the page of the card. Was that done?", row, card.Card)
		}
		q.Answered = l.Answers[q.Key] == AnswerSeen
		l.Questions = append(l.Questions, q)
	}
}

// openMarks keeps the draft open for such a mark whose card is in no more: else its question does that.
func (l *loader) openMarks() {
	for _, q := range l.Questions {
		if known := slices.ContainsFunc(l.Cards, func(c Card) bool { return c.Printed == q.Card }); !known && !q.Answered && strings.HasPrefix(q.Key, markWord+"/") {
			l.open = append(l.open, rules.Gap{Run: q.Card.Run, Course: q.Card.Course, Why: q.Ask})
		}
	}
}
