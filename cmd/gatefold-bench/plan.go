package main

import (
	"math/rand/v2"
	"strconv"

	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// Shares of what goes wrong while writing; common practice has no figures, these are ours.
const (
	spoiltShare = 0.12 // of rows whose bib is struck, overwritten, questioned, ...
	struckShare = 0.03 // of rows struck out as a whole
	emptyRows   = 2    // rows left empty at random places, so that invented ink would show
	topBib      = 120
	topGate     = 40
)

var spoils = []fill.Spoil{fill.Struck, fill.Overwritten, fill.Question, fill.RubbedOut, fill.OutsideBox, fill.Dash}

// drawPlan draws what a judge writes on one card: nearly full, so that a photo gives many fields.
func drawPlan(side *sheetmodel.Side, back *sheetmodel.Side, second bool, rng *rand.Rand) fill.Plan {
	p := fill.Plan{Header: map[string]string{}, GatesSketched: rng.IntN(2) == 0}
	skip := map[int]bool{}
	for len(skip) < emptyRows {
		skip[1+rng.IntN(side.Rows())] = true
	}
	codes := optionsOf(side, sheetmodel.PartCode)
	panels := map[string][]string{}
	var order []string
	stands := 0
	for n := 1; n <= side.Rows(); n++ {
		if skip[n] {
			continue
		}
		r := fill.Row{
			Number: n, Bib: strconv.Itoa(1 + rng.IntN(topBib)), Gate: strconv.Itoa(1 + rng.IntN(topGate)),
			Code: codes[rng.IntN(len(codes))], Rerun: rng.IntN(20) == 0,
		}
		switch x := rng.Float64(); {
		case x < spoiltShare:
			r.BibSpoil = spoils[rng.IntN(len(spoils))]
		case x < spoiltShare+struckShare:
			r.Struck = true
		}
		if second {
			r.BibAgain = r.Bib
		}
		if letter := string(rune('B' + rng.IntN(6))); rng.IntN(4) > 0 && len(panels[letter]) < entriesOf(back, letter) {
			r.Panel = letter
			if len(panels[letter]) == 0 {
				order = append(order, letter)
			}
			panels[letter] = append(panels[letter], r.Bib)
		}
		if !r.Struck {
			stands++
		}
		p.Rows = append(p.Rows, r)
	}
	for _, letter := range order {
		p.Panels = append(p.Panels, fill.Panel{Letter: letter, Bibs: panels[letter], Path: true})
	}
	from := 1 + rng.IntN(topGate-6)
	p.Header["header.gate-from"] = strconv.Itoa(from)
	p.Header["header.gate-to"] = strconv.Itoa(from + 5)
	p.Header["foot.row-count"] = strconv.Itoa(stands)
	return p
}

func optionsOf(side *sheetmodel.Side, part sheetmodel.Part) []string {
	var all []string
	for _, f := range side.RowFields(1) {
		if f.Part == part {
			for _, o := range f.Options {
				all = append(all, o.Value)
			}
		}
	}
	return all
}

func entriesOf(back *sheetmodel.Side, letter string) int {
	n := 0
	for _, f := range back.Fields {
		if f.Panel == letter && f.Part == sheetmodel.PartBib {
			n++
		}
	}
	return n
}
