package scantest

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	xdraw "golang.org/x/image/draw"

	"gatefold/scan/camera"
)

var (
	contact = flag.String("contact", "", "folder for contact sheets of the fault families")
	wanted  = flag.String("families", "", "only these families, separated by commas")
	tilePx  = flag.Int("tile", 420, "side of a photo on a contact sheet, px")
)

// TestContactSheets draws one photo a step of each family, to look at.
func TestContactSheets(t *testing.T) {
	if *contact == "" {
		t.Skip("no -contact folder given")
	}
	for _, f := range chosen() {
		sheet := image.NewRGBA(image.Rect(0, 0, camera.FamilySteps**tilePx, *tilePx))
		took := time.Duration(0)
		for step := 1; step <= camera.FamilySteps; step++ {
			start := time.Now()
			s, err := Make(Kind{Level: camera.Ordinary, PxPerMM: 8, Doses: []camera.Dose{{Family: f.Name, Step: step}}}, uint64(*first)%1000+uint64(step))
			require.NoError(t, err)
			took += time.Since(start)
			img, err := jpeg.Decode(bytes.NewReader(s.JPEG))
			require.NoError(t, err)
			b := img.Bounds()
			k := float64(*tilePx-6) / float64(max(b.Dx(), b.Dy()))
			at := image.Rect(0, 0, int(k*float64(b.Dx())), int(k*float64(b.Dy()))).Add(image.Pt((step-1)**tilePx+3, 3))
			xdraw.ApproxBiLinear.Scale(sheet, at, img, b, draw.Src, nil)
		}
		t.Logf("%s: %v a photo, writing included", f.Name, took/camera.FamilySteps)
		var buf bytes.Buffer
		require.NoError(t, jpeg.Encode(&buf, sheet, &jpeg.Options{Quality: 85}))
		require.NoError(t, os.WriteFile(fmt.Sprintf("%s/%s.jpg", *contact, f.Name), buf.Bytes(), 0o644))
	}
}

// chosen returns the families that -families names, or all.
func chosen() []camera.Family {
	if *wanted == "" {
		return camera.Families()
	}
	var out []camera.Family
	for _, f := range camera.Families() {
		for _, name := range strings.Split(*wanted, ",") {
			if string(f.Name) == name {
				out = append(out, f)
			}
		}
	}
	return out
}
