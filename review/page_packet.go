package review

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// packetView shows the jury's packet of one bib, or asks for one.
type packetView struct {
	frame
	Bib, Group string
	Groups     []string
	Packet     *draft.Packet // nil: no bib was asked for, or not of which group
	Racers     []racerLink   // who wear the number, where more than one does and no group was chosen
	Cases      []caseView
	PDF        string
}

type racerLink struct{ Who, Path string }

type caseView struct {
	draft.Case
	Name   string
	Faults []faultView
	Now    string // official time, for the forms; what was typed in one that came back
	From   string // of the protest, likewise
	Reason string // of the decision, likewise
	Word   bool   // the referee's word, likewise
	Jury   []member
	Wrong  string // why the form came back
	Field  string // at which of its fields: at, word, present, answers, reason
	Lacks  string // what is open in the list of this run and course
	Coach  string // the sheet to show a coach; empty: not allowed
	Back   string // this page's own address
	Public string // what was public when the page was made, see publicMark
	Known  string // what was protested and decided then, see saidMark
	// Protests are those handed in, where the jury has to be asked which one it answers, or one can be taken off: all, or the only one while open.
	Protests []protestView
	// Twice is a protest that two copies of the race have otherwise; nil: none.
	Twice *twiceView
}

// twiceView is what two copies of the race say otherwise of a protest: one fact, or two teams' protests with one number.
type twiceView struct {
	Copies  []string
	Two     bool // both say that one was handed in
	Decided bool // the jury has decided on one of them
	no      int
	each    []jury.Protest
}

// protestView is a protest in the form: one that the jury may answer, or that is taken off while it is open.
type protestView struct {
	No     int
	Words  string
	Open   bool
	Marked bool
}

// member is one function of the jury, marked as present or not.
type member struct {
	Function string
	Present  bool
}

type faultView struct {
	draft.Fault
	Row     draftRow
	AsSet   *inkView
	OtherID string // the answer under which the other bib of a remark is kept
}

func packetPath(bib, group string) string {
	return "/packet?" + url.Values{"bib": {bib}, "group": {group}}.Encode()
}

func (d *Desk) showPacket(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.packet(w, r, s, http.StatusOK, "", "")
}

// packet shows a packet; wrong is why the form about one of its lines came back, at which field.
func (d *Desk) packet(w http.ResponseWriter, r *http.Request, s *session, status int, field, wrong string) error {
	m, f, err := d.view(r.Context(), s, "The jury's packet", "draft")
	if err != nil {
		return err
	}
	v := packetView{frame: f, Bib: sheetmodel.CanonicalBib(strings.TrimSpace(r.FormValue("bib"))), Group: r.FormValue("group")}
	for _, g := range m.race.Groups {
		v.Groups = append(v.Groups, g.Name)
	}
	if v.Bib == "" {
		return d.render(w, "packet", http.StatusOK, v)
	}
	k, err := draft.NewPacket(m.shown, m.said, draft.Options{At: d.opt.Now(), Layout: d.opt.Layout}, v.Bib, v.Group)
	var worn *draft.GroupsError
	if errors.As(err, &worn) {
		for _, g := range worn.Groups {
			v.Racers = append(v.Racers, racerLink{g + " " + v.Bib, packetPath(v.Bib, g)})
		}
		return d.render(w, "packet", http.StatusOK, v)
	}
	if err != nil {
		return err
	}
	v.Packet = k
	v.PDF = "/packet/pdf?" + url.Values{"bib": {v.Bib}, "group": {v.Group}}.Encode()
	for _, c := range k.Cases {
		cv := caseView{Case: c, Name: courseWords(c.Run, c.Course), Now: k.At.Format("15:04:05"), Back: packetPath(v.Bib, v.Group)}
		if c.Line != nil {
			line := jury.Line{Run: c.Run, Course: c.Course, Group: c.Line.Group, Bib: c.Line.Bib}
			if !m.shown.Untold[line] {
				cv.Protests = m.protests(m.recordOf(line, c.Line.Gate, c.Line.Code), r.PostForm["answers"])
				cv.Twice = m.twice(line)
			}
			cv.Public, cv.Known = d.publicMark(m, line, c.Line.Gate, c.Line.Code), d.saidMark(m, line, c.Line.Gate, c.Line.Code)
		}
		if c.Line != nil && c.Line.Jury != nil && c.Line.Jury.CoachShown {
			cv.Coach = "/coach?" + lineQuery(c).Encode()
		}
		cv.Lacks = m.openWords(c.Run, c.Course)
		marked := r.PostForm["present"]
		mine := c.Line == nil || r.PostFormValue("gate") == "" || r.PostFormValue("gate") == c.Line.Gate // a racer may have a line, and one that is gone
		if wrong != "" && mine && fmt.Sprint(c.Run) == r.PostFormValue("run") && c.Course == r.PostFormValue("course") {
			cv.Wrong, cv.Field = wrong, field
			cv.Now, cv.From, cv.Reason, cv.Word = r.PostFormValue("at"), r.PostFormValue("from"), r.PostFormValue("reason"), r.PostFormValue("word") != ""
		} else {
			marked = nil
		}
		for _, function := range m.race.Rules.Jury {
			cv.Jury = append(cv.Jury, member{function, slices.Contains(marked, function)})
		}
		for _, fault := range c.Faults {
			fv := faultView{Fault: fault, Row: m.draftRows([]draft.Row{fault.Row})[0]}
			if fault.GatesAsSet != nil {
				fv.AsSet = &inkView{Src: inkPath(fault.GatesAsSet.Sheet, "panel-a"), Rect: fault.GatesAsSet.Rect, Alt: fmt.Sprintf("The gates as set, on card %d", fault.Row.Card)}
			}
			fv.OtherID = rules.OtherBibKey(sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: fault.Row.Run, Course: fault.Row.Course, Card: fault.Row.Card}, Row: fault.Row.Row})
			cv.Faults = append(cv.Faults, fv)
		}
		v.Cases = append(v.Cases, cv)
	}
	if err := d.serveAll(r, s, m, "packet"); err != nil {
		return err
	}
	return d.render(w, "packet", status, v)
}

// publicMark names what of a racer's line is public, or that nothing is, without telling it: it may say a gate at which the draft has the
// racer no more, where a row is to be typed unseen.
func (d *Desk) publicMark(m *moment, line jury.Line, gate, code string) string {
	var at int64
	if p := m.recordOf(line, gate, code).Posted; p != nil {
		at, gate, code = p.At.Unix(), p.Gate, p.Code
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %d %q %q", d.started, at, gate, code))
	return hex.EncodeToString(sum[:8])
}

// saidMark names what was protested and decided on a racer's line, without telling it.
func (d *Desk) saidMark(m *moment, line jury.Line, gate, code string) string {
	record := m.recordOf(line, gate, code)
	text := fmt.Appendf(nil, "%q", d.started)
	for _, p := range record.Protests {
		text = fmt.Appendf(text, " protest %d %d %q", p.No, p.At.Unix(), p.From)
	}
	if v := record.Decision; v != nil {
		text = fmt.Appendf(text, " decision %d %q %d", v.Protest, v.Verdict, v.At.Unix())
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// aboutProtests reports whether a form says something of protests and decisions: such a form rests on those that its page showed.
func aboutProtests(r *http.Request) bool {
	return r.PostFormValue("protest-off") != "" || slices.Contains([]string{"protest", "no-protest", "no-decision", string(jury.Upheld), string(jury.Overruled)}, r.PostFormValue("do"))
}

// saidAlready reports whether what a form says is on record in the same words.
func saidAlready(record jury.Record, r *http.Request, clock time.Time) bool {
	switch do := r.PostFormValue("do"); do {
	case "protest":
		from := cleanName(r.PostFormValue("from"))
		return slices.ContainsFunc(record.Protests, func(p jury.Protest) bool { return p.At.Equal(clock) && p.From == from })
	case string(jury.Upheld), string(jury.Overruled):
		d := record.Decision
		return d != nil && string(d.Verdict) == do && d.At.Equal(clock) && d.Reason == cleanReason(r.PostFormValue("reason"))
	}
	return false
}

// recordOf is what stands of a racer's line that says a gate and a code.
func (m *moment) recordOf(line jury.Line, gate, code string) jury.Record {
	return m.shown.Records()[line].On(gate, code)
}

func lineQuery(c draft.Case) url.Values {
	return url.Values{"run": {fmt.Sprint(c.Run)}, "course": {c.Course}, "group": {c.Line.Group}, "bib": {c.Line.Bib}}
}

// lineOf reads which line a form is about.
func lineOf(r *http.Request) jury.Line {
	run, err := strconv.Atoi(r.FormValue("run"))
	if err != nil {
		run = -1 // no line has it
	}
	return jury.Line{Run: run, Course: r.FormValue("course"), Group: r.FormValue("group"), Bib: r.FormValue("bib")}
}

func (d *Desk) showPacketPDF(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	k, err := draft.NewPacket(m.shown, m.said, draft.Options{At: d.opt.Now(), Layout: d.opt.Layout}, sheetmodel.CanonicalBib(r.FormValue("bib")), r.FormValue("group"))
	var worn *draft.GroupsError
	if errors.As(err, &worn) {
		return &pageError{http.StatusConflict, "Bib " + worn.Bib + " is worn by more than one racer", "Open the packet again and choose the group."}
	}
	if err != nil {
		return err
	}
	var b bytes.Buffer
	_ = k.WritePDF(&b, d.cutter) // pictures that can't be shown are named in the file itself
	if err := d.serveAll(r, s, m, "packet.pdf"); err != nil {
		return err
	}
	sendPDF(w, &b, "packet-"+plainName(k.Who())+".pdf")
	return nil
}

// plainName leaves of a text what any file system takes.
func plainName(text string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, text)
}

func sendPDF(w http.ResponseWriter, b *bytes.Buffer, name string) {
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	_, _ = w.Write(b.Bytes()) // the browser has gone: there is nobody left to tell
}

// postPacket keeps what referee and jury did about a line: that it was made public, a protest, the
// decision, the leave to show a coach the row, or the other bib of a remark. Each stays in the log.
func (d *Desk) postPacket(w http.ResponseWriter, r *http.Request, s *session) error {
	d.answers.Lock()
	defer d.answers.Unlock()
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	if key := r.PostFormValue("other"); key != "" {
		return d.postOtherBib(w, r, s, m, key)
	}
	line := lineOf(r)
	// The form names the line by gate and code: a racer may have one that was overruled, and another.
	at, gate, code := -1, r.PostFormValue("gate"), r.PostFormValue("code")
	for i, c := range m.said.Calls {
		if callAt(c) == line && (gate == "" && code == "" || c.Gate == gate && c.Code == code) && (at < 0 || m.said.Calls[at].Overruled) {
			at = i
		}
	}
	var call sheetmodel.Call
	gone := at < 0
	if gone {
		on, known := m.full.GoneLines()[line]
		if !known || (gate != "" || code != "") && (on.Gate != gate || on.Code != code) || !m.aboutGone(line, r.PostFormValue("do"), r.PostFormValue("protest-off")) {
			return &pageError{http.StatusConflict, "The draft has no such line any more", "Nothing was kept: another entry has changed it. Look at the draft again."}
		}
		call = sheetmodel.Call{Run: on.Run, Course: on.Course, Group: on.Group, Bib: on.Bib, Gate: on.Gate, Code: on.Code}
	} else {
		call = m.said.Calls[at]
	}
	record := m.recordOf(line, call.Gate, call.Code)
	// A protest, and what the jury decides, is about what was public then.
	if r.PostForm.Has("public") && r.PostFormValue("public") != d.publicMark(m, line, call.Gate, call.Code) {
		return &pageError{http.StatusConflict, "What is public of this line has changed since this page was loaded", "Nothing was kept. Look at the packet again: is it this line that the protest, or the decision, is about?"}
	}
	clock, err := officialClock(m.race, r.PostFormValue("at"))
	if r.PostForm.Has("said") && r.PostFormValue("said") != d.saidMark(m, line, call.Gate, call.Code) && aboutProtests(r) {
		if err == nil && saidAlready(record, r, clock) { // the button was pressed twice
			return see(w, r, packetPath(line.Bib, line.Group))
		}
		return &pageError{http.StatusConflict, "What was protested or decided on this line has changed since this page was loaded", "Nothing was kept. Look at the packet again, and enter it there if it still holds."}
	}
	if err != nil && !slices.Contains([]string{"coach", "no-coach", "no-protest", "no-decision", "two-protests"}, r.PostFormValue("do")) && r.PostFormValue("protest-off") == "" {
		if gone && m.shown.Untold[line] {
			return &pageError{http.StatusUnprocessableEntity, "The time can't be read", "Go back and write it as 12:04 or 12:04:30, official time."}
		}
		return d.packet(w, r, s, http.StatusUnprocessableEntity, "at", "Not kept: the time can't be read. Write it as 12:04 or 12:04:30, official time.")
	}
	var what any
	var words string
	var all []store.Answer
	do := r.PostFormValue("do")
	if do == "" && r.PostFormValue("protest-off") != "" {
		do = "no-protest" // one of several: its button names it
	}
	switch do {
	case "posted":
		if call.Waiting {
			return &pageError{http.StatusConflict, "This line still waits", "A line is made public only once it stands. Settle what it waits for first."}
		}
		if call.Overruled {
			return &pageError{http.StatusConflict, "The jury has overruled this line", "It is struck and can't be made public. If the jury has decided anew, enter that first."}
		}
		now := standing(m.full.Board, line)
		same := now != nil && now.Gate == call.Gate && now.Code == call.Code
		if same && m.disputed(jury.Key(line, jury.Posting{})) == nil {
			return &pageError{http.StatusConflict, "This line is public already", "Its clock runs from where it first appeared. If that time was entered wrongly, correct it under Posting."}
		}
		open := m.openWords(line.Run, line.Course)
		if open != "" && r.PostFormValue("word") == "" {
			return d.packet(w, r, s, http.StatusUnprocessableEntity, "word", "Not kept: the list of this run is incomplete. Ask the referee, and mark it if this line goes out all the same.")
		}
		p := jury.Posting{At: clock, Gate: call.Gate, Code: call.Code, Open: open, Minutes: m.race.Rules.ProtestMinutes, StartList: m.race.StartListMark()}
		if same {
			p.Open, p.Minutes, p.StartList = now.Open, now.Minutes, now.StartList
			p = m.entered(line, p)
		}
		what, words = p, "Made public at "+clock.Format("15:04:05")+"."
	case "protest":
		if record.Posted == nil && m.twice(line) == nil {
			return &pageError{http.StatusConflict, "Nobody has said when this line was made public", "Enter that first: the protest period begins there."}
		}
		p := jury.Protest{At: clock, No: m.protestNo(line), From: cleanName(r.PostFormValue("from"))}
		what, words = p, "Protest kept, handed in at "+clock.Format("15:04:05")+"."
		if other := m.twice(line).but(p, m); other != "" {
			words += " Two copies had another one: " + other + ". If that is a protest of its own, enter it, too."
		}
	case "two-protests":
		t := m.twice(line)
		if t == nil || !t.Two || t.Decided {
			return &pageError{http.StatusConflict, "There are no two protests to keep any more", "Nothing was kept. Look at the packet again."}
		}
		t.each[0].No, t.each[1].No = t.no, max(t.no+1, m.full.Records()[line].NextProtest())
		for _, p := range t.each {
			all = append(all, store.Answer{Question: jury.Key(line, p), Value: jury.Value(p), By: s.person})
		}
		words = "Both protests are kept."
	case "no-protest":
		off := record.OpenProtests()
		if no := r.PostFormValue("protest-off"); no != "" {
			off = slices.DeleteFunc(off, func(p jury.Protest) bool { return strconv.Itoa(p.No) != no })
		}
		if len(off) == 0 {
			return &pageError{http.StatusConflict, "There is no protest that is open", "Nothing was kept: none was handed in, or the jury has decided. Look at the packet again."}
		}
		if len(off) > 1 {
			return d.packet(w, r, s, http.StatusUnprocessableEntity, "answers", "Not kept: more than one protest is open. Say which one there is no more.")
		}
		why := cleanReason(r.PostFormValue("reason"))
		if why == "" {
			return d.packet(w, r, s, http.StatusUnprocessableEntity, "reason", "Not kept: say why there is no protest any more, under Reason.")
		}
		if err := d.opt.Store.Answer(r.Context(), store.Answer{Question: jury.Key(line, off[0]), By: s.person, Note: why}); err != nil {
			return err
		}
		d.say(s, notice{Words: "The protest is taken off, with your reason; the log keeps both.", Class: "noted"})
		return see(w, r, packetPath(line.Bib, line.Group))
	case "no-decision":
		if record.Decision == nil {
			return &pageError{http.StatusConflict, "The jury has decided nothing on this line", "Nothing was kept: its decision is taken off already. Look at the packet again."}
		}
		why := cleanReason(r.PostFormValue("reason"))
		if why == "" {
			return d.packet(w, r, s, http.StatusUnprocessableEntity, "reason", "Not kept: say under Reason why the decision is not one on this line.")
		}
		if err := d.opt.Store.Answer(r.Context(), store.Answer{Question: jury.Key(line, *record.Decision), By: s.person, Note: why}); err != nil {
			return err
		}
		d.say(s, notice{Words: "The decision is taken off this line, with your reason; the log keeps both.", Class: "noted"})
		return see(w, r, packetPath(line.Bib, line.Group))
	case string(jury.Upheld), string(jury.Overruled):
		present := presentOf(r.PostForm["present"], m.race.Rules.Jury)
		if len(present) == 0 {
			return d.packet(w, r, s, http.StatusUnprocessableEntity, "present", "Not kept: mark who of the jury was present and decided, by function.")
		}
		dec := jury.Decision{Verdict: jury.Verdict(do), At: clock, Present: present, Reason: cleanReason(r.PostFormValue("reason")), Gate: call.Gate, Code: call.Code}
		if record.Posted != nil {
			dec.Gate, dec.Code = record.Posted.Gate, record.Posted.Code // what was before the jury, whatever the draft says by now
		}
		answered, ok := answeredBy(r.PostForm["answers"], record, m.disputedDecisions(line, dec))
		if !ok {
			return d.packet(w, r, s, http.StatusUnprocessableEntity, "answers", "Not kept: more than one protest is open. Mark which one the jury decided on, or both.")
		}
		for _, no := range answered {
			dec.Protest = no
			a := store.Answer{Question: jury.Key(line, dec), Value: jury.Value(dec), By: s.person}
			if no == 0 && len(answered) > 1 {
				a.Value = "" // a copy had it before it knew of a protest; kept so, it would answer those that nobody marked
			}
			all = append(all, a)
		}
		words = "The jury's decision is kept: " + do + " at " + clock.Format("15:04:05") + "."
	case "coach":
		what, words = jury.Coach{Allowed: true, Gate: call.Gate, Code: call.Code}, "Kept: the referee allows that a coach is shown this line."
	case "no-coach":
		what, words = jury.Coach{}, "Kept: no coach is shown this line."
	default:
		return &pageError{http.StatusBadRequest, "The form doesn't say what to keep", "Go back and choose one of its buttons."}
	}
	if what != nil {
		all = append(all, store.Answer{Question: jury.Key(line, what), Value: jury.Value(what), By: s.person})
	}
	if err := d.opt.Store.Answer(r.Context(), all...); err != nil {
		return err
	}
	d.say(s, notice{Words: words, Class: "settled"})
	if gone && m.shown.Untold[line] {
		return see(w, r, "/posting") // its packet tells nothing of it
	}
	return see(w, r, packetPath(line.Bib, line.Group))
}

// aboutGone reports whether a form says something that can be said of a line that the draft has no more, see stack.GoneLines: a
// protest against it is handed in in time or never, and what two copies of the race have otherwise is entered again. Of a line that is not
// told, while rows are to be typed unseen, only that a protest was handed in is kept: the rest waits without harm.
func (m *moment) aboutGone(line jury.Line, do, off string) bool {
	if do == "protest" {
		return true
	}
	if m.shown.Untold[line] {
		return false
	}
	return off != "" || slices.Contains([]string{"two-protests", "no-protest", "no-decision", string(jury.Upheld), string(jury.Overruled)}, do)
}

// protests are those of a line as its form shows them. Marked are the open ones where only one is, or what was marked in a form that came back.
func (m *moment) protests(record jury.Record, marked []string) []protestView {
	open := record.OpenProtests()
	if len(open) == 0 && len(record.Protests) < 2 {
		return nil
	}
	var all []protestView
	for _, p := range record.Protests {
		v := protestView{No: p.No, Words: m.protestWords(p)}
		v.Open = slices.ContainsFunc(open, func(o jury.Protest) bool { return o.No == p.No })
		v.Marked = slices.Contains(marked, strconv.Itoa(p.No)) || len(marked) == 0 && v.Open && len(open) == 1
		all = append(all, v)
	}
	return all
}

// protestWords are when a protest was handed in, and by whom.
func (m *moment) protestWords(p jury.Protest) string {
	at := p.At
	if loc, err := sheetmodel.LoadZone(m.race.Zone); err == nil {
		at = at.In(loc)
	}
	words := at.Format("15:04:05")
	if p.From != "" {
		words += ", " + p.From
	}
	return words
}

// twice is what two copies of the race have otherwise of a protest on a line, as far as the page may tell of it; nil: nothing.
func (m *moment) twice(line jury.Line) *twiceView {
	no := m.protestNo(line)
	o := m.disputed(jury.Key(line, jury.Protest{No: no}))
	if o == nil || m.shown.Untold[line] {
		return nil
	}
	t := &twiceView{no: no, Two: true}
	for _, value := range []string{o.Ours, o.Theirs} {
		p := jury.Read(map[string]string{o.Subject: value}, nil)[line].Protests
		if t.each = append(t.each, p...); len(p) == 0 {
			t.Two = false
			t.Copies = append(t.Copies, "none was handed in, or it was taken off")
			continue
		}
		t.Copies = append(t.Copies, m.protestWords(p[0]))
	}
	r := m.full.Records()[line]
	t.Decided = slices.ContainsFunc(slices.Concat(r.Decisions, r.Earlier), func(d jury.Decision) bool { return d.Protest == no }) || len(m.disputedVerdicts(line, no)) > 0
	return t
}

// but says in words which protests two copies have, apart from one that is kept; empty: none.
func (t *twiceView) but(kept jury.Protest, m *moment) string {
	var words []string
	if t == nil {
		return ""
	}
	for _, p := range t.each {
		if !p.At.Equal(kept.At) || p.From != kept.From {
			words = append(words, m.protestWords(p))
		}
	}
	return strings.Join(words, "; ")
}

// disputedVerdicts are what two copies have otherwise of the jury's decision on a protest.
func (m *moment) disputedVerdicts(line jury.Line, protest int) (subjects []string) {
	for _, o := range m.full.Disputes() {
		if _, no, ok := jury.DecisionOf(o.Subject); ok && no == protest {
			if of, is := stack.JuryDispute(o); is && of == line {
				subjects = append(subjects, o.Subject)
			}
		}
	}
	return subjects
}

// protestNo is the number of a protest that is entered: the next, or that of one which two copies of the race have otherwise.
func (m *moment) protestNo(line jury.Line) int {
	next := m.full.Records()[line].NextProtest()
	for _, o := range m.full.Disputes() {
		if no := jury.ProtestOf(o.Subject); no > 0 && o.Subject == jury.Key(line, jury.Protest{No: no}) {
			return no
		}
	}
	return next
}

// disputedDecisions are the numbers of the protests on which two copies of the race have another decision about a line; 0: on none.
func (m *moment) disputedDecisions(line jury.Line, d jury.Decision) (numbers []int) {
	for _, o := range m.full.Disputes() {
		if _, no, ok := jury.DecisionOf(o.Subject); ok {
			if d.Protest = no; jury.Key(line, d) == o.Subject && m.disputed(o.Subject) != nil {
				numbers = append(numbers, no)
			}
		}
	}
	slices.Sort(numbers)
	return numbers
}

// answeredBy are the numbers of the protests that a decision answers: those marked, else the only one that is open, else the one that the
// decision which stands has answered. It isn't known where several are open and none is marked.
// What two copies of the race have otherwise is entered again.
func answeredBy(marked []string, record jury.Record, disputed []int) (numbers []int, ok bool) {
	for _, p := range record.Protests {
		if slices.Contains(marked, strconv.Itoa(p.No)) {
			numbers = append(numbers, p.No)
		}
	}
	open := record.OpenProtests()
	switch {
	case len(numbers) > 0:
		return append(numbers, slices.DeleteFunc(disputed, func(no int) bool { return slices.Contains(numbers, no) })...), true
	case len(disputed) > 0 && len(open) <= 1:
		return disputed, true
	case len(open) == 1:
		return []int{open[0].No}, true
	case len(open) > 1:
		return nil, false
	case record.Decision != nil:
		return []int{record.Decision.Protest}, true
	}
	return []int{0}, true
}

// postOtherBib keeps the other bib of a remark: a reference, never a call.
func (d *Desk) postOtherBib(w http.ResponseWriter, r *http.Request, s *session, m *moment, key string) error {
	known := slices.ContainsFunc(m.shown.Rows, func(row stack.Row) bool { return rules.OtherBibKey(row.Ref) == key })
	bib := sheetmodel.CanonicalBib(r.PostFormValue("other_bib"))
	if !known || bib != "" && !sheetmodel.GrammarBib.Fits(bib) {
		return &pageError{http.StatusUnprocessableEntity, "That is no bib, or no row of this race", "Go back and type the number as in the remark, or leave it empty."}
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(store.Answer{Question: key, Value: bib, By: s.person, View: m.full.ViewOf(m.result, key)})...); err != nil {
		return err
	}
	d.say(s, notice{Words: "Kept as a reference. No call follows from it.", Class: "settled"})
	return see(w, r, localPath(r.PostFormValue("back")))
}

// presentOf keeps the marked members that the race's jury has.
func presentOf(marked, members []string) []string {
	var present []string
	for _, f := range members {
		if slices.Contains(marked, f) {
			present = append(present, f)
		}
	}
	return present
}

// officialClock is a time of day of the race's day and zone.
func officialClock(race *sheetmodel.Race, text string) (time.Time, error) {
	loc, err := sheetmodel.LoadZone(race.Zone)
	if err != nil {
		return time.Time{}, err
	}
	text = strings.TrimSpace(text)
	for _, layout := range []string{time.DateOnly + " 15:04:05", time.DateOnly + " 15:04"} {
		if t, err := time.ParseInLocation(layout, race.Date+" "+text, loc); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is no time of day", text)
}

// coachOf makes the sheet to show a coach, or says why there is none.
func (d *Desk) coachOf(r *http.Request, m *moment) (*draft.Coach, error) {
	k, err := draft.NewCoach(m.shown, m.said, draft.Options{At: d.opt.Now(), Layout: d.opt.Layout}, lineOf(r))
	switch {
	case errors.Is(err, draft.ErrNotAllowed):
		return nil, &pageError{http.StatusForbidden, "The referee has not allowed that a coach is shown this", "Ask the referee; then it is allowed on the jury's packet of this bib."}
	case errors.Is(err, draft.ErrNoLine):
		return nil, &pageError{http.StatusNotFound, "No line of the draft that stands is about this bib", "Look at the draft: the line may wait, or be another's."}
	}
	return k, err
}

// logCoach logs that the sheet is given away, every time: what a session has seen before says nothing of
// who stands beside it now.
func (d *Desk) logCoach(r *http.Request, s *session, k *draft.Coach, as string) error {
	line := jury.Line{Run: k.Run, Course: k.Course, Group: k.Group, Bib: k.Bib}
	given := jury.Shown{At: k.At, As: as}
	return d.opt.Store.Answer(r.Context(), store.Answer{Question: jury.Key(line, given), Value: jury.Value(given), By: s.person})
}

type coachView struct {
	frame
	Coach *draft.Coach
	Time  string // that is left to protest
	Ink   []coachInk
	PDF   string
}

type coachInk struct{ Row, Drawing *inkView }

func (d *Desk) showCoach(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "To show a coach", "draft")
	if err != nil {
		return err
	}
	k, err := d.coachOf(r, m)
	if err != nil {
		return err
	}
	v := coachView{frame: f, Coach: k, Time: k.Left(), PDF: "/coach/sheet.pdf?" + r.URL.Query().Encode()}
	for i, row := range k.Rows {
		var ink coachInk
		if row.Row != nil {
			ink.Row = &inkView{Src: fmt.Sprintf("/coach/row-%d.png?%s", i, r.URL.Query().Encode()), Rect: row.Row.Rect, Alt: "What a gate judge wrote"}
		}
		if row.Drawing != nil {
			ink.Drawing = &inkView{Src: fmt.Sprintf("/coach/drawing-%d.png?%s", i, r.URL.Query().Encode()), Rect: row.Drawing.Rect, Alt: "What a gate judge drew"}
		}
		v.Ink = append(v.Ink, ink)
	}
	if err := errors.Join(d.serveAll(r, s, m, "coach"), d.logCoach(r, s, k, "page")); err != nil {
		return err
	}
	return d.render(w, "coach", http.StatusOK, v)
}

// showCoachFile sends the sheet, or one of its pictures, black where it is another's.
func (d *Desk) showCoachFile(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	k, err := d.coachOf(r, m)
	if err != nil {
		return err
	}
	file := r.PathValue("file")
	if file == "sheet.pdf" {
		if err := errors.Join(d.serveAll(r, s, m, file), d.logCoach(r, s, k, file)); err != nil {
			return err
		}
		var b bytes.Buffer
		_ = k.WritePDF(&b, d.cutter) // pictures that can't be shown are named in the file itself
		sendPDF(w, &b, "coach-"+plainName(k.Bib)+".pdf")
		return nil
	}
	for i, row := range k.Rows {
		c := row.Row
		if file == fmt.Sprintf("drawing-%d.png", i) {
			c = row.Drawing
		} else if file != fmt.Sprintf("row-%d.png", i) {
			continue
		}
		if c == nil {
			break
		}
		png, err := d.cutter.PNG(*c)
		if err != nil {
			return err
		}
		w.Header().Set("Content-Type", "image/png")
		_, _ = w.Write(png) // the browser has gone: there is nobody left to tell
		return nil
	}
	return &pageError{http.StatusNotFound, "No picture of this can be shown", "The referee shows the paper."}
}
