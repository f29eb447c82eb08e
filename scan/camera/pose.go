package camera

import (
	"image"
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// place puts the camera so that the sheet has the drawn px/mm and a margin to the picture's edge of
// margin long sides at least; room (0 to 1 each) says where the sheet lies in the space that is left.
// focal is the focal length in long sides of the picture: 0.75 to 0.95 are main cameras of phones.
func (s *Shot) place(scene Scene, margin, focal float64, room [2]float64) {
	surf := s.surface()
	s.CameraMM = [3]float64{0, 0, 400}
	var lo, hi [2]float64
	frame := [2]float64{1 / focal, 0.75 / focal} // of the picture, in focal lengths
	if scene.Frame.X > 0 && scene.Frame.Y > 0 {
		frame[1] = frame[0] * float64(scene.Frame.Y) / float64(scene.Frame.X)
	}
	s.FocalPx, s.W, s.H = 1, 0, 0
	const rounds = 60 // steep shots near a folded sheet converge slowly
	for k := range rounds {
		v := s.viewOn(surf)
		lo, hi = v.extent(s.reachOut())
		w, h := hi[0]-lo[0], hi[1]-lo[1]
		if k == 0 && h > w {
			frame[0], frame[1] = frame[1], frame[0]
		}
		pad := 2 * margin / focal
		var factor float64
		if f := scene.Frame; f.X > 0 {
			nearer := math.Max(w/(frame[0]-pad), h/(frame[1]-pad))
			// A frame of given size may be more than the sheet needs.
			v.focal = float64(max(f.X, f.Y)) * focal
			factor = math.Max(nearer, v.pxPerMM()/s.PxPerMM)
		} else {
			// Pictures are from 4:3 to square, as the sheet needs.
			long := btoi(frame[1] > frame[0])
			ext := [2]float64{w, h}
			scale := ext[long] / (frame[long] - pad)
			factor = math.Max(scale, ext[1-long]/(frame[long]-pad))
			need := ext[1-long]/scale + pad
			frame[1-long] = math.Min(1, math.Max(0.75, need/frame[long])) * frame[long]
		}
		s.CameraMM[2] *= math.Sqrt(factor) // half steps: the shift below changes the extent again
		moved := math.Abs(factor - 1)
		// Shift the sheet to its place in what is left.
		for a := range 2 {
			slack := frame[a] - pad - (hi[a] - lo[a])
			want := -frame[a]/2 + pad/2 + math.Max(0, slack)*room[a] + (hi[a]-lo[a])/2
			shift := 0.7 * (want - (lo[a]+hi[a])/2)
			s.CameraMM[a] += shift * s.CameraMM[2]
			moved += math.Abs(shift)
		}
		if moved < 1e-4 && k > 4 {
			break
		}
	}
	v := s.viewOn(surf)
	if scene.Frame.X > 0 {
		long, short := max(scene.Frame.X, scene.Frame.Y), min(scene.Frame.X, scene.Frame.Y)
		s.FocalPx = float64(long) * focal
		s.W, s.H = long, short
		if frame[1] > frame[0] {
			s.W, s.H = short, long
		}
	} else {
		s.FocalPx = s.PxPerMM / v.pxPerMM()
		long := s.FocalPx / focal
		s.W, s.H = int(math.Round(long*frame[0]*focal)), int(math.Round(long*frame[1]*focal))
	}
	if scene.Frame.X > 0 {
		s.PxPerMM = s.View().pxPerMM()
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// reachOut lists points beyond the sheet that shall be in the picture too: of a second card, the share
// that shows.
func (s *Shot) reachOut() []sheetmodel.SheetPoint {
	if s.Staging != nil {
		var out []sheetmodel.SheetPoint
		for _, p := range s.Staging.reach {
			out = append(out, sheetmodel.SheetPoint{X: s.SheetW/2 + sheetmodel.MM(p[0]), Y: s.SheetH/2 + sheetmodel.MM(p[1])})
		}
		return out
	}
	if s.Second == nil {
		return nil
	}
	share := 0.0
	for _, f := range s.Faults {
		if f.Kind == SecondCard {
			share = f.Amount
		}
	}
	w, h := float64(s.SheetW), float64(s.SheetH)
	x := w + share*w
	if s.Second.At.X < 0 {
		x = -share * w
	}
	return []sheetmodel.SheetPoint{{X: sheetmodel.MM(x), Y: sheetmodel.MM(0.3 * h)}, {X: sheetmodel.MM(x), Y: sheetmodel.MM(0.7 * h)}}
}

// extent returns the box around the sheet's outline and more, in the photo as measured from its middle.
func (v *View) extent(more []sheetmodel.SheetPoint) (lo, hi [2]float64) {
	lo, hi = [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, p := range append(v.outline(12), more...) {
		q := v.paperPoint(p)
		x, y := q.X-v.midX, q.Y-v.midY
		lo = [2]float64{math.Min(lo[0], x), math.Min(lo[1], y)}
		hi = [2]float64{math.Max(hi[0], x), math.Max(hi[1], y)}
	}
	return lo, hi
}

// outline returns n points on each edge of the sheet, clockwise from the top left.
func (v *View) outline(n int) []sheetmodel.SheetPoint {
	return edgePoints(sheetmodel.Rect{W: v.shot.SheetW, H: v.shot.SheetH}, n)
}

func edgePoints(r sheetmodel.Rect, n int) []sheetmodel.SheetPoint {
	out := make([]sheetmodel.SheetPoint, 0, 4*n)
	corners := [5]sheetmodel.SheetPoint{{X: r.X, Y: r.Y}, {X: r.X + r.W, Y: r.Y}, {X: r.X + r.W, Y: r.Y + r.H}, {X: r.X, Y: r.Y + r.H}, {X: r.X, Y: r.Y}}
	for e := range 4 {
		a, b := corners[e], corners[e+1]
		for i := range n {
			t := sheetmodel.MM(float64(i) / float64(n))
			out = append(out, sheetmodel.SheetPoint{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)})
		}
	}
	return out
}

// PxPerMM returns how large the photo shows the card: the square root of its area in px² over its area in mm².
func (v *View) PxPerMM() float64 { return v.pxPerMM() }

// pxPerMM is the square root of the sheet's area in px² over its area in mm².
func (v *View) pxPerMM() float64 {
	pts := v.outline(12)
	area := 0.0
	for i := range pts {
		p, q := v.paperPoint(pts[i]), v.PhotoFromSheet(pts[(i+1)%len(pts)])
		area += p.X*q.Y - q.X*p.Y
	}
	return math.Sqrt(math.Abs(area) / 2 / (float64(v.shot.SheetW) * float64(v.shot.SheetH)))
}

// pushOut moves the camera until the rows' area reaches beyond one edge of the picture by out mm.
func (s *Shot) pushOut(scene Scene, out float64, rng *rand.Rand) {
	area := sheetmodel.Rect{W: scene.W, H: scene.H}.Grow(-10)
	for i, r := range scene.Rows {
		if i == 0 {
			area = r
		} else {
			area = area.Union(r)
		}
	}
	side := rng.IntN(4)
	for range 8 {
		v := s.View()
		lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
		for _, p := range edgePoints(area, 8) {
			q := v.PhotoFromSheet(p)
			lo = [2]float64{math.Min(lo[0], q.X), math.Min(lo[1], q.Y)}
			hi = [2]float64{math.Max(hi[0], q.X), math.Max(hi[1], q.Y)}
		}
		px := out * s.PxPerMM
		move := 0.0
		switch side {
		case 0, 1:
			move = -px - lo[side]
		case 2:
			move = float64(s.W) + px - hi[0]
		default:
			move = float64(s.H) + px - hi[1]
		}
		s.CameraMM[side%2] += move * s.CameraMM[2] / s.FocalPx
	}
}

// InFrame reports whether p lies in the picture, border pixels excluded.
func (s *Shot) InFrame(p sheetmodel.PhotoPoint) bool {
	b := image.Rect(0, 0, s.W, s.H)
	return p.X >= 1 && p.Y >= 1 && p.X <= float64(b.Max.X-2) && p.Y <= float64(b.Max.Y-2)
}
