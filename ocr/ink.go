package ocr

import (
	"errors"
	"fmt"
	"image"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Levels of an inkMap's px.
const (
	paper = 0 // nothing beyond paper and print
	trace = 1 // dark enough to belong to a stroke
	seed  = 2 // dark enough to be one
)

// inkMap says for each px of a page, at inkPxPerMM, whether somebody wrote there.
//
// Darkness is 1 - grey/paper in thousandths.
type inkMap struct {
	w, h  int
	level []uint8 // paper, trace or seed
	print []bool  // printed, or folded, and so dark that ink would hardly show
	dark  []int16 // darker than the paper within nearPaperMM
	broad []int16 // darker than the paper within farPaperMM: sees areas that were filled in
	plain []int16 // darkness of print where the layout has it
	folds []line
	noise float64 // standard deviation of the paper in thousandths, median over the page
}

// How paper and ink are told apart, in thousandths of the paper's grey. Pencil at the hard level is 120
// darker than paper and, blurred over 0.3 mm, 60 where a stroke is darkest.
const (
	traceDark   = 28
	seedDark    = 50
	traceNoise  = 2.6 // standard deviations
	seedNoise   = 4.5
	printGain   = 1.35 // print may be this much darker than expected before it is ink
	printHides  = 150  // where print may be this dark, ink may be hidden
	printNone   = 12   // paler is paper
	noisyPaper  = 9    // from here on strokes are looked for with a broader brush
	nearPaperMM = 3.5
	farPaperMM  = 9.5
	tilePx      = 36 // 6 mm
	tileLookPx  = 15 // around it: enough paper to measure noise, little enough to follow a shadow's edge
)

// newInkMap looks for ink on page, an 8-bit grey Mat that stays the caller's. form gives the side's print
// as a page shows it, softened once or, for noisy pages, twice.
//
// Paper is the brightest within a few mm (a closing), so that shade and shadow edges stay with the
// paper and strokes don't. Light and noise differ over a page: both are measured tile by tile, from what
// lies off the print. Ink over print shows if it is clearly darker than print alone.
// About 15 ms for a page.
func newInkMap(page gocv.Mat, form func(broad bool) (*printed, error)) (*inkMap, error) {
	p, err := form(false)
	if err != nil {
		return nil, err
	}
	m := &inkMap{w: p.w, h: p.h}
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(page, &small, image.Pt(m.w, m.h), 0, 0, gocv.InterpolationArea)
	soften(&small, false)
	if err := m.look(small, p); err != nil {
		return nil, err
	}
	if m.noise > noisyPaper {
		if p, err = form(true); err != nil {
			return nil, err
		}
		soften(&small, true)
		if err := m.look(small, p); err != nil {
			return nil, err
		}
	}
	m.plain = p.plain
	m.dropFolds()
	return m, nil
}

// soften averages over 3 × 3 px; broad softens further what was softened so.
func soften(m *gocv.Mat, broad bool) {
	gocv.Blur(*m, m, image.Pt(3, 3))
	if broad {
		gocv.GaussianBlur(*m, m, image.Pt(5, 5), 1.0, 1.0, gocv.BorderReplicate)
	}
}

// fits refuses what is no page of this side.
func fits(page gocv.Mat, side *sheetmodel.Side) error {
	if page.Empty() || page.Type() != gocv.MatTypeCV8U {
		return errors.New("page: not an 8-bit grey image; straighten the photo first")
	}
	wantRatio := float64(side.W) / float64(side.H)
	if r := float64(page.Cols()) / float64(page.Rows()); math.Abs(r/wantRatio-1) > 0.02 {
		return fmt.Errorf("page: %d × %d px is no %.0f × %.0f mm side; straighten with this side's layout",
			page.Cols(), page.Rows(), side.W, side.H)
	}
	return nil
}

// look fills in darkness, levels and noise.
func (m *inkMap) look(small gocv.Mat, p *printed) error {
	var err error
	if m.dark, err = darkness(small, nearPaperMM); err != nil {
		return err
	}
	if m.broad, err = darkness(small, farPaperMM); err != nil {
		return err
	}
	m.level, m.print = make([]uint8, len(m.dark)), make([]bool, len(m.dark))
	var noises []float64
	for y := 0; y < m.h; y += tilePx {
		for x := 0; x < m.w; x += tilePx {
			noises = append(noises, m.tile(image.Rect(x, y, min(x+tilePx, m.w), min(y+tilePx, m.h)), p))
		}
	}
	m.noise = median(noises)
	return nil
}

// darkness returns 1 - grey/paper in thousandths, where paper is the brightest within reach.
func darkness(small gocv.Mat, reachMM float64) ([]int16, error) {
	const shrink = 3 // 2 px/mm: light changes slowly
	low, bg := gocv.NewMat(), gocv.NewMat()
	defer low.Close()
	defer bg.Close()
	gocv.Resize(small, &low, image.Pt((small.Cols()+shrink-1)/shrink, (small.Rows()+shrink-1)/shrink), 0, 0, gocv.InterpolationArea)
	k := int(math.Round(reachMM*inkPxPerMM/shrink)) | 1
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(k, k))
	defer kernel.Close()
	gocv.MorphologyEx(low, &low, gocv.MorphClose, kernel)
	gocv.Blur(low, &low, image.Pt(3, 3))
	gocv.Resize(low, &bg, image.Pt(small.Cols(), small.Rows()), 0, 0, gocv.InterpolationLinear)
	grey, err := small.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	white, err := bg.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	out := make([]int16, len(grey))
	for i, g := range grey {
		b := max(int32(white[i]), 1)
		out[i] = int16(1000 * (b - int32(g)) / b)
	}
	return out, nil
}

// tile classifies the px of one tile and returns the noise of its paper.
func (m *inkMap) tile(t image.Rectangle, p *printed) float64 {
	const lowest, steps = -150, 450
	var hist [steps]int
	n := 0
	around := t.Inset(-tileLookPx).Intersect(image.Rect(0, 0, m.w, m.h))
	for y := around.Min.Y; y < around.Max.Y; y++ {
		for i := y*m.w + around.Min.X; i < y*m.w+around.Max.X; i++ {
			if p.dark[i] < printNone {
				hist[min(max(int(m.dark[i])-lowest, 0), steps-1)]++
				n++
			}
		}
	}
	base, spread := 0.0, 4.0
	if n > 100 {
		// Ink is dark: the paler half of the paper is pure noise. The quantiles are 1.16 deviations apart.
		base = quantileOf(hist[:], n, 0.45) + lowest
		spread = max((base-lowest-quantileOf(hist[:], n, 0.10))/1.16, 2)
	}
	low, high := base+max(traceDark, traceNoise*spread), base+max(seedDark, seedNoise*spread)
	for y := t.Min.Y; y < t.Max.Y; y++ {
		for i := y*m.w + t.Min.X; i < y*m.w+t.Max.X; i++ {
			over := printGain * float64(p.dark[i])
			m.level[i] = levelOf(float64(m.dark[i]), low+over, high+over)
			m.print[i] = m.level[i] == paper && p.dark[i] >= printHides
		}
	}
	return spread
}

func levelOf(d, low, high float64) uint8 {
	switch {
	case d >= high:
		return seed
	case d >= low:
		return trace
	}
	return paper
}

// quantileOf returns the q-quantile of a histogram with n entries, between its steps.
func quantileOf(hist []int, n int, q float64) float64 {
	want := q * float64(n)
	sum := 0.0
	for v, c := range hist {
		if c > 0 && sum+float64(c) >= want {
			return float64(v) - 0.5 + (want-sum)/float64(c)
		}
		sum += float64(c)
	}
	return float64(len(hist) - 1)
}
