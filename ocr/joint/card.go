package joint

import (
	"strings"

	"gatefold/ocr/calib"
	"gatefold/sheetmodel"
)

// Judge turns the score of two writings read together into a Certainty; *calib.Set is one.
type Judge interface {
	Judge(kind calib.Kind, score float64) (sheetmodel.Certainty, bool)
}

// Pair is a row's bib read from two writings.
//
// Both is a Reading of its own: clear means that the two writings are two looks on Both.Text. It
// never changes the Readings it was made from; a row that is doubtful alone stays so alone.
type Pair struct {
	Tie
	Both sheetmodel.Reading `json:"both"`
}

// keep is how many rivals a joint reading lists.
const keep = 8

// Card reads the tied writings of one card together, in row order. front and back are what Ties takes.
//
// Both is doubtful if the tie is, if the writings differ, if either writing has a doubt that its
// neighbour can't dispel (struck out, overwritten, outside its box, questioned, hidden, or evidence
// from outside), or if the joint certainty is below its threshold.
func Card(front, back sheetmodel.SheetReading, judge Judge) []Pair {
	ties := Ties(front, back)
	pairs := make([]Pair, 0, len(ties))
	for _, t := range ties {
		row := rowOf(front.Rows, t.Row)
		second := row.BibAgain
		if t.Kind == sheetmodel.LookStrip {
			second = entryOf(back.Strips, t.Panel, t.Entry)
		}
		both := Read(row.Bib, second, t, judge)
		for _, e := range t.Alike {
			both = lesser(both, Read(row.Bib, entryOf(back.Strips, t.Panel, e), t, judge))
		}
		pairs = append(pairs, Pair{Tie: t, Both: both})
	}
	return pairs
}

// lesser returns the less certain of two joint readings: where either may be the true one, that is what they are worth.
func lesser(a, b sheetmodel.Reading) sheetmodel.Reading {
	switch {
	case a.State != b.State && a.State == sheetmodel.Clear:
		return b
	case a.State != b.State && b.State == sheetmodel.Clear:
		return a
	case b.Certainty.Value() < a.Certainty.Value():
		return b
	}
	return a
}

// Read reads two writings together under a tie. Field, side and region are the first one's.
func Read(first, second sheetmodel.Reading, t Tie, judge Judge) sheetmodel.Reading {
	both := sheetmodel.Reading{Field: first.Field, Side: first.Side, Region: first.Region, State: sheetmodel.Clear}
	switch t.Fault { //nolint:exhaustive // a tie has these two faults or none
	case sheetmodel.DoubtTie:
		// Nothing is lent: what the row says alone is all there is to show.
		FromReading(first).Fill(&both, keep)
		both.Doubt(t.Fault, t.Detail)
		return both
	case sheetmodel.DoubtWritings:
		mix(FromReading(first), FromReading(second)).Fill(&both, keep)
		both.Doubt(t.Fault, t.Detail)
		return both
	}
	b := Combine(FromReading(first), FromReading(second), DefaultPrior)
	b.Fill(&both, keep)
	var enough bool
	both.Certainty, enough = judge.Judge(kindOf(first, second), ScoreOf(b))
	for _, r := range []sheetmodel.Reading{first, second} {
		for _, d := range r.Doubts {
			if !dispelled(d.Kind) && !both.HasDoubt(d.Kind) {
				both.Doubt(d.Kind, d.Detail)
			}
		}
	}
	if !enough || both.Text == "" {
		both.Doubt(sheetmodel.DoubtLowCertainty, "both writings together are not certain enough")
	}
	return both
}

// kindOf says by which curve two writings are judged together. What a net claims of a number in a free cell is not what the
// nets of combs claim of one in boxes.
func kindOf(first, second sheetmodel.Reading) calib.Kind {
	for _, r := range []sheetmodel.Reading{first, second} {
		if strings.HasPrefix(r.Certainty.Curve(), string(calib.CellBib)+"-") {
			return calib.CellBib2
		}
	}
	return calib.Bib2
}

// ScoreOf is the score of a Belief's top outcome.
func ScoreOf(b Belief) float64 {
	_, p := b.Top()
	return calib.Score(float64(p), float64(b.Rest()))
}

// mix is what to show for two writings that differ: either may be right.
func mix(a, b Belief) Belief {
	m := Belief{Other: (a.Other + b.Other) / 2}
	for _, v := range a.Texts {
		m.Texts = append(m.Texts, sheetmodel.Rival{Text: v.Text, Prob: (v.Prob + b.Prob(v.Text)) / 2})
	}
	for _, v := range b.Texts {
		if a.Prob(v.Text) == 0 {
			m.Texts = append(m.Texts, sheetmodel.Rival{Text: v.Text, Prob: v.Prob / 2})
		}
	}
	m.normalise()
	return m
}

// dispelled says which doubts of one writing the other can answer: those that only mean "not certain
// enough by itself", which the joint certainty takes over. A stroke that a printed line may hide is none of them: one hand
// may put its 1 on the line both times.
func dispelled(k sheetmodel.DoubtKind) bool {
	switch k {
	case sheetmodel.DoubtLowCertainty, sheetmodel.DoubtReaders, sheetmodel.DoubtFaintInk:
		return true
	default: // also those added later
		return false
	}
}

// LowerRows passes on to the rows what the pairs found: where two writings of one row differ, the
// row's bib and its second box are both doubtful. It only lowers.
func LowerRows(rows []sheetmodel.Row, pairs []Pair) {
	for _, p := range pairs {
		if p.Fault != sheetmodel.DoubtWritings {
			continue
		}
		for i := range rows {
			if rows[i].Number != p.Row {
				continue
			}
			rows[i].Bib.Doubt(sheetmodel.DoubtWritings, p.Detail)
			if p.Kind == sheetmodel.LookSecondBox {
				rows[i].BibAgain.Doubt(sheetmodel.DoubtWritings, p.Detail)
			}
		}
	}
}

func rowOf(rows []sheetmodel.Row, number int) sheetmodel.Row {
	for _, r := range rows {
		if r.Number == number {
			return r
		}
	}
	return sheetmodel.Row{}
}

func entryOf(strips []sheetmodel.StripEntry, panel string, entry int) sheetmodel.Reading {
	for _, e := range strips {
		if e.Panel == panel && e.Entry == entry {
			return e.Bib
		}
	}
	return sheetmodel.Reading{State: sheetmodel.Empty}
}
