package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

// event is what one racer did at one place, seen by one judge or by several.
type event struct {
	code    sheetmodel.Code
	gates   []string // from the start down; empty: the code needs none
	rows    []*row
	attempt int
}

func (e event) gate() string {
	if len(e.gates) == 0 {
		return ""
	}
	return e.gates[0]
}

// ready returns the rows that can carry the event now.
func (e event) ready() []*row { return keep(e.rows, (*row).ready) }

// carrying returns the rows that carry the event: those ready now, or all if none is.
func (e event) carrying() []*row {
	if ready := e.ready(); len(ready) > 0 {
		return ready
	}
	return e.rows
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
