package stack

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// What a person may say of a card's rows beside what is typed of them. Both are answers in the store, by the
// card as printed, and hold for every photo of it.
const (
	addedWord  = "row-added"
	struckWord = "row-struck"
	// Marked is the answer that a row is struck out; where a row was added, the answer is the box drawn.
	Marked = "marked"
)

// AddedKey is the key of the answer that a row holds ink which no reader saw.
func AddedKey(card sheetmodel.CardKey, row int) string { return rowKey(addedWord, card, row) }

// StruckKey is the key of the answer that a row is struck out though no reader saw a line through it.
func StruckKey(card sheetmodel.CardKey, row int) string { return rowKey(struckWord, card, row) }

// MarkOn reports whether a key is that of an answer by which a row of a card was marked as struck out or added.
func MarkOn(key string, card sheetmodel.CardKey) bool {
	word, rest, _ := strings.Cut(key, "/")
	return (word == addedWord || word == struckWord) && strings.HasPrefix(rest, store.CardName(card)+"/")
}

func rowKey(word string, card sheetmodel.CardKey, row int) string {
	return fmt.Sprintf("%s/%s/row-%02d", word, store.CardName(card), row)
}

// FormatBox writes the box that was drawn around a row, in sheet mm.
func FormatBox(r sheetmodel.Rect) string {
	return fmt.Sprintf("%.1f,%.1f,%.1f,%.1f", float64(r.X), float64(r.Y), float64(r.W), float64(r.H))
}

// ParseBox is the way back from FormatBox; false if text is no box.
func ParseBox(text string) (sheetmodel.Rect, bool) {
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return sheetmodel.Rect{}, false
	}
	var v [4]float64
	for i, p := range parts {
		n, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || !(n >= 0 && n <= 1000) { // a NaN is refused too
			return sheetmodel.Rect{}, false
		}
		v[i] = n
	}
	return sheetmodel.Rect{X: sheetmodel.MM(v[0]), Y: sheetmodel.MM(v[1]), W: sheetmodel.MM(v[2]), H: sheetmodel.MM(v[3])}, v[2] > 0 && v[3] > 0
}

// addedRows adds the rows of card i that a person saw and no reader did; from is where the card's rows begin.
// Once a reader sees ink there too, the row is read like any other.
func (l *loader) addedRows(i, from int) {
	c := &l.Cards[i]
	prefix := addedWord + "/" + store.CardName(c.Printed) + "/row-"
	var numbers []int
	for key, box := range l.Answers {
		number, ours := strings.CutPrefix(key, prefix)
		n, err := strconv.Atoi(number)
		if _, drawn := ParseBox(box); ours && err == nil && n > 0 && drawn {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	for _, n := range numbers {
		if !slices.ContainsFunc(l.Rows[from:], func(r Row) bool { return r.Ref.Row == n }) {
			l.Rows = append(l.Rows, l.addedRow(i, n))
		}
	}
}

// addedRow is a row that only people have seen. Its looks are counted as on a card typed from the paper: two
// people must type it unseen, for no reader's look stands beside theirs.
func (l *loader) addedRow(i, n int) Row {
	r := l.paperRow(i, n)
	r.Sheet, r.Added, r.Drawn = l.Cards[i].Front, true, false
	for _, e := range []*Entry{&r.BibSeen, &r.Code, &r.Gate} {
		e.Seen.Looks = slices.Clone(e.Seen.Looks)
		for k := range e.Seen.Looks {
			if e.Seen.Looks[k].Kind == sheetmodel.LookPaper {
				e.Seen.Looks[k].Kind = sheetmodel.LookBlind // from the picture
			}
		}
	}
	return r
}

// marked reports whether a person says that a row is struck out.
func (l *loader) marked(c *Card, row int) bool { return l.Answers[StruckKey(c.Printed, row)] == Marked }
