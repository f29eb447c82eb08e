package scantest

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

var hardest = flag.String("hardest", "", "file for ten of the hardest photos beside their pages; -n hard ones are looked through, from -seed on")

// tried is one photo of those that the hardest are chosen of, and how it came out.
type tried struct {
	kind Kind
	seed uint64
	name string // level, or family and step
	Outcome
	bent float64 // degrees of tilt and fold
}

// TestHardest draws ten of the hardest photos, by this rule: of the hard photos, the three with the least of their
// print in sight and the two tilted and folded the most; of photos with one fault family at one of its two last
// steps, the four with the least of their print in sight, one a family; and the first of those that were refused.
// Photos straightened wrongly stand in front of all.
func TestHardest(t *testing.T) {
	if *hardest == "" {
		t.Skip("no -hardest file given")
	}
	require.Less(t, *first+uint64(*count), uint64(developSeeds), "report seeds are not looked at")
	forms, kind := ready(t, camera.Hard)
	kind.Kept = *photos
	var hard, staged, wrong, refused []tried
	try := func(kind Kind, seed uint64, name string, into *[]tried) {
		s, out := straighten(t, kind, seed, forms, nil)
		shot := s.View.Shot()
		one := tried{kind: kind, seed: seed, name: name, Outcome: out, bent: shot.TiltDeg + shot.Bend.FoldDeg}
		switch out.Verdict {
		case Wrong:
			wrong = append(wrong, one)
		case Refused:
			refused = append(refused, one)
		case Right:
			*into = append(*into, one)
		}
	}
	for i := range uint64(*count) {
		try(kind, *first+i, "hard", &hard)
	}
	refused = nil // the one refused is of the families, where the reason is known
	for i, f := range chosen() {
		for step := camera.FamilySteps - 1; step <= camera.FamilySteps; step++ {
			k := Kind{Level: camera.Hard, Layouts: kind.Layouts, Doses: []camera.Dose{{Family: f.Name, Step: step}}}
			try(k, *first+uint64(*count+2*i+step), fmt.Sprintf("%s, step %d of %d", f.Name, step, camera.FamilySteps), &staged)
		}
	}
	for _, w := range wrong {
		t.Logf("wrong: %s, seed %d: %s", w.name, w.seed, w.Why)
	}
	for _, r := range refused {
		t.Logf("refused: %s, seed %d: %s", r.name, r.seed, r.Why)
	}
	t.Logf("%d hard and %d of families straightened, %d wrong, %d of families refused", len(hard), len(staged), len(wrong), len(refused))
	hidden := func(a, b tried) int { return compareFloat(a.Quality.PrintSeen, b.Quality.PrintSeen) }
	slices.SortStableFunc(hard, hidden)
	all := append(wrong, hard[:3]...)
	rest := slices.Clone(hard[3:])
	slices.SortStableFunc(rest, func(a, b tried) int { return compareFloat(b.bent, a.bent) })
	all = append(all, rest[:2]...)
	slices.SortStableFunc(staged, hidden)
	seen := map[camera.FamilyName]bool{}
	for _, s := range staged {
		if family := s.kind.Doses[0].Family; !seen[family] && len(seen) < 4 {
			seen[family], all = true, append(all, s)
		}
	}
	all = append(all[:min(len(all), 9)], refused[:min(1, len(refused))]...)
	drawHardest(t, all, forms, *hardest)
}

func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	default:
		return 0
	}
}

// straighten reads one photo and compares the card's page with the truth; look may be shown that page.
func straighten(t *testing.T, kind Kind, seed uint64, forms *scan.Forms, look func(*scan.Page)) (*Sample, Outcome) {
	t.Helper()
	s, err := Make(kind, seed)
	require.NoError(t, err)
	photo, _, err := scan.Decode("photo.jpg", s.JPEG)
	require.NoError(t, err)
	defer photo.Close()
	pages, err := scan.Pages(photo, forms, scan.Options{})
	var out Outcome
	var page *scan.Page
	for _, p := range pages {
		defer p.Close()
		if miss := s.miss(p, center(p.Side)); miss < otherCard && (page == nil || miss < s.miss(page, center(page.Side))) {
			page = p
		}
	}
	if page == nil {
		out.Verdict, out.Why = Refused, fmt.Sprint(err)
		var refusal *scan.RefusedError
		if errors.As(err, &refusal) {
			out.Why = refusal.Detail + "; " + refusal.Remedy
		}
		return s, out
	}
	out.Quality = page.Quality
	out.Verdict, out.Why = s.compare(page, &out)
	if look != nil {
		look(page)
	}
	return s, out
}

// drawHardest lays photos and pages side by side, two pairs a row.
func drawHardest(t *testing.T, all []tried, forms *scan.Forms, file string) {
	t.Helper()
	const pair, text, gap = 440, 48, 10
	rows := (len(all) + 1) / 2
	sheet := image.NewRGBA(image.Rect(0, 0, 2*(2*pair+3*gap), rows*(pair+text+gap)+gap))
	draw.Draw(sheet, sheet.Rect, image.White, image.Point{}, draw.Src)
	for i, one := range all {
		at := image.Pt(i%2*(2*pair+3*gap)+gap, i/2*(pair+text+gap)+gap)
		s, out := straighten(t, one.kind, one.seed, forms, func(p *scan.Page) {
			fit(sheet, image.Rectangle{Min: at.Add(image.Pt(pair+gap, 0)), Max: at.Add(image.Pt(2*pair+gap, pair))}, flagged(t, p))
		})
		img, err := jpeg.Decode(bytes.NewReader(s.JPEG))
		require.NoError(t, err)
		fit(sheet, image.Rectangle{Min: at, Max: at.Add(image.Pt(pair, pair))}, img)
		for j, text := range caption(one.name, one.seed, s, out) {
			d := font.Drawer{Dst: sheet, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(at.X, at.Y+pair+13+15*j)}
			d.DrawString(text)
		}
	}
	save(t, sheet, file)
}

// flagged is the page's picture, with the fields that it calls hidden tinted.
func flagged(t *testing.T, p *scan.Page) image.Image {
	t.Helper()
	grey, err := p.Mat.ToImage()
	require.NoError(t, err)
	out := image.NewRGBA(grey.Bounds())
	draw.Draw(out, out.Rect, grey, image.Point{}, draw.Src)
	for _, name := range p.Quality.Hidden {
		r := p.Side.Field(name).Rect
		a, b := p.PageFromSheet(sheetmodel.SheetPoint{X: r.X, Y: r.Y}), p.PageFromSheet(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H})
		draw.Draw(out, image.Rect(int(a.X), int(a.Y), int(b.X), int(b.Y)), image.NewUniform(color.RGBA{R: 120, G: 50, A: 120}), image.Point{}, draw.Over)
	}
	return out
}

// fit draws img as large as the room allows, in its middle.
func fit(sheet *image.RGBA, room image.Rectangle, img image.Image) {
	b := img.Bounds()
	k := math.Min(float64(room.Dx())/float64(b.Dx()), float64(room.Dy())/float64(b.Dy()))
	w, h := int(k*float64(b.Dx())), int(k*float64(b.Dy()))
	to := image.Rect(0, 0, w, h).Add(room.Min).Add(image.Pt((room.Dx()-w)/2, (room.Dy()-h)/2))
	xdraw.CatmullRom.Scale(sheet, to, img, b, draw.Src, nil)
}

// caption says what was done to the card and what came of it.
func caption(name string, seed uint64, s *Sample, out Outcome) []string {
	shot := s.View.Shot()
	what := []string{fmt.Sprintf("tilt %.0f deg", shot.TiltDeg)}
	if shot.Bend.FoldDeg > 0 {
		what = append(what, fmt.Sprintf("fold %.0f deg", shot.Bend.FoldDeg))
	}
	if shot.Bend.HeightMM >= 1 {
		what = append(what, fmt.Sprintf("curl %.0f mm", shot.Bend.HeightMM))
	}
	for _, f := range shot.Faults {
		if f.Kind != camera.Fold {
			what = append(what, strings.ReplaceAll(string(f.Kind), "-", " "))
		}
	}
	what = append(what, fmt.Sprintf("blur %.2f mm, %.1f px/mm", shot.BlurSigmaMM, shot.PxPerMM))
	lines := []string{fmt.Sprintf("%s, seed %d", name, seed), strings.Join(what, ", ")}
	if out.Verdict == Refused {
		return append(lines, "refused: "+out.Why)
	}
	sort.Float64s(out.Errors)
	errs := "no field in sight"
	if n := len(out.Errors); n > 0 {
		errs = fmt.Sprintf("field corners off by %.2f mm (median), %.2f mm (most)", out.Errors[n/2], out.Errors[n-1])
	}
	if out.Verdict == Wrong {
		errs = "WRONG, " + out.Why
	}
	return append(lines, fmt.Sprintf("print seen %.0f %%; %s; %d of %d fields flagged", 100*out.Quality.PrintSeen, errs, len(out.Quality.Hidden), len(s.Side.Fields)))
}
