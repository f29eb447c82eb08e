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
type inkMap struct {
	w, h  int
	level []uint8 // paper, trace or seed
	print []bool  // printed here or within printTol: nothing is known of ink
	dark  []uint8 // darker than the paper around, 0 to 255; print included
	broad []uint8 // the same against the paper farther off: sees areas that were filled in
	noise float64 // standard deviation of the paper, share of its grey, median over the page
}

// How paper and ink are told apart; darkness is a share of the paper's grey. Pencil at the hard level is
// 12 % darker than paper and, blurred over 0.3 mm, 6 % where a stroke is darkest.
const (
	traceDark   = 0.028
	seedDark    = 0.05
	traceNoise  = 2.3 // standard deviations
	seedNoise   = 3.8
	overPrint   = 40 // of 255: this much darker than print is ink on print
	printShows  = 14 // of 255: paler print is as good as paper
	nearPaperMM = 3.5
	farPaperMM  = 9.5
	tilePx      = 60 // 10 mm
)

// newInkMap looks for ink on page, an 8-bit grey Mat that stays the caller's.
//
// Paper is the brightest within a few mm (a closing), so that shade and shadow edges stay with the
// paper and strokes don't. Light and noise differ over a page: both are measured tile by tile, from what
// lies off the print. About 12 ms for a page.
func newInkMap(page gocv.Mat, side *sheetmodel.Side, p *printed) (*inkMap, error) {
	if page.Empty() || page.Type() != gocv.MatTypeCV8U {
		return nil, errors.New("page: not an 8-bit grey image; straighten the photo first")
	}
	wantRatio := float64(side.W) / float64(side.H)
	if r := float64(page.Cols()) / float64(page.Rows()); math.Abs(r/wantRatio-1) > 0.02 {
		return nil, fmt.Errorf("page: %d × %d px is no %.0f × %.0f mm side; straighten with this side's layout",
			page.Cols(), page.Rows(), side.W, side.H)
	}
	m := &inkMap{w: p.w, h: p.h}
	small := gocv.NewMat()
	defer small.Close()
	gocv.Resize(page, &small, image.Pt(m.w, m.h), 0, 0, gocv.InterpolationArea)
	gocv.Blur(small, &small, image.Pt(3, 3))
	var err error
	if m.dark, err = darkness(small, nearPaperMM); err != nil {
		return nil, err
	}
	if m.broad, err = darkness(small, farPaperMM); err != nil {
		return nil, err
	}
	m.classify(p)
	return m, nil
}

// darkness returns 1 - grey/paper as 0 to 255, where paper is the brightest within reach mm.
func darkness(small gocv.Mat, reachMM float64) ([]uint8, error) {
	const shrink = 3 // 2 px/mm: light changes slowly
	low, bg := gocv.NewMat(), gocv.NewMat()
	defer low.Close()
	defer bg.Close()
	gocv.Resize(small, &low, image.Pt((small.Cols()+shrink-1)/shrink, (small.Rows()+shrink-1)/shrink), 0, 0, gocv.InterpolationArea)
	k := int(math.Round(reachMM*inkPxPerMM/shrink)) | 1
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(k, k))
	defer kernel.Close()
	gocv.MorphologyEx(low, &low, gocv.MorphClose, kernel)
	gocv.GaussianBlur(low, &low, image.Pt(5, 5), 0, 0, gocv.BorderReplicate)
	gocv.Resize(low, &bg, image.Pt(small.Cols(), small.Rows()), 0, 0, gocv.InterpolationLinear)
	grey, err := small.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	white, err := bg.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	out := make([]uint8, len(grey))
	for i, g := range grey {
		if b := white[i]; g < b {
			out[i] = uint8(255 * (int(b) - int(g)) / int(b))
		}
	}
	return out, nil
}

// classify gives each px its level, tile by tile.
func (m *inkMap) classify(p *printed) {
	m.level = make([]uint8, len(m.dark))
	m.print = make([]bool, len(m.dark))
	for i, d := range p.dark {
		m.print[i] = d >= printShows
	}
	var noises []float64
	for ty := 0; ty < m.h; ty += tilePx {
		for tx := 0; tx < m.w; tx += tilePx {
			noises = append(noises, m.tile(tx, ty, min(tx+tilePx, m.w), min(ty+tilePx, m.h), p))
		}
	}
	m.noise = median(noises)
}

// tile classifies the px of one tile and returns the noise of its paper.
func (m *inkMap) tile(x0, y0, x1, y1 int, p *printed) float64 {
	var hist [256]int
	n := 0
	for y := y0; y < y1; y++ {
		for i := y*m.w + x0; i < y*m.w+x1; i++ {
			if !m.print[i] {
				hist[m.dark[i]]++
				n++
			}
		}
	}
	base, spread := 0.0, 0.004
	if n > tilePx {
		base = quantileOf(hist[:], n, 0.4)
		// Half of the paper is paler than its middle; ink is never there, so this half is pure noise.
		spread = max((base-quantileOf(hist[:], n, 0.08))/1.15, 1) / 255
	}
	low := uint8(min(255, base+255*max(traceDark, traceNoise*spread)))
	high := uint8(min(255, base+255*max(seedDark, seedNoise*spread)))
	for y := y0; y < y1; y++ {
		for i := y*m.w + x0; i < y*m.w+x1; i++ {
			d := m.dark[i]
			switch {
			case m.print[i]:
				if int(d) > int(p.dark[i])+overPrint {
					m.level[i] = seed
				}
			case d >= high:
				m.level[i] = seed
			case d >= low:
				m.level[i] = trace
			}
		}
	}
	return spread
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
