package rules

import (
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// stand gives every row of a course run its one standing, and names the rows that keep the draft open.
func (d *desk) stand(cr *courseRun) {
	for _, w := range cr.rows {
		w.need = d.looksWanted(w) - looksHad(w)
		s := d.standing(w)
		s.Why = strings.Join(unique(strings.Split(s.Why, "; ")), "; ")
		w.stands = s.Standing
		d.result.Standings = append(d.result.Standings, s)
		gap := &pass{desk: d, cr: cr}
		switch {
		case s.Standing == sheetmodel.StandsWaiting:
			gap.gap(capital(w.where())+" waits: "+s.Why+".", w.Ref)
		case s.Standing == sheetmodel.StandsSetAside && w.open:
			gap.gap(capital(w.where())+" is set aside: "+s.Why+".", w.Ref)
		}
	}
}

func (d *desk) standing(w *row) RowStanding {
	at := func(s sheetmodel.Standing, why ...string) RowStanding {
		return RowStanding{Ref: w.Ref, Standing: s, Why: strings.Join(why, "; "), Group: w.racer.group}
	}
	switch {
	case w.strike == strikeOpen:
		return at(sheetmodel.StandsWaiting, MayBeStruck)
	case w.strike == strikeFoot:
		return at(sheetmodel.StandsInform, "struck out by the judge, as the number at the card's foot says")
	case w.strike == strikeSaid:
		return at(sheetmodel.StandsInform, "struck out by the judge"+d.saidBy(struckKey(w.Ref)))
	case w.BibState == sheetmodel.BibSetAside:
		return at(sheetmodel.StandsSetAside, orElse(w.Reason, "set aside by a person"))
	case len(w.asides) > 0:
		return at(sheetmodel.StandsSetAside, w.asides...)
	case !d.weighs(w):
		return at(sheetmodel.StandsInform, orElse(w.informed, orElse(w.remark, orElse(w.code.Meaning, "information only"))))
	}
	if open := d.waitsFor(w); len(open) > 0 {
		s := at(sheetmodel.StandsWaiting, open...)
		s.NeedsLooks = max(w.need, 0)
		return s
	}
	if w.accuses {
		return at(sheetmodel.StandsCall, "carries a proposal")
	}
	return at(sheetmodel.StandsInform, orElse(w.informed, orElse(w.remark, orElse(w.code.Meaning, "recorded"))))
}

// waitsFor names what the row still lacks.
func (d *desk) waitsFor(w *row) []string {
	var open []string
	if !w.hasBib() {
		open = append(open, orElse(w.Reason, "its bib is not certain"))
	}
	if !w.CodeSure {
		open = append(open, "what happened is not settled")
	}
	if !w.GateSure {
		open = append(open, "its gate is not settled")
	}
	open = append(open, w.badBib...)
	open = append(append(open, w.holds...), w.loose...)
	if w.need > 0 {
		open = append(open, "its bib needs "+plural(w.need, "more look"))
	}
	if len(open) == 0 && w.lineWaits {
		open = append(open, "another row of its line waits")
	}
	if len(open) > 0 && w.mayChange {
		open = append(open, "it may change a proposed line")
	}
	return open
}

// looksWanted is the number of looks that what the row says needs.
func (d *desk) looksWanted(w *row) int {
	switch {
	case !d.weighs(w):
		return 0
	case !w.coded:
		return 2 // it may be a fault
	case w.decides:
		return 2
	case w.code.Effect == sheetmodel.EffectHindered && w.card.cr.mayDecide():
		return 2
	case w.code.Effect == sheetmodel.EffectLeft, w.code.Effect == sheetmodel.EffectHindered, w.code.Effect == sheetmodel.EffectMended:
		return 1
	case w.code.Effect == sheetmodel.EffectLostSki && !w.accuses && len(w.badBib) == 0 && !d.mayPair(w.card.cr):
		return 1 // too few to make one line, whosever they are
	}
	return 2
}

// mayPair reports whether the lost skis of a run and course are so many that they could make a line together.
// Their bibs are not looked at: if only those of one racer were asked about, being asked would tell whoever has
// just typed one of them what stands in the other.
func (d *desk) mayPair(cr *courseRun) bool {
	from, most := d.lostSkiFrom(), 0
	for _, w := range cr.rows {
		switch {
		case w.Struck || w.Blank || w.BibState == sheetmodel.BibSetAside && !w.Veiled:
		case w.coded && w.code.Effect == sheetmodel.EffectLostTwo:
			most += 2
		case !w.coded, w.lost():
			most++ // what happened may still turn out to be one
		}
	}
	return from > 1 && most >= from
}

// mayDecide reports whether a hindrance could decide about a proposal: the re-run list holds somebody. Whom, and
// whether a fault is theirs, is not looked at, for the same reason.
func (cr *courseRun) mayDecide() bool {
	return cr.reruns.given == sheetmodel.ListGiven && len(cr.reruns.groups) > 0
}

func looksHad(w *row) int {
	switch w.BibState {
	case sheetmodel.BibTwoLooks:
		return 2
	case sheetmodel.BibOneLook:
		return 1
	case sheetmodel.BibWaiting, sheetmodel.BibSetAside:
		return 0
	}
	return 0
}

// unique drops repeated words and keeps the order.
func unique(words []string) []string {
	var kept []string
	for _, w := range words {
		if w != "" && !slices.Contains(kept, w) {
			kept = append(kept, w)
		}
	}
	return kept
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
