package jury

import (
	"slices"
	"time"

	"gatefold/rules"
)

// Entry is one answer of the store's log.
type Entry struct{ Key, Value string }

// Notices returns what was said in public about lines, from the log in its order; what can't be read is left out. A decision that was taken
// off, for it was entered at the wrong line, has an empty value: what the jury decided on the line beside it, on another protest, holds then.
func Notices(log []Entry) []rules.Notice {
	var all []rules.Notice
	type place struct {
		Line
		gate, code string
	}
	verdicts := map[place]map[string]Decision{} // by key, as they stand so far
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
			at := place{l, n.Gate, n.Code}
			if verdicts[at] == nil {
				verdicts[at] = map[string]Decision{}
			}
			delete(verdicts[at], e.Key)
			if d := read[Decision](e.Value); d != nil {
				verdicts[at][e.Key] = *d
			}
			if d := lastOf(verdicts[at]); d.Verdict == Overruled {
				n.What, n.At = rules.NoticeOverruled, rules.Moment(d.At.Unix())
			}
		default:
			continue
		}
		all = append(all, n)
	}
	return all
}

// lastOf is the decision that holds among those on one line.
func lastOf(all map[string]Decision) Decision {
	var last Decision
	for _, d := range all {
		if c := d.At.Compare(last.At); c > 0 || c == 0 && d.Protest >= last.Protest {
			last = d
		}
	}
	return last
}

// OnBoard says of records what is public of their lines as the notice board has it: draft, packet and board tell one clock. Of disputed lines
// nothing is told.
func OnBoard(all map[Line]Record, board []rules.BoardLine, disputed func(Line) bool) {
	for line, r := range all {
		by := ""
		if r.Posted != nil {
			by = r.Posted.By
		}
		r.Posted, r.board = nil, nil
		standing, last := -1, false // the last thing said of the line: it is public, or the jury struck it
		for _, b := range board {
			if (Line{b.Run, b.Course, b.Group, b.Bib}) != line {
				continue
			}
			if last = b.Struck == nil || b.Overruled; !last {
				continue
			}
			if b.Struck == nil {
				standing = len(r.board)
			}
			r.board = append(r.board, Posting{At: time.Unix(int64(b.Posted), 0).UTC(), Gate: b.Gate, Code: b.Code, Open: b.Open, Minutes: b.Minutes, StartList: b.StartList, By: by})
		}
		slices.Reverse(r.board) // the newest of a gate and code first
		switch {
		case disputed(line):
			r.board = nil
		case standing >= 0:
			r.Posted = &r.board[len(r.board)-1-standing]
		case last:
			r.Posted = &r.board[0]
		}
		r.decide()
		all[line] = r
	}
}

// Withdraws reports whether the text of an answer says that a line was taken back in public.
func Withdraws(value string) bool {
	p := read[Posting](value)
	return p != nil && p.Withdrawn
}
