package byprint

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"sort"

	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// Features are SIFT's: they bear turn, scale and blur, and know their own turn and scale, so that one match
// by itself says where the whole form lies.
//
// Source: Lowe, Distinctive image features from scale-invariant keypoints, IJCV 60 (2004).
type feature struct {
	x, y  float64 // mm of a form, px of a photo
	angle float64 // rad, clockwise
	size  float64 // mm or px
}

const (
	descriptorLen = 128
	formFeatures  = 1500
	photoFeatures = 4000
	// fewestFeatures is what a form must show to be told from a table: 20 letters or so.
	fewestFeatures = 40
)

// Form is a blank form made ready to be sought. Safe for concurrent use.
type Form struct {
	W, H     sheetmodel.MM
	features []feature
	desc     []byte // descriptorLen float32 a feature
	frames   [][4][2]float64
	probes   []probe
}

// FewFeaturesError says that a blank form has too little print of its own to be found by.
type FewFeaturesError struct{ Seen int }

// Error names the remedy.
func (e *FewFeaturesError) Error() string {
	return fmt.Sprintf("blank form: %d places with print of their own seen, %d are needed; use a sharper picture, or print a title and column heads on the form",
		e.Seen, fewestFeatures)
}

// Prepare takes up the features of a flat blank form, W × H mm.
//
// page is 8-bit grey as Flatten returns it, upright, the whole form and nothing else; it stays the caller's.
// The error is a *FewFeaturesError if there is too little to go by. About 0.2 s for A5 at 5 px/mm.
func Prepare(page gocv.Mat, w, h sheetmodel.MM) (*Form, error) {
	features, desc, err := detect(page, formFeatures)
	if err != nil {
		return nil, err
	}
	f := &Form{W: w, H: h, frames: outlines(page)}
	if len(features) < fewestFeatures && len(f.frames) == 0 {
		return nil, &FewFeaturesError{Seen: len(features)}
	}
	sx, sy := float64(w)/float64(page.Cols()), float64(h)/float64(page.Rows())
	for i := range features {
		p := &features[i]
		p.x, p.y = (p.x+0.5)*sx, (p.y+0.5)*sy
		p.size *= math.Sqrt(sx * sy)
	}
	for i := range f.frames {
		for k, p := range f.frames[i] {
			f.frames[i][k] = [2]float64{(p[0] + 0.5) * sx, (p[1] + 0.5) * sy}
		}
	}
	f.features, f.desc = features, desc
	f.probes, err = probes(page, w, h)
	return f, err
}

var errNotGrey = errors.New("byprint works on 8-bit grey pictures")

// detect returns the strongest features of a picture, at most limit, and their descriptors.
func detect(m gocv.Mat, limit int) ([]feature, []byte, error) {
	if m.Empty() || m.Type() != gocv.MatTypeCV8U {
		return nil, nil, errNotGrey
	}
	sift := gocv.NewSIFT()
	defer func() { _ = sift.Close() }()
	none := gocv.NewMat()
	defer none.Close()
	points, desc := sift.DetectAndCompute(m, none)
	defer desc.Close()
	if len(points) == 0 {
		return nil, nil, nil
	}
	values, err := desc.DataPtrFloat32()
	if err != nil {
		return nil, nil, err
	}
	order := make([]int, len(points))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return points[order[i]].Response > points[order[j]].Response })
	order = order[:min(limit, len(order))]
	features := make([]feature, len(order))
	bytes := make([]byte, 0, len(order)*descriptorLen*4)
	for k, i := range order {
		p := points[i]
		features[k] = feature{x: p.X, y: p.Y, angle: p.Angle * math.Pi / 180, size: p.Size}
		root(values[i*descriptorLen:(i+1)*descriptorLen], func(v float32) {
			bytes = binary.NativeEndian.AppendUint32(bytes, math.Float32bits(v))
		})
	}
	return features, bytes, nil
}

// root passes on the square roots of a descriptor brought to sum 1: their distance bears single strong
// slopes, such as a shadow's edge, better.
//
// Source: Arandjelović & Zisserman, Three things everyone should know to improve object retrieval, CVPR 2012.
func root(desc []float32, emit func(float32)) {
	sum := float32(1e-6)
	for _, v := range desc {
		sum += v
	}
	for _, v := range desc {
		emit(float32(math.Sqrt(float64(max(v, 0) / sum))))
	}
}

// matOf wraps descriptors; the caller closes it.
func matOf(desc []byte) (gocv.Mat, error) {
	return gocv.NewMatFromBytes(len(desc)/(4*descriptorLen), descriptorLen, gocv.MatTypeCV32F, desc)
}
