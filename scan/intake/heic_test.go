package intake_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/intake"
)

// The files are built as phones build them (testdata/make-heic.py): tiles, a grid that cuts some off, a turn
// as a property and once more as Exif. Turning twice, or not at all, differs by 25 grey values and more.
func TestPictures_HEIC_TurnedOnce(t *testing.T) {
	require.True(t, intake.HasHEIC(), "no libheif here; .ci/packages installs it")
	d := open(t, intake.Options{})
	files, err := filepath.Glob("testdata/*.[ha][ev]i*")
	require.NoError(t, err)
	require.Len(t, files, 6)
	for _, name := range files {
		file, err := os.ReadFile(name)
		require.NoError(t, err)
		n, errs := all(t, d, name, file, func(p intake.Picture) {
			assert.Equal(t, "heic", p.Meta.Format)
			assert.Less(t, difference(t, p.Grey, gradient(fileW, fileH)), sameDifference, name)
		})
		assert.Empty(t, errs, name)
		assert.Equal(t, 1, n, name)
	}
}
