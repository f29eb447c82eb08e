package print

import "image"

// What of a blank's picture is print, in steps of 255. A photocopy's paper is a grainy grey: taken for print, it hides
// pencil wherever it lies, and rows are lost.
const (
	grainMostGrey  = 40   // paper is not taken to be greyer: a form may be shaded all over
	grainMostNoise = 16.0 // nor grainier
	grainStands    = 5.0  // standard deviations by which a px stands out of the grain by itself,
	grainStandsNew = 4.0  // and with the eight around it, whose mean has a third of the grain
	grainLeast     = 24.0 // and at least so much: a hairline through the middle of nine px
	grainSpeckPx   = 4    // fewer px together are a speck
	grainTileMM    = 12.0 // paper and its grain are measured in tiles so wide: shade differs over a picture
)

// printOf returns how dark the print is, row by row without gaps: 0 is paper, 255 black. Paper is what most of its
// surroundings are; print is what stands out of its grain, its soft edges too.
func printOf(img *image.Gray, pxPerMM float64) []uint8 {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	dark := make([]uint8, w*h)
	for y := range h {
		for x, g := range img.Pix[y*img.Stride : y*img.Stride+w] {
			dark[y*w+x] = 255 - g
		}
	}
	grain := grainsOf(dark, w, h, pxPerMM)
	mean := meanOfNine(dark, w, h)
	stands := make([]bool, len(dark))
	for i, d := range dark {
		grey, noise := grain.at(i%w, i/w)
		stands[i] = float64(d) > grey+max(255/8, grainStands*noise) || mean[i] > grey+max(grainLeast, grainStandsNew*noise/3)
	}
	dropSpecks(stands, w, h)
	out := make([]uint8, len(dark))
	for i, d := range dark {
		if near(stands, i, w, h) {
			grey, _ := grain.at(i%w, i/w)
			out[i] = uint8(max(0, (float64(d)-grey)*255/(255-grey)) + 0.5)
		}
	}
	return out
}

// grains are the paper's darkness and its standard deviation, tile by tile.
type grains struct {
	tile, nx, ny int
	grey, noise  []float64
}

func grainsOf(dark []uint8, w, h int, pxPerMM float64) grains {
	g := grains{tile: max(8, int(grainTileMM*pxPerMM))}
	g.nx, g.ny = max(1, (w+g.tile/2)/g.tile), max(1, (h+g.tile/2)/g.tile) // the last one takes the rest
	for j := range g.ny {
		for i := range g.nx {
			t := image.Rect(i*g.tile, j*g.tile, (i+1)*g.tile, (j+1)*g.tile)
			if i == g.nx-1 {
				t.Max.X = w
			}
			if j == g.ny-1 {
				t.Max.Y = h
			}
			grey, noise := grainOf(dark, w, t.Intersect(image.Rect(0, 0, w, h)))
			g.grey, g.noise = append(g.grey, grey), append(g.noise, noise)
		}
	}
	return g
}

// at is what the paper is at a px, between the middles of the tiles.
func (g *grains) at(x, y int) (grey, noise float64) {
	fx := min(max((float64(x)+0.5)/float64(g.tile)-0.5, 0), float64(g.nx-1))
	fy := min(max((float64(y)+0.5)/float64(g.tile)-0.5, 0), float64(g.ny-1))
	i, j := min(int(fx), max(g.nx-2, 0)), min(int(fy), max(g.ny-2, 0))
	i1, j1 := min(i+1, g.nx-1), min(j+1, g.ny-1)
	tx, ty := fx-float64(i), fy-float64(j)
	between := func(v []float64) float64 {
		return (v[j*g.nx+i]*(1-tx)+v[j*g.nx+i1]*tx)*(1-ty) + (v[j1*g.nx+i]*(1-tx)+v[j1*g.nx+i1]*tx)*ty
	}
	return between(g.grey), between(g.noise)
}

// grainOf measures one tile. Print is the darker part of a picture, and white the end of its scale: what lies between,
// below the middle, is grain.
func grainOf(dark []uint8, w int, t image.Rectangle) (grey, noise float64) {
	const low, middle, apart = 0.20, 0.45, 0.75 // of all px, and how far apart in standard deviations where a tenth is print
	var hist [256]int
	for y := t.Min.Y; y < t.Max.Y; y++ {
		for _, d := range dark[y*w+t.Min.X : y*w+t.Max.X] {
			hist[d]++
		}
	}
	quantile := func(q float64) float64 {
		sum := 0
		for v, n := range hist {
			if sum += n; float64(sum) > q*float64(t.Dx()*t.Dy()) {
				return float64(v)
			}
		}
		return 0
	}
	grey = quantile(middle)
	noise = min((grey-quantile(low))/apart, grainMostNoise)
	return min(grey, grainMostGrey), noise
}

// meanOfNine is each px with its neighbours; beyond the edge the edge goes on.
func meanOfNine(dark []uint8, w, h int) []float64 {
	out := make([]float64, len(dark))
	for y := range h {
		for x := range w {
			sum := 0
			for v := y - 1; v <= y+1; v++ {
				for u := x - 1; u <= x+1; u++ {
					sum += int(dark[min(max(v, 0), h-1)*w+min(max(u, 0), w-1)])
				}
			}
			out[y*w+x] = float64(sum) / 9
		}
	}
	return out
}

// dropSpecks clears pieces of fewer than grainSpeckPx px.
func dropSpecks(stands []bool, w, h int) {
	seen := make([]bool, len(stands))
	var piece []int
	for start := range stands {
		if !stands[start] || seen[start] {
			continue
		}
		piece = append(piece[:0], start)
		seen[start] = true
		for k := 0; k < len(piece); k++ {
			x, y := piece[k]%w, piece[k]/w
			for v := max(0, y-1); v <= min(h-1, y+1); v++ {
				for u := max(0, x-1); u <= min(w-1, x+1); u++ {
					if i := v*w + u; stands[i] && !seen[i] {
						seen[i] = true
						piece = append(piece, i)
					}
				}
			}
		}
		if len(piece) < grainSpeckPx {
			for _, i := range piece {
				stands[i] = false
			}
		}
	}
}

// near reports whether px i or a neighbour stands.
func near(stands []bool, i, w, h int) bool {
	x, y := i%w, i/w
	for v := max(0, y-1); v <= min(h-1, y+1); v++ {
		for u := max(0, x-1); u <= min(w-1, x+1); u++ {
			if stands[v*w+u] {
				return true
			}
		}
	}
	return false
}
