package stack

import (
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// passages takes over the marks of a card that has a row in print for every racer. Marks beside written bibs are no part
// of it: those rows are read like any other.
//
// A mark counts only where every photo of its side shows it so; else it can't be told.
func (l *loader) passages(c *Card) {
	for _, used := range []*store.Sheet{c.Front, c.Back} {
		if used == nil {
			continue
		}
		for _, r := range used.Read.Reading.Rows {
			if r.Printed == "" || r.Passed.Field == "" {
				continue
			}
			if c.Passed == nil {
				c.Passed = []sheetmodel.Bib{}
			}
			bib := l.printedBib(c, r.Printed)
			c.Listed = append(c.Listed, bib)
			switch {
			case r.Passed.State == sheetmodel.Doubtful || l.otherwise(c, used.Side, r):
				c.Untold = append(c.Untold, bib)
			case r.Passed.State == sheetmodel.Clear:
				c.Passed = append(c.Passed, bib)
			}
		}
	}
}

// otherwise reports whether another photo of the same side shows another mark in a row.
func (l *loader) otherwise(c *Card, side sheetmodel.SideName, row sheetmodel.Row) bool {
	for _, s := range c.Other {
		if s.Side != side {
			continue
		}
		for _, r := range s.Read.Reading.Rows {
			if r.Number == row.Number && r.Printed == row.Printed && r.Passed.State != row.Passed.State {
				return true
			}
		}
	}
	return false
}

// printedBib is whom a printed number means: of the group that is ringed on the card, or of the only group of its course
// that has the number. Else its group stays open, and nobody knows whose it is.
func (l *loader) printedBib(c *Card, number string) sheetmodel.Bib {
	bib := sheetmodel.Bib{Group: c.Group, Number: number}
	if bib.Group != "" {
		return bib
	}
	found := 0
	for _, s := range l.Race.Starters {
		if s.Course == c.Key.Course && s.Number == number {
			bib.Group = s.Group
			found++
		}
	}
	if found != 1 {
		bib.Group = ""
	}
	return bib
}
