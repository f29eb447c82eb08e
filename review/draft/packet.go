package draft

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"gatefold/review/crop"
	"gatefold/review/jury"
	"gatefold/review/stack"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Packet is everything about one bib, for the jury.
type Packet struct {
	Format int       `json:"format"`
	Notice string    `json:"notice"`
	Race   RaceHead  `json:"race"`
	At     time.Time `json:"at"` // official race time
	Bib    string    `json:"bib"`
	Group  string    `json:"group,omitempty"`
	Known  string    `json:"known"`          // what the start list says
	Jury   []string  `json:"jury"`           // members by function
	Cases  []Case    `json:"cases"`          // by run and course
	Open   []string  `json:"open,omitempty"` // without cases: what can still name the bib
}

// Case is what one run of a course says of the bib.
type Case struct {
	Run        int      `json:"run"`
	Course     string   `json:"course"`
	Group      string   `json:"group,omitempty"`
	Status     string   `json:"status"` // proposed, waiting, overruled; gone: something is still to be said of it, and the draft has it no more; empty: no line
	Line       *Line    `json:"line,omitempty"`
	Faults     []Fault  `json:"faults"`
	Said       []string `json:"said"` // what the cards say together, each with what it rests on
	Open       []string `json:"open"` // what can still change it
	Incomplete bool     `json:"incomplete"`
}

// Fault is one row that names the bib, with all that speaks for and against it.
type Fault struct {
	Row     Row    `json:"row"`
	Says    string `json:"says"`    // what became of it
	Meaning string `json:"meaning"` // of its code
	Article string `json:"article"` // by number only
	// Place is where its gate stands: "gate 7, the 7th of 34 from the start".
	Place      string      `json:"place"`
	JudgeGates string      `json:"judge_gates"`
	Changes    []string    `json:"gate_changes"` // of its gates, by the jury during the run
	GatesAsSet *crop.Crop  `json:"gates_as_set,omitempty"`
	Remarks    *crop.Crop  `json:"remarks,omitempty"`
	Others     []OtherCard `json:"other_cards"`
	Read       []ReadField `json:"read"`
	OtherBib   string      `json:"other_bib,omitempty"` // of a remark: a reference, never a call
}

// OtherCard is a further card that saw the gate, or should have.
type OtherCard struct {
	Card  int    `json:"card"`
	Place string `json:"place,omitempty"`
	Says  string `json:"says"`
}

// ReadField is what the reader made of one field of the row.
type ReadField struct {
	Field     string  `json:"field"`
	Text      string  `json:"text"`
	State     string  `json:"state"`
	Certainty float64 `json:"certainty"` // 0: nothing is known
	Reader    string  `json:"reader"`
}

// panelAsSet is the drawing panel for the gates as they were set.
const panelAsSet = "A"

// GroupsError says that a number is worn by several racers, and that nobody said which is meant.
type GroupsError struct {
	Bib    string
	Groups []string
}

func (e *GroupsError) Error() string {
	return "bib " + e.Bib + " is worn by more than one racer: say of which group (" + strings.Join(e.Groups, ", ") + ")"
}

// NewPacket gathers what a stack and the rules say of one bib; group may be empty where the number is worn
// once, else a *GroupsError says so: a jury decides about one racer. A packet without cases says that no row
// names the bib. It changes neither. Other errors are those of New.
func NewPacket(s *stack.Stack, result rules.Result, opt Options, bib, group string) (*Packet, error) {
	if groups := Groups(s.Race, bib); group == "" && len(groups) > 1 && !slices.Contains(groups, "") {
		return nil, &GroupsError{bib, groups}
	}
	d, err := New(s, result, opt)
	if err != nil {
		return nil, err
	}
	b := newBuilder(s, result, opt)
	e := d.Explain(s.Race, bib, group)
	p := &Packet{Format: Format, Notice: d.Notice, Race: d.Race, At: d.At, Bib: bib, Group: group, Known: e.Known, Jury: append([]string{}, s.Race.Rules.Jury...), Cases: []Case{}}
	for i := range d.Sections {
		if c := b.caseOf(&d.Sections[i], bib, group); c != nil {
			p.Cases = append(p.Cases, *c)
			if beside := b.goneBeside(&d.Sections[i], c); beside != nil {
				p.Cases = append(p.Cases, *beside)
			}
		}
	}
	if len(p.Cases) == 0 {
		for _, part := range e.Parts {
			for _, open := range part.Open {
				p.Open = append(p.Open, part.Where+": "+open)
			}
		}
	}
	return p, nil
}

func (b *builder) caseOf(s *Section, bib, group string) *Case {
	c := &Case{Run: s.Run, Course: s.Course, Group: group, Faults: []Fault{}, Said: []string{}, Open: []string{}, Incomplete: len(s.Incomplete) > 0}
	mine := func(number, g string) bool { return number == bib && (group == "" || g == "" || g == group) }
	// A line that was overruled goes behind another of the same racer: the jury is asked about that one now.
	for _, of := range []struct {
		status string
		lines  []Line
	}{{"overruled", s.Overruled}, {"waiting", s.Waiting}, {"proposed", s.Proposed}} {
		for i := range of.lines {
			if mine(of.lines[i].Bib, of.lines[i].Group) {
				c.Status, c.Line = of.status, &of.lines[i]
				c.Group = of.lines[i].Group
			}
		}
	}
	if l := b.gone(s, mine); l != nil && (c.Line == nil || c.Status == "overruled") {
		c.Status, c.Line, c.Group = StatusGone, l, l.Group
	}
	e := s.explain(b.Race, bib, group)
	c.Said, c.Open = append(c.Said, e.Said...), append(c.Open, e.Open...)
	for i := range b.Rows {
		r := &b.Rows[i]
		if r.Ref.Run != s.Run || r.Ref.Course != s.Course || len(r.Nothing) > 0 {
			continue
		}
		if r.BibState != sheetmodel.BibOneLook && r.BibState != sheetmodel.BibTwoLooks || !mine(b.listed(r.Bib), orElse(r.Group, b.standings[r.Ref].Group)) {
			continue
		}
		c.Faults = append(c.Faults, b.fault(r))
	}
	if c.Line == nil && len(c.Faults) == 0 {
		return nil
	}
	if c.Line != nil {
		// The row that leads the line comes first, then those that carry it, then the others.
		rank := func(f Fault) int {
			for i, r := range c.Line.Rows {
				if r.Card == f.Row.Card && r.Row == f.Row.Row {
					return i
				}
			}
			return len(c.Line.Rows)
		}
		slices.SortStableFunc(c.Faults, func(x, y Fault) int { return rank(x) - rank(y) })
	}
	return c
}

// StatusGone is the status of a line that the draft has no more and of which something is still to be said, see stack.GoneLines: what its team
// protests against, and what the jury decides about it, is kept as of any other.
const StatusGone = "gone"

// gone is such a line of a racer, nil if there is none or none may be told.
func (b *builder) gone(s *Section, mine func(number, group string) bool) *Line {
	lines := b.GoneLines()
	for _, of := range slices.SortedFunc(maps.Keys(lines), func(x, y jury.Line) int { return strings.Compare(x.Group+" "+x.Bib, y.Group+" "+y.Bib) }) {
		on := lines[of]
		if of.Run != s.Run || of.Course != s.Course || !mine(of.Bib, of.Group) || b.Untold[of] ||
			slices.ContainsFunc(b.result.Calls, func(c sheetmodel.Call) bool { return onBoard(c, on) && !c.Overruled }) {
			continue
		}
		return b.goneLine(on)
	}
	return nil
}

func (b *builder) goneLine(on rules.BoardLine) *Line {
	c := sheetmodel.Call{Run: on.Run, Course: on.Course, Group: on.Group, Bib: on.Bib, Gate: on.Gate, Code: on.Code}
	if code, ok := b.Race.Codes.Find(on.Code); ok {
		c.Meaning = code.Meaning
	}
	l := b.line(c)
	return &l
}

// goneBeside is the case of such a line where the draft has another line of the racer, and the jury has overruled one: what is protested against
// the one that hangs there is none of the other's then, and would be on no page.
func (b *builder) goneBeside(s *Section, c *Case) *Case {
	if c.Line == nil || c.Status == StatusGone {
		return nil
	}
	of := jury.Line{Run: s.Run, Course: s.Course, Group: c.Line.Group, Bib: c.Line.Bib}
	on, there := b.GoneLines()[of]
	made := slices.ContainsFunc(b.result.Calls, func(call sheetmodel.Call) bool {
		return onBoard(call, on) && call.Gate == on.Gate && call.Code == on.Code
	})
	if !there || made || b.Untold[of] {
		return nil
	}
	record := b.jury[of]
	if told := record.On(c.Line.Gate, c.Line.Code); len(told.OpenProtests()) == len(record.OpenProtests()) && (told.Posted != nil || record.Posted == nil) {
		return nil
	}
	return &Case{Run: s.Run, Course: s.Course, Group: of.Group, Status: StatusGone, Line: b.goneLine(on), Faults: []Fault{}, Said: []string{}, Open: []string{}, Incomplete: c.Incomplete}
}

// listed is the number as the start list writes it.
func (b *builder) listed(text string) string {
	if len(b.Race.StartersWith(text)) > 0 {
		return text
	}
	found := ""
	for _, s := range b.Race.Starters {
		if strings.TrimLeft(s.Number, "0") == strings.TrimLeft(text, "0") {
			if found != "" && found != s.Number {
				return text
			}
			found = s.Number
		}
	}
	return orElse(found, text)
}

// otherBib is the other bib that a person has read in the remark of a row, as far as it counts.
func (b *builder) otherBib(ref sheetmodel.RowRef) string {
	key := rules.OtherBibKey(ref)
	if _, overtaken := b.result.Overtaken[key]; overtaken {
		return ""
	}
	return b.Answers[key]
}

func (b *builder) fault(r *stack.Row) Fault {
	card := &b.Cards[r.Card]
	code, _ := b.Race.Codes.Find(r.Row.Code)
	f := Fault{
		Row: b.row(r), Says: saysWords(b.standings[r.Ref].Why), Meaning: code.Meaning, Article: code.Basis, JudgeGates: gatesWords(card.Gates),
		Changes: []string{}, Others: []OtherCard{}, Read: []ReadField{}, OtherBib: b.otherBib(r.Ref),
	}
	var course sheetmodel.CourseRun
	if run := b.Race.Run(r.Ref.Run); run != nil && run.Course(r.Ref.Course) != nil {
		course = *run.Course(r.Ref.Course)
	}
	gates := gatesOfText(r.Row.Gate, course)
	if len(gates) > 0 {
		f.Place = "gate " + gates[0]
		if i := course.GateIndex(gates[0]); i >= 0 {
			f.Place = fmt.Sprintf("gate %s, no. %d of %d from the start", gates[0], i+1, len(course.Gates))
		}
	}
	for _, g := range course.Changes {
		if slices.Contains(gates, g.Gate) || slices.Contains(gates, g.Was) {
			f.Changes = append(f.Changes, changeWords(g))
		}
	}
	f.GatesAsSet = b.panelCrop(card, panelAsSet)
	f.Remarks = b.remarksCrop(card)
	f.Others = append(f.Others, b.others(r, gates)...)
	for _, e := range []stack.Entry{r.BibSeen, r.Code, r.Gate, r.Panel} {
		if e.Reading.Field == "" || r.Sheet == nil {
			continue
		}
		f.Read = append(f.Read, ReadField{
			Field: string(e.Part), Text: e.Reading.Text, State: string(e.Reading.State), Certainty: e.Reading.Certainty.Value(), Reader: r.Sheet.Read.Reading.Reader,
		})
	}
	return f
}

// others are the further cards whose judges watch one of the gates.
func (b *builder) others(r *stack.Row, gates []string) []OtherCard {
	var all []OtherCard
	for i := range b.Cards {
		c := &b.Cards[i]
		watches := slices.ContainsFunc(gates, func(g string) bool { return slices.Contains(c.Gates, g) })
		if i == r.Card || c.Key.Run != r.Ref.Run || c.Key.Course != r.Ref.Course || !watches {
			continue
		}
		all = append(all, OtherCard{Card: c.Key.Card, Place: b.place(c.Key), Says: b.otherSays(i, r, gates)})
	}
	return all
}

func (b *builder) otherSays(card int, r *stack.Row, gates []string) string {
	c := &b.Cards[card]
	if !c.In {
		return "should have seen it; the card is not in"
	}
	open, lesser := 0, "" // what bears out nothing is said only where no row does
	for i := range b.Rows {
		o := &b.Rows[i]
		if o.Card != card || len(o.Nothing) > 0 {
			continue
		}
		known := o.BibState == sheetmodel.BibOneLook || o.BibState == sheetmodel.BibTwoLooks
		switch {
		case !known && o.BibState == sheetmodel.BibWaiting:
			open++
		case known && b.listed(o.Bib) == b.listed(r.Bib) && !b.anotherGroup(o, r):
			code, _ := b.Race.Codes.Find(o.Row.Code)
			row := fmt.Sprintf("row %d, %s", o.Ref.Row, strings.Join(nonEmpty(o.Row.Code, code.Meaning, "gate "+orDash(o.Row.Gate)), ", "))
			switch {
			case o.Struck:
				lesser = "wrote it and struck it out: " + row
			case b.standings[o.Ref].Standing == sheetmodel.StandsSetAside:
				lesser = "wrote it, and the row is set aside: " + row
			case o.BibState == sheetmodel.BibOneLook:
				lesser = "may have written it, the bib isn't certain by two looks: " + row
			default:
				return "wrote it too: " + row
			}
		}
	}
	if lesser != "" {
		return lesser
	}
	if open > 0 {
		return "has " + counted(open, "row that waits; what it may be is not told here", "rows that wait; what they may be is not told here")
	}
	return "watched the gate and wrote nothing of this bib; a card for faults alone denies nothing by silence"
}

// anotherGroup reports whether two rows with one number are known to be of racers of two groups.
func (b *builder) anotherGroup(o, r *stack.Row) bool {
	x, y := orElse(o.Group, b.standings[o.Ref].Group), orElse(r.Group, b.standings[r.Ref].Group)
	return x != "" && y != "" && x != y
}

// remarksCrop is the lines for remarks, or nil. They are kept as a picture and never posted.
func (b *builder) remarksCrop(c *stack.Card) *crop.Crop {
	if c.Front == nil || b.layoutSide(c.Front) == nil {
		return nil
	}
	return b.crop(c.Front, func(f sheetmodel.Field) bool {
		return f.Part == sheetmodel.PartRemark || f.Part == sheetmodel.PartRemarkRow
	})
}

func changeWords(g sheetmodel.GateChange) string {
	switch g.What {
	case sheetmodel.GateRenumbered:
		return "gate " + g.Was + " became gate " + g.Gate + " at " + g.At
	default:
		return "gate " + g.Gate + " was " + g.What + " at " + g.At
	}
}

// gatesOfText returns the labels that a written gate names on the course, in its order; text itself if none.
func gatesOfText(text string, course sheetmodel.CourseRun) []string {
	if text == "" || course.GateIndex(text) >= 0 {
		return nonEmpty(text)
	}
	var labels []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;/+& ", r) }) {
		from, to, isRange := strings.Cut(part, "-")
		i, j := course.GateIndex(from), course.GateIndex(to)
		if isRange && i >= 0 && j >= 0 {
			labels = append(labels, course.Gates[min(i, j):max(i, j)+1]...)
			continue
		}
		labels = append(labels, part)
	}
	return labels
}

func gatesWords(gates []string) string {
	switch n := len(gates); n {
	case 0:
		return "not known"
	case 1:
		return "gate " + gates[0]
	default:
		return fmt.Sprintf("gates %s to %s (%d gates)", gates[0], gates[n-1], n)
	}
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// readWords says what the reader made of a field, in one sentence: a translation can't be put together of pieces.
func readWords(r ReadField) string {
	field := strings.ReplaceAll(r.Field, "-", " ")
	switch {
	case r.State == string(sheetmodel.Empty):
		return fmt.Sprintf("Read in the field for the %s: nothing is written there.", field)
	case r.Text == "":
		return fmt.Sprintf("The text in the field for the %s is not told, or was not read.", field)
	case r.Certainty > 0:
		return fmt.Sprintf("Read in the field for the %s: %q, %s (%s).", field, r.Text, r.State, claimWords(r.Certainty))
	}
	return fmt.Sprintf("Read in the field for the %s: %q, %s.", field, r.Text, r.State)
}

// claimWords says how often the reader claims to misread ink like this, as a jury would ask it; the figure itself is in the packet's
// data. Past one in ten thousand no claim was ever checked.
func claimWords(certainty float64) string {
	const checked = 10000
	switch once := 1 / (1 - certainty); {
	case certainty >= 1 || once > checked:
		return "by its own claim, the reader misreads such ink less than once in 10,000 times"
	case once < 2.05: // about two
		return "by its own claim, the reader misreads such ink every other time, or more often"
	default:
		scale := math.Pow(10, math.Floor(math.Log10(once))-1) // two digits tell all that the claim is good for
		n := int(math.Round(math.Round(once/scale) * scale))
		return fmt.Sprintf("by its own claim, the reader misreads such ink about once in %s times", thousands(n))
	}
}

// thousands writes a number up to 999,999 with a comma.
func thousands(n int) string {
	if n < 1000 {
		return strconv.Itoa(n)
	}
	return fmt.Sprintf("%d,%03d", n/1000, n%1000)
}

// saysWords puts what the rules say of a row in words for a jury.
func saysWords(why string) string {
	if why == "carries a proposal" {
		return "this row is a ground of the proposal"
	}
	return why
}
