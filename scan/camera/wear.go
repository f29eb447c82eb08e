package camera

import (
	"image"
	"math"
	"math/rand/v2"
)

// Compose lays ink on print as the shot's printer and writer left them: pale, photocopied, smeared. Both
// pictures are grey on white, of the same size at pxPerMM; print is changed and returned.
//
// A shot without stage just writes the ink on the print.
func (s *Shot) Compose(print, ink *image.Gray, pxPerMM float64) Sheet {
	if st := s.Staging; st != nil {
		if st.Print.Copied > 0 {
			st.Print.copies(print, pxPerMM, s.Seed)
		}
		if st.Print.Pale > 0 {
			st.Print.fade(print, pxPerMM, s.Seed)
		}
		if st.Smear.Amount > 0 {
			st.Smear.drag(ink, pxPerMM, s.Seed)
		}
	}
	for y := print.Rect.Min.Y; y < print.Rect.Max.Y; y++ {
		p := print.Pix[print.PixOffset(print.Rect.Min.X, y):][:print.Rect.Dx()]
		q := ink.Pix[ink.PixOffset(ink.Rect.Min.X, y-print.Rect.Min.Y+ink.Rect.Min.Y):][:print.Rect.Dx()]
		for x, v := range q {
			if v != 255 {
				p[x] = uint8((int(p[x])*int(v) + 127) / 255)
			}
		}
	}
	return Sheet{Image: print, PxPerMM: pxPerMM}
}

// fade takes toner away: everywhere, more so in streaks along the paper's way, and in specks.
func (p *Print) fade(img *image.Gray, pxPerMM float64, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 0xfade))
	w, h := img.Rect.Dx(), img.Rect.Dy()
	across := make([]float64, w)
	soft := 0.0
	for x := range across { // a slow walk: streaks some mm wide
		soft += 0.35 * rng.NormFloat64() / math.Sqrt(pxPerMM)
		soft *= 1 - 0.25/pxPerMM
		across[x] = soft
	}
	specks := noiseTile(256, 2, 31)
	for y := range h {
		row := img.Pix[y*img.Stride : y*img.Stride+w]
		for x, v := range row {
			if v == 255 {
				continue
			}
			lost := p.Pale + 0.12*p.Pale*across[x] + 0.10*p.Pale*float64(specks[(y*12/int(pxPerMM+1)&255)*256+x*12/int(pxPerMM+1)&255])
			keep := math.Max(0.08, math.Min(1, 1-lost))
			row[x] = uint8(255 - keep*float64(255-int(v)))
		}
	}
}

// copies photocopies the print: each time it spreads and is made black and white again, so that hairlines
// and greys go, blacks grow and specks stay.
func (p *Print) copies(img *image.Gray, pxPerMM float64, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 0xc0b1))
	w, h := img.Rect.Dx(), img.Rect.Dy()
	pl := &plane{pix: make([]float32, w*h), w: w, h: h, perMM: 1}
	for i := range pl.pix {
		pl.pix[i] = float32(img.Pix[i/w*img.Stride+i%w]) / 255
	}
	bias := 0.06 * rng.NormFloat64() // this machine's darkness
	// Several copies in one round: their blurs add up as variances.
	rounds := min(p.Copied, 4)
	each := float64(p.Copied) / float64(rounds)
	rough := noiseTile(512, 2, 41)
	for k := range rounds {
		for range int(each * float64(w*h) / (pxPerMM * pxPerMM) / 700) { // a speck on 7 cm² and copy
			x, y, r := rng.IntN(w), rng.IntN(h), (0.08+0.15*rng.Float64()*rng.Float64())*pxPerMM
			for j := max(0, y-int(r)); j <= min(h-1, y+int(r)); j++ {
				for i := max(0, x-int(r)); i <= min(w-1, x+int(r)); i++ {
					pl.pix[j*w+i] = 0.15
				}
			}
		}
		pl.gauss(0.042 * math.Sqrt(each) * pxPerMM)
		threshold := float32(0.55 + bias + 0.03*rng.NormFloat64())
		steep := float32(2.2 + 0.5*each)
		ox, oy := rng.IntN(512), rng.IntN(512)
		bands(h, func(from, to int) {
			for y := from; y < to; y++ {
				row := pl.pix[y*w : (y+1)*w]
				for x, v := range row {
					t := threshold + 0.05*rough[((y+oy+7*k)&511)*512+(x+ox)&511]
					row[x] = min(1, max(0.05, 0.5+steep*(v-t)))
				}
			}
		})
	}
	for i, v := range pl.pix {
		img.Pix[i/w*img.Stride+i%w] = uint8(255*v + 0.5)
	}
}

// drag carries ink on in the glove's direction, in the lanes where the glove went.
func (m *Smear) drag(ink *image.Gray, pxPerMM float64, seed uint64) {
	w, h := ink.Rect.Dx(), ink.Rect.Dy()
	const cell = 4 // a smear has no finer detail than 4 px across
	cw, ch := (w+cell-1)/cell, (h+cell-1)/cell
	small := make([]float32, cw*ch)
	for j := range ch {
		for i := range cw {
			sum := 0
			for y := j * cell; y < min((j+1)*cell, h); y++ {
				for x := i * cell; x < min((i+1)*cell, w); x++ {
					sum += 255 - int(ink.Pix[y*ink.Stride+x])
				}
			}
			small[j*cw+i] = float32(sum) / (cell * cell * 255)
		}
	}
	perMM := pxPerMM / cell
	sin, cos := math.Sincos(m.DirDeg * math.Pi / 180)
	n := max(2, int(m.DragMM*perMM))
	veil := &plane{pix: make([]float32, cw*ch), w: cw, h: ch, perMM: 1}
	streaks := noiseTile(256, 3, seed%97)
	bands(ch, func(from, to int) {
		for j := from; j < to; j++ {
			for i := range cw {
				x, y := (float64(i)+0.5)/perMM, (float64(j)+0.5)/perMM
				lane := 0.0
				for _, l := range m.Lanes {
					u, v := (x-l.X)*cos+(y-l.Y)*sin, -(x-l.X)*sin+(y-l.Y)*cos
					lane = math.Max(lane, l.Share*(1-smoothstep((math.Max(math.Abs(u)/l.RX, math.Abs(v)/l.RY)-0.7)/0.4)))
				}
				if lane == 0 {
					continue
				}
				sum, norm := float32(0), float32(0)
				for k := range n {
					sx, sy := int(float64(i)-float64(k)*cos), int(float64(j)-float64(k)*sin)
					weight := 1 - float32(k)/float32(n)
					norm += weight
					if sx >= 0 && sy >= 0 && sx < cw && sy < ch {
						sum += weight * small[sy*cw+sx]
					}
				}
				// A glove has a coarse skin: streaks along its way. Its own dirt is a thin grey everywhere.
				across := int(-x*sin*6+y*cos*6) & 255
				grain := 1 + 0.35*streaks[across*256+int(x*cos)&255]
				veil.pix[j*cw+i] = float32(lane*m.Amount) * grain * (2.2*sum/norm + 0.012)
			}
		}
	})
	veil.gauss(0.7)
	bands(h, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range w {
				v := veil.at((float64(x)+0.5)/cell-0.5, (float64(y)+0.5)/cell-0.5)
				if v <= 0 {
					continue
				}
				p := &ink.Pix[y*ink.Stride+x]
				*p = uint8(float32(*p) * (1 - min(0.7, v)))
			}
		}
	})
}
