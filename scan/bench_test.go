package scan_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/scantest"
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
	layouts, err := scantest.Layouts()
	require.NoError(b, err)
	forms, err := scan.Prepare(layouts...)
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

// BenchmarkColourDecode is the measure that BenchmarkPhoto is put against: the same file, OpenCV alone.
func BenchmarkColourDecode(b *testing.B) {
	name := os.Getenv("GATEFOLD_BENCH_PHOTO")
	if name == "" {
		b.Skip("GATEFOLD_BENCH_PHOTO is not set")
	}
	file, err := os.ReadFile(name)
	require.NoError(b, err)
	for b.Loop() {
		m, err := gocv.IMDecode(file, gocv.IMReadColor)
		require.NoError(b, err)
		require.NoError(b, m.Close())
	}
}
