package stack

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Answers to the question whether a row that was entered stands on the card.
const (
	AnswerStands   = "stands"
	AnswerNotThere = "not-there"
)

// enteredRows adds the rows of card i that a person has entered and that hold no ink by what counts
// now: a later photo, or a smaller number of rows counted on the paper. They never vanish: they wait
// until a person says whether they stand on the card. from is where the card's rows begin.
func (l *loader) enteredRows(i, from int) {
	c := &l.Cards[i]
	for _, n := range l.entered[c.Printed] {
		if slices.ContainsFunc(l.Rows[from:], func(r Row) bool { return r.Ref.Row == n }) {
			continue
		}
		r, pictured := Row{}, false
		if c.Front != nil {
			at := slices.IndexFunc(c.Front.Read.Reading.Rows, func(r sheetmodel.Row) bool { return r.Number == n })
			if pictured = at >= 0; pictured {
				r = l.row(i, c.Front, c.Front.Read.Reading.Rows[at])
			}
		}
		if !pictured {
			r = l.paperRow(i, n)
		}
		if r.BibState != sheetmodel.BibSetAside {
			l.askEntered(c, &r)
		}
		l.Rows = append(l.Rows, r)
	}
}

// enteredKey is the key of that question, at the photo that counts, or at the number of rows that counts.
func enteredKey(c *Card, row int) string {
	at := rowKey("row-entered", c.Printed, row)
	if c.Front != nil {
		return at + "/" + c.Front.Paper()
	}
	return fmt.Sprintf("%s/paper-%d", at, c.Paper.Rows)
}

// askEntered asks whether a row that was entered stands on its card, and does what was answered.
func (l *loader) askEntered(c *Card, r *Row) {
	var lacks string
	q := PhotoQuestion{Card: c.Printed, Side: sheetmodel.Front, Rows: []int{r.Ref.Row}}
	if c.Front != nil {
		lacks = "the photo that counts shows no ink there"
		q.Later = c.Front.ID
		for _, s := range c.Other {
			if s.Side == sheetmodel.Front && slices.ContainsFunc(s.Read.Reading.Rows, func(o sheetmodel.Row) bool { return o.Number == r.Ref.Row && o.HasInk }) {
				q.Earlier = s.ID
			}
		}
	} else {
		lacks = fmt.Sprintf("the number of rows with ink, counted on the paper, is %d now", c.Paper.Rows)
	}
	q.Question = sheetmodel.Question{
		Key: enteredKey(c, r.Ref.Row),
		Ask: fmt.Sprintf("Row %d of card %d was entered before, but %s. Does the row stand on the card?", r.Ref.Row, c.Printed.Card, lacks),
		Answers: []sheetmodel.Answer{
			{Value: AnswerStands, Label: "yes: it stands on the card"},
			{Value: AnswerNotThere, Label: "no: nothing stands there, set it aside"},
		},
	}
	why := "it was entered before, but " + lacks
	switch l.Answers[q.Key] {
	case AnswerStands:
		q.Answered = true
		if r.BibState == sheetmodel.BibWaiting {
			r.hold(why) // the words only: what it needs is counted as ever
		}
	case AnswerNotThere:
		q.Answered = true
		r.BibState, r.Reason, r.Blank = sheetmodel.BibSetAside, why+"; a person says that nothing stands there", true
		r.BibSeen.Seen.State, r.BibSeen.Seen.Looks, r.BibSeen.Seen.Reason = r.BibState, nil, r.Reason
		r.BibSeen.Seen.Next = look.NeedNothing
	default:
		r.hold(why)
	}
	l.Questions = append(l.Questions, q)
}

// enteredIn lists, for each card, the rows of its front that hold a decision that stands, other than
// that nothing is written there.
func enteredIn(decisions map[string][]sheetmodel.Decision) map[sheetmodel.CardKey][]int {
	entered := map[sheetmodel.CardKey][]int{}
	for key, all := range decisions {
		if !slices.ContainsFunc(all, func(d sheetmodel.Decision) bool { return d.Basis != sheetmodel.BasisNoWriting }) {
			continue
		}
		card, side, field, err := store.ParseKey(key)
		if err != nil || side != sheetmodel.Front {
			continue
		}
		word, _, _ := strings.Cut(field, ".")
		number, isRow := strings.CutPrefix(word, "row-")
		n, err := strconv.Atoi(number)
		if isRow && err == nil && !slices.Contains(entered[card], n) {
			entered[card] = append(entered[card], n)
		}
	}
	for _, rows := range entered {
		slices.Sort(rows)
	}
	return entered
}
