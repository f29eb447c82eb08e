package print

import (
	"image"
	"math"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/vector"

	"gatefold/sheetmodel"
)

// Raster draws one side of one card as 8-bit grey, antialiased, 0 black and 255 paper.
//
// The picture is W·pxPerMM × H·pxPerMM pixels, rounded up; the sheet point (x, y) mm lies at
// sheetmodel.PageFromSheet, the same frame as a straightened photo. The error is that of an
// identity that can't be encoded.
func Raster(side *sheetmodel.Side, card CardPrint, pxPerMM float64) (*image.Gray, error) {
	shapes, err := drawSide(side, &card)
	if err != nil {
		return nil, err
	}
	return rasterize(shapes, float64(side.W), float64(side.H), pxPerMM), nil
}

// RasterBlank draws what all cards of a layout share: no identity and no text of one card.
// It is the template against which a reader tells ink from print.
func RasterBlank(side *sheetmodel.Side, pxPerMM float64) *image.Gray {
	shapes, err := drawSide(side, nil)
	if err != nil {
		panic(err) // only an identity has errors
	}
	return rasterize(shapes, float64(side.W), float64(side.H), pxPerMM)
}

// rasterize draws shapes on a white page of w × h mm.
func rasterize(shapes []shape, w, h, pxPerMM float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, int(math.Ceil(w*pxPerMM-1e-6)), int(math.Ceil(h*pxPerMM-1e-6))))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	b := brush{img: img, scale: pxPerMM}
	for _, s := range shapes {
		if s.text != "" {
			b.text(s)
			continue
		}
		b.polys(s)
	}
	return img
}

// brush fills paths. One rasterizer over the bounds of each path, not of the page: a form is many
// small things, and clearing a page for each would take seconds.
type brush struct {
	img   *image.Gray
	scale float64
	ras   vector.Rasterizer
	alpha image.Alpha
}

func (b *brush) polys(s shape) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, poly := range s.polys {
		for _, p := range poly {
			x0, y0 = min(x0, p.x*b.scale), min(y0, p.y*b.scale)
			x1, y1 = max(x1, p.x*b.scale), max(y1, p.y*b.scale)
		}
	}
	r := b.start(x0, y0, x1, y1)
	if r.Empty() {
		return
	}
	ox, oy := float64(r.Min.X), float64(r.Min.Y)
	for _, poly := range s.polys {
		for i, p := range poly {
			x, y := float32(p.x*b.scale-ox), float32(p.y*b.scale-oy)
			if i == 0 {
				b.ras.MoveTo(x, y)
			} else {
				b.ras.LineTo(x, y)
			}
		}
		b.ras.ClosePath()
	}
	b.blend(r, s.grey)
}

func (b *brush) text(s shape) {
	eachGlyph(s, func(g glyph, m [6]float64) {
		if len(g.segments) == 0 {
			return
		}
		for i := range m {
			m[i] *= b.scale
		}
		at := func(p [2]float64) (x, y float64) {
			return m[0]*p[0] + m[1]*p[1] + m[2], m[3]*p[0] + m[4]*p[1] + m[5]
		}
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, seg := range g.segments {
			for _, a := range seg.Args[:argsOf(seg.Op)] {
				x, y := at([2]float64{float64(a.X), float64(a.Y)})
				x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
			}
		}
		r := b.start(x0, y0, x1, y1)
		if r.Empty() {
			return
		}
		ox, oy := float64(r.Min.X), float64(r.Min.Y)
		arg := func(seg sfnt.Segment, i int) (float32, float32) {
			x, y := at([2]float64{float64(seg.Args[i].X), float64(seg.Args[i].Y)})
			return float32(x - ox), float32(y - oy)
		}
		open := false
		for _, seg := range g.segments {
			ax, ay := arg(seg, 0)
			switch seg.Op {
			case sfnt.SegmentOpMoveTo:
				if open {
					b.ras.ClosePath()
				}
				b.ras.MoveTo(ax, ay)
				open = true
			case sfnt.SegmentOpLineTo:
				b.ras.LineTo(ax, ay)
			case sfnt.SegmentOpQuadTo:
				bx, by := arg(seg, 1)
				b.ras.QuadTo(ax, ay, bx, by)
			case sfnt.SegmentOpCubeTo:
				bx, by := arg(seg, 1)
				cx, cy := arg(seg, 2)
				b.ras.CubeTo(ax, ay, bx, by, cx, cy)
			}
		}
		b.ras.ClosePath()
		b.blend(r, s.grey)
	})
}

func argsOf(op sfnt.SegmentOp) int {
	switch op {
	case sfnt.SegmentOpQuadTo:
		return 2
	case sfnt.SegmentOpCubeTo:
		return 3
	default:
		return 1
	}
}

// start readies the rasterizer for a path with the given bounds in px and returns the pixels it covers.
// A path that leaves the page keeps its bounds: clipping happens in blend.
func (b *brush) start(x0, y0, x1, y1 float64) image.Rectangle {
	r := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1)))
	if !r.Overlaps(b.img.Rect) {
		return image.Rectangle{}
	}
	b.ras.Reset(r.Dx(), r.Dy())
	return r
}

// blend lays ink of the given grey over the page, by the path's coverage.
func (b *brush) blend(r image.Rectangle, grey float64) {
	n := r.Dx() * r.Dy()
	if cap(b.alpha.Pix) < n {
		b.alpha.Pix = make([]uint8, n)
	}
	b.alpha.Pix = b.alpha.Pix[:n]
	clear(b.alpha.Pix)
	b.alpha.Stride, b.alpha.Rect = r.Dx(), image.Rect(0, 0, r.Dx(), r.Dy())
	b.ras.Draw(&b.alpha, b.alpha.Rect, image.Opaque, image.Point{})
	ink := int(math.Round(grey * 255))
	seen := r.Intersect(b.img.Rect)
	for y := seen.Min.Y; y < seen.Max.Y; y++ {
		cover := b.alpha.Pix[(y-r.Min.Y)*r.Dx()+seen.Min.X-r.Min.X:]
		page := b.img.Pix[b.img.PixOffset(seen.Min.X, y):]
		for x := range seen.Dx() {
			if a := int(cover[x]); a != 0 {
				page[x] = uint8((int(page[x])*(255-a) + ink*a + 127) / 255)
			}
		}
	}
}
