package camera

import (
	"flag"
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// show names a folder for photos to look at: go test -run Show -show /some/folder.
var (
	show   = flag.String("show", "", "folder for photos to look at")
	photos = flag.Int("photos", 4, "photos a level to look at")
)

const (
	testW, testH = sheetmodel.MM(148), sheetmodel.MM(210)
)

// testScene is an A5 side with four marks and ten rows.
func testScene() Scene {
	s := Scene{W: testW, H: testH}
	for _, x := range []sheetmodel.MM{9, 132} {
		for _, y := range []sheetmodel.MM{20, 194} {
			s.Marks = append(s.Marks, sheetmodel.Rect{X: x, Y: y, W: 7, H: 7})
		}
	}
	for i := range 10 {
		s.Rows = append(s.Rows, sheetmodel.Rect{X: 18, Y: sheetmodel.MM(50 + 13*i), W: 112, H: 12})
	}
	return s
}

// testSheet prints the scene's marks and boxes, and writes digits into the boxes if there are any.
func testSheet(pxPerMM float64, digits []hand.Strokes, w *hand.Writer, rng *rand.Rand) Sheet {
	img := image.NewGray(image.Rect(0, 0, int(float64(testW)*pxPerMM), int(float64(testH)*pxPerMM)))
	for i := range img.Pix {
		img.Pix[i] = 250
	}
	box := func(r sheetmodel.Rect, g uint8) {
		for y := int(float64(r.Y) * pxPerMM); y < int(float64(r.Y+r.H)*pxPerMM); y++ {
			for x := int(float64(r.X) * pxPerMM); x < int(float64(r.X+r.W)*pxPerMM); x++ {
				img.SetGray(x, y, color.Gray{Y: g})
			}
		}
	}
	sc := testScene()
	for _, m := range sc.Marks {
		box(m, 30)
		box(m.Grow(-1.5), 250)
		box(m.Grow(-2.5), 30)
	}
	ink := hand.NewInk(sheetmodel.Rect{W: testW, H: testH}, pxPerMM)
	for _, row := range sc.Rows {
		for i := range 12 {
			b := row.Box(i, 12)
			b.H -= 2
			box(sheetmodel.Rect{X: b.X, Y: b.Y, W: b.W, H: 0.25}, 110)
			box(sheetmodel.Rect{X: b.X, Y: b.Y + b.H, W: b.W, H: 0.25}, 110)
			box(sheetmodel.Rect{X: b.X, Y: b.Y, W: 0.25, H: b.H}, 110)
			if len(digits) > 0 && i%4 != 3 {
				w.Digit(ink, digits[rng.IntN(len(digits))], b, rng)
			}
		}
	}
	ink.Over(img)
	return Sheet{Image: img, PxPerMM: pxPerMM}
}

func TestShowPhotos(t *testing.T) {
	if *show == "" {
		t.Skip("no -show folder given")
	}
	dir, err := hand.FindMNIST(t.Context())
	require.NoError(t, err)
	m, err := hand.ReadMNIST(dir)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(5, 5))
	var digits []hand.Strokes
	for range 120 {
		digits = append(digits, hand.Trace(&m.Train[rng.IntN(len(m.Train))]))
	}
	for _, name := range []string{Ordinary, Hard, Impossible} {
		l := Levels()[name]
		for i := range *photos {
			sheet := testSheet(20, digits, hand.DrawWriter(l.Pens(), rng), rng)
			shot := l.Draw(testScene(), rng)
			p, err := shot.View().Take(sheet, 0)
			require.NoError(t, err)
			t.Logf("%s %d: %dx%d %.1f px/mm blur %.2f mm tilt %.0f turn %.0f bend %.1f %v %s %s", name, i, shot.W, shot.H,
				shot.PxPerMM, shot.BlurSigmaMM, shot.TiltDeg, shot.TurnDeg, shot.Bend.HeightMM, shot.Faults, shot.Reason, shot.Ground)
			require.NoError(t, os.WriteFile(fmt.Sprintf("%s/%s-%d.jpg", *show, name, i), p.JPEG, 0o644))
		}
	}
}
