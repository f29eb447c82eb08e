package camera

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"

	"gatefold/sheetmodel"
)

// Patch is the part of a photo around one rectangle of the sheet, grey, as the JPEG decodes. Its bounds
// are its place in the photo, so PhotoPoints of the view apply as they are.
type Patch struct {
	Image *image.Gray
	Rect  sheetmodel.Rect // the part of the sheet it was taken for
	View  *View
}

// TakePatch photographs only what lies around rect, in grey: the same optics, light and noise as Take,
// a few ms for one row of a card. sheet need hold no more than rect and 1 mm around it. What lies outside
// the picture's frame is photographed all the same. Staged shots have no patches: their light comes from
// the whole scene.
func (v *View) TakePatch(sheet Sheet, rect sheetmodel.Rect) (*Patch, error) {
	if v.shot.Staging != nil {
		return nil, errors.New("patch of a staged shot: its light comes from the whole scene; take the whole photo")
	}
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, p := range edgePoints(rect, 6) {
		q := v.PhotoFromSheet(p)
		lo = [2]float64{math.Min(lo[0], q.X), math.Min(lo[1], q.Y)}
		hi = [2]float64{math.Max(hi[0], q.X), math.Max(hi[1], q.Y)}
	}
	const rim = 3 // px: sharpening and JPEG look a little further
	part := image.Rect(int(math.Floor(lo[0]))-rim, int(math.Floor(lo[1]))-rim, int(math.Ceil(hi[0]))+rim+1, int(math.Ceil(hi[1]))+rim+1)
	s := &v.shot
	sc := v.newScene(sheet, rect.Grow(sheetmodel.MM(1+3*s.BlurSigmaMM)))
	sc.only = rect.Grow(sheetmodel.MM(8 / s.PxPerMM))
	grey := s.develop(sc.render(part, 1), part, 1)
	img := &image.Gray{Pix: grey, Stride: part.Dx(), Rect: image.Rect(0, 0, part.Dx(), part.Dy())}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: s.JPEGQuality}); err != nil {
		return nil, fmt.Errorf("patch of %d x %d px: %w", part.Dx(), part.Dy(), err)
	}
	back, err := jpeg.Decode(&buf)
	if err != nil {
		return nil, fmt.Errorf("patch of %d x %d px: %w", part.Dx(), part.Dy(), err)
	}
	got, ok := back.(*image.Gray)
	if !ok {
		return nil, fmt.Errorf("patch of %d x %d px: decoded to %T, not to grey", part.Dx(), part.Dy(), back)
	}
	got.Rect = part
	return &Patch{Image: got, Rect: rect, View: v}, nil
}

// Straighten returns rect of the sheet at pxPerMM, looked up in the patch. off is the error of a
// straightening that isn't perfect: it is asked where on the sheet a point is wrongly sought; nil is
// none. Pixels are averaged where the patch is finer.
func (p *Patch) Straighten(rect sheetmodel.Rect, pxPerMM float64, off func(sheetmodel.SheetPoint) sheetmodel.SheetPoint) *image.Gray {
	w, h := int(math.Round(float64(rect.W)*pxPerMM)), int(math.Round(float64(rect.H)*pxPerMM))
	out := image.NewGray(image.Rect(0, 0, w, h))
	const step = 8
	nx, ny := (w+step-1)/step+1, (h+step-1)/step+1
	lattice := make([]sheetmodel.PhotoPoint, nx*ny)
	for j := range ny {
		for i := range nx {
			at := sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(i * step), Y: float64(j * step)}, pxPerMM)
			at.X, at.Y = at.X+rect.X, at.Y+rect.Y
			if off != nil {
				at = off(at)
			}
			lattice[j*nx+i] = p.View.PhotoFromSheet(at)
		}
	}
	// Several looks a pixel where the photo is finer than the page.
	looks := max(1, int(math.Round(p.View.shot.PxPerMM/pxPerMM)))
	for y := range h {
		for x := range w {
			sum := 0.0
			for a := range looks {
				for b := range looks {
					fx := float64(x) + (float64(b)+0.5)/float64(looks) - 0.5
					fy := float64(y) + (float64(a)+0.5)/float64(looks) - 0.5
					sum += p.at(between(lattice, nx, fx/step, fy/step))
				}
			}
			out.Pix[y*w+x] = uint8(sum/float64(looks*looks) + 0.5)
		}
	}
	return out
}

// between interpolates a lattice of nx columns.
func between(lattice []sheetmodel.PhotoPoint, nx int, x, y float64) (px, py float64) {
	x, y = max(x, 0), max(y, 0)
	i, j := min(int(x), nx-2), min(int(y), len(lattice)/nx-2)
	tx, ty := x-float64(i), y-float64(j)
	a, b, c, d := lattice[j*nx+i], lattice[j*nx+i+1], lattice[(j+1)*nx+i], lattice[(j+1)*nx+i+1]
	top := (1-ty)*(a.X+tx*(b.X-a.X)) + ty*(c.X+tx*(d.X-c.X))
	low := (1-ty)*(a.Y+tx*(b.Y-a.Y)) + ty*(c.Y+tx*(d.Y-c.Y))
	return top, low
}

// at is bilinear in photo px.
func (p *Patch) at(x, y float64) float64 {
	m := p.Image
	x = min(max(x-float64(m.Rect.Min.X), 0), float64(m.Rect.Dx()-1)-1e-6)
	y = min(max(y-float64(m.Rect.Min.Y), 0), float64(m.Rect.Dy()-1)-1e-6)
	i, j := int(x), int(y)
	tx, ty := x-float64(i), y-float64(j)
	r0, r1 := m.Pix[j*m.Stride+i:], m.Pix[(j+1)*m.Stride+i:]
	top := float64(r0[0])*(1-tx) + float64(r0[1])*tx
	low := float64(r1[0])*(1-tx) + float64(r1[1])*tx
	return top*(1-ty) + low*ty
}
