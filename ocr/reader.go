package ocr

import (
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"gatefold/ocr/calib"
	"gatefold/ocr/crop"
	"gatefold/ocr/joint"
	"gatefold/ocr/weights"
	"gatefold/sheetmodel"
)

// inkVersion counts changes of how ink, ticks and trouble are judged; weights and curves have hashes.
const inkVersion = 24

// Options of a Reader; the zero value reads with the embedded nets and curves, and no Tesseract.
type Options struct {
	// Nets look at single boxes; nil opens the embedded ones. Close closes them either way.
	Nets Classifier
	// Cells looks at free cells as lines of writing, and at combs that Nets are not sure of; nil opens the embedded
	// net. Close closes it either way.
	Cells Sequencer
	// CellCurves judge what Cells gives; nil takes the embedded ones, which fit the embedded cell net only.
	CellCurves *calib.Set
	// Trouble tells plain writing in the gate card's combs from trouble; nil opens the embedded net. Close closes it either
	// way.
	Trouble Watcher
	// FormsTrouble does so on cards of other makes; nil opens the embedded net. Close closes it either way.
	FormsTrouble Watcher
	// Marks tells marks in tick boxes from shade where the rules can't; nil opens the embedded net. Close closes it
	// either way.
	Marks Marker
	// Mute leaves Cells out of combs: to measure what it adds.
	Mute bool
	// Curves judge scores of combs and marks; nil takes the embedded ones, which fit the embedded Nets and Cells only.
	Curves *calib.Set
	// Tesseract reads the free text of the header (judge, phone) as a hint for a person. It is slow and
	// reads print, not handwriting: what it says is always doubtful.
	Tesseract bool
	// Header lets the cell net read the header's phone number and date, and match its judge's name with Judges. All
	// three are help beside the picture and never clear; no field of a row knows of them. It takes 10 ms a line with ink.
	Header bool
	// Judges returns the names that the judge's line is matched with, as they are when it is read; nil: it isn't.
	Judges func() []string
	// Scores, if not nil, is told the score that each certainty was made from: for making curves.
	Scores func(field string, kind calib.Kind, score float64)
	// Boxes, if not nil, is shown every tick box that the mark net knows: for teaching it.
	Boxes func(Box)
}

// Reader reads the sides of cards. It serves one goroutine at a time; open one for each.
type Reader struct {
	nets     Classifier
	cells    Sequencer
	trouble  Watcher
	formsNet Watcher
	marker   Marker
	boxes    func(Box)
	mute     bool
	header   bool
	judges   func() []string
	curves   *calib.Set
	// cellCurves are of the cell net, and of the digit nets beside it.
	cellCurves *calib.Set
	scores     func(field string, kind calib.Kind, score float64)
	text       *textReader
	forms      map[formKey]*sharedForm // those it has asked for
}

// formKey names a side's print as a photo of some blur shows it.
type formKey struct {
	side  *sheetmodel.Side
	step  int
	broad bool
}

// Open returns a Reader; the caller closes it. The error is that of nets that don't load, of curves that
// don't parse, or of a missing Tesseract.
func Open(opt Options) (*Reader, error) {
	r := &Reader{nets: opt.Nets, cells: opt.Cells, trouble: opt.Trouble, formsNet: opt.FormsTrouble, marker: opt.Marks, boxes: opt.Boxes, mute: opt.Mute, header: opt.Header, judges: opt.Judges, curves: opt.Curves, cellCurves: opt.CellCurves, scores: opt.Scores}
	if err := r.open(opt); err != nil {
		return nil, errors.Join(fmt.Errorf("reader: %w", err), r.Close())
	}
	return r, nil
}

// open opens what the options leave to it.
func (r *Reader) open(opt Options) (err error) {
	if r.nets == nil {
		if r.nets, err = openNets(); err != nil {
			return err
		}
	}
	if r.cells == nil {
		if r.cells, err = OpenCellNet(); err != nil {
			return err
		}
	}
	if r.trouble == nil {
		if r.trouble, err = OpenTroubleNet(); err != nil {
			return err
		}
	}
	if r.formsNet == nil {
		if r.formsNet, err = OpenFormsNet(); err != nil {
			return err
		}
	}
	if r.marker == nil {
		if r.marker, err = OpenMarkNet(); err != nil {
			return err
		}
	}
	if r.curves == nil {
		if r.curves, err = calib.Default(weights.Together(r.nets.Weights(), r.cells.Weights(), r.trouble.Weights(), r.marker.Weights())); err != nil {
			return err
		}
	}
	if r.cellCurves == nil {
		if r.cellCurves, err = calib.DefaultCells(weights.Together(r.cells.Weights(), r.nets.Weights())); err != nil {
			return err
		}
	}
	if opt.Tesseract {
		r.text, err = openText()
	}
	return err
}

// Close frees nets and Tesseract.
func (r *Reader) Close() error {
	var err error
	shared.drop(r.forms)
	r.forms = nil
	if r.nets != nil {
		err = r.nets.Close()
	}
	if r.cells != nil {
		err = errors.Join(err, r.cells.Close())
	}
	if r.trouble != nil {
		err = errors.Join(err, r.trouble.Close())
	}
	if r.formsNet != nil {
		err = errors.Join(err, r.formsNet.Close())
	}
	if r.marker != nil {
		err = errors.Join(err, r.marker.Close())
	}
	if r.text != nil {
		err = errors.Join(err, r.text.Close())
	}
	return err
}

// Calibrated reports whether curves and thresholds belong to the nets in use. If not, nothing is clear.
func (r *Reader) Calibrated() bool { return r.curves.Calibrated() }

// Curves returns what the Reader judges combs, ticks and rings by.
func (r *Reader) Curves() *calib.Set { return r.curves }

// Judge judges two writings for package joint: those in combs by the Reader's curves, others by those of cells, where a
// threshold that was not proven is none.
func (r *Reader) Judge() joint.Judge { return twoWritings{r.curves, r.cellCurves} }

type twoWritings struct{ combs, cells *calib.Set }

// Judge implements joint.Judge.
func (t twoWritings) Judge(kind calib.Kind, score float64) (sheetmodel.Certainty, bool) {
	if kind != calib.CellBib2 {
		return t.combs.Judge(kind, score)
	}
	c, enough := t.cells.Judge(kind, score)
	return c, enough && t.cells.File().Kinds[kind].Threshold.Met
}

// judge turns a score into a certainty and says whether it is enough.
func (r *Reader) judge(field string, kind calib.Kind, score float64) (sheetmodel.Certainty, bool) {
	if r.scores != nil {
		r.scores(field, kind, score)
	}
	return r.curves.Judge(kind, score)
}

// Version names the reader with its weights and thresholds. Readings of two versions may differ.
func (r *Reader) Version() string {
	v := fmt.Sprintf("ink%d nets-%.12s curves-%.12s cell-%.12s curves-%.12s trouble-%.12s forms-%.12s marks-%.12s", inkVersion, r.nets.Weights(), r.curves.Hash(), r.cells.Weights(), r.cellCurves.Hash(), r.trouble.Weights(), r.formsNet.Weights(), r.marker.Weights())
	if r.mute {
		v += " mute"
	}
	if !r.Calibrated() {
		v += " uncalibrated"
	}
	return v
}

// page is one straightened side while it is read.
type page struct {
	mat     gocv.Mat
	pix     []byte
	w       int
	pxPerMM float64
	side    *sheetmodel.Side
	ink     *inkMap
	blur    float64 // standard deviation, mm
	faint   *excess
	strokes float64 // how dark the numbers are, thousandths, where no plain mark tells how dark the pen is; else 0
	habit   habit
	below   float64         // how far below the middles of their combs the writings stand, mm
	hints   map[string]bool // fields that hold no more than a hint of a mark
	hidden  func(sheetmodel.Rect) bool
	marks   map[sheetmodel.Rect]*crop.Mark // see marksOf; nil until asked for
	views   map[string]view                // what the trouble net said of combs, by name
	onLine  map[string]bool                // combs on whose upright lines a stroke may lie, by name
}

// Read reads one straightened side.
//
// pageMat is 8-bit grey, side.W × side.H mm at pxPerMM in the frame of sheetmodel.PageFromSheet; it stays
// the caller's, unchanged. hidden, if not nil, says whether a part of the side is covered or outside the
// picture: what lies there is doubtful, also where no ink is seen.
//
// Every field has a Reading, an empty one where nothing is written. The error is that of a page which is
// no page of this side, or of nets that fail; doubt is never an error.
// Accuracy: ocr/calib/report.md.
func (r *Reader) Read(pageMat gocv.Mat, pxPerMM float64, side *sheetmodel.Side, hidden func(sheetmodel.Rect) bool) (sheetmodel.SheetReading, error) {
	out := sheetmodel.SheetReading{Side: side.Name, Reader: r.Version()}
	if err := fits(pageMat, side); err != nil {
		return out, err
	}
	if hidden == nil {
		hidden = func(sheetmodel.Rect) bool { return false }
	}
	whole := pageMat
	if !pageMat.IsContinuous() {
		whole = pageMat.Clone()
		defer whole.Close()
	}
	pix, err := whole.DataPtrUint8()
	if err != nil {
		return out, fmt.Errorf("page: %w", err)
	}
	blur := blurOf(pix, pageMat.Cols(), pxPerMM, side)
	step := blurStep(blur)
	m, err := newInkMap(pageMat, func(broad bool) (*printed, error) { return r.form(formKey{side: side, step: step, broad: broad}) })
	if err != nil {
		return out, err
	}
	pg := &page{mat: pageMat, pix: pix, w: pageMat.Cols(), pxPerMM: pxPerMM, side: side, ink: m, blur: blur, faint: m.excessOf(side), hints: map[string]bool{}, hidden: hidden, views: map[string]view{}}
	read, err := r.fields(pg)
	if err != nil {
		return out, err
	}
	assemble(&out, pg, read)
	return out, nil
}

// fields reads every field of the side but the printed ones, by name.
func (r *Reader) fields(pg *page) (map[string]sheetmodel.Reading, error) {
	read := make(map[string]sheetmodel.Reading, len(pg.side.Fields))
	pg.strokes = pg.usualPeak()
	var combs []comb
	for _, f := range pg.side.Fields {
		switch f.Kind {
		case sheetmodel.Comb:
			combs = append(combs, pg.openComb(f))
		case sheetmodel.Tick:
			x, err := r.readTick(pg, f)
			if err != nil {
				return nil, err
			}
			read[f.Name] = x
		case sheetmodel.Choice:
			x, err := r.readChoice(pg, f)
			if err != nil {
				return nil, err
			}
			read[f.Name] = x
		case sheetmodel.Cell:
			c, err := r.readCell(pg, f)
			if err != nil {
				return nil, err
			}
			read[f.Name] = c
		case sheetmodel.Drawing:
			read[f.Name] = pg.ink.readInk(f, pg.side.Name)
		case sheetmodel.Text:
			t, err := r.readText(pg, f)
			if err != nil {
				return nil, err
			}
			read[f.Name] = t
		case sheetmodel.Printed:
		}
	}
	var digits []strokes
	var places []place
	for _, c := range combs {
		digits, places = append(digits, c.strokes...), append(places, c.place)
	}
	pg.habit, pg.below = habitOf(digits), usualBelow(places)
	pg.onLine = pg.ink.onLines(combs)
	numbers, err := r.readCombs(pg, combs)
	if err != nil {
		return nil, err
	}
	for i, c := range combs {
		read[c.field.Name] = numbers[i]
	}
	doubtPaths(pg, read)
	pg.doubtSigns(read)
	doubtMissing(pg.side, read)
	for name, x := range read {
		if f := pg.side.Field(name); pg.hidden(f.Rect) {
			if x.State == sheetmodel.Empty {
				x.State = sheetmodel.Doubtful
			}
			x.Doubt(sheetmodel.DoubtHidden, "covered or outside the picture")
			read[name] = x
		}
	}
	return read, nil
}
