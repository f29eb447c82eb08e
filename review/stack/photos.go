package stack

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// pair is two photos of one side that don't show the same, and whether a person has said which counts.
type pair struct {
	earlier, later int // among the photos of the side
	fields         differences
	answer         string // empty: open
	question       int    // that asks about it
	said           moment // when it was given
}

// moment is when something was kept, by its number in the log and by the clock.
type moment struct {
	id   int64
	at   time.Time
	seen string
}

// holdsFor reports whether what was said of a pair holds for a photo that shows what its later one does. That the earlier photo counts
// was said of photos that were read then: one that came in since may show what its judge has made of the card since. So may one in which
// nothing is read in a row: two photos that show no ink there needn't show the same.
func (l *loader) holdsFor(p pair, s *store.Sheet, fields differences) bool {
	return p.answer != AnswerEarlier || l.readBefore(s, p.said) && !fields.unread(s)
}

// unread reports whether a photo shows no ink in one of the rows that differ.
func (d differences) unread(s *store.Sheet) bool {
	for _, at := range d {
		if at.row == 0 {
			continue
		}
		if r := rowIn(s.Read.Reading.Rows, at.row, at.row-1); r == nil || !r.HasInk {
			return true
		}
	}
	return false
}

// readBefore reports whether a photo was read, by any reader, before something was said, in the copy of the race in which it was said. Of
// what an older program kept nobody knows that: what was said in another copy has a number from when that was joined.
func (l *loader) readBefore(s *store.Sheet, said moment) bool {
	if in, known := l.sights.Paper(said.seen, store.Ink{Photo: s.Photo, Part: s.Part}); known {
		return in
	}
	first := s.ID // a newer reader gives it another number
	for id, at := range l.inks {
		if at == (store.Ink{Photo: s.Photo, Part: s.Part}) {
			first = min(first, id)
		}
	}
	return first < said.id && !slices.ContainsFunc(l.Photos, func(o store.Photo) bool { return o.ID == s.Photo && o.Arrived.After(said.at) })
}

// choose returns the sheet of a side that counts: the latest photo, unless a person says otherwise; aside are those of which a
// person has said that another one counts.
// Where two photos show different things it asks; both stay.
//
// A photo is held against every earlier one that nobody has put aside, not only against the last: a
// blurred one between two clear ones agrees with both and must not hide that they differ.
func (l *loader) choose(card sheetmodel.CardKey, side sheetmodel.SideName, sheets []*store.Sheet) (used *store.Sheet, aside []bool) {
	counts := 0
	aside = make([]bool, len(sheets))
	var asked []pair
	for later := 1; later < len(sheets); later++ {
		stays := -1 // the one that counts instead
		before, clearly := clearFirst(sheets[:later], sheets[later])
		for _, earlier := range before {
			if stays >= 0 || aside[earlier] {
				continue
			}
			fields := clearly[earlier]
			fields.healed(&sheets[earlier].Read.Reading, &sheets[later].Read.Reading)
			l.typedAgainst(fields, sheets[earlier], sheets[later])
			// Two papers, or a picture of the card beside it; or two papers, or one that was taken for what it isn't.
			apart := sheets[earlier].Photo == sheets[later].Photo || sheets[earlier].Layout != sheets[later].Layout
			if len(fields) == 0 && !apart {
				continue
			}
			answer := ""
			if at := slices.IndexFunc(asked, func(p pair) bool {
				return l.holdsFor(p, sheets[later], fields) && p.covers(sheets, earlier, later, fields)
			}); at >= 0 && !apart {
				answer = asked[at].answer // the same difference, asked about two other photos
				l.holdToo(asked[at].question, sheets[earlier], sheets[later])
			} else {
				var said moment
				answer, said = l.askPhotos(card, side, sheets[earlier], sheets[later], fields)
				asked = append(asked, pair{earlier, later, fields, answer, len(l.Questions) - 1, said})
				l.holdToo(len(l.Questions)-1, sheets[earlier], sheets[later])
			}
			switch answer {
			case AnswerLater:
				aside[earlier] = true
			case AnswerEarlier:
				stays = earlier
			}
		}
		if stays >= 0 {
			aside[later] = true
			counts = stays
			continue
		}
		counts = later
	}
	return sheets[counts], aside
}

// covers reports whether p asks already what two other photos differ in: each shows in these fields
// what one of the pair shows.
func (p pair) covers(sheets []*store.Sheet, earlier, later int, fields differences) bool {
	for f := range fields {
		if _, ok := p.fields[f]; !ok {
			return false
		}
	}
	alike := func(a, b int) bool {
		between := mayDiffer(&sheets[a].Read.Reading, &sheets[b].Read.Reading)
		between.healed(&sheets[b].Read.Reading, &sheets[a].Read.Reading)
		return !fields.touch(between)
	}
	return alike(p.earlier, earlier) && alike(p.later, later)
}

// touch reports whether others are among these fields. Where all ink of a row, or of a place under a drawing, was there or not, that is
// about whatever stands there: a photo with other ink in that row shows something else.
func (d differences) touch(others differences) bool {
	for o := range others {
		if _, same := d[o]; same {
			return true
		}
		for f := range d {
			if all, ink := strings.CutSuffix(f, "ink"); ink && strings.HasPrefix(o, strings.TrimSpace(all)) {
				return true
			}
		}
	}
	return false
}

// askPhotos asks which of two photos counts and returns the answer, empty while there is none, and when it was given.
func (l *loader) askPhotos(card sheetmodel.CardKey, side sheetmodel.SideName, earlier, later *store.Sheet, fields differences) (answer string, said moment) {
	key := fmt.Sprintf("%s/%s/%s/%s/%s", store.TwoPhotos, store.CardName(card), side, earlier.Paper(), later.Paper())
	answer = l.Answers[key]
	if answer != AnswerLater && answer != AnswerEarlier {
		answer = ""
	}
	rows, head := fields.places()
	ask := sheetmodel.Question{
		Key: key,
		Ask: fmt.Sprintf("Two photos of the %s of card %d differ in %s. Which one shows the card as it was handed in?", side, card.Card, placeWords(rows, head)),
		Answers: []sheetmodel.Answer{
			// In the order in which the two stand side by side above their buttons.
			{Value: AnswerEarlier, Label: "the earlier photo"}, {Value: AnswerLater, Label: "the later photo"},
			{Value: AnswerTwo, Label: "both: they are two papers with one number; the later gets a number of its own"},
		},
	}
	forms := earlier.Layout != later.Layout
	if forms {
		ask.Ask = fmt.Sprintf("Two photos of the %s of card %d show two different forms. Which one shows the card as it was handed in?", side, card.Card)
	}
	if earlier.Photo == later.Photo {
		ask.Ask = fmt.Sprintf("One photo shows the %s of card %d twice. Is it one sheet of paper?", side, card.Card)
		ask.Answers = []sheetmodel.Answer{
			{Value: AnswerTwo, Label: "no: two papers with one number; the second gets a number of its own"},
			{Value: AnswerLater, Label: "yes, and the second picture of it counts"}, {Value: AnswerEarlier, Label: "yes, and the first picture of it counts"},
		}
	}
	l.Questions = append(l.Questions, PhotoQuestion{
		Question: ask,
		Card:     card, Side: side, Earlier: earlier.ID, Later: later.ID, Rows: rows, Head: head, Forms: forms, Answered: answer != "",
	})
	return answer, l.saidWhen[key]
}

// typedAgainst adds the fields that one photo shows clearly and of which two people have typed something else at the other, which leaves them
// doubtful: by themselves they would settle it, and the clear ink be forgotten because it lies on the photo that came first.
func (l *loader) typedAgainst(d differences, a, b *store.Sheet) {
	for i := range a.Read.Reading.Rows {
		x := &a.Read.Reading.Rows[i]
		y := rowIn(b.Read.Reading.Rows, x.Number, i)
		if y == nil {
			continue
		}
		for _, both := range [...][2]*sheetmodel.Reading{{&x.Bib, &y.Bib}, {&x.Code, &y.Code}, {&x.Gate, &y.Gate}} {
			if l.twoTyped(both[0], both[1], b) || l.twoTyped(both[1], both[0], a) {
				d[cmp.Or(both[0].Field, both[1].Field)] = place{row: x.Number}
			}
		}
	}
}

// twoTyped reports whether two people have typed one text at a photo that leaves a field doubtful, and not what another shows clearly.
func (l *loader) twoTyped(sure, doubtful *sheetmodel.Reading, at *store.Sheet) bool {
	if sure.State != sheetmodel.Clear || doubtful.State != sheetmodel.Doubtful {
		return false
	}
	grammar := grammarOf[partOf(doubtful.Field)]
	by := map[string][]string{}
	for _, d := range l.decisions[at.Key(doubtful.Field)] {
		text := look.Canonical(grammar, d.Text)
		if !d.Blind || d.Basis != sheetmodel.BasisOnPaper || text == look.Canonical(grammar, sure.Text) || l.inks[l.typedOf[d.ID]] != (store.Ink{Photo: at.Photo, Part: at.Part}) {
			continue
		}
		if by[text] = append(by[text], look.Person(d.By)); slices.ContainsFunc(by[text], func(who string) bool { return who != by[text][0] }) {
			return true
		}
	}
	return false
}

// holdToo lets a question about two photos hold each row in which they are read otherwise, clearly or not: while nobody has said which of them
// shows the card, no call rests on what the other contradicts.
func (l *loader) holdToo(question int, earlier, later *store.Sheet) {
	q := &l.Questions[question]
	for i := range earlier.Read.Reading.Rows {
		a := &earlier.Read.Reading.Rows[i]
		if b := rowIn(later.Read.Reading.Rows, a.Number, i); b != nil && readOtherwise(a, b) && !slices.Contains(q.holds, a.Number) {
			q.holds = append(q.holds, a.Number)
		}
	}
}

// readOtherwise reports whether two photos of a row have two texts in one of its boxes, however doubtful.
func readOtherwise(a, b *sheetmodel.Row) bool {
	for _, both := range [...][2]*sheetmodel.Reading{
		{&a.Bib, &b.Bib}, {&a.BibAgain, &b.BibAgain}, {&a.Code, &b.Code}, {&a.CodeOther, &b.CodeOther}, {&a.Gate, &b.Gate}, {&a.Panel, &b.Panel},
	} {
		if both[0].Text != "" && both[1].Text != "" && both[0].Text != both[1].Text {
			return true
		}
	}
	return false
}

// openQuestion returns the unanswered question about a side that concerns a row, if any.
func (l *loader) openQuestion(card sheetmodel.CardKey, row int, panel string) *PhotoQuestion {
	for i, q := range l.Questions {
		if !q.Answered && q.Card == card && (q.Concerns(row, panel) || q.movesRows()) {
			return &l.Questions[i]
		}
	}
	return nil
}

// Concerns reports whether the question is about the ink of a row of its card that names a panel, empty for none: about what stands in
// the row, or about the bibs under the drawings, which some forms have on their front.
func (q PhotoQuestion) Concerns(row int, panel string) bool {
	drawings := panel != "" && (q.Side == sheetmodel.Back || slices.Contains(q.Rows, 0))
	return q.Forms || drawings || q.Side == sheetmodel.Front && (slices.Contains(q.Rows, row) || slices.Contains(q.holds, row))
}

// movesRows reports whether the question is about where and for whom all rows of the card count.
func (q PhotoQuestion) movesRows() bool {
	return q.Forms || slices.ContainsFunc(q.Head, func(p sheetmodel.Part) bool {
		return p != sheetmodel.PartRowCount && p != sheetmodel.PartCardOf && p != sheetmodel.PartCardTotal
	})
}

// differences are the fields that two photos of one side don't show alike, with where they are.
type differences map[string]place

// place is where a difference is: in a row, in the head or foot, or, for a zero place, in a strip.
type place struct {
	row  int
	head sheetmodel.Part
}

// clearFirst lists the photos before one, the last first; those that clearly differ from it come before the others. Of two that
// show the same, the question is about the one that shows it better. It also returns in what each photo clearly differs.
func clearFirst(before []*store.Sheet, one *store.Sheet) (order []int, by []differences) {
	var clearly, others []int
	by = make([]differences, len(before))
	for i := range slices.Backward(before) {
		by[i] = differing(&before[i].Read.Reading, &one.Read.Reading)
		if len(by[i]) > 0 {
			clearly = append(clearly, i)
		} else {
			others = append(others, i)
		}
	}
	return append(clearly, others...), by
}

// mayDiffer compares a photo with one that came in later: what differs, and what may show one box before it was mended and after.
func mayDiffer(first, later *sheetmodel.SheetReading) differences {
	d := differing(first, later)
	d.healed(first, later)
	return d
}

// differing compares two photos of one side. Only what both show clearly, or ink that is there or not,
// can differ: a worse photo that leaves a field doubtful says nothing new.
func differing(a, b *sheetmodel.SheetReading) differences {
	d := differences{}
	for i := range a.Rows {
		r := &a.Rows[i]
		if other := rowIn(b.Rows, r.Number, i); other != nil {
			d.row(r.Number, r, other)
		} else {
			d.row(r.Number, r, &sheetmodel.Row{Number: r.Number})
		}
	}
	for i := range b.Rows {
		if r := &b.Rows[i]; rowIn(a.Rows, r.Number, i) == nil {
			d.row(r.Number, &sheetmodel.Row{Number: r.Number}, r)
		}
	}
	for i := range a.Header {
		h := &a.Header[i]
		o := headIn(b.Header, h.Field, i)
		if _, counts := headWords[partOf(h.Field)]; counts && o != nil && readingsDiffer(h, o) {
			d[h.Field] = place{head: partOf(h.Field)}
		}
	}
	d.strips(a, b)
	d.strips(b, a)
	return d
}

// rowIn finds a row by its number; first it looks where the other photo has it.
func rowIn(rows []sheetmodel.Row, number, at int) *sheetmodel.Row {
	if at < len(rows) && rows[at].Number == number {
		return &rows[at]
	}
	for i := range slices.Backward(rows) {
		if rows[i].Number == number {
			return &rows[i]
		}
	}
	return nil
}

// headIn finds a field of head or foot likewise.
func headIn(fields []sheetmodel.Reading, name string, at int) *sheetmodel.Reading {
	if at < len(fields) && fields[at].Field == name {
		return &fields[at]
	}
	if i := slices.IndexFunc(fields, func(o sheetmodel.Reading) bool { return o.Field == name }); i >= 0 {
		return &fields[i]
	}
	return nil
}

func (d differences) row(n int, a, b *sheetmodel.Row) {
	at := place{row: n}
	if a.HasInk != b.HasInk {
		d[RowField(n, "ink")] = at
	}
	if a.Struck != b.Struck {
		d[RowField(n, "struck")] = at
	}
	for _, both := range [...][2]*sheetmodel.Reading{
		{&a.Bib, &b.Bib}, {&a.BibAgain, &b.BibAgain}, {&a.Code, &b.Code}, {&a.CodeOther, &b.CodeOther}, {&a.Gate, &b.Gate}, {&a.Panel, &b.Panel},
		{&a.Rerun, &b.Rerun},
	} {
		if readingsDiffer(both[0], both[1]) || inkVanishes(both[0], both[1]) || inkVanishes(both[1], both[0]) {
			d[cmp.Or(both[0].Field, both[1].Field)] = at
		}
	}
}

// healed adds the fields that are read as two texts of which neither may be the other, however doubtful, and those that a hand has
// gone over in the photo that came first, as far as its reader saw, and not in the one that came later. Pencil heals by itself
// nowhere: either it was the photo, or the photos came in another order than they were taken in, as from a phone that was out of
// reach, and the later one shows the card as it was before it was mended.
func (d differences) healed(first, later *sheetmodel.SheetReading) {
	for i := range first.Rows {
		a := &first.Rows[i]
		b := rowIn(later.Rows, a.Number, i)
		if b == nil {
			continue // ink that is gone differs anyway
		}
		for _, both := range [...][2]*sheetmodel.Reading{{&a.Bib, &b.Bib}, {&a.BibAgain, &b.BibAgain}, {&a.Code, &b.Code}, {&a.CodeOther, &b.CodeOther}, {&a.Gate, &b.Gate}} {
			if heals(both[0], both[1]) {
				d[both[0].Field] = place{row: a.Number}
			}
		}
	}
	for i := range first.Header {
		a := &first.Header[i]
		b := headIn(later.Header, a.Field, i)
		if _, counts := headWords[partOf(a.Field)]; counts && b != nil && heals(a, b) {
			d[a.Field] = place{head: partOf(a.Field)}
		}
	}
	for i := range first.Strips {
		a := &first.Strips[i]
		if b := stripIn(later.Strips, a); b != nil && heals(&a.Bib, &b.Bib) {
			d[stripName(a)] = place{}
		}
	}
}

// heals reports whether ink of a photo that came first would have healed in a later one; ink that is gone differs anyway.
func heals(first, later *sheetmodel.Reading) bool {
	if later.Field == "" || later.State == sheetmodel.Empty {
		return false
	}
	over := slices.ContainsFunc(first.Doubts, func(x sheetmodel.Doubt) bool {
		return byHand[x.Kind] && (!later.HasDoubt(x.Kind) || first.Text == "" && later.Text != "")
	})
	return over || textsApart(*first, *later) || onceMore(*later, *first)
}

// byHand are the doubts that hardly anything but a hand raises.
var byHand = map[sheetmodel.DoubtKind]bool{
	sheetmodel.DoubtStruckOut: true, sheetmodel.DoubtOverwritten: true, sheetmodel.DoubtQuestionMark: true, sheetmodel.DoubtDitto: true,
	sheetmodel.DoubtTwoMarks: true,
}

// textsApart reports whether two photos of a box are read as two texts of which neither may be the other, however doubtful: such
// a pair may be one box before it was mended and after it, in whichever order the two came in.
func textsApart(a, b sheetmodel.Reading) bool {
	return a.Text != "" && b.Text != "" && a.Text != b.Text && !mayBe(a, b.Text) && !mayBe(b, a.Text)
}

// inkVanishes reports whether one photo of a box shows ink, however doubtful, and the other shows none. What
// may be grain of the paper is no ink.
func inkVanishes(ink, none *sheetmodel.Reading) bool {
	return ink.Field != "" && none.State == sheetmodel.Empty && ink.State == sheetmodel.Doubtful &&
		!look.Specks(look.Ink{Pictured: true, Reading: *ink, Grammar: grammarOf[partOf(ink.Field)]})
}

func (d differences) strips(a, b *sheetmodel.SheetReading) {
	for j := range a.Strips {
		e := &a.Strips[j]
		o := stripIn(b.Strips, e)
		switch {
		case o == nil && e.Bib.State != sheetmodel.Empty:
			d[stripName(e)+" ink"] = place{}
		case o != nil && (readingsDiffer(&e.Bib, &o.Bib) || inkVanishes(&e.Bib, &o.Bib)):
			d[stripName(e)] = place{}
		}
	}
}

// stripIn finds the same place under a drawing in another photo.
func stripIn(strips []sheetmodel.StripEntry, e *sheetmodel.StripEntry) *sheetmodel.StripEntry {
	i := slices.IndexFunc(strips, func(o sheetmodel.StripEntry) bool { return o.Panel == e.Panel && o.Entry == e.Entry })
	if i < 0 {
		return nil
	}
	return &strips[i]
}

func stripName(e *sheetmodel.StripEntry) string { return fmt.Sprintf("strip %s %d", e.Panel, e.Entry) }

func readingsDiffer(a, b *sheetmodel.Reading) bool {
	clearly := func(s sheetmodel.State) bool { return s == sheetmodel.Clear || s == sheetmodel.Empty }
	return clearly(a.State) && clearly(b.State) && (a.State != b.State || a.Text != b.Text)
}

// places returns the rows that differ, 0 for what is not in a row, and the parts of head and foot.
func (d differences) places() (rows []int, head []sheetmodel.Part) {
	inRows, inHead := map[int]bool{}, map[sheetmodel.Part]bool{}
	for _, at := range d {
		if at.head != "" {
			inHead[at.head] = true
		} else {
			inRows[at.row] = true
		}
	}
	return slices.Sorted(maps.Keys(inRows)), slices.Sorted(maps.Keys(inHead))
}

// headWords names the parts of head and foot that mean something for the rows. The others, a judge's
// name or phone, are pictures and never compared.
var headWords = map[sheetmodel.Part]string{
	sheetmodel.PartGroup: "the ringed group", sheetmodel.PartCourse: "the ringed course",
	sheetmodel.PartGateFrom: "the gates in its head", sheetmodel.PartGateTo: "the gates in its head",
	sheetmodel.PartRowCount: "the rows that stand, written at its foot",
	sheetmodel.PartCardOf:   "card of cards, written at its foot", sheetmodel.PartCardTotal: "card of cards, written at its foot",
}

func placeWords(rows []int, head []sheetmodel.Part) string {
	var words []string
	for _, p := range head {
		if !slices.Contains(words, headWords[p]) {
			words = append(words, headWords[p])
		}
	}
	for _, r := range rows {
		if r == 0 {
			words = append(words, "the bibs under the drawings")
		} else {
			words = append(words, fmt.Sprintf("row %d", r))
		}
	}
	return strings.Join(words, ", ")
}
