package ocr

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

const (
	listedRivals = 8     // how many other texts a Reading names
	leastClaim   = 1e-12 // below, a text is not worth listing
)

func blankReading(f sheetmodel.Field, side sheetmodel.SideName) sheetmodel.Reading {
	return sheetmodel.Reading{Field: f.Name, Side: side, State: sheetmodel.Empty, Region: f.Rect}
}

// comb is a comb field on its way: its ink was examined, its boxes wait for the nets.
type comb struct {
	field sheetmodel.Field
	ink   writing
	boxes []int // indices of the boxes to classify
	seen  bool  // ink was seen in one of them
	// strokes of each box, in the comb's order
	strokes []strokes
	place   place
}

// openComb examines a comb; nothing is written in it if there are no boxes to classify. A box without
// visible ink that is darker than its like is shown to the nets too.
func (pg *page) openComb(f sheetmodel.Field) comb {
	c := comb{field: f, ink: pg.ink.examine(f)}
	c.place = pg.ink.placeOf(c.ink.own, f.Rect, f.Boxes)
	c.strokes = make([]strokes, len(c.ink.boxes))
	for i, ink := range c.ink.boxes {
		if ink || pg.faint.unseen(f.Rect.Box(i, f.Boxes)) {
			c.boxes = append(c.boxes, i)
			c.seen = c.seen || ink
		}
		if ink {
			c.strokes[i] = pg.ink.strokesOf(pg.ink.ofBox(c.ink.own, f.Rect, i, f.Boxes))
		}
	}
	if c.seen && pg.poor() {
		// A lost first digit makes another bib, and a sure one: no box of a written comb is skipped.
		c.boxes = c.boxes[:0]
		for i := range c.ink.boxes {
			c.boxes = append(c.boxes, i)
		}
	}
	return c
}

// Where a page is good enough for ink to be seen wherever there is any.
const (
	goodNoise = 6.0  // thousandths
	goodBlur  = 0.16 // mm
	goodMark  = 25.0 // thousandths by which a plain mark darkens its box
	// goodStroke is the same for a card without boxes to tick, in thousandths of the darkest px of its numbers: such
	// strokes, 0.5 mm wide and 6 mm long, darken a box of 20 mm² by goodMark.
	goodStroke = 170.0
)

// poor reports whether pale ink may be overlooked on this page.
func (pg *page) poor() bool {
	pale := pg.faint.mark < goodMark
	if pg.faint.n == 0 && pg.strokes > 0 {
		pale = pg.strokes < goodStroke
	}
	return pg.ink.noise > goodNoise || pg.blur > goodBlur || pale
}

// usualPeak is how dark the numbers in combs are where they are darkest, the middle of all, on a card of another make
// that has no box to tick; 0 on others, and where there are too few to tell.
func (pg *page) usualPeak() float64 {
	if len(pg.side.Marks) > 0 {
		return 0
	}
	var peaks []float64
	for _, f := range pg.side.Fields {
		if f.Kind == sheetmodel.Choice {
			return 0
		}
		if f.Kind != sheetmodel.Comb {
			continue
		}
		if w := pg.ink.examine(f); w.area > speckMM2 {
			peaks = append(peaks, float64(w.peak))
		}
	}
	if len(peaks) < leastDigits {
		return 0
	}
	return median(peaks)
}

// What both readers together must say of a box, on a page where ink is hard to tell from grain.
const (
	leastDigit = 0.25 // of one digit, for a box without visible ink to count as written
	mostEmpty  = 0.5  // that it is empty, for a spot of ink to count as none
	spotMM2    = 0.8  // the largest spot that may be grain
)

// nothing reports whether a comb whose ink can't be seen, or is a spot no larger than grain makes on such a
// page, holds none for the readers either.
func (pg *page) nothing(c comb, a, b []Dist) bool {
	if c.seen && (!pg.poor() || len(c.ink.doubts) > 1 || c.ink.area > spotMM2 && !pg.onlyGrain(c.ink)) {
		return false
	}
	for _, d := range mean(a, b) {
		for _, p := range d[:ClassEmpty] {
			if p >= leastDigit {
				return false
			}
		}
		if c.seen && d[ClassEmpty] < mostEmpty {
			return false
		}
	}
	return true
}

// onlyGrain reports whether all that stands in a comb are spots of grain.
func (pg *page) onlyGrain(w writing) bool {
	return w.area <= pg.ink.mostGrain() && !slices.ContainsFunc(w.own, func(p piece) bool { return !pg.ink.grain(p) })
}

// readCombs classifies the boxes of many combs at once and turns each into a Reading.
func (r *Reader) readCombs(pg *page, combs []comb) ([]sheetmodel.Reading, error) {
	var boxes []sheetmodel.Rect
	for _, c := range combs {
		for _, i := range c.boxes {
			boxes = append(boxes, c.field.Rect.Box(i, c.field.Boxes))
		}
	}
	var a, b []Dist
	if len(boxes) > 0 {
		var err error
		if a, b, err = r.nets.Classify(pg.pix, pg.w, pg.pxPerMM, boxes); err != nil {
			return nil, fmt.Errorf("reading %d boxes: %w", len(boxes), err)
		}
	}
	out := make([]sheetmodel.Reading, len(combs))
	for k, c := range combs {
		n := len(c.boxes)
		var err error
		if out[k], err = r.closeComb(pg, c, a[:n], b[:n]); err != nil {
			return nil, err
		}
		a, b = a[n:], b[n:]
	}
	return out, nil
}

// closeComb makes the Reading of one comb from what both readers say of its boxes, and the voice where they are
// not sure.
func (r *Reader) closeComb(pg *page, c comb, a, b []Dist) (sheetmodel.Reading, error) {
	out := blankReading(c.field, pg.side.Name)
	if pg.nothing(c, a, b) {
		return out, nil
	}
	b = c.sighted(a, b)
	if c.ink.region.W > 0 {
		out.Region = c.ink.region
	}
	allA, allB := spread(c, a), spread(c, b)
	belief, heard, asked, err := r.hear(pg, c.field, combBelief(mean(allA, allB), leastClaim))
	if err != nil {
		return out, err
	}
	if text, _ := belief.Top(); text == "" && pg.poor() {
		// Grain and the edges of shadows: as with spots, but the trouble net says it, who sees them beside the whole comb.
		v, err := r.watch(pg, c.field)
		if err != nil {
			return out, err
		}
		if v.blank() {
			return blankReading(c.field, pg.side.Name), nil
		}
	}
	textA, _ := combBelief(allA, leastClaim).Top()
	textB, _ := combBelief(allB, leastClaim).Top()
	belief.Fill(&out, listedRivals)
	out.State = sheetmodel.Clear
	// On a card with marks in its corners, lines lie where they should to a tenth of a millimetre, and on a good photo a
	// stroke along one is seen: of 396 of its numbers doubted there, 2 lacked a digit; on poor photos 22 of 302.
	if pg.onLine[c.field.Name] && (len(pg.side.Marks) == 0 || pg.poor()) {
		out.Doubt(sheetmodel.DoubtOnPrint, onALine)
	}
	if err := r.doubtInk(pg, c, pg.layered(c, a, b), &out); err != nil {
		return out, err
	}
	c.doubtShort(&out)
	if pg.ink.ditto(c) {
		out.Doubt(sheetmodel.DoubtDitto, "two short strokes side by side: ditto marks, perhaps")
	}
	if !c.seen {
		out.Doubt(sheetmodel.DoubtFaintInk, "darker than its like: perhaps very pale writing")
	}
	if out.Text == "" {
		out.Doubt(sheetmodel.DoubtNotInGrammar, "no number can be made of this ink")
	}
	if textA != textB {
		out.Doubt(sheetmodel.DoubtReaders, fmt.Sprintf("two readers differ: %s and %s", shown(textA), shown(textB)))
	} else if asked && heard != textA {
		out.Doubt(sheetmodel.DoubtReaders, fmt.Sprintf("read as a whole it looks like %s, box by box like %s", shown(heard), shown(textA)))
	}
	var enough bool
	out.Certainty, enough = r.judge(c.field.Name, kindOf(c.field), joint.ScoreOf(belief))
	if out.Text == "" {
		out.Certainty = sheetmodel.Certainty{} // how sure it is that nothing is there to be read is no certainty
	} else if !enough {
		out.Doubt(sheetmodel.DoubtLowCertainty, "not certain enough by itself")
	} else if zeroFirst(c.field.Grammar, out.Text) {
		out.Doubt(sheetmodel.DoubtLowCertainty, "a zero in front: it may be another digit")
	}
	return out, nil
}

// doubtInk doubts a comb for what its ink looks like: by rules of thumb, of which the trouble net may take some back, and
// by the trouble net itself, which is asked of every bib in a row and of other combs only where a rule speaks.
func (r *Reader) doubtInk(pg *page, c comb, layered bool, out *sheetmodel.Reading) error {
	doubts := slices.Clone(c.ink.doubts)
	add := func(kind sheetmodel.DoubtKind, detail string) {
		if !slices.ContainsFunc(doubts, func(d sheetmodel.Doubt) bool { return d.Kind == kind }) {
			doubts = append(doubts, sheetmodel.Doubt{Kind: kind, Detail: detail})
		}
	}
	if c.place.astray(pg.below) {
		add(sheetmodel.DoubtOutsideBox, besideBoxes)
	}
	if layered {
		add(sheetmodel.DoubtOverwritten, "one digit may be written over another")
	}
	if len(doubts) == 0 && c.field.Part != sheetmodel.PartBib {
		return nil
	}
	v, err := r.watch(pg, c.field)
	if err != nil {
		return err
	}
	for _, d := range doubts {
		switch {
		case d.Kind == sheetmodel.DoubtOverwritten && v.notOverwritten():
		case d.Kind == sheetmodel.DoubtOutsideBox && d.Detail != reachesIn && d.Detail != leavesAbove && v.notOutside():
		default:
			out.Doubt(d.Kind, d.Detail)
		}
	}
	if kind, detail, ok := v.alarmed(); ok && !out.HasDoubt(kind) {
		out.Doubt(kind, detail)
	}
	if v.onLine() && !pg.ink.seenOnLine(c) && !out.HasDoubt(sheetmodel.DoubtOnPrint) {
		out.Doubt(sheetmodel.DoubtOnPrint, onALine)
	}
	return nil
}

// zeroFirst reports whether a number begins with a zero. Nobody writes a zero in front unless it is on the bib; a 9, 3
// or 2 that is read so is likelier, however sure both readers are. A second writing or a person settles it.
func zeroFirst(g sheetmodel.Grammar, text string) bool {
	return (g == sheetmodel.GrammarBib || g == sheetmodel.GrammarGate) && strings.HasPrefix(text, "0")
}

// sighted leaves the second reader out where it has nothing to look at. It sees ink alone: of a box without any
// it says "empty" with the same middling claim every time, whatever the box, and two such boxes beside a digit
// would decide how sure the whole number is. The first, which sees the grey picture, speaks for both there. A
// digit that the second sees is always heard.
func (c comb) sighted(a, b []Dist) []Dist {
	out := slices.Clone(b)
	for k, i := range c.boxes {
		if !c.ink.boxes[i] && b[k].Best() == ClassEmpty && a[k].Best() == ClassEmpty {
			out[k] = a[k]
		}
	}
	return out
}

// layered reports whether a digit of a comb may be two, one written over the other.
func (pg *page) layered(c comb, a, b []Dist) bool {
	for k, d := range mean(a, b) {
		i, limit := c.boxes[k], layerLimit
		if pg.poor() {
			limit = layerPoor
		}
		if c.field.Part == sheetmodel.PartBibAgain && i == 0 {
			limit = layerBeside
		}
		if c.strokes[i].layered(pg.habit, slices.Max(d[:ClassEmpty]), limit) {
			return true
		}
	}
	return false
}

// spread puts the classified boxes in their places; the others hold nothing.
func spread(c comb, d []Dist) []Dist {
	all := make([]Dist, len(c.ink.boxes))
	for i := range all {
		all[i] = certainlyEmpty()
	}
	for k, i := range c.boxes {
		all[i] = d[k]
	}
	return all
}

// kindOf says which curve and threshold a comb is judged by.
func kindOf(f sheetmodel.Field) calib.Kind {
	switch f.Grammar {
	case sheetmodel.GrammarBib:
		return calib.Bib1
	case sheetmodel.GrammarGate:
		return calib.Gate
	case sheetmodel.GrammarCount, sheetmodel.GrammarCode, sheetmodel.GrammarPanel, sheetmodel.GrammarMark,
		sheetmodel.GrammarWord, sheetmodel.GrammarFree, sheetmodel.GrammarDrawing, sheetmodel.GrammarIdent:
		return calib.Count
	default:
		return calib.Count
	}
}

func shown(text string) string {
	if text == "" {
		return "no number"
	}
	return text
}

// readInk reads a field that is kept as a picture, or as free handwriting that no reader here reads:
// ink or none. Handwriting is doubtful with no text, a drawing is clear as soon as there is ink.
func (m *inkMap) readInk(f sheetmodel.Field, side sheetmodel.SideName) sheetmodel.Reading {
	out := blankReading(f, side)
	area, grain := 0.0, true
	for _, p := range m.pieces(f.Rect.Grow(1)) {
		if in := m.within(p, f.Rect); in >= 0.5*p.area {
			area += in
			grain = grain && m.grain(p)
		}
	}
	if area < speckMM2 || grain && area <= m.mostGrain() {
		return out
	}
	out.State = sheetmodel.Doubtful
	if f.Kind == sheetmodel.Drawing {
		out.State = sheetmodel.Clear
		return out
	}
	out.Doubt(sheetmodel.DoubtNotInGrammar, "handwriting: a person reads it")
	return out
}
