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
	By   string    `json:"-"`
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
	By   string `json:"-"`
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
	Protest   *Protest
	Decision  *Decision // on what is public; on whatever was decided last where nothing is
	// Decisions are all that stand, one for each line that was before the jury, the oldest first.
	Decisions []Decision
	Coach     *Coach
	Shown     *Shown // the last time
}

// Until is the last moment at which a protest is in time, that moment included: our own logic, as no
// article says whether it is.
func (p Posting) Until(minutes int) time.Time {
	return p.At.Add(time.Duration(cmp.Or(p.Minutes, minutes)) * time.Minute)
}

// On returns what of a record is about a line of the racer that says a gate and a code. It is all of it, but for a
// racer of whom the jury has overruled a line: then what is about another line is left out.
func (r Record) On(gate, code string) Record {
	apart := slices.ContainsFunc(r.Decisions, func(d Decision) bool { return d.Verdict == Overruled && (d.Gate != "" || d.Code != "") })
	if !apart {
		return r.withoutDecidedProtest()
	}
	if r.Posted != nil && (r.Posted.Gate != gate || r.Posted.Code != code) {
		r.Posted, r.Protest = nil, nil
	}
	r.Decision = nil
	for i := range r.Decisions {
		if d := &r.Decisions[i]; d.On(gate, code) {
			r.Decision = d
		}
	}
	return r.withoutDecidedProtest()
}

// withoutDecidedProtest leaves out a protest that was against another line, which is decided.
func (r Record) withoutDecidedProtest() Record {
	if r.Decision == nil && r.Protest != nil && r.decidedAfter(r.Protest.At) {
		r.Protest = nil
	}
	return r
}

// decidedAfter reports whether a decision came at a moment or later.
func (r Record) decidedAfter(at time.Time) bool {
	return slices.ContainsFunc(r.Decisions, func(d Decision) bool { return !d.At.Before(at) })
}

// TakenBack reports whether the line that a decision was about was taken back in public in the minute of the decision or later: times
// are typed in minutes, or with seconds.
func (r Record) TakenBack(d Decision) bool {
	w := r.Withdrawn
	return w != nil && d.On(w.Gate, w.Code) && !w.At.Before(d.At.Truncate(time.Minute))
}

// Late reports whether the protest came after the period; false while nothing is known of the posting.
func (r Record) Late(minutes int) bool {
	return r.Protest != nil && r.Posted != nil && r.Protest.At.After(r.Posted.Until(minutes))
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
	case Decision:
		kind = decision
		if what.Gate != "" || what.Code != "" {
			more = []string{url.PathEscape(what.Gate), url.PathEscape(what.Code)}
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
			r.Protest = read[Protest](value)
			if r.Protest != nil {
				r.Protest.By = by[key]
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

// settle orders the decisions and finds the one on what is public.
func (r *Record) settle() {
	slices.SortFunc(r.Decisions, func(a, b Decision) int {
		return cmp.Or(a.At.Compare(b.At), strings.Compare(a.Gate, b.Gate), strings.Compare(a.Code, b.Code))
	})
	if last := len(r.Decisions) - 1; last > 0 {
		// One that names no line was about what was public then; a later one says more.
		newest := r.Decisions[last].At
		r.Decisions = slices.DeleteFunc(r.Decisions, func(d Decision) bool { return d.Gate == "" && d.Code == "" && d.At.Before(newest) })
	}
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

func parseKey(key string) (kind string, l Line, ok bool) {
	rest, found := strings.CutPrefix(key, prefix)
	parts := strings.Split(rest, "/")
	if !found || len(parts) != 5 && !(len(parts) == 7 && parts[0] == decision) {
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
	if len(parts) != 7 {
		return "", ""
	}
	gate, gateErr := url.PathUnescape(parts[5])
	code, codeErr := url.PathUnescape(parts[6])
	if gateErr != nil || codeErr != nil {
		return "", ""
	}
	return gate, code
}
