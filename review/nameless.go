package review

import (
	"slices"

	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// somebody and unsaid stand for what a viewer isn't told.
const (
	somebody = "somebody"
	unsaid   = "a reason was given"
)

// nameless returns the moment for those who are only to look: without the names of judges and of those who
// typed, without phone numbers, and without what people wrote freely, for it may name somebody. As with
// the veil, the rules look at what is left, so that nothing on a page can follow from a name.
func (m *moment) nameless() *moment {
	n := *m
	n.viewer = true
	n.full = namelessStack(m.full)
	n.result = rules.Check(n.full.Facts())
	n.waits = n.full.Waiting(n.result)
	n.shown, n.said, n.covered, n.drawn = veil(n.full, n.result)
	n.said.Incomplete = append(n.said.Incomplete, rules.HeardOpen(m.said)...)
	return &n
}

func namelessStack(st *stack.Stack) *stack.Stack {
	n := *st
	n.Photos = slices.Clone(st.Photos)
	for i := range n.Photos {
		n.Photos[i].Sent = "a photo"
	}
	n.Cards = slices.Clone(st.Cards)
	for i := range n.Cards {
		c := &n.Cards[i]
		c.Judge, c.Phone, c.Header = "", "", nil
		if c.GapReason != "" {
			c.GapReason = unsaid
		}
		if c.BackReason != "" {
			c.BackReason = unsaid
		}
		if c.Paper != nil {
			paper := *c.Paper
			paper.By = somebody
			c.Paper = &paper
		}
	}
	n.Rows = slices.Clone(st.Rows)
	for i := range n.Rows {
		r := &n.Rows[i]
		for _, e := range []*stack.Entry{&r.BibSeen, &r.Code, &r.Gate, &r.Panel, &r.Rerun} {
			e.Seen = namelessSeen(e.Seen)
		}
		r.Nothing = unnamed(r.Nothing)
		switch {
		case len(r.Nothing) > 0:
			r.Reason = look.SaidNothing(r.Nothing)
		case r.BibState == sheetmodel.BibSetAside:
			r.Reason = unsaid
		}
	}
	n.Decisions = slices.Clone(st.Decisions)
	for i := range n.Decisions {
		n.Decisions[i].By, n.Decisions[i].Note = somebody, ""
	}
	n.Board = slices.Clone(st.Board)
	for i := range n.Board {
		if l := &n.Board[i]; l.Struck != nil && !l.Overruled && l.Why != rules.WhyChanged {
			l.Why = unsaid // also where run 2's list says why a racer is back in
		}
	}
	n.Answers, n.Answerers, n.Heard = jury.Unnamed(st.Answers, somebody, unsaid), nil, nil
	return &n
}

func namelessSeen(s look.Seen) look.Seen {
	s.Looks = slices.Clone(s.Looks)
	for i := range s.Looks {
		s.Looks[i].By = somebody
	}
	s.Nothing = unnamed(s.Nothing)
	switch {
	case len(s.Nothing) > 0:
		s.Reason = look.SaidNothing(s.Nothing)
	case s.State == sheetmodel.BibSetAside:
		s.Reason = unsaid
	}
	return s
}

// unnamed keeps the number of names.
func unnamed(names []string) []string {
	names = slices.Clone(names)
	for i := range names {
		names[i] = somebody
	}
	return names
}
