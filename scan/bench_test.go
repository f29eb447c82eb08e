package scan_test

import (
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

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

// benchPhotos returns the photos that GATEFOLD_BENCH_PHOTO names, a pattern, and the forms they may show:
// those of the layouts that GATEFOLD_BENCH_LAYOUT names, another pattern, or scantest's.
func benchPhotos(b *testing.B) (names []string, files [][]byte, forms *scan.Forms) {
	b.Helper()
	pattern := os.Getenv("GATEFOLD_BENCH_PHOTO")
	if pattern == "" {
		b.Skip("GATEFOLD_BENCH_PHOTO is not set")
	}
	names, err := filepath.Glob(pattern)
	require.NoError(b, err)
	require.NotEmpty(b, names)
	for _, name := range names {
		file, err := os.ReadFile(name)
		require.NoError(b, err)
		files = append(files, file)
	}
	layouts, err := scantest.Layouts()
	require.NoError(b, err)
	if own, err := filepath.Glob(os.Getenv("GATEFOLD_BENCH_LAYOUT")); err == nil && len(own) > 0 {
		layouts = nil
		for _, name := range own {
			text, err := os.ReadFile(name)
			require.NoError(b, err)
			l, err := sheetmodel.ParseLayout(name, text)
			require.NoError(b, err)
			layouts = append(layouts, l)
		}
	}
	forms, err = scan.Prepare(layouts...)
	require.NoError(b, err)
	return names, files, forms
}

// BenchmarkPhoto reads photos from file to page; one op is one photo.
func BenchmarkPhoto(b *testing.B) {
	names, files, forms := benchPhotos(b)
	for i := 0; b.Loop(); i++ {
		m, _, err := scan.Decode(names[i%len(names)], files[i%len(files)])
		require.NoError(b, err)
		pages, err := scan.Pages(m, forms, scan.Options{})
		require.NoError(b, err)
		for _, p := range pages {
			require.NoError(b, p.Close())
		}
		require.NoError(b, m.Close())
	}
}

// BenchmarkColourDecode is the measure that BenchmarkPhoto is put against: the same files, OpenCV alone.
func BenchmarkColourDecode(b *testing.B) {
	_, files, _ := benchPhotos(b)
	for i := 0; b.Loop(); i++ {
		m, err := gocv.IMDecode(files[i%len(files)], gocv.IMReadColor)
		require.NoError(b, err)
		require.NoError(b, m.Close())
	}
}

// BenchmarkStages tells where the time goes: for each part of the way the median, in ms of the processor's time, over
// photos of their median over runs, and the ratio of the whole to OpenCV's colour decode, run in turn.
func BenchmarkStages(b *testing.B) {
	names, files, forms := benchPhotos(b)
	runs := make([][][]scan.Stage, len(files))
	for b.Loop() {
		for i, file := range files {
			began := processorTime()
			require.NoError(b, scan.ColourDecode(file))
			colour := processorTime() - began
			stages, err := scan.Stages(names[i], file, forms, processorTime)
			require.NoError(b, err, names[i])
			var whole time.Duration
			for _, s := range stages {
				whole += s.Took
			}
			runs[i] = append(runs[i], append(stages, scan.Stage{Name: "whole", Took: whole}, scan.Stage{Name: "colour-decode", Took: colour}))
		}
	}
	var each [][]scan.Stage
	var ratios []float64
	for _, r := range runs {
		m := scan.Medians(r)
		each = append(each, m)
		ratios = append(ratios, float64(m[len(m)-2].Took)/float64(m[len(m)-1].Took))
	}
	for _, s := range scan.Medians(each) {
		b.ReportMetric(s.Took.Seconds()*1000, s.Name+"-ms")
	}
	slices.Sort(ratios)
	b.ReportMetric(ratios[len(ratios)/2], "ratio")
	b.ReportMetric(ratios[len(ratios)-1], "worst-ratio")
}

// processorTime is what this process has used so far.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
