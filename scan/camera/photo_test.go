package camera

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// dotSheet has black dots of 1.2 mm at known places.
func dotSheet(pxPerMM float64) (Sheet, []sheetmodel.SheetPoint) {
	img := image.NewGray(image.Rect(0, 0, int(float64(testW)*pxPerMM), int(float64(testH)*pxPerMM)))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	var at []sheetmodel.SheetPoint
	for y := sheetmodel.MM(15); y < testH; y += 30 {
		for x := sheetmodel.MM(14); x < testW; x += 24 {
			p := sheetmodel.SheetPoint{X: x, Y: y}
			c := sheetmodel.PageFromSheet(p, pxPerMM)
			r := 0.6 * pxPerMM
			for j := int(c.Y - r); j <= int(c.Y+r)+1; j++ {
				for i := int(c.X - r); i <= int(c.X+r)+1; i++ {
					if math.Hypot(float64(i)-c.X, float64(j)-c.Y) <= r {
						img.Pix[img.PixOffset(i, j)] = 0
					}
				}
			}
			at = append(at, p)
		}
	}
	return Sheet{Image: img, PxPerMM: pxPerMM}, at
}

// darkCentre is the centre of gravity of what is darker than the paper within r px of p.
func darkCentre(grey func(x, y int) float64, p sheetmodel.PhotoPoint, r float64) (x, y float64) {
	paper := 0.0
	for j := int(p.Y - r); j <= int(p.Y+r); j++ {
		for i := int(p.X - r); i <= int(p.X+r); i++ {
			paper = math.Max(paper, grey(i, j))
		}
	}
	sum := 0.0
	for j := int(p.Y - r); j <= int(p.Y+r); j++ {
		for i := int(p.X - r); i <= int(p.X+r); i++ {
			if d := 0.75*paper - grey(i, j); d > 0 && math.Hypot(float64(i)-p.X, float64(j)-p.Y) < r {
				sum, x, y = sum+d, x+d*float64(i), y+d*float64(j)
			}
		}
	}
	return x / sum, y / sum
}

func TestTake_Dots_LieWhereTheTruthSays(t *testing.T) {
	sheet, dots := dotSheet(20)
	rng := rand.New(rand.NewPCG(6, 1))
	for _, name := range []string{Ordinary, Hard} {
		var errs []float64
		for range 3 {
			l := Levels()[name]
			l.PxPerMM.Max = min(l.PxPerMM.Max, 12) // larger photos take long and show the same
			s := l.Draw(Scene{W: testW, H: testH}, rng)
			v := s.View()
			p, err := v.Take(sheet, 0)
			require.NoError(t, err)
			grey := func(x, y int) float64 {
				if !(image.Pt(x, y).In(p.Image.Rect)) {
					return 255
				}
				return float64(p.Image.Pix[p.Image.PixOffset(x, y)+1])
			}
			for _, d := range dots {
				if !v.RowInView(sheetmodel.Rect{X: d.X, Y: d.Y}.Grow(3)) {
					continue
				}
				at := v.PhotoFromSheet(d)
				x, y := darkCentre(grey, at, 1.3*s.PxPerMM)
				errs = append(errs, math.Hypot(x-at.X, y-at.Y)/s.PxPerMM)
			}
		}
		sum, worst := 0.0, 0.0
		for _, e := range errs {
			sum, worst = sum+e, math.Max(worst, e)
		}
		t.Logf("%s: %d dots, mean %.3f mm, worst %.3f mm", name, len(errs), sum/float64(len(errs)), worst)
		require.Greater(t, len(errs), 60)
		assert.Less(t, sum/float64(len(errs)), 0.05, name)
	}
}

func TestTake_SameShot_SameBytesOnAnyNumberOfCores(t *testing.T) {
	sheet := testSheet(10, nil, nil, nil)
	s := Levels()[Hard].Draw(testScene(), rand.New(rand.NewPCG(9, 9)))
	a, err := s.View().Take(sheet, 0)
	require.NoError(t, err)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	b, err := s.View().Take(sheet, 0)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(a.JPEG, b.JPEG))
}

// TestBlur_Edge_IsAsWideAsAsked photographs a black to white edge and measures its width.
func TestBlur_Edge_IsAsWideAsAsked(t *testing.T) {
	const pxPerMM = 20
	img := image.NewGray(image.Rect(0, 0, int(testW)*pxPerMM, int(testH)*pxPerMM))
	for i := range img.Pix {
		if i%img.Stride >= img.Stride/2 {
			img.Pix[i] = 255
		}
	}
	for _, sigma := range []float64{0.08, 0.12, 0.3, 0.6} {
		for _, px := range []float64{5, 10, 20} {
			for _, motion := range []float64{0, 0.6} {
				s := Flat(testW, testH, px)
				s.BlurSigmaMM, s.MotionShare, s.MotionDeg = sigma, motion, 0
				sc := s.View().newScene(Sheet{Image: img, PxPerMM: pxPerMM}, sheetmodel.Rect{X: 60, Y: 100, W: 28, H: 10})
				// The variance of the edge's derivative is that of the blur.
				var m0, m1, m2 float64
				const d = 0.02
				reach := 4 * math.Hypot(sigma, 0.5/px) // beyond it only rounding is left
				for x := -reach; x < reach; x += d {
					g := float64(sc.page.at(74+x+d, 105) - sc.page.at(74+x, 105))
					m0, m1, m2 = m0+g, m1+g*x, m2+g*x*x
				}
				got := math.Sqrt(m2/m0 - m1*m1/(m0*m0))
				want := math.Hypot(sigma, 0.38/px)
				assert.InEpsilonf(t, want, got, 0.12, "sigma %g mm at %g px/mm, motion %g", sigma, px, motion)
			}
		}
	}
}

func TestTakePatch_IsThePhotoThere(t *testing.T) {
	sheet := testSheet(20, nil, nil, nil)
	rng := rand.New(rand.NewPCG(8, 1))
	l := Levels()[Ordinary]
	l.PxPerMM.Max = 10
	for range 3 {
		s := l.Draw(testScene(), rng)
		s.CastRGB, s.NoiseShare = [3]float64{1, 1, 1}, 0
		v := s.View()
		rect := testScene().Rows[4]
		p, err := v.Take(sheet, 0)
		require.NoError(t, err)
		patch, err := v.TakePatch(sheet, rect)
		require.NoError(t, err)
		var diffs, n float64
		for q := rect.X + 1; q < rect.X+rect.W-1; q++ {
			for r := rect.Y + 1; r < rect.Y+rect.H-1; r++ {
				at := v.PhotoFromSheet(sheetmodel.SheetPoint{X: q, Y: r})
				x, y := int(math.Round(at.X)), int(math.Round(at.Y))
				diffs += math.Abs(float64(p.Image.Pix[p.Image.PixOffset(x, y)]) - float64(patch.Image.GrayAt(x, y).Y))
				n++
			}
		}
		assert.Less(t, diffs/n, 3.0, "mean difference in grey values, JPEG apart")
	}
}

func TestStraighten_Patch_ShowsTheSheet(t *testing.T) {
	sheet, _ := dotSheet(20)
	s := Levels()[Ordinary].Draw(Scene{W: testW, H: testH}, rand.New(rand.NewPCG(3, 3)))
	rect := sheetmodel.Rect{X: 2, Y: 9, W: 40, H: 12} // the first dot is at 14, 15
	patch, err := s.View().TakePatch(sheet, rect)
	require.NoError(t, err)
	const pxPerMM = 10
	page := patch.Straighten(rect, pxPerMM, nil)
	assert.Equal(t, image.Rect(0, 0, 400, 120), page.Rect)
	want := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: 12, Y: 6}, pxPerMM)
	x, y := darkCentre(func(x, y int) float64 { return float64(page.GrayAt(x, y).Y) }, sheetmodel.PhotoPoint(want), 13)
	assert.InDelta(t, want.X, x, 0.7)
	assert.InDelta(t, want.Y, y, 0.7)
	moved := patch.Straighten(rect, pxPerMM, func(p sheetmodel.SheetPoint) sheetmodel.SheetPoint {
		return sheetmodel.SheetPoint{X: p.X + 0.5, Y: p.Y}
	})
	x2, _ := darkCentre(func(x, y int) float64 { return float64(moved.GrayAt(x, y).Y) }, sheetmodel.PhotoPoint(want), 15)
	assert.InDelta(t, 0.5*pxPerMM, x-x2, 0.7, "sought 0.5 mm to the right, the dot comes out 0.5 mm to the left")
}

func TestTake_EXIF_AllEightComeUpright(t *testing.T) {
	sheet := testSheet(5, nil, nil, nil)
	s := Flat(testW, testH, 4)
	v := s.View()
	plain, err := v.Take(sheet, 0)
	require.NoError(t, err)
	assert.Equal(t, 0, orientationOf(t, plain.JPEG))
	for o := 1; o <= 8; o++ {
		p, err := v.Take(sheet, o)
		require.NoError(t, err)
		assert.Equal(t, o, orientationOf(t, p.JPEG))
		img, err := jpeg.Decode(bytes.NewReader(p.JPEG))
		require.NoError(t, err)
		// Turned by the meaning of the tag in Exif 2.32, the picture is the upright one.
		b, sum, n := img.Bounds(), 0.0, 0.0
		for y := 0; y < b.Dy(); y += 3 {
			for x := 0; x < b.Dx(); x += 3 {
				ux, uy := byTag(x, y, b.Dx(), b.Dy(), o)
				_, g, _, _ := img.At(x, y).RGBA()
				sum += math.Abs(float64(g>>8) - float64(p.Image.RGBAAt(ux, uy).G))
				n++
			}
		}
		assert.Lessf(t, sum/n, 4.0, "orientation %d", o)
	}
}

// byTag says where stored pixel (x, y) of a w x h file belongs, from the corner that the tag names as
// the place of row 0 and column 0: 6 is "0th row right, 0th column top" (Exif 2.32, 4.6.4.A).
func byTag(x, y, w, h, o int) (int, int) {
	row, col := y, x
	switch o {
	case 1: // top, left
		return col, row
	case 2: // top, right
		return w - 1 - col, row
	case 3: // bottom, right
		return w - 1 - col, h - 1 - row
	case 4: // bottom, left
		return col, h - 1 - row
	case 5: // left, top
		return row, col
	case 6: // right, top
		return h - 1 - row, col
	case 7: // right, bottom
		return h - 1 - row, w - 1 - col
	default: // left, bottom
		return row, w - 1 - col
	}
}

func orientationOf(t *testing.T, file []byte) int {
	t.Helper()
	i := bytes.Index(file[:64], []byte("Exif\x00\x00"))
	if i < 0 {
		return 0
	}
	return int(binary.BigEndian.Uint16(file[i+6+8+2+8:]))
}

func BenchmarkTakePatch(b *testing.B) {
	sheet := testSheet(20, nil, nil, nil)
	l := Levels()[Ordinary]
	rng := rand.New(rand.NewPCG(1, 1))
	s := l.Draw(testScene(), rng)
	s.place(testScene(), 0.05, 0.8, [2]float64{0.5, 0.5})
	v := s.View()
	b.Logf("%.1f px/mm", s.PxPerMM)
	b.ResetTimer()
	for range b.N {
		_, err := v.TakePatch(sheet, sheetmodel.Rect{X: 20, Y: 60, W: 40, H: 16})
		require.NoError(b, err)
	}
}

func benchTake(b *testing.B, pxPerMM float64, frame image.Point) {
	sheet := testSheet(20, nil, nil, nil)
	sc := testScene()
	sc.Frame = frame
	s := Levels()[Ordinary].Draw(sc, rand.New(rand.NewPCG(2, 1)))
	s.PxPerMM = pxPerMM
	s.place(sc, 0.05, 0.8, [2]float64{0.5, 0.5})
	v := s.View()
	b.Logf("%d x %d px, %.1f px/mm", s.W, s.H, s.PxPerMM)
	b.ResetTimer()
	for range b.N {
		_, err := v.Take(sheet, 0)
		require.NoError(b, err)
	}
}

func BenchmarkTake8PxPerMM(b *testing.B) { benchTake(b, 8, image.Point{}) }

func BenchmarkTake12Megapixels(b *testing.B) { benchTake(b, 16, image.Pt(4032, 3024)) }
