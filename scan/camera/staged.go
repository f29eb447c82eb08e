package camera

import (
	"image"
	"math"

	"gatefold/sheetmodel"
)

// stage renders a staged shot: the ground, the cards on it from the lowest up, a sleeve and what covers
// them, all in the light of one sun.
type stage struct {
	v      *View
	st     *Staging
	layers []*layer // lowest first
	ground texture
	lumps  []float32 // unevenness of snow
	fibre  []float32
	sun    [3]float64
	edgeMM float64
	rect   image.Rectangle
	nx     int
	lights []groundCorner
	drops  map[[2]int][]Hole
	// backLies says that the picture behind is as wide as this card is high.
	backLies bool
}

// layer is one card.
type layer struct {
	pose   *pose
	seen   *plane
	behind *plane // nil: nothing shows through
	box    image.Rectangle
	at     []paperCorner // of the tiles in box, row by row
	first  bool          // the card that the shot is of
}

// groundCorner is what is known of the table at a tile's corner.
type groundCorner struct {
	fx, fy float32 // first card's mm
	fall   float32 // share of light that reaches this place, lens included
	q      float32 // distance from shadow, in widths of its edge
	seen   bool
}

// paperCorner is what is known of a card at a tile's corner.
type paperCorner struct {
	x, y        float32 // mm on its paper
	sky, direct float32
	q           float32
	wet, glare  float32
}

func (v *View) newStage(cards []Pictures) *stage {
	s := &v.shot
	sg := &stage{v: v, st: s.Staging, ground: groundTexture(s.Ground), fibre: fibreTile(), sun: s.Light.sunDir()}
	sg.edgeMM = math.Max(1/s.PxPerMM, 2.5*s.BlurSigmaMM)
	sg.rect = image.Rect(0, 0, s.W, s.H)
	if s.Ground == Snow {
		sg.lumps = lumpTile()
	}
	poses := v.poses()
	for i, p := range poses {
		l := &layer{pose: p, first: i == 0}
		area := sheetmodel.Rect{W: p.view.shot.SheetW, H: p.view.shot.SheetH}.Grow(2)
		l.seen = p.view.shot.blurred(cards[i].Seen, area)
		if b := cards[i].Behind; b != nil && i == 0 && s.Staging.Through+s.Staging.WetThrough > 0 {
			hazy := p.view.shot
			hazy.BlurSigmaMM, hazy.MotionShare = math.Hypot(hazy.BlurSigmaMM, 0.35), 0
			bb := b.Image.Bounds()
			back := sheetmodel.Rect{W: sheetmodel.MM(float64(bb.Dx()) / b.PxPerMM), H: sheetmodel.MM(float64(bb.Dy()) / b.PxPerMM)}
			l.behind = hazy.blurred(*b, back)
			sg.backLies = (back.W > back.H) != (area.W > area.H)
		}
		sg.layers = append(sg.layers, l)
	}
	// This card lies on those beneath it.
	n := s.Staging.Beneath
	ordered := append([]*layer{}, sg.layers[1:1+n]...)
	ordered = append(ordered, sg.layers[0])
	sg.layers = append(ordered, sg.layers[1+n:]...)
	if sl := s.Staging.Sleeve; sl != nil {
		sg.drops = map[[2]int][]Hole{}
		for _, d := range sl.Drops {
			for j := int(math.Floor((d.Y - d.R) / dropCell)); j <= int(math.Floor((d.Y+d.R)/dropCell)); j++ {
				for i := int(math.Floor((d.X - d.R) / dropCell)); i <= int(math.Floor((d.X+d.R)/dropCell)); i++ {
					sg.drops[[2]int{i, j}] = append(sg.drops[[2]int{i, j}], d)
				}
			}
		}
	}
	sg.survey()
	return sg
}

// survey computes all tile corners.
func (sg *stage) survey() {
	w, h := sg.rect.Dx(), sg.rect.Dy()
	sg.nx = (w+tile-1)/tile + 1
	ny := (h+tile-1)/tile + 1
	sg.lights = make([]groundCorner, sg.nx*ny)
	bands(ny, func(from, to int) {
		for j := from; j < to; j++ {
			for i := range sg.nx {
				sg.lights[j*sg.nx+i] = sg.groundAt(float64(i*tile), float64(j*tile))
			}
		}
	})
	for _, l := range sg.layers {
		l.box = image.Rect(0, 0, sg.nx, ny)
		if !l.first {
			lo, hi := l.pose.view.extent(nil)
			v := l.pose.view
			l.box = image.Rect(int((lo[0]+v.midX)/tile)-1, int((lo[1]+v.midY)/tile)-1, int((hi[0]+v.midX)/tile)+3, int((hi[1]+v.midY)/tile)+3).Intersect(l.box)
		}
		bw := l.box.Dx()
		l.at = make([]paperCorner, bw*l.box.Dy())
		bands(l.box.Dy(), func(from, to int) {
			for j := from; j < to; j++ {
				for i := range bw {
					px, py := l.box.Min.X+i, l.box.Min.Y+j
					l.at[j*bw+i] = sg.paperAt(l, float64(px*tile), float64(py*tile), &sg.lights[py*sg.nx+px])
				}
			}
		})
	}
}

func (sg *stage) groundAt(px, py float64) groundCorner {
	v := sg.v
	fx, fy, ok := v.flat(px, py, 0)
	if !ok || math.Abs(fx)+math.Abs(fy) > 5000 {
		return groundCorner{}
	}
	s := &v.shot
	fall := 1.0
	if l := &s.Light; l.Fall > 0 {
		w, h := 2*v.halfW, 2*v.halfH
		sin, cos := math.Sincos(l.FallDeg * math.Pi / 180)
		reach := math.Abs(w*cos) + math.Abs(h*sin)
		t := (fx*cos+fy*sin)/reach + 0.5
		fall = 1 - l.Fall*math.Max(-0.3, math.Min(1.3, t))
	}
	u := math.Hypot(px-v.midX, py-v.midY) / math.Hypot(float64(s.W), float64(s.H)) * 2
	fall *= 1 - s.Light.Vignette*u*u
	return groundCorner{fx: float32(fx + v.halfW), fy: float32(fy + v.halfH), fall: float32(fall), q: float32(sg.clear(nil, fx, fy, 0)), seen: true}
}

// clear returns how far a point of space lies from any shadow, in widths of the shadow's edge. on is the
// card that the point is on, nil for the table.
func (sg *stage) clear(on *pose, x, y, h float64) float64 {
	q := 60.0
	p := [3]float64{x, y, h}
	for i := range sg.st.Bones {
		q = math.Min(q, sg.st.Bones[i].shade(p, sg.sun))
	}
	cot := math.Hypot(sg.sun[0], sg.sun[1]) / sg.sun[2]
	for _, l := range sg.layers {
		c := l.pose
		if c == on || on != nil && on.lift >= c.lift {
			continue
		}
		u, v := c.fromTable(x, y)
		out := math.Max(math.Abs(u)-c.view.halfW, math.Abs(v)-c.view.halfH)
		reach := (2*c.view.surf.mean+1)*cot + 3
		if out > reach || out < -reach-6 {
			continue
		}
		q = math.Min(q, c.castBy(x, y, h, sg.sun))
	}
	return math.Max(q, -60)
}

func (sg *stage) paperAt(l *layer, px, py float64, g *groundCorner) paperCorner {
	if !g.seen {
		return paperCorner{}
	}
	v := l.pose.view
	fx, fy := l.pose.fromTable(float64(g.fx)-sg.v.halfW, float64(g.fy)-sg.v.halfH)
	x, y := fx, fy
	n := [3]float64{0, 0, 1}
	worn, self := 0.0, 60.0
	h := 0.0
	if v.near(fx, fy) {
		if gx, gy, ok := v.flat(px, py, v.restMM); ok {
			x, y = v.refine(px, py, gx, gy)
		}
		m := v.surf.mesh
		at, share := m.between(x, y)
		n = [3]float64{}
		worn, self = 0, 0
		for k, i := range at {
			for a := range 3 {
				n[a] += float64(share[k] * m.normal[i][a])
			}
			worn += float64(share[k] * m.worn[i])
			self += float64(share[k] * m.sun[i])
		}
		var sx, sy float64
		sx, sy, h = m.at(x, y)
		tx, ty := l.pose.toTable(sx, sy)
		self = math.Min(self, sg.clear(l.pose, tx, ty, h))
		// Beside the sheet the table takes over little by little, so that fingers have no step.
		off := smoothstep((max(math.Abs(x)-v.halfW, math.Abs(y)-v.halfH) - 5) / 18)
		x, y = x+off*(fx-x), y+off*(fy-y)
	} else {
		self = float64(g.q)
	}
	lamp := &v.shot.Light
	sun := lamp.sunDir()
	direct := math.Max(0, dot(n, sun)) / sun[2]
	c := paperCorner{x: float32(x + v.halfW), y: float32(y + v.halfH), q: float32(self),
		sky: float32(lamp.Sky * (0.5 + 0.5*n[2]) * (1 - 0.16*worn)), direct: float32((1 - lamp.Sky) * direct * (1 - 0.16*worn))}
	if l.first {
		c.wet = float32(sg.st.wetAt(x+v.halfW, y+v.halfH))
		if sl := sg.st.Sleeve; sl != nil {
			c.glare = float32(sl.mirror(x, y, v.toCamera(x, y), v.shot.Seed))
		}
	}
	return c
}

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
	covers := sg.coversNear(own)
	for y := y0; y < min(y0+tile, h); y++ {
		ty := float32(y-y0) / tile
		for x := x0; x < min(x0+tile, w); x++ {
			tx := float32(x-x0) / tile
			share := [4]float32{(1 - tx) * (1 - ty), tx * (1 - ty), (1 - tx) * ty, tx * ty}
			px := out[3*(y*w+x) : 3*(y*w+x)+3]
			var fall float32
			for k, s := range share {
				fall += s * g[k].fall
			}
			if !whole {
				sg.table(px, g, share, fall, cards)
			}
			for i := range cards {
				sg.paper(px, &cards[i], share, fall)
			}
			if len(covers) > 0 {
				me := mix(own, share)
				for _, c := range covers {
					sg.lay(px, c, float64(me.x), float64(me.y), fall)
				}
			}
		}
	}
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

// table puts the ground into px.
func (sg *stage) table(px []float32, g [4]*groundCorner, share [4]float32, fall float32, cards []patchOf) {
	var fx, fy, q float32
	for k, s := range share {
		fx += s * g[k].fx
		fy += s * g[k].fy
		q += s * g[k].q
	}
	lamp := &sg.v.shot.Light
	light := (float32(lamp.Sky) + float32(1-lamp.Sky)*vis(q)) * fall
	// Cards keep some sky from the ground right beside them; snow gives its own light there.
	contact := float32(0.4)
	if sg.st.GroundGain > 0 {
		contact = 0.12
	}
	for i := range cards {
		k := mix(cards[i].c, share)
		out := float32(math.Max(0, -cards[i].l.pose.view.shot.inside(float64(k.x), float64(k.y))))
		if out < 9 {
			light *= 1 - contact*exp32(-out/1.5)
		}
	}
	c := sg.ground.at(float64(fx), float64(fy))
	gain := float32(1)
	if sg.st.GroundGain > 0 {
		gain = float32(sg.st.GroundGain)
	}
	if sg.lumps != nil {
		gain *= 1 + 0.045*lumpAt(sg.lumps, float64(fx), float64(fy))
	}
	for ch := range 3 {
		px[ch] = c[ch] * gain * light
	}
	if sl := sg.st.Sleeve; sl != nil {
		s := &sg.v.shot
		out := -min(float64(fx), float64(s.SheetW)-float64(fx), float64(fy), float64(s.SheetH)-float64(fy))
		sl.rim(px, out, light)
	}
}

func exp32(x float32) float32 { return float32(math.Exp(float64(x))) }

// paper lays a card over px.
func (sg *stage) paper(px []float32, p *patchOf, share [4]float32, fall float32) {
	k := mix(p.c, share)
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

func (sg *stage) coversNear(c [4]*paperCorner) []Cover {
	var out []Cover
	x, y := float64(c[0].x+c[3].x)/2, float64(c[0].y+c[3].y)/2
	reach := math.Hypot(float64(c[3].x-c[0].x), float64(c[3].y-c[0].y))/2 + 4
	for _, cover := range sg.v.shot.Covers {
		if cover.distance(x, y) < reach {
			out = append(out, cover)
		}
	}
	return out
}

// lay puts a cover over px: round, in the light of the same sun, with a dark rim where it touches the paper.
func (sg *stage) lay(px []float32, c Cover, x, y float64, fall float32) {
	d := c.distance(x, y)
	if d > 3 {
		return
	}
	soft := math.Max(sg.edgeMM, 0.15)
	cov := float32(math.Max(0, math.Min(1, 0.5-d/soft)))
	rim := float32(1 - 0.35*math.Exp(-math.Max(0, d)/1.2)*math.Min(1, 0.2+c.R/8))
	colour := c.RGB
	light := float32(0)
	if cov > 0 {
		// The way out of the cover is the way its surface leans.
		const e = 0.3
		gx, gy := (c.distance(x+e, y)-d)/e, (c.distance(x, y+e)-d)/e
		bulge := math.Max(2, c.R)
		if c.What == "clip" {
			bulge = 2.5
		}
		lean := math.Max(0, math.Min(0.97, 1+d/bulge))
		n := [3]float64{gx * lean, gy * lean, math.Sqrt(1 - lean*lean)}
		lamp := &sg.v.shot.Light
		sun := sg.sun
		lit := lamp.Sky*(0.35+0.65*n[2]) + (1-lamp.Sky)*math.Max(0, dot(n, sun))/math.Max(sun[2], 0.35)
		if c.What == "clip" || c.What == "fingertip" {
			half := [3]float64{sun[0], sun[1], sun[2] + 1}
			k := dot(n, half) / math.Sqrt(dot(half, half))
			gloss := 0.06
			if c.What == "clip" {
				gloss = 0.5
			}
			lit += gloss * math.Pow(math.Max(0, k), 24) / math.Max(0.2, colour[1])
		}
		if c.What == "fingertip" && c.HY == 0 {
			colour = c.nail(x, y)
		}
		light = float32(lit) * fall * (1 + 0.05*sg.grain(x*0.7, y*0.7))
	}
	for ch := range px {
		px[ch] = px[ch]*rim*(1-cov) + float32(colour[ch])*light*cov
	}
}

func (sg *stage) grain(x, y float64) float32 {
	const m = fibreSide - 1
	return sg.fibre[(int(y*fibrePxPerMM)&m)*fibreSide+int(x*fibrePxPerMM)&m]
}

// nail returns a finger's colour, lighter where its nail is.
func (c *Cover) nail(x, y float64) [3]float64 {
	sin, cos := math.Sincos(c.TurnDeg * math.Pi / 180)
	u, v := (x-c.X)*cos+(y-c.Y)*sin-c.HX, -(x-c.X)*sin+(y-c.Y)*cos
	q := math.Hypot((u+0.15*c.R)/(0.72*c.R), v/(0.62*c.R)) // a little behind the tip's middle
	k := 0.35 * (1 - smoothstep((q-0.9)/0.15))
	if u < -0.4*c.R {
		k *= 1 - smoothstep((-u/c.R-0.4)/0.3)
	}
	return [3]float64{c.RGB[0] + k*(0.62-c.RGB[0]), c.RGB[1] + k*(0.46-c.RGB[1]), c.RGB[2] + k*(0.42-c.RGB[2])}
}
