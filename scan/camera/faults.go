package camera

import (
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// Cover is a thing that hides a part of the sheet: a box with rounded edges in the plane of the sheet,
// half HX long and half HY wide before it is grown by R, all in mm.
type Cover struct {
	What    string     `json:"what"` // fingertip, mitten, clip, snow
	X       float64    `json:"x"`
	Y       float64    `json:"y"`
	HX      float64    `json:"hx"`
	HY      float64    `json:"hy"`
	TurnDeg float64    `json:"turn_deg"`
	R       float64    `json:"r"`
	RGB     [3]float64 `json:"rgb"` // linear, of a white lamp's light
}

// distance is the distance in mm from the cover's edge, negative inside.
func (c Cover) distance(x, y float64) float64 {
	a := c.TurnDeg * math.Pi / 180
	dx, dy := x-c.X, y-c.Y
	u, v := math.Abs(dx*math.Cos(a)+dy*math.Sin(a))-c.HX, math.Abs(-dx*math.Sin(a)+dy*math.Cos(a))-c.HY
	return math.Hypot(math.Max(u, 0), math.Max(v, 0)) + math.Min(math.Max(u, v), 0) - c.R
}

// touches reports whether any of r lies nearer than gap mm to the cover.
func (c Cover) touches(r sheetmodel.Rect, gap float64) bool {
	const step = 1.0
	nx, ny := int(math.Ceil(float64(r.W)/step)), int(math.Ceil(float64(r.H)/step))
	for j := range ny + 1 {
		for i := range nx + 1 {
			x := float64(r.X) + float64(r.W)*float64(i)/float64(max(nx, 1))
			y := float64(r.Y) + float64(r.H)*float64(j)/float64(max(ny, 1))
			if c.distance(x, y) < gap {
				return true
			}
		}
	}
	return false
}

// Spot is a damp spot: an ellipse without a sharp edge.
type Spot struct {
	X, Y, RX, RY float64
	Share        float64
}

// suffer adds one fault to the shot and reports whether the scene had room for it.
func (s *Shot) suffer(kind FaultKind, amount float64, scene Scene, rng *rand.Rand) bool {
	w, h := float64(scene.W), float64(scene.H)
	switch kind {
	case Shadow:
		s.Light.Shadow = drawShadow(amount, w, h, s.Light, rng)
	case Glare:
		s.Light.Glare = Blob{X: w * rng.Float64(), Y: h * rng.Float64(), R: 15 + 25*rng.Float64(), Amount: amount}
	case Motion:
		s.MotionShare = amount
	case Dusk:
		s.NoiseShare = amount
	case Fingertip:
		return s.fingertip(amount, scene, rng)
	case Clip:
		// The jaw lies on the paper, its handle stands up behind it over the board.
		x, wide, metal := w/2+0.15*w*(2*rng.Float64()-1), 28+30*rng.Float64(), grey(0.2+0.35*rng.Float64())
		s.Covers = append(s.Covers,
			Cover{What: "clip", X: x, Y: amount - 24, HX: 0.45 * wide, HY: 14, R: 3, RGB: metal},
			Cover{What: "clip", X: x, Y: amount/2 - 4, HX: wide, HY: amount/2 + 2, R: 2, RGB: metal})
	case SecondCard:
		s.second(w, h, rng)
	case Damp:
		for range 1 + rng.IntN(4) {
			s.Damps = append(s.Damps, Spot{X: w * rng.Float64(), Y: h * rng.Float64(),
				RX: 5 + 13*rng.Float64(), RY: 5 + 13*rng.Float64(), Share: amount})
		}
	case Fold:
		s.Bend.FoldDeg = amount
		// Folded in halves or quarters: along an edge, near the middle.
		s.Bend.DirDeg = float64(90*rng.IntN(2)) + 2*rng.NormFloat64()
		s.Bend.FoldAt = 8 * (2*rng.Float64() - 1)
		s.Bend.FoldDir = float64(1 - 2*rng.IntN(2))
	}
	return true
}

func grey(v float64) [3]float64 { return [3]float64{v, v, v} }

// fingertip lays a thumb or mitten over an edge where it hides no mark and no row.
func (s *Shot) fingertip(reach float64, scene Scene, rng *rand.Rand) bool {
	for range 60 {
		c := drawFinger(rng)
		edge := rng.IntN(4)
		at := 0.08 + 0.84*rng.Float64()
		w, h := float64(scene.W), float64(scene.H)
		slant := 25 * (2*rng.Float64() - 1)
		// The tip reaches over the edge; the rest lies outside.
		switch edge {
		case 0:
			c.X, c.Y, c.TurnDeg = w*at, reach-c.R, 90+slant
		case 1:
			c.X, c.Y, c.TurnDeg = w*at, h-reach+c.R, -90+slant
		case 2:
			c.X, c.Y, c.TurnDeg = reach-c.R, h*at, slant
		default:
			c.X, c.Y, c.TurnDeg = w-reach+c.R, h*at, 180+slant
		}
		a := c.TurnDeg * math.Pi / 180
		c.X -= c.HX * math.Cos(a)
		c.Y -= c.HX * math.Sin(a)
		if keepsClear(c, scene.Marks, 0.5) && keepsClear(c, scene.Rows, 0.5) {
			s.Covers = append(s.Covers, c)
			s.addHand(scene)
			return true
		}
	}
	return false
}

// addHand makes the last cover, a finger, part of a hand with a sleeve, unless the ball of the hand would
// lie on the sheet.
func (s *Shot) addHand(scene Scene) {
	finger := &s.Covers[len(s.Covers)-1]
	a := finger.TurnDeg * math.Pi / 180
	tipX, tipY := finger.X+finger.HX*math.Cos(a), finger.Y+finger.HX*math.Sin(a)
	behind := func(what string, back, hx, hy, r float64) Cover {
		return Cover{What: what, X: tipX - back*math.Cos(a), Y: tipY - back*math.Sin(a), HX: hx, HY: hy, R: r,
			TurnDeg: finger.TurnDeg, RGB: finger.RGB}
	}
	long := 5 * finger.R
	palm := behind(finger.What, long+28, 18, 10+finger.R, 20)
	if palm.touches(sheetmodel.Rect{W: scene.W, H: scene.H}, 1) {
		return
	}
	finger.X, finger.Y, finger.HX = tipX-long/2*math.Cos(a), tipY-long/2*math.Sin(a), long/2
	sleeve := behind("sleeve", long+270, 200, 6+finger.R, 24)
	sleeve.RGB = [3]float64{0.05 + finger.RGB[2]/2, 0.06, 0.10}
	s.Covers = append(s.Covers, palm, sleeve)
}

func keepsClear(c Cover, rects []sheetmodel.Rect, gap float64) bool {
	for _, r := range rects {
		if c.touches(r, gap) {
			return false
		}
	}
	return true
}

func drawFinger(rng *rand.Rand) Cover {
	if rng.Float64() < 0.5 {
		tone := 0.25 + 0.75*rng.Float64()
		return Cover{What: "fingertip", HX: 300, R: 8 + 3*rng.Float64(), RGB: [3]float64{0.55 * tone, 0.32 * tone, 0.22 * tone}}
	}
	tones := [][3]float64{{0.03, 0.03, 0.04}, {0.35, 0.03, 0.04}, {0.04, 0.08, 0.3}, {0.35, 0.3, 0.2}}
	return Cover{What: "mitten", HX: 300, R: 14 + 8*rng.Float64(), RGB: tones[rng.IntN(len(tones))]}
}

// coverMark hides one registration mark under the end of a finger or a clot of snow, without hiding any
// of a row if there is room.
func (s *Shot) coverMark(scene Scene, rng *rand.Rand) {
	if len(scene.Marks) == 0 {
		return
	}
	m := scene.Marks[rng.IntN(len(scene.Marks))]
	c := m.Center()
	half := math.Hypot(float64(m.W), float64(m.H)) / 2
	w, h := float64(scene.W), float64(scene.H)
	for range 60 {
		f := drawFinger(rng)
		f.R = math.Max(f.R, half+0.5)
		// In from the edge that is nearest, over the mark.
		f.TurnDeg = inward(float64(c.X), float64(c.Y), w, h) + 50*(2*rng.Float64()-1)
		a := f.TurnDeg * math.Pi / 180
		back := f.HX - (f.R-half)*rng.Float64()
		f.X, f.Y = float64(c.X)-back*math.Cos(a), float64(c.Y)-back*math.Sin(a)
		if keepsClear(f, scene.Rows, 0.5) {
			s.Covers = append(s.Covers, f)
			s.addHand(scene)
			return
		}
	}
	s.Covers = append(s.Covers, Cover{What: "snow", X: float64(c.X), Y: float64(c.Y), R: half + 0.3, RGB: [3]float64{0.85, 0.88, 0.92}})
}

// inward is the direction from the nearest edge to the point, in degrees.
func inward(x, y, w, h float64) float64 {
	d := []float64{x, w - x, y, h - y}
	dir := []float64{0, 180, 90, 270}
	best := 0
	for i := range d {
		if d[i] < d[best] {
			best = i
		}
	}
	return dir[best]
}

// second lays another card beside this one, or a little under it; place makes room for the share that shows.
func (s *Shot) second(w, h float64, rng *rand.Rand) {
	gap := -6 + 10*rng.Float64()
	turn := 8 * rng.NormFloat64()
	along := 0.3 * h * (2*rng.Float64() - 1)
	if rng.Float64() < 0.5 {
		s.Second = &Second{At: sheetmodel.SheetPoint{X: sheetmodel.MM(w + gap), Y: sheetmodel.MM(along)}, TurnDeg: turn}
		return
	}
	// To the left: its right edge is at -gap.
	s.Second = &Second{At: sheetmodel.SheetPoint{X: sheetmodel.MM(-gap - w), Y: sheetmodel.MM(along)}, TurnDeg: turn}
}
