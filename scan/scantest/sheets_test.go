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
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"gatefold/scan/camera"
)

var (
	contact  = flag.String("contact", "", "folder for contact sheets of the fault families")
	overview = flag.String("overview", "", "file for one photo of each fault family")
	wanted   = flag.String("families", "", "only these families, separated by commas")
	tilePx   = flag.Int("tile", 420, "side of a photo on a contact sheet, px")
)

// TestContactSheets draws one photo a step of each family, to look at.
func TestContactSheets(t *testing.T) {
	if *contact == "" {
		t.Skip("no -contact folder given")
	}
	for i, f := range chosen() {
		sheet := image.NewRGBA(image.Rect(0, 0, camera.FamilySteps**tilePx, *tilePx))
		for step := 1; step <= camera.FamilySteps; step++ {
			put(t, sheet, image.Pt((step-1)**tilePx, 0), f, step, uint64(10*i+step))
		}
		save(t, sheet, fmt.Sprintf("%s/%s.jpg", *contact, f.Name))
	}
}

// TestOverview draws one photo of each family, at step 4, with its name.
func TestOverview(t *testing.T) {
	if *overview == "" {
		t.Skip("no -overview file given")
	}
	const columns, line = 7, 16
	all := camera.Families()
	rows := (len(all) + columns - 1) / columns
	sheet := image.NewRGBA(image.Rect(0, 0, columns**tilePx, rows*(*tilePx+line)))
	draw.Draw(sheet, sheet.Rect, image.White, image.Point{}, draw.Src)
	for i, f := range all {
		at := image.Pt(i%columns**tilePx, i/columns*(*tilePx+line))
		put(t, sheet, at, f, 4, uint64(*first)%100_000+uint64(i))
		d := font.Drawer{Dst: sheet, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(at.X+4, at.Y+*tilePx+11)}
		d.DrawString(string(f.Name))
	}
	save(t, sheet, *overview)
}

// put photographs one step of a family and draws it small.
func put(t *testing.T, sheet *image.RGBA, at image.Point, f camera.Family, step int, seed uint64) {
	t.Helper()
	start := time.Now()
	s, err := Make(Kind{Level: camera.Ordinary, PxPerMM: 8, Doses: []camera.Dose{{Family: f.Name, Step: step}}}, seed)
	require.NoError(t, err)
	t.Logf("%s step %d: %v, writing included", f.Name, step, time.Since(start))
	img, err := jpeg.Decode(bytes.NewReader(s.JPEG))
	require.NoError(t, err)
	b := img.Bounds()
	k := float64(*tilePx-4) / float64(max(b.Dx(), b.Dy()))
	w, h := int(k*float64(b.Dx())), int(k*float64(b.Dy()))
	to := image.Rect(0, 0, w, h).Add(at).Add(image.Pt((*tilePx-w)/2, (*tilePx-h)/2))
	xdraw.CatmullRom.Scale(sheet, to, img, b, draw.Src, nil)
}

func save(t *testing.T, img image.Image, file string) {
	t.Helper()
	var buf bytes.Buffer
	require.NoError(t, jpeg.Encode(&buf, img, &jpeg.Options{Quality: 80}))
	require.NoError(t, os.WriteFile(file, buf.Bytes(), 0o644))
}

// chosen returns the families that -families names, or all.
func chosen() []camera.Family {
	if *wanted == "" {
		return camera.Families()
	}
	var out []camera.Family
	for _, f := range camera.Families() {
		for name := range strings.SplitSeq(*wanted, ",") {
			if string(f.Name) == name {
				out = append(out, f)
			}
		}
	}
	return out
}
