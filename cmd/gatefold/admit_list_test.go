//go:build cgo && linux

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/sheetmodel"
)

// listSheet is one sheet of a list of racers, from first on: two columns of twenty bibs in print, a place to tick and one for what was seen
// beside each. The sheets of a list differ by their bibs alone.
func listSheet(name string, first int) *sheetmodel.Layout {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	word := func(x, y, size sheetmodel.MM, text string) {
		side.Print = append(side.Print, sheetmodel.PrintItem{Text: text, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size})
	}
	word(12, 16, 5, "Who came by, Thornlow")
	for i := range 40 {
		x, y, row := 12+66*sheetmodel.MM(i/20), 38+7.9*sheetmodel.MM(i%20), i+1
		if i%20 == 0 {
			for j, w := range []string{"bib", "ok", "what was seen"} {
				word(x+1+[]sheetmodel.MM{0, 12, 22}[j], y-1.5, 2.4, w)
			}
		}
		bib := fmt.Sprint(first + i)
		word(x+3, y+5.4, 3.2, bib)
		add := func(part sheetmodel.Part, kind sheetmodel.Kind, grammar sheetmodel.Grammar, r sheetmodel.Rect) {
			side.Print = append(side.Print, sheetmodel.PrintItem{Box: &r, Width: 0.25})
			f := sheetmodel.Field{Name: fmt.Sprintf("row-%02d.%s", row, part), Part: part, Kind: kind, Grammar: grammar, Row: row, Rect: r}
			if kind == sheetmodel.Printed {
				f.Options = []sheetmodel.Option{{Value: bib, Label: bib, Rect: r}}
			}
			side.Fields = append(side.Fields, f)
		}
		add(sheetmodel.PartBib, sheetmodel.Printed, sheetmodel.GrammarBib, sheetmodel.Rect{X: x, Y: y, W: 12, H: 7.9})
		add(sheetmodel.PartPassed, sheetmodel.Tick, sheetmodel.GrammarMark, sheetmodel.Rect{X: x + 12, Y: y, W: 8, H: 7.9})
		add(sheetmodel.PartCode, sheetmodel.Cell, sheetmodel.GrammarCodeGate, sheetmodel.Rect{X: x + 20, Y: y, W: 40, H: 7.9})
	}
	return &sheetmodel.Layout{Format: 1, Name: name, Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
}

// A list goes on on a second sheet that differs by its bibs alone. While a race knows the first sheet only, a photo of the second is
// refused: each of its marks would be another racer's. The second is admitted beside it, and then the photo is known for what it is.
// Our own logic.
func TestAdmit_SecondSheetOfAList_IsToldByItsBibs(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs and reads a card for some seconds")
	}
	dir, folder := filepath.Join(t.TempDir(), "race"), t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	admit := func(l *sheetmodel.Layout) {
		plain := *l
		plain.Sides = append([]sheetmodel.Side(nil), l.Sides...)
		plain.Sides[0].Print = nil
		text, err := sheetmodel.EncodeLayout(&plain)
		require.NoError(t, err)
		file := filepath.Join(folder, l.Name)
		require.NoError(t, os.WriteFile(file+".yaml", text, 0o600))
		require.NoError(t, os.WriteFile(file+".pdf", blankPDF(t, l), 0o600))
		code, out, errs := runApp(t, "admit", dir, file+".yaml", "--blank", file+".pdf")
		require.Zero(t, code, out+errs)
	}
	one, two := listSheet("thornlow-1", 1), listSheet("thornlow-2", 41)
	photo, _ := photoOf(t, two.Sides[0], map[string]string{"row-03.passed": "x", "row-08.passed": "x"}, 12)
	file := filepath.Join(folder, "second.jpg")
	require.NoError(t, os.WriteFile(file, photo, 0o600))

	admit(one)
	code, out, errs := runApp(t, "read", "--race", dir, file)
	assert.Equal(t, 3, code)
	assert.Contains(t, out+errs, "bibs in print are not those of thornlow-1; admit the sheet of the list that it is")

	admit(two)
	code, out, errs = runApp(t, "read", "--race", dir, "--json", file)
	require.Zero(t, code, out+errs)
	var report struct{ Photos []reading.Photo }
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Len(t, report.Photos, 1)
	require.Len(t, report.Photos[0].Cards, 1)
	assert.Equal(t, "thornlow-2", report.Photos[0].Cards[0].Layout.Name)
	assert.Empty(t, report.Photos[0].Cards[0].Or)
}
