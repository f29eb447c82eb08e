package review

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"gatefold/review/jury"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// postingView is what is on the notice board and what follows from it. Printed, only the board is left.
type postingView struct {
	frame
	Now      string
	Period   string
	Basis    string
	Sections []postingSection
	HasRun2  bool
	Run2     []rules.Run2Line
	Run2Off  int    // racers not shown while rows wait
	Run2Free string // a disqualification keeps nobody out, and what says so
	Stay, Go []judgeView
	Releases string
	Release  string // what says so
}

type postingSection struct {
	Run    int
	Course string
	Name   string
	Lines  []postedView
	Hidden int // lines that the draft no longer holds, while a row still has to be typed unseen
	New    []newLine
	Groups []sheetmodel.Group
}

type postedView struct {
	rules.BoardLine
	Meaning, From, To, Left string
	StruckAt                string
	Form                    bool
	Packet                  string
	Note                    string // how the draft differs now
}

// newLine is a line of the draft that is not public, or not as it is now.
type newLine struct {
	sheetmodel.Call
	Form string
}

type judgeView struct{ Words, Why string }

// board returns all that was made public, in its order.
func (d *Desk) board(ctx context.Context, m *moment) ([]rules.BoardLine, error) {
	answers, err := d.opt.Store.Answers(ctx)
	if err != nil {
		return nil, err
	}
	var log []jury.Entry
	for _, a := range answers {
		log = append(log, jury.Entry{Key: a.Question, Value: a.Value})
	}
	return rules.Board(jury.Notices(log), m.race.Rules.ProtestMinutes), nil
}

// standing is the line of a racer that stands on the board, or nil.
func standing(board []rules.BoardLine, l jury.Line) *rules.BoardLine {
	i := slices.IndexFunc(board, func(b rules.BoardLine) bool { return b.Struck == nil && lineAt(b) == l })
	if i < 0 {
		return nil
	}
	return &board[i]
}

func lineAt(b rules.BoardLine) jury.Line {
	return jury.Line{Run: b.Run, Course: b.Course, Group: b.Group, Bib: b.Bib}
}

func callAt(c sheetmodel.Call) jury.Line {
	return jury.Line{Run: c.Run, Course: c.Course, Group: c.Group, Bib: c.Bib}
}

// firm are the calls that stand, by line.
func (m *moment) firm() map[jury.Line]sheetmodel.Call {
	firm := map[jury.Line]sheetmodel.Call{}
	for _, c := range m.said.Calls {
		if !c.Waiting {
			firm[callAt(c)] = c
		}
	}
	return firm
}

// toPost are the calls of a run and course that are to be made public, in the draft's order.
func (m *moment) toPost(board []rules.BoardLine, run int, course string) []newLine {
	var all []newLine
	for _, c := range m.said.Calls {
		if c.Run != run || c.Course != course || c.Waiting || c.Overruled {
			continue
		}
		if on := standing(board, callAt(c)); on != nil && on.Gate == c.Gate && on.Code == c.Code {
			continue
		}
		all = append(all, newLine{c, url.Values{"group": {c.Group}, "bib": {c.Bib}, "gate": {c.Gate}, "code": {c.Code}}.Encode()})
	}
	return all
}

// hides reports whether a line stays hidden: the draft no longer says it, so its number may be that of a
// row that somebody still has to type unseen. All such lines of the run are hidden alike, so that hiding
// one tells nothing.
func (m *moment) hides(firm map[jury.Line]sheetmodel.Call, b rules.BoardLine) bool {
	if c, ok := firm[lineAt(b)]; ok && c.Gate == b.Gate && c.Code == b.Code {
		return false
	}
	return slices.ContainsFunc(m.keysOf(b.Run, b.Course), func(key string) bool { return m.covered[key] })
}

// keysOf are the readings of a run and course.
func (m *moment) keysOf(run int, course string) []string {
	var keys []string
	for i := range m.shown.Rows {
		r := &m.shown.Rows[i]
		if r.Ref.Run == run && r.Ref.Course == course {
			for _, e := range r.Boxes() {
				keys = append(keys, e.Key)
			}
		}
	}
	return keys
}

func (d *Desk) showPosting(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "Posting", "posting")
	if err != nil {
		return err
	}
	board, err := d.board(r.Context(), m)
	if err != nil {
		return err
	}
	now, err := sheetmodel.OfficialTime(d.opt.Now(), m.race)
	if err != nil {
		return err
	}
	set := m.race.Rules
	v := postingView{frame: f, Now: now.Format("15:04:05"), Releases: set.ReleasedBy, Release: set.ReleaseBasis, HasRun2: len(m.race.Runs) > 1}
	for _, setting := range set.Settings(m.race.Discipline) {
		switch setting.Key {
		case "protest_minutes":
			v.Period, v.Basis = setting.Words, setting.Basis
		case "run2_after_dsq":
			if set.Run2AfterDSQ == sheetmodel.Run2Yes {
				v.Run2Free = setting.Words
			}
		}
	}
	if v.Releases == "" {
		v.Releases = "TD"
	}
	firm := m.firm()
	hidden := map[sheetmodel.Bib]bool{}
	for _, run := range m.race.Runs {
		for _, c := range run.Courses {
			sec := postingSection{Groups: m.race.Groups, Run: run.Number, Course: c.Course, Name: courseWords(run.Number, c.Course), New: m.toPost(board, run.Number, c.Course)}
			for _, b := range board {
				if b.Run != run.Number || b.Course != c.Course {
					continue
				}
				if m.hides(firm, b) {
					sec.Hidden++
					hidden[sheetmodel.Bib{Group: b.Group, Number: b.Bib}] = true
					continue
				}
				sec.Lines = append(sec.Lines, m.posted(b, firm, now, s))
			}
			if len(sec.Lines)+len(sec.New)+sec.Hidden > 0 {
				v.Sections = append(v.Sections, sec)
			}
		}
	}
	v.run2(m, board, hidden)
	for _, n := range rules.JudgeNeeds(m.race, m.said) {
		if n.Stay {
			v.Stay = append(v.Stay, judgeView{courseWords(n.Card.Run, n.Card.Course), n.Why})
			continue
		}
		v.Go = append(v.Go, judgeView{Words: fmt.Sprintf("%s, card %d", courseWords(n.Card.Run, n.Card.Course), n.Card.Card)})
	}
	if err := d.serveAll(r, s, m, "posting"); err != nil {
		return err
	}
	return d.render(w, "posting", http.StatusOK, v)
}

func (m *moment) posted(b rules.BoardLine, firm map[jury.Line]sheetmodel.Call, now time.Time, s *session) postedView {
	clock := func(at rules.Moment) string { return time.Unix(int64(at), 0).In(now.Location()).Format("15:04:05") }
	v := postedView{BoardLine: b, From: clock(b.Posted), To: clock(b.Until), Packet: packetPath(b.Bib, b.Group)}
	if !s.roles().Settle() {
		v.Packet = ""
	}
	if code, ok := m.race.Codes.Find(b.Code); ok {
		v.Meaning = code.Meaning
	}
	if b.Struck != nil {
		v.StruckAt = clock(*b.Struck)
		return v
	}
	v.Form = s.roles().Settle()
	v.Left = "period over"
	if left := int64(b.Until) - now.Unix(); left >= 0 {
		v.Left = fmt.Sprintf("%d:%02d left", left/60, left%60)
	}
	switch call, ok := firm[lineAt(b)]; {
	case !ok:
		v.Note = "The draft no longer has this line: referee or jury say whether it is withdrawn."
	case call.Gate != b.Gate || call.Code != b.Code:
		v.Note = "The draft says something else now; posted anew, it gets a clock of its own."
	}
	return v
}

func (v *postingView) run2(m *moment, board []rules.BoardLine, hidden map[sheetmodel.Bib]bool) {
	var protested, upheld []sheetmodel.Bib
	for line, r := range jury.Read(m.shown.Answers, m.shown.Answerers) {
		who := sheetmodel.Bib{Group: line.Group, Number: line.Bib}
		switch {
		case line.Run != 1:
		case r.ProtestOpen():
			protested = append(protested, who)
		case r.Decision != nil && r.Decision.Verdict == jury.Upheld:
			upheld = append(upheld, who)
		}
	}
	for _, l := range rules.Run2Needs(m.race, board, protested, upheld) {
		if hidden[sheetmodel.Bib{Group: l.Group, Number: l.Bib}] {
			v.Run2Off++
			continue
		}
		v.Run2 = append(v.Run2, l)
	}
}

// postPosting keeps that lines were made public, that one was withdrawn, or that its time was entered wrongly.
func (d *Desk) postPosting(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	board, err := d.board(r.Context(), m)
	if err != nil {
		return err
	}
	at, err := officialClock(m.race, r.PostFormValue("at"))
	if err != nil {
		return &pageError{http.StatusUnprocessableEntity, "The time can't be read", "Go back and write it as 12:04 or 12:04:30, official time."}
	}
	line := lineOf(r)
	kept := map[jury.Line]jury.Posting{}
	words := ""
	switch do := r.PostFormValue("do"); do {
	case "posted":
		ready := m.toPost(board, line.Run, line.Course)
		for _, form := range r.PostForm["line"] {
			i := slices.IndexFunc(ready, func(n newLine) bool { return n.Form == form })
			if i < 0 {
				return &pageError{http.StatusConflict, "The draft has changed since this page was loaded", "Nothing was kept. Look at Posting again and compare it with what hangs on the board."}
			}
			kept[callAt(ready[i].Call)] = jury.Posting{At: at, Gate: ready[i].Gate, Code: ready[i].Code}
		}
		words = "Made public at " + at.Format("15:04:05") + ": " + plural(len(kept), "line", "lines") + "."
	case "withdrawn", "corrected":
		on := standing(board, line)
		if on == nil {
			return &pageError{http.StatusConflict, "This line is not on the board any more", "Nothing was kept. Look at Posting again."}
		}
		p := jury.Posting{At: at, Gate: on.Gate, Code: on.Code, Corrected: do == "corrected", Withdrawn: do == "withdrawn"}
		words = "The time is corrected to " + at.Format("15:04:05") + "."
		if p.Withdrawn {
			p.Why = strings.Join(strings.Fields(r.PostFormValue("why")), " ")
			if p.Why == "" {
				return &pageError{http.StatusUnprocessableEntity, "The reason is missing", "Go back and say why the line is withdrawn; it stays on the board, struck."}
			}
			words = "The line is withdrawn at " + at.Format("15:04:05") + " and stays, struck."
		}
		kept[line] = p
	}
	if len(kept) == 0 {
		return &pageError{http.StatusUnprocessableEntity, "No line was chosen", "Go back and mark the lines that were made public."}
	}
	var all []store.Answer
	for l, p := range kept {
		all = append(all, store.Answer{Question: jury.Key(l, p), Value: jury.Value(p), By: s.person})
	}
	slices.SortFunc(all, func(a, b store.Answer) int { return strings.Compare(a.Question, b.Question) })
	if err := d.opt.Store.Answer(r.Context(), all...); err != nil {
		return err
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/posting")
}
