package review

import (
	"net/url"
	"slices"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// openThing is what keeps a list open, with the page on which it is settled; an empty path: none of this desk's.
type openThing struct{ Words, Path string }

// openFinding is a finding that needs a person, with the page on which they are asked.
type openFinding struct {
	sheetmodel.Finding
	Path string
}

// missingView is a card that isn't in, with its page.
type missingView struct {
	draft.MissingCard
	Path  string
	Words string // of its gates
}

// questionPath is where a question stands on its page.
func questionPath(key string) string { return "/questions#" + url.PathEscape(key) }

// openThings are the reasons why a section is incomplete. Who is only to look is led nowhere.
func (d *Desk) openThings(m *moment, s draft.Section) []openThing {
	var all []openThing
	for _, why := range s.Incomplete {
		thing := openThing{Words: why}
		if !m.viewer {
			thing.Path = d.settledAt(m, s, why)
		}
		all = append(all, thing)
	}
	return all
}

// settledAt is the page on which the reason why a section is incomplete is settled, empty if there is none.
func (d *Desk) settledAt(m *moment, s draft.Section, why string) string {
	for _, q := range m.photoQuestions() {
		if q.Ask == why {
			return questionPath(q.Key)
		}
	}
	for _, f := range m.said.Findings {
		if f.Run == s.Run && f.Course == s.Course && (f.Sentence == why || f.Question != nil && f.Question.Ask == why) {
			if path := d.findingPath(m, f); path != "" {
				return path
			}
		}
	}
	for _, g := range m.said.Incomplete {
		if rows := g.About(); g.Run == s.Run && g.Course == s.Course && g.Why == why && len(rows) > 0 {
			return m.rowPath(rows[0])
		}
	}
	for _, dispute := range m.full.Disputes() {
		card, ok := store.ParseCardName(dispute.Subject)
		of := slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return c.Printed == card })
		if ok && of >= 0 && stack.DisputeWords(dispute, card) == why {
			return "/card/" + cardPath(card)
		}
		if line, ok := stack.JuryDispute(dispute); ok && stack.JuryDisputeWords(line) == why {
			if dispute.Subject == jury.Key(line, jury.Posting{}) {
				return "/posting"
			}
			return packetPath(line.Bib, line.Group)
		}
	}
	switch {
	case len(m.full.Unnamed) > 0 && m.full.UnnamedWords() == why:
		return "/questions"
	case s.Counts.CardsExpected == 0 && d.opt.SavePlace != nil && (why == draft.NobodyPlaced || why == draft.GatesUnknown):
		return "/placing"
	case why == draft.PhotosNotRead(m.unread()):
		return "/"
	}
	return ""
}

// findingPath is where a finding is answered or mended.
func (d *Desk) findingPath(m *moment, f sheetmodel.Finding) string {
	if f.Question != nil {
		if slices.ContainsFunc(m.questions(), func(q sheetmodel.Finding) bool { return q.Question.Key == f.Question.Key }) {
			return questionPath(f.Question.Key)
		}
		if len(f.Rows) > 0 {
			return m.rowPath(f.Rows[0]) // the question comes once the row is typed
		}
	}
	if f.Card != nil {
		if c := m.full.Card(*f.Card); c != nil {
			return "/card/" + cardPath(c.Printed)
		}
	}
	if f.Rule == "uncovered-gate" || f.Rule == "gates-not-known" {
		if d.opt.SavePlace != nil {
			return "/placing"
		}
		return "/"
	}
	return ""
}

// rowPath is where a row is settled: its entry, or the question that it waits for; else the page of its card.
func (m *moment) rowPath(ref sheetmodel.RowRef) string {
	for _, w := range m.waits {
		if w.Row == ref && w.Need != look.NeedNothing {
			return entryPath(w.Entry.Key)
		}
	}
	for _, f := range m.questions() {
		if slices.Contains(f.Rows, ref) {
			return questionPath(f.Question.Key)
		}
	}
	c := m.full.Card(ref.CardKey)
	if c == nil {
		return ""
	}
	for _, q := range m.photoQuestions() {
		if q.Card == c.Printed && slices.Contains(q.Rows, ref.Row) {
			return questionPath(q.Key)
		}
	}
	return "/card/" + cardPath(c.Printed)
}

// unread counts the photos that nobody has read.
func (m *moment) unread() int {
	n := 0
	for _, p := range m.full.Photos {
		if p.Fate == store.FateUnread {
			n++
		}
	}
	return n
}
