package camera

import (
	"math"
	"sync"

	"gatefold/sheetmodel"
)

// View is a shot made ready: the maps between sheet and photo, and the camera that takes it.
type View struct {
	shot   Shot
	surf   *surface
	rot    [9]float64 // sheet to camera: right, down, away
	focal  float64
	midX   float64
	midY   float64
	restMM float64 // mean height, for a first guess
	halfW  float64
	halfH  float64
	over   []*pose       // cards lying on this one
	behind func() []bool // by node of the mesh: what the sheet itself hides; nil without mesh
}

// View returns the maps of the shot. It costs a fraction of a millisecond; keep it for all calls on one photo.
func (s *Shot) View() *View {
	return s.viewOn(s.surface())
}

// surface returns the paper's shape.
func (s *Shot) surface() *surface {
	surf := newSurface(float64(s.SheetW), float64(s.SheetH), s.Bend)
	if s.Staging != nil {
		s.emboss(surf)
	}
	return surf
}

func (s *Shot) viewOn(surf *surface) *View {
	v := &View{shot: *s, surf: surf, focal: s.FocalPx, halfW: float64(s.SheetW) / 2, halfH: float64(s.SheetH) / 2,
		midX: float64(s.W)/2 - 0.5, midY: float64(s.H)/2 - 0.5}
	v.rot = s.rotation()
	v.restMM = surf.mean
	if surf.mesh != nil {
		v.behind = sync.OnceValue(func() []bool { return surf.mesh.behindItself(v.toCamera) })
	}
	return v
}

// rotation takes directions on the sheet to the camera: right, down, away.
func (s *Shot) rotation() (rot [9]float64) {
	// First the turn in the plane of the sheet, then the tilt: the side in direction TiltDirDeg recedes.
	t, d, k := s.TurnDeg*math.Pi/180, s.TiltDirDeg*math.Pi/180, s.TiltDeg*math.Pi/180
	turn := [9]float64{math.Cos(t), -math.Sin(t), 0, math.Sin(t), math.Cos(t), 0, 0, 0, 1}
	ax, ay := -math.Sin(d), math.Cos(d) // axis of the tilt, in the picture's plane
	c, n := math.Cos(k), math.Sin(k)
	tilt := [9]float64{
		c + ax*ax*(1-c), ax * ay * (1 - c), -ay * n,
		ax * ay * (1 - c), c + ay*ay*(1-c), ax * n,
		ay * n, -ax * n, c,
	}
	for i := range 3 {
		for j := range 3 {
			for m := range 3 {
				rot[3*i+j] += tilt[3*i+m] * turn[3*m+j]
			}
		}
	}
	return rot
}

// Shot returns what the view was made of.
func (v *View) Shot() Shot { return v.shot }

// PhotoFromSheet returns where a point of the sheet lies in the photo, exactly. Points up to about 25 mm
// outside the sheet are fine too. Photo: EXIF turn applied.
func (v *View) PhotoFromSheet(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	px, py := v.onPaper(p)
	x, y := v.project(px-v.halfW, py-v.halfH)
	return sheetmodel.PhotoPoint{X: x, Y: y}
}

// paperPoint is PhotoFromSheet for a point of the paper instead of its print.
func (v *View) paperPoint(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	x, y := v.project(float64(p.X)-v.halfW, float64(p.Y)-v.halfH)
	return sheetmodel.PhotoPoint{X: x, Y: y}
}

// project takes sheet mm from the middle to photo px.
func (v *View) project(sx, sy float64) (x, y float64) {
	px, py, h := v.surf.at(sx, sy)
	return v.lens(px, py, h)
}

// lens takes a point in space to photo px.
func (v *View) lens(px, py, h float64) (x, y float64) {
	r, c := &v.rot, &v.shot.CameraMM
	cx := r[0]*px + r[1]*py - r[2]*h + c[0]
	cy := r[3]*px + r[4]*py - r[5]*h + c[1]
	cz := r[6]*px + r[7]*py - r[8]*h + c[2]
	cz = math.Max(cz, 1)
	u, w := cx/cz, cy/cz
	bend := 1 + v.shot.LensK1*(u*u+w*w)
	return v.midX + v.focal*u*bend, v.midY + v.focal*w*bend
}

// SheetFromPhoto returns which point of the sheet, or of the table beside it, is seen at p. On the sheet
// it inverts PhotoFromSheet to within 0.001 mm; farther than some 25 mm beside it, it is the plane of the
// table. The second result is false where the picture shows neither (above the horizon).
func (v *View) SheetFromPhoto(p sheetmodel.PhotoPoint) (sheetmodel.SheetPoint, bool) {
	x, y, ok := v.flat(p.X, p.Y, v.restMM)
	if !ok {
		return sheetmodel.SheetPoint{}, false
	}
	if v.near(x, y) {
		x, y = v.refine(p.X, p.Y, x, y)
	}
	x, y = v.inPrint(x+v.halfW, y+v.halfH)
	return sheetmodel.SheetPoint{X: sheetmodel.MM(x), Y: sheetmodel.MM(y)}, true
}

// flat meets the ray of a pixel with the plane at height h.
func (v *View) flat(px, py, h float64) (x, y float64, ok bool) {
	u, w := (px-v.midX)/v.focal, (py-v.midY)/v.focal
	ux, uy := u, w
	for range 8 { // undo the distortion
		bend := 1 + v.shot.LensK1*(ux*ux+uy*uy)
		ux, uy = u/bend, w/bend
	}
	// The transpose of rot takes the ray and the camera's place into the frame of the sheet.
	r, c := &v.rot, &v.shot.CameraMM
	dx, dy, dz := r[0]*ux+r[3]*uy+r[6], r[1]*ux+r[4]*uy+r[7], r[2]*ux+r[5]*uy+r[8]
	ox, oy, oz := r[0]*c[0]+r[3]*c[1]+r[6]*c[2], r[1]*c[0]+r[4]*c[1]+r[7]*c[2], r[2]*c[0]+r[5]*c[1]+r[8]*c[2]
	if dz < 1e-3 {
		return 0, 0, false
	}
	t := (oz - h) / dz
	return t*dx - ox, t*dy - oy, true
}

// near reports whether a point from the middle lies where the paper's shape counts.
func (v *View) near(x, y float64) bool {
	const m = 25
	return math.Abs(x) < v.halfW+m && math.Abs(y) < v.halfH+m
}

// refine finds by Newton's method the sheet point that project takes to (px, py).
func (v *View) refine(px, py, x, y float64) (float64, float64) {
	const d = 1e-3
	for range 12 {
		ax, ay := v.project(x, y)
		ex, ey := px-ax, py-ay
		bx, by := v.project(x+d, y)
		cx, cy := v.project(x, y+d)
		j11, j21, j12, j22 := (bx-ax)/d, (by-ay)/d, (cx-ax)/d, (cy-ay)/d
		det := j11*j22 - j12*j21
		if math.Abs(det) < 1e-9 {
			return x, y
		}
		dx, dy := (j22*ex-j12*ey)/det, (j11*ey-j21*ex)/det
		// Half steps of more than 10 mm keep a fold from throwing it off.
		if n := math.Hypot(dx, dy); n > 10 {
			dx, dy = dx*10/n, dy*10/n
		}
		x, y = x+dx, y+dy
		if dx*dx+dy*dy < 1e-8 {
			break
		}
	}
	return x, y
}

// Corners returns the sheet's four corners in the photo: top left, top right, bottom right, bottom left.
func (v *View) Corners() [4]sheetmodel.PhotoPoint {
	w, h := v.shot.SheetW, v.shot.SheetH
	return [4]sheetmodel.PhotoPoint{
		v.PhotoFromSheet(sheetmodel.SheetPoint{}),
		v.PhotoFromSheet(sheetmodel.SheetPoint{X: w}),
		v.PhotoFromSheet(sheetmodel.SheetPoint{X: w, Y: h}),
		v.PhotoFromSheet(sheetmodel.SheetPoint{Y: h}),
	}
}

// RowInView reports whether r lies wholly inside the picture with nothing over it.
func (v *View) RowInView(r sheetmodel.Rect) bool {
	for _, p := range edgePoints(r, 8) {
		if !v.shot.InFrame(v.PhotoFromSheet(p)) {
			return false
		}
	}
	if v.shot.Staging != nil {
		return v.allInSight(r)
	}
	for _, c := range v.shot.Covers {
		if c.touches(r, 0) {
			return false
		}
	}
	return true
}

// toCamera is the direction from a point of the card, from its middle, to the camera, in the card's frame.
func (v *View) toCamera(x, y float64) [3]float64 {
	r, c := &v.rot, &v.shot.CameraMM
	// The camera stands at minus its own shift, turned back into the frame of the sheet; up is minus away.
	d := [3]float64{
		-(r[0]*c[0] + r[3]*c[1] + r[6]*c[2]) - x,
		-(r[1]*c[0] + r[4]*c[1] + r[7]*c[2]) - y,
		r[2]*c[0] + r[5]*c[1] + r[8]*c[2],
	}
	n := math.Sqrt(dot(d, d))
	return [3]float64{d[0] / n, d[1] / n, d[2] / n}
}
