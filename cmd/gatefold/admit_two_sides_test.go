//go:build cgo && linux

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/trial"
	"gatefold/ocr/joint"
	"gatefold/review/store"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// twoSided is a card of another make with its table on the front, drawings and the bibs below them on the back.
func twoSided() *sheetmodel.Layout {
	front := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	back := sheetmodel.Side{Name: sheetmodel.Back, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	word := func(s *sheetmodel.Side, x, y, size sheetmodel.MM, text string) {
		s.Print = append(s.Print, sheetmodel.PrintItem{Text: text, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size})
	}
	box := func(s *sheetmodel.Side, r sheetmodel.Rect) sheetmodel.Rect {
		s.Print = append(s.Print, sheetmodel.PrintItem{Box: &r, Width: 0.25})
		return r
	}
	comb := func(s *sheetmodel.Side, f sheetmodel.Field, x, y, w, h sheetmodel.MM, n int) {
		for i := range n {
			box(s, sheetmodel.Rect{X: x + sheetmodel.MM(i)*w, Y: y, W: w, H: h})
		}
		f.Kind, f.Boxes, f.Rect = sheetmodel.Comb, n, sheetmodel.Rect{X: x, Y: y, W: w * sheetmodel.MM(n), H: h}
		s.Fields = append(s.Fields, f)
	}
	ticks := func(s *sheetmodel.Side, f sheetmodel.Field, x, y sheetmodel.MM, values ...string) {
		f.Kind, f.Rect = sheetmodel.Choice, sheetmodel.Rect{X: x, Y: y, W: 8 * sheetmodel.MM(len(values)), H: 9}
		for i, v := range values {
			r := box(s, sheetmodel.Rect{X: x + 8*sheetmodel.MM(i), Y: y + 1.5, W: 6, H: 6})
			f.Options = append(f.Options, sheetmodel.Option{Value: v, Label: v, Rect: r})
		}
		s.Fields = append(s.Fields, f)
	}
	word(&front, 14, 16, 5, "Seen on the course, Quillmoor")
	word(&front, 14, 23, 2.4, "Number, gate and what it was; the drawing of it goes overleaf.")
	word(&front, 14, 40, 2.6, "gates from")
	comb(&front, sheetmodel.Field{Name: "header.gate-from", Part: sheetmodel.PartGateFrom, Grammar: sheetmodel.GrammarGate}, 36, 33, 8, 10, 2)
	word(&front, 62, 40, 2.6, "to")
	comb(&front, sheetmodel.Field{Name: "header.gate-to", Part: sheetmodel.PartGateTo, Grammar: sheetmodel.GrammarGate}, 70, 33, 8, 10, 2)
	for i, w := range []string{"number", "gate", "missed / ski", "drawing"} {
		word(&front, []sheetmodel.MM{20, 54, 78, 108}[i], 56, 2.8, w)
	}
	for r := 1; r <= 8; r++ {
		y := 60 + 16*sheetmodel.MM(r-1)
		word(&front, 11, y+8, 3, fmt.Sprint(r))
		name := func(p sheetmodel.Part) string { return fmt.Sprintf("row-%02d.%s", r, p) }
		comb(&front, sheetmodel.Field{Name: name(sheetmodel.PartBib), Part: sheetmodel.PartBib, Row: r, Grammar: sheetmodel.GrammarBib}, 18, y, 8.5, 11, 3)
		comb(&front, sheetmodel.Field{Name: name(sheetmodel.PartGate), Part: sheetmodel.PartGate, Row: r, Grammar: sheetmodel.GrammarGate}, 52, y, 8.5, 11, 2)
		ticks(&front, sheetmodel.Field{Name: name(sheetmodel.PartCode), Part: sheetmodel.PartCode, Row: r, Grammar: sheetmodel.GrammarCode}, 80, y+1, "F", "K")
		ticks(&front, sheetmodel.Field{Name: name(sheetmodel.PartPanel), Part: sheetmodel.PartPanel, Row: r, Grammar: sheetmodel.GrammarPanel}, 106, y+1, "A", "B", "C")
	}
	word(&back, 14, 16, 5, "Drawings, Quillmoor")
	word(&back, 14, 23, 2.4, "Draw the gate and the way that was taken; whose it is, below.")
	for i, letter := range []string{"A", "B", "C"} {
		x := 12 + 43*sheetmodel.MM(i)
		word(&back, x+1, 38, 5, letter)
		low := string('a' + rune(i))
		back.Fields = append(back.Fields, sheetmodel.Field{
			Name: "panel-" + low + ".drawing", Part: sheetmodel.PartDrawing, Kind: sheetmodel.Drawing, Panel: letter, Grammar: sheetmodel.GrammarDrawing,
			Rect: box(&back, sheetmodel.Rect{X: x, Y: 42, W: 38, H: 110}),
		})
		word(&back, x, 160, 2.6, "number")
		comb(&back, sheetmodel.Field{Name: "panel-" + low + ".entry-1.bib", Part: sheetmodel.PartBib, Panel: letter, Entry: 1, Grammar: sheetmodel.GrammarBib}, x+4, 164, 8.5, 11, 3)
	}
	word(&back, 14, 196, 2.4, "Keep both sides dry. Hand the card in after the run, and wait until it was looked at.")
	return &sheetmodel.Layout{Format: 1, Name: "quillmoor", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{front, back}}
}

// The pages of the blank card stand the other way round than in its layout: photos of the front would be laid over the back. Where both
// show the same, no photo can tell. Our own logic.
func TestAdmit_PagesInTheOtherOrderOrAlike_AreSeen(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the words of both sides for some seconds")
	}
	drawn := twoSided()
	plain, swapped := *drawn, *drawn
	swapped.Sides = []sheetmodel.Side{drawn.Sides[1], drawn.Sides[0]}
	plain.Sides = append([]sheetmodel.Side(nil), drawn.Sides...)
	for i := range plain.Sides {
		plain.Sides[i].Print = nil
	}
	file := filepath.Join(t.TempDir(), "quillmoor.yaml")
	text, err := sheetmodel.EncodeDraft(&plain)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, text, 0o600))
	twice := *drawn // both pages show the front: whoever photographs it is asked which side it is
	twice.Sides = []sheetmodel.Side{drawn.Sides[0], drawn.Sides[0]}
	for _, c := range []struct {
		pages        *sheetmodel.Layout
		taken, alike bool
	}{{drawn, true, false}, {&swapped, false, false}, {&twice, true, true}} {
		tmp := t.TempDir()
		blank, dir := filepath.Join(tmp, "quillmoor.pdf"), filepath.Join(tmp, "race")
		require.NoError(t, os.WriteFile(blank, blankPDF(t, c.pages), 0o600))
		require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
		code, out, errs := runApp(t, "admit", dir, file, "--blank", blank)
		assert.Equal(t, c.taken, code == 0, errs)
		assert.Equal(t, c.alike, strings.Contains(out, "front and back look alike"), out)
		assert.Equal(t, !c.taken, strings.Contains(errs, errSwapped.Error()), errs)
	}
}

// blankPDF is both sides as an office would send them: a page each.
func blankPDF(t *testing.T, l *sheetmodel.Layout) []byte {
	t.Helper()
	p := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: float64(l.Sides[0].W), Ht: float64(l.Sides[0].H)}})
	p.SetAutoPageBreak(false, 0)
	for _, s := range l.Sides {
		s.Fields = nil // their frames are ours
		var picture bytes.Buffer
		require.NoError(t, png.Encode(&picture, print.RasterBlank(&s, 12)))
		p.AddPage()
		p.RegisterImageOptionsReader(string(s.Name), fpdf.ImageOptions{ImageType: "PNG"}, &picture)
		p.ImageOptions(string(s.Name), 0, 0, float64(s.W), float64(s.H), false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	}
	var out bytes.Buffer
	require.NoError(t, p.Output(&out))
	return out.Bytes()
}

// photoOf is a photo of a filled side, and what stands on it.
func photoOf(t *testing.T, side sheetmodel.Side, written map[string]string, seed uint64) (photo []byte, truth fill.Truth) {
	t.Helper()
	bare := side
	bare.Fields = nil
	const sheetPxPerMM = 16.0
	paper := print.RasterBlank(&bare, sheetPxPerMM)
	rng := rand.New(rand.NewPCG(seed, 1))
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, sheetPxPerMM)
	level := camera.Levels()[camera.Ordinary]
	said := map[string]string{}
	for _, f := range side.Fields {
		said[f.Name] = written[f.Name]
	}
	truth = trial.Write(ink, &side, "ABCD", fill.Writer{Pen: hand.DrawWriter(level.Pens(), rng), Digits: trial.OwnDigits{}}, said, rng)
	ink.Over(paper)
	shot := level.Draw(fill.SceneOf(&side, image.Point{}), rng)
	taken, err := shot.View().Take(camera.Sheet{Image: paper, PxPerMM: sheetPxPerMM}, 1)
	require.NoError(t, err)
	return taken.JPEG, truth
}

// Both sides of a league's card go all the way: described on two pages, admitted, photographed apart, named by a person,
// read together, settled and drafted. The bib below a drawing is a second writing of the row that names its panel.
// What is expected follows from what was written; our own logic.
func TestAdmit_BothSidesOfACardOfAnotherMake_AreReadTogether(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs and reads cards for some seconds")
	}
	drawn := twoSided()
	plain := *drawn
	plain.Sides = append([]sheetmodel.Side(nil), drawn.Sides...)
	for i := range plain.Sides {
		plain.Sides[i].Print = nil
	}
	tmp := t.TempDir()
	file, blank := filepath.Join(tmp, "quillmoor.yaml"), filepath.Join(tmp, "quillmoor.pdf")
	text, err := sheetmodel.EncodeDraft(&plain, "both sides")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, text, 0o600))
	require.NoError(t, os.WriteFile(blank, blankPDF(t, drawn), 0o600))
	dir := filepath.Join(tmp, "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	code, out, errs := runApp(t, "admit", dir, file, "--blank", blank)
	require.Zero(t, code, errs)
	assert.Contains(t, out, "kept, with its blank front and back")

	front, frontTruth := photoOf(t, drawn.Sides[0], map[string]string{
		"header.gate-from": "1", "header.gate-to": "6",
		"row-01.bib": "14", "row-01.gate": "6", "row-01.code": "F", "row-01.panel": "A",
		"row-02.bib": "27", "row-02.gate": "4", "row-02.code": "F", "row-02.panel": "B",
	}, 11)
	back, backTruth := photoOf(t, drawn.Sides[1], map[string]string{
		"panel-a.drawing": "drawing", "panel-a.entry-1.bib": "14", "panel-b.drawing": "drawing", "panel-b.entry-1.bib": "27",
	}, 12)
	files := []string{filepath.Join(tmp, "back.jpg"), filepath.Join(tmp, "front.jpg")}
	require.NoError(t, os.WriteFile(files[0], back, 0o600))
	require.NoError(t, os.WriteFile(files[1], front, 0o600))
	code, _, errs = runApp(t, append([]string{"collect", dir}, files...)...)
	require.Zero(t, code, errs)

	s, err := (&app{now: clockOfTests}).openRace(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	st, _, err := s.look(t.Context())
	require.NoError(t, err)
	require.Len(t, st.Unnamed, 2)
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	seen := map[sheetmodel.SideName]bool{}
	var reads [2]sheetmodel.SheetReading
	for _, side := range st.Unnamed {
		seen[side.Side] = true
		if side.Side == sheetmodel.Front {
			reads[0] = side.Read.Reading
		} else {
			reads[1] = side.Read.Reading
		}
		require.NoError(t, s.store.Answer(t.Context(), store.Answer{Question: store.WhichCard(side.Photo, side.Part), Value: store.CardName(key), By: "Ada"}))
	}
	assert.Equal(t, map[sheetmodel.SideName]bool{sheetmodel.Front: true, sheetmodel.Back: true}, seen, "each side is known by its own print")
	for _, pair := range joint.Ties(reads[0], reads[1]) {
		assert.Empty(t, pair.Fault, "row %d: %s", pair.Row, pair.Detail)
	}
	assert.Len(t, joint.Ties(reads[0], reads[1]), 2)

	code, _, errs = runApp(t, append([]string{"collect", dir}, files...)...)
	require.Zero(t, code, errs)
	st, _, err = s.look(t.Context())
	require.NoError(t, err)
	c := st.Card(key)
	require.NotNil(t, c)
	require.NotNil(t, c.Front)
	require.NotNil(t, c.Back)
	assert.False(t, c.OneSided())
	for _, n := range []int{1, 2} {
		row := st.Row(sheetmodel.RowRef{CardKey: key, Row: n})
		require.NotNil(t, row)
		assert.True(t, row.Drawn, "row %d names a panel in which something is drawn", n)
	}
	p := &settler{t: t, s: s, truth: map[sheetmodel.CardKey]map[sheetmodel.SideName]fill.Truth{key: {sheetmodel.Front: frontTruth, sheetmodel.Back: backTruth}}}
	st, result := p.settle()
	require.Empty(t, st.Unnamed)
	assert.Subset(t, proposed(result, false), []string{"Blue 14 6 F", "Blue 27 4 F"})
	for _, call := range result.Calls {
		assert.Contains(t, []string{"14", "27"}, call.Bib, "nobody is accused who is not on the card")
	}
	t.Logf("people typed %d entries", p.typed)
}

// A grid with nothing over it looks alike upside down. The race refuses it, and a trial says so before it shows figures: it had only asked for
// upright photos. Our own logic.
func TestTry_CardAlikeUpsideDown_SaysThatTheRaceWillRefuseIt(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs and reads a card for some seconds")
	}
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	picture := image.NewGray(image.Rect(0, 0, 10*148, 10*210))
	for i := range picture.Pix {
		picture.Pix[i] = 255
	}
	line := func(x, y, w, h int) {
		draw.Draw(picture, image.Rect(x, y, x+w, y+h), image.Black, image.Point{}, draw.Src)
	}
	parts := []sheetmodel.Part{sheetmodel.PartBib, sheetmodel.PartGate, sheetmodel.PartCode}
	grammars := []sheetmodel.Grammar{sheetmodel.GrammarBib, sheetmodel.GrammarGate, sheetmodel.GrammarCode}
	for c := range 4 {
		line(140+400*c-2, 150, 4, 1800)
	}
	for r := range 13 {
		line(140, 150+150*r-2, 1200, 4)
		for c := 0; c < 3 && r < 12; c++ {
			side.Fields = append(side.Fields, sheetmodel.Field{
				Name: fmt.Sprintf("row-%02d.%s", r+1, parts[c]), Part: parts[c], Kind: sheetmodel.Cell, Grammar: grammars[c], Row: r + 1,
				Rect: sheetmodel.Rect{X: 14 + 40*sheetmodel.MM(c), Y: 15 + 15*sheetmodel.MM(r), W: 40, H: 15},
			})
		}
	}
	tmp := t.TempDir()
	file, blank, dir := filepath.Join(tmp, "grid.yaml"), filepath.Join(tmp, "grid.png"), filepath.Join(tmp, "race")
	text, err := sheetmodel.EncodeDraft(&sheetmodel.Layout{Format: 1, Name: "grid", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, text, 0o600))
	var data bytes.Buffer
	require.NoError(t, png.Encode(&data, picture))
	require.NoError(t, os.WriteFile(blank, data.Bytes(), 0o600))
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	code, _, errs := runApp(t, "admit", dir, file, "--blank", blank)
	assert.NotZero(t, code)
	assert.Contains(t, errs, "it looks alike")
	_, out, errs := runApp(t, "try", file, "--blank", blank, "--photos", "1", "--seed", "1")
	assert.Contains(t, out+errs, "so gatefold admit will refuse it")
}
