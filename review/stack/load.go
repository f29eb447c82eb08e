package stack

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// loader puts the parts of a Stack together.
type loader struct {
	Stack
	sheets    []store.Sheet
	cardTies  []store.CardTies
	bindings  []store.Binding
	paper     []store.PaperCard
	gaps      []store.GapReason
	decisions map[string][]sheetmodel.Decision // those that stand, by reading
	undone    map[string][]sheetmodel.Decision // those that were taken back
	sides     map[sideKey][]*store.Sheet       // in order of arrival
	entered   map[sheetmodel.CardKey][]int     // rows with a decision, by the card as printed
	inks      map[int64]store.Ink              // where each sheet was found; empty where no side is in twice
	forms     map[int64]string                 // as which form each sheet was read, as far as inks holds them
	saidAt    map[string][]string              // as which form each paper was read when a question about it was answered, in their order
	saidWhen  map[string]moment                // when a question was answered last
	saidOn    map[string]string                // on which paper a question was answered last; empty where nobody knows
	ofTwo     map[string]bool                  // photos in which one side of one card was found twice
	gone      map[int64]*store.Sheet           // sheets that people have looked at and no reader finds any more
	typedOf   map[int64]int64                  // the sheet that a decision was made at
	sights    store.Sights                     // what copies of the race held when something was said
	seenOf    map[int64]string                 // which of them it was when a decision was made
	sighted   map[int64]bool                   // decisions whose typist another copy had shown the text
	again     map[rowAt]string                 // what a person says of an added row that was typed from another photo; empty: open
	left      []leftBehind                     // marks whose paper no photo shows any more
	drawings  *store.Sheet                     // with the bibs under them, of the card that is being put together
	added     []int                            // rows that a person has added, likewise
	judge     string                           // likewise
	relief    []string                         // others who may have written on it
	forgotten []string                         // who typed something, was a judge perhaps, and is called by no name any more
}

type sideKey struct {
	card sheetmodel.CardKey
	side sheetmodel.SideName
}

func (l *loader) lay() {
	l.decisions, l.undone = map[string][]sheetmodel.Decision{}, map[string][]sheetmodel.Decision{}
	l.typedOf, l.seenOf, l.sighted = map[int64]int64{}, map[int64]string{}, map[int64]bool{}
	for _, d := range l.Decisions {
		l.sighted[d.ID] = d.Sighted
		l.typedOf[d.ID], l.seenOf[d.ID] = d.Sheet, d.Seen
		if d.Undone == nil {
			l.decisions[d.Reading] = append(l.decisions[d.Reading], d.Decision)
		} else {
			l.undone[d.Reading] = append(l.undone[d.Reading], d.Decision)
		}
	}
	l.entered = enteredIn(l.decisions)
	l.sides = map[sideKey][]*store.Sheet{}
	race := sheetmodel.RaceHash(l.Race.ID)
	for i := range l.sheets {
		s := &l.sheets[i]
		if s.Race != race {
			l.Foreign = append(l.Foreign, *s)
			continue
		}
		if !s.Named() {
			l.Unnamed = append(l.Unnamed, *s)
			continue
		}
		k := sideKey{s.Card, s.Side}
		l.sides[k] = append(l.sides[k], s)
	}
	l.Cards = l.cards()
	for i := range l.Cards {
		l.judge, l.relief = l.judgesOf(&l.Cards[i])
		l.fill(&l.Cards[i])
		l.drawings, l.added = l.Cards[i].PanelSheet(), l.addedOn(&l.Cards[i])
		l.passages(&l.Cards[i])
		l.rows(i)
		l.askBackRows(i)
	}
	l.rowAt = make(map[sheetmodel.RowRef]int, len(l.Rows))
	for i := range slices.Backward(l.Rows) { // the first of a place is the one that counts
		l.rowAt[l.Rows[i].Ref] = i
	}
}

// cards lists every card that is expected, photographed or typed, in the order of runs, courses and numbers.
func (l *loader) cards() []Card {
	byKey := map[sheetmodel.CardKey]*Card{}
	at := func(k sheetmodel.CardKey) *Card {
		if byKey[k] == nil {
			byKey[k] = &Card{Printed: k, Card: rules.Card{Key: k, Spare: k.Run == 0}}
		}
		return byKey[k]
	}
	for _, run := range l.Race.Runs {
		for _, course := range run.Courses {
			for _, p := range course.Places {
				c := at(sheetmodel.CardKey{Run: run.Number, Course: course.Course, Card: p.Card})
				c.Gates, c.Judge, c.Phone = p.Gates, p.Judge, p.Phone
			}
		}
	}
	for k := range l.sides {
		at(k.card)
	}
	for k := range l.entered {
		at(k) // also when no photo shows it any more: a better reader found another card in it
	}
	for i, p := range l.paper {
		c := at(p.Card)
		if c.Paper != nil && l.disputed(store.DisputePaper, p.Card) && c.Paper.Rows > p.Rows {
			continue // two copies of the race count otherwise: no row is dropped
		}
		c.Paper = &l.paper[i]
	}
	l.bind(byKey, at)
	for _, c := range byKey {
		front, back := len(l.sides[sideKey{c.Printed, sheetmodel.Front}]) > 0, len(l.sides[sideKey{c.Printed, sheetmodel.Back}]) > 0
		// Rows are on the front. A back alone brings in a card only where nobody waits for that card: it is then told that
		// it carries nothing yet.
		c.In = front || c.Paper != nil || back && !l.expected(c.Key)
		c.BackOnly = back && !c.In
	}
	for _, g := range l.gaps {
		at(g.Card).GapReason = g.Reason
		if l.disputed(store.DisputeGap, g.Card) || !at(g.Card).In && (l.enteredSince(g) || l.foundSince(g)) {
			at(g.Card).GapReason = ""
		}
	}
	var all []Card
	for _, c := range byKey {
		all = append(all, *c)
	}
	slices.SortFunc(all, func(a, b Card) int {
		return cmp.Or(a.Key.Run-b.Key.Run, l.Race.CourseIndex(a.Key.Course)-l.Race.CourseIndex(b.Key.Course),
			strings.Compare(a.Key.Course, b.Key.Course), a.Key.Card-b.Key.Card, a.Printed.Run-b.Printed.Run)
	})
	return all
}

// enteredSince reports whether rows of a card were entered after the reason why it is missing was given: it came in, and what
// became of it since, that reason doesn't say. The laptop's clock may have been set meanwhile, and a copy that was joined has its own.
func (l *loader) enteredSince(g store.GapReason) bool {
	return slices.ContainsFunc(l.Decisions, func(d store.Decision) bool {
		card, side, _, err := store.ParseKey(d.Reading)
		return err == nil && card == g.Card && side == sheetmodel.Front && d.Undone == nil && (d.ID > g.ID || d.At.After(g.At))
	})
}

// foundSince reports whether a photo of a card came in after the reason why it is missing was given.
func (l *loader) foundSince(g store.GapReason) bool {
	return slices.ContainsFunc([]sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back}, func(side sheetmodel.SideName) bool {
		return slices.ContainsFunc(l.sides[sideKey{g.Card, side}], func(s *store.Sheet) bool {
			in, known := l.sights.Photo(g.Seen, s.Photo)
			return s.PhotoOrder > g.ID || known && !in
		})
	})
}

// expected reports whether a card is of a run and course that the race has.
func (l *loader) expected(k sheetmodel.CardKey) bool {
	run := l.Race.Run(k.Run)
	return run != nil && run.Course(k.Course) != nil
}

// bind gives the cards the places that they were used at. Where another card has that run, course and
// number, the rows of two papers would become those of one: a card that was bound there is bound
// nowhere then, and the draft of that course stays open.
func (l *loader) bind(byKey map[sheetmodel.CardKey]*Card, at func(sheetmodel.CardKey) *Card) {
	last := map[sheetmodel.CardKey]store.Binding{}
	for _, b := range l.bindings {
		at(b.Card)
		if !l.disputed(store.DisputeBinding, b.Card) {
			last[b.Card] = b
		}
	}
	claims := map[sheetmodel.CardKey]int{}
	for printed := range byKey {
		if b, bound := last[printed]; bound {
			printed = b.Used()
		}
		claims[printed]++
	}
	for printed, b := range last {
		c := byKey[printed]
		if b.Used() != printed && claims[b.Used()] > 1 {
			c.Key = sheetmodel.CardKey{Card: printed.Card}
			why := (&store.TakenError{Card: printed, Used: b.Used()}).Error()
			l.open = append(l.open, rules.Gap{Run: b.Run, Course: b.Course, Why: strings.ToUpper(why[:1]) + why[1:] + "."})
			continue
		}
		if b.Judge != "" || b.Used() != printed { // else whom the placing list names is the judge
			c.Judge = b.Judge
		}
		c.Key, c.Gates, c.Group, c.Bound = b.Used(), b.Gates, b.Group, true
	}
	slices.SortFunc(l.open, func(a, b rules.Gap) int { return strings.Compare(a.Why, b.Why) })
}

// judgesOf says who may have written on a card: its judge, and whoever else the placing list names where it was used, or at the place that is
// printed on it: which of them had it in the hand, a card that was used elsewhere doesn't say. Where a name is missing it may be that of anybody
// who is forgotten: forgetting makes no second person.
func (l *loader) judgesOf(c *Card) (judge string, others []string) {
	for _, at := range []sheetmodel.CardKey{c.Key, c.Printed} {
		run := l.Race.Run(at.Run)
		if run == nil || run.Course(at.Course) == nil {
			continue
		}
		for _, p := range run.Course(at.Course).Places {
			if p.Card != at.Card {
				continue
			}
			if p.Judge != "" {
				others = append(others, p.Judge)
			}
			for _, r := range p.Relief {
				others = append(others, r.Judge)
			}
		}
	}
	if unnamed := c.Judge == "" || slices.Contains(others, ""); unnamed {
		others = append(others, l.forgotten...)
	}
	return c.Judge, others
}

// fill puts a card's sheets and its header in place.
func (l *loader) fill(c *Card) {
	for _, side := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
		sheets := l.sides[sideKey{c.Printed, side}]
		if len(sheets) == 0 {
			continue
		}
		used, aside := l.choose(c.Printed, side, sheets)
		if side == sheetmodel.Front {
			c.Front = used
			l.askAgain(c, sheets, aside)
			used = c.Front
		} else {
			c.Back = used
		}
		for _, s := range sheets {
			if s != used {
				c.Other = append(c.Other, s)
			}
		}
	}
	c.Strips, c.NoDrawings = strips(c.PanelSheet()), c.noDrawings()
	c.FrontPaper, c.BackPaper = paperView(c.Front), paperView(c.PanelSheet())
	if c.Front == nil && c.Paper != nil {
		c.FrontPaper = "rows-" + strconv.Itoa(c.Paper.Rows)
	}
	if c.Front == nil {
		return
	}
	c.ties, c.untied = l.tiesOf(c)
	for _, r := range c.Front.Read.Reading.Header {
		c.Header = append(c.Header, l.entry(c.Front, partOf(r.Field), r, nil))
	}
	l.header(c)
}

// paperView names a side that counts, and as which form it is read; empty if no photo shows it. Two copies of the race name it alike.
func paperView(s *store.Sheet) string {
	if s == nil {
		return ""
	}
	return s.Paper() + " " + s.Layout
}

// strips counts the bibs under each drawing, without what may be grain of the paper. What they read is
// not told to the rules.
func strips(back *store.Sheet) []rules.Strip {
	if back == nil {
		return nil
	}
	var all []rules.Strip
	for _, e := range back.Read.Reading.Strips {
		if e.Bib.State == sheetmodel.Empty || look.Specks(look.Ink{Pictured: true, Reading: e.Bib, Grammar: sheetmodel.GrammarBib}) {
			continue
		}
		i := slices.IndexFunc(all, func(s rules.Strip) bool { return s.Panel == e.Panel })
		if i < 0 {
			i, all = len(all), append(all, rules.Strip{Panel: e.Panel})
		}
		all[i].Bibs++
	}
	return all
}

// tiesOf returns what was worked out from exactly the two sheets that count, newest first; failing
// that, what needed the front alone. untied: it was never worked out from these two.
func (l *loader) tiesOf(c *Card) (ties []look.Tied, untied bool) {
	var back int64
	if c.Back != nil {
		back = c.Back.ID
	}
	var alone []look.Tied
	for i := len(l.cardTies) - 1; i >= 0; i-- {
		t := l.cardTies[i]
		if t.Front != c.Front.ID {
			continue
		}
		if t.Back == back {
			return t.Ties, false
		}
		if t.Back == 0 && alone == nil {
			alone = t.Ties
		}
	}
	return alone, true
}

// entry counts the looks of one field on a sheet. What a field of a row is for, its place in the row says: a layout that was edited
// by hand may call it otherwise.
func (l *loader) entry(s *store.Sheet, part sheetmodel.Part, r sheetmodel.Reading, ties []look.Tied) Entry {
	if r.Field == "" {
		r.State = sheetmodel.Empty // the layout has no such field
	}
	e := Entry{Part: part, Reading: r}
	e.ink = look.Ink{Pictured: true, Reading: r, Alone: slices.Contains(s.Read.Alone, r.Field), Ties: ties, Grammar: grammarOf[e.Part], Judge: l.judge, Relief: l.relief}
	e.Key = s.Key(r.Field)
	e.Seen = l.countOn(s, e.ink, e.Key)
	return e
}

// header takes over what the header says for certain, and what a person read there instead: it is held
// against the placing list and makes no row clearer.
func (l *loader) header(c *Card) {
	number := func(e Entry) (int, bool) {
		n, err := strconv.Atoi(e.Seen.Text)
		return n, err == nil
	}
	for _, e := range c.Header {
		if !e.Sure() && HeldAgainst[e.Part] {
			e.Seen.Text = l.typed(c.Front, e)
		} else if !e.Sure() {
			continue
		}
		if e.Seen.Text == "" {
			continue
		}
		switch e.Part {
		case sheetmodel.PartGroup:
			if c.Group == "" {
				c.Group = e.Seen.Text
			}
		case sheetmodel.PartCourse:
			c.Ringed = e.Seen.Text
		case sheetmodel.PartGateFrom:
			c.HeaderFrom = e.Seen.Text
		case sheetmodel.PartGateTo:
			c.HeaderTo = e.Seen.Text
		case sheetmodel.PartRowCount:
			if n, ok := number(e); ok {
				c.RowCount = &n
			}
		case sheetmodel.PartCardOf:
			if n, ok := number(e); ok {
				c.CardOf = n
			}
		case sheetmodel.PartCardTotal:
			if n, ok := number(e); ok {
				c.CardTotal = n
			}
		default: // a judge's name, a phone: pictures, never used as facts
		}
	}
}

// HeldAgainst are the parts of head and foot that are only compared with what is known without them.
var HeldAgainst = map[sheetmodel.Part]bool{
	sheetmodel.PartGateFrom: true, sheetmodel.PartGateTo: true, sheetmodel.PartCourse: true, sheetmodel.PartRowCount: true,
}

// typed is what was last typed of an entry on a sheet and stands, empty if nothing was. What was typed of ink that was mended
// since says nothing of it.
func (l *loader) typed(s *store.Sheet, e Entry) string {
	text := ""
	if l.disputeOf(store.DisputeReading, e.Key) != nil {
		return text
	}
	for i := range l.decisions[e.Key] {
		d := &l.decisions[e.Key][i]
		if (d.Basis == sheetmodel.BasisOnPaper || d.Basis == sheetmodel.BasisJudgeAsked) && !l.changedSince(s, e.Reading, d) {
			text = d.Text
		}
	}
	return text
}

// partOf is the last word of a field's name.
func partOf(field string) sheetmodel.Part {
	return sheetmodel.Part(field[strings.LastIndexByte(field, '.')+1:])
}

var grammarOf = map[sheetmodel.Part]sheetmodel.Grammar{
	sheetmodel.PartBib: sheetmodel.GrammarBib, sheetmodel.PartBibAgain: sheetmodel.GrammarBib,
	sheetmodel.PartGate: sheetmodel.GrammarGate, sheetmodel.PartGateFrom: sheetmodel.GrammarGate, sheetmodel.PartGateTo: sheetmodel.GrammarGate,
	sheetmodel.PartCode: sheetmodel.GrammarCode, sheetmodel.PartCodeOther: sheetmodel.GrammarCode,
	sheetmodel.PartPanel: sheetmodel.GrammarPanel, sheetmodel.PartRerun: sheetmodel.GrammarMark,
	sheetmodel.PartRowCount: sheetmodel.GrammarCount, sheetmodel.PartCardOf: sheetmodel.GrammarCount, sheetmodel.PartCardTotal: sheetmodel.GrammarCount,
}
