package byprint_test

import (
	"testing"
	"time"

	"gatefold/scan/camera"
	"gatefold/scan/scantest"
	"gatefold/sheetmodel"
)

// TestMeasureBlur sets blur as measured by print against the truth.
func TestMeasureBlur(t *testing.T) {
	if *measureN == 0 {
		t.Skip("no -photos given")
	}
	forms := threePrepared(t)
	layouts, own := ownCards(t)
	for _, sigma := range []float64{0.1, 0.3, 0.36, 0.5, 0.6, 0.8} {
		for k := range *measureN {
			seed := *firstOne + uint64(k)
			photo := shoot(t, forms[0].layout, camera.Hard, seed, func(s *camera.Shot) { s.BlurSigmaMM, s.MotionShare = sigma, 0 })
			o := judge(t, photo.JPEG, photo.View, forms[0].layout, forms[0].forms)
			var marks []sheetmodel.Rect
			for _, m := range layouts[0].Side(sheetmodel.Front).Marks {
				marks = append(marks, m.Rect)
			}
			s, err := scantest.Make(scantest.Kind{Level: camera.Hard, Layouts: layouts[:1], Side: sheetmodel.Front, Change: func(s *camera.Shot) {
				s.BlurSigmaMM, s.MotionShare = sigma, 0
				for _, m := range marks {
					c := m.Center()
					s.Covers = append(s.Covers, camera.Cover{What: "snow", X: float64(c.X), Y: float64(c.Y), R: 7, RGB: [3]float64{0.85, 0.88, 0.92}})
				}
			}}, seed)
			if err != nil {
				t.Fatal(err)
			}
			p := scantest.Judge(s, own, time.Now)
			t.Logf("blur %.2f, seed %d: table %s %s %.2f; our card %s %s %.2f", sigma, seed, o.kind, o.fault, o.page.SigmaMM, p.Verdict, p.Fault, p.Quality.SigmaMM)
		}
	}
}
