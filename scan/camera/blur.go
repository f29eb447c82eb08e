package camera

import (
	"image"
	"math"
	"sync"

	"gatefold/sheetmodel"
)

// Sheet is one printed and filled side as a grey picture. Pixel (x, y) of the picture is pixel (x, y)
// of a page at PxPerMM, so a picture whose bounds don't start at (0, 0) is a part of the sheet; around
// it the paper is taken as white.
//
// Grey values are those of an ordinary picture (sRGB-like): 255 is clean white paper, 0 is black.
type Sheet struct {
	Image   *image.Gray
	PxPerMM float64
}

// gamma links grey values and light.
const gamma = 2.2

var toLight = sync.OnceValue(func() (t [256]float32) {
	for i := range t {
		t[i] = float32(math.Pow(float64(i)/255, gamma))
	}
	return t
})

// plane is a part of the sheet in linear light, blurred as the lens will blur it.
type plane struct {
	pix    []float32
	w, h   int
	x0, y0 float64 // mm of the middle of pixel (0, 0)
	perMM  float64
}

// at is bilinear in mm; beyond the plane the nearest pixel counts.
func (p *plane) at(x, y float64) float32 {
	fx, fy := (x-p.x0)*p.perMM, (y-p.y0)*p.perMM
	fx = min(max(fx, 0), float64(p.w-1)-1e-6)
	fy = min(max(fy, 0), float64(p.h-1)-1e-6)
	i, j := int(fx), int(fy)
	tx, ty := float32(fx-float64(i)), float32(fy-float64(j))
	row := p.pix[j*p.w+i : j*p.w+i+2]
	next := p.pix[(j+1)*p.w+i : (j+1)*p.w+i+2]
	top := row[0] + tx*(row[1]-row[0])
	low := next[0] + tx*(next[1]-next[0])
	return top + ty*(low-top)
}

// blurred returns the part of the sheet inside area as seen through the shot's blur and through pixels
// of the photo's size.
//
// Blur is spent in three places: averaging whole blocks of pixels, a Gauss filter, and the bilinear
// look-up later; their variances add up to the blur asked for.
func (s *Shot) blurred(sheet Sheet, area sheetmodel.Rect) *plane {
	const pixelShare = 0.38 // standard deviation of a sensor pixel with its colour filter, px
	perMM := sheet.PxPerMM
	gauss := s.BlurSigmaMM * s.BlurSigmaMM * (1 - s.MotionShare)
	want := (gauss + pixelShare*pixelShare/(s.PxPerMM*s.PxPerMM)) * perMM * perMM // variance in sheet px
	looks := 1.0                                                                  // bilinear ones, each of the variance 1/6 block²
	if s.MotionShare > 0 {
		looks = 2
	}
	spent := func(k int) float64 { return float64(k*k-1)/12 + looks*float64(k*k)/6 }
	k := 1
	// Blocks and the look-ups between them must leave most blur to the Gauss filter, or edges alias.
	for k < 8 && spent(k+1) < 0.4*want {
		k++
	}
	p := blocks(sheet, area, k)
	if rest := want - spent(k); rest > 0.02 {
		p.gauss(math.Sqrt(rest) / float64(k))
	}
	if s.MotionShare > 0 {
		// A straight, even motion of length L has the variance L²/12.
		p.motion(s.BlurSigmaMM*math.Sqrt(12*s.MotionShare), s.MotionDeg*math.Pi/180)
	}
	return p
}

// blocks decodes area to linear light, averaging k x k pixels.
func blocks(sheet Sheet, area sheetmodel.Rect, k int) *plane {
	perMM := sheet.PxPerMM
	b := sheet.Image.Bounds()
	x0, y0 := int(math.Floor(float64(area.X)*perMM)), int(math.Floor(float64(area.Y)*perMM))
	x1, y1 := int(math.Ceil(float64(area.X+area.W)*perMM)), int(math.Ceil(float64(area.Y+area.H)*perMM))
	w, h := max(2, (x1-x0+k-1)/k), max(2, (y1-y0+k-1)/k)
	p := &plane{pix: make([]float32, w*h), w: w, h: h, perMM: perMM / float64(k),
		x0: (float64(x0) + float64(k)/2) / perMM, y0: (float64(y0) + float64(k)/2) / perMM}
	light := toLight()
	share := 1 / float32(k*k)
	bands(h, func(from, to int) {
		for j := from; j < to; j++ {
			out := p.pix[j*w : (j+1)*w]
			for dy := range k {
				y := y0 + j*k + dy
				if y < b.Min.Y || y >= b.Max.Y {
					for i := range out {
						out[i] += float32(k)
					}
					continue
				}
				row := sheet.Image.Pix[sheet.Image.PixOffset(b.Min.X, y):]
				for i := range out {
					x := x0 + i*k - b.Min.X
					sum := float32(0)
					if x >= 0 && x+k <= b.Dx() {
						for _, v := range row[x : x+k] {
							sum += light[v]
						}
					} else {
						for dx := range k {
							if x+dx >= 0 && x+dx < b.Dx() {
								sum += light[row[x+dx]]
							} else {
								sum++
							}
						}
					}
					out[i] += sum
				}
			}
			for i := range out {
				out[i] *= share
			}
		}
	})
	return p
}

// gauss blurs by a standard deviation in pixels; the border is repeated.
func (p *plane) gauss(sigma float64) {
	r := max(1, int(math.Ceil(3*sigma)))
	taps := make([]float32, r+1)
	var sum float32
	if sigma < 0.8 {
		// A Gauss curve this narrow, looked up at whole pixels, has less variance than its name says.
		v := float32(sigma * sigma / 2)
		r, taps, sum = 1, []float32{1 - 2*v, v}, 1
	} else {
		sum = gaussTaps(taps, sigma)
	}
	for i := range taps {
		taps[i] /= sum
	}
	tmp := make([]float32, len(p.pix))
	bands(p.h, func(from, to int) {
		pad := make([]float32, p.w+2*r)
		for y := from; y < to; y++ {
			row, out := p.pix[y*p.w:(y+1)*p.w], tmp[y*p.w:(y+1)*p.w]
			copy(pad[r:], row)
			for i := range r {
				pad[i], pad[r+p.w+i] = row[0], row[p.w-1]
			}
			for x := range out {
				out[x] = taps[0] * pad[x+r]
			}
			for k := 1; k <= r; k++ {
				t, a, b := taps[k], pad[r-k:r-k+p.w], pad[r+k:r+k+p.w]
				for x := range out {
					out[x] += t * (a[x] + b[x])
				}
			}
		}
	})
	bands(p.h, func(from, to int) {
		for y := from; y < to; y++ {
			out, mid := p.pix[y*p.w:(y+1)*p.w], tmp[y*p.w:(y+1)*p.w]
			for x := range out {
				out[x] = taps[0] * mid[x]
			}
			for k := 1; k <= r; k++ {
				ya, yb := max(0, y-k), min(p.h-1, y+k)
				t, a, b := taps[k], tmp[ya*p.w:(ya+1)*p.w], tmp[yb*p.w:(yb+1)*p.w]
				for x := range out {
					out[x] += t * (a[x] + b[x])
				}
			}
		}
	})
}

// gaussTaps fills half a Gauss curve from its middle and returns the sum of the whole.
func gaussTaps(taps []float32, sigma float64) (sum float32) {
	for i := range taps {
		taps[i] = float32(math.Exp(-float64(i*i) / (2 * sigma * sigma)))
		sum += 2 * taps[i]
	}
	return sum - taps[0]
}

// motion averages over a straight path of length mm in a direction on the sheet.
func (p *plane) motion(length, dir float64) {
	n := int(math.Ceil(length*p.perMM)) + 1
	if n < 2 {
		return
	}
	src := plane{pix: append([]float32(nil), p.pix...), w: p.w, h: p.h, perMM: 1}
	share := 1 / float32(n)
	step := length * p.perMM / math.Sqrt(float64(n*n-1)) // n points so far apart have the variance L²/12
	bands(p.h, func(from, to int) {
		for y := from; y < to; y++ {
			out := p.pix[y*p.w : (y+1)*p.w]
			for x := range out {
				out[x] = 0
			}
			for k := range n {
				d := step * (float64(k) - float64(n-1)/2)
				dx, dy := d*math.Cos(dir), d*math.Sin(dir)
				for x := range out {
					out[x] += share * src.at(float64(x)+dx, float64(y)+dy)
				}
			}
		}
	})
}
