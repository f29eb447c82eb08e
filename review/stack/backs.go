package stack

import (
	"cmp"
	"slices"

	"gatefold/rules"
)

// What a person says of a back of which no photo counts, instead of photographing it.
const (
	BackNoFault = "no-fault-drawn"   // they have it before them
	BackClosed  = "not-photographed" // nobody will; the answer's note says why
)

// LacksBack reports whether a photographed card has a back to photograph and no photo of that counts. Whoever typed a card from the
// paper had its back in their hand.
func (c *Card) LacksBack() bool {
	return c.Front != nil && c.Back == nil && c.Paper == nil && !c.OneSided()
}

// BackSaid is what was said last of the back of a card that lacks it, by whom, and whether it was said of the photo of the front that
// counts: another one tells that the card was in somebody's hand since, perhaps its judge's, who may have drawn there.
func (s *Stack) BackSaid(c *Card) (value, note, by string, stands bool) {
	key := BackKey(c.Printed)
	if value = s.Answers[key]; !c.LacksBack() || value == "" {
		return "", "", "", false
	}
	for _, a := range slices.Backward(s.AnswerLog) {
		if a.Question == key {
			note = a.Note
			break
		}
	}
	return value, note, s.Answerers[key], rules.SaidOf(s.Views[key], rules.CardView(c.Card))
}

// NamesDrawing is the first row of a card that names a drawing, or may; 0: none does. A bib is written there, or was.
func (s *Stack) NamesDrawing(c *Card) int {
	for i := range s.Rows {
		r := &s.Rows[i]
		if r.Ref.CardKey == c.Key && len(r.Nothing) == 0 && !r.Blank && (r.Row.Panel != "" || !r.PanelSure) {
			return r.Ref.Row
		}
	}
	return 0
}

// back says of a card whether its back is known. That no fault is drawn there closes nothing while one of its rows says otherwise.
func (l *loader) back(c *Card) {
	if !c.LacksBack() {
		return
	}
	c.BackState = rules.BackMissing
	value, note, _, stands := l.BackSaid(c)
	switch {
	case !stands:
	case value == BackClosed:
		c.BackState, c.BackReason = rules.BackClosed, cmp.Or(note, "no reason is kept")
	case value == BackNoFault:
		if c.BackAgainst = l.NamesDrawing(c); c.BackAgainst == 0 {
			c.BackState = rules.BackIn
		}
	}
}
