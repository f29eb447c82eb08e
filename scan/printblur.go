package scan

import (
	"math"
	"sort"
)

// How sharp a photo is, where no mark of known shape is in sight: the form's own print is blurred by more
// and more, and what looks most like the photo says by how much. The blank form is softened already, so what
// is sharper than that counts as that.

const (
	blankSigma   = 0.2  // mm, of soften, and of a good scan
	blurPatches  = 24   // the best matched ones that are asked
	blurWindow   = 22   // px of the blank, half a patch
	blurMinScore = 0.55 // correlation
)

// extraBlur is what is added to the blank's own, mm.
var extraBlur = [...]float64{0, 0.12, 0.2, 0.28, 0.36, 0.46, 0.6, 0.8}

// printSharpness returns the median blur, σ in mm on paper, and the median contrast between print and paper
// over the best matched places; σ is infinite if there are none.
func printSharpness(v *view, f *face, paper *sheetMap, places []place) (sigma, contrast float64) {
	var best []*place
	for i := range places {
		if p := &places[i]; p.seen && p.inside && p.score > blurMinScore {
			best = append(best, p)
		}
	}
	sort.SliceStable(best, func(i, j int) bool { return best[i].score > best[j].score })
	var sigmas, contrasts []float64
	for _, p := range best[:min(len(best), blurPatches)] {
		s, c := placeBlur(v, f.blank, paper, p)
		sigmas, contrasts = append(sigmas, s), append(contrasts, c)
	}
	if len(sigmas) == 0 {
		return math.Inf(1), 0
	}
	sort.Float64s(sigmas)
	sort.Float64s(contrasts)
	return sigmas[len(sigmas)/2], contrasts[len(contrasts)/2]
}

func placeBlur(v *view, b *blank, paper *sheetMap, p *place) (sigma, contrast float64) {
	const margin = 12 // px: 3 σ of the widest, nearly
	const n = 2 * (blurWindow + margin)
	cx, cy := int(math.Round(float64(p.patch.center.X)*blankPxPerMM-0.5)), int(math.Round(float64(p.patch.center.Y)*blankPxPerMM-0.5))
	var ink [n * n]float64
	for y := range n {
		for x := range n {
			u, w := min(max(cx+x-n/2, 0), b.w-1), min(max(cy+y-n/2, 0), b.h-1)
			ink[y*n+x] = float64(b.ink[w*b.w+u])
		}
	}
	t := paper.tangent(v, p.patch.center)
	var grey [n * n]float64
	for y := margin; y < n-margin; y++ {
		for x := margin; x < n-margin; x++ {
			grey[y*n+x] = v.grey(t.at(float64(x-n/2)/blankPxPerMM, float64(y-n/2)/blankPxPerMM))
		}
	}
	fits := make([]float64, len(extraBlur))
	gains := make([]float64, len(extraBlur))
	for k, s := range extraBlur {
		soft := blurred(ink[:], n, s*blankPxPerMM)
		var count, sm, sg, smm, smg, sgg float64
		for y := margin; y < n-margin; y++ {
			for x := margin; x < n-margin; x++ {
				u, w := cx+x-n/2, cy+y-n/2
				if u < 0 || w < 0 || u >= b.w || w >= b.h || !b.near[w*b.w+u] {
					continue
				}
				i, g := soft[y*n+x], grey[y*n+x]
				count++
				sm, sg, smm, smg, sgg = sm+i, sg+g, smm+i*i, smg+i*g, sgg+g*g
			}
		}
		vm, vg, cov := smm/count-sm/count*sm/count, sgg/count-sg/count*sg/count, smg/count-sm/count*sg/count
		fits[k], gains[k] = -cov/math.Sqrt(max(vm*vg, 1e-9)), -cov/max(vm, 1e-9)
	}
	at := 0
	for k := range fits {
		if fits[k] > fits[at] {
			at = k
		}
	}
	extra := extraBlur[at]
	if at > 0 && at < len(fits)-1 {
		x0, x1, x2 := extraBlur[at-1], extraBlur[at], extraBlur[at+1]
		a, c := (fits[at]-fits[at-1])/(x1-x0), (fits[at+1]-fits[at])/(x2-x1)
		if d := (c - a) / (x2 - x0); d < 0 {
			extra = min(max((x0+x1)/2-a/(2*d), x0), x2)
		}
	}
	return math.Hypot(blankSigma, extra), gains[at]
}

// blurred returns an n × n picture blurred by sigma px.
func blurred(in []float64, n int, sigma float64) []float64 {
	if sigma == 0 {
		return in
	}
	reach := int(math.Ceil(3 * sigma))
	kernel := make([]float64, reach+1)
	sum := 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-float64(i*i) / (2 * sigma * sigma))
		sum += kernel[i]
		if i > 0 {
			sum += kernel[i]
		}
	}
	tmp, out := make([]float64, n*n), make([]float64, n*n)
	pass := func(from, to []float64, stride, line int) {
		for l := range n {
			for i := range n {
				v := 0.0
				for k := -reach; k <= reach; k++ {
					v += kernel[max(k, -k)] / sum * from[l*line+stride*min(max(i+k, 0), n-1)]
				}
				to[l*line+stride*i] = v
			}
		}
	}
	pass(in, tmp, 1, n)
	pass(tmp, out, n, 1)
	return out
}
