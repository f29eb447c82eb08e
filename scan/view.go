package scan

import (
	"errors"
	"image"
	"math"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// view is one level of a photo's pyramid, addressed in px of the full photo.
type view struct {
	mat    gocv.Mat
	pix    []uint8
	w, h   int
	sx, sy float64 // px of this level / px of the photo
	owned  bool
}

// pyramid holds a photo and its halvings. close it; level 0 stays the caller's.
type pyramid struct{ levels []view }

var errNotGrey = errors.New("scan works on 8-bit grey pictures, as Decode returns them")

// newPyramid halves photo until its longer side is below smallest px. A picture that is a strip is refused.
func newPyramid(photo gocv.Mat, smallest int) (*pyramid, error) {
	if photo.Empty() || photo.Type() != gocv.MatTypeCV8U || !photo.IsContinuous() {
		return nil, errNotGrey
	}
	if w, h := photo.Cols(), photo.Rows(); isStrip(w, h) {
		return nil, refused(FaultNoMarks, "send the photo itself", "no card found: the picture is a strip of %d × %d pixels", w, h)
	}
	pix, err := photo.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	p := &pyramid{levels: []view{{mat: photo, pix: pix, w: photo.Cols(), h: photo.Rows(), sx: 1, sy: 1}}}
	for {
		last := p.levels[len(p.levels)-1]
		if max(last.w, last.h)/2 < smallest {
			return p, nil
		}
		m := gocv.NewMat()
		gocv.Resize(last.mat, &m, image.Pt(last.w/2, last.h/2), 0, 0, gocv.InterpolationArea)
		pix, err := m.DataPtrUint8()
		if err != nil {
			_ = m.Close()
			p.close()
			return nil, err
		}
		w, h := m.Cols(), m.Rows()
		p.levels = append(p.levels, view{
			mat: m, pix: pix, w: w, h: h, owned: true,
			sx: float64(w) / float64(photo.Cols()), sy: float64(h) / float64(photo.Rows()),
		})
	}
}

func (p *pyramid) close() {
	for i := range p.levels {
		if p.levels[i].owned {
			_ = p.levels[i].mat.Close()
		}
	}
}

// at returns the smallest level that still has pxPerMM, where the photo itself has photoPxPerMM.
func (p *pyramid) at(pxPerMM, photoPxPerMM float64) *view {
	for i := len(p.levels) - 1; i > 0; i-- {
		if photoPxPerMM*p.levels[i].sx >= pxPerMM {
			return &p.levels[i]
		}
	}
	return &p.levels[0]
}

// near returns the smallest level whose longer side has at least px, or the photo.
func (p *pyramid) near(px int) *view {
	for i := len(p.levels) - 1; i > 0; i-- {
		if max(p.levels[i].w, p.levels[i].h) >= px {
			return &p.levels[i]
		}
	}
	return &p.levels[0]
}

// scaled returns the level's size times k, rounded; never none.
func (v *view) scaled(k float64) image.Point {
	return image.Pt(max(1, int(math.Round(k*float64(v.w)))), max(1, int(math.Round(k*float64(v.h)))))
}

// local returns p in px of this level.
func (v *view) local(p sheetmodel.PhotoPoint) (x, y float64) {
	return sheetmodel.ScalePx(p.X, v.sx), sheetmodel.ScalePx(p.Y, v.sy)
}

// photo returns a point of this level in px of the photo.
func (v *view) photo(x, y float64) sheetmodel.PhotoPoint {
	return sheetmodel.PhotoPoint{X: sheetmodel.ScalePx(x, 1/v.sx), Y: sheetmodel.ScalePx(y, 1/v.sy)}
}

// grey interpolates linearly at a point of this level; outside the picture it repeats the edge.
func (v *view) grey(x, y float64) float64 {
	x = min(max(x, 0), float64(v.w-1)-1e-6)
	y = min(max(y, 0), float64(v.h-1)-1e-6)
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*v.w + ix
	top := float64(v.pix[i])*(1-fx) + float64(v.pix[i+1])*fx
	low := float64(v.pix[i+v.w])*(1-fx) + float64(v.pix[i+v.w+1])*fx
	return top*(1-fy) + low*fy
}
