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
	var worn, self, h float64
	if v.near(fx, fy) {
		if gx, gy, ok := v.flat(px, py, v.restMM); ok {
			x, y = v.refine(px, py, gx, gy)
		}
		m := v.surf.mesh
		at, share := m.between(x, y)
		n = [3]float64{}
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
