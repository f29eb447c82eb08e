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
		Help:     "What a lost ski does is the race's choice: it never counts, it puts the racer out at once, or the n-th loss does by a local rule. Losses seen by different judges at different gates may be one ski, and are asked about.",
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
				events := p.cr.events(keep(rows, func(w *row) bool { return w.attempt == attempt }))
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
		p.say(p.about(sheetmodel.Informs, capital(name)+" lost a ski"+atGate(e.gate())+" ("+places(e.rows)+"): "+why+".", e.rows...))
		for _, w := range e.rows {
			w.remark = why
		}
	}
}

// outAtOnce proposes every loss by itself, but not one below the second-last gate.
func (p *pass) outAtOnce(events []event, name string) {
	for _, e := range events {
		if i, ok := p.cr.index[e.gate()]; ok && i >= len(p.cr.gates)-1 {
			p.note([]event{e}, name, "recorded, below the second-last gate it does not put the racer out")
			continue
		}
		p.cr.addLine(line{events: []event{e}, gate: e.gate(), code: e.code, basis: p.basis})
	}
}

// outFrom proposes the n-th loss. Losses on one judge's card are different ones; losses of different
// judges may be one ski seen twice, and count as one until a person has said.
func (p *pass) outFrom(events []event, name string, from int) {
	// What can stand by itself stands, whatever else waits.
	if sure := onOneCard(readyEvents(events), from); sure != nil {
		p.proposeLoss(p.nth(sure, from, ""), from)
		return
	}
	if sure := onOneCard(events, from); sure != nil {
		p.proposeLoss(p.nth(sure, from, ""), from)
		return
	}
	least, most := leastLosses(events), losses(events)
	if most < from {
		p.note(events, name, "recorded, "+number(from)+" are needed")
		return
	}
	var gates []string
	var rows []*row
	for _, e := range events {
		gates = append(gates, orElse(e.gate(), "-"))
		rows = append(rows, e.rows...)
	}
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
	for n := least; n <= most; n++ {
		label := number(n) + " losses"
		if n == 1 {
			label = "one: the same ski, seen more than once"
		}
		q.answers = append(q.answers, sheetmodel.Answer{Value: strconv.Itoa(n), Label: label})
	}
	given := p.ask(q)
	count, err := strconv.Atoi(given)
	switch {
	case given == "" || err != nil:
		p.proposeLoss(p.nth(events, from, q.why), from)
	case count >= from:
		// Every event is needed, but not every witness.
		if ready := readyEvents(events); len(ready) == len(events) && losses(ready) >= from {
			events = ready
		}
		p.proposeLoss(p.nth(events, from, ""), from)
	default:
		for _, w := range rows {
			w.remark = "recorded, " + number(count) + " counted, " + number(from) + " are needed"
		}
	}
}

// proposeLoss adds the line of a loss that reaches the number.
func (p *pass) proposeLoss(l line, from int) {
	if l.stands() {
		rows := l.rows()
		name := racerName(rows[0].racer.group, rows[0].racer.number)
		p.say(p.about(sheetmodel.Informs, capital(name)+" lost a ski for the "+ordinal(from)+" time"+atGate(l.gate)+" ("+places(rows)+").", rows...))
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
		l := line{events: []event{e}, gate: e.gate(), code: e.code, basis: p.basis, asks: asks, all: true}
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

// readyEvents returns the events with only those rows that can carry them now.
func readyEvents(events []event) []event {
	var ready []event
	for _, e := range events {
		if rows := e.ready(); len(rows) > 0 {
			ready = append(ready, e.with(rows))
		}
	}
	return ready
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
