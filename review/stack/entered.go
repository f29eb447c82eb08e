package stack

import (
	"cmp"
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

// enteredKey begins the key of that question, at the photo that counts, or at the number of rows that counts.
func enteredKey(c *Card, row int) string {
	at := rowKey(store.EnteredRow, c.Printed, row)
	if c.Front != nil {
		return at + "/" + c.Front.Paper()
	}
	return fmt.Sprintf("%s/paper-%d", at, c.Paper.Rows)
}

// entriesOf names what has been entered in a row of a front and stands: how many entries they are, and when the last was made. Two copies
// of the race name the same entries alike. after is the number of the last in the log.
func (l *loader) entriesOf(card sheetmodel.CardKey, row int) (name string, after int64) {
	start, n, last := store.Key(card, sheetmodel.Front, RowField(row, "")), 0, int64(0)
	for key, all := range l.decisions {
		if !strings.HasPrefix(key, start) {
			continue
		}
		for i := range all {
			if all[i].Basis != sheetmodel.BasisNoWriting {
				n, last, after = n+1, max(last, all[i].At.UnixNano()), max(after, all[i].ID)
			}
		}
	}
	return fmt.Sprintf("%d-%d", n, last), after
}

// saidEntered returns under which key it is asked whether a row that was entered stands, and what was answered, empty if nothing counts.
// That it stands is said of the card, whatever is entered then. That nothing stands there is said of what had been entered: whoever enters
// the row later has seen something, and it is asked anew. before is whoever said so, if that counts no more. Where two
// copies of the race say it otherwise, of what had been entered in each, and who said the one didn't know of the other, neither counts.
func (l *loader) saidEntered(c *Card, row int) (key, answer, before string, otherwise bool) {
	start := enteredKey(c, row)
	entries, after := l.entriesOf(c.Printed, row)
	key = start + "/" + entries
	last := ""
	for given, value := range l.Answers {
		ours := given == start || strings.HasPrefix(given, start+"/") // the former are older programs'
		if ours && value != "" && (last == "" || l.saidWhen[given].id > l.saidWhen[last].id) {
			last = given
		}
	}
	for given, value := range l.Answers {
		if last == "" || !strings.HasPrefix(given, start+"/") || value == "" || value == l.Answers[last] {
			continue
		}
		in, known := l.sights.Answer(l.saidWhen[last].seen, store.Answer{Value: value, At: l.saidWhen[given].at})
		otherwise = otherwise || known && !in
	}
	switch {
	case last == "" || otherwise:
	case l.Answers[last] != AnswerNotThere, last == key, last == start && after < l.saidWhen[last].id:
		return last, l.Answers[last], "", false
	default:
		before = cmp.Or(l.Answerers[last], "somebody")
	}
	return key, "", before, otherwise
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
	key, answer, before, otherwise := l.saidEntered(c, r.Ref.Row)
	q.Question = sheetmodel.Question{
		Key: key,
		Ask: fmt.Sprintf("Row %d of card %d was entered before, but %s. Does the row stand on the card?", r.Ref.Row, c.Printed.Card, lacks),
		Answers: []sheetmodel.Answer{
			{Value: AnswerStands, Label: "yes: it stands on the card"},
			{Value: AnswerNotThere, Label: "no: nothing stands there, set it aside"},
		},
	}
	if before != "" {
		q.Ask = fmt.Sprintf("Row %d of card %d was entered, but %s, and %s said that nothing stands there. Since then something was entered there, or taken back. Does the row stand on the card?", r.Ref.Row, c.Printed.Card, lacks, before)
	}
	if otherwise {
		q.Ask = fmt.Sprintf("Row %d of card %d was entered, but %s, and two copies of this race say differently whether it stands there. Does the row stand on the card?", r.Ref.Row, c.Printed.Card, lacks)
	}
	why := "it was entered before, but " + lacks
	switch answer {
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
