package review

import (
	"context"
	"slices"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// This file holds what a person knows of one row from what they did elsewhere.

// called are the bibs that a person can't type unseen any more because they have written down a call, by radio or
// by word of mouth, that names a bib, or have read one: those of all rows at the gate that was named, or whose gate isn't settled on a
// card that watches it. Which number was called, and what the rows read as, decides nothing here: else what a
// person may not type would tell them where it stands. A line that was struck is known all the same.
func (d *Desk) called(m *moment, s *session) map[string]bool {
	d.mu.Lock()
	calls := d.calls(m, s)
	d.mu.Unlock()
	return m.calledRows(calls)
}

// calls are those that a person has written down or read, and that name a bib. d.mu must be held.
func (d *Desk) calls(m *moment, s *session) []store.HeardEntry {
	return slices.DeleteFunc(slices.Clone(m.full.Heard), func(h store.HeardEntry) bool {
		known := look.Person(h.By) == look.Person(s.person) || d.told.knows(s, store.CallKey(h.Run, h.Course, h.Gate))
		return !known || !h.NamesBib()
	})
}

func (m *moment) calledRows(calls []store.HeardEntry) map[string]bool {
	called := map[string]bool{}
	for _, h := range calls {
		for i := range m.full.Rows {
			r := &m.full.Rows[i]
			if mayBeOf(r.Ref.CardKey, h.Run, h.Course) && (!gateSettled(r) || m.mayBeAt(r, h.Gate)) {
				called[r.BibSeen.Key] = true
			}
		}
	}
	return called
}

// calledOn reports whether a person has written down, or read, a call that names a bib and may be of a row that no photo shows on a card. Such
// a row's gate isn't settled.
func (d *Desk) calledOn(m *moment, s *session, c *stack.Card) bool {
	d.mu.Lock()
	calls := d.calls(m, s)
	d.mu.Unlock()
	return slices.ContainsFunc(calls, func(h store.HeardEntry) bool {
		return mayBeOf(c.Key, h.Run, h.Course)
	})
}

// mayBeOf reports whether a card is of a run and course, or may be: a spare that nobody has bound yet.
func mayBeOf(card sheetmodel.CardKey, run int, course string) bool {
	return card.Run == 0 || card.Run == run && card.Course == course
}

func gateSettled(r *stack.Row) bool { return r.GateSure && r.Row.Gate != "" }

// mayBeAt reports whether a row is about a gate, or likely is once its own is settled: its card watches that. No gate: it may be any.
func (m *moment) mayBeAt(r *stack.Row, gate string) bool {
	if gate == "" {
		return true
	}
	c := m.full.Cards[r.Card].Card
	if !gateSettled(r) {
		return len(c.Gates) == 0 || slices.Contains(c.Gates, gate)
	}
	var labels []string
	if run := m.race.Run(r.Ref.Run); run != nil {
		if course := run.Course(r.Ref.Course); course != nil {
			labels = course.Gates
		}
	}
	gates, err := racefolder.ParseGates(r.Row.Gate, labels)
	return err != nil || slices.Contains(gates, gate)
}

// tellCalled writes into the log that a person knows, from a call that they wrote down or read, what an entry may
// say. It comes before what they type is kept: the store goes by the log alone.
func (d *Desk) tellCalled(ctx context.Context, m *moment, s *session, key string) error {
	if !d.called(m, s)[key] {
		return nil
	}
	return d.serve(ctx, s, "heard", 0, true, key)
}

// typedBeside reports whether a person has typed another lost ski of a row's run and course, where lost skis count
// together. As all of them are asked about, whosever they are, that tells nothing of this one; two people are better
// than one all the same.
func (m *moment) typedBeside(spent map[string]bool, ref sheetmodel.RowRef) bool {
	row := m.full.Row(ref)
	if row == nil || m.race.Rules.LostSki != sheetmodel.LostSkiFrom || !lostSki(m.race.Codes, row) {
		return false
	}
	for i := range m.full.Rows {
		o := &m.full.Rows[i]
		if spent[o.BibSeen.Key] && o.Ref != ref && o.Ref.Run == ref.Run && o.Ref.Course == ref.Course && lostSki(m.race.Codes, o) {
			return true
		}
	}
	return false
}

// othersFor reports whether a row's bib is better typed by somebody else who is here: this person has typed another
// lost ski of the run, and somebody who may settle has a page open and has typed none. d.mu must be held.
func (d *Desk) othersFor(m *moment, s *session, spent map[string]bool, ref sheetmodel.RowRef) bool {
	if !m.typedBeside(spent, ref) {
		return false
	}
	row := m.full.Row(ref)
	for _, o := range d.sessions {
		if o.live == 0 || !o.roles().Settle() || look.Person(o.person) == look.Person(s.person) {
			continue
		}
		theirs := m.spent(o)
		if !theirs[row.BibSeen.Key] && !d.told.knows(o, row.BibSeen.Key) && !m.typedBeside(theirs, ref) && !m.calledRows(d.calls(m, o))[row.BibSeen.Key] {
			return true
		}
	}
	return false
}

// heardOf are the bibs that whoever reads a call which names one can't type unseen any more: as for whoever wrote it down, and those of
// cards that are not to come, or not in yet, and those of rows that no photo shows yet on cards that are: a row that turns up there, from
// a later photo or a better reader, would be typed by people who know what to expect. Of spares that nobody has seen yet, of cards that
// are bound to that gate later, and of rows whose gate isn't settled on cards that don't watch it, the call's own key tells: once the row is
// settled at another gate, they can type it.
func (m *moment) heardOf(run int, course, gate string) (keys []string) {
	keys = append(keys, store.CallKey(run, course, gate))
	for i := range m.full.Rows {
		if r := &m.full.Rows[i]; mayBeOf(r.Ref.CardKey, run, course) && m.mayBeAt(r, gate) {
			keys = append(keys, r.BibSeen.Key)
		}
	}
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		if !mayBeOf(c.Key, run, course) || gate != "" && len(c.Gates) > 0 && !slices.Contains(c.Gates, gate) {
			continue
		}
		for n := 1; n <= maxPaperRows; n++ {
			if m.full.Row(sheetmodel.RowRef{CardKey: c.Key, Row: n}) != nil {
				continue // it is at that gate, and named above, or at another one
			}
			keys = append(keys, store.Key(c.Printed, sheetmodel.Front, stack.RowField(n, sheetmodel.PartBib)))
		}
	}
	return keys
}

// heardTold are the bibs of which the findings tell what was heard.
func (m *moment) heardTold() (keys []string) {
	for _, f := range m.said.Findings {
		if f.Rule == "heard" && f.Bib != "" {
			keys = append(keys, m.heardOf(f.Run, f.Course, f.Gate)...)
		}
	}
	return keys
}
