package stack

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/jury"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// What people say of a card's rows by hand, they say of a sheet of paper. Each answer is kept with the paper at which it was given
// (store.Answer.Paper). Where that paper has another number now, marks on its rows go with it; an answer to a question of the
// rules counts no more under the old number, and is asked again under the new one.

// backWord begins the key of the answer that nothing is drawn on a back of which there is no photo.
const backWord = "back-seen"

// BackKey is the key of the answer that somebody saw a card's back and no fault drawn on it.
func BackKey(card sheetmodel.CardKey) string { return backWord + "/" + store.CardName(card) }

// markOf takes the key of a mark on a row of a card apart; ok is false for any other key.
func markOf(key string) (word string, card sheetmodel.CardKey, row int, ok bool) {
	word, rest, _ := strings.Cut(key, "/")
	at := strings.LastIndex(rest, "/row-")
	if word != addedWord && word != struckWord || at < 0 {
		return "", card, 0, false
	}
	card, named := store.ParseCardName(rest[:at])
	row, err := strconv.Atoi(rest[at+len("/row-"):])
	return word, card, row, named && err == nil
}

// leftBehind is a mark on a row of a paper that no photo shows any more.
type leftBehind struct {
	card  sheetmodel.CardKey
	row   int
	paper string
	form  string // that the paper of the card is now, if the mark was made while one was taken for another; else empty
}

// numbers says which number each paper has and had.
type numbers struct {
	now      map[string]*store.Sheet // by the paper's name
	namings  []store.Naming
	bindings map[sheetmodel.CardKey]sheetmodel.CardKey // as what each card was used
	courses  []string
}

// followAnswers lays out the answers by what they are about now.
func (l *loader) followAnswers(ctx context.Context, from *store.Store, answers []store.Answer) error {
	n := numbers{now: map[string]*store.Sheet{}, courses: l.Race.Courses}
	read := l.readings()
	l.saidAt, l.saidOn, l.saidWhen = map[string][]string{}, map[string]string{}, map[string]moment{}
	for i := range l.sheets {
		n.now[l.sheets[i].Paper()] = &l.sheets[i]
	}
	var err error
	if n.namings, err = l.namings(ctx, from, answers); err != nil {
		return err
	}
	l.followBindings(&n)
	l.Answers, l.Answerers, l.papers = map[string]string{}, map[string]string{}, map[string][]string{}
	l.Views, l.Overtaken = map[string][]string{}, map[string]rules.Overtaken{}
	left := map[leftBehind]string{} // what was said last
	marks := map[string]int64{}     // that two copies of the race have otherwise
	for _, a := range answers {
		if a.Paper == "" {
			a.Paper = n.paperThen(a)
		}
		question, ok := n.about(a)
		if !ok {
			if word, card, row, mark := markOf(a.Question); mark && n.sheet(a.Paper, card) == nil {
				if a.Value == "" {
					delete(left, leftBehind{card: card, row: row, paper: a.Paper + " " + word})
				} else {
					left[leftBehind{card: card, row: row, paper: a.Paper + " " + word}] = a.Value
				}
			}
			continue
		}
		if dispute := l.disputeOf(store.DisputeAnswer, a.Said()); dispute != nil {
			a.Value = "" // asked again, by its own question
			if word, _, _, mark := markOf(question); mark {
				marks[question] = dispute.ID
				if word == addedWord { // a row stays until somebody takes it out
					a.Value = cmp.Or(dispute.Ours, dispute.Theirs)
				}
			}
		}
		a.Question = question
		l.AnswerLog = append(l.AnswerLog, a)
		switch {
		case a.View == "":
			delete(l.Views, question)
		case l.Answers[question] != a.Value:
			l.Views[question] = []string{a.View}
		default: // said once more: here of another photo, say, or in another copy of the race
			l.Views[question] = append([]string{a.View}, l.Views[question]...)
		}
		l.Answers[question], l.Answerers[question] = a.Value, a.By
		l.saidAt[question], l.saidOn[question] = read.formsThen(a), a.Paper
		l.saidWhen[question] = moment{a.ID, a.At, a.Seen}
		if a.Value == "" {
			delete(l.Answers, question)
		}
		if a.Paper != "" && !slices.Contains(l.papers[question], a.Paper) {
			l.papers[question] = append(l.papers[question], a.Paper)
		}
	}
	l.askMarks(marks)
	for mark := range left {
		mark.paper, _, _ = strings.Cut(mark.paper, " ")
		if !slices.Contains(l.left, mark) {
			l.left = append(l.left, mark)
		}
	}
	slices.SortFunc(l.left, func(a, b leftBehind) int {
		return cmp.Or(strings.Compare(store.CardName(a.card), store.CardName(b.card)), strings.Compare(a.paper, b.paper), a.row-b.row)
	})
	return nil
}

// namings are the numbers that papers had, needed where an older program said something without naming the paper.
func (l *loader) namings(ctx context.Context, from *store.Store, answers []store.Answer) ([]store.Naming, error) {
	unsaid := slices.ContainsFunc(l.bindings, func(b store.Binding) bool { return b.Paper == "" }) ||
		slices.ContainsFunc(answers, func(a store.Answer) bool { return a.Paper == "" && mayBeOnPaper(a.Question, l.Race.Courses) })
	if !unsaid || !l.anyNamed() && !l.anyReplaced() {
		return nil, nil
	}
	return from.Namings(ctx)
}

// mayBeOnPaper reports whether a question may be about one sheet of paper, by its number.
func mayBeOnPaper(key string, courses []string) bool {
	if jury.IsKey(key) {
		return false
	}
	_, _, _, mark := markOf(key)
	return mark || strings.HasPrefix(key, backWord+"/") || len(rules.CardsAbout(key, courses)) > 0
}

// frontThen is the paper that had a card's number on its front when something was said of it; empty where none had, or nobody knows.
func (n *numbers) frontThen(card sheetmodel.CardKey, id int64) string {
	type name struct {
		read, said sheetmodel.CardKey
		by         bool
	}
	names := map[string]*name{}
	var papers []string // those with a front, in the order in which they came
	for _, c := range n.namings {
		if c.ID >= id {
			break
		}
		paper := store.PaperName(c.Ink.Photo, c.Ink.Part)
		if names[paper] == nil {
			names[paper] = &name{}
		}
		switch {
		case c.By:
			names[paper].by, names[paper].said = !c.Back, c.Card
		case c.Side == sheetmodel.Front:
			names[paper].read = c.Card
			if !slices.Contains(papers, paper) {
				papers = append(papers, paper)
			}
		}
	}
	for _, paper := range slices.Backward(papers) { // the latest photo counts, as far as is known
		if v := names[paper]; v.by && v.said == card || !v.by && v.read == card {
			return paper
		}
	}
	return ""
}

// paperThen is the paper at which an answer was given that doesn't name it.
func (n *numbers) paperThen(a store.Answer) string {
	if len(n.namings) == 0 || !mayBeOnPaper(a.Question, n.courses) {
		return ""
	}
	if _, card, _, mark := markOf(a.Question); mark {
		return n.frontThen(card, a.ID)
	}
	if name, back := strings.CutPrefix(a.Question, backWord+"/"); back {
		card, _ := store.ParseCardName(name)
		return n.frontThen(card, a.ID)
	}
	var papers []string
	for _, used := range rules.CardsAbout(a.Question, n.courses) {
		paper := n.frontThen(n.printed(used), a.ID)
		if paper == "" {
			return ""
		}
		papers = append(papers, paper)
	}
	return strings.Join(papers, "+")
}

// used is what a card was used as, and printed the way back.
func (n *numbers) used(card sheetmodel.CardKey) sheetmodel.CardKey {
	if k, ok := n.bindings[card]; ok {
		return k
	}
	return card
}

func (n *numbers) printed(used sheetmodel.CardKey) sheetmodel.CardKey {
	for k, u := range n.bindings {
		if u == used {
			return k
		}
	}
	return used
}

// sheet is the sheet of paper at which something was said of a card, as it is now; nil where no photo shows it. A newer reader may find
// the sides of a photo in another order: what was said of a card that says itself which it is isn't said of another such card.
func (n *numbers) sheet(paper string, of sheetmodel.CardKey) *store.Sheet {
	s := n.now[paper]
	if s != nil && !s.Renamable() && s.Card != of {
		return nil
	}
	return s
}

// about is the key of an answer's question by the number that its paper has now; false if it counts for none.
func (n *numbers) about(a store.Answer) (string, bool) {
	if a.Paper == "" {
		return a.Question, true
	}
	word, card, row, mark := markOf(a.Question)
	name, back := strings.CutPrefix(a.Question, backWord+"/")
	if mark || back {
		if back {
			card, _ = store.ParseCardName(name)
		}
		s := n.sheet(a.Paper, card)
		switch {
		case s == nil && n.onItsCode(card):
			return a.Question, true
		case s == nil || !s.Named(): // it waits until the paper has a number
			return "", false
		case mark:
			return rowKey(word, s.Card, row), true
		}
		return BackKey(s.Card), true
	}
	papers, cards := strings.Split(a.Paper, "+"), rules.CardsAbout(a.Question, n.courses)
	if len(papers) != len(cards) {
		return a.Question, true
	}
	moved := a.Question
	for i, used := range cards {
		s := n.sheet(papers[i], n.printed(used))
		switch {
		case s == nil && n.onItsCode(n.printed(used)):
		case s == nil || !s.Named():
			return "", false
		case n.used(s.Card) != used:
			var ok bool
			if moved, ok = rules.Moved(moved, used, n.used(s.Card)); !ok {
				return "", false
			}
		}
	}
	return moved, true
}

// onItsCode reports whether the photos that have a number show it printed on the card: then a photo of it that is there no more
// was of the same paper.
func (n *numbers) onItsCode(card sheetmodel.CardKey) bool {
	found := false
	for _, s := range n.now {
		if s.Card == card && s.Renamable() {
			return false
		}
		found = found || s.Card == card
	}
	return found
}

// followBindings lets the header that somebody confirmed go with its paper, and notes as what each card was used.
func (l *loader) followBindings(n *numbers) {
	n.bindings = map[sheetmodel.CardKey]sheetmodel.CardKey{}
	all := l.bindings[:0:0]
	for _, b := range l.bindings {
		paper := b.Paper
		if paper == "" && len(n.namings) > 0 {
			paper = n.frontThen(b.Card, b.ID)
		}
		s := n.sheet(paper, b.Card)
		switch {
		case l.disputed(store.DisputeBinding, b.Card): // binds nothing
		case paper == "" || s == nil && n.onItsCode(b.Card):
		case s == nil || !s.Named():
			continue // nobody knows which card it was; its header is asked about again
		case s.Card != b.Card:
			if b.Run == b.Card.Run && b.Course == b.Card.Course { // used as it says
				b.Run, b.Course = s.Card.Run, s.Card.Course
			}
			b.Card = s.Card
		}
		all = append(all, b)
		if !l.disputed(store.DisputeBinding, b.Card) {
			n.bindings[b.Card] = b.Used()
		}
	}
	l.bindings = all
}

// PaperOf names the paper that a question is about, for who answers it; empty if it is about none, or no photo shows it.
func (s *Stack) PaperOf(key string) string {
	at := func(match func(*Card) bool) string {
		for i := range s.Cards {
			c := &s.Cards[i]
			if !match(c) {
				continue
			}
			if c.Front != nil {
				return c.Front.Paper()
			}
			return ""
		}
		return ""
	}
	if _, card, _, mark := markOf(key); mark {
		return at(func(c *Card) bool { return c.Printed == card })
	}
	if name, back := strings.CutPrefix(key, backWord+"/"); back {
		return at(func(c *Card) bool { return store.CardName(c.Printed) == name })
	}
	if jury.IsKey(key) {
		return ""
	}
	var papers []string
	for _, used := range rules.CardsAbout(key, s.Race.Courses) {
		paper := at(func(c *Card) bool { return c.Key == used })
		if paper == "" {
			return ""
		}
		papers = append(papers, paper)
	}
	return strings.Join(papers, "+")
}

// OnPaper are answers with the papers that they are about. What was said of a question at another photo of its card is said
// no more: who takes a mark back takes it back for good, also where the photos turn out to be of two papers.
func (s *Stack) OnPaper(answers ...store.Answer) []store.Answer {
	var all []store.Answer
	for _, a := range answers {
		a.Paper = s.PaperOf(a.Question)
		for _, paper := range s.papers[a.Question] {
			if paper != a.Paper {
				all = append(all, store.Answer{Question: a.Question, By: a.By, Paper: paper})
			}
		}
		all = append(all, a)
	}
	return all
}
