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

// troubleNet is the embedded trouble net as a Watcher.
type troubleNet struct{ net *net.Trouble }

// OpenTroubleNet opens the embedded trouble net. The caller closes it.
func OpenTroubleNet() (Watcher, error) {
	n, err := net.OpenTrouble()
	if err != nil {
		return nil, err
	}
	return &troubleNet{net: n}, nil
}

// Watch cuts the comb out and shows it to the net.
func (t *troubleNet) Watch(pix []byte, w int, pxPerMM float64, comb sheetmodel.Rect, boxes int) (net.KindProbs, error) {
	c := crop.TakeComb(crop.Page{Pix: pix, Stride: w, W: w, H: len(pix) / w, PxPerMM: pxPerMM}, comb, boxes)
	return t.net.Look(&c)
}

// Weights names the embedded net.
func (t *troubleNet) Weights() string { return weights.TroubleHash() }

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
)

// view is what the trouble net says of one comb; the zero value says nothing, and leaves every doubt.
type view struct {
	seen bool
	p    net.KindProbs
}

func (v view) notOverwritten() bool {
	return v.seen && v.p[net.Overwritten]+v.p[net.Struck]+v.p[net.Unlike] < freeOverwritten
}

func (v view) notOutside() bool { return v.seen && v.p[net.Outside]+v.p[net.Unlike] < freeOutside }

func (v view) notQuestioned() bool { return v.seen && v.p[net.Question] < freeQuestion }

// onLine is added where a line hides a stroke, and never taken back: of strokes that a line hides by half the net has seen none.
func (v view) onLine() bool { return v.seen && v.p[net.OnLine] >= alarmOnLine }

func (v view) blank() bool { return v.seen && v.p[net.Blank] >= surelyBlank }

// alarmed returns the doubt that the net adds by itself, if any.
func (v view) alarmed() (kind sheetmodel.DoubtKind, detail string, ok bool) {
	if !v.seen || v.p[net.Struck]+v.p[net.Overwritten]+v.p[net.Question]+v.p[net.Outside] < alarm {
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

// What the trouble net learned from: combs of three boxes on the gate card, which has marks in its corners. Of others it
// says nothing.
const (
	watchedBoxes  = 3
	watchedNarrow = 5.9 // mm, a box
	watchedWide   = 8.2
	watchedLow    = 8.4 // mm, the comb
	watchedHigh   = 10.6
)

// watched reports whether the trouble net knows combs like this one.
func (pg *page) watched(f sheetmodel.Field) bool {
	boxW := float64(f.Rect.W) / float64(max(f.Boxes, 1))
	return len(pg.side.Marks) > 0 && f.Boxes == watchedBoxes && boxW >= watchedNarrow && boxW <= watchedWide &&
		f.Rect.H >= watchedLow && f.Rect.H <= watchedHigh
}

// watch shows a comb to the trouble net, once.
func (r *Reader) watch(pg *page, f sheetmodel.Field) (view, error) {
	if v, ok := pg.views[f.Name]; ok || !pg.watched(f) {
		return v, nil
	}
	p, err := r.trouble.Watch(pg.pix, pg.w, pg.pxPerMM, f.Rect, f.Boxes)
	if err != nil {
		return view{}, fmt.Errorf("field %s: %w", f.Name, err)
	}
	v := view{seen: true, p: p}
	pg.views[f.Name] = v
	return v, nil
}
