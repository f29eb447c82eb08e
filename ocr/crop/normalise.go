package crop

import "math"

// Size of a glyph in its frame, as MNIST has it.
const (
	glyphInk = 20.0
	// leastMM keeps a speck or a short dash from being blown up to a digit.
	leastMM = 2.5
	// Faint ink stays faint in the glyph, from palest to full: at fullDark and above it is white. A trace
	// that a rubber left has the shape of a digit and must not look like one that was written.
	palest, fullDark = 0.3, 0.14
)

// normalise brings the ink under mask to the frame of a Glyph.
//
// Source: LeCun, Cortes, Burges, The MNIST database of handwritten digits: longer side 20 px, aspect
// kept, the centre of mass in the middle of 28 px.
func normalise(d raster, mask []bool, level threshold) [GlyphSide * GlyphSide]byte {
	ink := newRaster(d.w, d.h)
	bx0, by0, bx1, by1 := d.w, d.h, -1, -1
	foot := 0.5 * level.low
	strength := min(1, palest+(1-palest)*level.peak/fullDark)
	for y := range d.h {
		for x := range d.w {
			i := y*d.w + x
			if mask[i] {
				bx0, bx1, by0, by1 = min(bx0, x), max(bx1, x), min(by0, y), max(by1, y)
			} else if !beside(mask, d.w, d.h, x, y) {
				continue
			}
			// The soft edge of a stroke reaches a px beyond the mask.
			ink.v[i] = strength * min(1, max(0, (d.v[i]-foot)/(0.95*level.peak-foot)))
		}
	}
	side := math.Max(float64(max(bx1-bx0, by1-by0)+1), leastMM*inkPxPerMM)
	s := side / glyphInk // ink px under a glyph px
	sumX, sumY, sum := 0.0, 0.0, 0.0
	for i, v := range ink.v {
		if v > 0 {
			sumX += float64(v) * float64(i%d.w)
			sumY += float64(v) * float64(i/d.w)
			sum += float64(v)
		}
	}
	var out [GlyphSide * GlyphSide]byte
	if sum == 0 {
		return out
	}
	cx, cy := sumX/sum, sumY/sum
	// No ink is pushed out of the frame by a far centre of mass.
	half := GlyphSide / 2 * s
	cx = math.Max(float64(bx1)+0.5-half, math.Min(float64(bx0)-0.5+half, cx))
	cy = math.Max(float64(by1)+0.5-half, math.Min(float64(by0)-0.5+half, cy))
	xs := spans(cx+0.5-half, s, GlyphSide, d.w)
	ys := spans(cy+0.5-half, s, GlyphSide, d.h)
	for y := range GlyphSide {
		for x := range GlyphSide {
			v := float32(0)
			for j, wy := range ys[y].weight {
				yy := ys[y].first + j
				if yy < 0 || yy >= d.h {
					continue
				}
				for k, wx := range xs[x].weight {
					if xx := xs[x].first + k; xx >= 0 && xx < d.w {
						v += wy * wx * ink.v[yy*d.w+xx]
					}
				}
			}
			out[y*GlyphSide+x] = byte(min(255, v*255+0.5))
		}
	}
	return out
}

// beside reports whether one of the eight neighbours of (x, y) is in mask.
func beside(mask []bool, w, h, x, y int) bool {
	for yy := max(0, y-1); yy <= min(h-1, y+1); yy++ {
		for xx := max(0, x-1); xx <= min(w-1, x+1); xx++ {
			if mask[yy*w+xx] {
				return true
			}
		}
	}
	return false
}
