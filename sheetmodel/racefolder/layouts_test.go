package racefolder

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestLayouts_SavedAndLoaded_AreTheSame(t *testing.T) {
	f := onDisk(t, goodRace)
	none, err := f.Layouts()
	require.NoError(t, err)
	assert.Empty(t, none)
	want := map[string]bool{}
	for _, l := range sheetmodel.BuiltinLayouts() {
		path, err := f.SaveLayout(l)
		require.NoError(t, err)
		assert.Equal(t, filepath.Join(f.Dir, "layouts", l.Hash()[:12]+".yaml"), path)
		again, err := f.SaveLayout(l)
		require.NoError(t, err)
		assert.Equal(t, path, again)
		want[l.Hash()] = true
	}
	got, err := f.Layouts()
	require.NoError(t, err)
	have := map[string]bool{}
	for _, l := range got {
		have[l.Hash()] = true
	}
	assert.Equal(t, want, have)
}

func TestLayouts_ADamagedOne_IsNamedAndLeftOut(t *testing.T) {
	f := onDisk(t, goodRace)
	layouts := sheetmodel.BuiltinLayouts()
	require.NotEmpty(t, layouts)
	path, err := f.SaveLayout(layouts[0])
	require.NoError(t, err)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, append(text, "note: mine\n"...), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(f.Dir, "layouts", "notes.txt"), []byte("not a layout"), 0o600))
	got, err := f.Layouts()
	require.ErrorContains(t, err, path)
	assert.Empty(t, got)

	_, err = f.SaveLayout(layouts[0])
	require.ErrorContains(t, err, "another content stands under this hash")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(text)+"note: mine\n", string(kept))
}
