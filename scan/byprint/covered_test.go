package byprint_test

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/scan/scantest"
	"gatefold/sheetmodel"
)

// coverMarks lays a mitten's thumb or a lump of snow over n of the marks of a side.
func coverMarks(shot *camera.Shot, marks []sheetmodel.Rect, n int, rng *rand.Rand) {
	for _, i := range rng.Perm(len(marks))[:min(n, len(marks))] {
		c := marks[i].Center()
		half := math.Hypot(float64(marks[i].W), float64(marks[i].H)) / 2
		if rng.IntN(2) == 0 {
			shot.Covers = append(shot.Covers, camera.Cover{What: "snow", X: float64(c.X), Y: float64(c.Y), R: half + 0.5, RGB: [3]float64{0.85, 0.88, 0.92}})
			continue
		}
		// In from the nearer of the left and the right edge.
		x := float64(c.X) - 12
		if c.X > shot.SheetW/2 {
			x = float64(c.X) + 12
		}
		shot.Covers = append(shot.Covers, camera.Cover{What: "mitten", X: x, Y: float64(c.Y), HX: 12, R: half + 0.5, RGB: [3]float64{0.04, 0.05, 0.12}})
	}
}

type cards struct {
	layouts []*sheetmodel.Layout
	forms   *scan.Forms
}

var readyCards = sync.OnceValues(func() (cards, error) {
	layouts, err := scantest.Layouts()
	if err != nil {
		return cards{}, err
	}
	forms, err := scan.Prepare(layouts...)
	return cards{layouts, forms}, err
})

// ownCards returns the layouts of samples and their forms.
func ownCards(t *testing.T) ([]*sheetmodel.Layout, *scan.Forms) {
	t.Helper()
	c, err := readyCards()
	require.NoError(t, err)
	return c.layouts, c.forms
}

// covered photographs one of our cards with n of its marks covered.
func covered(t *testing.T, layouts []*sheetmodel.Layout, level string, seed uint64, n int) *scantest.Sample {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 0xc0e))
	side := []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back}[rng.IntN(2)]
	layout := layouts[rng.IntN(len(layouts))]
	var marks []sheetmodel.Rect
	for _, m := range layout.Side(side).Marks {
		marks = append(marks, m.Rect)
	}
	s, err := scantest.Make(scantest.Kind{Level: level, Layouts: []*sheetmodel.Layout{layout}, Side: side, Change: func(shot *camera.Shot) {
		coverMarks(shot, marks, n, rng)
	}}, seed)
	require.NoError(t, err)
	return s
}

// TestMeasureCovered measures our own cards with 3 to 6 marks covered.
func TestMeasureCovered(t *testing.T) {
	if *measureN == 0 {
		t.Skip("no -photos given")
	}
	layouts, forms := ownCards(t)
	for _, level := range []string{camera.Ordinary, camera.Hard} {
		for n := 3; n <= 6; n++ {
			var tally scantest.Tally
			byPrint := 0
			for k := range *measureN {
				s := covered(t, layouts, level, *firstOne+uint64(k), n)
				o := scantest.Judge(s, forms, time.Now)
				tally.Add(o)
				if o.Quality.ByPrint {
					byPrint++
				}
				if o.Verdict != scantest.Right || testing.Verbose() && o.NoIdent {
					t.Logf("%s, %d covered, %d %s: %s %s, ident unread %v, print %.2f blur %.2f (true %.2f) faults %v %.1f px/mm tilt %.0f", level, n, s.Seed, s.Side.Name, o.Verdict, o.Why, o.NoIdent,
						o.Quality.PrintSeen, o.Quality.SigmaMM, s.View.Shot().BlurSigmaMM, s.View.Shot().Faults, s.View.Shot().PxPerMM, s.View.Shot().TiltDeg)
					if *saveBad != "" {
						_ = os.WriteFile(filepath.Join(*saveBad, level+"-"+string(s.Side.Name)+"-"+time.Duration(s.Seed).String()+".jpg"), s.JPEG, 0o644)
					}
				}
			}
			t.Logf("== %s, %d marks covered: %v; %d by print; p50 %.3f p99 %.3f", level, n, &tally, byPrint, tally.ErrorMM(.5), tally.ErrorMM(.99))
		}
	}
}

func TestPages_AllMarksCovered_FoundByPrintWithItsIdentity(t *testing.T) {
	layouts, forms := ownCards(t)
	s := covered(t, layouts[:1], camera.Ordinary, 3, 6)
	o := scantest.Judge(s, forms, time.Now)
	assert.Equal(t, scantest.Right, o.Verdict, o.Why)
	assert.True(t, o.Quality.ByPrint)
	assert.False(t, o.NoIdent)
}

// TestMeasureImpossible counts our own cards that must be refused and are not, marks in sight or covered.
func TestMeasureImpossible(t *testing.T) {
	if *measureN == 0 {
		t.Skip("no -photos given")
	}
	layouts, forms := ownCards(t)
	for _, n := range []int{0, 5} {
		var tally scantest.Tally
		for k := range *measureN {
			s := covered(t, layouts, camera.Impossible, *firstOne+uint64(k), n)
			o := scantest.Judge(s, forms, time.Now)
			tally.Add(o)
			t.Logf("%d covered, %d: %s %s; %s", n, s.Seed, o.Verdict, o.Fault, s.View.Shot().Reason)
		}
		t.Logf("== impossible, %d marks covered: %v", n, &tally)
	}
}
