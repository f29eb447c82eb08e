package ocr_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/weights"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// inkless is two nets of which the second sees no more than ink: of the first box of a comb both say 7, of the
// others "empty", the second with the middling claim that it makes of every box without ink.
type inkless struct {
	field sheetmodel.Rect
	boxes int
}

func (n inkless) Classify(_ []byte, _ int, _ float64, boxes []sheetmodel.Rect) (a, b []ocr.Dist, err error) {
	for _, box := range boxes {
		da, db := ocr.Dist{ocr.ClassEmpty: 0.9999, ocr.ClassOther: 0.0001}, ocr.Dist{ocr.ClassEmpty: 0.89, ocr.ClassOther: 0.11}
		if box == n.field.Box(0, n.boxes) {
			da = ocr.Dist{7: 0.9998, 1: 0.0002}
			db = da
		}
		a, b = append(a, da), append(b, db)
	}
	return a, b, nil
}

func (inkless) Weights() string { return weights.Hash() }

func (inkless) Close() error { return nil }

func TestRead_BoxesWithoutInk_DontDecideHowSureANumberIs(t *testing.T) {
	side := layout().Side(sheetmodel.Front)
	f := side.Field("row-05.bib")
	score := 0.0
	r, err := ocr.Open(ocr.Options{Nets: inkless{field: f.Rect, boxes: f.Boxes}, Scores: func(field string, _ calib.Kind, s float64) {
		if field == f.Name {
			score = s
		}
	}})
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	// On a page with grain every box of a written comb is shown to the nets.
	mat := matOf(t, grainy(t, fill.Plan{Rows: []fill.Row{{Number: 5, Bib: "7"}, {Number: 8, Bib: "114"}}}, 61, 0.03))
	_, err = r.Read(mat, pagePxPerMM, side, nil)
	require.NoError(t, mat.Close())
	require.NoError(t, err)
	// Ten to the minus three is wrong at most: the digit's own 2 in 10,000 and what the first net leaves.
	assert.Greater(t, score, 3.0)
}
