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

// GoneLines are the lines of which something is still to be said wherever their rows are by now: those that hang on the notice board, and those, struck there or
// never public, of which two copies of the race have it otherwise what was posted, protested or decided, or on which a protest is open. A racer has one in a run:
// that which hangs there, or else which was struck last.
func (s *Stack) GoneLines() map[jury.Line]rules.BoardLine {
	all := map[jury.Line]rules.BoardLine{}
	hangs := map[jury.Line]bool{}
	for _, b := range s.Board {
		of := jury.Line{Run: b.Run, Course: b.Course, Group: b.Group, Bib: b.Bib}
		if !hangs[of] {
			all[of], hangs[of] = b, b.Struck == nil
		}
	}
	disputed := map[jury.Line]bool{}
	for _, d := range s.disputes {
		of, ok := JuryDispute(d)
		if !ok {
			continue
		}
		disputed[of] = true
		if _, there := all[of]; there {
			continue
		}
		for _, value := range []string{d.Ours, d.Theirs} {
			for _, dec := range jury.Read(map[string]string{d.Subject: value}, nil)[of].Decisions {
				all[of] = rules.BoardLine{Run: of.Run, Course: of.Course, Group: of.Group, Bib: of.Bib, Gate: dec.Gate, Code: dec.Code}
			}
		}
	}
	records := s.Records()
	for of := range all {
		if !hangs[of] && !disputed[of] && !records[of].ProtestOpen() {
			delete(all, of)
		}
	}
	return all
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
