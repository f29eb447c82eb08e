package review

import (
	"cmp"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// postingView is what is on the notice board and what follows from it. Printed, only the board is left.
type postingView struct {
	frame
	Now      string
	Today    string // the clock's day where it isn't the race's
	Period   string
	Basis    string
	Sections []postingSection
	HasRun2  bool
	Run2     []rules.Run2Line
	Run2Off  int    // racers not shown while rows wait
	Run2Free string // a disqualification keeps nobody out, and what says so
	Stay     []stayView
	Staying  int // judges who stay
	Go       []judgeView
	GoBut    string // cards that keep somebody of whom it isn't known who it is; empty: none
	Releases string
	Release  string // what says so
}

type postingSection struct {
	Run    int
	Course string
	Name   string
	Lines  []postedView
	Gaps   []postedGap
	Hidden int // lines that the draft no longer holds, while a row still has to be typed unseen
	New    []newLine
	Fresh  int // of the new lines, those that were never struck
	Groups []sheetmodel.Group
	Open   string // what is open in this list; empty: nothing
	Wrong  string // why the form came back
	At     string // time in its form
	Word   bool   // the referee's word was given in it
}

type postedView struct {
	rules.BoardLine
	Meaning, From, To, Left string
	StruckAt                string
	Form                    bool
	Packet                  string
	Note                    string // how the draft differs now
	Hint                    string // that the start list was changed since
}

// postedGap says of lines what was open in the list when they were made public.
type postedGap struct{ Bibs, Open string }

// newLine is a line of the draft that is not public, or not as it is now.
type newLine struct {
	sheetmodel.Call
	Form   string
	Marked bool   // in a form that came back
	Struck string // it hung there and was struck: how, in words. It goes out again only if it is marked by itself.
}

// judgeView is a judge by their card. Name and phone are empty for somebody who is only to look. Rows are those that may be
// asked about, Took where others took over at the place.
type judgeView struct {
	Words, Judge, Phone, Rows, Took string
	Nameless                        bool // nobody has said who it is
}

// stayView are judges who stay for one reason.
type stayView struct {
	Words  string
	Judges []judgeView
}

// disputed is what two copies of the race say otherwise about a line, and nobody has entered again; nil: nothing.
func (m *moment) disputed(question string) *store.Dispute {
	all := m.full.Disputes()
	i := slices.IndexFunc(all, func(o store.Dispute) bool { return o.Kind == store.DisputeAnswer && o.Subject == question })
	if i < 0 {
		return nil
	}
	return &all[i]
}

// entered is a posting of a line that the board has already, as it is kept: its time is corrected. Where two copies have it
// otherwise and one of them says that it was withdrawn, it is made public once more, for that word stays in the log.
func (m *moment) entered(line jury.Line, p jury.Posting) jury.Posting {
	p.Corrected = true
	if o := m.disputed(jury.Key(line, p)); o != nil {
		p.Corrected = !jury.Withdraws(o.Ours) && !jury.Withdraws(o.Theirs)
	}
	return p
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
		if was, ok := firm[callAt(c)]; !c.Waiting && (!ok || was.Overruled) {
			firm[callAt(c)] = c // a racer may have a line that was overruled, and another
		}
	}
	return firm
}

// unmadeAll counts them in all runs and courses, behind no veil: only how many they became by somebody's own step may be told.
func (m *moment) unmadeAll() int {
	return draft.Unmade(m.full.Board, m.result.Calls, func(rules.BoardLine) bool { return true })
}

// lostPublic is said to whoever has just done what took a line out of the draft that is public; empty: nobody has.
func lostPublic(before, after int) string {
	if after <= before {
		return ""
	}
	return " It has taken " + plural(after-before, "line that is public", "lines that are public") + " out of the draft: tell the referee, who decides what happens on the board."
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
		all = append(all, newLine{Call: c, Form: url.Values{"group": {c.Group}, "bib": {c.Bib}, "gate": {c.Gate}, "code": {c.Code}}.Encode()})
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

// openWords says what is open in the list of a run and course: how many entries, which gates. Empty: nothing.
func (m *moment) openWords(run int, course string) string {
	beyond := ""
	if draft.HeldFromBeyond(m.shown, m.said, run) {
		beyond = "a row that waits in another run, or on a spare, may take a line of this list back"
	}
	things := m.things[courseWords(run, course)]
	if things == 0 {
		return beyond
	}
	entries, rows := 0, map[sheetmodel.RowRef]bool{}
	for _, w := range m.waits {
		if w.Row.Run == run && w.Row.Course == course && w.Need != look.NeedNothing {
			entries++
			rows[w.Row] = true
		}
	}
	words := "no entry waits"
	if entries > 0 {
		words = plural(entries, "entry waits", "entries wait")
	}
	if entries > len(rows) { // the things are counted by rows
		words += " in " + plural(len(rows), "row", "rows")
	}
	switch gates := m.openGates(run, course); {
	case gates == nil:
		words += ", the gates aren't known"
	case len(gates) == 0:
		words += ", a card is in for every gate"
	case len(gates) == 1:
		words += ", no card is in for gate " + gates[0]
	default:
		words += ", no card is in for gates " + racefolder.SpellGates(gates, m.gatesIn(run, course))
	}
	if words += "; " + plural(things, "thing is", "things are") + " open in all"; beyond != "" {
		words += "; " + beyond
	}
	return words
}

func (m *moment) gatesIn(run int, course string) []string {
	if of := m.race.Run(run); of != nil {
		if c := of.Course(course); c != nil {
			return c.Gates
		}
	}
	return nil
}

// openGates are the gates of a course for which no card is in, from the start down; nil: the gates aren't known.
func (m *moment) openGates(run int, course string) []string {
	all := m.gatesIn(run, course)
	if len(all) == 0 {
		return nil
	}
	in := map[string]bool{}
	for i := range m.full.Cards {
		if c := &m.full.Cards[i]; c.In && c.Key.Run == run && c.Key.Course == course {
			for _, g := range m.gatesOf(c) {
				in[g] = true
			}
		}
	}
	open := []string{}
	for _, g := range all {
		if !in[g] {
			open = append(open, g)
		}
	}
	return open
}

func (d *Desk) showPosting(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.posting(w, r, s, http.StatusOK, "")
}

// posting shows the board; wrong is why the form of the run and course that it names came back.
func (d *Desk) posting(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string) error {
	m, f, err := d.view(r.Context(), s, "Posting", "posting")
	if err != nil {
		return err
	}
	board := m.full.Board
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
		v.Releases = "technical delegate"
	}
	if today := now.Format(time.DateOnly); today != m.race.Date {
		v.Today = today
	}
	line := lineOf(r)
	firm := m.firm()
	hidden := map[sheetmodel.Bib]bool{}
	for _, run := range m.race.Runs {
		for _, c := range run.Courses {
			sec := postingSection{Groups: m.race.Groups, Run: run.Number, Course: c.Course, Name: courseWords(run.Number, c.Course), New: m.toPost(board, run.Number, c.Course), Open: m.openWords(run.Number, c.Course), At: v.Now}
			if wrong != "" && line.Run == run.Number && line.Course == c.Course {
				sec.Wrong, sec.At, sec.Word = wrong, r.PostFormValue("at"), r.PostFormValue("word") != ""
				marked := r.PostForm["line"]
				if r.PostFormValue("all") != "" {
					marked = r.PostForm["shown"] // each by itself: what came into the draft meanwhile is not among them
				}
				for i := range sec.New {
					sec.New[i].Marked = slices.Contains(marked, sec.New[i].Form)
				}
			}
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
			sec.order()
			sec.wasStruck()
			if len(sec.Lines)+len(sec.New)+sec.Hidden > 0 {
				v.Sections = append(v.Sections, sec)
			}
		}
	}
	v.run2(m, board, hidden)
	full, err := d.now(r.Context()) // with names, also for somebody who is told none
	if err != nil {
		return err
	}
	v.judges(m, full)
	if err := d.serveAll(r, s, m, "posting"); err != nil {
		return err
	}
	return d.render(w, "posting", status, v)
}

// kept are the cards whose judge stays, by the person, and those of which nobody knows whose they are. A judge with a spare, or with two
// cards, may go only if none of them keeps them.
func (m *moment) kept(needs []rules.JudgeNeed) (by map[string]bool, unknown []string) {
	by = map[string]bool{}
	for _, n := range needs {
		if !n.Stay {
			continue
		}
		names := m.judgesOf(n.Card)
		if len(names) == 0 {
			unknown = append(unknown, fmt.Sprintf("card %d of %s", n.Card.Card, courseWords(n.Card.Run, n.Card.Course)))
		}
		for _, name := range names {
			by[name] = true
		}
	}
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		rows := slices.ContainsFunc(m.full.Rows, func(r stack.Row) bool { return r.Card == i && len(r.Nothing) == 0 })
		if c.Key.Run != 0 || !rows {
			continue
		}
		if name := look.Person(c.Judge); name != "" {
			by[name] = true
		} else {
			unknown = append(unknown, cardWords(c.Key, c.Spare))
		}
	}
	return by, unknown
}

// judgesOf are those who may have written a card, in one spelling.
func (m *moment) judgesOf(card sheetmodel.CardKey) []string {
	var names []string
	if i := slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return c.Key == card }); i >= 0 {
		names = append(names, look.Person(m.full.Cards[i].Judge))
	}
	for _, relief := range m.placeOf(card).Relief {
		names = append(names, look.Person(relief.Judge))
	}
	return slices.DeleteFunc(names, func(name string) bool { return name == "" })
}

// judges says who must stay, each reason once, and whom no card needs. full is the moment with names: what follows from them holds for
// somebody who is told none, too.
func (v *postingView) judges(m, full *moment) {
	asked := stayView{Words: "Until the " + v.Releases + " releases them: rows on their cards may be asked about."}
	missing := stayView{Words: "Until their card is in."}
	maybe := stayView{Words: "They may have to stay: what looks like rows on their cards may be writing or grain of the paper. Look at it before they go."}
	other := stayView{Words: "Nothing on these cards keeps their judge; another card of theirs does."}
	needs := rules.JudgeNeeds(m.race, m.said)
	kept, unknown := full.kept(needs)
	for _, n := range needs {
		judge := judgeView{Words: fmt.Sprintf("%s, card %d", courseWords(n.Card.Run, n.Card.Course), n.Card.Card)}
		if i := slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return c.Key == n.Card }); i >= 0 {
			judge.Judge, judge.Phone = m.full.Cards[i].Judge, m.full.Cards[i].Phone
		}
		judge.Nameless = judge.Judge == "" && !m.viewer
		if place := m.placeOf(n.Card).Name; place != "" {
			judge.Words += ", place " + place
		}
		for i, row := range n.Rows {
			if judge.Rows += ", " + strconv.Itoa(row); i == 0 {
				judge.Rows = "row " + strconv.Itoa(row)
			}
		}
		if len(n.Rows) > 1 {
			judge.Rows = strings.Replace(judge.Rows, "row ", "rows ", 1)
		}
		for _, relief := range n.Relief {
			judge.Took = strings.TrimPrefix(judge.Took+", "+relief.At, ", ")
		}
		var to *[]judgeView
		switch {
		case !n.Stay && slices.ContainsFunc(full.judgesOf(n.Card), func(name string) bool { return kept[name] }):
			to = &other.Judges
		case !n.Stay:
			to = &v.Go
		case n.Maybe:
			to = &maybe.Judges
		case len(n.Rows) == 0:
			to = &missing.Judges
		default:
			to = &asked.Judges
		}
		*to = append(*to, judge)
	}
	for _, group := range []stayView{asked, missing, maybe} {
		if len(group.Judges) > 0 {
			v.Stay = append(v.Stay, group)
			v.Staying += len(group.Judges)
		}
	}
	if len(other.Judges) > 0 {
		v.Stay = append(v.Stay, other) // counted already, with the card that keeps them
	}
	if len(unknown) > 0 && len(v.Go) > 0 {
		v.GoBut = "Nobody has said whose these are, and they keep their judge, who may be one of those below: " + strings.Join(unknown, ", ") + "."
	}
}

// order puts the lines in the order of the draft, so that a racer is found by number, and gathers what was open when
// they were made public: lines that went out together share it.
func (sec *postingSection) order() {
	slices.SortStableFunc(sec.Lines, func(a, b postedView) int {
		return cmp.Or(strings.Compare(a.Group, b.Group), len(a.Bib)-len(b.Bib), strings.Compare(a.Bib, b.Bib))
	})
	at := map[string]int{}
	for _, l := range sec.Lines {
		if l.Open == "" {
			continue
		}
		n, known := at[l.Open]
		if !known {
			n = len(sec.Gaps)
			at[l.Open] = n
			sec.Gaps = append(sec.Gaps, postedGap{Open: l.Open})
		} else {
			sec.Gaps[n].Bibs += ", "
		}
		sec.Gaps[n].Bibs += l.Bib
		if l.Group != "" {
			sec.Gaps[n].Bibs += " " + l.Group
		}
	}
}

// wasStruck says of new lines that they hung there and were struck: the draft may propose what the referee withdrew.
func (sec *postingSection) wasStruck() {
	for i := range sec.New {
		n := &sec.New[i]
		for _, l := range sec.Lines {
			if l.Struck != nil && lineAt(l.BoardLine) == callAt(n.Call) && l.Gate == n.Gate && l.Code == n.Code {
				n.Struck = "struck " + l.StruckAt + ": " + l.Why
			}
		}
		if n.Struck == "" {
			sec.Fresh++
		}
	}
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
	if m.viewer && v.Why != "" {
		v.Why = unsaid
	}
	if b.Struck != nil {
		v.StruckAt = clock(*b.Struck)
		return v
	}
	v.Form = s.roles().Settle()
	if now := m.race.StartListMark(); now != "" && b.StartList != "" && now != b.StartList {
		v.Hint = draft.OtherStartList
	}
	v.Left = periodWords(time.Unix(int64(b.Posted), 0), time.Unix(int64(b.Until), 0), now)
	if m.disputed(jury.Key(lineAt(b), jury.Posting{})) != nil {
		v.From, v.To, v.Left = "not certain", "not certain", ""
		v.Note = "Two copies of this race say differently when this line was made public, or whether it was withdrawn: enter again what holds."
		return v
	}
	switch call, ok := firm[lineAt(b)]; {
	case !ok && m.renamed(b):
		v.Note = "The start list has nobody by this group and bib any more, and the draft has a line of the same number: if it is the same racer, make that line public, enter again what the jury decided, and then withdraw this one."
	case !ok:
		v.Note = "The draft no longer has this line: referee or jury say whether it is withdrawn."
		if run := m.sameIn(b); run > 0 {
			v.Note += fmt.Sprintf(" Run %d has the same line: its card may have been moved there.", run)
		}
	case call.Gate != b.Gate || call.Code != b.Code:
		v.Note = "The draft says something else now; posted anew, it gets a clock of its own."
	}
	if _, ok := firm[lineAt(b)]; !ok { // no packet tells of it
		for _, p := range m.shown.Records()[lineAt(b)].OpenProtests() {
			v.Note += " A protest on it is open, handed in at " + p.At.In(now.Location()).Format("15:04:05") + "."
		}
	}
	return v
}

// sameIn is the other run in which the draft says of a racer what hangs on the board; 0: none.
func (m *moment) sameIn(b rules.BoardLine) int {
	i := slices.IndexFunc(m.said.Calls, func(c sheetmodel.Call) bool {
		return c.Run != b.Run && c.Group == b.Group && c.Bib == b.Bib && c.Gate == b.Gate && c.Code == b.Code && !c.Overruled
	})
	if i < 0 {
		return 0
	}
	return m.said.Calls[i].Run
}

// periodWords says where a moment lies in a protest period; both ends belong to it. On another day than the
// period's, hours and minutes would only mislead.
func periodWords(from, to, now time.Time) string {
	switch day := to.In(now.Location()).Format(time.DateOnly); {
	case now.After(to):
		return "the protest period is over"
	case day != now.Format(time.DateOnly) && from.After(now):
		return "the protest period has not begun: it is on " + day
	case from.After(now):
		return "the protest period has not begun"
	}
	left := int64(to.Sub(now).Seconds())
	if left >= 60*60 {
		return fmt.Sprintf("%d h %02d min left", left/3600, left/60%60)
	}
	return fmt.Sprintf("%d min %02d s left", left/60, left%60)
}

func (v *postingView) run2(m *moment, board []rules.BoardLine, hidden map[sheetmodel.Bib]bool) {
	var protested, upheld []sheetmodel.Bib
	records := m.shown.Records()
	for _, o := range m.full.Disputes() {
		// Two copies have the protest otherwise: that there is one is what keeps the racer in until the jury has decided.
		if line, ok := stack.JuryDispute(o); ok && line.Run == 1 && records[line].MayBeOpen(jury.ProtestOf(o.Subject), o.Ours, o.Theirs) {
			protested = append(protested, sheetmodel.Bib{Group: line.Group, Number: line.Bib})
		}
	}
	for line, r := range records {
		who := sheetmodel.Bib{Group: line.Group, Number: line.Bib}
		if line.Run != 1 {
			continue
		}
		if r.ProtestOpen() {
			protested = append(protested, who)
		}
		// What the jury let stand keeps the racer out, also where another line hung there since and was overruled; not where it was taken back
		// in public: that is the last word.
		if slices.ContainsFunc(r.Decisions, func(d jury.Decision) bool { return d.Verdict == jury.Upheld && !takenBack(board, line, d) }) {
			upheld = append(upheld, who)
		}
	}
	for _, l := range rules.Run2Needs(m.race, board, protested, upheld) {
		if hidden[sheetmodel.Bib{Group: l.Group, Number: l.Bib}] {
			v.Run2Off++
			continue
		}
		if l.Start == rules.Run2BackIn && m.proposedInRun1(l) {
			l.Why += "; yet the draft has another line of run 1, which is not public"
		}
		if out := l.Start == rules.Run2MayNot || l.Start == rules.Run2Training; out && !m.proposedInRun1(l) && m.renamedInRun1(l, board) {
			l.Why += "; yet the start list has nobody by this group and bib any more: see the line above, it may be the same number's in another group"
		} else if out && !m.proposedInRun1(l) {
			l.Why += "; yet the draft has no line of the racer any more: the referee says whether it is withdrawn"
		}
		l.Why += m.run2Cautions(l, board)
		v.Run2 = append(v.Run2, l)
	}
}

// run2Cautions are what may make a racer's line of run 1 another one than run 2's list takes it for; empty: nothing.
func (m *moment) run2Cautions(l rules.Run2Line, board []rules.BoardLine) (words string) {
	mine := func(line jury.Line) bool { return line.Run == 1 && line.Group == l.Group && line.Bib == l.Bib }
	if slices.ContainsFunc(m.full.Disputes(), func(o store.Dispute) bool {
		line, ok := stack.JuryDispute(o)
		return ok && mine(line)
	}) {
		words = "; two copies of this race say differently what was posted, protested or decided: enter it again"
	}
	var on *rules.BoardLine // what stands, else what was struck last
	for i := range board {
		if b := &board[i]; mine(lineAt(*b)) && (on == nil || on.Struck != nil || b.Struck == nil) {
			on = b
		}
	}
	if now := m.race.StartListMark(); on != nil && now != "" && on.StartList != "" && now != on.StartList {
		words += "; the start list was changed since the line was made public: make sure that the bib is still the same racer's"
	}
	return words
}

// takenBack reports whether the line that a decision was about was withdrawn on the board in the minute of the decision or later, and hangs
// there no more: times are typed in minutes, or with seconds.
func takenBack(board []rules.BoardLine, line jury.Line, on jury.Decision) bool {
	back := false
	for _, b := range board {
		if lineAt(b) != line || !on.On(b.Gate, b.Code) {
			continue
		}
		if b.Struck == nil {
			return false
		}
		back = back || !b.Overruled && b.Why != rules.WhyChanged && *b.Struck >= rules.Moment(on.At.Truncate(time.Minute).Unix())
	}
	return back
}

// renamed reports whether the racer of a line on the board may have another name in the start list now: the draft has a line of the same number.
func (m *moment) renamed(b rules.BoardLine) bool {
	return slices.ContainsFunc(m.said.Calls, func(c sheetmodel.Call) bool {
		return rules.Renamed(m.race, b.Run, b.Course, b.Group, b.Bib, c)
	})
}

// renamedInRun1 reports whether so it is with the racer of a line of run 1.
func (m *moment) renamedInRun1(l rules.Run2Line, board []rules.BoardLine) bool {
	return slices.ContainsFunc(board, func(b rules.BoardLine) bool {
		return b.Run == 1 && b.Group == l.Group && b.Bib == l.Bib && m.renamed(b)
	})
}

// proposedInRun1 reports whether a line of run 1 stands in the draft that the jury hasn't overruled.
func (m *moment) proposedInRun1(l rules.Run2Line) bool {
	return slices.ContainsFunc(m.said.Calls, func(c sheetmodel.Call) bool {
		return c.Run == 1 && c.Group == l.Group && c.Bib == l.Bib && !c.Waiting && !c.Overruled
	})
}

// postPosting keeps that lines were made public, that one was withdrawn, or that its time was entered wrongly.
func (d *Desk) postPosting(w http.ResponseWriter, r *http.Request, s *session) error {
	d.answers.Lock()
	defer d.answers.Unlock()
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	board := m.full.Board
	at, err := officialClock(m.race, r.PostFormValue("at"))
	if err != nil && r.PostFormValue("do") == "posted" {
		return d.posting(w, r, s, http.StatusUnprocessableEntity, "Not kept: the time can't be read. Write it as 12:04 or 12:04:30, official time.")
	}
	if err != nil {
		return &pageError{http.StatusUnprocessableEntity, "The time can't be read", "Go back and write it as 12:04 or 12:04:30, official time."}
	}
	line := lineOf(r)
	kept := map[jury.Line]jury.Posting{}
	words := ""
	switch do := r.PostFormValue("do"); do {
	case "posted":
		ready := m.toPost(board, line.Run, line.Course)
		marked := r.PostForm["line"]
		if r.PostFormValue("all") != "" {
			marked = r.PostForm["shown"]
		}
		for _, form := range marked {
			i := slices.IndexFunc(ready, func(n newLine) bool { return n.Form == form })
			if i < 0 {
				return &pageError{http.StatusConflict, "The draft has changed since this page was loaded", "Nothing was kept. Look at Posting again and compare it with what hangs on the board."}
			}
			kept[callAt(ready[i].Call)] = jury.Posting{At: at, Gate: ready[i].Gate, Code: ready[i].Code, Open: m.openWords(line.Run, line.Course), Minutes: m.race.Rules.ProtestMinutes, StartList: m.race.StartListMark()}
		}
		switch {
		case len(kept) == 0:
			return d.posting(w, r, s, http.StatusUnprocessableEntity, "Not kept: mark the lines that were made public.")
		case m.openWords(line.Run, line.Course) != "" && r.PostFormValue("word") == "":
			return d.posting(w, r, s, http.StatusUnprocessableEntity, "Not kept: this list is incomplete. Ask the referee, and mark it if the list goes out all the same.")
		}
		words = "Made public at " + at.Format("15:04:05") + ": " + plural(len(kept), "line", "lines") + "."
	case "withdrawn", "corrected":
		on := standing(board, line)
		if on == nil {
			return &pageError{http.StatusConflict, "This line is not on the board any more", "Nothing was kept. Look at Posting again."}
		}
		p := jury.Posting{At: at, Gate: on.Gate, Code: on.Code, Withdrawn: do == "withdrawn", Open: on.Open, Minutes: on.Minutes, StartList: on.StartList}
		if !p.Withdrawn {
			p = m.entered(line, p)
		}
		words = "The time is corrected to " + at.Format("15:04:05") + "."
		if p.Withdrawn {
			p.Why = cleanReason(r.PostFormValue("why"))
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
