package stack

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// What a person may say of a card's rows beside what is typed of them. Both are answers in the store, by the
// card as printed, and hold for every photo of it.
const (
	addedWord  = store.AddedRow
	struckWord = "row-struck"
	// Marked is the answer that a row is struck out; where a row was added, the answer is the box drawn.
	Marked = "marked"
)

// AddedKey is the key of the answer that a row holds ink which no reader saw.
func AddedKey(card sheetmodel.CardKey, row int) string { return rowKey(addedWord, card, row) }

// StruckKey is the key of the answer that a row is struck out though no reader saw a line through it.
func StruckKey(card sheetmodel.CardKey, row int) string { return rowKey(struckWord, card, row) }

// leftMark is the question what becomes of marks on a card that no photo or paper is any more.
const leftMark = "marks-left"

// AnswerSeen says that a person has looked at it.
const AnswerSeen = "seen"

// leftMarks asks about marks whose card is in no more under its number, and about those whose paper no photo shows any more while
// another paper has its number. What a mark took from the list, or put on it, is not lost without a word, and is never left to
// another paper.
func (l *loader) leftMarks() {
	type lost struct {
		card        sheetmodel.CardKey
		paper, form string
	}
	rows := map[lost][]int{}
	in := func(card sheetmodel.CardKey) bool {
		return slices.ContainsFunc(l.Cards, func(c Card) bool { return c.Printed == card && (c.Front != nil || c.Paper != nil) })
	}
	add := func(at lost, row int) {
		if !slices.Contains(rows[at], row) {
			rows[at] = append(rows[at], row)
		}
	}
	for key, value := range l.Answers {
		if _, card, row, mark := markOf(key); mark && value != "" && !in(card) {
			add(lost{card: card}, row)
		}
	}
	for _, m := range l.left {
		if in(m.card) {
			add(lost{m.card, m.paper, m.form}, m.row)
		} else {
			add(lost{card: m.card}, m.row)
		}
	}
	for at, marked := range rows {
		slices.Sort(marked)
		l.askLeft(at.card, at.paper, at.form, marked)
	}
	slices.SortStableFunc(l.Questions, func(a, b PhotoQuestion) int {
		if left := func(q PhotoQuestion) bool { return strings.HasPrefix(q.Key, leftMark) }; !left(a) || !left(b) {
			return 0
		}
		return strings.Compare(a.Key, b.Key)
	})
}

// askLeft asks about the marks on rows of a card; paper is set where another paper has its number, as is as where its paper is of
// another form now.
func (l *loader) askLeft(card sheetmodel.CardKey, paper, as string, marked []int) {
	var words []string
	for _, n := range marked {
		words = append(words, strconv.Itoa(n))
	}
	all := strings.Join(words, ", ")
	var ask string
	switch several := len(words) > 1; {
	case several && paper != "":
		ask = fmt.Sprintf("Rows %s of card %d were marked by hand as struck out or added, at a photo that counts no more: another sheet of paper has that number now. Find the paper under its new number and mark them there; was that done?", all, card.Card)
	case paper != "":
		ask = fmt.Sprintf("Row %s of card %d was marked by hand as struck out or added, at a photo that counts no more: another sheet of paper has that number now. Find the paper under its new number and mark it there; was that done?", all, card.Card)
	case several:
		ask = fmt.Sprintf("Rows %s of card %d were marked by hand as struck out or added, and no photo has that number any more. Find the card under its new number and mark them there; was that done?", all, card.Card)
	default:
		ask = fmt.Sprintf("Row %s of card %d was marked by hand as struck out or added, and no photo has that number any more. Find the card under its new number and mark it there; was that done?", all, card.Card)
	}
	form := as != "" || paper != "" && l.otherForm(card, paper)
	switch { // its rows may lie elsewhere on this one
	case form && len(words) > 1:
		ask = fmt.Sprintf("Rows %s of card %d were marked by hand as struck out or added while its paper was taken for another form. Look where these rows are on the form that it is, and mark them there; was that done?", all, card.Card)
	case form:
		ask = fmt.Sprintf("Row %s of card %d was marked by hand as struck out or added while its paper was taken for another form. Look where that row is on the form that it is, and mark it there; was that done?", all, card.Card)
	}
	q := PhotoQuestion{Card: card, Side: sheetmodel.Front, Rows: marked, Question: sheetmodel.Question{
		Key:     fmt.Sprintf("%s/%s/%s", leftMark, store.CardName(card), strings.Join(words, "-")),
		Ask:     ask,
		Answers: []sheetmodel.Answer{{Value: AnswerSeen, Label: "yes, or there is nothing to mark"}},
	}}
	if paper != "" {
		q.Key += strings.TrimRight(fmt.Sprintf("/%s/%.12s", paper, as), "/")
		q.Rows = nil // of another paper: its rows wait for nothing
	}
	q.Answered = l.Answers[q.Key] == AnswerSeen
	if form && !q.Answered { // nobody knows which of them the mark is about
		for i := range l.Rows {
			if r := &l.Rows[i]; l.Cards[r.Card].Printed == card {
				q.Rows = append(q.Rows, r.Ref.Row)
				r.hold("a row of its card was marked by hand while the paper was taken for another form")
			}
		}
	}
	l.Questions = append(l.Questions, q)
	if known := slices.ContainsFunc(l.Cards, func(c Card) bool { return c.Printed == card }); !q.Answered && !known { // else its question does that
		l.open = append(l.open, rules.Gap{Run: card.Run, Course: card.Course, Why: q.Ask})
	}
}

// otherForm reports whether the sheet of paper that has a card's number now is one that was named before, as another form.
func (l *loader) otherForm(card sheetmodel.CardKey, paper string) bool {
	photo, part, _ := store.ParsePaperName(paper)
	return slices.ContainsFunc(l.sides[sideKey{card, sheetmodel.Front}], func(s *store.Sheet) bool {
		return strings.HasPrefix(s.Photo, photo) && slices.Contains(s.OtherForms(), part)
	})
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
	for _, n := range l.added {
		if !slices.ContainsFunc(l.Rows[from:], func(r Row) bool { return r.Ref.Row == n }) {
			l.Rows = append(l.Rows, l.addedRow(i, n))
		}
	}
}

// addedOn are the rows of a card that a person has added, in their order.
func (l *loader) addedOn(c *Card) []int {
	prefix := addedWord + "/" + store.CardName(c.Printed) + "/row-"
	var numbers []int
	for key, box := range l.Answers {
		number, ours := strings.CutPrefix(key, prefix)
		n, err := strconv.Atoi(number)
		if _, drawn := ParseBox(box); ours && err == nil && n > 0 && drawn && !l.ofOtherForm(key, 0, c) {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	return numbers
}

// addedRow is a row that only people have seen. Its looks are counted as on a card typed from the paper: two
// people must type it unseen, for no reader's look stands beside theirs.
func (l *loader) addedRow(i, n int) Row {
	r := l.paperRow(i, n)
	front := l.Cards[i].Front
	for _, e := range []*Entry{&r.BibSeen, &r.Code, &r.Gate} {
		e.Seen = l.countOn(front, e.ink, e.Key)
	}
	r.Bib, r.BibState, r.Reason = r.BibSeen.Seen.Text, r.BibSeen.Seen.State, r.BibSeen.Seen.Reason
	r.Row.Code, r.CodeSure, r.Row.Gate, r.GateSure = r.Code.Seen.Text, r.Code.Sure(), r.Gate.Seen.Text, r.Gate.Sure()
	r.reused = false
	l.holdReused(&r, "")
	if q := l.openQuestion(l.Cards[i].Printed, n, ""); q != nil {
		r.hold(q.why())
	}
	r.Sheet, r.Added, r.Drawn = front, true, false
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
func (l *loader) marked(c *Card, row int) bool {
	mark := StruckKey(c.Printed, row)
	return l.Answers[mark] == Marked && !l.ofOtherForm(mark, 0, c)
}

// saidOfLine is what a person has answered when asked whether a row is struck out, as far as it is said of the photo that counts.
func (l *loader) saidOfLine(c *Card, row int) string {
	question, _ := rules.StruckAnswer(sheetmodel.RowRef{CardKey: c.Key, Row: row})
	if !rules.SaidOf(l.Views[question], rules.CardView(c.Card)) {
		return ""
	}
	return l.Answers[question]
}

// saidToStand reports whether a person has answered so that a row which looks struck out is not.
func (l *loader) saidToStand(r *Row) bool {
	_, struck := rules.StruckAnswer(r.Ref)
	said := l.saidOfLine(&l.Cards[r.Card], r.Ref.Row)
	return said != "" && said != struck
}

// saidStruck reports whether a person has answered that a row which looked struck out is. It stays so where a newer reader sees no line
// there, and where another photo shows none, until it is asked again: a line that isn't seen doesn't take back what somebody saw.
func (l *loader) saidStruck(c *Card, row int) bool {
	question, struck := rules.StruckAnswer(sheetmodel.RowRef{CardKey: c.Key, Row: row})
	return l.Answers[question] == struck && !l.ofOtherForm(question, 0, c)
}
