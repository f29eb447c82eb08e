package review

import (
	"cmp"
	"fmt"
	"slices"

	"gatefold/review/stack"
	"gatefold/sheetmodel"
)

// mostAsks is how many lines a judge is asked about at once: more than that, and nobody listens.
const mostAsks = 5

// cardAsks is what one card lacks that only its judge can mend.
type cardAsks struct {
	Words string
	Judge string
	Lines []string
	More  int // further lines that are not shown yet
}

// asks lists what only judges can mend, the card that was photographed last first.
//
// It is told to whoever holds the cards, and they may have to type a bib unseen later. So a line rests on
// boxes that are empty, and on what is left behind the veil; no text that may still be typed is looked at.
func (m *moment) asks() []cardAsks {
	type dated struct {
		cardAsks
		order int64
	}
	var all []dated
	for i := range m.shown.Cards {
		c := &m.shown.Cards[i]
		if c.Front == nil || c.Key.Run == 0 {
			continue
		}
		lines := m.cardLines(i)
		if len(lines) == 0 {
			continue
		}
		a := dated{cardAsks{Words: cardWords(c.Key, c.Spare), Judge: c.Judge, Lines: lines}, c.Front.PhotoOrder}
		if more := len(lines) - mostAsks; more > 0 {
			a.Lines, a.More = lines[:mostAsks], more
		}
		all = append(all, a)
	}
	slices.SortStableFunc(all, func(a, b dated) int { return cmp.Compare(b.order, a.order) })
	var out []cardAsks
	for _, a := range all {
		out = append(out, a.cardAsks)
	}
	return out
}

func (m *moment) cardLines(card int) []string {
	c := &m.shown.Cards[card]
	var lines []string
	if len(m.gatesOf(c)) == 0 && boxesEmpty(c, sheetmodel.PartGateFrom, sheetmodel.PartGateTo, sheetmodel.PartGateMore) {
		lines = append(lines, "header: gates empty")
	}
	for i := range m.shown.Rows {
		r := &m.shown.Rows[i]
		if r.Card != card || r.Sheet != c.Front || r.Struck || r.Unsure || len(r.Nothing) > 0 || r.BibState == sheetmodel.BibSetAside {
			continue
		}
		for _, lack := range m.rowLacks(c, r) {
			lines = append(lines, fmt.Sprintf("row %d: %s", r.Ref.Row, lack))
		}
	}
	if boxesEmpty(c, sheetmodel.PartRowCount) {
		lines = append(lines, "foot: number of rows empty")
	}
	return lines
}

// rowLacks says which boxes of a row hold nothing though something belongs there.
func (m *moment) rowLacks(c *stack.Card, r *stack.Row) []string {
	at := slices.IndexFunc(r.Sheet.Read.Reading.Rows, func(o sheetmodel.Row) bool { return o.Number == r.Ref.Row })
	if at < 0 {
		return nil // it was entered by a person, and has no ink
	}
	ink := r.Sheet.Read.Reading.Rows[at] // of which only the emptiness is looked at
	var lacks []string
	if empty(ink.Bib) && r.Bib == "" {
		lacks = append(lacks, "no bib")
	}
	code, known := m.race.Codes.Find(r.Row.Code)
	known = known && r.CodeSure
	if empty(ink.Code) && empty(ink.CodeOther) && r.Row.Code == "" {
		lacks = append(lacks, "nothing says what happened")
	}
	if empty(ink.Gate) && r.Row.Gate == "" && (!known || code.Gate) {
		lacks = append(lacks, "no gate")
	}
	if known && code.Drawing {
		switch {
		case empty(ink.Panel) && r.Row.Panel == "":
			lacks = append(lacks, "names no drawing panel")
		case c.PanelSheet() != nil && r.Row.Panel != "" && !r.Drawn:
			lacks = append(lacks, "no path drawn")
		case c.PanelSheet() != nil && r.Row.Panel != "" && r.PathDoubt: // gates are sketched before the start
			lacks = append(lacks, "perhaps no path drawn, only the gates")
		}
	}
	return lacks
}

// empty reports whether a box is on the card and holds nothing.
func empty(r sheetmodel.Reading) bool { return r.Field != "" && r.State == sheetmodel.Empty }

// boxesEmpty reports whether a card's head or foot has boxes of some parts, and all of them hold nothing.
func boxesEmpty(c *stack.Card, parts ...sheetmodel.Part) bool {
	found := false
	for _, e := range c.Header {
		if !slices.Contains(parts, e.Part) || e.Reading.Field == "" {
			continue
		}
		if e.Reading.State != sheetmodel.Empty || e.Seen.Text != "" {
			return false
		}
		found = true
	}
	return found
}
