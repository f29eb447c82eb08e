package ocr

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// linesIn is a column of three printed boxes on grainy paper, with lines of pale ink in mm, from and to.
func linesIn(rng *rand.Rand, dark float64, lines ...[4]float64) (*inkMap, sheetmodel.Rect) {
	w, h := int(20*inkPxPerMM), int(24*inkPxPerMM)
	m := &inkMap{w: w, h: h, level: make([]uint8, w*h), print: make([]bool, w*h), dark: make([]int16, w*h), broad: make([]int16, w*h), plain: make([]int16, w*h), noise: 6}
	for i := range m.dark {
		m.dark[i] = int16(6 * rng.NormFloat64())
	}
	for _, l := range lines {
		long := math.Hypot(l[2]-l[0], l[3]-l[1])
		for y := range h {
			for x := range w {
				mx, my := (float64(x)+0.5)/inkPxPerMM, (float64(y)+0.5)/inkPxPerMM
				along := ((mx-l[0])*(l[2]-l[0]) + (my-l[1])*(l[3]-l[1])) / long
				off := math.Abs((mx-l[0])*(l[3]-l[1])-(my-l[1])*(l[2]-l[0])) / long
				if along >= 0 && along <= long && off < 0.25 {
					m.dark[y*w+x] += int16(dark)
				}
			}
		}
	}
	middle := sheetmodel.Rect{X: 7, Y: 9, W: 4.5, H: 4.5}
	for y := range h {
		for x := range w {
			mx, my := (float64(x)+0.5)/inkPxPerMM, (float64(y)+0.5)/inkPxPerMM
			for _, top := range []float64{2.6, 9, 15.4} {
				dx, dy := math.Max(math.Abs(mx-9.25)-2.25, 0), math.Max(math.Abs(my-top-2.25)-2.25, 0)
				if rim := math.Max(math.Abs(mx-9.25), math.Abs(my-top-2.25)); dx+dy < 0.3 && rim > 2.05 {
					m.print[y*w+x], m.plain[y*w+x] = true, 200
				}
			}
		}
	}
	return m, middle
}

// inkOf are the px of the middle box that the lines have darkened.
func inkOf(m *inkMap, box sheetmodel.Rect, dark float64) []piece {
	x0, y0, x1, y1 := pxSpan(box, m.w, m.h)
	p := piece{x0: x0, y0: y0, x1: x1, y1: y1}
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if i := y*m.w + x; !m.print[i] && float64(m.dark[i]) > dark/2 {
				p.px = append(p.px, i)
			}
		}
	}
	return []piece{p}
}

// A fold goes on, a stroke ends, in its box or a little beyond it; a tick and a cross are no straight line. Our own logic.
func TestGoesThrough_LineThatGoesOn_IsTold(t *testing.T) {
	const dark = 45.0
	for _, c := range []struct {
		name  string
		lines [][4]float64
		want  bool
	}{
		{"fold down the column", [][4]float64{{9.4, 0, 9.1, 24}}, true},
		{"fold across it", [][4]float64{{0, 11.6, 20, 11.2}}, true},
		{"stroke down", [][4]float64{{9.4, 9.6, 9.2, 13.1}}, false},
		{"stroke a little too long", [][4]float64{{9.4, 8.6, 9.2, 13.9}}, false},
		{"stroke that leaves it below", [][4]float64{{9.4, 9.6, 9.2, 15}}, false},
		{"slanted stroke", [][4]float64{{7.8, 13, 10.7, 9.5}}, false},
		{"tick", [][4]float64{{7.6, 11, 8.8, 13}, {8.8, 13, 10.9, 9.5}}, false},
		{"cross", [][4]float64{{7.6, 9.6, 10.9, 13}, {7.6, 13, 10.9, 9.6}}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			const n = 50
			told := 0
			for seed := range uint64(n) {
				m, box := linesIn(rand.New(rand.NewPCG(seed, 11)), dark, c.lines...)
				if m.goesThrough(inkOf(m, box, dark), box) {
					told++
				}
			}
			if c.want {
				assert.GreaterOrEqual(t, told, n-2)
			} else {
				assert.LessOrEqual(t, told, 1)
			}
		})
	}
}
