package rivals

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// The outlines on real photos of pages whose corners are known: what is said of them on simulated photos is not
// for want of a working recipe.
func TestContour_PaperPhotos(t *testing.T) {
	root := os.Getenv("GATEFOLD_DATA")
	if root == "" {
		t.Skip("GATEFOLD_DATA is not set: no folder with real photos of pages (paper-photos)")
	}
	runner, err := Open(t.Context())
	if err != nil {
		t.Skip(err)
	}
	b, err := os.ReadFile(filepath.Join(root, "paper-photos", "corners.json"))
	require.NoError(t, err)
	var entries []struct {
		File    string
		Corners [4][2]float64
	}
	require.NoError(t, json.Unmarshal(b, &entries))
	for method, least := range map[string]int{Contour: 2, ContourHull: 4} {
		found := 0
		for _, e := range entries {
			jpeg, err := os.ReadFile(filepath.Join(root, "paper-photos", e.File))
			require.NoError(t, err)
			side := &sheetmodel.Side{W: 1, H: 1}
			a, err := runner.Ask(method, side, jpeg)
			require.NoError(t, err)
			if len(a.Maps) == 0 {
				t.Logf("%s %s: nothing found", method, e.File)
				continue
			}
			best := math.Inf(1)
			for _, m := range a.Maps {
				worst := 0.0
				for i, c := range []sheetmodel.SheetPoint{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}} {
					got := m.PhotoFromSheet(c)
					worst = max(worst, math.Hypot(got.X-e.Corners[i][0], got.Y-e.Corners[i][1]))
				}
				best = min(best, worst)
			}
			width := math.Hypot(e.Corners[1][0]-e.Corners[0][0], e.Corners[1][1]-e.Corners[0][1])
			t.Logf("%s %s: corners off by up to %.1f px, %.2f %% of the page's width", method, e.File, best, 100*best/width)
			if best < 0.01*width {
				found++
			}
		}
		assert.GreaterOrEqual(t, found, least, "%s does worse than README.md says", method)
	}
	require.NoError(t, runner.Close())
}
