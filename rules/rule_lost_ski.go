package rules

import (
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

var ruleLostSki = Rule{
	Doc: Doc{
		Name: "lost-ski", Basis: "661.4.1",
		Help:     "What a lost ski does is the race's choice: it never counts, it puts the racer out at once, or the n-th loss does by a local rule. Losses seen by different judges at different gates may be one ski, and are asked about; where a person counts fewer than were seen, the line names the gate by which there were enough whichever they are.",
		Settings: []string{"lost_ski", "lost_ski_from", "lost_ski_basis"},
	},
	check: func(p *pass) {
		p.basis = p.race.Rules.LostSkiBasis
		if p.race.Rules.LostSki == sheetmodel.LostSkiFrom && p.race.Rules.LostSkiFrom < 1 {
			p.say(sheetmodel.Finding{Severity: sheetmodel.Warns, Sentence: "The race counts lost skis but doesn't say from which one: none is proposed."})
		}
		for _, rows := range p.cr.racerRows() {
			rows = keep(rows, (*row).live, (*row).lost)
			for attempt := 1; attempt <= 2; attempt++ {
				events := p.cr.weigh(keep(rows, func(w *row) bool { return w.attempt == attempt }))
				if len(events) > 0 {
					p.lostSkis(events)
				}
			}
		}
	},
}

// lostSkiFrom returns the number of the lost ski that is proposed, 0 if none ever is.
func (d *desk) lostSkiFrom() int {
	switch s := d.race.Rules; s.LostSki {
	case sheetmodel.LostSkiOut:
		return 1
	case sheetmodel.LostSkiFrom:
		return max(s.LostSkiFrom, 0)
	case sheetmodel.LostSkiNever:
		return 0
	}
	return 0
}

// lostSkis looks at all losses of one racer in one attempt, from the start down.
func (p *pass) lostSkis(events []event) {
	who := events[0].rows[0].racer
	name := racerName(who.group, who.number)
	from := p.lostSkiFrom()
	switch {
	case from == 0:
		p.note(events, name, "recorded, lost skis propose nothing in this race")
	case p.race.Rules.LostSki == sheetmodel.LostSkiOut:
		p.outAtOnce(events, name)
	default:
		p.outFrom(events, name, from)
	}
}

// note records losses that propose nothing.
func (p *pass) note(events []event, name, why string) {
	for _, e := range events {
		p.say(p.about(sheetmodel.Informs, capital(name)+" lost a ski"+atGate(e.gate())+" ("+places(e.all())+"): "+why+".", e.all()...))
		for _, w := range e.all() {
			w.remark = why
		}
	}
}

// outAtOnce proposes every loss by itself, but not one below the second-last gate.
func (p *pass) outAtOnce(events []event, name string) {
	for _, e := range events {
		if i, ok := p.cr.index[e.gate()]; ok && i >= len(p.cr.gates)-1 {
			beside := e.beside
			e.beside = nil
			p.note([]event{e}, name, "recorded, below the second-last gate it does not put the racer out")
			// What lies beside it may begin further up.
			p.outAtOnce(p.cr.events(beside), name)
			continue
		}
		p.cr.addLine(line{events: []event{e}, gate: e.gate(), code: e.code, basis: p.basis, beside: e.beside})
	}
}

// outFrom proposes the n-th loss. Losses on one judge's card are different ones; losses of different
// judges may be one ski seen twice, and count as one until a person has said. Firm rows are counted by
// themselves first; with the others beside them they can only make a line that waits.
func (p *pass) outFrom(events []event, name string, from int) {
	var firm, open []event
	for _, e := range events {
		if !slices.ContainsFunc(e.rows, (*row).notFirm) {
			firm = append(firm, e)
		}
		beside := e.all()
		e.beside = nil
		open = append(open, e.with(beside))
	}
	if own := onOneCard(firm, from); own != nil {
		p.proposeLoss(p.nth(own, from, ""), events, from, false)
		return
	}
	settled := ""
	if losses(firm) >= from {
		q := p.howMany(firm, name)
		switch count := p.count(q); {
		case count < 0:
			p.cr.addLine(p.nth(firm, from, q.why))
			return
		case count >= from:
			p.proposeLoss(p.counted(firm, count, from), events, from, count < losses(firm))
			return
		default:
			p.recorded(firm, count, from)
			settled = q.key
		}
	}
	if own := onOneCard(open, from); own != nil {
		p.cr.addLine(p.nth(own, from, ""))
		return
	}
	if losses(open) < from {
		p.note(open, name, "recorded, one of the "+number(from)+" that are needed")
		return
	}
	q := p.howMany(open, name)
	if q.key == settled {
		return // the same gates: answered with these rows in view
	}
	switch count := p.count(q); {
	case count < 0:
		p.cr.addLine(p.nth(open, from, q.why))
	case count >= from:
		l := p.counted(open, count, from)
		for _, e := range open {
			if !slices.Contains(l.rows(), e.rows[0]) {
				l.events = append(l.events, e) // also those that aren't settled
			}
		}
		p.cr.addLine(l)
	default:
		p.recorded(open, count, from)
	}
}

// counted returns the line of a number of losses that a person has said. Where they are fewer than were seen, nobody says which sightings
// are of one ski: of gates 6, 11 and 15 and two losses, the second was lost at 11 or at 15. The line says what is certain whichever they are, that by
// gate 15 the racer had lost two, and rests on all that was counted: 6 and 11 alone may be one ski.
func (p *pass) counted(events []event, count, from int) line {
	unsure := losses(events) - count // sightings that may be of a ski seen before
	l := p.nth(events, from+unsure, "")
	for _, e := range events {
		if unsure > 0 && !slices.Contains(l.rows(), e.rows[0]) {
			l.events = append(l.events, e)
		}
	}
	return l
}

// howMany asks how many different losses different judges saw.
func (p *pass) howMany(events []event, name string) question {
	var gates []string
	var rows []*row
	for _, e := range events {
		gates = append(gates, orElse(e.gate(), "-"))
		rows = append(rows, e.rows...)
	}
	most := losses(events)
	either := "one ski seen twice, or " + number(most) + " losses"
	if len(events) > 2 {
		either = "one ski seen by each of them, or up to " + number(most) + " losses"
	}
	q := question{
		finding: p.about(sheetmodel.Asks, capital(name)+" lost a ski at "+p.cr.gateWords(p.cr.sortGates(gates))+", seen by different judges ("+
			places(rows)+"): "+either+"?", rows...),
		key: p.key(name, strings.Join(gates, ",")),
		ask: "How many different losses were there?", why: either,
		hold: rows,
	}
	for n := leastLosses(events); n <= most; n++ {
		label := number(n) + " losses"
		if n == 1 {
			label = "one: the same ski, seen more than once"
		}
		q.answers = append(q.answers, sheetmodel.Answer{Value: strconv.Itoa(n), Label: label})
	}
	return q
}

// count returns how many losses a person has said, or -1 while the question is open.
func (p *pass) count(q question) int {
	n, err := strconv.Atoi(p.ask(q))
	if err != nil {
		return -1
	}
	return n
}

// recorded says of rows that a person counted too few losses on them.
func (p *pass) recorded(events []event, count, from int) {
	for _, e := range events {
		for _, w := range e.rows {
			w.remark = "recorded, " + number(count) + " counted, " + number(from) + " are needed"
		}
	}
}

// proposeLoss adds the line of a loss that reaches the number on firm rows, out of all events; latest: it was there at the latest.
func (p *pass) proposeLoss(l line, all []event, from int, latest bool) {
	for _, e := range all {
		for _, w := range keep(e.all(), (*row).notFirm) {
			if p.mayMove(w, l) {
				l.beside = append(l.beside, w)
			}
		}
	}
	if l.stands() {
		rows := l.rows()
		name := racerName(rows[0].racer.group, rows[0].racer.number)
		when := ""
		if latest {
			when = ", at the latest"
		}
		p.say(p.about(sheetmodel.Informs, capital(name)+" lost a ski for the "+ordinal(from)+" time"+when+atGate(l.gate)+" ("+places(rows)+").", rows...))
	}
	p.cr.addLine(l)
}

// nth returns the line of the loss that makes the number full. A judge who saw both needs no other row.
func (p *pass) nth(events []event, from int, asks string) line {
	count := 0
	for i, e := range events {
		count = after(count, e)
		if count < from {
			continue
		}
		l := line{events: []event{e}, gate: e.gate(), code: e.code, basis: p.basis, asks: asks}
		if !e.twice() || from > 2 {
			l.events = append(l.events, events[:i]...)
		}
		return l
	}
	return line{}
}

// after counts one more event: "second time, I saw both" is two losses, of which one may already be counted.
func after(count int, e event) int {
	if e.twice() {
		return max(count+1, 2)
	}
	return count + 1
}

// losses is the number of losses if no two events are the same ski.
func losses(events []event) int {
	count := 0
	for _, e := range events {
		count = after(count, e)
	}
	return count
}

// byCard returns each card's events, with that card's rows only.
func byCard(events []event) [][]event {
	var cards []*card
	var split [][]event
	for _, e := range events {
		for _, own := range e.byCard() {
			at := slices.Index(cards, own.rows[0].card)
			if at < 0 {
				at = len(cards)
				cards, split = append(cards, own.rows[0].card), append(split, nil)
			}
			split[at] = append(split[at], own)
		}
	}
	return split
}

// leastLosses is the number of losses that one judge alone saw.
func leastLosses(events []event) int {
	least := 0
	for _, own := range byCard(events) {
		least = max(least, losses(own))
	}
	return least
}

// onOneCard returns the events of the first card whose judge alone saw enough losses, or nil.
func onOneCard(events []event, from int) []event {
	for _, own := range byCard(events) {
		if losses(own) >= from {
			return own
		}
	}
	return nil
}

func (cr *courseRun) addLine(l line) {
	who := l.events[0].rows[0].racer
	cr.lines[who] = append(cr.lines[who], l)
}

// ordinal writes a small rank as a word.
func ordinal(n int) string {
	words := []string{"", "first", "second", "third", "fourth"}
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n) + "th"
}
