package ocr

import (
	"fmt"
	"image"
	"math"
	"sync"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// inkPxPerMM is the resolution at which ink is looked for: a pencil stroke of 0.5 mm is three px wide.
const inkPxPerMM = 6.0

// printTolPx is how far print may lie from where the layout has it, in px of inkPxPerMM: 0.33 mm, several
// times the median error of straightening.
const printTolPx = 2

// blurSteps are the bounds of the blurs that forms are prepared for, standard deviation in mm. Within a
// step print is taken to be as dark as at its sharp end and as wide as at its blurred end.
var blurSteps = []float64{0.05, 0.11, 0.16, 0.23, 0.34}

// blurStep returns the step that a blur lies in; sharper or more blurred pages take the first or the last.
func blurStep(sigmaMM float64) int {
	for i := range len(blurSteps) - 2 {
		if sigmaMM <= blurSteps[i+1] {
			return i
		}
	}
	return len(blurSteps) - 2
}

// printed is what is known of a side's print at inkPxPerMM.
type printed struct {
	w, h  int
	dark  []int16 // darkest that print may be at each px, thousandths: 0 is paper
	plain []int16 // as dark as it is where the layout has it
}

// inkGamma links grey values and light: blur mixes light, not grey values.
const inkGamma = 2.2

// lightOf gives the light of a grey value, darkOf the darkness, in thousandths, of light in lightSteps steps.
const lightSteps = 8191

var (
	lightOf = sync.OnceValue(func() *[256]float32 {
		var t [256]float32
		for g := range t {
			t[g] = float32(math.Pow(float64(g)/255, inkGamma))
		}
		return &t
	})
	darkOf = sync.OnceValue(func() *[lightSteps + 1]int16 {
		var t [lightSteps + 1]int16
		for l := range t {
			t[l] = int16(1000 * (1 - math.Pow(float64(l)/lightSteps, 1/inkGamma)))
		}
		return &t
	})
)

// newPrinted takes a blank form, drawn at inkPxPerMM, and makes of it what a page may show: blurred by a
// step of blurSteps and by what newInkMap does to a page, wandered by printTolPx.
//
// What differs from card to card (identity, card number) is taken as black all over: no ink is looked for
// there. Fields that people fill are never part of that.
func newPrinted(blank *image.Gray, side *sheetmodel.Side, step int, broad bool) (*printed, error) {
	b := blank.Bounds()
	p := &printed{w: b.Dx(), h: b.Dy(), dark: make([]int16, b.Dx()*b.Dy()), plain: make([]int16, b.Dx()*b.Dy())}
	for _, sigma := range blurSteps[step : step+2] {
		if err := p.addBlurred(blank, sigma, broad); err != nil {
			return nil, err
		}
	}
	own := p.ofFields(side)
	for _, it := range side.Print {
		if it.Text != "" && it.ForCard() {
			p.cover(textRoom(it, side.W), own)
		}
	}
	for _, r := range side.Identity {
		p.cover(r, nil)
	}
	for _, m := range side.Marks {
		p.cover(m.Rect, nil)
	}
	for _, f := range side.Fields {
		if f.Kind == sheetmodel.Printed {
			p.cover(f.Rect, own)
		}
	}
	p.widen(printTolPx)
	return p, nil
}

// addBlurred makes each px at least as dark as the blurred form has it.
func (p *printed) addBlurred(blank *image.Gray, sigmaMM float64, broad bool) error {
	light := gocv.NewMatWithSize(p.h, p.w, gocv.MatTypeCV32F)
	defer light.Close()
	v, err := light.DataPtrFloat32()
	if err != nil {
		return fmt.Errorf("blank form: %w", err)
	}
	for y := range p.h {
		for x, g := range blank.Pix[y*blank.Stride : y*blank.Stride+p.w] {
			v[y*p.w+x] = lightOf()[g]
		}
	}
	sigma := sigmaMM * inkPxPerMM
	gocv.GaussianBlur(light, &light, image.Pt(0, 0), sigma, sigma, gocv.BorderReplicate)
	soften(&light, broad)
	if v, err = light.DataPtrFloat32(); err != nil {
		return fmt.Errorf("blank form: %w", err)
	}
	for i, l := range v {
		d := darkOf()[int(min(max(l, 0), 1)*lightSteps)]
		p.dark[i] = max(p.dark[i], d)
		p.plain[i] += d / 2 // the middle of both ends of the step
	}
	return nil
}

// ofFields marks the px of the fields that people fill: no printed text reaches into these.
func (p *printed) ofFields(side *sheetmodel.Side) []bool {
	own := make([]bool, len(p.dark))
	for _, f := range side.Fields {
		if f.Kind == sheetmodel.Printed {
			continue
		}
		x0, y0, x1, y1 := pxSpan(f.Rect, p.w, p.h)
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				own[y*p.w+x] = true
			}
		}
	}
	return own
}

// textRoom is where a text that differs from card to card can reach: as far as the longest may.
func textRoom(it sheetmodel.PrintItem, w sheetmodel.MM) sheetmodel.Rect {
	longest := sheetmodel.MM(60)
	if it.Room > 0 {
		longest = it.Room
	}
	r := sheetmodel.Rect{X: it.At.X, Y: it.At.Y - 1.3*it.Size, W: longest, H: 1.8 * it.Size}
	switch it.Align {
	case sheetmodel.AlignRight:
		r.X -= longest
	case sheetmodel.AlignCenter:
		r.X -= longest / 2
	case sheetmodel.AlignLeft:
	}
	if r.X < 0 {
		r.W, r.X = r.W+r.X, 0
	}
	r.W = min(r.W, w-r.X)
	return r
}

// cover makes r black, but for the px in but.
func (p *printed) cover(r sheetmodel.Rect, but []bool) {
	x0, y0, x1, y1 := pxSpan(r, p.w, p.h)
	for y := y0; y < y1; y++ {
		for i := y*p.w + x0; i < y*p.w+x1; i++ {
			if but == nil || !but[i] {
				p.dark[i] = 1000
			}
		}
	}
}

// widen spreads the darkest value over reach px to each side.
func (p *printed) widen(reach int) {
	tmp := make([]int16, len(p.dark))
	for y := range p.h {
		row, out := p.dark[y*p.w:(y+1)*p.w], tmp[y*p.w:(y+1)*p.w]
		for x := range row {
			var m int16
			for k := max(0, x-reach); k <= min(p.w-1, x+reach); k++ {
				m = max(m, row[k])
			}
			out[x] = m
		}
	}
	for y := range p.h {
		out := p.dark[y*p.w : (y+1)*p.w]
		copy(out, tmp[y*p.w:])
		for k := max(0, y-reach); k <= min(p.h-1, y+reach); k++ {
			for x, v := range tmp[k*p.w : (k+1)*p.w] {
				out[x] = max(out[x], v)
			}
		}
	}
}

// pxSpan returns the px of r at inkPxPerMM, cut to w × h; the end is not part of it.
func pxSpan(r sheetmodel.Rect, w, h int) (x0, y0, x1, y1 int) {
	x0 = max(0, int(math.Round(float64(r.X)*inkPxPerMM)))
	y0 = max(0, int(math.Round(float64(r.Y)*inkPxPerMM)))
	x1 = min(w, int(math.Round(float64(r.X+r.W)*inkPxPerMM)))
	y1 = min(h, int(math.Round(float64(r.Y+r.H)*inkPxPerMM)))
	return x0, y0, max(x0, x1), max(y0, y1)
}
