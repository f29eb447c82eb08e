package camera

import (
	"image"
	"math"

	"gatefold/sheetmodel"
)

// tile is the side in px of the squares over whose corners geometry and light are computed; between
// them both are interpolated. Within 8 px paper bends by less than 0.01 mm.
const tile = 8

// corner is what is known at one corner of a tile.
type corner struct {
	x, y  float32 // on the sheet, mm
	fx    float32 // on the plane of the table, mm
	fy    float32
	light float32
	add   float32 // glare
	seen  bool    // false above the horizon
}

// scene is what render needs of a view and a sheet.
type scene struct {
	v      *View
	page   *plane
	ground texture
	fibre  []float32
	second func(x, y float64) (light, cov float32)
	edgeMM float64         // softness of the paper's edge
	only   sheetmodel.Rect // the part of the sheet that is wanted, if not all
}

// corners computes the lattice of tile corners for a part of the photo.
func (sc *scene) corners(r image.Rectangle) ([]corner, int) {
	nx, ny := (r.Dx()+tile-1)/tile+1, (r.Dy()+tile-1)/tile+1
	out := make([]corner, nx*ny)
	bands(ny, func(from, to int) {
		for j := from; j < to; j++ {
			for i := range nx {
				out[j*nx+i] = sc.v.corner(float64(r.Min.X+i*tile), float64(r.Min.Y+j*tile))
			}
		}
	})
	return out, nx
}

func (v *View) corner(px, py float64) corner {
	fx, fy, ok := v.flat(px, py, 0)
	if !ok {
		return corner{}
	}
	s := &v.shot
	x, y := fx, fy
	n := [3]float64{0, 0, 1}
	if v.near(fx, fy) {
		if gx, gy, good := v.flat(px, py, v.restMM); good {
			x, y = v.refine(px, py, gx, gy)
		}
		n[0], n[1], n[2] = v.surf.normal(x, y)
		// Beside the sheet the table takes over little by little, so that fingers and shadows have no step.
		off := smoothstep((max(math.Abs(x)-v.halfW, math.Abs(y)-v.halfH) - 5) / 18)
		x, y = x+off*(fx-x), y+off*(fy-y)
	}
	sx, sy := x+v.halfW, y+v.halfH
	w, h := 2*v.halfW, 2*v.halfH
	l := s.Light.at(sx, sy, w, h, n)
	u := math.Hypot(px-v.midX, py-v.midY) / math.Hypot(float64(s.W), float64(s.H)) * 2
	l *= 1 - s.Light.Vignette*u*u
	for _, d := range s.Damps {
		q := math.Hypot((sx-d.X)/d.RX, (sy-d.Y)/d.RY)
		wet := 1 - smoothstep((q-0.85)/0.3)
		l *= math.Pow(1-d.Share*wet, gamma)
	}
	return corner{x: float32(sx), y: float32(sy), fx: float32(fx + v.halfW), fy: float32(fy + v.halfH),
		light: float32(l), add: float32(s.Light.glare(sx, sy)), seen: true}
}

// render fills out with linear light, channels at a time for each px of r: one grey channel or three
// colours. White, flat, lit paper is 1.
func (sc *scene) render(r image.Rectangle, channels int) []float32 {
	lattice, nx := sc.corners(r)
	w := r.Dx()
	out := make([]float32, w*r.Dy()*channels)
	bands((r.Dy()+tile-1)/tile, func(from, to int) {
		for tj := from; tj < to; tj++ {
			for ti := range (w + tile - 1) / tile {
				c := [4]*corner{&lattice[tj*nx+ti], &lattice[tj*nx+ti+1], &lattice[(tj+1)*nx+ti], &lattice[(tj+1)*nx+ti+1]}
				sc.tile(out, r, ti*tile, tj*tile, c, channels)
			}
		}
	})
	return out
}

// tile renders one tile whose top left px is (x0, y0) of the part.
func (sc *scene) tile(out []float32, r image.Rectangle, x0, y0 int, c [4]*corner, channels int) {
	w, h := r.Dx(), r.Dy()
	if !c[0].seen || !c[1].seen || !c[2].seen || !c[3].seen {
		for y := y0; y < min(y0+tile, h); y++ {
			for x := x0 * channels; x < min(x0+tile, w)*channels; x++ {
				out[y*w*channels+x] = 0.5 // haze above the horizon
			}
		}
		return
	}
	s := &sc.v.shot
	sheetW, sheetH := float64(s.SheetW), float64(s.SheetH)
	if sc.only.W > 0 && sc.outside(c) {
		for y := y0; y < min(y0+tile, h); y++ {
			for x := x0 * channels; x < min(x0+tile, w)*channels; x++ {
				out[y*w*channels+x] = c[0].light // nobody looks there
			}
		}
		return
	}
	covers := coversNear(sc.v.shot.Covers, c[0].x, c[0].y, c[3].x, c[3].y)
	fold := s.Bend.FoldDeg > 0 && sc.foldNear(c)
	if !fold && len(covers) == 0 && sc.inside(c) {
		sc.plain(out, w, h, x0, y0, c, channels)
		return
	}
	for y := y0; y < min(y0+tile, h); y++ {
		t := float32(y-y0) / tile
		l := lerpCorner(c[0], c[2], t)
		m := lerpCorner(c[1], c[3], t)
		for x := x0; x < min(x0+tile, w); x++ {
			k := lerpCorner(&l, &m, float32(x-x0)/tile)
			sx, sy := float64(k.x), float64(k.y)
			in := min(sx, sheetW-sx, sy, sheetH-sy) // mm from the edge
			px := out[(y*w+x)*channels : (y*w+x+1)*channels]
			cov := in/sc.edgeMM + 0.5
			paper := float32(0)
			if cov > 0 {
				paper = sc.page.at(sx, sy) * (1 + 0.012*sc.fibreAt(sx, sy))
				if fold {
					if d := sc.v.surf.fromFold(sx-sc.v.halfW, sy-sc.v.halfH); d < 1.2 {
						paper *= float32(1 - 0.10*math.Exp(-d*d/(2*0.3*0.3)))
					}
				}
				paper = paper*k.light + k.add
				for ch := range px {
					px[ch] = paper
				}
			}
			if cov < 1 {
				bg := sc.beside(k, -in)
				cv := float32(math.Max(0, cov))
				if channels == 1 {
					px[0] = cv*paper + (1-cv)*(0.3*bg[0]+0.6*bg[1]+0.1*bg[2])
				} else {
					for ch := range px {
						px[ch] = cv*paper + (1-cv)*bg[ch]
					}
				}
			}
			for _, cover := range covers {
				sc.lay(px, cover, sx, sy, k.light)
			}
		}
	}
}

// inside reports whether the tile lies on the sheet, off its edge.
func (sc *scene) inside(c [4]*corner) bool {
	rim := float32(sc.edgeMM/2 + 0.5)
	w, h := float32(sc.v.shot.SheetW)-rim, float32(sc.v.shot.SheetH)-rim
	for _, k := range c {
		if k.x < rim || k.y < rim || k.x > w || k.y > h {
			return false
		}
	}
	return true
}

// foldNear reports whether the crease may run through the tile.
func (sc *scene) foldNear(c [4]*corner) bool {
	for _, k := range c {
		if sc.v.surf.fromFold(float64(k.x)-sc.v.halfW, float64(k.y)-sc.v.halfH) < 4+tile/sc.v.shot.PxPerMM {
			return true
		}
	}
	return false
}

// outside reports whether the tile shows nothing of the part of the sheet that is wanted.
func (sc *scene) outside(c [4]*corner) bool {
	x0, x1 := min(c[0].x, c[1].x, c[2].x, c[3].x), max(c[0].x, c[1].x, c[2].x, c[3].x)
	y0, y1 := min(c[0].y, c[1].y, c[2].y, c[3].y), max(c[0].y, c[1].y, c[2].y, c[3].y)
	r := sc.only
	return x1 < float32(r.X) || y1 < float32(r.Y) || x0 > float32(r.X+r.W) || y0 > float32(r.Y+r.H)
}

// plain renders a tile that shows paper only: most of a photo.
func (sc *scene) plain(out []float32, w, h, x0, y0 int, c [4]*corner, channels int) {
	for y := y0; y < min(y0+tile, h); y++ {
		t := float32(y-y0) / tile
		l, m := lerpCorner(c[0], c[2], t), lerpCorner(c[1], c[3], t)
		dx, dy, dl, da := (m.x-l.x)/tile, (m.y-l.y)/tile, (m.light-l.light)/tile, (m.add-l.add)/tile
		row := out[(y*w+x0)*channels : (y*w+min(x0+tile, w))*channels]
		for i := 0; i < len(row); i += channels {
			sx, sy := float64(l.x), float64(l.y)
			v := sc.page.at(sx, sy)*(1+0.012*sc.fibreAt(sx, sy))*l.light + l.add
			for ch := range channels {
				row[i+ch] = v
			}
			l.x, l.y, l.light, l.add = l.x+dx, l.y+dy, l.light+dl, l.add+da
		}
	}
}

func lerpCorner(a, b *corner, t float32) corner {
	return corner{
		x: a.x + t*(b.x-a.x), y: a.y + t*(b.y-a.y), fx: a.fx + t*(b.fx-a.fx), fy: a.fy + t*(b.fy-a.fy),
		light: a.light + t*(b.light-a.light), add: a.add + t*(b.add-a.add),
	}
}

// beside is the light from what lies beside the sheet, out mm from its edge.
func (sc *scene) beside(k corner, out float64) [3]float32 {
	fx, fy := float64(k.fx), float64(k.fy)
	// The sheet keeps some sky from the ground right beside it.
	dim := k.light
	if out < 9 {
		dim *= float32(1 - 0.4*math.Exp(-max(0, out)/1.5))
	}
	g := sc.ground.at(fx, fy)
	if sc.second != nil {
		v, cov := sc.second(fx, fy)
		for ch := range g {
			g[ch] += cov * (v - g[ch])
		}
	}
	return [3]float32{g[0] * dim, g[1] * dim, g[2] * dim}
}

// fibreAt is the paper's cloudy look.
func (sc *scene) fibreAt(x, y float64) float32 {
	const m = fibreSide - 1
	return sc.fibre[(int(y*fibrePxPerMM)&m)*fibreSide+int(x*fibrePxPerMM)&m]
}

// coversNear lists the covers that may reach into the tile with these first and last corners, in mm.
func coversNear(covers []Cover, x0, y0, x1, y1 float32) []Cover {
	var out []Cover
	x, y := float64(x0+x1)/2, float64(y0+y1)/2
	reach := math.Hypot(float64(x1-x0), float64(y1-y0))/2 + 4
	for _, cover := range covers {
		if cover.distance(x, y) < reach {
			out = append(out, cover)
		}
	}
	return out
}

// lay puts a cover over px: rounded, lit like the sheet, with a soft dark rim where it touches the paper.
func (sc *scene) lay(px []float32, c Cover, x, y float64, light float32) {
	d := c.distance(x, y)
	if d > 3 {
		return
	}
	soft := math.Max(sc.edgeMM, 0.15)
	cov := float32(math.Max(0, math.Min(1, 0.5-d/soft)))
	rim := float32(1 - 0.35*math.Exp(-math.Max(0, d)/1.2)*math.Min(1, 0.2+c.R/8))
	round := float32(0.55 + 0.45*smoothstep(-d/(0.6*c.R+1)))
	grain := 1 + 0.05*sc.fibreAt(x*0.7, y*0.7)
	colour := c.RGB
	for ch := range px {
		v := float32(colour[ch%3])
		if len(px) == 1 {
			v = float32(0.3*colour[0] + 0.6*colour[1] + 0.1*colour[2])
		}
		px[ch] = px[ch]*rim*(1-cov) + v*light*round*grain*cov
	}
}

// secondCard looks up the other card with the same sheet's print; cov is how much of it is there.
func secondCard(s *Shot, page *plane, edgeMM float64) func(x, y float64) (light, cov float32) {
	if s.Second == nil {
		return nil
	}
	a := s.Second.TurnDeg * math.Pi / 180
	sin, cos := math.Sin(a), math.Cos(a)
	at, w, h := s.Second.At, float64(s.SheetW), float64(s.SheetH)
	return func(x, y float64) (light, cov float32) {
		dx, dy := x-float64(at.X), y-float64(at.Y)
		u, v := dx*cos+dy*sin, -dx*sin+dy*cos
		in := math.Min(math.Min(u, w-u), math.Min(v, h-v))
		cov = float32(math.Max(0, math.Min(1, in/edgeMM+0.5)))
		if cov == 0 {
			return 0, 0
		}
		return page.at(u, v), cov
	}
}

const (
	fibreSide    = 256
	fibrePxPerMM = 6
)

func (v *View) newScene(sheet Sheet, area sheetmodel.Rect) *scene {
	s := &v.shot
	sc := &scene{v: v, page: s.blurred(sheet, area), ground: groundTexture(s.Ground), fibre: fibreTile()}
	sc.edgeMM = math.Max(1/s.PxPerMM, 2.5*s.BlurSigmaMM)
	sc.second = secondCard(s, sc.page, sc.edgeMM)
	return sc
}
