package racefolder_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel/racefolder"
)

// Source: our own logic.
func TestMakeNew_IsWholeOrNotThere(t *testing.T) {
	top := t.TempDir()
	folder := filepath.Join(top, "again")
	broken := errors.New("the disk is full")
	inside := func(unfinished string) error {
		assert.NoDirExists(t, folder, "half of it must not bear its name")
		return os.WriteFile(filepath.Join(unfinished, "race.yaml"), []byte("x"), 0o600)
	}
	require.ErrorIs(t, racefolder.MakeNew(folder, func(unfinished string) error { return errors.Join(inside(unfinished), broken) }), broken)
	left, err := os.ReadDir(top)
	require.NoError(t, err)
	assert.Empty(t, left)

	require.NoError(t, racefolder.MakeNew(folder, inside))
	assert.FileExists(t, filepath.Join(folder, "race.yaml"))
	info, err := os.Stat(folder)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o755), info.Mode().Perm(), "others on the laptop may read it, as any folder")

	// Nothing is replaced: a folder, a link that leads nowhere, and what somebody else makes meanwhile.
	never := func(string) error { assert.Fail(t, "must not come to this"); return nil }
	require.ErrorContains(t, racefolder.MakeNew(folder+"/", never), "is there already; name a new one")
	link := filepath.Join(top, "link")
	require.NoError(t, os.Symlink("nowhere", link))
	require.ErrorContains(t, racefolder.MakeNew(link, never), "is there already; name a new one")
	late := filepath.Join(top, "late")
	require.ErrorContains(t, racefolder.MakeNew(late, func(string) error { return os.Mkdir(late, 0o755) }), "is there already; name a new one")
	require.ErrorContains(t, racefolder.MakeNew(filepath.Join(top, "no", "where"), never), "check free space")
	left, err = os.ReadDir(top)
	require.NoError(t, err)
	assert.Len(t, left, 3, "nothing unfinished stays")
}
