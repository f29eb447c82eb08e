package stack

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Stack is everything that is known of a race's cards at one moment.
type Stack struct {
	Race   *sheetmodel.Race
	Head   int64 // of the store, when it was looked at
	Photos []store.Photo
	Cards  []Card
	Rows   []Row
	// Foreign are sheets whose identity names another race. They are shown and never used.
	Foreign []store.Sheet
	// Unnamed are sides of cards without an identity of which nobody has said which card they are. They hold no rows.
	Unnamed []store.Sheet
	// Questions are those that photos and papers raise; an answered one stays, with its answer in Answers.
	Questions []PhotoQuestion
	Answers   map[string]string // all answers that stand, by question key
	Answerers map[string]string // who gave them
	// Views are what was in view when they were given, as far as that is known; nil: nothing is held against it, see rules.Facts.
	Views map[string][]string
	// Overtaken are answers that count no more, and aren't in Answers: what they were given of has changed.
	Overtaken map[string]rules.Overtaken
	// AnswerLog are all answers in order, by the keys that their questions have now: what was said of a sheet of paper goes with it
	// where it gets another number. Answers of which nobody knows any more what they are about aren't in it.
	AnswerLog []store.Answer
	papers    map[string][]string // at which an answer was given, by the key that its question has now
	Decisions []store.Decision
	rowAt     map[sheetmodel.RowRef]int // where each row stands in Rows; nil while they are laid
	open      []rules.Gap               // cards that were bound to another card's place
	disputes  []store.Dispute           // that nobody has settled since
	Heard     []store.HeardEntry        // the log of what came by radio or voice, all of it
	// Board is all that was made public of the draft's lines, in its order.
	Board []rules.BoardLine
	// Untold are racers of whom no page tells what was made public: the draft says something else by now, and its number may be that of
	// a row that somebody still has to type unseen. It is empty but in what is shown.
	Untold map[jury.Line]bool
}

// PhotoQuestion asks what the paper shows: which of two photos of one side counts, or whether a row
// that was entered stands on the card.
type PhotoQuestion struct {
	sheetmodel.Question
	Card     sheetmodel.CardKey  `json:"card"` // as printed
	Side     sheetmodel.SideName `json:"side"`
	Earlier  int64               `json:"earlier"` // sheets; 0: none to show
	Later    int64               `json:"later"`
	Rows     []int               `json:"rows,omitempty"`  // that differ; 0: the bibs under the drawings
	Head     []sheetmodel.Part   `json:"head,omitempty"`  // parts of head and foot that differ
	Forms    bool                `json:"forms,omitempty"` // the two show two forms: nothing that both show can be compared
	Answered bool                `json:"answered"`
	holds    []int               // rows that wait for the answer, too: the two photos are read otherwise there, if not clearly
}

// Answers to a PhotoQuestion.
const (
	AnswerLater   = "later"
	AnswerEarlier = "earlier"
	// AnswerTwo says that both photos count: they are of two papers with one number. The earlier keeps it.
	AnswerTwo = "two-papers"
	// AnswerSame and AnswerOther say whether a row looks on two photos alike.
	AnswerSame  = "same"
	AnswerOther = "other"
)

// Card is one card, in or not. Its rules.Card.Key is what it was used for, Printed what it says.
type Card struct {
	rules.Card
	Printed     sheetmodel.CardKey
	Phone       string       // from the placing list; never in an export unless asked for
	Front, Back *store.Sheet // those that count; nil: no photo
	Other       []*store.Sheet
	Paper       *store.PaperCard // typed from the paper; nil: not
	Header      []Entry          // header and foot, in the order of the sheet
	Bound       bool             // a person said where it was used, from its header
	ties        []look.Tied
	untied      bool // front and back that count were not read together yet
}

// OneSided reports whether the card has no back that could be photographed, or only one on which there is nothing to fill.
func (c *Card) OneSided() bool {
	return c.Front != nil && c.Front.Read.Plain != nil && c.Front.Read.Plain.OneSided
}

// PanelSheet is the side with the drawing panels: the back, or the front of a card of another make that has them there.
// It is nil if no photo shows them.
func (c *Card) PanelSheet() *store.Sheet {
	if c.Back != nil {
		return c.Back
	}
	if c.OneSided() && slices.ContainsFunc(c.Front.Read.Reading.Readings(), func(r sheetmodel.Reading) bool { return strings.HasPrefix(r.Field, "panel-") }) {
		return c.Front
	}
	return nil
}

// noDrawings reports whether a card of another make has no room for drawings: no panel on its sides, and no place in a row
// to name one. Which sides it has only photos of all of them tell; until then it may have room.
func (c *Card) noDrawings() bool {
	if c.Front == nil || c.Front.Read.Plain == nil || !c.OneSided() && c.Back == nil {
		return false
	}
	for _, s := range []*store.Sheet{c.Front, c.Back} {
		if s == nil {
			continue
		}
		if slices.ContainsFunc(s.Read.Reading.Rows, func(r sheetmodel.Row) bool { return r.Panel.Field != "" }) ||
			slices.ContainsFunc(s.Read.Reading.Readings(), func(r sheetmodel.Reading) bool { return strings.HasPrefix(r.Field, "panel-") }) {
			return false
		}
	}
	return true
}

// UnnamedSides counts the sides of paper of which nobody has said which card they are. One that was read as several forms
// is one side.
func (s *Stack) UnnamedSides() int {
	n := 0
	for i, u := range s.Unnamed {
		if !slices.ContainsFunc(s.Unnamed[:i], func(o store.Sheet) bool { return o.Photo == u.Photo && slices.Contains(u.OtherForms(), o.Part) }) {
			n++
		}
	}
	return n
}

// UnnamedWords say that a side, or several, may be of any card.
func (s *Stack) UnnamedWords() string {
	if n := s.UnnamedSides(); n > 1 {
		return fmt.Sprintf("%d photographed sides are of cards that nobody has named: see Questions.", n)
	}
	return "Nobody has said which card a photographed side is: see Questions."
}

// unnamedGaps leaves every list open while a side may be of any card.
func (s *Stack) unnamedGaps() []rules.Gap {
	if len(s.Unnamed) == 0 {
		return nil
	}
	why := s.UnnamedWords()
	var all []rules.Gap
	for _, run := range s.Race.Runs {
		for _, course := range run.Courses {
			all = append(all, rules.Gap{Run: run.Number, Course: course.Course, Why: why})
		}
	}
	return all
}

// Sheet returns the sheet of a side that counts, or nil.
func (c *Card) Sheet(side sheetmodel.SideName) *store.Sheet {
	if side == sheetmodel.Back {
		return c.Back
	}
	return c.Front
}

// Entry is one field with what machine and people make of it.
type Entry struct {
	Key     string // of the reading
	Part    sheetmodel.Part
	Reading sheetmodel.Reading
	Seen    look.Seen
	ink     look.Ink // as it was counted
}

// Sure reports whether the text may be used: it was seen at least once and nothing speaks against it,
// or nothing is written there.
func (e Entry) Sure() bool {
	switch e.Seen.State {
	case sheetmodel.BibTwoLooks, sheetmodel.BibOneLook:
		return true
	case sheetmodel.BibWaiting, sheetmodel.BibSetAside:
		return len(e.Seen.Nothing) > 0 || e.Reading.State == sheetmodel.Empty && len(e.Seen.Typed) == 0
	}
	return false
}

// Row is one row with ink. Sheet is the one it was read from, nil if typed from the paper.
type Row struct {
	rules.Row
	Card    int // index in Stack.Cards
	Sheet   *store.Sheet
	Ink     sheetmodel.Row
	BibSeen Entry
	Code    Entry
	Gate    Entry
	Panel   Entry
	Rerun   Entry
	// Hint is what the card's foot says of a row that may be only grain of the paper; words for a person,
	// never evidence: the row waits all the same.
	Hint string
	// Nothing are the people on whose word nothing is written in the row; empty: something is. Such a
	// row is listed and is no fact for the rules, like a row without ink.
	Nothing []string
	Added   bool // a person saw it, no reader did
	reused  bool // its code means something else on its card than in the code book
}

// Load looks at a race as it stands in the store.
func Load(ctx context.Context, race *sheetmodel.Race, s *store.Store) (*Stack, error) {
	var l loader
	var errs [13]error
	l.Race = race
	l.Head, errs[0] = s.Head(ctx) // first: what is added meanwhile must look newer than this
	l.Photos, errs[1] = s.Photos(ctx)
	l.sheets, errs[2] = s.Sheets(ctx)
	l.cardTies, errs[3] = s.Ties(ctx)
	l.Decisions, errs[4] = s.Decisions(ctx)
	l.bindings, errs[5] = s.Bindings(ctx)
	l.paper, errs[6] = s.PaperCards(ctx)
	var answers []store.Answer
	answers, errs[7] = s.Answers(ctx)
	l.gaps, errs[8] = s.GapReasons(ctx)
	l.disputes, errs[9] = s.Disputes(ctx)
	l.Heard, errs[10] = s.HeardLog(ctx)
	l.sights, errs[11] = s.Sights(ctx)
	if err := errors.Join(errs[:]...); err != nil {
		return nil, err
	}
	if l.anyNamed() || l.anyTwice() || l.anyReplaced() || slices.ContainsFunc(answers, func(a store.Answer) bool { return a.Paper != "" }) {
		var err1, err2, err3 error
		l.inks, err1 = s.Inks(ctx)
		l.forms, err2 = s.Forms(ctx)
		l.ofTwo, err3 = s.PhotosOfTwo(ctx)
		if err := errors.Join(err1, err2, err3); err != nil {
			return nil, err
		}
		lost, err := s.Lost(ctx, l.Decisions, l.sheets, l.inks)
		if err != nil {
			return nil, err
		}
		store.Follow(l.Decisions, append(slices.Clone(l.sheets), lost...), l.inks)
		if err = l.findGone(ctx, s); err != nil {
			return nil, err
		}
	}
	if err := l.followAnswers(ctx, s, answers); err != nil {
		return nil, err
	}
	forgets, err := s.Forgets(ctx)
	if err != nil {
		return nil, err
	}
	if len(forgets) > 0 {
		l.forgotten = namelessIn(l.Decisions)
	}
	l.openDisputes()
	l.Board = l.board(answers)
	l.lay()
	l.otherFormsAnswers()
	l.leftMarks()
	l.openMarks()
	l.settleNothing()
	l.footHints()
	for i := range l.Cards {
		l.back(&l.Cards[i])
	}
	return &l.Stack, nil
}

// namelessIn lists the forgotten who have typed something.
func namelessIn(decisions []store.Decision) []string {
	var all []string
	for _, d := range decisions {
		if store.Nameless(d.By) && !slices.Contains(all, d.By) {
			all = append(all, d.By)
		}
	}
	return all
}

// Facts is the stack as the rules look at it.
func (s *Stack) Facts() rules.Facts {
	f := rules.Facts{Race: withHeard(s.Race, s.Heard), Answers: s.Answers, AnsweredBy: s.Answerers, Views: s.Views, Overtaken: s.Overtaken, Open: slices.Clone(s.open)}
	for _, c := range s.Cards {
		f.Cards = append(f.Cards, c.Card)
	}
	for _, r := range s.Rows {
		if len(r.Nothing) == 0 {
			f.Rows = append(f.Rows, r.Row)
		}
	}
	for _, q := range s.Questions {
		i := slices.IndexFunc(s.Cards, func(c Card) bool { return c.Printed == q.Card })
		if !q.Answered && i >= 0 {
			f.Open = append(f.Open, rules.Gap{Run: s.Cards[i].Key.Run, Course: s.Cards[i].Key.Course, Why: q.Ask})
		}
	}
	f.Open = append(f.Open, s.reusedGaps()...)
	f.Open = append(f.Open, s.unnamedGaps()...)
	for line, r := range s.Records() {
		if r.Posted == nil && len(r.Decisions) == 0 {
			continue
		}
		j := rules.JuryLine{Run: line.Run, Course: line.Course, Group: line.Group, Bib: line.Bib, Late: r.Late(s.Race.Rules.ProtestMinutes)}
		if r.Posted != nil {
			j.Posted, j.PostedGate, j.PostedCode = true, r.Posted.Gate, r.Posted.Code
		}
		if r.Decision == nil {
			f.Jury = append(f.Jury, j) // what is public now isn't decided
		}
		for _, d := range r.Decisions {
			j.Decided, j.Overruled, j.At = true, d.Verdict == jury.Overruled, clockOf(d.At, s.Race.Zone)
			j.DecidedGate, j.DecidedCode, j.TakenBack = d.Gate, d.Code, r.TakenBack(d)
			f.Jury = append(f.Jury, j)
		}
	}
	return f
}

// clockOf is a moment on the race's clock.
func clockOf(at time.Time, zone string) string {
	if loc, err := sheetmodel.LoadZone(zone); err == nil {
		at = at.In(loc)
	}
	return at.Format("15:04")
}

// Row returns the row with the given place, or nil. Pages ask for each row that waits, many times over: where it stands
// is looked up once. In a copy whose rows were put elsewhere it is searched for.
func (s *Stack) Row(ref sheetmodel.RowRef) *Row {
	if i, ok := s.rowAt[ref]; ok && i < len(s.Rows) && s.Rows[i].Ref == ref {
		return &s.Rows[i]
	}
	i := slices.IndexFunc(s.Rows, func(r Row) bool { return r.Ref == ref })
	if i < 0 {
		return nil
	}
	return &s.Rows[i]
}

// Card returns the card that was used for key, or nil.
func (s *Stack) Card(key sheetmodel.CardKey) *Card {
	i := slices.IndexFunc(s.Cards, func(c Card) bool { return c.Key == key })
	if i < 0 {
		return nil
	}
	return &s.Cards[i]
}

// Wait is one field that waits for a person because it can change the draft. Where Need is
// look.NeedNothing, the row waits for the answer to a question instead: a PhotoQuestion, or whether it is
// struck out.
type Wait struct {
	Row   sheetmodel.RowRef
	Entry Entry
	Need  look.Need
}

// Waiting lists the fields that a pass of the rules still needs, row by row in the order of the
// cards: the bib first, then what happened and the gate. A row that can't change the draft is not in it.
//
// A bib with one look that could still accuse is not shown to anybody, and so is no question that names it. Where a row
// waits for such a question, its bib is in the list too: once it is typed, the question can be asked.
func (s *Stack) Waiting(result rules.Result) []Wait {
	needs := map[sheetmodel.RowRef]rules.RowStanding{}
	for _, st := range result.Standings {
		needs[st.Ref] = st
	}
	var waits []Wait
	for _, r := range s.Rows {
		st := needs[r.Ref]
		if st.Standing != sheetmodel.StandsWaiting {
			continue
		}
		if st.Why == rules.MayBeStruck {
			waits = append(waits, Wait{Row: r.Ref, Entry: r.BibSeen, Need: look.NeedNothing})
			continue // nothing is typed of a row that may be struck out
		}
		if r.BibState == sheetmodel.BibWaiting || st.NeedsLooks > 0 || r.BibState == sheetmodel.BibOneLook && r.MayAccuse(s.Race.Codes) && s.askedByBib(result, r.Ref) {
			waits = append(waits, Wait{Row: r.Ref, Entry: r.BibSeen, Need: r.BibSeen.Seen.Next})
		}
		for _, e := range []Entry{r.Code, r.Gate} {
			if !e.Sure() {
				waits = append(waits, Wait{Row: r.Ref, Entry: e, Need: e.Seen.Next})
			}
		}
	}
	return waits
}

// askedByBib reports whether a question about a row that nobody has answered names a bib.
func (s *Stack) askedByBib(result rules.Result, ref sheetmodel.RowRef) bool {
	return slices.ContainsFunc(result.Findings, func(f sheetmodel.Finding) bool {
		return f.Question != nil && f.Bib != "" && s.Unanswered(result, f) && slices.Contains(f.Rows, ref)
	})
}

// Unanswered reports whether nobody has answered what a finding of a result asks, as it is now.
func (s *Stack) Unanswered(result rules.Result, f sheetmodel.Finding) bool {
	_, overtaken := result.Overtaken[f.Question.Key]
	return overtaken || s.Answers[f.Question.Key] == ""
}

// Without is a copy in which answers that count no more are not given: what is made from it holds nothing against what was in view.
func (s *Stack) Without(overtaken map[string]rules.Overtaken) *Stack {
	left := *s
	left.Views = nil
	if len(overtaken) == 0 {
		return &left
	}
	left.Answers, left.Overtaken = maps.Clone(s.Answers), maps.Clone(s.Overtaken)
	if left.Overtaken == nil {
		left.Overtaken = map[string]rules.Overtaken{}
	}
	for key, was := range overtaken {
		delete(left.Answers, key)
		left.Overtaken[key] = was
	}
	return &left
}

// ViewOf is what a person has in view who answers a question, by its key, see rules.Facts.Views; result is what the rules say of the stack.
// It is empty where the question isn't one of the rules: what those of photos and papers are about, their keys name.
func (s *Stack) ViewOf(result rules.Result, key string) string {
	for _, f := range result.Findings {
		if f.Question != nil && f.Question.Key == key {
			return f.Question.View
		}
	}
	for i := range s.Rows {
		if struck, _ := rules.StruckAnswer(s.Rows[i].Ref); key == struck || key == rules.OtherBibKey(s.Rows[i].Ref) {
			return rules.CardView(s.Cards[s.Rows[i].Card].Card)
		}
	}
	return ""
}

// MayAccuse reports whether what happened in the row could still propose something.
func (r *Row) MayAccuse(book sheetmodel.CodeBook) bool {
	c, known := book.Find(r.Row.Code)
	if !known || !r.CodeSure {
		return true
	}
	switch c.Effect {
	case sheetmodel.EffectPropose, sheetmodel.EffectLostSki, sheetmodel.EffectLostTwo, sheetmodel.EffectOvertaken, sheetmodel.EffectMended:
		return true
	case sheetmodel.EffectInform, sheetmodel.EffectLeft, sheetmodel.EffectHindered:
		return false
	}
	return true
}
