package propose

import (
	"image"
	"math"
	"slices"
)

// mask marks px of a picture of w × h px, row by row.
type mask struct {
	w, h int
	at   []bool
}

func newMask(w, h int) mask { return mask{w, h, make([]bool, w*h)} }

const (
	paperBlockMM = 8.0  // side of a block whose bright px count as paper
	paperRank    = 0.9  // share of a block's px that are darker than its paper
	inkBelow     = 0.80 // of the paper: darker is print
	faintInk     = 0.45 // of the way from paper to the darkest print, on a pale copy
	leastInk     = 0.06 // of the paper, by which the palest print is darker
	shortestMM   = 2.6  // shortest ruled line: the side of the smallest tick box
	bridgeMM     = 0.4  // a gap in a line that a poor copy leaves
)

// inkOf says which px are print. Paper is measured block by block: a scan is darker along its fold. Print counts
// from a share of the way to the darkest there is, so that a copy of a copy still has lines.
func inkOf(g *image.Gray, pxPerMM float64) mask {
	g = softened(g)
	w, h := g.Rect.Dx(), g.Rect.Dy()
	m := newMask(w, h)
	block := max(4, int(paperBlockMM*pxPerMM))
	nx := (w + block - 1) / block
	paper := make([]float64, nx*((h+block-1)/block))
	var values []uint8
	var dark []float64 // of each block with print, the share by which its print is darker than its paper
	for y0 := 0; y0 < h; y0 += block {
		for x0 := 0; x0 < w; x0 += block {
			x1, y1 := min(w, x0+block), min(h, y0+block)
			values = values[:0]
			for y := y0; y < y1; y++ {
				values = append(values, g.Pix[y*g.Stride+x0:y*g.Stride+x1]...)
			}
			slices.Sort(values)
			white := float64(values[int(paperRank*float64(len(values)-1))])
			paper[y0/block*nx+x0/block] = white
			if d := 1 - float64(values[len(values)/50])/max(white, 1); d > leastInk {
				dark = append(dark, d)
			}
		}
	}
	share := 1 - inkBelow
	if len(dark) > 0 {
		slices.Sort(dark)
		share = min(share, max(leastInk, faintInk*dark[len(dark)/2]))
	}
	for y := range h {
		for x := range w {
			m.at[y*w+x] = float64(g.Pix[y*g.Stride+x]) < (1-share)*paper[y/block*nx+x/block]
		}
	}
	return m.withoutSpecks(max(2, int(speckMM*pxPerMM)))
}

// softened is the mean of 3 × 3 px: grain is not print.
func softened(g *image.Gray) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			sum, n := 0, 0
			for v := max(0, y-1); v <= min(h-1, y+1); v++ {
				for u := max(0, x-1); u <= min(w-1, x+1); u++ {
					sum, n = sum+int(g.Pix[v*g.Stride+u]), n+1
				}
			}
			out.Pix[y*out.Stride+x] = uint8(sum / n)
		}
	}
	return out
}

const speckMM = 0.3 // what is no larger either way is dust

// blob is a set of ink px that touch.
type blob struct {
	px   []int
	rect image.Rectangle
}

// blobs returns what of m hangs together, corners included.
func (m mask) blobs() []blob {
	seen := make([]bool, len(m.at))
	var all []blob
	var stack []int
	for seed, ink := range m.at {
		if !ink || seen[seed] {
			continue
		}
		seen[seed] = true
		stack = append(stack[:0], seed)
		b := blob{rect: image.Rect(seed%m.w, seed/m.w, seed%m.w+1, seed/m.w+1)}
		for len(stack) > 0 {
			p := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			b.px = append(b.px, p)
			x, y := p%m.w, p/m.w
			b.rect = b.rect.Union(image.Rect(x, y, x+1, y+1))
			for v := max(0, y-1); v <= min(m.h-1, y+1); v++ {
				for u := max(0, x-1); u <= min(m.w-1, x+1); u++ {
					if q := v*m.w + u; m.at[q] && !seen[q] {
						seen[q] = true
						stack = append(stack, q)
					}
				}
			}
		}
		all = append(all, b)
	}
	return all
}

// withoutSpecks takes out what is less than least px high and wide.
func (m mask) withoutSpecks(least int) mask {
	for _, b := range m.blobs() {
		if b.rect.Dx() < least && b.rect.Dy() < least {
			for _, p := range b.px {
				m.at[p] = false
			}
		}
	}
	return m
}

// share is how much of a rectangle, in px, is marked.
func (m mask) share(r image.Rectangle) float64 {
	r = r.Intersect(image.Rect(0, 0, m.w, m.h))
	if r.Empty() {
		return 0
	}
	n := 0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if m.at[y*m.w+x] {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}

// bounds is the smallest rectangle, in px, that holds what is marked in r; empty if nothing is.
func (m mask) bounds(r image.Rectangle) image.Rectangle {
	r = r.Intersect(image.Rect(0, 0, m.w, m.h))
	out := image.Rectangle{}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if m.at[y*m.w+x] {
				out = out.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return out
}

// along marks runs of m of at least least px, with gaps of up to gap px closed, along rows or down columns.
func (m mask) along(rows bool, least, gap int) mask {
	out := newMask(m.w, m.h)
	outer, inner, stepOut, stepIn := m.h, m.w, m.w, 1
	if !rows {
		outer, inner, stepOut, stepIn = m.w, m.h, 1, m.w
	}
	for o := range outer {
		start, last := -1, -1
		flush := func() {
			if start >= 0 && last-start+1 >= least {
				for i := start; i <= last; i++ {
					out.at[o*stepOut+i*stepIn] = true
				}
			}
			start = -1
		}
		for i := range inner {
			if !m.at[o*stepOut+i*stepIn] {
				continue
			}
			if start >= 0 && i-last > gap+1 {
				flush()
			}
			if start < 0 {
				start = i
			}
			last = i
		}
		flush()
	}
	return out
}

// Level returns the picture turned so that its ruled lines lie straight, and by how many degrees it was turned.
// It looks up to 3 degrees either way, in steps of 0.1, and takes the turn under which rows of px differ most.
func Level(g *image.Gray) (*image.Gray, float64) {
	best, bestScore := 0.0, -1.0
	small := max(1, g.Rect.Dx()/500)
	for step := -30; step <= 30; step++ {
		deg := float64(step) / 10
		if s := rowContrast(g, math.Tan(deg*math.Pi/180), small); s > bestScore {
			best, bestScore = deg, s
		}
	}
	if best == 0 {
		return g, 0
	}
	return turned(g, best), best
}

// rowContrast is the sum of squared differences of neighbouring rows' brightness, rows slanted by slope.
func rowContrast(g *image.Gray, slope float64, every int) float64 {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	margin := int(math.Abs(slope)*float64(w)) + 1
	score, before := 0.0, -1.0
	for y := margin; y < h-margin; y++ {
		sum := 0.0
		for x := 0; x < w; x += every {
			sum += float64(g.Pix[(y+int(math.Round(slope*float64(x-w/2))))*g.Stride+x])
		}
		if before >= 0 {
			score += (sum - before) * (sum - before)
		}
		before = sum
	}
	return score / float64(max(1, h-2*margin))
}

func turned(g *image.Gray, deg float64) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := image.NewGray(image.Rect(0, 0, w, h))
	sin, cos := math.Sincos(deg * math.Pi / 180)
	cx, cy := float64(w-1)/2, float64(h-1)/2
	for y := range h {
		for x := range w {
			dx, dy := float64(x)-cx, float64(y)-cy
			sx, sy := cx+cos*dx-sin*dy, cy+sin*dx+cos*dy
			x0, y0 := int(math.Floor(sx)), int(math.Floor(sy))
			if x0 < 0 || y0 < 0 || x0+1 >= w || y0+1 >= h {
				out.Pix[y*out.Stride+x] = 255
				continue
			}
			fx, fy := sx-float64(x0), sy-float64(y0)
			p := g.Pix[y0*g.Stride+x0:]
			q := g.Pix[(y0+1)*g.Stride+x0:]
			v := (1-fy)*((1-fx)*float64(p[0])+fx*float64(p[1])) + fy*((1-fx)*float64(q[0])+fx*float64(q[1]))
			out.Pix[y*out.Stride+x] = uint8(v + 0.5)
		}
	}
	return out
}

// quarter is the picture turned by a quarter, clockwise: a word printed upwards then reads from the left.
func quarter(g *image.Gray) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := image.NewGray(image.Rect(0, 0, h, w))
	for y := range h {
		for x := range w {
			out.Pix[x*out.Stride+h-1-y] = g.Pix[y*g.Stride+x]
		}
	}
	return out
}
