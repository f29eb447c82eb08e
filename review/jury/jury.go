// Package jury keeps what referee and jury do about a line of the draft after it was made.
//
//	draft line --posted--> protest period runs --protest?--> jury: upheld or overruled
//	                                 |
//	                                 '--> may a coach be shown the row? the referee says
//
// Each step is an answer in the store: dated, under the name of who entered it, never changed or deleted; a
// newer one replaces an older one and both stay. A Record is what stands of a line. The package knows no
// store, no page and no clock.
package jury

import (
	"cmp"
	"encoding/json"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Line names one line of the draft: a racer in one run of a course.
type Line struct {
	Run    int    `json:"run"`
	Course string `json:"course"`
	Group  string `json:"group,omitempty"`
	Bib    string `json:"bib"`
}

// What can be recorded of a line.
const (
	posted   = "posted"
	protest  = "protest"
	decision = "decision"
	coach    = "coach"
	shown    = "shown"
)

const prefix = "jury/"

// Posting is when a line was made public, by whatever starts the protest period in this race.
type Posting struct {
	At   time.Time `json:"at"` // official time
	Gate string    `json:"gate"`
	Code string    `json:"code"`
	// Corrected: only the time of the last posting had been entered wrongly.
	Corrected bool `json:"corrected,omitempty"`
	// Withdrawn: the line was taken back in public, for this reason.
	Withdrawn bool   `json:"withdrawn,omitempty"`
	Why       string `json:"why,omitempty"`
	// Open is what was open in the list when it went out on the referee's word; empty: nothing was.
	Open string `json:"open,omitempty"`
	// Minutes is the protest period in force when it was made public; 0: kept before gatefold noted it.
	Minutes int `json:"minutes,omitempty"`
	// StartList is the mark of the start list then: a bib that is another racer's since is said to be (sheetmodel.Race).
	StartList string `json:"start_list,omitempty"`
	By        string `json:"-"` // who entered it
}

// Protest is when one was handed in, and by whom: a function, such as team official.
type Protest struct {
	At   time.Time `json:"at"`
	From string    `json:"from,omitempty"`
	// No is its number among the protests on a racer's lines of a run, from 1 on: a further one leaves those before it as they are.
	No int    `json:"-"`
	By string `json:"-"`
}

// Verdict is what the jury decided about a proposed disqualification.
type Verdict string

// The verdicts.
const (
	Upheld    Verdict = "upheld"
	Overruled Verdict = "overruled"
)

// Decision is the jury's, by majority of the voting members present (ICR 646.2, reported of 2013).
type Decision struct {
	Verdict Verdict   `json:"verdict"`
	At      time.Time `json:"at"`
	Present []string  `json:"present"` // by function, never by name
	Reason  string    `json:"reason,omitempty"`
	// Gate and Code are those of the line that was before the jury: a racer may have another fault in the same run,
	// of which this decision says nothing. Empty: kept before gatefold asked; it is about what was made public.
	Gate string `json:"gate,omitempty"`
	Code string `json:"code,omitempty"`
	// Protest is the number of the protest that it answers; 0: there was none, or it was kept before gatefold asked, and answers all that had
	// been handed in by then.
	Protest int    `json:"protest,omitempty"`
	By      string `json:"-"`
}

// answers reports whether a decision answers a protest.
func (d Decision) answers(p Protest) bool {
	if d.Protest == 0 {
		return !p.At.After(d.At)
	}
	return d.Protest == p.No
}

// On reports whether the decision is about a line that says a gate and a code.
func (d Decision) On(gate, code string) bool {
	return d.Gate == "" && d.Code == "" || d.Gate == gate && d.Code == code
}

// Coach is the referee's leave to show a coach the row before the protest period ends.
type Coach struct {
	Allowed bool `json:"allowed"`
	// Gate and Code are those of the line that the referee was asked about; the racer's next one is another row. Empty: kept before
	// gatefold noted it.
	Gate string `json:"gate,omitempty"`
	Code string `json:"code,omitempty"`
	By   string `json:"-"`
}

// MayShow reports whether a coach may be shown a line of the racer that says a gate and a code.
func (r Record) MayShow(gate, code string) bool {
	c := r.Coach
	return c != nil && c.Allowed && (c.Gate == "" && c.Code == "" || c.Gate == gate && c.Code == code)
}

// Shown is that the sheet for a coach was given away, each time anew.
type Shown struct {
	At time.Time `json:"at"`
	As string    `json:"as"` // page or file
	By string    `json:"-"`
}

// Record is what stands of one line.
type Record struct {
	Line
	Posted *Posting // nil: not public, or withdrawn
	// Withdrawn is how the line was taken back in public, if that was said last; nil: it wasn't.
	Withdrawn *Posting
	Protests  []Protest // all that were handed in and not taken off, the oldest first
	Decision  *Decision // on what is public; on whatever was decided last where nothing is
	// Decisions are all that stand, one for each line that was before the jury, the oldest first.
	Decisions []Decision
	// Earlier are decisions on the same lines, each on another protest, that a later one has replaced, the oldest first.
	Earlier []Decision
	Coach   *Coach
	Shown   *Shown    // the last time
	board   []Posting // what stands on the notice board, or was struck there by the jury, in its order
}

// Until is the last moment at which a protest is in time, that moment included: our own logic, as no
// article says whether it is.
func (p Posting) Until(minutes int) time.Time {
	return p.At.Add(time.Duration(cmp.Or(p.Minutes, minutes)) * time.Minute)
}

// On returns what of a record is about a line of the racer that says a gate and a code. It is all of it, but for a
// racer of whom the jury has overruled a line: then what is about another line is left out. What the jury decided on this very line
// goes before what it decided on the one that is public.
func (r Record) On(gate, code string) Record {
	apart := slices.ContainsFunc(r.Decisions, func(d Decision) bool { return d.Verdict == Overruled && (d.Gate != "" || d.Code != "") })
	if apart && r.Posted != nil && (r.Posted.Gate != gate || r.Posted.Code != code) {
		r.Posted = nil
		r.Protests = slices.DeleteFunc(slices.Clone(r.Protests), func(p Protest) bool { return !r.answered(p) })
	}
	if apart {
		r.Decision = nil
	}
	for i := range r.Decisions {
		if d := &r.Decisions[i]; d.On(gate, code) {
			r.Decision = d
		}
	}
	if i := slices.IndexFunc(r.board, func(p Posting) bool { return p.Gate == gate && p.Code == code }); apart && r.Posted == nil && i >= 0 {
		r.Posted = &r.board[i]
	}
	mine := func(d Decision) bool {
		return r.Decision != nil && d.Gate == r.Decision.Gate && d.Code == r.Decision.Code
	}
	said := slices.DeleteFunc(slices.Concat(r.Decisions, r.Earlier), func(d Decision) bool { return !mine(d) })
	r.Protests = slices.DeleteFunc(slices.Clone(r.Protests), func(p Protest) bool { // what was decided of another line stays there
		return r.answered(p) && !slices.ContainsFunc(said, func(d Decision) bool { return d.answers(p) })
	})
	r.Earlier = slices.DeleteFunc(slices.Clone(r.Earlier), func(d Decision) bool { return !mine(d) })
	return r
}

// answered reports whether the jury has decided on a protest.
func (r Record) answered(p Protest) bool {
	is := func(d Decision) bool { return d.answers(p) }
	return slices.ContainsFunc(r.Decisions, is) || slices.ContainsFunc(r.Earlier, is)
}

// OpenProtests are those that the jury has not decided, the oldest first. What it has decided stays so where the line is made public anew
// with another gate or code: that has no protest yet.
func (r Record) OpenProtests() []Protest {
	return slices.DeleteFunc(slices.Clone(r.Protests), r.answered)
}

// ProtestOpen reports whether a protest was handed in that the jury has not decided.
func (r Record) ProtestOpen() bool { return len(r.OpenProtests()) > 0 }

// MayBeOpen reports whether a protest that two copies of the race have otherwise may wait for the jury. Its number is sure, and its values are what
// the copies say of it; number 0 is none. A decision that names no protest answers what had been handed in by then, whichever copy is right. One
// that names the number was made in a copy that knew one of the two: where both say that one was handed in, they may be two teams'.
func (r Record) MayBeOpen(no int, values ...string) bool {
	none := func(value string) bool { return read[Protest](value) == nil }
	decides := func(d Decision) bool {
		later := func(value string) bool { p := read[Protest](value); return p != nil && p.At.After(d.At) }
		return d.Protest == no && slices.ContainsFunc(values, none) || d.Protest == 0 && !slices.ContainsFunc(values, later)
	}
	return no > 0 && !slices.ContainsFunc(r.Decisions, decides) && !slices.ContainsFunc(r.Earlier, decides)
}

// NextProtest is the number that a further protest gets: no decision that stands names it.
func (r Record) NextProtest() int {
	last := 0
	for _, p := range r.Protests {
		last = max(last, p.No)
	}
	for _, d := range slices.Concat(r.Decisions, r.Earlier) {
		last = max(last, d.Protest)
	}
	return last + 1
}

// TakenBack reports whether the line that a decision was about was taken back in public in the minute of the decision or later: times
// are typed in minutes, or with seconds.
func (r Record) TakenBack(d Decision) bool {
	w := r.Withdrawn
	return w != nil && d.On(w.Gate, w.Code) && !w.At.Before(d.At.Truncate(time.Minute))
}

// IsLate reports whether a protest came after the period; false while nothing is known of the posting.
func (r Record) IsLate(p Protest, minutes int) bool {
	return r.Posted != nil && p.At.After(r.Posted.Until(minutes))
}

// Late reports whether a protest came after the period.
func (r Record) Late(minutes int) bool {
	return slices.ContainsFunc(r.Protests, func(p Protest) bool { return r.IsLate(p, minutes) })
}

// Key is the name of an answer about a line; what is one of Posting, Protest, Decision, Coach and Shown.
func Key(l Line, what any) string {
	kind := ""
	var more []string
	switch what := what.(type) {
	case Posting:
		kind = posted
	case Protest:
		kind = protest
		if what.No > 1 {
			more = []string{strconv.Itoa(what.No)}
		}
	case Decision:
		kind = decision
		if what.Gate != "" || what.Code != "" || what.Protest > 0 {
			more = []string{url.PathEscape(what.Gate), url.PathEscape(what.Code)}
		}
		if what.Protest > 0 {
			more = append(more, strconv.Itoa(what.Protest))
		}
	case Coach:
		kind = coach
	case Shown:
		kind = shown
	}
	return prefix + strings.Join(append([]string{kind, strconv.Itoa(l.Run), url.PathEscape(l.Course), url.PathEscape(l.Group), url.PathEscape(l.Bib)}, more...), "/")
}

// Value is the text of an answer.
func Value(what any) string {
	b, err := json.Marshal(what)
	if err != nil {
		return "" // times and texts: they can be written
	}
	return string(b)
}

// IsKey reports whether an answer is one of this package's.
func IsKey(key string) bool { return strings.HasPrefix(key, prefix) }

// IsDecision reports whether it is the key of what the jury decided.
func IsDecision(key string) bool { return strings.HasPrefix(key, prefix+decision+"/") }

// ProtestOf is the number of the protest whose key it is; 0: it is no protest's.
func ProtestOf(key string) int {
	if kind, _, ok := parseKey(key); !ok || kind != protest {
		return 0
	}
	return numberIn(key, 6)
}

// numberIn is the number at the end of a key with so many parts; 1 where it has fewer.
func numberIn(key string, parts int) int {
	all := strings.Split(strings.TrimPrefix(key, prefix), "/")
	if len(all) < parts {
		return 1
	}
	n, err := strconv.Atoi(all[parts-1])
	if err != nil {
		return 1
	}
	return n
}

// DecisionOf is the key of a decision without the protest that it answers, and the number of that protest, 0 for none: all that the jury decided on
// one line has the same. ok is false where it is no decision's key.
func DecisionOf(key string) (line string, no int, ok bool) {
	kind, _, known := parseKey(key)
	if !known || kind != decision {
		return "", 0, false
	}
	if parts := strings.Split(key, "/"); len(parts) == strings.Count(prefix, "/")+8 {
		return strings.Join(parts[:len(parts)-1], "/"), numberIn(key, 8), true
	}
	return key, 0, true
}

// VerdictIn is the verdict that the value of a decision says; empty: it was taken off, or can't be read.
func VerdictIn(value string) Verdict {
	if d := read[Decision](value); d != nil {
		return d.Verdict
	}
	return ""
}

// IsShown reports whether it is the key of a sheet that was given away: each time is a fact of its own, and none gainsays another.
func IsShown(key string) bool { return strings.HasPrefix(key, prefix+shown+"/") }

// Read returns what stands of each line. answers and their authors are those of the store, by key; what
// can't be read is left out, as if it had not been said.
func Read(answers, by map[string]string) map[Line]Record {
	all := map[Line]Record{}
	for key, value := range answers {
		kind, line, ok := parseKey(key)
		if !ok || value == "" {
			continue
		}
		r := all[line]
		r.Line = line
		switch kind {
		case posted:
			r.Posted = read[Posting](value)
			if r.Posted != nil && r.Posted.Withdrawn {
				r.Posted, r.Withdrawn = nil, r.Posted
			}
			if r.Posted != nil {
				r.Posted.By = by[key]
			}
		case protest:
			if p := read[Protest](value); p != nil {
				p.By, p.No = by[key], numberIn(key, 6)
				r.Protests = append(r.Protests, *p)
			}
		case decision:
			if d := read[Decision](value); d != nil && (d.Verdict == Upheld || d.Verdict == Overruled) {
				d.By = by[key]
				r.Decisions = append(r.Decisions, *d)
			}
		case coach:
			r.Coach = read[Coach](value)
			if r.Coach != nil {
				r.Coach.By = by[key]
			}
		}
		if kind == shown {
			if r.Shown = read[Shown](value); r.Shown != nil {
				r.Shown.By = by[key]
			}
		}
		all[line] = r
	}
	for line, r := range all {
		r.settle()
		all[line] = r
	}
	return all
}

// settle orders protests and decisions and finds the decision on what is public.
func (r *Record) settle() {
	slices.SortFunc(r.Protests, func(a, b Protest) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.No, b.No)) })
	slices.SortFunc(r.Decisions, func(a, b Decision) int {
		return cmp.Or(a.At.Compare(b.At), strings.Compare(a.Gate, b.Gate), strings.Compare(a.Code, b.Code), cmp.Compare(a.Protest, b.Protest))
	})
	if last := len(r.Decisions) - 1; last > 0 {
		// One that names no line was about what was public then; a later one says more.
		newest := r.Decisions[last].At
		r.Decisions = slices.DeleteFunc(r.Decisions, func(d Decision) bool {
			return d.Gate == "" && d.Code == "" && d.Protest == 0 && d.At.Before(newest)
		})
	}
	var stand []Decision
	for i, d := range r.Decisions {
		if slices.ContainsFunc(r.Decisions[i+1:], func(o Decision) bool { return o.Gate == d.Gate && o.Code == d.Code }) {
			r.Earlier = append(r.Earlier, d)
			continue
		}
		stand = append(stand, d)
	}
	r.Decisions = stand
	r.decide()
}

// decide finds the decision on what is public.
func (r *Record) decide() {
	r.Decision = nil
	for i := range r.Decisions {
		if d := &r.Decisions[i]; r.Posted == nil || d.On(r.Posted.Gate, r.Posted.Code) {
			r.Decision = d
		}
	}
}

// Unnamed returns answers in which nobody is named who handed in a protest, and which say no reason in the words of whoever
// gave it; from and reason stand in their place. Answers that aren't of this package are as they were.
func Unnamed(answers map[string]string, from, reason string) map[string]string {
	all := map[string]string{}
	for key, value := range answers {
		all[key] = value
		kind, _, ok := parseKey(key)
		if !ok || value == "" {
			continue
		}
		switch kind {
		case posted:
			if p := read[Posting](value); p != nil && p.Why != "" {
				p.Why = reason
				all[key] = Value(*p)
			}
		case protest:
			if p := read[Protest](value); p != nil && p.From != "" {
				p.From = from
				all[key] = Value(*p)
			}
		case decision:
			if d := read[Decision](value); d != nil && d.Reason != "" {
				d.Reason = reason
				all[key] = Value(*d)
			}
		}
	}
	return all
}

func read[T any](value string) *T {
	var v T
	if json.Unmarshal([]byte(value), &v) != nil {
		return nil
	}
	return &v
}

// keyParts are how many parts the keys of a kind have: a further protest has its number at the end, a decision its line and then the number of
// the protest that it answers.
var keyParts = map[string][]int{posted: {5}, protest: {5, 6}, decision: {5, 7, 8}, coach: {5}, shown: {5}}

func parseKey(key string) (kind string, l Line, ok bool) {
	rest, found := strings.CutPrefix(key, prefix)
	parts := strings.Split(rest, "/")
	if !found || !slices.Contains(keyParts[parts[0]], len(parts)) {
		return "", l, false
	}
	run, err := strconv.Atoi(parts[1])
	if err != nil {
		return "", l, false
	}
	l.Run = run
	for i, to := range []*string{&l.Course, &l.Group, &l.Bib} {
		if *to, err = url.PathUnescape(parts[2+i]); err != nil {
			return "", l, false
		}
	}
	return parts[0], l, true
}

// decidedOn are the gate and the code in the key of a decision; empty where it names none.
func decidedOn(key string) (gate, code string) {
	parts := strings.Split(strings.TrimPrefix(key, prefix), "/")
	if len(parts) < 7 {
		return "", ""
	}
	gate, gateErr := url.PathUnescape(parts[5])
	code, codeErr := url.PathUnescape(parts[6])
	if gateErr != nil || codeErr != nil {
		return "", ""
	}
	return gate, code
}
