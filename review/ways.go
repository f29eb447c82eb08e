package review

import (
	"slices"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// How a text came to the desk.
const (
	howPaper = "paper" // read off the ink
	howAloud = "aloud" // the judge reads the row aloud
	howAsked = "asked" // the judge, asked, named it
	howNod   = "nod"   // the judge agreed to what we named; no page offers it, for it never counts
)

// askOpenly says how a judge is asked so that the answer is theirs.
const askOpenly = "ask what stands there, and say no number yourself, not even as a guess."

// ways are what one person can still say about a field that counts for something.
type ways struct {
	Paper   bool   // what they read off the ink
	Aloud   bool   // the judge's word, read aloud
	Asked   bool   // the judge's word, asked for
	Nothing bool   // that nothing is written there
	Judge   bool   // only the judge can settle it
	Words   string // what will count, in one line
	Other   string // why this person can't give a look; empty: they can
}

// Any reports whether there is anything to type.
func (w ways) Any() bool { return w.Paper || w.Aloud || w.Asked }

// ways says what can count, by the table of package look and by what this person was shown and has
// typed. None of it depends on what the ink is read as.
func (d *Desk) ways(m *moment, s *session, t *todo) ways {
	key := t.Entry.Key
	d.mu.Lock()
	told := d.told.knows(s, key)
	d.mu.Unlock()
	called := d.called(m, s)[key]
	spent := m.spent(s)[key]
	heard := t.Need != look.NeedJudge && m.heard(&t.Entry)
	row, _ := m.row(key)
	empty := row != nil && len(row.Nothing) > 0
	fresh := !spent && !told
	w := ways{
		Paper: fresh && t.Need != look.NeedJudge || spent && !told && m.takenBack(s, key),
		Aloud: fresh && !heard, Asked: !told && !heard && s.roles().Ask(), Nothing: fresh && !heard, Judge: t.Need == look.NeedJudge,
	}
	if empty {
		return ways{Paper: true, Words: "Somebody has said that nothing is written here. What you read off the ink speaks against that, and the row waits again."}
	}
	switch {
	case called && !told && row != nil && !gateSettled(row):
		return ways{
			Other: "You wrote down or read a call that names a bib, and this row's gate is not settled.",
			Words: "So nothing that you type here is typed unseen. Settle the gate first: unless it is the call's, you can type the bib then. Or somebody else types it " +
				"or asks the judge, or the row is set aside.",
		}
	case called:
		return ways{
			Other: "You wrote down or read a call that names a bib at this gate.",
			Words: "So nothing that you type here is typed unseen. Somebody else types it or asks the judge, or the row is set aside.",
		}
	case told:
		w.Other = "You have been shown what was read or typed here."
		w.Words = "Nothing that you type counts here any more. Somebody else types it unseen or asks the judge, or the row is set aside."
	case heard && fresh:
		w.Words = "The judge has named it. What counts now is what you read off the ink."
	case heard:
		w.Other = "You have typed this one."
		w.Words = "The judge has named it and is not asked again. What counts now is somebody else who reads it off the ink, or set the row aside."
	case spent && w.Asked && m.unasked(s, key):
		w.Other = "You have typed this one."
		w.Words = "You wrote down a word of the judge's here and took it back. Written down by you, only the same word counts again, for you were told whether it fits; another one " +
			"counts where somebody else asks the judge. With nobody else here, set the row aside, or let the list go out with it open, on the referee's word."
	case spent && w.Paper:
		w.Other = "You have typed this one."
		w.Words = "Typed again, it is kept as your word and is no look. The judge's own word counts, and so does what another person reads off the ink."
	case spent:
		w.Other = "You have typed this one."
		if m.onlySetAside(s, key) {
			w.Other = "You have had this one, and set it aside."
		}
		w.Words = "The judge's own word counts: " + askOpenly
		w.Words += " So does what another person reads off the ink."
		if w.Judge {
			w.Words = "Only the judge's own word counts."
		}
	case w.Judge:
		w.Words = "Only the judge's own word counts, unless nothing is written there at all."
	default:
		w.Words = "What you read off the ink counts. So does the judge's own word: " + askOpenly
	}
	if !told && !heard && !w.Asked {
		w.Words += " What a judge says when asked is entered by the chief gate judge or the referee."
	}
	return w
}

// spent are the fields of which a person can't say anything unseen any more, by what they did.
func (m *moment) spent(s *session) map[string]bool {
	spent := map[string]bool{}
	who := look.Person(s.person)
	for _, dec := range m.full.Decisions {
		if dec.Session == s.id || look.Person(dec.By) == who || dec.Undone != nil && look.Person(dec.Undone.By) == who {
			spent[dec.Reading] = true
		}
	}
	return spent
}

// fresh reports whether what this person types of a field is typed unseen.
func (d *Desk) fresh(m *moment, s *session, key string) bool {
	spent, called := m.spent(s), d.called(m, s)
	d.mu.Lock()
	defer d.mu.Unlock()
	return !spent[key] && !called[key] && !d.told.knows(s, key)
}

// takenBack reports whether the last thing this person said of a field was taken back.
func (m *moment) takenBack(s *session, key string) bool {
	back := false
	for _, dec := range m.full.Decisions {
		if dec.Reading == key && mine(dec, s) && dec.Basis != sheetmodel.BasisSetAside {
			back = dec.Undone != nil
		}
	}
	return back
}

// unasked reports whether this person wrote down a word of the judge's about a field, and it was taken back.
func (m *moment) unasked(s *session, key string) bool {
	return slices.ContainsFunc(m.full.Decisions, func(dec store.Decision) bool {
		return dec.Reading == key && mine(dec, s) && dec.Undone != nil && (dec.ReadBack || dec.Basis == sheetmodel.BasisJudgeAsked)
	})
}

// onlySetAside reports whether all that this person said of a field is that its row is set aside.
func (m *moment) onlySetAside(s *session, key string) bool {
	aside := false
	for _, dec := range m.full.Decisions {
		if dec.Reading == key && (mine(dec, s) || dec.Undone != nil && look.Person(dec.Undone.By) == look.Person(s.person)) {
			if dec.Basis != sheetmodel.BasisSetAside {
				return false
			}
			aside = true
		}
	}
	return aside
}

func mine(dec store.Decision, s *session) bool {
	return dec.Session == s.id || look.Person(dec.By) == look.Person(s.person)
}

// heard reports whether the judge's newest word about a field was unprompted, and is about the ink as it is.
func (m *moment) heard(e *stack.Entry) bool {
	if e.Seen.Reason == stack.NewerInk {
		return false // the judge has mended the card since
	}
	heard := false
	for _, dec := range m.full.Decisions {
		if dec.Reading == e.Key && dec.Undone == nil && (dec.ReadBack || dec.Basis == sheetmodel.BasisJudgeAsked) {
			heard = dec.ReadBack && (dec.Blind || dec.Basis == sheetmodel.BasisJudgeAsked)
		}
	}
	return heard
}
