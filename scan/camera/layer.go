package camera

import (
	"image"
	"math"
)

// vis is the share of the sun that is seen q widths of a shadow's edge from its middle.
func vis(q float32) float32 {
	t := q + 0.5
	if t <= 0 {
		return 0
	}
	if t >= 1 {
		return 1
	}
	return t * t * (3 - 2*t)
}

// render returns linear light, three channels for each px.
func (sg *stage) render() []float32 {
	w, h := sg.rect.Dx(), sg.rect.Dy()
	out := make([]float32, 3*w*h)
	bands((h+tile-1)/tile, func(from, to int) {
		for tj := from; tj < to; tj++ {
			for ti := range (w + tile - 1) / tile {
				sg.tile(out, w, h, ti, tj)
			}
		}
	})
	return out
}

// patchOf is what one tile knows of one card.
type patchOf struct {
	l     *layer
	c     [4]*paperCorner
	solid bool // the tile shows nothing but this card
}

// here lists the cards that may be seen in a tile, lowest first; whole says that the lowest of them hides
// the ground.
func (sg *stage) here(ti, tj int) (list []patchOf, whole bool) {
	for k := len(sg.layers) - 1; k >= 0; k-- {
		l := sg.layers[k]
		if !(image.Pt(ti, tj).In(l.box) && image.Pt(ti+1, tj+1).In(l.box)) {
			continue
		}
		at := (tj-l.box.Min.Y)*l.box.Dx() + ti - l.box.Min.X
		c := [4]*paperCorner{&l.at[at], &l.at[at+1], &l.at[at+l.box.Dx()], &l.at[at+l.box.Dx()+1]}
		mx, my := float64(c[0].x+c[3].x)/2, float64(c[0].y+c[3].y)/2
		half := math.Max(math.Hypot(float64(c[3].x-c[0].x), float64(c[3].y-c[0].y)), math.Hypot(float64(c[2].x-c[1].x), float64(c[2].y-c[1].y)))/2 + sg.edgeMM
		in := l.pose.view.shot.inside(mx, my)
		if in < -half-8 {
			continue
		}
		list = append([]patchOf{{l, c, in > half}}, list...)
		if in > half {
			return list, true
		}
	}
	return list, false
}

func (sg *stage) tile(out []float32, w, h, ti, tj int) {
	x0, y0 := ti*tile, tj*tile
	g := [4]*groundCorner{&sg.lights[tj*sg.nx+ti], &sg.lights[tj*sg.nx+ti+1], &sg.lights[(tj+1)*sg.nx+ti], &sg.lights[(tj+1)*sg.nx+ti+1]}
	if !g[0].seen || !g[1].seen || !g[2].seen || !g[3].seen {
		for y := y0; y < min(y0+tile, h); y++ {
			for i := 3 * (y*w + x0); i < 3*(y*w+min(x0+tile, w)); i++ {
				out[i] = 0.5 // haze above the horizon
			}
		}
		return
	}
	cards, whole := sg.here(ti, tj)
	mine := sg.layers[sg.st.Beneath]
	at := tj*sg.nx + ti
	own := [4]*paperCorner{&mine.at[at], &mine.at[at+1], &mine.at[at+sg.nx], &mine.at[at+sg.nx+1]}
	covers := coversNear(sg.v.shot.Covers, own[0].x, own[0].y, own[3].x, own[3].y)
	n := min(tile, w-x0)
	var falls [tile]float32
	for y := y0; y < min(y0+tile, h); y++ {
		ty := float32(y-y0) / tile
		row := out[3*(y*w+x0) : 3*(y*w+x0+n)]
		left, right := g[0].fall+ty*(g[2].fall-g[0].fall), g[1].fall+ty*(g[3].fall-g[1].fall)
		for i := range n {
			falls[i] = left + float32(i)/tile*(right-left)
		}
		if !whole {
			sg.table(row, g, ty, &falls, cards)
		}
		for c := range cards {
			k, step := walk(cards[c].c, ty)
			for i := range n {
				sg.paper(row[3*i:3*i+3], &cards[c], &k, falls[i])
				k.add(&step)
			}
		}
		if len(covers) > 0 {
			k, step := walk(own, ty)
			for i := range n {
				for _, c := range covers {
					sg.lay(row[3*i:3*i+3], c, float64(k.x), float64(k.y), falls[i])
				}
				k.add(&step)
			}
		}
	}
}

// shares weighs a tile's corners.
func shares(tx, ty float32) [4]float32 {
	return [4]float32{(1 - tx) * (1 - ty), tx * (1 - ty), (1 - tx) * ty, tx * ty}
}

// walk returns what is known at the left end of a row of a tile, and the difference from px to px.
func walk(c [4]*paperCorner, ty float32) (k, step paperCorner) {
	k = mix(c, shares(0, ty))
	step = mix(c, shares(1, ty))
	step.add(&paperCorner{-k.x, -k.y, -k.sky, -k.direct, -k.q, -k.wet, -k.glare})
	const px = 1.0 / tile
	step = paperCorner{step.x * px, step.y * px, step.sky * px, step.direct * px, step.q * px, step.wet * px, step.glare * px}
	return k, step
}

func (k *paperCorner) add(d *paperCorner) {
	k.x, k.y, k.sky, k.direct, k.q, k.wet, k.glare = k.x+d.x, k.y+d.y, k.sky+d.sky, k.direct+d.direct, k.q+d.q, k.wet+d.wet, k.glare+d.glare
}

func mix(c [4]*paperCorner, share [4]float32) (k paperCorner) {
	for i, s := range share {
		k.x += s * c[i].x
		k.y += s * c[i].y
		k.sky += s * c[i].sky
		k.direct += s * c[i].direct
		k.q += s * c[i].q
		k.wet += s * c[i].wet
		k.glare += s * c[i].glare
	}
	return k
}

// table puts the ground into a row of a tile.
func (sg *stage) table(row []float32, g [4]*groundCorner, ty float32, falls *[tile]float32, cards []patchOf) {
	lamp := &sg.v.shot.Light
	sky, sun := float32(lamp.Sky), float32(1-lamp.Sky)
	var light [tile]float32
	n := len(row) / 3
	lerp := func(a, b, c, d float32) (from, step float32) {
		from, to := a+ty*(c-a), b+ty*(d-b)
		return from, (to - from) / tile
	}
	q, dq := lerp(g[0].q, g[1].q, g[2].q, g[3].q)
	for i := range n {
		light[i] = (sky + sun*vis(q+float32(i)*dq)) * falls[i]
	}
	// Cards keep some sky from the ground right beside them; snow gives its own light there.
	contact := float32(0.4)
	if sg.st.GroundGain > 0 {
		contact = 0.12
	}
	for c := range cards {
		k, step := walk(cards[c].c, ty)
		for i := range n {
			out := float32(math.Max(0, -cards[c].l.pose.view.shot.inside(float64(k.x), float64(k.y))))
			if out < 9 {
				light[i] *= 1 - contact*exp32(-out/1.5)
			}
			k.add(&step)
		}
	}
	gain := float32(1)
	if sg.st.GroundGain > 0 {
		gain = float32(sg.st.GroundGain)
	}
	x, dx := lerp(g[0].fx, g[1].fx, g[2].fx, g[3].fx)
	y, dy := lerp(g[0].fy, g[1].fy, g[2].fy, g[3].fy)
	for i := range n {
		fx, fy := float64(x+float32(i)*dx), float64(y+float32(i)*dy)
		l := gain * light[i]
		if sg.lumps != nil {
			l *= 1 + 0.045*lumpAt(sg.lumps, fx, fy)
		}
		c := sg.ground.at(fx, fy)
		px := row[3*i : 3*i+3]
		px[0], px[1], px[2] = c[0]*l, c[1]*l, c[2]*l
		if sl := sg.st.Sleeve; sl != nil {
			s := &sg.v.shot
			sl.rim(px, -min(fx, float64(s.SheetW)-fx, fy, float64(s.SheetH)-fy), light[i])
		}
	}
}

func exp32(x float32) float32 { return float32(math.Exp(float64(x))) }

// paper lays a card over px.
func (sg *stage) paper(px []float32, p *patchOf, k *paperCorner, fall float32) {
	l := p.l
	v := l.pose.view
	sx, sy := float64(k.x), float64(k.y)
	cov := float32(1)
	if !p.solid {
		if cov = min(1, float32(v.shot.inside(sx, sy)/sg.edgeMM+0.5)); cov <= 0 {
			return
		}
	}
	shine := float32(0)
	light := (k.sky + k.direct*vis(k.q)) * fall
	lx, ly := sx, sy
	if l.first && sg.drops != nil {
		for _, d := range sg.drops[[2]int{int(math.Floor(sx / dropCell)), int(math.Floor(sy / dropCell))}] {
			if dx, dy := sx-d.X, sy-d.Y; dx*dx+dy*dy < d.R*d.R {
				lx, ly, shine = d.bendsLight(sx, sy, sg.sun, &light)
			}
		}
	}
	u, w := v.inPrint(lx, ly)
	value := l.seen.at(u, w)
	if l.behind != nil {
		tau := sg.st.Through + float64(k.wet)*sg.st.WetThrough
		bx, by := sg.back(lx, ly)
		value *= 1 - float32(tau)*(1-l.behind.at(bx, by))
	}
	const m = fibreSide - 1
	value *= 1 + 0.012*sg.fibre[(int(sy*fibrePxPerMM)&m)*fibreSide+int(sx*fibrePxPerMM)&m]
	if l.first {
		for _, c := range sg.st.Relief.Creases {
			if d := c.off(sx-v.halfW, sy-v.halfH); d > -1 && d < 1 {
				value *= float32(1 - 0.10*math.Exp(-d*d/(2*0.25*0.25)))
			}
		}
		if k.wet > 0 {
			value *= 1 - k.wet*sg.damp()
		}
	}
	value *= light
	if l.first && sg.st.Sleeve != nil {
		value = value*0.93 + 0.02*fall + k.glare*fall + shine*fall
	}
	for ch := range 3 {
		px[ch] += cov * (value - px[ch])
	}
}

// damp is the share of light that fully wet paper loses.
func (sg *stage) damp() float32 {
	if len(sg.st.Wets) == 0 {
		return 0
	}
	return float32(1 - math.Pow(1-sg.st.Wets[0].Share, gamma))
}

// back returns the place on the back side's picture that lies behind a place of the paper.
func (sg *stage) back(x, y float64) (float64, float64) {
	s := &sg.v.shot
	w, h := float64(s.SheetW), float64(s.SheetH)
	x = w - x // turned over the long edge of an upright card
	if sg.st.BackTurned {
		x, y = w-x, h-y
	}
	if sg.backLies { // landscape behind portrait, or the other way round
		return y, w - x
	}
	return x, y
}
