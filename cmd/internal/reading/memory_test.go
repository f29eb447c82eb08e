//go:build cgo && linux

package reading_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/scan/scantest/mats"
	"gatefold/sheetmodel"
)

// A process that watches a folder reads photos all day. What the C library has free goes back to the system: after so
// many photos its heaps take 1 MB more than is in use. Where nothing is given back they take 24 MB more, and grow.
func TestRead_GivesMemoryBack(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	if _, ok := mats.Native(); !ok {
		t.Skip("nothing counts here what libraries hold")
	}
	names, err := filepath.Glob("../../../testdata/demo-stack/photos/*.jpg")
	require.NoError(t, err)
	require.Greater(t, len(names), 8)
	forms, err := reading.Prepare(sheetmodel.BuiltinLayouts())
	require.NoError(t, err)
	r, err := reading.Open(forms, reading.Options{})
	require.NoError(t, err)
	defer r.Close()   //nolint:errcheck // only a test
	const photos = 24 // a multiple of 8, at which memory is given back
	for i := range photos {
		file, err := os.ReadFile(names[i%len(names)])
		require.NoError(t, err)
		_, err = r.Read(t.Context(), names[i%len(names)], file)
		require.NoError(t, err)
	}
	native, _ := mats.Native()
	resident, ok := mats.Resident()
	if !ok {
		t.Skip("nothing tells here what the C library's heaps take")
	}
	t.Logf("%.1f MB in use, %.1f MB taken", float64(native)/(1<<20), float64(resident)/(1<<20))
	assert.Less(t, resident-native, int64(8<<20))
}
