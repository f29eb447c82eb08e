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
