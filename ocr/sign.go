package ocr

import (
	"slices"

	"gatefold/sheetmodel"
)

// Whoever lists all racers ticks the same way all day. A mark of quite another form in the same boxes may be a letter: a
// fault, and no passage. Letters have more strokes above or beside each other than ticks, slashes and crosses.
const (
	signMarks = 12   // fewer marks don't tell a writer's form
	signUsual = 0.75 // of the marks have no more strokes to be crossed,
	signMore  = 0.9  // and a mark with so many more, from top to bottom or from side to side,
	signLeast = 1.9  // and at least so many, is another sign
)

// doubtSigns doubts marks for passages whose form is unlike that of the others of the side.
func (pg *page) doubtSigns(read map[string]sheetmodel.Reading) {
	type sign struct {
		field string
		form  strokes
	}
	var signs []sign
	var rows, cols []float64
	for _, f := range pg.side.Fields {
		if f.Part != sheetmodel.PartPassed || f.Kind != sheetmodel.Tick || read[f.Name].State != sheetmodel.Clear {
			continue
		}
		var px []int
		for _, p := range pg.ink.pieces(f.Rect.Grow(overSide)) {
			if pg.ink.within(p, f.Rect) >= ownShare*p.area {
				px = append(px, p.px...)
			}
		}
		s := sign{f.Name, pg.ink.strokesOf(px)}
		signs, rows, cols = append(signs, s), append(rows, s.form.rows), append(cols, s.form.cols)
	}
	if len(signs) < signMarks {
		return
	}
	slices.Sort(rows)
	slices.Sort(cols)
	mostRows, mostCols := max(signLeast, at(rows, signUsual)+signMore), max(signLeast, at(cols, signUsual)+signMore)
	for _, s := range signs {
		if s.form.rows > mostRows || s.form.cols > mostCols {
			x := read[s.field]
			x.Doubt(sheetmodel.DoubtNotInGrammar, "a mark unlike the others in these boxes: a letter, perhaps")
			read[s.field] = x
		}
	}
}

// Where so many marks are too pale to be told, a box in which none is seen may hold one that is paler still.
const (
	paleAsked = 10  // marks too pale to be told, from which
	paleShare = 0.1 // of those that are told, none is told as missing
)

// doubtMissing doubts that boxes of a list of passages are empty, where the marks that are too pale to be told are a tenth of
// those that are told: the pen is too pale for this photo, and racers would be missed. It costs a question for each racer who
// didn't come.
func doubtMissing(side *sheetmodel.Side, read map[string]sheetmodel.Reading) {
	var empty []string
	told, pale := 0, 0
	for _, f := range side.Fields {
		if f.Part != sheetmodel.PartPassed || f.Kind != sheetmodel.Tick {
			continue
		}
		switch x := read[f.Name]; x.State {
		case sheetmodel.Clear:
			told++
		case sheetmodel.Doubtful:
			if x.HasDoubt(sheetmodel.DoubtFaintInk) {
				pale++
			}
		case sheetmodel.Empty:
			empty = append(empty, f.Name)
		}
	}
	if pale < paleAsked || float64(pale) < paleShare*float64(told) {
		return
	}
	for _, name := range empty {
		x := read[name]
		x.State = sheetmodel.Doubtful
		x.Doubt(sheetmodel.DoubtLowCertainty, "many marks of this side are too pale to be told: one may be here")
		read[name] = x
	}
}
