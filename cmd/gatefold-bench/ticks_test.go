package main

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// source: our own logic. The sheet measures the card's boxes only if they are the card's.
func TestDenseSheet_HasTheCardsBoxes(t *testing.T) {
	l, err := denseSheet()
	require.NoError(t, err)
	card, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	require.NoError(t, err)
	sheet, front := &l.Sides[0], card.Side(sheetmodel.Front)
	n, byPart := 0, map[sheetmodel.Part]int{}
	for _, f := range sheet.Fields {
		like := front.Field("row-01." + string(f.Part))
		require.NotNil(t, like, f.Name)
		assert.Equal(t, like.Kind, f.Kind)
		assert.Equal(t, like.Grammar, f.Grammar)
		ours, theirs := boxesOf(f), boxesOf(*like)
		require.Len(t, ours, len(theirs))
		for i := range ours {
			assert.InDelta(t, float64(theirs[i].W), float64(ours[i].W), 1e-9)
			assert.InDelta(t, float64(theirs[i].H), float64(ours[i].H), 1e-9)
			// All of a field move together, by hundredths of a mm.
			assert.InDelta(t, float64(theirs[i].X-theirs[0].X), float64(ours[i].X-ours[0].X), 0.011)
			assert.InDelta(t, float64(theirs[i].Y-theirs[0].Y), float64(ours[i].Y-ours[0].Y), 0.011)
		}
		n += len(ours)
		byPart[f.Part]++
	}
	assert.Equal(t, 312, n)
	assert.Equal(t, map[sheetmodel.Part]int{sheetmodel.PartCode: 26, sheetmodel.PartPanel: 26, sheetmodel.PartRerun: 26}, byPart)
	// The letters above and in the boxes came along: one a box of code and panel.
	letters := 0
	for _, p := range sheet.Print {
		if len(p.Text) == 1 {
			letters++
		}
	}
	assert.Equal(t, 26*(5+6), letters)
	for _, b := range l.Sides { // nothing overlaps the marks
		assert.Equal(t, front.Marks, b.Marks)
	}
	assert.Equal(t, sheetmodel.BuiltinLayouts()[0].Hash(), card.Hash())
	for _, builtin := range sheetmodel.BuiltinLayouts() {
		assert.NotEqual(t, l.Hash(), builtin.Hash(), "nobody is offered this sheet")
	}
}

// source: our own logic
func TestCount_TellsMissedFromAskedFromWrong(t *testing.T) {
	choice := &sheetmodel.Field{Kind: sheetmodel.Choice, Options: []sheetmodel.Option{{Value: "B"}, {Value: "C"}, {Value: "D"}}}
	tick := &sheetmodel.Field{Kind: sheetmodel.Tick}
	marked := []tickKind{emptyBox, plainCross, emptyBox}
	for _, c := range []struct {
		name  string
		field *sheetmodel.Field
		kinds []tickKind
		text  string
		state sheetmodel.State
		want  map[tickKind]tickCounts
		asked int
	}{
		{"right", choice, marked, "C", sheetmodel.Clear, map[tickKind]tickCounts{plainCross: {Boxes: 1, Right: 1}, emptyBox: {Boxes: 2, Right: 2}}, 0},
		{"missed", choice, marked, "", sheetmodel.Empty, map[tickKind]tickCounts{plainCross: {Boxes: 1, Missed: 1}, emptyBox: {Boxes: 2, Right: 2}}, 0},
		{"another", choice, marked, "D", sheetmodel.Clear, map[tickKind]tickCounts{plainCross: {Boxes: 1, Missed: 1}, emptyBox: {Boxes: 2, Right: 1, Wrong: 1}}, 0},
		{"asked", choice, marked, "D", sheetmodel.Doubtful, map[tickKind]tickCounts{plainCross: {Boxes: 1, Asked: 1}, emptyBox: {Boxes: 2, Right: 2}}, 1},
		{"asked for nothing", choice, []tickKind{emptyBox, emptyBox, emptyBox}, "B", sheetmodel.Doubtful, map[tickKind]tickCounts{emptyBox: {Boxes: 3, Right: 2, Asked: 1}}, 1},
		{"invented", tick, []tickKind{emptyBox}, "x", sheetmodel.Clear, map[tickKind]tickCounts{emptyBox: {Boxes: 1, Wrong: 1}}, 0},
		{"ambiguous, taken for a mark", choice, []tickKind{emptyBox, struckMark, emptyBox}, "C", sheetmodel.Clear, map[tickKind]tickCounts{struckMark: {Boxes: 1, AsMark: 1}}, 0},
		{"ambiguous, asked", tick, []tickKind{dotMark}, "x", sheetmodel.Doubtful, map[tickKind]tickCounts{dotMark: {Boxes: 1, Asked: 1}}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := &tickPhoto{Kinds: map[tickKind]*tickCounts{}}
			notes := p.count(c.field, reading.Field{Text: c.text, State: c.state}, tickedField{kinds: c.kinds})
			got, wrong := map[tickKind]tickCounts{}, 0
			for k, v := range p.Kinds {
				got[k] = *v
				wrong += v.Wrong + v.Missed
			}
			assert.Equal(t, c.want, got)
			assert.Equal(t, c.asked, p.Asked)
			assert.Len(t, notes, wrong)
		})
	}
}

// source: our own logic. What counts as meant lies in its box, whatever kind was asked for.
func TestMarkSheet_MeantMarksLieInTheirBox(t *testing.T) {
	l, err := denseSheet()
	require.NoError(t, err)
	side := &l.Sides[0]
	rng := rand.New(rand.NewPCG(1, 2))
	w := hand.DrawWriter(hand.Pens{PencilDarker: [2]float64{0.5, 0.6}, BallpointDarker: [2]float64{0.5, 0.6}}, rng)
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, 10)
	truth := markSheet(ink, side, *w, 1, rng)
	seen := map[tickKind]int{}
	for _, f := range side.Fields {
		kinds := truth[f.Name].kinds
		boxes := boxesOf(f)
		require.Len(t, kinds, len(boxes))
		meant := 0
		for i, k := range kinds {
			seen[k]++
			if k.meant() {
				meant++
				assert.Greater(t, ink.Covered(boxes[i], 0.04), 0.5, "mm² of a %s in %s", k, f.Name)
			}
		}
		assert.LessOrEqual(t, meant, 1, f.Name)
	}
	assert.Greater(t, seen[emptyBox], 200)
	assert.Greater(t, seen[plainTick]+seen[plainCross], 20)
}
