package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

// draft writes the lines of a course run: one for each racer, on the first event from the start down
// that rests on firm rows, with everything else of that racer as further evidence.
func (p *pass) draft() {
	for _, rows := range p.cr.racerRows() {
		lines := p.cr.lines[rows[0].racer]
		faults := keep(rows, (*row).live, p.accusing, func(w *row) bool { return !w.lost() })
		for _, e := range p.cr.weigh(faults) {
			lines = append(lines, line{events: []event{e}, gate: e.gate(), code: e.code, beside: e.beside})
		}
		if len(lines) > 0 {
			p.propose(rows, lines)
		}
	}
}

// line is something that proposes a disqualification: one event, or lost skis together.
type line struct {
	events []event // those that carry it, the leading one first
	gate   string
	code   sheetmodel.Code
	basis  string // where it isn't the code's own
	asks   string // the open question
	beside []*row // may belong to it, or move it, once they are settled
}

// stands reports whether every row that carries the line can do so now, and nothing is open.
func (l line) stands() bool {
	return l.asks == "" && !slices.ContainsFunc(l.rows(), func(w *row) bool { return !w.ready() })
}

// firm reports whether the line rests on firm rows and on no open count. It leads before all others
// even while it waits: what holds it may be a row that is not settled.
func (l line) firm() bool {
	return l.asks == "" && !slices.ContainsFunc(l.rows(), (*row).notFirm)
}

// rows returns the rows of all its events, without those beside it.
func (l line) rows() []*row {
	var rows []*row
	for _, e := range l.events {
		rows = append(rows, e.rows...)
	}
	return rows
}

// propose makes the call of one racer out of their lines.
func (p *pass) propose(rows []*row, lines []line) {
	slices.SortStableFunc(lines, func(a, b line) int {
		return firstOf(
			compareBools(b.firm(), a.firm()), compareBools(a.asks != "", b.asks != ""),
			p.cr.compareGates(a.gate, b.gate), compareBools(a.events[0].lost(), b.events[0].lost()),
			compareRefs(a.events[0].rows[0].Ref, b.events[0].rows[0].Ref),
		)
	})
	lead, who := lines[0], rows[0].racer
	p.cr.lines[who] = lines
	c := p.call(who, lead)
	carrying := lead.rows()
	for _, l := range lines {
		for _, w := range append(l.rows(), l.beside...) {
			w.accuses = true
			w.mayChange = !c.Waiting && !w.ready() && p.mayMove(w, lead)
		}
	}
	// A lost ski beside a call is evidence too, though it may propose nothing itself.
	for _, w := range keep(rows, (*row).live, func(w *row) bool {
		return w.accuses || w.lost() && (p.weighs(w) || meet(w.gates, lead.events[0].gates))
	}) {
		if !slices.Contains(carrying, w) {
			c.Further = append(c.Further, w.Ref)
		}
	}
	if c.Waiting {
		c.WaitsFor = p.lineWaits(lead, carrying)
	}
	for _, l := range lines {
		for _, w := range l.rows() {
			w.lineWaits = c.Waiting || !l.stands()
		}
	}
	p.cr.proposed[who] = lead.firm()
	p.result.Calls = append(p.result.Calls, c)
}

// call says a line, with the rows that carry it.
func (p *pass) call(who racer, l line) sheetmodel.Call {
	return sheetmodel.Call{
		Run: p.cr.run, Course: p.cr.course, Group: who.group, Bib: who.number, Gate: l.gate,
		Code: l.code.Code, Meaning: l.code.Meaning, Basis: orElse(l.basis, l.code.Basis),
		Waiting: !l.stands(), Rows: refs(l.rows()),
	}
}

// mayMove reports whether a row, once settled as it is, could change the line: not by one more witness
// of what the line rests on, nor from further down.
func (p *pass) mayMove(w *row, l line) bool {
	for _, e := range l.events {
		if !meet(e.gates, w.gates) {
			continue
		}
		within := !slices.ContainsFunc(w.gates, func(g string) bool { return !slices.Contains(e.gates, g) })
		return !within || w.code.Code != e.code.Code
	}
	return p.cr.compareGates(w.gate(), l.gate) <= 0
}

// lineWaits names what a waiting line lacks.
func (p *pass) lineWaits(l line, carrying []*row) []string {
	var waits []string
	if l.asks != "" {
		waits = append(waits, l.asks)
	}
	for _, w := range carrying {
		w.need = p.looksWanted(w) - looksHad(w)
		for _, why := range p.waitsFor(w) {
			if why != l.asks {
				waits = append(waits, w.where()+": "+why)
			}
		}
	}
	return unique(waits)
}
