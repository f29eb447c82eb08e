package cells

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"

	"gatefold/ocr/crop"
	"gatefold/sheetmodel"
)

// light is what falls on the paper at (x, y) mm, 1 on average.
type light func(x, y float64) float64

// photograph shows paper (reflectance, with its middle at box's) through the level's camera and returns
// it straightened, a little off, as the part of a page around box.
func photograph(paper *sheet, box sheetmodel.Rect, c conditions, rng *rand.Rand) crop.Page {
	s := c.pxPerMM.draw(rng)
	m := drawMap(c, s, rng)
	blurred := paper.blurred(c, s, rng)
	shot := expose(blurred, m, c, drawLight(c, rng), rng)
	sharpen(shot, c.sharpen.draw(rng))
	shot = throughJPEG(shot, int(c.quality.draw(rng)))
	return straighten(shot, m, box, c, rng)
}

// photoMap takes mm from the box's middle to photo px: p = a·mm + t.
type photoMap struct {
	a      [4]float64
	tx, ty float64
	w, h   int
}

// drawMap draws a view: any turn, foreshortened in any direction. s is the root of px² a mm².
func drawMap(c conditions, s float64, rng *rand.Rand) photoMap {
	turn, toward := rng.Float64()*2*math.Pi, rng.Float64()*math.Pi
	if rng.Float64() < 0.6 {
		// People hold a card upright or on its side, more or less.
		turn = float64(rng.IntN(4))*math.Pi/2 + 0.12*rng.NormFloat64()
	}
	f := math.Sqrt(math.Cos(c.tiltDeg.draw(rng) * math.Pi / 180))
	// rot(toward) · diag(f, 1/f) · rot(-toward), then turned and scaled.
	ct, st := math.Cos(toward), math.Sin(toward)
	xx, xy, yy := f*ct*ct+st*st/f, (f-1/f)*ct*st, f*st*st+ct*ct/f
	cr, sr := math.Cos(turn)*s, math.Sin(turn)*s
	m := photoMap{a: [4]float64{cr*xx - sr*xy, cr*xy - sr*yy, sr*xx + cr*xy, sr*xy + cr*yy}}
	w := math.Abs(m.a[0])*viewW + math.Abs(m.a[1])*viewH
	h := math.Abs(m.a[2])*viewW + math.Abs(m.a[3])*viewH
	m.w, m.h = int(w)+2, int(h)+2
	m.tx, m.ty = float64(m.w)/2+rng.Float64()-0.5, float64(m.h)/2+rng.Float64()-0.5
	return m
}

func (m photoMap) photo(x, y float64) (float64, float64) {
	return m.a[0]*x + m.a[1]*y + m.tx, m.a[2]*x + m.a[3]*y + m.ty
}

func (m photoMap) mm(px, py float64) (float64, float64) {
	det := m.a[0]*m.a[3] - m.a[1]*m.a[2]
	px, py = px-m.tx, py-m.ty
	return (m.a[3]*px - m.a[1]*py) / det, (m.a[0]*py - m.a[2]*px) / det
}

// drawLight draws the light's fall and, now and then, a shadow's edge, glare or a damp spot.
func drawLight(c conditions, rng *rand.Rand) light {
	fall, dir := c.lightFall.draw(rng)/viewW, rng.Float64()*2*math.Pi
	fx, fy := fall*math.Cos(dir), fall*math.Sin(dir)
	l := func(x, y float64) float64 { return 1 - fx*x - fy*y }
	if rng.Float64() < c.faultShare {
		l = under(l, shadowEdge(c.shadow.draw(rng), rng))
	}
	if rng.Float64() < c.faultShare {
		l = under(l, spot(c.glare.draw(rng), 8+20*rng.Float64(), rng))
	}
	if rng.Float64() < c.faultShare {
		l = under(l, spot(-c.damp.draw(rng), 1.5+6*rng.Float64(), rng))
	}
	return l
}

func under(a, b light) light { return func(x, y float64) float64 { return a(x, y) * b(x, y) } }

// shadowEdge is a straight edge through the view, from hard to soft.
func shadowEdge(depth float64, rng *rand.Rand) light {
	dir, off := rng.Float64()*2*math.Pi, (rng.Float64()-0.5)*12
	soft := math.Exp(math.Log(0.2) + rng.Float64()*math.Log(40)) // 0.2 to 8 mm
	cx, cy := math.Cos(dir), math.Sin(dir)
	return func(x, y float64) float64 {
		return 1 - depth/(1+math.Exp(-(x*cx+y*cy-off)/soft*3))
	}
}

// spot is a round patch with a soft rim; damp ones have a darker rim of tide.
func spot(add, r float64, rng *rand.Rand) light {
	x0, y0 := (rng.Float64()-0.5)*20, (rng.Float64()-0.5)*20
	return func(x, y float64) float64 {
		d := math.Hypot(x-x0, y-y0) / r
		v := 1 / (1 + math.Exp((d-1)*6))
		if add < 0 {
			v = 1/(1+math.Exp((d-1)*14)) + 0.5*math.Exp(-(d-1)*(d-1)*120)
		}
		return 1 + add*v
	}
}

// expose samples the blurred paper at the photo's pixels, lights it, and adds noise.
func expose(paper *sheet, m photoMap, c conditions, l light, rng *rand.Rand) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, m.w, m.h))
	white, noise := c.white.draw(rng)*255, c.noise.draw(rng)*255
	if rng.Float64() < c.faultShare {
		noise = c.dusk.draw(rng) * 255
	}
	det := m.a[0]*m.a[3] - m.a[1]*m.a[2]
	dx, dy := m.a[3]/det, -m.a[2]/det // mm a photo px to the right
	// Light changes slowly: every fourth pixel is enough.
	lit := 1.0
	for y := range m.h {
		mx, my := m.mm(0.5, float64(y)+0.5)
		row := img.Pix[y*img.Stride:]
		for x := range m.w {
			if x&3 == 0 {
				lit = l(mx+1.5*dx, my+1.5*dy) * white
			}
			v := paper.at(mx, my) * lit
			// Half of the noise is the photon's, which falls with the root of the light.
			v += noise * math.Sqrt(0.5+0.5*math.Max(0, v)/white) * rng.NormFloat64()
			row[x] = uint8(math.Max(0, math.Min(255, v+0.5)))
			mx, my = mx+dx, my+dy
		}
	}
	return img
}

// sharpen is an unsharp mask over 3 x 3 px.
func sharpen(img *image.Gray, strength float64) {
	if strength < 0.02 {
		return
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	src := append([]byte(nil), img.Pix...)
	k := int(strength * 256)
	for y := 1; y < h-1; y++ {
		a, b, c := src[(y-1)*w:y*w], src[y*w:(y+1)*w], src[(y+1)*w:(y+2)*w]
		out := img.Pix[y*img.Stride:]
		for x := 1; x < w-1; x++ {
			blur := int(a[x-1]) + 2*int(a[x]) + int(a[x+1]) + 2*int(b[x-1]) + 4*int(b[x]) + 2*int(b[x+1]) +
				int(c[x-1]) + 2*int(c[x]) + int(c[x+1])
			v := int(b[x]) + k*(16*int(b[x])-blur)/4096
			out[x] = uint8(max(0, min(255, v)))
		}
	}
}

// throughJPEG encodes and decodes img; quality as in libjpeg.
func throughJPEG(img *image.Gray, quality int) *image.Gray {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		panic(err) // a buffer takes all, and the picture is small
	}
	out, err := jpeg.Decode(&b)
	if err != nil {
		panic(err)
	}
	return out.(*image.Gray)
}

// straighten returns the page around box, sampled from the photo through a map that is a little off.
func straighten(shot *image.Gray, m photoMap, box sheetmodel.Rect, c conditions, rng *rand.Rand) crop.Page {
	pagePxPerMM := 6 + 4*rng.Float64()
	signed := func(s span) float64 { return s.draw(rng) * (2*rng.Float64() - 1) }
	offX, offY := signed(c.offMM), signed(c.offMM)
	turn := signed(c.turnDeg) * math.Pi / 180
	sx, sy := 1+signed(c.stretch), 1+signed(c.stretch)
	mid := box.Center()
	w, h := int(pageW*pagePxPerMM), int(pageH*pagePxPerMM)
	p := crop.Page{Pix: make([]byte, w*h), Stride: w, W: w, H: h, PxPerMM: pagePxPerMM}
	p.OriginX = int(math.Round(float64(mid.X)*pagePxPerMM)) - w/2
	p.OriginY = int(math.Round(float64(mid.Y)*pagePxPerMM)) - h/2
	cosT, sinT := math.Cos(turn), math.Sin(turn)
	pw, ph := shot.Rect.Dx(), shot.Rect.Dy()
	for y := range h {
		for x := range w {
			at := sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(x + p.OriginX), Y: float64(y + p.OriginY)}, pagePxPerMM)
			u, v := float64(at.X-mid.X)*sx, float64(at.Y-mid.Y)*sy
			px, py := m.photo(u*cosT-v*sinT+offX, u*sinT+v*cosT+offY)
			px, py = math.Max(0, math.Min(float64(pw)-1.01, px-0.5)), math.Max(0, math.Min(float64(ph)-1.01, py-0.5))
			i, j := int(px), int(py)
			fx, fy := px-float64(i), py-float64(j)
			o := j*shot.Stride + i
			top := float64(shot.Pix[o])*(1-fx) + float64(shot.Pix[o+1])*fx
			low := float64(shot.Pix[o+shot.Stride])*(1-fx) + float64(shot.Pix[o+shot.Stride+1])*fx
			p.Pix[y*w+x] = uint8(top*(1-fy) + low*fy + 0.5)
		}
	}
	return p
}
