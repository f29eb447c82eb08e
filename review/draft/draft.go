package draft

import (
	"fmt"
	"slices"
	"time"

	"gatefold/review/crop"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Format is the format number of draft.json.
const Format = 1

// Notice stands on every page and in every file.
const Notice = "Draft for the referee. Referee and jury decide under their own rule book. Bibs are as written by the judge."

// Draft is the list for the referee at one moment.
type Draft struct {
	Format   int       `json:"format"`
	Notice   string    `json:"notice"`
	Race     RaceHead  `json:"race"`
	At       time.Time `json:"at"` // official race time
	Photos   Photos    `json:"photos"`
	Sections []Section `json:"sections"` // by run and course
	// Incomplete says whether anything is open anywhere.
	Incomplete bool `json:"incomplete"`
}

// RaceHead is what identifies the race.
type RaceHead struct {
	ID         string   `json:"id"`
	Name       string   `json:"name"`
	Date       string   `json:"date"`
	Zone       string   `json:"time_zone"`
	Discipline string   `json:"discipline"`
	Rules      string   `json:"rule_settings"`
	CodeBook   string   `json:"code_book"`
	Notes      []string `json:"notes,omitempty"` // local rules, with their numbers
	// Settings are what holds where rule books differ, each with what it rests on.
	Settings []sheetmodel.Setting `json:"settings"`
}

// Photos counts what came in.
type Photos struct {
	Total    int `json:"total"`
	Accepted int `json:"accepted"`
	Refused  int `json:"refused"`
	Unread   int `json:"not_read"`
	Foreign  int `json:"other_race"` // sheets of another race
}

// Section is one course in one run. Run 0 holds cards that nobody has bound to a run yet.
type Section struct {
	Run        int                  `json:"run"`
	Course     string               `json:"course"`
	Incomplete []string             `json:"incomplete"` // reasons; empty: complete
	Lists      Lists                `json:"lists"`
	Proposed   []Line               `json:"proposed"`
	Waiting    []Line               `json:"waiting"`      // would be proposals, lack a look or an answer
	Overruled  []Line               `json:"overruled"`    // the jury decided against them; their rows stay
	Rows       []Row                `json:"waiting_rows"` // rows that wait and are in no line
	SetAside   []Row                `json:"set_aside"`
	Recorded   []Row                `json:"recorded"` // propose nothing
	Missing    []MissingCard        `json:"missing_cards"`
	Backs      []MissingCard        `json:"missing_backs"` // cards that are in without their backs
	OpenGates  []string             `json:"open_gates"`    // sentences on gates that nobody's card covers
	ForJury    []sheetmodel.Finding `json:"for_jury"`      // what a person has said is the jury's to look at
	Conflicts  []sheetmodel.Finding `json:"conflicts"`     // what needs a person
	Notes      []sheetmodel.Finding `json:"notes"`         // warnings and information
	Counts     Counts               `json:"counts"`
	// Unmade counts the lines that are public and that the draft doesn't make as they hang there. Which they are says the page Posting, once
	// nothing of the run is to be typed unseen.
	Unmade int `json:"public_not_in_draft"`
	// beyond: a row that waits in an earlier run, or on a card that is bound to none yet, may take back a line of this one.
	beyond bool
}

// NotFinal is said of all proposed lines of a section while a row of it waits. That row may be of the same racer, and ask anew what was
// answered about a line: said of that line alone it would tell what is still to be typed, so it is said of none by itself.
const NotFinal = "None of these lines is final: a row that still waits may take one back once it is settled."

// MayTakeBack reports whether a row that waits may take back a line that is proposed: one of this run, one of run 1 by which the racer may not
// have started, or one of a spare that nobody has bound yet.
func (s *Section) MayTakeBack() bool {
	may := func(rows []Row) bool { return slices.ContainsFunc(rows, func(r Row) bool { return r.CanHold > 0 }) }
	beside := func(lines []Line) bool {
		return slices.ContainsFunc(lines, func(l Line) bool { return may(l.Rows) || may(l.Further) })
	}
	return len(s.Proposed) > 0 && (s.beyond || may(s.Rows) || beside(s.Proposed) || beside(s.Waiting))
}

// Unmade counts the lines of a notice board that are public and that the calls of a draft don't make as they hang there.
func Unmade(board []rules.BoardLine, calls []sheetmodel.Call, of func(rules.BoardLine) bool) (n int) {
	for _, b := range board {
		made := slices.ContainsFunc(calls, func(c sheetmodel.Call) bool {
			return onBoard(c, b) && !c.Waiting && !c.Overruled && c.Gate == b.Gate && c.Code == b.Code
		})
		if b.Struck == nil && !made && of(b) {
			n++
		}
	}
	return n
}

// onBoard reports whether a call and a line of the notice board are of one racer in one run.
func onBoard(c sheetmodel.Call, b rules.BoardLine) bool {
	return c.Run == b.Run && c.Course == b.Course && c.Group == b.Group && c.Bib == b.Bib
}

// UnmadeWords say that lines are public and not in the draft; empty where none is.
func (s *Section) UnmadeWords() string {
	switch s.Unmade {
	case 0:
		return ""
	case 1:
		return "1 line that is public is not in the draft as it stands: the referee decides what happens on the board."
	}
	return fmt.Sprintf("%d lines that are public are not in the draft as it stands: the referee decides what happens on the board.", s.Unmade)
}

// Lists says which of the day's lists were handed in.
type Lists struct {
	DidNotStart  List `json:"did_not_start"`
	DidNotFinish List `json:"did_not_finish"`
	Reruns       List `json:"re_runs"`
}

// List is one of them: given with so many bibs, none, or not known.
type List struct {
	Given sheetmodel.Given `json:"given"`
	Bibs  int              `json:"bibs"`
}

// Counts are those of the section.
type Counts struct {
	CardsExpected int `json:"cards_expected"`
	CardsIn       int `json:"cards_in"`
	Rows          int `json:"rows"`
	Proposed      int `json:"proposed"`
	Waiting       int `json:"waiting"`
	SetAside      int `json:"set_aside"`
	Recorded      int `json:"recorded"`
}

// Line is one proposed disqualification.
type Line struct {
	Bib      string   `json:"bib"` // as written by the judge
	Group    string   `json:"group,omitempty"`
	Name     string   `json:"name,omitempty"` // only if asked for
	Club     string   `json:"club,omitempty"` // only if asked for
	Gate     string   `json:"gate"`
	Code     string   `json:"code"`
	Meaning  string   `json:"meaning"`
	Basis    string   `json:"basis"` // article or local rule
	Rows     []Row    `json:"rows"`  // that carry it, the leading one first
	Further  []Row    `json:"further"`
	WaitsFor []string `json:"waits_for"`
	Jury     *Jury    `json:"jury,omitempty"` // what was made public and decided
}

// Jury is what referee and jury did about a line, in official race time.
type Jury struct {
	PostedAt    *time.Time `json:"posted_at,omitempty"`
	OtherList   bool       `json:"start_list_changed,omitempty"` // since it was made public
	PostedOpen  string     `json:"posted_while_open,omitempty"`  // what was open in the list then; it went out on the referee's word
	ProtestTo   *time.Time `json:"protest_until,omitempty"`      // the last moment in time
	ProtestAt   *time.Time `json:"protest_at,omitempty"`
	ProtestFrom string     `json:"protest_from,omitempty"`
	ProtestLate bool       `json:"protest_late,omitempty"`
	Verdict     string     `json:"verdict,omitempty"`    // upheld or overruled
	DecidedOn   string     `json:"decided_on,omitempty"` // the racer's line that was before the jury, where it isn't this one
	DecidedAt   *time.Time `json:"decided_at,omitempty"`
	Present     []string   `json:"present,omitempty"` // members, by function
	Reason      string     `json:"reason,omitempty"`
	EnteredBy   string     `json:"entered_by,omitempty"`
	// OtherProtests are those beside the one above, which is the newest that is open, or else the newest. Earlier is what the jury had decided
	// on the line before its last word, each time on another protest.
	OtherProtests []Protest `json:"other_protests,omitempty"`
	Earlier       []Verdict `json:"earlier_decisions,omitempty"`
	CoachShown    bool      `json:"coach_may_see,omitempty"` // the referee allowed it
	// Lacks are what a decision is usually made with and this one wasn't. It is kept all the same: the jury decides.
	Lacks []string `json:"lacks,omitempty"`

	posted   string // what was made public, where the line says something else now
	open     bool   // a protest on the line that the jury has not decided
	answered string // which protest the decision answers, where there are several
}

// Protest is one that was handed in on a line, in official race time.
type Protest struct {
	At   time.Time `json:"at"`
	From string    `json:"from,omitempty"`
	Late bool      `json:"late,omitempty"`
}

// Verdict is a decision of the jury's on a line that a later one has replaced.
type Verdict struct {
	Verdict   string     `json:"verdict"` // upheld or overruled
	DecidedAt time.Time  `json:"decided_at"`
	ProtestAt *time.Time `json:"protest_at,omitempty"` // of the protest that it answers
	Present   []string   `json:"present,omitempty"`
	Reason    string     `json:"reason,omitempty"`
}

// Row is one row of a card as evidence.
type Row struct {
	Run      int       `json:"run"`
	Course   string    `json:"course"`
	Card     int       `json:"card"`
	Row      int       `json:"row"`
	Spare    bool      `json:"spare,omitempty"`
	Place    string    `json:"place,omitempty"`
	Judge    string    `json:"judge,omitempty"` // only if asked for
	Phone    string    `json:"phone,omitempty"` // only if asked for
	Reading  string    `json:"reading"`         // key of the bib's reading
	Bib      string    `json:"bib"`             // as written by the judge; while doubtful, how it looks
	BibState string    `json:"bib_state"`
	Rivals   []string  `json:"rivals,omitempty"` // other texts that ink or people show
	Code     string    `json:"code"`
	Gate     string    `json:"gate"`
	Panel    string    `json:"panel,omitempty"`
	Why      string    `json:"why"`
	Looks    []Look    `json:"looks"`
	Settled  []Settled `json:"settled"`
	// Picture is the crop of the row, Drawing that of the panel it names. Without a picture the paper
	// itself has to be looked at.
	Picture *crop.Crop `json:"picture,omitempty"`
	Drawing *crop.Crop `json:"drawing,omitempty"`
	// CanAdd and CanHold are how many proposals the row may add or hold back once it is settled.
	CanAdd  int    `json:"can_add,omitempty"`
	CanHold int    `json:"can_hold,omitempty"`
	nothing bool   // people say that nothing is written in the row
	group   string // of the starter whom the row names; empty: not known, or groups have no names
}

// Look is one of the looks a bib rests on.
type Look struct {
	Kind  sheetmodel.LookKind `json:"kind"`
	Words string              `json:"words"`
	Text  string              `json:"text"`
	By    string              `json:"by"`
	At    *time.Time          `json:"at,omitempty"` // official race time; a reading has none
}

// Settled is one decision of a person about a field of the row, also those that no longer stand.
type Settled struct {
	Field    string           `json:"field"`
	Text     string           `json:"text"`
	Basis    sheetmodel.Basis `json:"basis"`
	Blind    bool             `json:"blind"`
	ReadBack bool             `json:"read_back"`
	By       string           `json:"by"`
	At       time.Time        `json:"at"` // official race time
	Undone   bool             `json:"undone"`
	Note     string           `json:"note,omitempty"`
}

// MissingCard is a card that was expected and isn't in, or whose back isn't.
type MissingCard struct {
	Card   int      `json:"card"`
	Place  string   `json:"place,omitempty"`
	Judge  string   `json:"judge,omitempty"` // only if asked for
	Phone  string   `json:"phone,omitempty"` // only if asked for
	Gates  []string `json:"gates"`
	Reason string   `json:"reason,omitempty"` // a person closed the gap with it
}
