package camera

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
)

// Pictures is what one card of a staged photo carries: the side that is seen, and the one behind it,
// upright as when that side is looked at with the same edge of the card up; nil where none shows through.
type Pictures struct {
	Seen   Sheet
	Behind *Sheet
}

// Needs says which pictures TakeCards wants: how many cards, and whether the first one's back shows through.
func (s *Shot) Needs() (cards int, back bool) {
	if s.Staging == nil {
		return 1, false
	}
	return 1 + len(s.Staging.Others), s.Staging.Through+s.Staging.WetThrough > 0
}

// TakeCards photographs a staged shot. cards are the pictures of this card and of Staging.Others in their
// order; orientation as in Take. The Photo's View is the truth of the first card; its Cards method gives
// those of the others.
//
// 0.2 to 0.4 s on one core for a card at 8 px/mm.
func (v *View) TakeCards(cards []Pictures, orientation int) (*Photo, error) {
	s := &v.shot
	if n, _ := s.Needs(); n != len(cards) {
		return nil, fmt.Errorf("photo of %d cards: %d pictures given; give one for each", n, len(cards))
	}
	if s.Staging == nil {
		return v.Take(cards[0].Seen, orientation)
	}
	lin := v.newStage(cards).render()
	s.disperse(lin)
	s.mapTones(lin)
	grey := s.develop(lin, image.Rect(0, 0, s.W, s.H), 3)
	s.crisp(grey)
	img := image.NewRGBA(image.Rect(0, 0, s.W, s.H))
	for i := range s.W * s.H {
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = grey[3*i], grey[3*i+1], grey[3*i+2], 255
	}
	if long := s.Staging.Messenger; long > 0 {
		var err error
		if img, v, err = v.message(img, long); err != nil {
			return nil, err
		}
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, stored(img, orientation), &jpeg.Options{Quality: v.shot.JPEGQuality}); err != nil {
		return nil, fmt.Errorf("photo of %d x %d px: %w", s.W, s.H, err)
	}
	return &Photo{Image: img, JPEG: withOrientation(buf.Bytes(), orientation), View: v}, nil
}

// disperse makes red larger and blue smaller than green, or the other way round, and blurs both a little.
func (s *Shot) disperse(lin []float32) {
	share := s.Staging.Chromatic
	if share == 0 {
		return
	}
	w, h := s.W, s.H
	src := append([]float32(nil), lin...)
	mx, my := float64(w-1)/2, float64(h-1)/2
	for _, ch := range []int{0, 2} {
		scale := 1 + share*float64(1-ch)
		reach := 1.4 * math.Abs(share) * mx // px; a defocused colour is wider, too
		bands(h, func(from, to int) {
			for y := from; y < to; y++ {
				for x := range w {
					sx, sy := mx+(float64(x)-mx)*scale, my+(float64(y)-my)*scale
					d := math.Min(1.2, 0.3*reach)
					sum := 2 * channelAt(src, w, h, ch, sx, sy)
					sum += channelAt(src, w, h, ch, sx-d, sy) + channelAt(src, w, h, ch, sx+d, sy)
					sum += channelAt(src, w, h, ch, sx, sy-d) + channelAt(src, w, h, ch, sx, sy+d)
					lin[3*(y*w+x)+ch] = sum / 6
				}
			}
		})
	}
}

// channelAt is bilinear in one channel.
func channelAt(src []float32, w, h, ch int, x, y float64) float32 {
	x, y = math.Max(0, math.Min(float64(w-1)-1e-6, x)), math.Max(0, math.Min(float64(h-1)-1e-6, y))
	i, j := int(x), int(y)
	tx, ty := float32(x-float64(i)), float32(y-float64(j))
	a := 3*(j*w+i) + ch
	top := src[a] + tx*(src[a+3]-src[a])
	low := src[a+3*w] + tx*(src[a+3*w+3]-src[a+3*w])
	return top + ty*(low-top)
}

// mapTones lifts what lies in large dark parts of the picture and dims large light ones, as phones do; the
// parts' blurred outlines leave a halo.
func (s *Shot) mapTones(lin []float32) {
	strength := 0.55 * s.Staging.Look
	if strength == 0 {
		return
	}
	w, h := s.W, s.H
	const cell = 16
	cw, chh := (w+cell-1)/cell, (h+cell-1)/cell
	base := &plane{pix: make([]float32, cw*chh), w: cw, h: chh, perMM: 1.0 / cell, x0: cell / 2, y0: cell / 2}
	for j := range chh {
		for i := range cw {
			sum, n := float32(0), float32(0)
			for y := j * cell; y < min((j+1)*cell, h); y += 2 {
				for x := i * cell; x < min((i+1)*cell, w); x += 2 {
					p := lin[3*(y*w+x):]
					sum, n = sum+0.3*p[0]+0.6*p[1]+0.1*p[2], n+1
				}
			}
			base.pix[j*cw+i] = float32(math.Log(float64(sum/n) + 0.01))
		}
	}
	base.gauss(math.Max(1, float64(max(w, h))/60/cell))
	// Paper keeps its grey: the photo is exposed for it.
	white := math.Log(1.0)
	gain := &plane{pix: make([]float32, len(base.pix)), w: cw, h: chh, perMM: base.perMM, x0: base.x0, y0: base.y0}
	for i, v := range base.pix {
		gain.pix[i] = float32(math.Exp(strength * (white - float64(v)) * 0.8))
	}
	bands(h, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range w {
				k := gain.at(float64(x), float64(y))
				p := lin[3*(y*w+x) : 3*(y*w+x)+3]
				p[0], p[1], p[2] = p[0]*k, p[1]*k, p[2]*k
			}
		}
	})
}

// crisp sharpens over a few px more, with the light and dark rims that this leaves beside strokes.
func (s *Shot) crisp(grey []uint8) {
	amount := 1.1 * float32(s.Staging.Look)
	if amount == 0 {
		return
	}
	w, h := s.W, s.H
	luma := &plane{pix: make([]float32, w*h), w: w, h: h, perMM: 1}
	for i := range luma.pix {
		luma.pix[i] = 0.3*float32(grey[3*i]) + 0.6*float32(grey[3*i+1]) + 0.1*float32(grey[3*i+2])
	}
	sharp := append([]float32(nil), luma.pix...)
	luma.gauss(2)
	for i, v := range sharp {
		d := amount * (v - luma.pix[i])
		for ch := range 3 {
			grey[3*i+ch] = uint8(min(max(float32(grey[3*i+ch])+d+0.5, 0), 255))
		}
	}
}

// message sends the photo through a messenger: the phone's own JPEG, then smaller. The view is the new one.
func (v *View) message(img *image.RGBA, long int) (*image.RGBA, *View, error) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	k := float64(long) / float64(max(w, h))
	if k >= 1 {
		return img, v, nil
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 92}); err != nil {
		return nil, nil, fmt.Errorf("photo of %d x %d px: %w", w, h, err)
	}
	file, err := jpeg.Decode(&buf)
	if err != nil {
		return nil, nil, fmt.Errorf("photo of %d x %d px: %w", w, h, err)
	}
	nw, nh := int(math.Round(float64(w)*k)), int(math.Round(float64(h)*k))
	kx, ky := float64(w)/float64(nw), float64(h)/float64(nh)
	out := image.NewRGBA(image.Rect(0, 0, nw, nh))
	ycc, ok := file.(*image.YCbCr)
	if !ok {
		return nil, nil, fmt.Errorf("photo of %d x %d px: decoded to %T, not to colour", w, h, file)
	}
	// Every new px is the mean of what it covers.
	wx, wy := spread(w, nw), spread(h, nh)
	bands(nh, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range nw {
				var sum [3]float64
				for dy, sy := range wy[y].share {
					for dx, sx := range wx[x].share {
						c := ycc.YCbCrAt(wx[x].from+dx, wy[y].from+dy)
						sum[0], sum[1], sum[2] = sum[0]+sx*sy*float64(c.Y), sum[1]+sx*sy*float64(c.Cb), sum[2]+sx*sy*float64(c.Cr)
					}
				}
				cb, cr := sum[1]-128, sum[2]-128
				clip := func(e float64) uint8 { return uint8(math.Max(0, math.Min(255, e+0.5))) }
				i := out.PixOffset(x, y)
				out.Pix[i], out.Pix[i+1] = clip(sum[0]+1.402*cr), clip(sum[0]-0.344136*cb-0.714136*cr)
				out.Pix[i+2], out.Pix[i+3] = clip(sum[0]+1.772*cb), 255
			}
		}
	})
	small := v.shot
	small.W, small.H = nw, nh
	small.FocalPx *= 2 / (kx + ky)
	small.PxPerMM *= 2 / (kx + ky)
	nv := small.viewOn(v.surf)
	nv.over = v.over
	return out, nv, nil
}

type stretch struct {
	from  int
	share []float64
}

// spread says which old px make up each of n new ones.
func spread(old, n int) []stretch {
	out := make([]stretch, n)
	k := float64(old) / float64(n)
	for i := range out {
		lo, hi := float64(i)*k, float64(i+1)*k
		r := stretch{from: int(lo)}
		for j := int(lo); j < old && float64(j) < hi-1e-9; j++ {
			r.share = append(r.share, (math.Min(hi, float64(j+1))-math.Max(lo, float64(j)))/k)
		}
		out[i] = r
	}
	return out
}
