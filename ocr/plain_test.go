package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/net"
	"gatefold/ocr/train/trouble"
	"gatefold/sheetmodel"
)

// Expected values: our own logic.
func TestView_SaysNothing_LeavesEveryDoubtAndAddsNone(t *testing.T) {
	var v view
	_, _, ok := v.alarmed()
	assert.False(t, ok)
	assert.False(t, v.notOverwritten() || v.notOutside() || v.notQuestioned())
}

// Expected values: our own logic.
func TestView_TakesBackOnlyWhatItSeesNextToNothingOf(t *testing.T) {
	plain := view{seen: true, p: net.KindProbs{net.Plain: 0.9995, net.RubbedOut: 0.0005}}
	assert.True(t, plain.notOverwritten() && plain.notOutside() && plain.notQuestioned())
	for kind, left := range map[int]func(view) bool{
		net.Overwritten: view.notOverwritten, net.Struck: view.notOverwritten, net.Outside: view.notOutside, net.Question: view.notQuestioned,
	} {
		some := plain
		some.p[net.Plain], some.p[kind] = 0.95, 0.0495
		assert.False(t, left(some), "kind %d", kind)
		_, _, ok := some.alarmed()
		assert.False(t, ok, "a little is no alarm")
	}
	unlike := plain
	unlike.p[net.Plain], unlike.p[net.Unlike] = 0.9, 0.0995
	assert.False(t, unlike.notOverwritten() || unlike.notOutside(), "ink that is like nothing known takes no doubt back")
}

// Expected values: our own logic.
func TestView_AllButSureOfTrouble_NamesIt(t *testing.T) {
	for kind, want := range map[int]sheetmodel.DoubtKind{
		net.Struck: sheetmodel.DoubtStruckOut, net.Overwritten: sheetmodel.DoubtOverwritten,
		net.Question: sheetmodel.DoubtQuestionMark, net.Outside: sheetmodel.DoubtOutsideBox,
	} {
		v := view{seen: true, p: net.KindProbs{net.Plain: 0.01}}
		v.p[kind] = 0.99
		got, detail, ok := v.alarmed()
		require.True(t, ok)
		assert.Equal(t, want, got)
		assert.NotEmpty(t, detail)
	}
}

// Each net is asked of what it learned from: of combs of other sizes rules alone speak.
//
// Expected values: the sizes of the gate card's combs, sheetmodel/docs; those of the forms that the other net learned from,
// ocr/train/trouble; our own logic.
func TestWatched_CombsOfTheGateCardByOneNet_OfOtherMakesByTheOther(t *testing.T) {
	for _, second := range []bool{false, true} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{SecondWriting: second})
		require.NoError(t, err)
		seen := 0
		for i := range l.Sides {
			pg := &page{side: &l.Sides[i]}
			for _, f := range l.Sides[i].Fields {
				if f.Kind == sheetmodel.Comb && (f.Grammar == sheetmodel.GrammarBib || f.Part == sheetmodel.PartGate) {
					known, forms := pg.watched(f)
					assert.True(t, known && !forms, f.Name)
					seen++
				}
			}
		}
		assert.Greater(t, seen, 20)
	}
	pg := &page{side: &sheetmodel.Side{Marks: []sheetmodel.Mark{{}}}}
	for _, f := range []sheetmodel.Field{
		{Boxes: 4, Rect: sheetmodel.Rect{W: 28, H: 10}}, {Boxes: 3, Rect: sheetmodel.Rect{W: 15, H: 10}},
		{Boxes: 3, Rect: sheetmodel.Rect{W: 30, H: 10}}, {Boxes: 3, Rect: sheetmodel.Rect{W: 24, H: 7}},
	} {
		known, _ := pg.watched(f)
		assert.False(t, known, "%+v", f.Rect)
	}
	other := &page{side: &sheetmodel.Side{}}
	for _, f := range []sheetmodel.Field{
		{Boxes: trouble.FewestBoxes, Rect: sheetmodel.Rect{W: 16, H: 9}}, {Boxes: trouble.MostBoxes, Rect: sheetmodel.Rect{W: 4 * trouble.BoxNarrow, H: trouble.CombLow}},
		{Boxes: 3, Rect: sheetmodel.Rect{W: 3 * trouble.BoxWide, H: trouble.CombHigh}}, {Boxes: 3, Rect: sheetmodel.Rect{W: 15, H: trouble.CombSlender * 5}},
	} {
		known, forms := other.watched(f)
		assert.True(t, known && forms, "%d boxes, %+v", f.Boxes, f.Rect)
	}
	for _, f := range []sheetmodel.Field{
		{Boxes: 1, Rect: sheetmodel.Rect{W: 8, H: 9}}, {Boxes: trouble.MostBoxes + 1, Rect: sheetmodel.Rect{W: 40, H: 9}},
		{Boxes: 3, Rect: sheetmodel.Rect{W: 3*trouble.BoxNarrow - 0.1, H: 8}}, {Boxes: 3, Rect: sheetmodel.Rect{W: 3*trouble.BoxWide + 0.1, H: 9}},
		{Boxes: 3, Rect: sheetmodel.Rect{W: 24, H: trouble.CombLow - 0.1}}, {Boxes: 3, Rect: sheetmodel.Rect{W: 27, H: trouble.CombHigh + 0.1}},
		{Boxes: 3, Rect: sheetmodel.Rect{W: 15, H: trouble.CombSlender*5 + 0.1}},
	} {
		known, _ := other.watched(f)
		assert.False(t, known, "%d boxes, %+v", f.Boxes, f.Rect)
	}
}

// What one net says of the gate card is not enough on another card, where it must be surer, and never tells that a comb is
// empty. Expected values: our own logic, after ocr/train/trouble.md.
func TestView_OnOtherMakes_MustBeSurer(t *testing.T) {
	p := net.KindProbs{net.Plain: 0.9985, net.Overwritten: 0.0005, net.Outside: 0.0005, net.Question: 0.0005}
	own, other := view{seen: true, p: p}, view{seen: true, forms: true, p: p}
	assert.True(t, own.notOverwritten() && own.notOutside() && own.notQuestioned())
	assert.False(t, other.notOverwritten() || other.notOutside() || other.notQuestioned())
	alarm := net.KindProbs{net.Plain: 0.015, net.Struck: 0.985}
	_, _, ok := view{seen: true, p: alarm}.alarmed()
	assert.True(t, ok)
	_, _, ok = view{seen: true, forms: true, p: alarm}.alarmed()
	assert.False(t, ok)
	assert.False(t, view{seen: true, forms: true, p: net.KindProbs{net.Blank: 1}}.blank())
}

// A stroke that a line hides is a doubt of its own, and no ink at all needs the net to be surer than of anything else.
//
// Expected values: our own logic.
func TestView_StrokeOnALine_AndNothingAtAll(t *testing.T) {
	line := view{seen: true, p: net.KindProbs{net.Plain: 0.08, net.OnLine: 0.92}}
	assert.True(t, line.onLine())
	assert.False(t, line.blank())
	line.p[net.Plain], line.p[net.OnLine] = 0.2, 0.8
	assert.False(t, line.onLine())
	assert.True(t, view{seen: true, p: net.KindProbs{net.Blank: 0.9995, net.OnLine: 0.0005}}.blank())
	assert.False(t, view{seen: true, p: net.KindProbs{net.Blank: 0.99, net.Plain: 0.01}}.blank(), "pale ink, perhaps")
	assert.False(t, view{p: net.KindProbs{net.Blank: 1, net.OnLine: 1}}.blank() || view{p: net.KindProbs{net.OnLine: 1}}.onLine(), "not looked at")
}

// What the ink map sees on a line is read; what it doesn't see may be hidden there.
//
// Expected values: our own logic.
func TestSeenOnLine_UprightPieceOnALineAlone(t *testing.T) {
	m := &inkMap{w: 400, h: 200}
	f := sheetmodel.Field{Boxes: 3, Rect: sheetmodel.Rect{X: 5, Y: 5, W: 21, H: 9}}
	stroke := func(x, y0, y1 float64) comb {
		p := piece{x0: m.w, y0: m.h}
		for v := int(y0 * inkPxPerMM); v < int(y1*inkPxPerMM); v++ {
			for u := int((x - 0.25) * inkPxPerMM); u < int((x+0.25)*inkPxPerMM); u++ {
				p.px = append(p.px, v*m.w+u)
				p.x0, p.x1, p.y0, p.y1 = min(p.x0, u), max(p.x1, u+1), min(p.y0, v), max(p.y1, v+1)
			}
		}
		p.area = float64(len(p.px)) / (inkPxPerMM * inkPxPerMM)
		return comb{field: f, ink: writing{around: []piece{p}}}
	}
	assert.True(t, m.seenOnLine(stroke(12, 7, 12)), "on the line behind the first box")
	assert.True(t, m.seenOnLine(stroke(5.4, 7, 12)), "close to the outer line")
	assert.False(t, m.seenOnLine(stroke(15.5, 7, 12)), "in the middle of a box")
	assert.False(t, m.seenOnLine(stroke(12, 7, 8)), "too short for a digit")
	assert.False(t, m.seenOnLine(stroke(12, 16, 21)), "below the comb")
}
