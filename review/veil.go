package review

import (
	"maps"
	"slices"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// heldBack is what a page says of a recorded row whose bib may still have to be typed.
const heldBack = "recorded; its bib is not shown while it may still have to be typed unseen"

// veil returns a copy of the stack without the texts that somebody may still type unseen, what the
// rules say about that copy, and the keys of the readings that were covered.
//
// Covered is every field that waits, and the bib of a recorded row that a later card could turn into
// an accusation. Everything a person is shown is made from the copy, so nothing can follow from a
// covered text. The stack itself is not changed.
func veil(st *stack.Stack, result rules.Result) (*stack.Stack, rules.Result, map[string]bool) {
	covered := map[string]bool{}
	for _, w := range st.Waiting(result) {
		covered[w.Entry.Key] = true
	}
	standing := map[sheetmodel.RowRef]sheetmodel.Standing{}
	for _, s := range result.Standings {
		standing[s.Ref] = s.Standing
	}
	recorded := map[sheetmodel.RowRef]bool{}
	shown := *st
	shown.Rows = slices.Clone(st.Rows)
	for i := range shown.Rows {
		r := &shown.Rows[i]
		if standing[r.Ref] == sheetmodel.StandsInform && mayAccuse(st.Race.Codes, r) && r.BibState != sheetmodel.BibTwoLooks {
			covered[r.BibSeen.Key] = true
			recorded[r.Ref] = true
		}
		cover(r, covered)
	}
	shown.Decisions = slices.DeleteFunc(slices.Clone(st.Decisions), func(d storeDecision) bool { return covered[d.Reading] })

	facts := shown.Facts()
	for i := range facts.Rows {
		if recorded[facts.Rows[i].Ref] {
			facts.Rows[i].BibState, facts.Rows[i].Reason = sheetmodel.BibSetAside, heldBack
		}
	}
	said := rules.Check(facts)
	for i, s := range said.Standings {
		if recorded[s.Ref] && s.Standing == sheetmodel.StandsSetAside {
			said.Standings[i].Standing = sheetmodel.StandsInform
		}
	}
	return &shown, said, maps.Clone(covered)
}

// mayAccuse reports whether what happened in the row could still propose something.
func mayAccuse(book sheetmodel.CodeBook, r *stack.Row) bool {
	if r.Struck {
		return false
	}
	c, known := book.Find(r.Row.Code)
	if !known || !r.CodeSure {
		return true
	}
	switch c.Effect {
	case sheetmodel.EffectPropose, sheetmodel.EffectLostSki, sheetmodel.EffectLostTwo:
		return true
	case sheetmodel.EffectInform, sheetmodel.EffectLeft, sheetmodel.EffectHindered:
		return false
	}
	return true
}

// cover takes the texts of covered fields out of a row.
func cover(r *stack.Row, covered map[string]bool) {
	hide := func(e *stack.Entry, inks ...*sheetmodel.Reading) bool {
		if e.Key == "" || !covered[e.Key] {
			return false
		}
		blank(&e.Reading)
		for _, ink := range inks {
			blank(ink)
		}
		// Why it waits is in fixed words that hold no text; who typed it and what is.
		e.Seen = look.Seen{State: e.Seen.State, Next: e.Seen.Next, Reason: e.Seen.Reason}
		if e.Seen.State == sheetmodel.BibOneLook || e.Seen.State == sheetmodel.BibTwoLooks {
			e.Seen.State = sheetmodel.BibWaiting
		}
		return true
	}
	if hide(&r.BibSeen, &r.Ink.Bib, &r.Ink.BibAgain) {
		r.Bib, r.Row.Group, r.BibState, r.Reason = "", "", sheetmodel.BibWaiting, "its bib needs a look"
	}
	if hide(&r.Code, &r.Ink.Code, &r.Ink.CodeOther) {
		r.Row.Code, r.CodeSure = "", false
	}
	if hide(&r.Gate, &r.Ink.Gate) {
		r.Row.Gate, r.GateSure = "", false
	}
}

// blank leaves of a reading only where it is.
func blank(r *sheetmodel.Reading) {
	*r = sheetmodel.Reading{Field: r.Field, Side: r.Side, State: sheetmodel.Doubtful, Region: r.Region}
}
