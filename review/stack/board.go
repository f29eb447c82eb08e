package stack

import (
	"slices"

	"gatefold/review/jury"
	"gatefold/review/store"
	"gatefold/rules"
)

// board lays out all that was made public from the log of answers. What two copies of the race have otherwise strikes no line until it is
// entered again.
func (l *loader) board(answers []store.Answer) []rules.BoardLine {
	var log []jury.Entry
	for _, a := range answers {
		if d := l.disputeOf(store.DisputeAnswer, a.Question); d != nil && (jury.IsDecision(a.Question) || jury.Withdraws(a.Value) && (a.Value == d.Ours || a.Value == d.Theirs)) {
			continue
		}
		log = append(log, jury.Entry{Key: a.Question, Value: a.Value})
	}
	return rules.Board(jury.Notices(log), l.Race.Rules.ProtestMinutes)
}

// OnlyPublic is the line of a racer that hangs on the notice board; failing that the one that was struck there last, if two copies of the race
// have it otherwise what was posted, protested or decided of the racer in that run, or a protest is open: it is settled by entering it again. It is nil if
// there is none.
func (s *Stack) OnlyPublic(of jury.Line) *rules.BoardLine {
	var struck *rules.BoardLine
	for i := range s.Board {
		b := &s.Board[i]
		if (jury.Line{Run: b.Run, Course: b.Course, Group: b.Group, Bib: b.Bib}) != of {
			continue
		}
		if b.Struck == nil {
			return b
		}
		struck = b
	}
	disputed := func(d store.Dispute) bool {
		line, ok := JuryDispute(d)
		return ok && line == of
	}
	if struck == nil || !slices.ContainsFunc(s.disputes, disputed) && !s.Records()[of].ProtestOpen() {
		return nil
	}
	return struck
}

// Records are what stands of each line that was made public, protested or decided. What is public is as the notice board has it: there is
// one clock for a line.
func (s *Stack) Records() map[jury.Line]jury.Record {
	all := jury.Read(s.Answers, s.Answerers)
	jury.OnBoard(all, s.Board, func(line jury.Line) bool {
		key := jury.Key(line, jury.Posting{})
		return slices.ContainsFunc(s.disputes, func(d store.Dispute) bool { return d.Kind == store.DisputeAnswer && d.Subject == key })
	})
	return all
}
