package propose

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Parts lists what a person may say a field is for, in the order in which words are looked for.
func Parts() []sheetmodel.Part {
	var all []sheetmodel.Part
	for _, e := range lexicon {
		if !slices.Contains(all, e.sense.part) {
			all = append(all, e.sense.part)
		}
	}
	return append(all, sheetmodel.PartDrawing)
}

// Say settles what the fields numbered from to to, from 1, are for: a person said so. A table is said once, its rows
// follow. Each field gets the name, kind and grammar that go with the part; what was unsure about them is unsure no more.
//
// The error is that of a part that isn't known, of numbers that no field has, or of a name that another field has.
func (p *Proposal) Say(from, to int, part sheetmodel.Part) error {
	if from < 1 || to < from || to > len(p.Fields) {
		return fmt.Errorf("fields %d to %d: there are fields 1 to %d", from, to, len(p.Fields))
	}
	g := sheetmodel.GrammarDrawing
	known := part == sheetmodel.PartDrawing
	for _, e := range lexicon {
		if e.sense.part == part && !known {
			// Where a part is written in two ways, as a code with its gate, the plainer one; the file says otherwise.
			known, g = true, e.sense.grammar
			if part == sheetmodel.PartCode {
				g = sheetmodel.GrammarCode
			}
		}
	}
	if !known {
		return fmt.Errorf("part %q: write one of %v", part, Parts())
	}
	for i := from - 1; i < to; i++ {
		f := p.Fields[i]
		old := f.Name
		prefix, _, _ := strings.Cut(f.Name, ".")
		f.Name = prefix + "." + string(part)
		if f.Part == part {
			continue
		}
		if slices.ContainsFunc(p.Fields, func(o sheetmodel.Field) bool { return o.Name == f.Name && o.Name != old }) {
			if f.Row > 0 {
				return fmt.Errorf("field %d: row %d has a %s already; say first what that one is for", i+1, f.Row, part)
			}
			f.Name = fmt.Sprintf("%s-%d", f.Name, i+1)
		}
		f.Part, f.Grammar = part, g
		switch f.Kind {
		case sheetmodel.Cell, sheetmodel.Text, sheetmodel.Drawing:
			f.Kind = kindFor(part)
		default: // boxes stay what they are
		}
		switch f.Kind {
		case sheetmodel.Drawing, sheetmodel.Tick, sheetmodel.Choice:
			f.Grammar = grammarOf[f.Kind]
		default:
		}
		p.Fields[i] = f
	}
	p.Unsure = slices.DeleteFunc(p.Unsure, func(u string) bool {
		var a, b int
		if n, _ := fmt.Sscanf(u, "%d to %d:", &a, &b); n == 2 {
			return a >= from && b <= to
		}
		n, _ := fmt.Sscanf(u, "%d:", &a)
		return n == 1 && a >= from && a <= to
	})
	return nil
}

// kindFor is how a part without boxes is filled.
func kindFor(part sheetmodel.Part) sheetmodel.Kind {
	switch part {
	case sheetmodel.PartJudge, sheetmodel.PartPhone, sheetmodel.PartDate, sheetmodel.PartGroup, sheetmodel.PartCourse:
		return sheetmodel.Text
	case sheetmodel.PartRemark, sheetmodel.PartDrawing:
		return sheetmodel.Drawing
	case sheetmodel.PartPassed, sheetmodel.PartRerun:
		return sheetmodel.Tick
	default:
		return sheetmodel.Cell
	}
}

// Written is how a part is written on most cards: with which grammar, as which kind where there are no boxes, and whether
// it stands in the rows of a table.
type Written struct {
	Part    sheetmodel.Part    `json:"part"`
	Grammar sheetmodel.Grammar `json:"grammar"`
	Kind    sheetmodel.Kind    `json:"kind"`
	InRow   bool               `json:"in_row"`
}

// HowWritten returns this for all that a person may say a field is for.
func HowWritten() []Written {
	var all []Written
	for _, part := range Parts() {
		w := Written{Part: part, Grammar: sheetmodel.GrammarDrawing, Kind: kindFor(part), InRow: inRow[part]}
		for _, e := range lexicon {
			if e.sense.part == part && part != sheetmodel.PartDrawing {
				w.Grammar = e.sense.grammar
				if part == sheetmodel.PartCode {
					w.Grammar = sheetmodel.GrammarCode
				}
			}
		}
		if w.Kind == sheetmodel.Drawing {
			w.Grammar = sheetmodel.GrammarDrawing
		}
		all = append(all, w)
	}
	return all
}
