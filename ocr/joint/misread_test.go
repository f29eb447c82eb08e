package joint_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// On a card that its judge wrote consistently, one misreading never makes a wrong bib clear, however sure the reader is of it,
// and whatever fingers lie on. Source: the project's own tie rules.
func TestCard_OneSureMisreading_IsNeverAWrongBib(t *testing.T) {
	const cards = 60_000
	tied := 0
	for seed := range uint64(cards) {
		rng := rand.New(rand.NewPCG(seed, 7))
		front, back, truth := randomCard(rng)
		for _, p := range joint.Card(front, back, stepJudge{}) {
			if p.Fault == "" && p.Both.State == sheetmodel.Clear {
				tied++
				require.Equal(t, truth[p.Row], p.Both.Text, "seed %d, row %d:\n%s", seed, p.Row, cardText(front, back))
			}
		}
	}
	require.Greater(t, tied, cards/2, "a test of ties needs ties")
}

// randomCard draws up to five rows, each on its panel's strip, bibs often alike; one writing is misread, often as another
// bib of the card; panel letters and strip entries may be covered.
func randomCard(rng *rand.Rand) (front, back sheetmodel.SheetReading, truth map[int]string) {
	bibs := []string{"3", "8", "12", "42", "13", "33", "38"}
	truth = map[int]string{}
	filled := map[string]int{}
	for n := 1; n <= 1+rng.IntN(5); n++ {
		bib, panel := bibs[rng.IntN(len(bibs))], []string{"B", "C"}[rng.IntN(2)]
		truth[n] = bib
		row := sheetmodel.Row{Number: n, HasInk: true, Bib: sureOf(bib), Panel: sheetmodel.Reading{Text: panel, State: sheetmodel.Clear}}
		if rng.IntN(6) == 0 {
			row.Panel.Doubt(sheetmodel.DoubtHidden, "covered")
			if rng.IntN(2) == 0 {
				row.Panel.Text = ""
			}
		}
		front.Rows = append(front.Rows, row)
		if filled[panel]++; filled[panel] <= 3 {
			back.Strips = append(back.Strips, sheetmodel.StripEntry{Panel: panel, Entry: filled[panel], Bib: sureOf(bib)})
		}
	}
	wrong := sureOf(bibs[rng.IntN(len(bibs))])
	if i := rng.IntN(len(front.Rows) + len(back.Strips)); i < len(front.Rows) {
		front.Rows[i].Bib = wrong
	} else {
		back.Strips[i-len(front.Rows)].Bib = wrong
	}
	for i := range back.Strips {
		if rng.IntN(6) == 0 {
			back.Strips[i].Bib = sheetmodel.Reading{State: sheetmodel.Doubtful, Doubts: []sheetmodel.Doubt{{Kind: sheetmodel.DoubtHidden}}}
		}
	}
	return front, back, truth
}

func sureOf(bib string) sheetmodel.Reading {
	return sheetmodel.Reading{Text: bib, State: sheetmodel.Clear, Rivals: []sheetmodel.Rival{{Prob: 1e-9}}}
}

func cardText(front, back sheetmodel.SheetReading) string {
	text := ""
	for _, r := range front.Rows {
		text += fmt.Sprintf("row %d: bib %s panel %q %v\n", r.Number, r.Bib.Text, r.Panel.Text, r.Panel.State)
	}
	for _, e := range back.Strips {
		text += fmt.Sprintf("strip %s %d: %q %v\n", e.Panel, e.Entry, e.Bib.Text, e.Bib.State)
	}
	return text
}
