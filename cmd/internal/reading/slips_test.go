//go:build cgo && linux

package reading_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/reading"
	"gatefold/cmd/internal/trial"
	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"

	"golang.org/x/image/draw"
)

var (
	slipPhotos = flag.Int("slip-photos", 0, "photos of each form without marks to straighten")
	slipSeed   = flag.Uint64("slip-seed", 51, "of all chance")
	slipRace   = flag.String("slip-race", "", "folder of a race whose cards of other makes are photographed, beside the list of 200 bibs")
	slipLevel  = flag.String("slip-level", camera.Hard, "of the camera: ordinary or hard")
	slipFor    = flag.Duration("slip-for", time.Hour, "no further photo after this")
)

// written is a blank form without marks, and how it is filled.
type written struct {
	name  string
	side  *sheetmodel.Side
	paper *image.Gray // 16 px/mm
	forms *scan.Forms
	fill  func(ink *hand.Ink, w fill.Writer, rng *rand.Rand)
}

func listOf200(t *testing.T) written {
	t.Helper()
	l := passageList()
	drawn := &l.Sides[0]
	plain := *l // a card of another make: its layout knows no print
	plain.Sides = []sheetmodel.Side{*drawn}
	plain.Sides[0].Print = nil
	forms, err := reading.PrepareBlank(&plain, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: print.RasterBlank(drawn, 8)})
	require.NoError(t, err)
	return written{name: l.Name, side: drawn, paper: print.RasterBlank(drawn, 16), forms: forms, fill: func(ink *hand.Ink, w fill.Writer, rng *rand.Rand) {
		writePassages(ink, drawn, w, 0.85, rng)
	}}
}

func blanksOf(t *testing.T, dir string) (all []written) {
	t.Helper()
	folder, err := racefolder.Open(dir)
	require.NoError(t, err)
	layouts, err := folder.Layouts()
	require.NoError(t, err)
	for _, l := range layouts {
		side := &l.Sides[0]
		if len(side.Marks) > 0 {
			continue
		}
		blanks, err := folder.Blanks(l)
		require.NoError(t, err)
		all = append(all, blankOf(t, l, blanks))
	}
	return all
}

func blankOf(t *testing.T, l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) written {
	t.Helper()
	side := &l.Sides[0]
	forms, err := reading.PrepareBlank(l, blanks)
	require.NoError(t, err)
	paper := image.NewGray(image.Rect(0, 0, int(16*side.W), int(16*side.H)))
	draw.BiLinear.Scale(paper, paper.Rect, blanks[side.Name], blanks[side.Name].Rect, draw.Src, nil)
	return written{name: l.Name, side: side, paper: paper, forms: forms, fill: func(ink *hand.Ink, w fill.Writer, rng *rand.Rand) {
		trial.Write(ink, side, trial.Letters(l), w, nil, rng)
	}}
}

// straightened is what became of one photo.
type straightened struct {
	refused  string
	worst    float64 // mm, of fields that nothing is said against
	off      int     // of these, fields off by more than 1 mm
	doubted  int     // fields that something is said against
	printed  float64 // share of the print seen
	duration time.Duration
}

// shootAndStraighten photographs a form in a hand of our own drawing; all but its duration follows from level and seeds.
func shootAndStraighten(t *testing.T, f written, level string, seed, i uint64) straightened {
	t.Helper()
	lv := camera.Levels()[level]
	rng := rand.New(rand.NewPCG(seed, i))
	ink := hand.NewInk(sheetmodel.Rect{W: f.side.W, H: f.side.H}, 16)
	f.fill(ink, fill.Writer{Pen: hand.DrawWriter(lv.Pens(), rng), Digits: ownStrokes{}}, rng)
	paper := &image.Gray{Pix: slices.Clone(f.paper.Pix), Stride: f.paper.Stride, Rect: f.paper.Rect}
	ink.Over(paper)
	return straightenedFrom(t, f, paper, lv.Draw(fill.SceneOf(f.side, image.Point{}), rng))
}

// straightenedFrom photographs a form that is filled, and straightens it.
func straightenedFrom(t *testing.T, f written, paper *image.Gray, shot camera.Shot) straightened {
	t.Helper()
	view := shot.View()
	photo, err := view.Take(camera.Sheet{Image: paper, PxPerMM: 16}, 1)
	require.NoError(t, err)
	m, meta, err := scan.Decode("form.jpg", photo.JPEG)
	require.NoError(t, err)
	defer m.Close()
	start := time.Now()
	pages, err := scan.Pages(m, f.forms, scan.Options{})
	out := straightened{duration: time.Since(start)}
	for _, p := range pages {
		defer p.Close()
	}
	k := float64(view.Shot().W) / float64(meta.Width)
	for _, p := range pages {
		at := func(c sheetmodel.SheetPoint) float64 {
			q := p.PhotoFromSheet(c)
			s, ok := view.SheetFromPhoto(sheetmodel.PhotoPoint{X: (q.X+0.5)*k - 0.5, Y: (q.Y+0.5)*k - 0.5})
			if !ok {
				return math.Inf(1)
			}
			return math.Hypot(float64(s.X-c.X), float64(s.Y-c.Y))
		}
		if at(sheetmodel.SheetPoint{X: f.side.W / 2, Y: f.side.H / 2}) > 60 && shot.Second != nil {
			continue // the card that lies beside it
		}
		out.printed = p.Quality.PrintSeen
		for _, field := range f.side.Fields {
			if slices.Contains(p.Quality.Hidden, field.Name) || slices.Contains(p.Quality.Outside, field.Name) {
				out.doubted++
				continue
			}
			r := field.Rect
			e := max(at(sheetmodel.SheetPoint{X: r.X, Y: r.Y}), at(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y}), at(sheetmodel.SheetPoint{X: r.X, Y: r.Y + r.H}),
				at(sheetmodel.SheetPoint{X: r.X + r.W, Y: r.Y + r.H}))
			out.worst = max(out.worst, e)
			if e > 1 {
				out.off++
			}
		}
		return out
	}
	out.refused = "no card"
	var refusal *scan.RefusedError
	if errors.As(err, &refusal) {
		out.refused = refusal.Detail
	}
	return out
}

// On such photos the walk from row to row once went on a row too high, in half the columns of the list, and up to 9
// marks of 200 were other racers'. Source of the expectation: our own logic; the camera's truth.
func TestStraighten_ListWhoseRowsLookAlike_NoRowIsTakenForTheNext(t *testing.T) {
	if testing.Short() {
		t.Skip("takes photos of 30 megapixels")
	}
	list := listOf200(t)
	for _, o := range []struct {
		level   string
		seed, i uint64
	}{{camera.Ordinary, 982000018, 2}, {camera.Hard, 983000007, 3}} {
		got := shootAndStraighten(t, list, o.level, o.seed, o.i)
		assert.Empty(t, got.refused)
		assert.Zero(t, got.off, "%+v", got)
		assert.Less(t, got.doubted, 60, "what slipped was found again: %+v", got)
	}
}

// plainTable is the plain table of the tests' blank cards.
func plainTable(t *testing.T) written {
	t.Helper()
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		t.Skip("pdftoppm, which draws the blank card, is not installed")
	}
	const dir = "../../../testdata/blank-cards/"
	text, err := os.ReadFile(dir + "plain-table.yaml")
	require.NoError(t, err)
	l, err := sheetmodel.ParseLayout("plain-table.yaml", text)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "card")
	said, err := exec.CommandContext(t.Context(), "pdftoppm", "-r", "300", "-png", "-singlefile", dir+"plain-table.pdf", file).CombinedOutput()
	require.NoError(t, err, string(said))
	data, err := os.ReadFile(file + ".png")
	require.NoError(t, err)
	card, _, err := image.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	blank := image.NewGray(card.Bounds())
	draw.Draw(blank, blank.Rect, card, card.Bounds().Min, draw.Src)
	return blankOf(t, l, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: blank})
}

// handShadow is the scene of a hard photo, drawn with leagues' seed 1020000002: the edge of a hand's shadow crosses, and then
// follows, a printed line.
const handShadow = `{"level":"hard","faults":[{"kind":"dusk","amount":0.02067},{"kind":"shadow","amount":0.49967}],"sheet_w":148,
"sheet_h":210,"w":1658,"h":1556,"px_per_mm":5.49515,"tilt_deg":30.49786,"tilt_dir_deg":111.90328,"turn_deg":218.68219,
"focal_px":1534.29914,"lens_k1":0.06664,"camera_mm":[-16.63003,24.96284,266.73221],"bend":{"dir_deg":119.21221,
"height_mm":8.35795,"bow":0.41958,"curl":0.7356,"twist":-0.12833,"fold_deg":0,"fold_at":0,"fold_dir":1},
"blur_sigma_mm":0.06892,"motion_share":0,"motion_deg":205.41089,"light":{"elevation_deg":72.15712,
"azimuth_deg":78.96844,"sky":0.62455,"fall":0.19398,"fall_deg":65.60546,"vignette":0.06519,"shadow":{"share":0.49967,
"soft_mm":1.42582,"parts":[{"what":"palm","x":53.62838,"y":123.79287,"hx":22,"hy":16,"turn_deg":78.96844,"r":22,
"rgb":[0,0,0]},{"what":"arm","x":84.62702,"y":282.79943,"hx":160,"hy":6,"turn_deg":78.96844,"r":26,"rgb":[0,0,0]},
{"what":"finger","x":67.35735,"y":91.30897,"hx":24,"hy":0,"turn_deg":59.27738,"r":7.5,"rgb":[0,0,0]},{"what":"finger",
"x":48.37819,"y":68.11177,"hx":24,"hy":0,"turn_deg":73.46707,"r":7.5,"rgb":[0,0,0]},{"what":"finger","x":39.67973,
"y":79.04292,"hx":24,"hy":0,"turn_deg":84.09646,"r":7.5,"rgb":[0,0,0]}]},"glare":{"x":0,"y":0,"r":0,"amount":0}},
"white_grey":0.71483,"noise_share":0.02067,"cast_rgb":[0.95306,1.00111,1.04694],"tone":0.10935,"sharpen":0.13021,
"jpeg_quality":88,"ground":"cloth","covers":null,"damps":null,"seed":17795903724873850246}`

// On this scene corners were found along a shadow's edge and on bare paper beside it, where the row's line alone fitted: fields of six rows
// lay up to 5 mm off, and nothing was said against three of them. Source of the expectation: the camera's truth.
func TestStraighten_ShadowsEdgeAlongALine_IsNotTakenForIt(t *testing.T) {
	form := plainTable(t)
	var shot camera.Shot
	require.NoError(t, json.Unmarshal([]byte(handShadow), &shot))

	got := straightenedFrom(t, form, form.paper, shot)
	assert.Empty(t, got.refused)
	assert.Less(t, got.worst, 0.3, "%+v", got)
	assert.LessOrEqual(t, got.doubted, 2, "what had slid was found again: %+v", got)
}

// The table's bottom line is 0.25 mm of black between two px of the blank form, and nothing else holds its last row from below.
// On this photo that row lay 2.2 mm off, and nothing said so. Source of the expectation: the camera's truth.
func TestStraighten_TableWithThinLines_LastRowIsHeldFromBelow(t *testing.T) {
	if testing.Short() {
		t.Skip("photographs and straightens a card")
	}
	got := shootAndStraighten(t, plainTable(t), camera.Hard, 1033000000, 23)
	assert.Empty(t, got.refused)
	assert.Less(t, got.worst, 0.6, "%+v", got)
	assert.LessOrEqual(t, got.doubted, 2, "%+v", got)
}

// TestMeasureSlips straightens many photos of forms without marks, and says where fields lie off without a word.
func TestMeasureSlips(t *testing.T) {
	if *slipPhotos == 0 {
		t.Skip("no -slip-photos given")
	}
	forms := []written{listOf200(t)}
	if *slipRace != "" {
		forms = append(forms, blanksOf(t, *slipRace)...)
	}
	begun := time.Now()
	for i := range uint64(*slipPhotos) {
		for _, f := range forms {
			if time.Since(begun) > *slipFor {
				return
			}
			got := shootAndStraighten(t, f, *slipLevel, *slipSeed, i)
			t.Logf("%s %s %d %d: off %d doubted %d of %d worst %.2f seen %.2f in %d ms; %s", *slipLevel, f.name, *slipSeed, i, got.off, got.doubted, len(f.side.Fields), got.worst, got.printed, got.duration.Milliseconds(), got.refused)
		}
	}
}
