package rules

import (
	"cmp"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// desk is where all cards of a race lie side by side during one Check.
type desk struct {
	race        *sheetmodel.Race
	answers     map[string]string
	answeredBy  map[string]string
	views       map[string][]string // of the answers; nil: nobody keeps any
	rowAt       map[sheetmodel.RowRef]*row
	courseRuns  []*courseRun
	jury        []JuryLine
	starters    map[string][]sheetmodel.Starter // by number as on the bib
	bare        map[string][]string             // numbers of the list, by number without leading zeros
	forerunners bibs
	short       map[sheetmodel.RowRef]bool // rows with fewer than two looks
	result      Result
}

// courseRun is one course in one run with its cards.
type courseRun struct {
	run    int
	course string
	bound  bool     // the race has this run and course
	gates  []string // from the start down; empty: not known
	index  map[string]int
	places []sheetmodel.Place
	dns    bibs
	dnf    bibs
	reruns bibs
	late   bibs // started after all
	// mayStart is run 2's own list, conditional who starts while a protest is open.
	mayStart    bibs
	conditional bibs
	exchanged   map[racer]racer // who wore whose bib
	changes     []sheetmodel.GateChange
	heard       []sheetmodel.Heard
	cards       []*card
	rows        []*row
	watch       map[string][]*card // cards by gate watched
	racers      [][]*row           // rows of each racer, made by racerRows
	grouped     bool
	lines       map[racer][]line
	// proposed holds the racers with a call on rows that are all firm, for run 2's list.
	proposed map[racer]bool
	// decided holds the lines of a racer that the jury has decided on, by gate and code.
	decided map[racer][]string
}

// card is one card on the desk.
type card struct {
	Card
	cr     *courseRun
	place  sheetmodel.Place
	placed bool     // the placing list has it
	gates  []string // gates watched, from the start down; empty: not known
	rows   []*row
	// elsewhere: a person says that it was used on another course or at other gates, and covers none here.
	elsewhere bool
}

// row is one row with what the rules found out about it.
type row struct {
	Row
	card    *card
	code    sheetmodel.Code
	coded   bool     // code sure and in the book
	gates   []string // gates written, or the only one watched
	racer   racer
	named   bool // certain text that is one starter of this course
	attempt int  // 1, or 2 in a re-run
	strike  strike

	// neighbours: the rows of its card carry a neighbour's gates, which is asked once for the card.
	neighbours bool

	holds    []string // questions that keep it waiting
	loose    []string // likewise, but the question rests on rows that are not firm themselves
	asides   []string // reasons to set it aside
	open     bool     // set aside, not yet settled by a person
	badBib   []string // reasons that rest on a bib with fewer than two looks
	remark   string   // what a rule says of it where it proposes nothing
	informed string   // why it proposes nothing, though its code could

	need    int  // more looks its bib needs
	decides bool // a hindrance that a proposal depends on
	accuses bool // it is part of a line of the draft
	// lineWaits is true if that line can't stand yet, be it for another of its rows.
	lineWaits bool
	mayChange bool // once settled, it may change a line that is proposed without it
	stands    sheetmodel.Standing
}

// racer is a group and number.
type racer struct {
	group  string
	number string
}

// bibs is an optional list, by number.
type bibs struct {
	given  sheetmodel.Given
	groups map[string][]string
}

func listBibs(l sheetmodel.BibList) bibs {
	b := bibs{given: l.Given, groups: map[string][]string{}}
	if l.Given != sheetmodel.ListGiven {
		return b
	}
	for _, e := range l.Bibs {
		b.groups[e.Number] = append(b.groups[e.Number], e.Group)
	}
	return b
}

// known reports whether the list was handed in, even as "none".
func (b bibs) known() bool {
	return b.given == sheetmodel.ListGiven || b.given == sheetmodel.ListNone
}

// holds reports whether r is in the list; an entry without a group stands for any.
func (b bibs) holds(r racer) bool {
	for _, g := range b.groups[r.number] {
		if g == "" || r.group == "" || g == r.group {
			return true
		}
	}
	return false
}

// lay puts copies of all facts on a desk, in an order of their own.
func lay(f Facts) *desk {
	race := f.Race
	if race == nil {
		race = &sheetmodel.Race{}
	}
	d := &desk{
		race: race, answers: f.Answers, answeredBy: f.AnsweredBy, views: f.Views, jury: sortedJury(f.Jury),
		rowAt:    map[sheetmodel.RowRef]*row{},
		starters: map[string][]sheetmodel.Starter{}, bare: map[string][]string{},
		forerunners: listBibs(race.Forerunners), short: map[sheetmodel.RowRef]bool{},
	}
	d.result.Overtaken = make(map[string]Overtaken, len(f.Overtaken))
	for key, was := range f.Overtaken {
		d.result.Overtaken[key] = was
	}
	for _, s := range race.Starters {
		if len(d.starters[s.Number]) == 0 {
			short := bareNumber(s.Number)
			d.bare[short] = append(d.bare[short], s.Number)
		}
		d.starters[s.Number] = append(d.starters[s.Number], s)
	}
	for _, same := range d.starters {
		slices.SortFunc(same, func(a, b sheetmodel.Starter) int {
			return firstOf(d.compareCourses(a.Course, b.Course), strings.Compare(a.Group, b.Group))
		})
	}
	byKey := map[courseKey]*courseRun{}
	for i := range race.Runs {
		for j := range race.Runs[i].Courses {
			if c := &race.Runs[i].Courses[j]; len(c.Places) > 0 {
				d.courseRun(byKey, race.Runs[i].Number, c.Course)
			}
		}
	}
	cards := map[sheetmodel.CardKey]*card{}
	for _, c := range sortedCards(f.Cards) {
		if cards[c.Key] == nil {
			cards[c.Key] = d.courseRun(byKey, c.Key.Run, c.Key.Course).lay(c)
		}
	}
	for _, w := range sortedRows(f.Rows) {
		c := cards[w.Ref.CardKey]
		cr := d.courseRun(byKey, w.Ref.Run, w.Ref.Course)
		if c == nil {
			c = cr.lay(Card{Key: w.Ref.CardKey, In: true})
			cards[w.Ref.CardKey] = c
		}
		c.In = true // a row was read from it
		r := &row{Row: w, card: c, attempt: 1}
		if w.BibState != sheetmodel.BibTwoLooks {
			d.short[w.Ref] = true
		}
		r.code, r.coded = race.Codes.Find(w.Code)
		r.coded = r.coded && w.CodeSure
		if w.GateSure {
			r.gates = cr.splitGates(w.Gate)
		}
		c.rows = append(c.rows, r)
		if d.views != nil {
			d.rowAt[w.Ref] = r
		}
		cr.rows = append(cr.rows, r)
	}
	for _, cr := range d.courseRuns {
		cr.layMissing()
		for _, c := range cr.cards {
			d.settleStrikes(c)
		}
	}
	slices.SortFunc(d.courseRuns, func(a, b *courseRun) int {
		return firstOf(a.run-b.run, d.compareCourses(a.course, b.course))
	})
	return d
}

type courseKey struct {
	run    int
	course string
}

// courseRun returns the desk's place for one course in one run, made at first use.
func (d *desk) courseRun(byKey map[courseKey]*courseRun, run int, course string) *courseRun {
	key := courseKey{run, course}
	if cr := byKey[key]; cr != nil {
		return cr
	}
	cr := &courseRun{run: run, course: course, index: map[string]int{}, exchanged: map[racer]racer{}, lines: map[racer][]line{}, proposed: map[racer]bool{}, decided: map[racer][]string{}}
	if r := d.race.Run(run); r != nil {
		cr.dns, cr.dnf, cr.reruns = listBibs(r.DidNotStart), listBibs(r.DidNotEnd), listBibs(r.Reruns)
		cr.late, cr.mayStart, cr.conditional = listBibs(r.LateStarts), listBibs(r.MayStart), listBibs(r.Conditional)
		for _, pair := range r.Exchanged {
			a, b := racer{pair[0].Group, pair[0].Number}, racer{pair[1].Group, pair[1].Number}
			cr.exchanged[a], cr.exchanged[b] = b, a
		}
		for _, h := range r.Heard {
			if h.Course == course {
				cr.heard = append(cr.heard, h)
			}
		}
		if c := r.Course(course); c != nil {
			cr.bound, cr.gates, cr.places, cr.changes = true, c.Gates, c.Places, c.Changes
		}
	}
	for i, g := range cr.gates {
		cr.index[g] = i
	}
	byKey[key] = cr
	d.courseRuns = append(d.courseRuns, cr)
	return cr
}

// lay puts one card down, with its place and the gates it watched.
func (cr *courseRun) lay(c Card) *card {
	laid := &card{Card: c, cr: cr}
	for _, p := range cr.places {
		if p.Card == c.Key.Card && !c.Spare {
			laid.place, laid.placed = p, true
			break
		}
	}
	laid.gates = cr.sortGates(c.Gates)
	if len(laid.gates) == 0 && laid.placed {
		laid.gates = cr.sortGates(laid.place.Gates)
	}
	cr.cards = append(cr.cards, laid)
	return laid
}

// layMissing adds the cards that the placing list expects and nobody spoke of.
func (cr *courseRun) layMissing() {
	there := map[int]bool{}
	for _, c := range cr.cards {
		if !c.Spare {
			there[c.Key.Card] = true
		}
	}
	for _, p := range cr.places {
		if !there[p.Card] {
			there[p.Card] = true
			cr.lay(Card{Key: sheetmodel.CardKey{Run: cr.run, Course: cr.course, Card: p.Card}})
		}
	}
	slices.SortStableFunc(cr.cards, func(a, b *card) int { return a.Key.Card - b.Key.Card })
}

// compareCourses orders courses as the race does, unknown ones last by name.
func (d *desk) compareCourses(a, b string) int {
	i, j := d.race.CourseIndex(a), d.race.CourseIndex(b)
	if i == 0 {
		i = len(d.race.Courses) + 1
	}
	if j == 0 {
		j = len(d.race.Courses) + 1
	}
	return firstOf(i-j, strings.Compare(a, b))
}

// listed returns the number as the start list writes it: "07" is "7" only if the list holds one of the two.
func (d *desk) listed(text string) string {
	if len(d.starters[text]) > 0 {
		return text
	}
	if same := d.bare[bareNumber(text)]; len(same) == 1 {
		return same[0]
	}
	return text
}

func bareNumber(s string) string {
	if bare := strings.TrimLeft(s, "0"); bare != "" {
		return bare
	}
	return s
}

func sortedCards(cards []Card) []Card {
	sorted := slices.Clone(cards)
	slices.SortFunc(sorted, func(a, b Card) int {
		return firstOf(
			compareKeys(a.Key, b.Key), compareBools(b.In, a.In), slices.Compare(a.Gates, b.Gates),
			strings.Compare(a.Group, b.Group), strings.Compare(a.Ringed, b.Ringed),
		)
	})
	return sorted
}

func sortedRows(rows []Row) []Row {
	sorted := slices.Clone(rows)
	slices.SortFunc(sorted, func(a, b Row) int {
		return firstOf(
			compareRefs(a.Ref, b.Ref), strings.Compare(a.Bib, b.Bib), strings.Compare(a.Code, b.Code),
			strings.Compare(a.Gate, b.Gate), strings.Compare(string(a.BibState), string(b.BibState)),
		)
	})
	return sorted
}

func compareKeys(a, b sheetmodel.CardKey) int {
	return firstOf(a.Run-b.Run, strings.Compare(a.Course, b.Course), a.Card-b.Card)
}

func compareRefs(a, b sheetmodel.RowRef) int {
	return firstOf(compareKeys(a.CardKey, b.CardKey), a.Row-b.Row)
}

func compareBools(a, b bool) int {
	n := map[bool]int{true: 1}
	return cmp.Compare(n[a], n[b])
}
