package rules

import (
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// event is what one racer did at one place, seen by one judge or by several.
type event struct {
	code    sheetmodel.Code
	gates   []string // from the start down; empty: the code needs none
	rows    []*row
	attempt int
	// beside holds rows that may belong to it once they are settled; they shape nothing.
	beside []*row
}

func (e event) gate() string {
	if len(e.gates) == 0 {
		return ""
	}
	return e.gates[0]
}

// all returns its rows and those beside it, in order.
func (e event) all() []*row {
	all := append(slices.Clone(e.rows), e.beside...)
	slices.SortFunc(all, func(a, b *row) int { return compareRefs(a.Ref, b.Ref) })
	return all
}

// about adds to what a question is about what tells this event from others of the racer at the same gate: the
// attempt, and a code that needs no drawing, as it is no fault of passing the gate.
func (e event) about(parts ...any) []any {
	if e.attempt > 1 {
		parts = append(parts, answerRerun)
	}
	if e.code.Effect == sheetmodel.EffectPropose && !e.code.Drawing {
		parts = append(parts, e.code.Code)
	}
	return parts
}

// with returns the event as only these rows tell it.
func (e event) with(rows []*row) event {
	e.rows, e.code = rows, rows[0].code
	for _, w := range rows {
		if w.code.Effect == sheetmodel.EffectLostTwo {
			e.code = w.code
		}
	}
	return e
}

// byCard returns the event as each judge tells it, cards in order.
func (e event) byCard() []event {
	var split []event
	for i := 0; i < len(e.rows); {
		j := i
		for j < len(e.rows) && e.rows[j].card == e.rows[i].card {
			j++
		}
		split = append(split, e.with(e.rows[i:j:j]))
		i = j
	}
	return split
}

// twice reports whether the event is a second lost ski whose judge saw both.
func (e event) twice() bool { return e.code.Effect == sheetmodel.EffectLostTwo }

// tiers splits rows by how much is settled: firm ones, those with two looks that a question keeps back,
// and those short of a look. What a later tier says never shapes what an earlier one says.
func tiers(rows []*row) [][]*row {
	held := func(w *row) bool { return !w.firm() && w.BibState == sheetmodel.BibTwoLooks }
	short := func(w *row) bool { return w.BibState != sheetmodel.BibTwoLooks }
	return [][]*row{keep(rows, (*row).firm), keep(rows, held), keep(rows, short)}
}

// weigh puts rows of one racer together as events does, but tier by tier. A row of a later tier lies
// beside the first event it may belong to; it neither moves, joins nor splits one. Rows that belong to
// no firm event are events of their own, which can only wait.
func (cr *courseRun) weigh(rows []*row) []event {
	var events []event
	for _, tier := range tiers(rows) {
		var apart []*row
		for _, w := range tier {
			at := slices.IndexFunc(events, func(e event) bool {
				return e.attempt == w.attempt && sameKind(e.code, w.code) && meet(e.gates, w.gates)
			})
			if at < 0 {
				apart = append(apart, w)
				continue
			}
			events[at].beside = append(events[at].beside, w)
		}
		events = append(events, cr.events(apart)...)
	}
	slices.SortFunc(events, cr.compareEvents)
	return events
}

// events puts rows of one racer that share code, attempt and a gate together, from the start down.
// Lost skis share a code here: a judge may write "lost ski" where another writes "second time".
func (cr *courseRun) events(rows []*row) []event {
	var events []event
	for _, w := range rows {
		merged := event{code: w.code, gates: w.gates, rows: []*row{w}, attempt: w.attempt}
		rest := events[:0]
		for _, e := range events {
			if e.attempt != w.attempt || !sameKind(e.code, w.code) || !meet(e.gates, merged.gates) {
				rest = append(rest, e)
				continue
			}
			merged.gates = cr.sortGates(append(slices.Clone(e.gates), merged.gates...))
			merged.rows = append(slices.Clone(e.rows), merged.rows...)
		}
		events = append(rest, merged)
	}
	for i, e := range events {
		slices.SortFunc(e.rows, func(a, b *row) int { return compareRefs(a.Ref, b.Ref) })
		events[i] = e.with(e.rows)
	}
	slices.SortFunc(events, cr.compareEvents)
	return events
}

func (cr *courseRun) compareEvents(a, b event) int {
	return firstOf(cr.compareGates(a.gate(), b.gate()), compareBools(a.lost(), b.lost()), compareRefs(a.rows[0].Ref, b.rows[0].Ref))
}

func (e event) lost() bool { return e.rows[0].lost() }

func sameKind(a, b sheetmodel.Code) bool {
	lost := func(c sheetmodel.Code) bool {
		return c.Effect == sheetmodel.EffectLostSki || c.Effect == sheetmodel.EffectLostTwo
	}
	return a.Code == b.Code || lost(a) && lost(b)
}

// meet reports whether two events share a gate, or neither has one.
func meet(a, b []string) bool {
	if len(a) == 0 && len(b) == 0 {
		return true
	}
	return slices.ContainsFunc(a, func(g string) bool { return slices.Contains(b, g) })
}

// cardsOf names the cards of rows by their numbers, each once.
func cardsOf(rows []*row) string {
	var numbers []string
	for _, w := range rows {
		if n := strconv.Itoa(w.Ref.Card); !slices.Contains(numbers, n) {
			numbers = append(numbers, n)
		}
	}
	return strings.Join(numbers, ",")
}

// rowsKey names rows of one card in a question's key: as many may be others by now, as on a newer photo.
func rowsKey(rows []*row) string {
	var numbers []string
	for _, w := range slices.SortedFunc(slices.Values(rows), func(a, b *row) int { return compareRefs(a.Ref, b.Ref) }) {
		numbers = append(numbers, strconv.Itoa(w.Ref.Row))
	}
	return "row-" + orElse(strings.Join(numbers, ","), "none")
}
