package ocr

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/ocr/crop"
	"gatefold/ocr/ctc"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/ocr/weights"
	"gatefold/sheetmodel"
)

// Sequencer looks at a whole field as one line of writing, without cutting it into characters.
//
// It serves one goroutine. Who opened it closes it.
type Sequencer interface {
	// Line looks at field, in sheet mm. pix is the 8-bit grey page, row by row without gaps, w wide; the
	// sequencer leaves it unchanged. Symbols of the line are those of net.CellSymbols.
	Line(pix []byte, w int, pxPerMM float64, field sheetmodel.Rect) (*ctc.Line, error)
	// Weights returns the hash of the weights, which curves and thresholds are bound to.
	Weights() string
	Close() error
}

// cellNet is the embedded cell net as a Sequencer.
type cellNet struct{ net *net.Cell }

// OpenCellNet opens the embedded cell net. The caller closes it.
func OpenCellNet() (Sequencer, error) {
	n, err := net.OpenCell()
	if err != nil {
		return nil, err
	}
	return &cellNet{net: n}, nil
}

// Line cuts the field out and shows it to the net.
func (c *cellNet) Line(pix []byte, w int, pxPerMM float64, field sheetmodel.Rect) (*ctc.Line, error) {
	s := crop.TakeStrip(crop.Page{Pix: pix, Stride: w, W: w, H: len(pix) / w, PxPerMM: pxPerMM}, field)
	return c.net.Look(&s)
}

// Weights names the embedded net.
func (c *cellNet) Weights() string { return weights.CellHash() }

// Close frees the net.
func (c *cellNet) Close() error { return c.net.Close() }

const (
	listedTexts = 24   // texts that are looked for in a line, of the grammar and of any shape
	helpClaim   = 0.02 // what a rival in a cell must have to be named: the rest is "none of these"
	queryClaim  = 0.2  // of texts with a question mark, to say that there is one
	junkClaim   = 0.2  // of texts with ink that is no sign
)

// CellBelief turns a line into what a field of the grammar may say: texts of the grammar with their exact
// probabilities, and all the rest of 1 as "none of these", also a dash, a name, a question mark or ink that is no
// sign. ok is false for a grammar that no cell is read by.
//
// query and junk are the claims of texts with a question mark and with ink that is no sign, among the
// likeliest of any shape.
func CellBelief(l *ctc.Line, g sheetmodel.Grammar) (b joint.Belief, query, junk float64, ok bool) {
	grammar, ok := grammarOfCell(g)
	if !ok {
		return joint.Belief{Other: 1}, 0, 0, false
	}
	claims := map[string]float64{}
	for _, t := range l.Best(listedTexts, grammar) {
		claims[spelt(t.Symbols)] = t.Prob
	}
	for _, t := range l.Best(listedTexts, nil) {
		text := spelt(t.Symbols)
		if strings.ContainsRune(text, '?') {
			query += t.Prob
		}
		if strings.ContainsRune(text, net.CellJunk) {
			junk += t.Prob
		}
	}
	return toBelief(claims, leastClaim), query, junk, true
}

// CellDoubt reports whether a line's claims of question marks or of ink that is no sign make its text doubtful.
func CellDoubt(query, junk float64) bool { return query >= queryClaim || junk >= junkClaim }

// spelt writes symbols out.
func spelt(symbols []int) string {
	b := make([]byte, len(symbols))
	for i, s := range symbols {
		b[i] = net.CellSymbols[s]
	}
	return string(b)
}

// readCell reads a free cell. Where the ink map sees nothing there is nothing; whatever the net says of ink, a
// code beside the ticks and a text the net isn't calibrated for stay doubtful: a help to a person.
func (r *Reader) readCell(pg *page, f sheetmodel.Field) (sheetmodel.Reading, error) {
	out := pg.ink.readInk(f, pg.side.Name)
	if out.State == sheetmodel.Empty {
		return out, nil
	}
	if _, ok := grammarOfCell(f.Grammar); !ok {
		return out, nil
	}
	looks, err := r.lookAtCell(pg, f)
	if err != nil {
		return out, fmt.Errorf("field %s: %w", f.Name, err)
	}
	belief, query, junk := poolLooks(looks)
	out.Doubts, out.State = nil, sheetmodel.Clear
	showCell(belief, &out)
	for _, l := range looks {
		top, _ := l.belief.Top()
		switch {
		case out.Text == "" || out.HasDoubt(sheetmodel.DoubtReaders):
		case l.twice && l.second != out.Text:
			out.Doubt(sheetmodel.DoubtReaders, fmt.Sprintf("two readers differ: %s and %s", out.Text, shown(l.second)))
		case top != out.Text:
			out.Doubt(sheetmodel.DoubtReaders, fmt.Sprintf("two looks differ: %s and %s", out.Text, shown(top)))
		}
	}
	ink := pg.ink.examine(f)
	if ink.region.W > 0 {
		out.Region = ink.region
	}
	for _, d := range ink.doubts {
		out.Doubt(d.Kind, d.Detail)
	}
	if out.Text == "" {
		out.Doubt(sheetmodel.DoubtNotInGrammar, "handwriting: a person reads it")
	}
	if query >= queryClaim && !out.HasDoubt(sheetmodel.DoubtQuestionMark) {
		out.Doubt(sheetmodel.DoubtQuestionMark, "there may be a question mark")
	}
	if junk >= junkClaim && !out.HasDoubt(sheetmodel.DoubtOverwritten) {
		out.Doubt(sheetmodel.DoubtOverwritten, "some of it may be struck out or written over")
	}
	var enough bool
	out.Certainty, enough = r.judgeCell(f, len(looks), joint.ScoreOf(belief))
	switch {
	case out.Text == "":
		out.Certainty = sheetmodel.Certainty{} // how sure it is that nothing is there to be read is no certainty
	case f.Part == sheetmodel.PartCodeOther:
		out.Doubt(sheetmodel.DoubtLowCertainty, "a written code: a person reads it too")
	case !r.cellCurves.Calibrated(): // and so nobody knows what two such writings are worth together
		out.Doubt(sheetmodel.DoubtNotInGrammar, "handwriting: a person reads it")
	case f.Part == sheetmodel.PartPanel && !hasPanel(pg.side, out.Text):
		out.Doubt(sheetmodel.DoubtNotInGrammar, "this side has no such panel")
	case !enough:
		out.Doubt(sheetmodel.DoubtLowCertainty, "not certain enough by itself")
	case zeroFirst(f.Grammar, out.Text):
		out.Doubt(sheetmodel.DoubtLowCertainty, "a zero in front: it may be another digit")
	}
	return out, nil
}

// cellLook is what one look at a cell says.
type cellLook struct {
	belief      joint.Belief
	query, junk float64
	second      string // by the reader that goes digit by digit, where twice
	twice       bool
}

// lookAtCell reads a cell as a line, one look for each part that crop.Looks names, numbers digit by digit too.
func (r *Reader) lookAtCell(pg *page, f sheetmodel.Field) ([]cellLook, error) {
	p := crop.Page{Pix: pg.pix, Stride: pg.w, W: pg.w, H: len(pg.pix) / pg.w, PxPerMM: pg.pxPerMM}
	signs, _ := r.nets.(SignReader)
	var out []cellLook
	for _, rect := range crop.Looks(p, f.Rect) {
		line, err := r.cells.Line(pg.pix, pg.w, pg.pxPerMM, rect)
		if err != nil {
			return nil, err
		}
		l, err := lookAtStrip(line, signs, func() crop.Strip { return crop.TakeStrip(p, rect) }, f.Grammar)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

// lookAtStrip says what a strip may say under a grammar: line is what the strip says as a whole; a number is read digit by digit
// too, unless signs is nil.
func lookAtStrip(line *ctc.Line, signs SignReader, strip func() crop.Strip, g sheetmodel.Grammar) (l cellLook, err error) {
	l.belief, l.query, l.junk, _ = CellBelief(line, g)
	if l.twice = signs != nil && ofDigits(g); l.twice {
		s := strip()
		l.belief, l.second, err = bySigns(signs, &s, line, l.belief)
	}
	return l, err
}

// poolLooks is what several looks at one cell say together, and the strongest of their claims of a question mark and of ink that is
// no sign.
func poolLooks(looks []cellLook) (b joint.Belief, query, junk float64) {
	beliefs := make([]joint.Belief, len(looks))
	for i, l := range looks {
		beliefs[i], query, junk = l.belief, max(query, l.query), max(junk, l.junk)
	}
	return together(beliefs), query, junk
}

// lookLeast is what a look's claim counts as at least: what one look doesn't name another may see. With more, such texts
// together would bound how sure two looks can be; the order of bibs by their certainty hardly depends on it.
const lookLeast = 1e-8

// together pools what several looks at the same ink claim: the geometric mean of their claims, none of them counting as less than
// lookLeast. They are looks of one reader and no witnesses: where they agree they are no surer than each.
//
// Source: logarithmic opinion pool, Genest and Zidek 1986.
func together(looks []joint.Belief) joint.Belief {
	if len(looks) == 1 {
		return looks[0]
	}
	mean := func(of func(joint.Belief) sheetmodel.Prob) sheetmodel.Prob {
		sum := 0.0
		for _, b := range looks {
			sum += math.Log(math.Max(float64(of(b)), lookLeast))
		}
		return sheetmodel.Prob(math.Exp(sum / float64(len(looks))))
	}
	var out []sheetmodel.Rival
	for _, b := range looks {
		for _, v := range b.Texts {
			if !slices.ContainsFunc(out, func(o sheetmodel.Rival) bool { return o.Text == v.Text }) {
				out = append(out, sheetmodel.Rival{Text: v.Text, Prob: mean(func(o joint.Belief) sheetmodel.Prob { return o.Prob(v.Text) })})
			}
		}
	}
	return joint.NewBelief(out, mean(func(o joint.Belief) sheetmodel.Prob { return o.Other }))
}

// hasPanel reports whether a side has a panel of that letter; one without any panel may have them on its back.
func hasPanel(side *sheetmodel.Side, letter string) bool {
	has := false
	for _, f := range side.Fields {
		has = has || f.Panel != ""
		if f.Panel == letter {
			return true
		}
	}
	return !has
}

// showCell writes a cell's belief into a reading: a text and the rivals that are worth a name.
func showCell(b joint.Belief, out *sheetmodel.Reading) {
	b.Fill(out, listedRivals)
	keepLikely(out)
}

// CellShown is a cell's belief as a reading of it keeps it, for two writings to be read together.
func CellShown(b joint.Belief) joint.Belief {
	var r sheetmodel.Reading
	showCell(b, &r)
	return joint.FromReading(r)
}

// keepLikely leaves rivals out that hardly anything speaks for and gives their mass to "none of these". A
// person who names a text that is listed is said to see what the ink shows; of 26 letters each has a trace.
func keepLikely(r *sheetmodel.Reading) {
	var kept []sheetmodel.Rival
	rest := sheetmodel.Prob(0)
	for _, v := range r.Rivals {
		if v.Text != "" && v.Prob >= helpClaim {
			kept = append(kept, v)
		} else {
			rest += v.Prob
		}
	}
	if rest > 0 && r.Text != "" {
		kept = append(kept, sheetmodel.Rival{Prob: rest})
	}
	r.Rivals = kept
}

// judgeCell turns the score of a cell into a certainty, by the curve of so many looks, and says whether it is enough.
func (r *Reader) judgeCell(f sheetmodel.Field, looks int, score float64) (sheetmodel.Certainty, bool) {
	kind := CellKind(f.Grammar, looks)
	if r.scores != nil {
		r.scores(f.Name, kind, score)
	}
	if _, has := r.cellCurves.File().Kinds[kind]; kind == calib.CellPanel && !has {
		kind = calib.CellCode // a letter as well: a help to a person, and never enough
		c, _ := r.cellCurves.Judge(kind, score)
		return c, false
	}
	c, enough := r.cellCurves.Judge(kind, score)
	// A threshold that was not proven is none here: without a comb's boxes there is less to go by.
	return c, enough && r.cellCurves.File().Kinds[kind].Threshold.Met
}

// CellKind says which curve and threshold a cell is judged by that was looked at once or more often.
func CellKind(g sheetmodel.Grammar, looks int) calib.Kind {
	once := func(one, more calib.Kind) calib.Kind {
		if looks > 1 {
			return more
		}
		return one
	}
	switch g {
	case sheetmodel.GrammarBib, sheetmodel.GrammarCount:
		return once(calib.CellBib, calib.CellBibHigh)
	case sheetmodel.GrammarGate:
		return once(calib.CellGate, calib.CellGateHigh)
	case sheetmodel.GrammarPanel:
		return calib.CellPanel
	default: // never enough, and so a help alone, for which the curve of one look is low enough
		return calib.CellCode
	}
}
