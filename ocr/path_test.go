package ocr_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// pathCard is a back whose judge sketched the same gates into every panel. Bibs stand under B to E; B and C have
// a path, D and E don't, F and G have neither bib nor path.
func pathCard(seed uint64) (fill.Plan, func(*hand.Ink, *hand.Writer, *rand.Rand)) {
	plan := fill.Plan{}
	for i, letter := range []string{"B", "C", "D", "E"} {
		plan.Panels = append(plan.Panels, fill.Panel{Letter: letter, Bibs: []string{fmt.Sprint(21 + 13*i + int(seed)%7)}, Path: i < 2})
	}
	return plan, func(ink *hand.Ink, w *hand.Writer, rng *rand.Rand) {
		var boxes []sheetmodel.Rect
		for _, f := range layout().Side(sheetmodel.Back).Fields {
			if f.Part == sheetmodel.PartDrawing {
				boxes = append(boxes, f.Rect.Grow(-3))
			}
		}
		w.Gates(ink, boxes, rng)
	}
}

// countPaths reads n backs and counts paths that are asked for though drawn, and missing ones that are not.
func countPaths(t *testing.T, level string, first uint64, n int) (paths, asked, missing, unseen, idle int) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	for i := range n {
		seed := first + uint64(i)
		plan, after := pathCard(seed)
		page := matOf(t, drawn(t, sheetmodel.Back, camera.Levels()[level].Pens(), plan, seed, after))
		read, err := r.Read(page, pagePxPerMM, layout().Side(sheetmodel.Back), nil)
		require.NoError(t, err)
		require.NoError(t, page.Close())
		for _, x := range read.Ink {
			letter := strings.ToUpper(strings.TrimSuffix(strings.TrimPrefix(x.Field, "panel-"), ".drawing"))
			doubt := x.HasDoubt(sheetmodel.DoubtNoPath)
			switch letter {
			case "B", "C":
				paths++
				if doubt {
					asked++
					t.Logf("%s %d: path of panel %s not seen", level, seed, letter)
				}
			case "D", "E":
				missing++
				if !doubt {
					unseen++
				}
			default:
				if doubt {
					t.Logf("%s %d: panel %s has no bib, and a path is asked for", level, seed, letter)
					idle++
				}
			}
		}
	}
	return paths, asked, missing, unseen, idle
}

var manyPaths = flag.Int("paths", 0, "backs a level on which TestPathsMany looks for paths")

// TestPathsMany measures what TestPaths guards:
//
//	go test ./ocr -run TestPathsMany -v -args -paths 60
func TestPathsMany(t *testing.T) {
	if *manyPaths == 0 {
		t.Skip("-paths N says how many")
	}
	for _, level := range []string{camera.Ordinary, camera.Hard} {
		paths, asked, missing, unseen, idle := countPaths(t, level, 70_000, *manyPaths)
		t.Logf("pens of the %s level: %d of %d drawn paths asked for, %d of %d missing ones not seen to be, %d panels without a bib asked about", level, asked, paths, unseen, missing, idle)
	}
}

// Our own logic. Paths are drawn by scan/camera/hand; real judges' drawings are not in any figure.
func TestPaths(t *testing.T) {
	paths, asked, missing, unseen, idle := countPaths(t, "ordinary", 7_000, 6)
	t.Logf("%d of %d drawn paths asked for, %d of %d missing ones not seen to be", asked, paths, unseen, missing)
	require.Zero(t, idle)
	require.LessOrEqual(t, asked, 1)
	require.LessOrEqual(t, unseen, 3)
}

// Where the judge sketches nothing beforehand there is nothing to compare with, and ink is a drawing.
func TestPaths_NoSketch(t *testing.T) {
	r := open(t)
	defer func() { require.NoError(t, r.Close()) }()
	plan := fill.Plan{Panels: []fill.Panel{{Letter: "B", Bibs: []string{"21"}, Path: true}, {Letter: "C", Bibs: []string{"7"}}}}
	page := filled(t, sheetmodel.Back, plan, 3, nil)
	defer page.Close()
	read, err := r.Read(page, pagePxPerMM, layout().Side(sheetmodel.Back), nil)
	require.NoError(t, err)
	for _, x := range read.Ink {
		require.False(t, x.HasDoubt(sheetmodel.DoubtNoPath), x.Field)
		require.Equal(t, x.Field == "panel-b.drawing", x.State == sheetmodel.Clear, x.Field)
	}
}

// BenchmarkBack reads a back whose panels all hold the sketched gates.
func BenchmarkBack(b *testing.B) {
	r := open(b)
	defer func() { require.NoError(b, r.Close()) }()
	plan, after := pathCard(1)
	page := matOf(b, drawn(b, sheetmodel.Back, camera.Levels()[camera.Ordinary].Pens(), plan, 1, after))
	defer page.Close()
	side := layout().Side(sheetmodel.Back)
	for b.Loop() {
		if _, err := r.Read(page, pagePxPerMM, side, nil); err != nil {
			b.Fatal(err)
		}
	}
}
