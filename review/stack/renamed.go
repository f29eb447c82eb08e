package stack

import (
	"gatefold/review/store"
)

// What was typed of a side that has no identity was typed of its ink. It goes with the ink when the side gets another
// name, and never counts for another sheet of paper that has the old name now: nobody has typed that.

// follow gives the decisions about sides without an identity the names that their sides have now. Those of a side of
// which nobody knows the card keep a name that is no reading's, so that they count nowhere and stay in the log.
func (l *loader) follow(inks map[int64]store.Ink) {
	plain := map[store.Ink]*store.Sheet{}
	for i := range l.sheets {
		if s := &l.sheets[i]; s.Read.Plain != nil {
			plain[store.Ink{Photo: s.Photo, Part: s.Part}] = s
		}
	}
	for i := range l.Decisions {
		d := &l.Decisions[i]
		s := plain[inks[d.Sheet]]
		card, side, field, err := store.ParseKey(d.Reading)
		switch {
		case s == nil, err != nil, side != s.Side, s.Named() && card == s.Card:
		case s.Named():
			d.Reading = s.Key(field)
		default:
			d.Reading = store.WhichCard(s.Photo, s.Part) + "/" + string(side) + "/" + field
		}
	}
}

// anyPlain reports whether a side without an identity is in.
func (l *loader) anyPlain() bool {
	for _, s := range l.sheets {
		if s.Read.Plain != nil {
			return true
		}
	}
	return false
}
