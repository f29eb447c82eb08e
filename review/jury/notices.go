package jury

import (
	"gatefold/rules"
)

// Entry is one answer of the store's log.
type Entry struct{ Key, Value string }

// Notices returns what was said in public about lines, from the log in its order; what can't be read is left out. A decision that was taken
// off, for it was entered at the wrong line, has an empty value.
func Notices(log []Entry) []rules.Notice {
	var all []rules.Notice
	for _, e := range log {
		kind, l, ok := parseKey(e.Key)
		if !ok || e.Value == "" && kind != decision {
			continue
		}
		n := rules.Notice{Run: l.Run, Course: l.Course, Group: l.Group, Bib: l.Bib}
		switch kind {
		case posted:
			p := read[Posting](e.Value)
			if p == nil {
				continue
			}
			n.What, n.At, n.Gate, n.Code, n.Why, n.Open, n.Minutes, n.StartList = rules.NoticePosted, rules.Moment(p.At.Unix()), p.Gate, p.Code, p.Why, p.Open, p.Minutes, p.StartList
			if p.Corrected {
				n.What = rules.NoticeCorrected
			}
			if p.Withdrawn {
				n.What = rules.NoticeWithdrawn
			}
		case decision:
			n.What = rules.NoticeStands
			n.Gate, n.Code = decidedOn(e.Key)
			if d := read[Decision](e.Value); d != nil && d.Verdict == Overruled {
				n.What, n.At = rules.NoticeOverruled, rules.Moment(d.At.Unix())
			}
		default:
			continue
		}
		all = append(all, n)
	}
	return all
}

// ProtestOpen reports whether a protest was handed in that the jury has not decided. What it has decided stays so where the line is made
// public anew with another gate or code: that has no protest yet.
func (r Record) ProtestOpen() bool {
	return r.Protest != nil && !r.decidedAfter(r.Protest.At)
}

// Withdraws reports whether the text of an answer says that a line was taken back in public.
func Withdraws(value string) bool {
	p := read[Posting](value)
	return p != nil && p.Withdrawn
}
