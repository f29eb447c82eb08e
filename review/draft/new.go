package draft

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Options say when the draft is made and what it may name.
type Options struct {
	At     time.Time // of the laptop's clock
	Names  bool      // racers' names and clubs: often minors
	Judges bool      // judges' names
	Phones bool      // judges' phones
	// Layout finds a layout by its content hash; it makes crops exact. It may be nil.
	Layout func(hash string) *sheetmodel.Layout
}

// New makes the draft of a stack and what the rules said about it. It changes neither.
// The error names a time zone that the race file should not have.
func New(s *stack.Stack, result rules.Result, opt Options) (*Draft, error) {
	official, err := sheetmodel.OfficialTime(opt.At, s.Race)
	if err != nil {
		return nil, fmt.Errorf("draft: %w", err)
	}
	r := s.Race
	d := &Draft{
		Format: Format, Notice: Notice, At: official,
		Race: RaceHead{
			ID: r.ID, Name: r.Name, Date: r.Date, Zone: r.Zone, Discipline: r.Discipline,
			Rules: r.Rules.Name, CodeBook: r.Codes.Name, Notes: r.Rules.Notes,
			Settings: r.Rules.Settings(r.Discipline),
		},
		Photos: Photos{Total: len(s.Photos), Foreign: len(s.Foreign)}, Sections: []Section{},
	}
	for _, p := range s.Photos {
		switch p.Fate {
		case store.FateAccepted:
			d.Photos.Accepted++
		case store.FateRefused:
			d.Photos.Refused++
		case store.FateUnread:
			d.Photos.Unread++
		}
	}
	b := newBuilder(s, result, opt)
	for _, at := range b.places() {
		section := b.section(at.run, at.course)
		section.beyond = HeldFromBeyond(s, result, at.run)
		if d.Photos.Unread > 0 {
			section.Incomplete = append(section.Incomplete, PhotosNotRead(d.Photos.Unread))
		}
		d.Incomplete = d.Incomplete || len(section.Incomplete) > 0
		d.Sections = append(d.Sections, section)
	}
	if len(d.Sections) == 0 {
		d.Incomplete = true // nothing is known yet
	}
	return d, nil
}

func newBuilder(s *stack.Stack, result rules.Result, opt Options) *builder {
	b := &builder{Stack: s, result: result, opt: opt, standings: map[sheetmodel.RowRef]rules.RowStanding{}, jury: s.Records(), of: map[string][]int{}}
	for i, d := range s.Decisions {
		b.of[d.Reading] = append(b.of[d.Reading], i)
	}
	for _, st := range result.Standings {
		b.standings[st.Ref] = st
	}
	return b
}

// HeldFromBeyond reports whether a row that waits elsewhere may hold a line of a run: who has a line in run 1 is asked about in run 2, unless
// that has a list of its own, and whom the jury kept out in run 1 is out whatever that list says; nobody knows yet where a spare belongs that
// is bound to no run.
func HeldFromBeyond(s *stack.Stack, result rules.Result, run int) bool {
	of := s.Race.Run(run)
	if of == nil {
		return false
	}
	byRun1 := s.Race.Rules.Run2AfterDSQ != sheetmodel.Run2Yes && of.MayStart.Given != sheetmodel.ListGiven
	if !byRun1 && s.Race.Rules.Run2AfterDSQ != sheetmodel.Run2Yes {
		for line, r := range s.Records() {
			byRun1 = byRun1 || line.Run < run && len(r.Decisions) > 0
		}
	}
	return slices.ContainsFunc(result.Standings, func(s rules.RowStanding) bool {
		return s.Standing == sheetmodel.StandsWaiting && s.CanHold > 0 && (s.Ref.Run == 0 || s.Ref.Run < run && byRun1)
	})
}

// PhotosNotRead says that a list may lack what nobody has read yet.
func PhotosNotRead(n int) string {
	if n == 1 {
		return "1 photo has not been read yet"
	}
	return fmt.Sprintf("%d photos have not been read yet", n)
}

type builder struct {
	*stack.Stack
	result    rules.Result
	opt       Options
	standings map[sheetmodel.RowRef]rules.RowStanding
	jury      map[jury.Line]jury.Record
	of        map[string][]int // places in Decisions, by what they settle
}

type courseRun struct {
	run    int
	course string
}

// places lists the runs and courses that have cards, expected or in, and those of the race that nobody
// has set gates or placed judges for: a draft that left those out would look complete.
func (b *builder) places() []courseRun {
	var all []courseRun
	for _, c := range b.Cards {
		at := courseRun{c.Key.Run, c.Key.Course}
		if !slices.Contains(all, at) {
			all = append(all, at)
		}
	}
	for _, r := range b.Race.Runs {
		for _, c := range r.Courses {
			if at := (courseRun{r.Number, c.Course}); !slices.Contains(all, at) {
				all = append(all, at)
			}
		}
	}
	slices.SortStableFunc(all, func(x, y courseRun) int {
		// What is bound to no run comes last: it is a question, not a result.
		return cmp.Or(order(x.run == 0)-order(y.run == 0), x.run-y.run, b.Race.CourseIndex(x.course)-b.Race.CourseIndex(y.course))
	})
	return all
}

func order(last bool) int {
	if last {
		return 1
	}
	return 0
}

func (b *builder) section(run int, course string) Section {
	s := Section{
		Run: run, Course: course, Incomplete: []string{}, Proposed: []Line{}, Waiting: []Line{}, Overruled: []Line{}, Rows: []Row{}, SetAside: []Row{},
		Recorded: []Row{}, Missing: []MissingCard{}, Backs: []MissingCard{}, OpenGates: []string{}, ForJury: []sheetmodel.Finding{}, Conflicts: []sheetmodel.Finding{}, Notes: []sheetmodel.Finding{},
	}
	s.Lists = b.lists(run)
	s.Unmade = Unmade(b.Board, b.result.Calls, func(l rules.BoardLine) bool { return l.Run == run && l.Course == course })
	inLine := map[sheetmodel.RowRef]bool{}
	for _, c := range b.result.Calls {
		if c.Run != run || c.Course != course {
			continue
		}
		for _, ref := range append(slices.Clone(c.Rows), c.Further...) {
			inLine[ref] = true
		}
		l := b.line(c)
		switch {
		case c.Overruled:
			s.Overruled = append(s.Overruled, l)
			continue
		case !c.Waiting && !rests(l):
			l.WaitsFor = append(l.WaitsFor, "a row that it rests on has fewer than two looks")
		}
		if c.Waiting || len(l.WaitsFor) > 0 {
			s.Waiting = append(s.Waiting, l)
		} else {
			s.Proposed = append(s.Proposed, l)
		}
	}
	b.sort(s.Proposed)
	b.sort(s.Waiting)
	b.sort(s.Overruled)
	b.sectionRows(&s, inLine)
	b.sectionCards(&s)
	b.sectionFindings(&s)
	s.notBegun(b.Race)
	s.Counts.Proposed, s.Counts.Waiting = len(s.Proposed), len(s.Waiting)+len(s.Rows)
	s.Counts.SetAside, s.Counts.Recorded = len(s.SetAside), len(s.Recorded)
	return s
}

// rests is the law of the house once more, whatever the rules said: every row that carries a proposal
// has two looks at its bib.
func rests(l Line) bool {
	return len(l.Rows) > 0 && !slices.ContainsFunc(l.Rows, func(r Row) bool {
		return r.BibState != string(sheetmodel.BibTwoLooks) || len(r.Looks) < 2
	})
}

// sort orders lines by group and bib, numbers as numbers.
func (b *builder) sort(lines []Line) {
	slices.SortStableFunc(lines, func(x, y Line) int {
		return cmp.Or(cmp.Compare(x.Group, y.Group), len(x.Bib)-len(y.Bib), cmp.Compare(x.Bib, y.Bib))
	})
}

func (b *builder) sectionRows(s *Section, inLine map[sheetmodel.RowRef]bool) {
	for i := range b.Rows {
		r := &b.Rows[i]
		if r.Ref.Run != s.Run || r.Ref.Course != s.Course {
			continue
		}
		s.Counts.Rows++
		if len(r.Nothing) > 0 { // no fact for the rules, and never dropped silently
			row := b.row(r)
			row.Why, row.nothing = r.Reason, true
			s.SetAside = append(s.SetAside, row)
			continue
		}
		switch b.standings[r.Ref].Standing {
		case sheetmodel.StandsSetAside:
			s.SetAside = append(s.SetAside, b.row(r))
		case sheetmodel.StandsCall:
		case sheetmodel.StandsInform:
			if !inLine[r.Ref] {
				s.Recorded = append(s.Recorded, b.row(r))
			}
		case sheetmodel.StandsWaiting:
			if !inLine[r.Ref] {
				s.Rows = append(s.Rows, b.row(r))
			}
		default: // the rules said nothing: nothing is dropped
			s.Rows = append(s.Rows, b.row(r))
		}
	}
}

func (b *builder) sectionCards(s *Section) {
	for i := range b.Cards {
		c := &b.Cards[i]
		if c.Key.Run != s.Run || c.Key.Course != s.Course {
			continue
		}
		s.Counts.CardsExpected++
		if c.In {
			s.Counts.CardsIn++
			if c.Front == nil && c.Paper != nil {
				s.Notes = append(s.Notes, b.noPicture(c))
			}
			if c.Front != nil && c.Front.Code.Card > 0 && c.Front.Code != c.Printed {
				s.Notes = append(s.Notes, b.twoPapers(c))
			}
			if c.BackState != rules.BackIn {
				s.Backs = append(s.Backs, b.missing(c, c.BackReason))
			}
			continue
		}
		s.Missing = append(s.Missing, b.missing(c, c.GapReason))
	}
	for _, q := range b.Questions {
		c := b.printedCard(q.Card)
		if !q.Answered && c != nil && c.Key.Run == s.Run && c.Key.Course == s.Course {
			s.Incomplete = append(s.Incomplete, q.Ask)
		}
	}
}

// missing is a card that isn't in, or whose back isn't, with whom to ask for it.
func (b *builder) missing(c *stack.Card, reason string) MissingCard {
	m := MissingCard{Card: c.Key.Card, Place: b.place(c.Key), Gates: c.Gates, Reason: reason}
	if m.Gates == nil {
		m.Gates = []string{}
	}
	if b.opt.Judges {
		m.Judge = c.Judge
	}
	if b.opt.Phones {
		m.Phone = c.Phone
	}
	return m
}

// Why a section is not complete of which no card is expected.
const (
	GatesUnknown = "The gates of this course in this run are not known."
	NobodyPlaced = "No judge is placed, so no card is expected."
)

// notBegun says why a section without any card is not complete.
func (s *Section) notBegun(race *sheetmodel.Race) {
	if s.Counts.CardsExpected > 0 {
		return
	}
	if c := race.Run(s.Run).Course(s.Course); c != nil && len(c.Gates) == 0 {
		s.Incomplete = append(s.Incomplete, GatesUnknown)
	}
	s.Incomplete = append(s.Incomplete, NobodyPlaced)
}

func (b *builder) sectionFindings(s *Section) {
	for _, g := range b.result.Incomplete {
		if g.Run == s.Run && g.Course == s.Course && !slices.Contains(s.Incomplete, g.Why) {
			s.Incomplete = append(s.Incomplete, g.Why)
		}
	}
	for _, f := range b.result.Findings {
		if f.Run != s.Run || f.Course != s.Course {
			continue
		}
		switch {
		case f.Rule == "uncovered-gate":
			s.OpenGates = append(s.OpenGates, f.Sentence)
		case f.Question == nil && slices.Contains(s.Incomplete, f.Sentence), f.Rule == "missing-card", f.Rule == "missing-back", f.Rule == "lists-not-known":
			// The section's head and its lists of missing cards and backs say it already.
		case f.ForJury:
			s.ForJury = append(s.ForJury, f)
		case f.Severity == sheetmodel.Asks, f.Severity == sheetmodel.Blocks:
			s.Conflicts = append(s.Conflicts, f)
		default:
			s.Notes = append(s.Notes, f)
		}
	}
}

func (b *builder) lists(run int) Lists {
	unknown := List{Given: sheetmodel.ListUnknown}
	r := b.Race.Run(run)
	if r == nil {
		return Lists{unknown, unknown, unknown}
	}
	list := func(l sheetmodel.BibList) List {
		if l.Given == "" {
			return unknown
		}
		return List{Given: l.Given, Bibs: len(l.Bibs)}
	}
	return Lists{list(r.DidNotStart), list(r.DidNotEnd), list(r.Reruns)}
}

func (b *builder) line(c sheetmodel.Call) Line {
	l := Line{
		Bib: c.Bib, Group: c.Group, Gate: c.Gate, Code: c.Code, Meaning: c.Meaning, Basis: c.Basis,
		Rows: []Row{}, Further: []Row{}, WaitsFor: append([]string{}, c.WaitsFor...),
	}
	for _, ref := range c.Rows {
		if r := b.Row(ref); r != nil {
			l.Rows = append(l.Rows, b.row(r))
		}
	}
	if code, _ := b.Race.Codes.Find(c.Code); code.Effect == sheetmodel.EffectLostSki && b.Race.Rules.LostSki == sheetmodel.LostSkiFrom {
		// What the code says of one row would read as if the gate passed were the fault.
		l.Meaning = fmt.Sprintf("lost ski no. %d of this run", b.Race.Rules.LostSkiFrom)
	}
	for _, ref := range c.Further {
		if r := b.Row(ref); r != nil {
			l.Further = append(l.Further, b.row(r))
		}
	}
	if b.opt.Names {
		l.Name, l.Club = b.starter(c)
	}
	l.Jury = b.juryOn(c)
	return l
}

// juryOn is what referee and jury did about a line, nil if nothing. Where the jury overruled another line of the
// racer, what was made public, protested and decided of that one is not said of this one.
func (b *builder) juryOn(c sheetmodel.Call) *Jury {
	r, ok := b.jury[jury.Line{Run: c.Run, Course: c.Course, Group: c.Group, Bib: c.Bib}]
	if !ok {
		return nil
	}
	r = r.On(c.Gate, c.Code)
	if b.Untold[r.Line] && r.Posted != nil && (r.Posted.Gate != c.Gate || r.Posted.Code != c.Code) {
		r.Posted, r.Protests = nil, nil
	}
	if d := r.Decision; b.Untold[r.Line] && d != nil && !d.On(c.Gate, c.Code) {
		r.Decision = nil // it was about a line that isn't told
	}
	minutes := b.Race.Rules.ProtestMinutes
	j := &Jury{CoachShown: r.MayShow(c.Gate, c.Code)}
	if r.Posted != nil {
		j.PostedOpen = r.Posted.Open
		if r.Posted.Gate != c.Gate || r.Posted.Code != c.Code {
			j.posted = "gate " + orDash(r.Posted.Gate) + ", " + orDash(r.Posted.Code)
		}
		now := b.Race.StartListMark()
		j.OtherList = now != "" && r.Posted.StartList != "" && now != r.Posted.StartList
		j.PostedAt, j.ProtestTo, j.EnteredBy = b.inZone(r.Posted.At), b.inZone(r.Posted.Until(minutes)), r.Posted.By
	}
	b.protests(j, r)
	if d := r.Decision; d != nil {
		j.Verdict, j.DecidedAt, j.Present, j.Reason, j.EnteredBy = string(d.Verdict), b.inZone(d.At), d.Present, d.Reason, d.By
		// Source: ICR 646.2 to 646.4, draft of 2013: by majority of all voting members, in writing, of what was made public.
		if n := len(b.Race.Rules.Jury); n > 0 && 2*len(d.Present) <= n {
			j.Lacks = append(j.Lacks, fmt.Sprintf("%d of %s present: no majority of all", len(d.Present), counted(n, "member", "members")))
		}
		if d.Reason == "" {
			j.Lacks = append(j.Lacks, "no reason entered")
		}
		if r.Posted == nil && !b.wasPublic(r.Line, *d, c) {
			j.Lacks = append(j.Lacks, "nothing had been made public")
		}
		if d.Gate != "" && d.Gate != c.Gate || d.Code != "" && d.Code != c.Code {
			j.DecidedOn = "gate " + orDash(d.Gate) + ", " + orDash(d.Code)
		}
	}
	return j
}

// protests puts onto a line who protested, and what the jury had decided before its last word.
func (b *builder) protests(j *Jury, r jury.Record) {
	minutes := b.Race.Rules.ProtestMinutes
	if len(r.Protests) == 0 {
		return
	}
	first := r.Protests[len(r.Protests)-1]
	if open := r.OpenProtests(); len(open) > 0 {
		first, j.open = open[len(open)-1], true
	}
	j.ProtestAt, j.ProtestFrom, j.ProtestLate, j.EnteredBy = b.inZone(first.At), first.From, r.IsLate(first, minutes), first.By
	at := map[int]*time.Time{}
	for _, p := range r.Protests {
		at[p.No] = b.inZone(p.At)
		if p.No != first.No {
			j.OtherProtests = append(j.OtherProtests, Protest{At: *b.inZone(p.At), From: p.From, Late: r.IsLate(p, minutes)})
		}
	}
	if d := r.Decision; d != nil && len(r.Protests) > 1 && at[d.Protest] != nil {
		j.answered = at[d.Protest].Format("15:04:05")
	}
	for _, d := range r.Earlier {
		j.Earlier = append(j.Earlier, Verdict{Verdict: string(d.Verdict), DecidedAt: *b.inZone(d.At), ProtestAt: at[d.Protest], Present: d.Present, Reason: d.Reason})
	}
}

// wasPublic reports whether the line that a decision was about had been made public by then, whatever hangs there now.
func (b *builder) wasPublic(of jury.Line, d jury.Decision, c sheetmodel.Call) bool {
	return slices.ContainsFunc(b.Board, func(l rules.BoardLine) bool {
		at := jury.Line{Run: l.Run, Course: l.Course, Group: l.Group, Bib: l.Bib}
		return at == of && l.Gate == orElse(d.Gate, c.Gate) && l.Code == orElse(d.Code, c.Code) && l.Posted <= rules.Moment(d.At.Unix())
	})
}

// inZone shows a moment that was entered in official time on the race's clock.
func (b *builder) inZone(t time.Time) *time.Time {
	if loc, err := sheetmodel.LoadZone(b.Race.Zone); err == nil {
		t = t.In(loc)
	}
	return &t
}

// starter names a racer only where the list holds exactly one.
func (b *builder) starter(c sheetmodel.Call) (name, club string) {
	found := slices.DeleteFunc(b.Race.StartersWith(c.Bib), func(s sheetmodel.Starter) bool {
		return c.Group != "" && s.Group != c.Group
	})
	if len(found) != 1 {
		return "", ""
	}
	return found[0].Name, found[0].Club
}

func (b *builder) place(key sheetmodel.CardKey) string {
	run := b.Race.Run(key.Run)
	if run == nil {
		return ""
	}
	course := run.Course(key.Course)
	if course == nil {
		return ""
	}
	for _, p := range course.Places {
		if p.Card == key.Card {
			return p.Name
		}
	}
	return ""
}

func (b *builder) printedCard(printed sheetmodel.CardKey) *stack.Card {
	i := slices.IndexFunc(b.Cards, func(c stack.Card) bool { return c.Printed == printed })
	if i < 0 {
		return nil
	}
	return &b.Cards[i]
}

func (b *builder) row(r *stack.Row) Row {
	c := &b.Cards[r.Card]
	row := Row{
		Run: r.Ref.Run, Course: r.Ref.Course, Card: r.Ref.Card, Row: r.Ref.Row, Spare: c.Spare, Place: b.place(c.Key),
		Reading: r.BibSeen.Key, Bib: r.Bib, BibState: string(r.BibState), Code: r.Row.Code, Gate: r.Row.Gate, Panel: r.Row.Panel,
		Why: b.standings[r.Ref].Why, CanAdd: b.standings[r.Ref].CanAdd, CanHold: b.standings[r.Ref].CanHold, Looks: []Look{}, Settled: []Settled{},
		group: b.standings[r.Ref].Group,
	}
	if r.BibState == sheetmodel.BibWaiting || r.BibState == sheetmodel.BibSetAside {
		row.Rivals = r.BibSeen.Seen.Rivals
	}
	if b.opt.Judges {
		row.Judge = c.Judge
	}
	if b.opt.Phones {
		row.Phone = c.Phone
	}
	for _, l := range r.BibSeen.Seen.Looks {
		row.Looks = append(row.Looks, b.look(l))
	}
	for _, e := range []stack.Entry{r.BibSeen, r.Code, r.Gate, r.Panel, r.Rerun} {
		row.Settled = append(row.Settled, b.settled(e)...)
	}
	row.Picture = b.rowCrop(r)
	row.Drawing = b.panelCrop(c, r.Row.Panel)
	return row
}

func (b *builder) settled(e stack.Entry) []Settled {
	var all []Settled
	if e.Reading.Field == "" {
		return nil
	}
	for _, i := range b.of[e.Key] {
		d := b.Decisions[i]
		all = append(all, Settled{
			Field: string(e.Part), Text: d.Text, Basis: d.Basis, Blind: d.Blind, ReadBack: d.ReadBack, By: d.By,
			At: b.official(d.At), Undone: d.Undone != nil, Note: d.Note,
		})
	}
	return all
}

func (b *builder) look(l sheetmodel.Look) Look {
	out := Look{Kind: l.Kind, Words: look.Words(l.Kind), Text: l.Text, By: l.By}
	if !l.At.IsZero() {
		at := b.official(l.At)
		out.At = &at
	}
	return out
}

// official was checked in New: it can't fail later.
func (b *builder) official(t time.Time) time.Time {
	at, err := sheetmodel.OfficialTime(t, b.Race)
	if err != nil {
		return t
	}
	return at
}
