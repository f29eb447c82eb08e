package scan_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/sheetmodel"
)

func BenchmarkPrepare(b *testing.B) {
	for b.Loop() {
		_, err := scan.Prepare(sheetmodel.BuiltinLayouts()...)
		require.NoError(b, err)
	}
}

// BenchmarkPhoto reads the JPEG named by GATEFOLD_BENCH_PHOTO from file to page.
func BenchmarkPhoto(b *testing.B) {
	name := os.Getenv("GATEFOLD_BENCH_PHOTO")
	if name == "" {
		b.Skip("GATEFOLD_BENCH_PHOTO is not set")
	}
	file, err := os.ReadFile(name)
	require.NoError(b, err)
	forms, err := scan.Prepare(sheetmodel.BuiltinLayouts()...)
	require.NoError(b, err)
	for b.Loop() {
		m, _, err := scan.Decode(name, file)
		require.NoError(b, err)
		pages, err := scan.Pages(m, forms, scan.Options{})
		require.NoError(b, err)
		for _, p := range pages {
			require.NoError(b, p.Close())
		}
		require.NoError(b, m.Close())
	}
}
