package rules

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

var ruleEveryRacer = Rule{
	Doc: Doc{
		Name: "every-racer", Basis: "common practice, no source",
		Help: "A card on which every racer gets a mark needs one for each racer who came by: whoever is in no list of those out and has neither mark nor row is named. So is a mark for one who did not start, or may not start run 2, and one that can't be told.",
	},
	check: func(p *pass) {
		for _, c := range p.cr.cards {
			if !c.In || !p.cr.bound || c.Passed == nil {
				continue
			}
			marked := map[racer]bool{}
			for _, b := range c.Passed {
				marked[racer{b.Group, b.Number}] = true
				if p.anybodys(b) {
					for _, s := range p.starters[b.Number] {
						marked[racer{s.Group, s.Number}] = true // nobody who may have come by is said to be without a mark
					}
				}
			}
			// A late entry is written by hand where there is room, on whichever sheet of the list that is.
			for _, o := range p.cr.cards {
				for _, w := range o.rows {
					if w.named && (o == c || o.goesOn(c)) {
						marked[w.racer] = true
					}
				}
			}
			said := p.sayUntold(c, marked)
			p.sayNotStarted(c)
			listed := p.listedOn(c)
			if said {
				for _, b := range c.Untold {
					marked[racer{b.Group, b.Number}] = true
				}
			}
			var without []string
			for _, s := range p.race.Starters {
				who := racer{s.Group, s.Number}
				if !listed(who) {
					continue
				}
				if s.Course != p.cr.course || c.Group != "" && s.Group != "" && c.Group != s.Group || marked[who] ||
					p.cr.dns.holds(who) && !p.cr.late.holds(who) || p.cr.dnf.holds(who) ||
					!p.expectedInRun2(who) {
					continue
				}
				without = append(without, racerName(s.Group, s.Number))
			}
			if len(without) == 0 {
				continue
			}
			sortLabels(without)
			words := list(without)
			switch open := p.openBeside(c); {
			case open.here > 0:
				// Named, they would tell whoever types those rows what to expect.
				words = plural(len(without), "racer") + "; " + plural(open.here, "row") + " on it may be theirs"
			case open.beside > 0:
				words = plural(len(without), "racer") + "; " + plural(open.beside, "row") + " beside it may be theirs"
			case len(without) > 5:
				words = fmt.Sprintf("%d racers, the first of them %s", len(without), without[0])
			}
			p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s has neither mark nor row for %s.", capital(c.where()), words), c))
		}
	},
}

// openRows counts the rows whose bib waits, on a card and on others at its gates.
type openRows struct{ here, beside int }

func (o openRows) any() bool { return o.here+o.beside > 0 }

// openBeside counts the rows that may be of a racer without a mark on c: a judge may write marks on a list and faults on a
// card beside it. A card whose gates aren't known may be one at the same gates.
func (p *pass) openBeside(c *card) (open openRows) {
	for _, o := range p.cr.cards {
		n := len(keep(o.rows, (*row).mayName))
		switch {
		case o == c:
			open.here += n
		case len(c.Gates) == 0 || len(o.Gates) == 0 || meet(c.Gates, o.Gates):
			open.beside += n
		}
	}
	return open
}

// mayName reports whether a row that names nobody now may name a racer yet: one that was struck out, and one whose bib isn't told
// because somebody may still type it, too.
func (w *row) mayName() bool {
	settled := w.BibState == sheetmodel.BibTwoLooks || w.BibState == sheetmodel.BibSetAside && !w.Veiled
	return !w.named && (!w.gone() || !settled)
}

// expectedInRun2 reports whether a racer without a mark in a later run is to be named: not one who may not start there, nor
// one of whom that isn't decided. Of the first run it is true of all.
func (p *pass) expectedInRun2(who racer) bool {
	switch {
	case p.cr.run < 2:
		return true
	case p.notInRun2(who) != "":
		return false
	case p.cr.mayStart.given == sheetmodel.ListGiven || p.cr.conditional.holds(who) || p.race.Rules.Run2AfterDSQ == sheetmodel.Run2Yes:
		return true
	}
	return !p.proposedBefore(who)
}

// listedOn says who is expected on c: whom it has in print; on the first of the cards at the same gates also whom none of
// them has. A card without printed bibs expects every racer.
func (p *pass) listedOn(c *card) func(racer) bool {
	if c.Listed == nil {
		return func(racer) bool { return true }
	}
	holds := func(o *card, who racer) bool {
		for _, b := range o.Listed {
			if b.Number == who.number && (b.Group == "" || who.group == "" || b.Group == who.group) {
				return true
			}
		}
		return false
	}
	return func(who racer) bool {
		if holds(c, who) {
			return true
		}
		for _, o := range p.cr.cards {
			if o == c { // the first of them: nobody before it
				return !slices.ContainsFunc(p.cr.cards, func(o *card) bool { return o.goesOn(c) && holds(o, who) })
			}
			if o.goesOn(c) && o.Passed != nil {
				return false
			}
		}
		return false
	}
}

// goesOn reports whether two cards are sheets of one list: both have bibs in print, and they were used at the same gates.
func (c *card) goesOn(o *card) bool {
	return c.Listed != nil && o.Listed != nil && len(c.Gates) > 0 && slices.Equal(c.Gates, o.Gates)
}

// sayUntold names those whose mark can't be told, but for whoever has a row there too, and reports whether it did. Beside
// a row that waits for its bib they would tell what it may be: there they only count among those without a mark.
func (p *pass) sayUntold(c *card, marked map[racer]bool) bool {
	var untold []string
	for _, b := range c.Untold {
		if !marked[racer{b.Group, b.Number}] {
			untold = append(untold, racerName(b.Group, b.Number))
		}
	}
	if len(untold) == 0 || p.openBeside(c).any() {
		return false
	}
	sortLabels(untold)
	p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s: whether %s passed can't be told from the mark; look at the card.", capital(c.where()), list(untold)), c))
	return true
}

// sayNotStarted names those who are marked as passed though they did not start, or may not start run 2, or no racer of this course
// has the bib. Of a number that several wear, with nothing to say which of them is meant, it says only that: lists name racers.
func (p *pass) sayNotStarted(c *card) {
	var out, nobody, later, whose []string
	practice := p.race.Rules.Run2AfterDSQ == sheetmodel.Run2Practice && p.cr.mayStart.given != sheetmodel.ListGiven
	for _, b := range c.Passed {
		who := racer{b.Group, b.Number}
		switch {
		case p.anybodys(b):
			whose = append(whose, b.Number)
		case p.cr.dns.holds(who) && !p.cr.late.holds(who):
			out = append(out, racerName(b.Group, b.Number))
		case len(p.race.Starters) > 0 && !slices.ContainsFunc(p.race.Starters, func(s sheetmodel.Starter) bool {
			return s.Number == b.Number && s.Course == p.cr.course && (b.Group == "" || s.Group == "" || s.Group == b.Group)
		}):
			nobody = append(nobody, racerName(b.Group, b.Number))
		case p.cr.run > 1 && !practice:
			if why := p.notInRun2(who); why != "" {
				later = append(later, why)
			}
		}
	}
	sortLabels(out)
	sortLabels(nobody)
	if len(out) > 0 {
		p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s has a mark for %s, in the list of those who did not start.", capital(c.where()), list(out)), c))
	}
	if len(later) > 0 {
		slices.SortFunc(later, compareLabels)
		p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s has a mark for racers who may not start this run: %s.", capital(c.where()), strings.Join(later, "; ")), c))
	}
	if len(nobody) > 0 {
		p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s has a mark for %s, whom the start list of this course has not.", capital(c.where()), list(nobody)), c))
	}
	if len(whose) > 0 {
		sortLabels(whose)
		p.say(p.onCard(sheetmodel.Warns, fmt.Sprintf("%s has a mark for %s, which several racers of this course wear; the card doesn't say whose it is.", capital(c.where()), list(whose)), c))
	}
}

// anybodys reports whether a mark is for a number that several racers of the course wear, and nothing says which of them.
func (p *pass) anybodys(b sheetmodel.Bib) bool {
	n := 0
	for _, s := range p.starters[b.Number] {
		if s.Course == p.cr.course {
			n++
		}
	}
	return b.Group == "" && n > 1
}
