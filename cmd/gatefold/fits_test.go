//go:build cgo

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
	"gatefold/sheetmodel/racefolder"
)

// A blank card that was scanned upside down: photos would be laid over it, and each row read in the place of another. Our own logic.
func TestAdmit_BlankCardUpsideDown_IsRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the words of whole cards for some seconds")
	}
	for name, why := range map[string]error{
		"photocopy": errUpsideDown, // its words say it
		"landscape": errTurned,     // some can be read as they stand, too; its boxes say it
	} {
		data, err := os.ReadFile(filepath.Join(blankCardFolder, name+".png"))
		require.NoError(t, err)
		picture, err := png.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		g := image.NewGray(picture.Bounds())
		draw.Draw(g, g.Rect, picture, g.Rect.Min, draw.Src)
		var turned bytes.Buffer
		require.NoError(t, png.Encode(&turned, turnedByHalf(g)))
		down := filepath.Join(t.TempDir(), "down.png")
		require.NoError(t, os.WriteFile(down, turned.Bytes(), 0o600))

		dir := filepath.Join(t.TempDir(), "race")
		require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
		code, _, errs := runApp(t, "admit", dir, filepath.Join(blankCardFolder, name+".yaml"), "--blank", down)
		assert.NotZero(t, code, name)
		assert.Contains(t, errs, why.Error(), name)
	}
}

// A picture of another card than the layout's, or of one that was written on: its boxes aren't where the layout says. The race takes
// it, for round places to tick are never found either, and is told. Our own logic.
func TestAdmit_PictureOfAnotherCard_IsSaid(t *testing.T) {
	l, err := readLayout(filepath.Join(blankCardFolder, "photocopy.yaml"))
	require.NoError(t, err)
	other := image.NewGray(image.Rect(0, 0, 1397, 2159))
	for i := range other.Pix {
		other.Pix[i] = 255
	}
	for y := 200; y < 2000; y += 100 { // a few lines of another table
		draw.Draw(other, image.Rect(200, y, 1197, y+4), image.Black, image.Point{}, draw.Src)
	}
	side := l.Sides[0]
	blanks, err := blanksOf(t.Context(), "photocopy.yaml", filepath.Join(blankCardFolder, "photocopy.png"), l)
	require.NoError(t, err)
	notes, err := besideNotes(l, blanks)
	require.NoError(t, err)
	assert.Empty(t, notes)
	blanks[side.Name] = other
	notes, err = besideNotes(l, blanks)
	require.NoError(t, err)
	require.Len(t, notes, 2)
	assert.Contains(t, notes[0], "lie on no box or line that is seen in the picture")
	assert.Contains(t, notes[1], "does the picture show this card, and a blank one?")
}

// Rows 1 and 2 with one number: one of the two would be read, and what stands in the other lost without a question. Our own logic.
func TestAdmit_TwoRowsWithOneNumber_IsRefused(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(blankCardFolder, "photocopy.yaml"))
	require.NoError(t, err)
	edited := filepath.Join(t.TempDir(), "photocopy.yaml")
	require.NoError(t, os.WriteFile(edited, bytes.ReplaceAll(text, []byte("row: 2\n"), []byte("row: 1\n")), 0o600))
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	code, _, errs := runApp(t, "admit", dir, edited, "--blank", filepath.Join(blankCardFolder, "photocopy.png"))
	assert.NotZero(t, code)
	assert.Contains(t, errs, "row 1 has two places for the same, bib: only one of them would be read")
}

// A layout edited by hand in which row 2 has its bib where row 1 has it, or the bib's second box lies on the first: one writing would be
// two rows' bib, or its own second look. Our own logic.
func TestAdmit_TwoFieldsOnOneInk_IsRefused(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(blankCardFolder, "photocopy.yaml"))
	require.NoError(t, err)
	l, err := readLayout(filepath.Join(blankCardFolder, "photocopy.yaml"))
	require.NoError(t, err)
	side := &l.Sides[0]
	first, second := side.Field("row-01.bib").Rect, side.Field("row-02.bib").Rect
	lower := bytes.Replace(text, fmt.Appendf(nil, "\"y\": %v\n          w: %v\n", second.Y, second.W), fmt.Appendf(nil, "\"y\": %v\n          w: %v\n", first.Y+1, second.W), 1)
	require.NotEqual(t, text, lower)
	again := append(bytes.Clone(text), fmt.Appendf(nil, "      - {name: row-01.bib-again, part: bib-again, kind: comb, rect: {x: %v, y: %v, w: %v, h: %v}, row: 1, boxes: 3, grammar: bib}\n",
		first.X, first.Y, first.W, first.H)...)
	// moved is the layout in which two fields have changed places; the head's last gate lies on its first if there is no other.
	moved := func(a, b string) []byte {
		l, err := readLayout(filepath.Join(blankCardFolder, "photocopy.yaml"))
		require.NoError(t, err)
		one := l.Sides[0].Field(a)
		if b == "" {
			one.Rect = l.Sides[0].Field("header.gate-from").Rect
		} else {
			other := l.Sides[0].Field(b)
			one.Rect, other.Rect = other.Rect, one.Rect
		}
		text, err := sheetmodel.EncodeDraft(l)
		require.NoError(t, err)
		return text
	}
	for name, c := range map[string]struct {
		text []byte
		want string
	}{
		"lower":                               {lower, "row-01.bib and row-02.bib lie on each other"},
		"again":                               {again, "row-01.bib and row-01.bib-again lie on each other"},
		"bibs of rows 3 and 4 changed places": {moved("row-03.bib", "row-04.bib"), "is said to be of row 3, and stands beside the bib of row 4"},
		"head":                                {moved("header.gate-to", ""), "header.gate-from and header.gate-to lie on each other"},
	} {
		edited := filepath.Join(t.TempDir(), "photocopy.yaml")
		require.NoError(t, os.WriteFile(edited, c.text, 0o600))
		dir := filepath.Join(t.TempDir(), "race")
		require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
		code, _, errs := runApp(t, "admit", dir, edited, "--blank", filepath.Join(blankCardFolder, "photocopy.png"))
		assert.NotZero(t, code, name)
		assert.Contains(t, errs, c.want, name)
	}
}

// Somebody tried the card before it was scanned: a bib, a tick and a cell in some rows. The reader takes them for print, which hides pencil.
// None of the blank cards of the tests has an example. Our own logic.
func TestAdmit_BlankCardWithWriting_IsSaidWhere(t *testing.T) {
	for _, name := range []string{"photocopy", "dense-columns", "landscape", "every-racer"} {
		l, err := readLayout(filepath.Join(blankCardFolder, name+".yaml"))
		require.NoError(t, err)
		side := &l.Sides[0]
		blanks, err := blanksOf(t.Context(), name+".yaml", filepath.Join(blankCardFolder, name+".png"), l)
		require.NoError(t, err)
		picture := blanks[side.Name]
		assert.Empty(t, writtenIn(side, picture), name)
		if name != "dense-columns" {
			continue
		}
		k := float64(picture.Rect.Dx()) / float64(side.W)
		stroke := func(r sheetmodel.Rect) { // as long as a digit 1
			x, y := int(k*float64(r.X+r.W/2)), int(k*float64(r.Y+1.5))
			draw.Draw(picture, image.Rect(x, y, x+int(0.5*k), y+int(k*float64(r.H-3))), image.Black, image.Point{}, draw.Src)
		}
		stroke(side.Field("row-03.bib").Rect.Box(1, 3))
		stroke(side.Field("row-05.gate").Rect)
		stroke(side.Field("row-07.code").Options[1].Rect)
		assert.Equal(t, []string{"row-03.bib", "row-05.gate", "row-07.code"}, writtenIn(side, picture))
	}
}

// Printed bibs that a layout holds one row too low, as when the first of a column is said wrongly, or one of them alone: every row of
// the column would be another racer's. The bibs of every-racer.png stand there in print, 1 to 120 down its columns.
func TestAdmit_PrintedBibsOtherThanInThePicture_AreSeen(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the words of a whole card for some seconds")
	}
	l, err := readLayout(filepath.Join(blankCardFolder, "every-racer.yaml"))
	require.NoError(t, err)
	side := &l.Sides[0]
	blanks, err := blanksOf(t.Context(), "every-racer.yaml", filepath.Join(blankCardFolder, "every-racer.png"), l)
	require.NoError(t, err)
	words, done, err := openLabels()
	require.NoError(t, err)
	defer done()
	p, err := propose.SideOf(l.Style, blanks[side.Name], side.W, side.H, words)
	require.NoError(t, err)
	note, err := otherPrint(side, p)
	require.NoError(t, err)
	assert.Empty(t, note)

	say := func(row int, bib string) {
		f := side.Field(fmt.Sprintf("row-%02d.bib", row))
		f.Options[0].Value = bib
	}
	say(7, "8")
	note, err = otherPrint(side, p)
	require.NoError(t, err)
	assert.Equal(t, "front: row 7 is said to be of bib 8, where 7 was read in the picture: look which of the two is printed", note)
	for row := 1; row <= 120; row++ {
		say(row, strconv.Itoa(row+1))
	}
	_, err = otherPrint(side, p)
	require.Error(t, err)
	assert.Contains(t, err.Error(), "front: row 1 is said to be of bib 2, where 1 was read in the picture; ")
}

// The layout of a card whose columns for bib and gate stood the other way round, with the picture of this season's: the boxes are the
// same, and each gate would be read as a bib. What the columns are for stands over them in plain-table.pdf. Our own logic.
func TestAdmit_ColumnsInAnotherOrderThanTheWordsOverThem_IsSaid(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the words of a whole card for some seconds")
	}
	l, err := readLayout(filepath.Join(blankCardFolder, "plain-table.yaml"))
	require.NoError(t, err)
	blanks, err := blanksOf(t.Context(), "plain-table.yaml", filepath.Join(blankCardFolder, "plain-table.pdf"), l)
	require.NoError(t, err)
	notes, err := besideNotes(l, blanks)
	require.NoError(t, err)
	assert.Empty(t, notes)
	for i := range l.Sides[0].Fields {
		switch f := &l.Sides[0].Fields[i]; {
		case f.Row > 0 && f.Part == sheetmodel.PartBib:
			f.Part, f.Name = sheetmodel.PartGate, fmt.Sprintf("row-%02d.gate", f.Row)
		case f.Row > 0 && f.Part == sheetmodel.PartGate:
			f.Part, f.Name = sheetmodel.PartBib, fmt.Sprintf("row-%02d.bib", f.Row)
		}
	}
	notes, err = besideNotes(l, blanks)
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{
		"front: row-01.gate to row-12.gate are said to be for gate, and the words printed there say bib: look at the card; what is written there would be taken for a gate",
		"front: row-01.bib to row-12.bib are said to be for bib, and the words printed there say gate: look at the card; what is written there would be taken for a bib",
	}, notes)
}

// A scan of the blank card that is mirrored, and one whose upper edge was cut off with 4 mm of the card: no field lies on its box any
// more, and rows would be read in the places of others, or between two. Our own logic.
func TestAdmit_PictureInWhichNoFieldLiesOnABox_IsRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the words of whole cards for some seconds")
	}
	l, err := readLayout(filepath.Join(blankCardFolder, "photocopy.yaml"))
	require.NoError(t, err)
	side := &l.Sides[0]
	blanks, err := blanksOf(t.Context(), "photocopy.yaml", filepath.Join(blankCardFolder, "photocopy.png"), l)
	require.NoError(t, err)
	g := blanks[side.Name]
	w, h := g.Rect.Dx(), g.Rect.Dy()
	mirrored, lower := image.NewGray(g.Rect), image.NewGray(g.Rect)
	missing := h * 4 / int(side.H)
	for y := range h {
		for x := range w {
			mirrored.SetGray(x, y, g.GrayAt(w-1-x, y))
			lower.SetGray(x, y, g.GrayAt(x, min(y+missing, h-1)))
		}
	}
	for name, picture := range map[string]*image.Gray{"mirrored": mirrored, "cut": lower} {
		_, err = besideNotes(l, map[sheetmodel.SideName]*image.Gray{side.Name: picture})
		assert.ErrorIs(t, err, errElsewhere, name)
	}
}

// A race has the card, and somebody gives its layout again with the picture of another one: a scan that was stamped. It would have taken the
// place of the first, though the command says that nothing is overwritten. Our own logic.
func TestAdmit_AnotherPictureOfTheSameLayout_IsRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the words of a whole card for some seconds")
	}
	l, err := readLayout(filepath.Join(blankCardFolder, "photocopy.yaml"))
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	admit := func(picture string) (int, string) {
		code, _, errs := runApp(t, "admit", dir, filepath.Join(blankCardFolder, "photocopy.yaml"), "--blank", picture)
		return code, errs
	}
	right := filepath.Join(blankCardFolder, "photocopy.png")
	code, errs := admit(right)
	require.Zero(t, code, errs)
	path := filepath.Join(dir, filepath.FromSlash(racefolder.BlankFile(l, l.Sides[0].Name)))
	first, err := os.ReadFile(path)
	require.NoError(t, err)

	data, err := os.ReadFile(right)
	require.NoError(t, err)
	picture, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	g := image.NewGray(picture.Bounds())
	draw.Draw(g, g.Rect, picture, g.Rect.Min, draw.Src)
	draw.Draw(g, image.Rect(800, 100, 900, 104), image.Black, image.Point{}, draw.Src)
	var stamped bytes.Buffer
	require.NoError(t, png.Encode(&stamped, g))
	other := filepath.Join(t.TempDir(), "stamped.png")
	require.NoError(t, os.WriteFile(other, stamped.Bytes(), 0o600))
	code, errs = admit(other)
	assert.NotZero(t, code)
	assert.Contains(t, errs, "the race keeps another picture of this front")
	now, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(first, now))

	code, errs = admit(right)
	assert.Zero(t, code, errs)
	require.NoError(t, os.WriteFile(path, first[:len(first)/2], 0o600)) // a damaged one is mended so
	code, errs = admit(right)
	assert.Zero(t, code, errs)
	now, err = os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(first, now))
}
