package main

import (
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// A card of another make that only the other copy has admitted comes with the pictures of its blank sides: a layout without them would
// keep every photo of the joined race from being read. Source: our own logic.
func TestTakeLayouts_CardOfAnotherMake_ComesWithItsPictures(t *testing.T) {
	folder := func() *racefolder.Folder {
		dir := filepath.Join(t.TempDir(), "race")
		require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Join("..", "..", "testdata", "demo-race"))))
		f, err := racefolder.Open(dir)
		require.NoError(t, err)
		return f
	}
	ours, theirs := folder(), folder()
	file := filepath.Join("..", "..", "testdata", "blank-cards", "plain-table.yaml")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	l, err := sheetmodel.ParseLayout(file, text)
	require.NoError(t, err)
	blanks := map[sheetmodel.SideName]*image.Gray{}
	for _, s := range l.Sides {
		g := image.NewGray(image.Rect(0, 0, 40, 60))
		draw.Draw(g, g.Rect, image.NewUniform(color.Gray{Y: 200}), image.Point{}, draw.Src)
		blanks[s.Name] = g
	}
	_, err = theirs.SaveForeign(l, blanks)
	require.NoError(t, err)

	taken, err := takeLayouts(ours, theirs)
	require.NoError(t, err)
	assert.Equal(t, []string{"layouts/" + l.FileName()}, taken)
	got, err := ours.Blanks(l)
	require.NoError(t, err)
	assert.Equal(t, blanks, got)
	taken, err = takeLayouts(ours, theirs)
	require.NoError(t, err)
	assert.Empty(t, taken, "a second time changes nothing")

	// Lost here, it is brought back; lost there, nothing is taken over, or remains as it was where it is known.
	front := filepath.FromSlash(racefolder.BlankFile(l, sheetmodel.Front))
	require.NoError(t, os.Remove(filepath.Join(ours.Dir, front)))
	taken, err = takeLayouts(ours, theirs)
	require.NoError(t, err)
	assert.Len(t, taken, 1)
	require.NoError(t, os.Remove(filepath.Join(theirs.Dir, front)))
	taken, err = takeLayouts(ours, theirs)
	require.NoError(t, err)
	assert.Empty(t, taken)
	fresh := folder()
	_, err = takeLayouts(fresh, theirs)
	require.ErrorContains(t, err, "nothing was joined")
	kept, err := fresh.Layouts()
	require.NoError(t, err)
	assert.False(t, slices.ContainsFunc(kept, func(k *sheetmodel.Layout) bool { return k.Hash() == l.Hash() }))
}
