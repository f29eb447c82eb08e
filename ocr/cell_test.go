package ocr_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/ctc"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/ocr/train/strips"
	"gatefold/ocr/weights"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// spoken is a line that surely says each of the texts with its probability: one place a symbol, so texts have
// no more than one symbol and none is "".
func spoken(t *testing.T, claims map[string]float64) *ctc.Line {
	t.Helper()
	odds := make([]float32, len(net.CellSymbols))
	for i := range odds {
		odds[i] = -40
	}
	for text, p := range claims {
		i := 0
		if text != "" {
			i = strings.Index(net.CellSymbols, text)
		}
		odds[i] = float32(math.Log(p))
	}
	l, err := ctc.New(odds, len(net.CellSymbols), 1)
	require.NoError(t, err)
	return l
}

// What the ink says is not made likelier by what the field may say. Source: our own logic.
func TestCellBelief_OutsideTheGrammar_StaysNoneOfThese(t *testing.T) {
	for _, c := range []struct {
		name   string
		claims map[string]float64
		g      sheetmodel.Grammar
		text   string
		prob   float64
	}{
		{"a digit beside a dash", map[string]float64{"7": 0.3, "-": 0.7}, sheetmodel.GrammarBib, "", 0.7},
		{"a digit, hardly a letter", map[string]float64{"5": 0.8, "S": 0.2}, sheetmodel.GrammarGate, "5", 0.8},
		{"a forerunner's letter in a gate", map[string]float64{"V": 0.9, "1": 0.1}, sheetmodel.GrammarGate, "", 0.9},
		{"nothing written", map[string]float64{"": 0.9, "1": 0.1}, sheetmodel.GrammarBib, "", 0.9},
		{"struck out", map[string]float64{"#": 0.9, "1": 0.1}, sheetmodel.GrammarBib, "", 0.9},
		{"a code", map[string]float64{"F": 0.75, "P": 0.25}, sheetmodel.GrammarCode, "F", 0.75},
	} {
		b, _, _, ok := ocr.CellBelief(spoken(t, c.claims), c.g)
		require.True(t, ok, c.name)
		text, prob := b.Top()
		assert.Equal(t, c.text, text, c.name)
		assert.InDelta(t, c.prob, float64(prob), 1e-6, c.name)
	}
	_, _, _, ok := ocr.CellBelief(spoken(t, map[string]float64{"1": 1}), sheetmodel.GrammarFree)
	assert.False(t, ok, "free writing is a picture")
}

// The steps of a cell's grammar allow what sheetmodel's shape allows. Source: our own logic.
func TestCellGrammars_AgreeWithSheetmodel(t *testing.T) {
	texts := []string{"7", "07", "120", "1204", "12045", "V3", "AB12", "ABC1", "12A", "12-15", "12a", "12a-14b", "3,4", "3/4", "3,4,9",
		"3,4,9,12", "3,4,9,12,13", "-3", "3-", "F", "FK", "FKWP", "F12", "F12a-14", "12F", "#", "?", "1?", "", "A12C"}
	for _, g := range []sheetmodel.Grammar{sheetmodel.GrammarBib, sheetmodel.GrammarGate, sheetmodel.GrammarCodeGate, sheetmodel.GrammarCount, sheetmodel.GrammarPanel} {
		for _, text := range texts {
			assert.Equal(t, g.Fits(text), ocr.InCell(g, text), "%s %q", g, text)
		}
	}
}

// openCells opens a reader whose cells would all be clear if scores alone decided.
func openCells(t *testing.T) *ocr.Reader {
	t.Helper()
	n, err := ocr.OpenCellNet()
	require.NoError(t, err)
	file := calib.File{Format: calib.Format, Weights: n.Weights(), Kinds: map[calib.Kind]calib.Judgement{}}
	for _, k := range append(calib.CellKinds[:len(calib.CellKinds):len(calib.CellKinds)], calib.CellPanel) {
		file.Kinds[k] = calib.Judgement{
			Curve:     calib.Curve{Score: []float64{0}, Log10Wrong: []float64{-1}},
			Threshold: calib.Threshold{Score: -99, Met: true},
		}
	}
	b, err := json.Marshal(file)
	require.NoError(t, err)
	curves, err := calib.Parse(b, n.Weights())
	require.NoError(t, err)
	r, err := ocr.Open(ocr.Options{Cells: n, CellCurves: curves})
	require.NoError(t, err)
	return r
}

// cellPage is a bench side with one number in its first free cell of the grammar, or what draw puts there.
func cellPage(t *testing.T, draw func(k *hand.Ink, r sheetmodel.Rect)) (gocv.Mat, *sheetmodel.Side, sheetmodel.Field) {
	t.Helper()
	return cellPageOf(t, 0, draw)
}

// cellPageOf is the same on a variant of the bench.
func cellPageOf(t *testing.T, variant uint64, draw func(k *hand.Ink, r sheetmodel.Rect)) (gocv.Mat, *sheetmodel.Side, sheetmodel.Field) {
	t.Helper()
	bench, err := strips.NewBench(variant)
	require.NoError(t, err)
	var field sheetmodel.Field
	for i := range bench.Side.Fields {
		f := &bench.Side.Fields[i]
		f.Part = sheetmodel.PartBib
		if f.Kind == sheetmodel.Cell && f.Grammar == sheetmodel.GrammarBib && f.Row == 2 {
			field = *f
		}
		f.Row = 0 // a row has one field for each part
	}
	require.NotEmpty(t, field.Name)
	paper := print.RasterBlank(bench.Side, pagePxPerMM)
	ink := hand.NewInk(sheetmodel.Rect{W: bench.Side.W, H: bench.Side.H}, pagePxPerMM)
	draw(ink, field.Rect)
	ink.Over(paper)
	m, err := gocv.NewMatFromBytes(paper.Rect.Dy(), paper.Rect.Dx(), gocv.MatTypeCV8U, paper.Pix)
	require.NoError(t, err)
	return m, bench.Side, field
}

func TestReadCell_ANumber_IsReadWhole(t *testing.T) {
	m, err := mnist()
	require.NoError(t, err)
	r := openCells(t)
	defer func() { require.NoError(t, r.Close()) }()
	right := 0
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 5))
		page, side, field := cellPage(t, func(k *hand.Ink, rect sheetmodel.Rect) {
			pen := hand.DrawWriter(hand.Pens{PencilDarker: [2]float64{0.5, 0.6}}, rng)
			one, _ := writer{m, 300 * int(seed)}.Digit(3, rng)
			two, _ := writer{m, 300 * int(seed)}.Digit(8, rng)
			pen.Number(k, []hand.Strokes{one, two}, rect.Grow(-0.8), 0, rng)
		})
		got, err := r.Read(page, pagePxPerMM, side, nil)
		page.Close()
		require.NoError(t, err)
		x := all(got)[field.Name]
		if x.Text == "38" {
			right++
		}
		for _, other := range all(got) {
			if other.Field != field.Name {
				assert.Equal(t, sheetmodel.Empty, other.State, "%s: nobody wrote there", other.Field)
			}
		}
	}
	// No measurement, only a sign that page, cell and net are wired: chance would be none.
	assert.GreaterOrEqual(t, right, 4)
}

func TestReadCell_ACodeBesideTheTicks_IsNeverClear(t *testing.T) {
	m, err := mnist()
	require.NoError(t, err)
	r := openCells(t)
	defer func() { require.NoError(t, r.Close()) }()
	rng := rand.New(rand.NewPCG(3, 5))
	page, side, field := cellPage(t, func(k *hand.Ink, rect sheetmodel.Rect) {
		pen := hand.DrawWriter(hand.Pens{PencilDarker: [2]float64{0.5, 0.6}}, rng)
		one, _ := writer{m, 0}.Digit(6, rng)
		pen.Number(k, []hand.Strokes{one}, rect.Grow(-0.8), 0, rng)
	})
	defer page.Close()
	state := func(part sheetmodel.Part) sheetmodel.Reading {
		side.Field(field.Name).Part = part
		got, err := r.Read(page, pagePxPerMM, side, nil)
		require.NoError(t, err)
		return all(got)[field.Name]
	}
	// The same ink, the same curves: only what the field is for differs.
	require.Equal(t, sheetmodel.Clear, state(sheetmodel.PartBib).State)
	assert.Equal(t, sheetmodel.Doubtful, state(sheetmodel.PartCodeOther).State)
}

// A letter in a cell for panels is judged by a curve of its own, and one of no panel of the card is asked about however sure
// it is read: the net takes an A for an H, and neither law nor curve says that a card has an H. Source: our own logic.
func TestReadCell_APanelsLetter_IsOneOfTheSidesPanels(t *testing.T) {
	r := openCells(t)
	defer func() { require.NoError(t, r.Close()) }()
	rng := rand.New(rand.NewPCG(4, 5))
	page, side, field := cellPage(t, func(k *hand.Ink, rect sheetmodel.Rect) {
		pen := hand.DrawWriter(hand.Pens{PencilDarker: [2]float64{0.5, 0.6}}, rng)
		g, ok := hand.Letter('B', rng)
		require.True(t, ok)
		pen.Number(k, []hand.Strokes{g}, rect.Grow(-0.8), 0, rng)
	})
	defer page.Close()
	f := side.Field(field.Name)
	f.Part, f.Grammar, f.Row = sheetmodel.PartPanel, sheetmodel.GrammarPanel, 2
	read := func(panels ...string) sheetmodel.Reading {
		kept := side.Fields
		defer func() { side.Fields = kept }()
		for i, p := range panels {
			side.Fields = append(side.Fields[:len(side.Fields):len(side.Fields)], sheetmodel.Field{
				Name: "panel-" + p + ".drawing", Part: sheetmodel.PartDrawing, Kind: sheetmodel.Drawing, Panel: p, Grammar: sheetmodel.GrammarFree,
				Rect: sheetmodel.Rect{X: 10 + 30*sheetmodel.MM(i), Y: 20, W: 20, H: 15},
			})
		}
		got, err := r.Read(page, pagePxPerMM, side, nil)
		require.NoError(t, err)
		return all(got)[field.Name]
	}
	x := read("A", "B")
	require.Equal(t, "B", x.Text)
	assert.Equal(t, sheetmodel.Clear, x.State)
	assert.Contains(t, x.Certainty.Curve(), "cell-panel-")
	x = read("A", "C")
	assert.Equal(t, sheetmodel.Doubtful, x.State)
	assert.True(t, x.HasDoubt(sheetmodel.DoubtNotInGrammar))
	assert.Equal(t, sheetmodel.Clear, read().State, "its panels may be on the back")

	shipped, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, shipped.Close()) }()
	_, enough := shipped.Judge().Judge(calib.CellBib2, 99)
	assert.False(t, enough, "until its threshold is proven; then it is that of cells.json")
}

// What two looks claim together is judged by their own curve, as shipped, and a field that is looked at once by that of one look. Source:
// ocr/calib/cells.md, which has a curve for each.
func TestReadCell_HighOne_IsJudgedByTheCurveOfTwoLooks(t *testing.T) {
	m, err := mnist()
	require.NoError(t, err)
	r, err := ocr.Open(ocr.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	for variant, curve := range map[uint64]string{0: string(calib.CellBib) + "-", strips.High: string(calib.CellBibHigh) + "-"} {
		rng := rand.New(rand.NewPCG(1, 5))
		page, side, field := cellPageOf(t, variant, func(k *hand.Ink, rect sheetmodel.Rect) {
			pen := hand.DrawWriter(hand.Pens{PencilDarker: [2]float64{0.5, 0.6}}, rng)
			three, _ := writer{m, 300}.Digit(3, rng)
			pen.Number(k, []hand.Strokes{three}, rect.Grow(-1), 0, rng)
		})
		got, err := r.Read(page, pagePxPerMM, side, nil)
		page.Close()
		require.NoError(t, err)
		x := all(got)[field.Name]
		require.NotEmpty(t, x.Text, "%g mm", float64(field.Rect.H))
		rest, is := strings.CutPrefix(x.Certainty.Curve(), curve)
		assert.True(t, is && !strings.Contains(rest, "-"), "%g mm: %s", float64(field.Rect.H), x.Certainty.Curve())
	}
}

func TestReadCell_OddInk_GivesNoSureText(t *testing.T) {
	r := openCells(t)
	defer func() { require.NoError(t, r.Close()) }()
	area := func(k *hand.Ink, rect sheetmodel.Rect) {
		for y := int(rect.Y * pagePxPerMM); y < int((rect.Y+rect.H)*pagePxPerMM); y++ {
			for x := int(rect.X * pagePxPerMM); x < int((rect.X+rect.W)*pagePxPerMM); x++ {
				k.Factor[y*k.W+x] = 20
			}
		}
	}
	for name, c := range map[string]struct {
		draw func(k *hand.Ink, rect sheetmodel.Rect)
		want []sheetmodel.State
	}{
		"empty": {func(*hand.Ink, sheetmodel.Rect) {}, []sheetmodel.State{sheetmodel.Empty}},
		"black": {area, []sheetmodel.State{sheetmodel.Doubtful}},
		"one pixel": {func(k *hand.Ink, rect sheetmodel.Rect) {
			c := rect.Center()
			area(k, sheetmodel.Rect{X: c.X, Y: c.Y, W: 0.13, H: 0.13})
		}, []sheetmodel.State{sheetmodel.Empty, sheetmodel.Doubtful}},
	} {
		page, side, field := cellPage(t, c.draw)
		got, err := r.Read(page, pagePxPerMM, side, nil)
		page.Close()
		require.NoError(t, err)
		x := all(got)[field.Name]
		assert.Contains(t, c.want, x.State, name)
		assert.Empty(t, x.Text, name)
	}
}

// saying is a Sequencer that says the same of every field.
type saying struct {
	line *ctc.Line
	asks *int
}

func (s saying) Line([]byte, int, float64, sheetmodel.Rect) (*ctc.Line, error) {
	*s.asks++
	return s.line, nil
}
func (saying) Weights() string { return "saying" }
func (saying) Close() error    { return nil }

// Where the digit nets are not sure, the line as a whole is asked; it is a doubt if it shows another text, however
// much is let pass. Where they are sure it isn't asked. Source: our own logic.
func TestRead_TheVoice_IsHeardOnUnsureCombsAlone(t *testing.T) {
	file := calib.File{Format: calib.Format, Weights: weights.Combs(), Kinds: map[calib.Kind]calib.Judgement{}}
	for _, k := range calib.Kinds {
		file.Kinds[k] = calib.Judgement{Curve: calib.Curve{Score: []float64{0}, Log10Wrong: []float64{-1}}, Threshold: calib.Threshold{Score: -99}}
	}
	b, err := json.Marshal(file)
	require.NoError(t, err)
	curves, err := calib.Parse(b, weights.Combs())
	require.NoError(t, err)
	sure, unsure, asks := 0, 0, 0
	for seed := uint64(21); seed < 25; seed++ {
		scores := map[string]float64{}
		r, err := ocr.Open(ocr.Options{
			Curves: curves, Cells: saying{spoken(t, map[string]float64{"4": 1}), &asks},
			Scores: func(field string, _ calib.Kind, score float64) { scores[field] = score },
		})
		require.NoError(t, err)
		got := read(t, r, sheetmodel.Front, cleanPlan(), seed, nil)
		require.NoError(t, r.Close())
		for _, row := range got.Rows {
			for _, x := range []sheetmodel.Reading{row.Bib, row.Gate} {
				switch score, read := scores[x.Field]; {
				case !read || x.Text == "4": // which is what the voice says
				case x.HasDoubt(sheetmodel.DoubtReaders):
					unsure++
				default:
					sure++
					assert.GreaterOrEqual(t, score, ocr.VoiceBelow, "%s %q stands against the voice", x.Field, x.Text)
				}
			}
		}
	}
	assert.Positive(t, sure)
	assert.Positive(t, unsure)
	assert.Positive(t, asks)
	assert.Less(t, asks, sure+unsure)
}

// Two that agree are surer than one, two that differ less, neither rules out what the other is sure of, and "none of
// these" weighs like a text. Source: logarithmic opinion pool, Genest and Zidek 1986; numbers by hand.
func TestPool(t *testing.T) {
	one := func(text string, p sheetmodel.Prob) joint.Belief {
		return joint.NewBelief([]sheetmodel.Rival{{Text: text, Prob: p}}, 1-p)
	}
	for name, c := range map[string]struct {
		nets, voice joint.Belief
		text        string
		want        float64 // its claim
	}{
		// 0.9·√0.99 : 0.1·√0.01
		"agree": {one("12", 0.9), one("12", 0.99), "12", 0.9 * 0.994987 / (0.9*0.994987 + 0.1*0.1)},
		// the voice leaves the least, 1e-4, for 12 and for "none of these": 0.9·0.01 : 0.1·0.01
		"differ": {one("12", 0.9), one("17", 1), "12", 0.9 * 0.01 / (0.9*0.01 + 0.1*0.01)},
		"none":   {one("12", 0.9), joint.Belief{Other: 1}, "12", 0.9 * 0.01 / (0.9*0.01 + 0.1)},
		"sure":   {one("12", 1), one("17", 1), "12", 1},
	} {
		got := ocr.Pool(c.nets, c.voice)
		assert.InDelta(t, c.want, float64(got.Prob(c.text)), 1e-4, name)
	}
}

// What the voice lifts stays at the cap, in the same order and with the same odds among the rest; what is below, and
// "none of these", is left alone. Source: our own logic; numbers by hand.
func TestCapped(t *testing.T) {
	b := joint.NewBelief([]sheetmodel.Rival{{Text: "12", Prob: 0.9997}, {Text: "17", Prob: 0.0002}}, 0.0001)
	got := ocr.Capped(b, 2)
	assert.InDelta(t, 2, joint.ScoreOf(got), 1e-9)
	assert.InDelta(t, 100.0/101, float64(got.Prob("12")), 1e-9)
	assert.InDelta(t, 2, float64(got.Prob("17")/got.Other), 1e-6)
	assert.Equal(t, b, ocr.Capped(b, 5))
	none := joint.NewBelief([]sheetmodel.Rival{{Text: "12", Prob: 0.0001}}, 0.9999)
	assert.Equal(t, none, ocr.Capped(none, 2))
}

func TestRead_TheGateCardsFreeCell_IsAHelpAtMost(t *testing.T) {
	r := openCells(t)
	defer func() { require.NoError(t, r.Close()) }()
	const row = 2
	letters := "CUKW"
	right := 0
	for i, c := range letters {
		got := read(t, r, sheetmodel.Front, fill.Plan{Rows: []fill.Row{{Number: row, Bib: "12"}}}, uint64(i), func(k *hand.Ink, w *hand.Writer, rng *rand.Rand) {
			f := layout().Side(sheetmodel.Front).Field("row-02.code-other")
			require.NotNil(t, f)
			w.Letter(k, c, f.Rect.Grow(-1), rng)
		})
		x := got.Rows[row-1].CodeOther
		assert.Equal(t, sheetmodel.Doubtful, x.State, "%c: a written code is never clear", c)
		if x.Text == string(c) {
			right++
		}
		for _, v := range x.Rivals {
			assert.True(t, v.Text == "" || v.Prob >= 0.02, "%c: %v is no help", c, v)
		}
	}
	// No measurement (the shapes are our own strokes), only a sign that the cell is read: chance would be none.
	assert.GreaterOrEqual(t, right, 2)
}
