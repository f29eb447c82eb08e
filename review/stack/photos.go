package stack

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// choose returns the sheet of a side that counts: the latest photo, unless a person says otherwise.
// Where two photos show different things it asks; both stay.
func (l *loader) choose(card sheetmodel.CardKey, side sheetmodel.SideName, sheets []*store.Sheet) *store.Sheet {
	used := sheets[0]
	for _, later := range sheets[1:] {
		rows := differingRows(used.Read.Reading, later.Read.Reading)
		if len(rows) == 0 {
			used = later
			continue
		}
		key := fmt.Sprintf("two-photos/%s/%s/%.12s-%d/%.12s-%d", store.CardName(card), side, used.Photo, used.Part, later.Photo, later.Part)
		answer, answered := l.Answers[key]
		l.Questions = append(l.Questions, PhotoQuestion{
			Question: sheetmodel.Question{
				Key: key,
				Ask: fmt.Sprintf("Two photos of the %s of card %d differ in %s. Which one shows the card as it was handed in?", side, card.Card, rowWords(rows)),
				Answers: []sheetmodel.Answer{
					{Value: AnswerLater, Label: "the later photo"}, {Value: AnswerEarlier, Label: "the earlier photo"},
				},
			},
			Card: card, Side: side, Earlier: used.ID, Later: later.ID, Rows: rows, Answered: answered,
		})
		if answer != AnswerEarlier {
			used = later
		}
	}
	return used
}

// openQuestion returns the unanswered question about a side that concerns a row, if any.
func (l *loader) openQuestion(card sheetmodel.CardKey, row int, panel string) *PhotoQuestion {
	for i, q := range l.Questions {
		if q.Answered || q.Card != card {
			continue
		}
		if q.Side == sheetmodel.Front && slices.Contains(q.Rows, row) || q.Side == sheetmodel.Back && panel != "" {
			return &l.Questions[i]
		}
	}
	return nil
}

// differingRows lists the rows that two photos of one side don't show alike; 0 stands for what is not
// in a row. Only what both show clearly, or ink that is there or not, can differ: a worse photo that
// leaves a field doubtful says nothing new.
func differingRows(a, b sheetmodel.SheetReading) []int {
	rows := map[int][2]sheetmodel.Row{}
	for _, r := range a.Rows {
		rows[r.Number] = [2]sheetmodel.Row{r, {Number: r.Number}}
	}
	for _, r := range b.Rows {
		rows[r.Number] = [2]sheetmodel.Row{rows[r.Number][0], r}
	}
	var differ []int
	for n, pair := range rows {
		if rowsDiffer(pair[0], pair[1]) {
			differ = append(differ, n)
		}
	}
	if stripsDiffer(a, b) || stripsDiffer(b, a) {
		differ = append(differ, 0)
	}
	slices.Sort(differ)
	return differ
}

func rowsDiffer(a, b sheetmodel.Row) bool {
	if a.HasInk != b.HasInk || a.Struck != b.Struck {
		return true
	}
	for _, pair := range [][2]sheetmodel.Reading{
		{a.Bib, b.Bib}, {a.BibAgain, b.BibAgain}, {a.Code, b.Code}, {a.CodeOther, b.CodeOther}, {a.Gate, b.Gate}, {a.Panel, b.Panel}, {a.Rerun, b.Rerun},
	} {
		if readingsDiffer(pair[0], pair[1]) {
			return true
		}
	}
	return false
}

func readingsDiffer(a, b sheetmodel.Reading) bool {
	clearly := func(s sheetmodel.State) bool { return s == sheetmodel.Clear || s == sheetmodel.Empty }
	return clearly(a.State) && clearly(b.State) && (a.State != b.State || a.Text != b.Text)
}

func stripsDiffer(a, b sheetmodel.SheetReading) bool {
	for _, e := range a.Strips {
		i := slices.IndexFunc(b.Strips, func(o sheetmodel.StripEntry) bool { return o.Panel == e.Panel && o.Entry == e.Entry })
		if i < 0 && e.Bib.State != sheetmodel.Empty || i >= 0 && readingsDiffer(e.Bib, b.Strips[i].Bib) {
			return true
		}
	}
	return false
}

func rowWords(rows []int) string {
	var words []string
	for _, r := range rows {
		if r == 0 {
			words = append(words, "the bibs under the drawings")
		} else {
			words = append(words, fmt.Sprintf("row %d", r))
		}
	}
	return strings.Join(words, ", ")
}
