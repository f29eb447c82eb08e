package stack

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// SettledTwice is why a field waits that two copies of the race settled differently.
const SettledTwice = "settled differently in two copies of this race"

// countOn counts the looks of a field on a sheet, at which not all that was said of the field need have been said.
func (l *loader) countOn(s *store.Sheet, ink look.Ink, key string) look.Seen {
	decisions, other := l.looksAt(s, ink, key)
	seen := look.Count(ink, s.Read.Reading.Reader, decisions)
	if other {
		seen = overtaken(seen)
	}
	return l.undisputed(key, l.takenBack(s, ink, key, seen))
}

// ReadOtherwiseOnce is why a bib waits that somebody read otherwise than the reader, and nobody has read since.
const ReadOtherwiseOnce = "somebody read it otherwise, unseen, and took that back"

// takenBack lets a bib wait that stands on the reader's looks alone, if somebody has typed it otherwise unseen, or its judge named another, and
// that was taken back: it may have been a slip, or somebody gave in once they were told that it doesn't fit. One further person, or the
// judge, tells.
func (l *loader) takenBack(s *store.Sheet, ink look.Ink, key string, seen look.Seen) look.Seen {
	byPerson := func(o sheetmodel.Look) bool {
		return o.Kind != sheetmodel.LookWriting && o.Kind != sheetmodel.LookSecondBox && o.Kind != sheetmodel.LookStrip
	}
	if ink.Grammar != sheetmodel.GrammarBib || seen.State != sheetmodel.BibTwoLooks || slices.ContainsFunc(seen.Looks, byPerson) {
		return seen
	}
	for _, d := range l.undone[key] {
		another := look.Canonical(ink.Grammar, d.Text) != seen.Text
		// What another copy had shown to its typist takes a look away and no doubt: joining lets no bib stand that waited.
		unseen := (d.Blind || l.sighted[d.ID]) && (d.Basis == sheetmodel.BasisNoWriting || d.Basis == sheetmodel.BasisOnPaper && another)
		named := d.Basis == sheetmodel.BasisJudgeAsked && (d.ReadBack || l.sighted[d.ID]) && another
		if (unseen || named) && !l.atOtherInk(s, ink.Reading, &d) {
			return look.Seen{State: sheetmodel.BibWaiting, Text: seen.Text, Next: look.NeedSecondPerson, Reason: ReadOtherwiseOnce, Rivals: seen.Rivals, Typed: seen.Typed}
		}
	}
	return seen
}

// atOtherInk reports whether what was taken back was said of other ink than s shows. What was typed from the paper, or at a photo that only
// another copy has, is held against no photo: there, that it doesn't fit is all that is known.
func (l *loader) atOtherInk(s *store.Sheet, r sheetmodel.Reading, d *sheetmodel.Decision) bool {
	if sheet := l.typedOf[d.ID]; sheet <= 0 && sheet != store.OfOtherForm {
		return false
	}
	return l.changedSince(s, r, d)
}

// undisputed lets a field wait that two copies of the race settled differently, whatever the looks say together: which copy was joined
// last must not decide.
func (l *loader) undisputed(key string, seen look.Seen) look.Seen {
	d := l.disputeOf(store.DisputeReading, key)
	if d == nil {
		return seen
	}
	reason := SettledTwice
	if seen.State == sheetmodel.BibWaiting && seen.Reason != "" {
		reason += "; " + seen.Reason
	}
	next := look.NeedSecondPerson
	if seen.Next == look.NeedJudge {
		next = look.NeedJudge
	}
	rivals := slices.Clone(seen.Rivals)
	for _, decision := range l.decisions[key] {
		if t := decision.Text; t != "" && t != seen.Text && !slices.Contains(rivals, t) {
			rivals = append(rivals, t)
		}
	}
	return look.Seen{State: sheetmodel.BibWaiting, Text: seen.Text, Next: next, Reason: reason, Rivals: rivals, Typed: seen.Typed}
}

func (l *loader) disputeOf(kind store.DisputeKind, subject string) *store.Dispute {
	i := slices.IndexFunc(l.disputes, func(d store.Dispute) bool { return d.Kind == kind && d.Subject == subject })
	if i < 0 {
		return nil
	}
	return &l.disputes[i]
}

func (l *loader) disputed(kind store.DisputeKind, card sheetmodel.CardKey) bool {
	return l.disputeOf(kind, store.CardName(card)) != nil
}

// openDisputes takes back what was said differently, and keeps the draft open where no question of its own
// does that.
func (l *loader) openDisputes() {
	open := func(run int, course, why string) {
		g := rules.Gap{Run: run, Course: course, Why: why}
		if !slices.Contains(l.open, g) {
			l.open = append(l.open, g)
		}
	}
	for _, d := range l.disputes {
		switch d.Kind {
		case store.DisputeAnswer:
			if line, ok := JuryDispute(d); ok {
				open(line.Run, line.Course, JuryDisputeWords(line))
			}
			delete(l.Answers, d.Subject) // asked again, by its own question
			delete(l.Answerers, d.Subject)
		case store.DisputeBinding:
			for _, b := range l.bindings {
				if store.CardName(b.Card) == d.Subject {
					open(b.Run, b.Course, DisputeWords(d, b.Card))
				}
			}
		case store.DisputePaper:
			for _, p := range l.paper {
				if store.CardName(p.Card) == d.Subject {
					open(p.Card.Run, p.Card.Course, DisputeWords(d, p.Card))
				}
			}
		case store.DisputeReading, store.DisputeGap: // wait by themselves
		}
	}
}

// JuryDispute is the line of the draft of which two copies have it otherwise what was posted, protested or decided.
func JuryDispute(d store.Dispute) (jury.Line, bool) {
	for _, value := range []string{d.Ours, d.Theirs} {
		for line := range jury.Read(map[string]string{d.Subject: value}, map[string]string{}) {
			return line, d.Kind == store.DisputeAnswer
		}
	}
	return jury.Line{}, false
}

// JuryDisputeWords say so of a line.
func JuryDisputeWords(line jury.Line) string {
	return fmt.Sprintf("Two copies of this race say differently what was posted, protested or decided about bib %s: enter it again.", strings.TrimSpace(line.Group+" "+line.Bib))
}

// DisputeWords say of a card what two copies of the race settled differently; empty if it is nothing that its page settles.
func DisputeWords(d store.Dispute, card sheetmodel.CardKey) string {
	switch d.Kind {
	case store.DisputeBinding:
		return fmt.Sprintf("Card %d was placed differently in two copies of this race: say again where it was used.", card.Card)
	case store.DisputePaper:
		return fmt.Sprintf("Two copies of this race count the rows of card %d differently: count them again on its page.", card.Card)
	case store.DisputeReading, store.DisputeGap, store.DisputeAnswer:
	}
	return ""
}

// Disputes lists what two copies of the race settled differently and nobody has settled since.
func (s *Stack) Disputes() []store.Dispute { return s.disputes }
