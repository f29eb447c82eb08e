package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"sync"

	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/ocr/crop"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// markHead is what stands before the picture of a box in a file of boxes: mark or none (1, 0), column (0 code, 1 panel,
// 2 lone tick), level (0 ordinary, 1 hard), what the rules say (0 none, 1 unsure for paleness, 2 unsure for more than
// that, 3 marked), ink (tenths of mm², at most 255).
const markHead = 5

// plainBoxes is how many boxes without a mark, or with a plain one, stand for each that is kept: most boxes are empty, and
// nothing is learned from another white one.
const plainBoxes = 6

// marks draws cards' columns of tick boxes, reads them as a photo is read, and writes every box in doubt, and some of the
// others, as the mark net sees them.
func marks(ctx context.Context, which string, cards int, first uint64, file string, workers int) (err error) {
	jobs, err := plan(ctx, which, cards, first)
	if err != nil {
		return err
	}
	parts, err := columnsOfTicks()
	if err != nil {
		return err
	}
	out, err := os.Create(file)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(out, 1<<20)
	defer func() { err = errors.Join(err, w.Flush(), out.Close()) }()
	drawers := make([]*markDrawer, workers)
	for i := range drawers {
		if drawers[i], err = newMarkDrawer(parts); err != nil {
			return err
		}
		defer drawers[i].reader.Close() //nolint:errcheck // its nets were only read
	}
	var mu sync.Mutex
	return share(jobs, workers, func(worker int, j job) error {
		records, err := drawers[worker].card(j)
		if err != nil {
			return err
		}
		mu.Lock()
		defer mu.Unlock()
		_, err = w.Write(records)
		return err
	})
}

// columnsOfTicks cuts codes, gate and panels out of both forms.
func columnsOfTicks() (map[string]*part, error) {
	fs, err := forms()
	if err != nil {
		return nil, err
	}
	out := map[string]*part{}
	for name, f := range fs {
		x := sheetmodel.MM(42)
		if name == "two" {
			x = 59
		}
		p, err := newPart("ticks", f.layout.Side(sheetmodel.Front), sheetmodel.Rect{X: x, Y: 57, W: 143 - x, H: 148})
		if err != nil {
			return nil, fmt.Errorf("layout %s: %w", name, err)
		}
		out[name] = p
	}
	return out, nil
}

// markDrawer draws and reads one card after the other.
type markDrawer struct {
	parts  map[string]*part
	reader *ocr.Reader
	boxes  []ocr.Box
}

// noMark is a Marker that knows nothing: the net is not there yet.
type noMark struct{}

func (noMark) Mark(*crop.Mark) (float32, error) { return 0.5, nil }
func (noMark) Weights() string                  { return weights.MarksHash() }
func (noMark) Close() error                     { return nil }

func newMarkDrawer(parts map[string]*part) (*markDrawer, error) {
	curves, err := openCurves()
	if err != nil {
		return nil, err
	}
	d := &markDrawer{parts: parts}
	d.reader, err = ocr.Open(ocr.Options{Marks: noMark{}, Curves: curves, Boxes: func(b ocr.Box) { d.boxes = append(d.boxes, b) }})
	return d, err
}

// card returns the records of one card; what a fold crosses is left out, as in reading.part.
func (d *markDrawer) card(j job) ([]byte, error) {
	j.busy.Lock()
	defer j.busy.Unlock()
	rng := rand.New(rand.NewPCG(j.seed, 0x6d61726b))
	p := d.parts[j.form.name]
	s := j.level.Draw(fill.SceneOf(p.Side, image.Point{}), rng)
	for _, f := range s.Faults {
		if f.Kind == camera.Fold {
			return nil, nil
		}
	}
	written := drawPlan(j.form.layout, rng)
	ink := hand.NewInk(p.Rect.Grow(2), inkPxPerMM)
	truth := fill.Side(ink, p.whole, written, fill.Writer{Pen: hand.DrawWriter(j.level.Pens(), rng), Digits: j.hand}, rng)
	paper := cut(j.form.drawn[p.Side.Name], p.Rect, inkPxPerMM)
	ink.Over(paper)
	patch, err := s.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, p.Rect)
	if err != nil {
		return nil, fmt.Errorf("card %d: %w", j.seed, err)
	}
	page, err := gocv.ImageGrayToMatGray(patch.Straighten(p.Rect, pagePxPerMM, straightening(rng)))
	if err != nil {
		return nil, fmt.Errorf("card %d: %w", j.seed, err)
	}
	defer page.Close()
	d.boxes = d.boxes[:0]
	if _, err := d.reader.Read(page, pagePxPerMM, p.local, nil); err != nil {
		return nil, fmt.Errorf("card %d: %w", j.seed, err)
	}
	var out []byte
	for _, b := range d.boxes {
		if !p.holds(b.Field.Name) {
			continue
		}
		head := [markHead]byte{}
		want := truth[b.Field.Name]
		if want.Text != "" && (b.Option == want.Text || b.Option == "") {
			head[0] = 1
		}
		switch b.Field.Part { // a lone tick is any other
		case sheetmodel.PartCode:
		case sheetmodel.PartPanel:
			head[1] = 1
		default:
			head[1] = 2
		}
		if j.level.Name == camera.Hard {
			head[2] = 1
		}
		switch {
		case b.Pale:
			head[3] = 1
		case b.Unsure:
			head[3] = 2
		case b.Marked:
			head[3] = 3
		}
		head[4] = byte(min(b.Ink*10, 255))
		if asExpected := head[3] == 3*head[0]; asExpected && rng.IntN(plainBoxes) > 0 {
			continue
		}
		out = append(append(out, head[:]...), b.Picture[:]...)
	}
	return out, nil
}
