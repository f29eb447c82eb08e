package trial

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"strings"

	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// OwnDigits are drawn by strokes of our own, for machines that have no collection of handwriting. They are neater than
// people's: figures from them flatter a card.
type OwnDigits struct{}

// Digit returns one way to write d.
func (OwnDigits) Digit(d int, rng *rand.Rand) (hand.Strokes, int) {
	s, _ := hand.Letter(rune('0'+d), rng)
	return s, -1
}

// Letters are those of a card's panels; where it has none a judge numbers drawings of their own from A on.
func Letters(l *sheetmodel.Layout) string {
	letters := ""
	for _, side := range l.Sides {
		for _, f := range side.Fields {
			if !strings.Contains(letters, f.Panel) {
				letters += f.Panel
			}
		}
	}
	return cmp.Or(letters, "ABCD")
}

// emptyRows is the share of rows that a judge leaves empty.
const emptyRows = 0.25

// What stands in the rows of a list of all racers, in shares of them: a mark for who came by, a note of what went wrong
// instead, both.
const (
	onlyPassed = 0.85
	onlyNoted  = 0.03
	bothThere  = 0.01
)

// Write fills a side as one judge would and returns what was meant, by field. said names what stands in some fields,
// empty for nothing; the others are written as chance wants. letters are those of the card's panels.
func Write(ink *hand.Ink, side *sheetmodel.Side, letters string, w fill.Writer, said map[string]string, rng *rand.Rand) fill.Truth {
	meant := fill.Truth{}
	empty := map[int]bool{}
	for row := 1; row <= side.Rows(); row++ {
		empty[row] = rng.Float64() < emptyRows
	}
	left := leftOut(side, rng)
	for _, f := range side.Fields {
		text, told := said[f.Name]
		if !told && f.Row > 0 && (empty[f.Row] && left[f.Row] == nil || left[f.Row][f.Part]) {
			continue
		}
		if !told {
			text = textFor(f, letters, rng)
		}
		if !told && f.Part == sheetmodel.PartPassed {
			text = "x"
		}
		if text == "" {
			continue
		}
		if f.Kind == sheetmodel.Cell && strings.Trim(text, "0123456789") == "" {
			var glyphs []hand.Strokes
			var numbers []int
			for _, c := range text {
				g, n := w.Digits.Digit(int(c-'0'), rng)
				glyphs, numbers = append(glyphs, g), append(numbers, n)
			}
			w.Pen.Number(ink, glyphs, f.Rect.Grow(-0.5), -1, rng)
			meant[f.Name] = fill.Wrote{Text: text, Glyphs: numbers}
			continue
		}
		one := f
		one.Row, one.Panel = 0, ""
		only := &sheetmodel.Side{Name: side.Name, W: side.W, H: side.H, Fields: []sheetmodel.Field{one}}
		if t := fill.Side(ink, only, fill.Plan{Header: map[string]string{f.Name: text}}, w, rng); t[f.Name].Text != "" {
			meant[f.Name] = fill.Wrote{Text: text, Glyphs: t[f.Name].Glyphs}
		}
	}
	return meant
}

// leftOut says of each row with a printed bib and a mark for who came by which of its parts stay empty; nil for any other.
func leftOut(side *sheetmodel.Side, rng *rand.Rand) map[int]map[sheetmodel.Part]bool {
	left := map[int]map[sheetmodel.Part]bool{}
	for row := 1; row <= side.Rows(); row++ {
		printed, passed, others := false, false, map[sheetmodel.Part]bool{}
		for _, f := range side.RowFields(row) {
			if _, ok := f.PrintedBib(); ok {
				printed = true
			} else if f.Part == sheetmodel.PartPassed {
				passed = true
			} else {
				others[f.Part] = true
			}
		}
		if !printed || !passed {
			continue
		}
		p := rng.Float64()
		switch {
		case p < onlyPassed:
			left[row] = others
		case p < onlyPassed+onlyNoted:
			left[row] = map[sheetmodel.Part]bool{sheetmodel.PartPassed: true}
		case p < onlyPassed+onlyNoted+bothThere:
			left[row] = map[sheetmodel.Part]bool{}
		default:
			others[sheetmodel.PartPassed] = true
			left[row] = others
		}
	}
	return left
}

// textFor is what a judge might write into a field; nothing where it mostly stays empty.
func textFor(f sheetmodel.Field, letters string, rng *rand.Rand) string {
	digits := func(most int) string {
		if f.Boxes > 0 {
			most = min(most, f.Boxes)
		}
		high := 1
		for range most {
			high *= 10
		}
		return fmt.Sprint(1 + rng.IntN(high-1))
	}
	words := []string{"Anna", "Lena", "Paul", "Jonas", "Mia", "Emil"}
	switch f.Kind {
	case sheetmodel.Tick:
		if rng.IntN(2) == 0 {
			return "x"
		}
		return ""
	case sheetmodel.Choice:
		return f.Options[rng.IntN(len(f.Options))].Value
	case sheetmodel.Drawing:
		return "drawing"
	case sheetmodel.Printed:
		return ""
	default:
	}
	switch f.Grammar {
	case sheetmodel.GrammarBib:
		return digits(3)
	case sheetmodel.GrammarGate:
		return digits(2)
	case sheetmodel.GrammarCount:
		return digits(2)
	case sheetmodel.GrammarCode:
		return string("FMSHB"[rng.IntN(5)])
	case sheetmodel.GrammarCodeGate:
		return string("FMSHB"[rng.IntN(5)]) + fmt.Sprint(1+rng.IntN(60))
	case sheetmodel.GrammarPanel:
		return string(letters[rng.IntN(len(letters))])
	default:
		if f.Part == sheetmodel.PartPhone {
			return fmt.Sprintf("555%05d", rng.IntN(100000))
		}
		return words[rng.IntN(len(words))]
	}
}
