package intake_test

import (
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/intake"
)

// phonePhoto is a JPEG of 12 megapixels with about as many bytes as phones make of them.
func phonePhoto(t testing.TB) []byte {
	r := rand.New(rand.NewPCG(12, 1))
	img := image.NewYCbCr(image.Rect(0, 0, 4000, 3000), image.YCbCrSubsampleRatio420)
	for y := range 3000 {
		for x := range 4000 {
			img.Y[y*img.YStride+x] = uint8(90 + 60*((x/97+y/53)%2) + r.IntN(9))
		}
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(126+r.IntN(4)), uint8(126+r.IntN(4))
	}
	return jpegOf(t, img)
}

// BenchmarkPhoto compares what a worker costs with unpacking in the program itself, and both with OpenCV's
// colour decode, the measure of the scoreboard's speed. One after the other, so that all share a noisy machine.
func BenchmarkPhoto(b *testing.B) {
	file := phonePhoto(b)
	d := open(b, intake.Options{})
	all(b, d, "first.jpg", file, nil) // the worker has started
	b.Logf("%.1f MB", float64(len(file))/1e6)
	b.Run("colour", func(b *testing.B) {
		for b.Loop() {
			m, err := gocv.IMDecode(file, gocv.IMReadColor)
			require.NoError(b, err)
			require.NoError(b, m.Close())
		}
	})
	b.Run("here", func(b *testing.B) {
		for b.Loop() {
			m, _, err := scan.Decode("photo.jpg", file)
			require.NoError(b, err)
			require.NoError(b, m.Close())
		}
	})
	b.Run("worker", func(b *testing.B) {
		for b.Loop() {
			_, errs := all(b, d, "photo.jpg", file, nil)
			require.Empty(b, errs)
		}
	})
	b.Run("start", func(b *testing.B) {
		small := jpegOf(b, gradient(64, 64))
		for b.Loop() {
			d, err := intake.Open(intake.Options{})
			require.NoError(b, err)
			_, errs := all(b, d, "small.jpg", small, nil)
			require.Empty(b, errs)
			require.NoError(b, d.Close())
		}
	})
}
