package main

import (
	"math/rand/v2"
	"strconv"

	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// trouble is the share of bibs that something goes wrong with while they are written.
const trouble = 0.12

var spoils = []fill.Spoil{fill.Struck, fill.Overwritten, fill.Question, fill.RubbedOut, fill.OutsideBox, fill.Dash}

// drawPlan draws what a judge means. Every row has a bib, most a code and a gate; with a second box in
// the layout half of the rows use it, one in a hundred with another racer's bib. Rows with a panel have
// the same bib in its strip.
func drawPlan(l *sheetmodel.Layout, rng *rand.Rand) fill.Plan {
	front := l.Side(sheetmodel.Front)
	p := fill.Plan{Header: map[string]string{}}
	from := 1 + rng.IntN(60)
	p.Header["foot.row-count"] = strconv.Itoa(rng.IntN(12))
	p.Header["foot.card-of"], p.Header["foot.card-total"] = strconv.Itoa(1+rng.IntN(3)), strconv.Itoa(1+rng.IntN(9))
	codes, second, letters := columns(front)
	strips := map[string][]string{}
	for n := 1; n <= front.Rows(); n++ {
		r := fill.Row{Number: n, Bib: drawBib(rng), Rerun: rng.IntN(6) == 0}
		if rng.Float64() < trouble {
			r.BibSpoil = spoils[rng.IntN(len(spoils))]
		}
		if second && rng.IntN(2) == 0 {
			r.BibAgain = r.Bib
			if rng.IntN(100) == 0 {
				r.BibAgain = drawBib(rng)
			}
		}
		if rng.Float64() < 0.7 && len(codes) > 0 {
			r.Code = codes[rng.IntN(len(codes))]
		}
		if rng.Float64() < 0.6 {
			r.Gate = strconv.Itoa(from + rng.IntN(10))
		}
		if rng.Float64() < 0.8 && len(letters) > 0 {
			if letter := letters[rng.IntN(len(letters))]; len(strips[letter]) < 3 {
				r.Panel = letter
				strips[letter] = append(strips[letter], r.Bib)
			}
		}
		p.Rows = append(p.Rows, r)
	}
	// Last, so that rows stay the same whatever a header holds.
	p.Header["header.gate-from"], p.Header["header.gate-to"] = strconv.Itoa(from), strconv.Itoa(from+rng.IntN(10))
	for _, f := range front.Fields {
		if f.Kind == sheetmodel.Choice && f.Rings && rng.IntN(10) > 0 {
			p.Header[f.Name] = f.Options[rng.IntN(len(f.Options))].Value
		}
	}
	for _, letter := range letters {
		p.Panels = append(p.Panels, fill.Panel{Letter: letter, Bibs: strips[letter]})
	}
	return p
}

// columns returns the codes with a box, whether there is a second box, and the panels with a strip.
func columns(front *sheetmodel.Side) (codes []string, second bool, letters []string) {
	for _, f := range front.RowFields(1) {
		switch f.Part { //nolint:exhaustive // the others need no list
		case sheetmodel.PartCode:
			for _, o := range f.Options {
				codes = append(codes, o.Value)
			}
		case sheetmodel.PartBibAgain:
			second = true
		case sheetmodel.PartPanel:
			for _, o := range f.Options {
				letters = append(letters, o.Value)
			}
		}
	}
	return codes, second, letters
}

// drawBib draws a bib of 1 to 3 digits, each length a third of the time.
func drawBib(rng *rand.Rand) string {
	switch rng.IntN(3) {
	case 0:
		return strconv.Itoa(1 + rng.IntN(9))
	case 1:
		return strconv.Itoa(10 + rng.IntN(90))
	default:
		return strconv.Itoa(100 + rng.IntN(200))
	}
}
