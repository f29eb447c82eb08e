//go:build cgo

package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/trial"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// A faint copy of a copy, described by hand, in digits of our own drawing: no entry certain and wrong, and in boxes of
// 9 × 13 mm most bibs certain. Our own logic; the figures of a trial are for its user, not for us.
func TestTry_FaintCopy_BibsAreReadAndNoneWrongly(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs cards for some seconds")
	}
	t.Setenv("GATEFOLD_DATA", "")
	var out bytes.Buffer
	a := &app{out: &out, errs: &bytes.Buffer{}, now: time.Now}
	err := a.try(t.Context(), filepath.Join(blankCardFolder, "photocopy.yaml"), filepath.Join(blankCardFolder, "photocopy.png"),
		trial.Options{Photos: 1, Level: camera.Ordinary, Seed: 11})
	require.NoError(t, err, out.String())
	assert.Regexp(t, `(?m)^bib +comb +3 of 9\.0 × 13\.0 +\d+ +[1-9]\d* +\d+ +0 +0 `, out.String())
	assert.Contains(t, out.String(), "digits of our own drawing, neater than people's")
	assert.NotContains(t, out.String(), "no box or line")
}

// A layout whose rows lie half a row too low would be filled where no judge writes: the picture tells. Our own logic.
func TestTry_FieldsBesideTheirBoxes_AreNamed(t *testing.T) {
	l := blankCardTruth(t, "photocopy.png")
	for i := range l.Sides[0].Fields {
		if f := &l.Sides[0].Fields[i]; f.Row > 0 && f.Row < 10 {
			f.Rect.Y += 6.5
		}
	}
	data, err := os.ReadFile(filepath.Join(blankCardFolder, "photocopy.png"))
	require.NoError(t, err)
	pictures, err := flatSides(t.Context(), "photocopy.png", data, l.Sides[0].W, l.Sides[0].H)
	require.NoError(t, err)
	picture, _ := propose.Level(pictures[0])
	beside, err := besideTheirBoxes(&l.Sides[0], picture)
	require.NoError(t, err)
	assert.Len(t, beside, 27, "%v", beside)
}

// Two columns of boxes that are one field now, to tick one or the other, lie on their boxes. Our own logic.
func TestTry_TwoBoxesMadeOneField_LieOnTheirBoxes(t *testing.T) {
	l := blankCardTruth(t, "photocopy.png")
	side := &l.Sides[0]
	data, err := os.ReadFile(filepath.Join(blankCardFolder, "photocopy.png"))
	require.NoError(t, err)
	pictures, err := flatSides(t.Context(), "photocopy.png", data, side.W, side.H)
	require.NoError(t, err)
	picture, _ := propose.Level(pictures[0])
	p, err := propose.Side(picture, side.W, side.H, nil)
	require.NoError(t, err)
	byRow := map[int][]sheetmodel.Field{}
	for _, f := range p.Fields {
		if f.Row > 0 {
			byRow[f.Row] = append(byRow[f.Row], f)
		}
	}
	joined := *side
	joined.Fields = nil
	for row, some := range byRow {
		require.GreaterOrEqual(t, len(some), 2)
		joined.Fields = append(joined.Fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.code", row), Part: sheetmodel.PartCode, Kind: sheetmodel.Choice, Row: row, Rect: some[0].Rect.Union(some[1].Rect)})
	}
	beside, err := besideTheirBoxes(&joined, picture)
	require.NoError(t, err)
	assert.Empty(t, beside)
}
