package archive_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A desk is open and a bib is typed while the race is put away: the draft in the archive was made before, its log would be from after. The whole archive is refused,
// and nothing of it is left; what may be handed around is a copy of one moment. Source: our own logic.
func TestWrite_RaceGoesOnMeanwhile_IsRefused(t *testing.T) {
	for _, names := range []bool{true, false} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		st, result := b.Load()
		typed := false
		in := archive.Input{Store: b.Store, Stack: st, Result: result, At: at, Names: names, Layout: b.LayoutByHash, Folder: b.Folder.Dir, Step: func(string) error {
			if !typed {
				typed = true
				b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
			}
			return nil
		}}
		dir := filepath.Join(t.TempDir(), "put-away")
		_, err := archive.Write(t.Context(), dir, in)
		if !names {
			require.NoError(t, err)
			continue
		}
		require.ErrorIs(t, err, archive.ErrMoved)
		left, err := os.ReadDir(filepath.Dir(dir))
		require.NoError(t, err)
		assert.Empty(t, left)
		in.Stack, in.Result = b.Load()
		_, err = archive.Write(t.Context(), dir, in)
		require.NoError(t, err)
	}
}
