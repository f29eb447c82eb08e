package ocr

import (
	"fmt"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
	"gatefold/ocr/weights"
	"gatefold/sheetmodel"
)

// Watcher says what the ink of a comb is as a whole: plain writing, or trouble of some kind.
//
// It serves one goroutine. Who opened it closes it.
type Watcher interface {
	// Watch looks at a comb, in sheet mm, and what stands around it. pix is the 8-bit grey page, row by row without gaps,
	// w wide; it stays unchanged.
	Watch(pix []byte, w int, pxPerMM float64, comb sheetmodel.Rect, boxes int) (net.KindProbs, error)
	// Weights returns the hash of the weights, which curves and thresholds are bound to.
	Weights() string
	Close() error
}

// troubleNet is an embedded trouble net as a Watcher.
type troubleNet struct {
	net  *net.Trouble
	hash string
}

// OpenTroubleNet opens the embedded trouble net for the gate card. The caller closes it.
func OpenTroubleNet() (Watcher, error) { return openWatcher(net.OpenTrouble, weights.TroubleHash()) }

// OpenFormsNet opens the embedded trouble net for cards of other makes. The caller closes it.
func OpenFormsNet() (Watcher, error) { return openWatcher(net.OpenForms, weights.FormsHash()) }

func openWatcher(open func() (*net.Trouble, error), hash string) (Watcher, error) {
	n, err := open()
	if err != nil {
		return nil, err
	}
	return &troubleNet{net: n, hash: hash}, nil
}

// Watch cuts the comb out and shows it to the net.
func (t *troubleNet) Watch(pix []byte, w int, pxPerMM float64, comb sheetmodel.Rect, boxes int) (net.KindProbs, error) {
	c := crop.TakeComb(crop.Page{Pix: pix, Stride: w, W: w, H: len(pix) / w, PxPerMM: pxPerMM}, comb, boxes)
	return t.net.Look(&c)
}

// Weights names the embedded net.
func (t *troubleNet) Weights() string { return t.hash }

// Close frees the net.
func (t *troubleNet) Close() error { return t.net.Close() }

// What the trouble net must say for its word to count. Rules of thumb about ink (trouble.go, layers.go, query.go) find
// nearly all trouble and call one plain bib in twenty trouble too; the net takes such a doubt away where it sees next to
// nothing of its kind, and adds one where it is all but sure. Chosen on combs of calibration writers, looked at once on
// combs of threshold writers: ocr/train/trouble.md has both, and what is taken away wrongly.
const (
	freeOverwritten = 0.001 // claims for overwritten, struck and unlike together
	freeOutside     = 0.01  // for outside and unlike together
	freeQuestion    = 0.001 // for a question mark
	alarm           = 0.98  // for struck, overwritten, question and outside together
	alarmOnLine     = 0.9   // for a stroke on a line
	surelyBlank     = 0.999 // for nothing at all

	// On cards of other makes one comb looks less like the next, and the net must be surer: chosen and looked at alike.
	freeForms  = 0.0001 // for any of the three
	alarmForms = 0.99
)

// view is what a trouble net says of one comb; the zero value says nothing, and leaves every doubt.
type view struct {
	seen  bool
	forms bool // it is the net for cards of other makes
	p     net.KindProbs
}

// free is the limit below which a doubt goes, limit on the gate card.
func (v view) free(limit float32) float32 {
	if v.forms {
		return freeForms
	}
	return limit
}

func (v view) notOverwritten() bool {
	return v.seen && v.p[net.Overwritten]+v.p[net.Struck]+v.p[net.Unlike] < v.free(freeOverwritten)
}

func (v view) notOutside() bool {
	return v.seen && v.p[net.Outside]+v.p[net.Unlike] < v.free(freeOutside)
}

func (v view) notQuestioned() bool { return v.seen && v.p[net.Question] < v.free(freeQuestion) }

// onLine is added where a line hides a stroke, and never taken back: of strokes that a line hides by half the net has seen none.
func (v view) onLine() bool { return v.seen && v.p[net.OnLine] >= alarmOnLine }

// blank is said of the gate card alone: on others one in twenty strokes that a line hides looks like nothing.
func (v view) blank() bool { return v.seen && !v.forms && v.p[net.Blank] >= surelyBlank }

// alarmed returns the doubt that the net adds by itself, if any.
func (v view) alarmed() (kind sheetmodel.DoubtKind, detail string, ok bool) {
	limit := float32(alarm)
	if v.forms {
		limit = alarmForms
	}
	if !v.seen || v.p[net.Struck]+v.p[net.Overwritten]+v.p[net.Question]+v.p[net.Outside] < limit {
		return "", "", false
	}
	most := net.Struck
	for _, k := range []int{net.Overwritten, net.Question, net.Outside} {
		if v.p[k] > v.p[most] {
			most = k
		}
	}
	switch most {
	case net.Struck:
		return sheetmodel.DoubtStruckOut, "it may be struck out", true
	case net.Overwritten:
		return sheetmodel.DoubtOverwritten, "it may be written over", true
	case net.Question:
		return sheetmodel.DoubtQuestionMark, "there may be a question mark behind it", true
	default:
		return sheetmodel.DoubtOutsideBox, "it may stand beside its boxes", true
	}
}

// What the trouble nets learned from: one combs of three boxes on the gate card, which has marks in its corners, the other
// combs of forms without (ocr/train/trouble has the same figures). Of others they say nothing.
const (
	watchedBoxes  = 3
	watchedNarrow = 5.9 // mm, a box
	watchedWide   = 8.2
	watchedLow    = 8.4 // mm, the comb
	watchedHigh   = 10.6

	formsFewest  = 2
	formsMost    = 4
	formsNarrow  = 4.8
	formsWide    = 9.2
	formsLow     = 6.2
	formsHigh    = 12.0
	formsSlender = 2.1 // boxes' widths: higher combs aren't seen whole
)

// watched reports whether a trouble net knows combs like this one, and whether it is the one for cards of other makes.
func (pg *page) watched(f sheetmodel.Field) (known, forms bool) {
	boxW, high := float64(f.Rect.W)/float64(max(f.Boxes, 1)), float64(f.Rect.H)
	if len(pg.side.Marks) > 0 {
		return f.Boxes == watchedBoxes && boxW >= watchedNarrow && boxW <= watchedWide && high >= watchedLow && high <= watchedHigh, false
	}
	return f.Boxes >= formsFewest && f.Boxes <= formsMost && boxW >= formsNarrow && boxW <= formsWide &&
		high >= formsLow && high <= min(formsHigh, formsSlender*boxW), true
}

// watch shows a comb to the trouble net that knows such, once.
func (r *Reader) watch(pg *page, f sheetmodel.Field) (view, error) {
	known, forms := pg.watched(f)
	if v, ok := pg.views[f.Name]; ok || !known {
		return v, nil
	}
	w := r.trouble
	if forms {
		w = r.formsNet
	}
	p, err := w.Watch(pg.pix, pg.w, pg.pxPerMM, f.Rect, f.Boxes)
	if err != nil {
		return view{}, fmt.Errorf("field %s: %w", f.Name, err)
	}
	v := view{seen: true, forms: forms, p: p}
	pg.views[f.Name] = v
	return v, nil
}
