package rules

import "gatefold/sheetmodel"

// Facts is all that Check looks at: one race, all runs and courses that have cards.
type Facts struct {
	Race    *sheetmodel.Race
	Cards   []Card
	Rows    []Row
	Answers map[string]string // a person's answers, by Question.Key
	// AnsweredBy names who gave them, by Question.Key; only words rest on it.
	AnsweredBy map[string]string
	// Views are what the answers were given of, by Question.Key, see sheetmodel.Question.View: an answer that was given of
	// something else than is there now counts no more. What was said alike of several, one after the other, was said of each; the
	// last comes first. An answer without any counts as it is. Nil: no question gets a view, as in facts from which something was
	// taken, where every view would be another.
	Views map[string][]string
	// Overtaken are answers of which is known already that they count no more, by Question.Key; they aren't in Answers.
	Overtaken map[string]Overtaken
	// Jury is what was made public and decided, a line at a time.
	Jury []JuryLine
	// Open is what else is asked about the paper, such as which of two photos counts: while it is open,
	// the draft of that run and course is not complete.
	Open []Gap
}

// JuryLine is what referee and jury did about one line of the draft.
type JuryLine struct {
	Run    int
	Course string
	Group  string
	Bib    string
	// Posted: the line was made public, with this gate and code.
	Posted     bool
	PostedGate string
	PostedCode string
	// Decided: the jury decided, and if Overruled, against the proposal.
	Decided   bool
	Overruled bool
	// TakenBack: what the jury let stand was withdrawn in public since; its word keeps nobody from run 2 any more.
	TakenBack bool
	// DecidedGate and DecidedCode are those of the line that was before the jury; empty: what was made public. A
	// racer with several faults in a run has one JuryLine for each decision.
	DecidedGate string
	DecidedCode string
	At          string // HH:MM of the decision, official time; only words rest on it
	Untold      bool   // a line of the racer that was public or decided isn't told, for what stands in its row isn't
	Late        bool   // the protest came after the protest period
	was         string // the racer as the start list had them when it was decided, where it has another name for them now
	moved       string // the run and course that it was decided in, where its row may have been taken from there to here since
}

// Card is what is known of one card, in or not.
type Card struct {
	Key    sheetmodel.CardKey
	Spare  bool     // a numbered spare, bound to its run and course by a person
	In     bool     // its rows are here: photographed or typed from paper
	Gates  []string // labels the judge watched: from the placing list or the confirmed header; empty: not known
	Judge  string
	Group  string // ringed on the card; empty: nothing ringed
	Ringed string // course ringed on the card; empty: nothing ringed
	// HeaderFrom and HeaderTo are the gates as written on the card, empty when not written or not clear.
	HeaderFrom string
	HeaderTo   string
	RowCount   *int // "rows that stand" as written; nil: not answered
	CardOf     int  // card n ...
	CardTotal  int  // ... of m, 0: not written
	// Strips are the bibs written under drawings on the back, counted; what they read is not told here.
	Strips []Strip
	// NoDrawings: the card has no room for drawings, as some leagues' have none.
	NoDrawings bool
	// Happened is the tick of a card that asks whether anything happened; nil: it doesn't ask, or isn't answered.
	Happened *bool
	// Passed are the racers marked as passed on a card that has a mark for every racer; nil: a card for faults alone.
	Passed []sheetmodel.Bib
	// Listed are the bibs that such a card has in print, a row each; nil: every racer is expected on it.
	Listed []sheetmodel.Bib
	// Untold are those whose mark can't be told: perhaps a mark, perhaps one taken back.
	Untold    []sheetmodel.Bib
	GapReason string // a person closed the gap of a missing card with this reason
	BackOnly  bool   // it isn't in, yet its back is
	// Back says whether a photo of its back is needed still.
	BackState   BackState
	BackReason  string // why it will not come, where a person closed that gap
	BackAgainst int    // the row that names a drawing, or may, though a person says that none is on the back; 0: none
	// FrontPaper and BackPaper name the photos of its rows and of its drawings that count, and as which form they were read; where
	// it is typed from paper, how many rows it has. They are only compared, with those that were there when a person answered.
	FrontPaper string
	BackPaper  string
}

// BackState says whether the back of a card that is in is known.
type BackState int

// The states of a back.
const (
	BackIn      BackState = iota // photographed, seen by somebody who found no fault drawn there, or there is none to photograph
	BackMissing                  // nobody knows what is drawn there
	BackClosed                   // nobody will: a person gave the reason
)

// Strip is how many bibs stand under one drawing.
type Strip struct {
	Panel string
	Bibs  int
}

// Row is one row that has ink, with the state of its bib. Empty rows are not passed.
type Row struct {
	Ref      sheetmodel.RowRef
	Bib      string // the text the looks agree on, or the best reading while waiting
	Group    string // settled by a person where one number is in two groups
	BibState sheetmodel.BibState
	Reason   string // why it waits or is set aside
	Code     string
	Gate     string
	Panel    string
	// CodeSure, GateSure and PanelSure are false while the reading waits for a person.
	CodeSure  bool
	GateSure  bool
	PanelSure bool
	Drawn     bool // the named panel holds ink and its strip or the row names it
	PathDoubt bool // nothing beyond the gates as sketched is seen in it; a doubt, never proof
	Rerun     bool
	// Struck: a line is seen through the row. Whether its judge struck it out, the card's foot or a person says.
	Struck bool
	// Blank: it was entered, but a person says that nothing stands there on the paper. It is set aside.
	Blank bool
	// Unsure: all its ink is so faint that it may be grain of the paper, and nobody has entered anything.
	Unsure bool
	// Unread: no reader makes a text of its bib, and nobody has entered anything: what stands there may be a row that is struck out.
	Unread bool
	// Entered: a person has typed something of it, whatever became of its ink since.
	Entered bool
	// Veiled: it is set aside only so that its bib isn't told, not by a person.
	Veiled bool
}

// RowStanding says where one row ended up.
type RowStanding struct {
	Ref      sheetmodel.RowRef   `json:"ref"`
	Standing sheetmodel.Standing `json:"standing"`
	Why      string              `json:"why"`
	// NeedsLooks is how many more looks its bib needs before the row can carry what it says.
	NeedsLooks int `json:"needs_looks"`
	// CanAdd and CanHold are how many proposals a waiting row may add, and may hold back, once its bib,
	// code and gate are settled, whatever they turn out to be. No candidate is looked at.
	CanAdd  int `json:"can_add"`
	CanHold int `json:"can_hold"`
	// Group is the group of the starter whom the row names, where the start list, the card's ring or a person
	// says which; empty too where groups have no names. It is no part of the findings' file.
	Group string `json:"-"`
}

// Result is one pass over the facts.
type Result struct {
	Findings  []sheetmodel.Finding `json:"findings"`
	Calls     []sheetmodel.Call    `json:"calls"`
	Standings []RowStanding        `json:"standings"`
	// Incomplete lists, for each run and course, why the draft is not complete; empty: complete.
	Incomplete []Gap `json:"incomplete"`
	// Overtaken are the answers that count no more, by Question.Key: what was in view when they were given has changed.
	Overtaken map[string]Overtaken `json:"-"`
}

// Gap is one reason why the draft of a run and course is not complete.
type Gap struct {
	Run    int    `json:"run"`
	Course string `json:"course"`
	Why    string `json:"why"`
	// rows are those it is about, for Hiding; a pointer, so that gaps stay comparable.
	rows *[]sheetmodel.RowRef
}

// About are the rows that the gap is about, none if it is about no row.
func (g Gap) About() []sheetmodel.RowRef {
	if g.rows == nil {
		return nil
	}
	return *g.rows
}
