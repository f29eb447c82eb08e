package main

import (
	"bytes"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// The draft must be one that the program itself reads, also after a person has changed it. Our own logic.
func TestDescribe_DraftIsReadAndMayBeEdited(t *testing.T) {
	dir := t.TempDir()
	scan, out := filepath.Join(dir, "blank.png"), filepath.Join(dir, "draft.yaml")
	side := sheetmodel.BuiltinLayouts()[0].Side(sheetmodel.Front)
	f, err := os.Create(scan)
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, print.RasterBlank(side, 8)))
	require.NoError(t, f.Close())
	a := &app{out: io.Discard, errs: os.Stderr, now: time.Now}
	_, err = a.describe(t.Context(), scan, out, side.W, side.H, sheetmodel.FaultOnly)
	require.NoError(t, err)
	assert.FileExists(t, filepath.Join(dir, "draft.png"))
	text, err := os.ReadFile(out)
	require.NoError(t, err)
	l, err := sheetmodel.ParseLayout(out, text)
	require.NoError(t, err)
	assert.Contains(t, kindsOf(l), sheetmodel.Comb)
	edited := bytes.Replace(text, []byte("part: unnamed"), []byte("part: bib"), 1)
	l, err = sheetmodel.ParseLayout(out, edited)
	require.NoError(t, err)
	assert.Equal(t, sheetmodel.PartBib, l.Sides[0].Fields[0].Part)
	_, err = a.describe(t.Context(), scan, out, side.W, side.H, sheetmodel.FaultOnly)
	assert.ErrorContains(t, err, "is there already")
}

func kindsOf(l *sheetmodel.Layout) []sheetmodel.Kind {
	var kinds []sheetmodel.Kind
	for _, f := range l.Sides[0].Fields {
		kinds = append(kinds, f.Kind)
	}
	return kinds
}
