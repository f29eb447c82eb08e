package byprint_test

import (
	"errors"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// blankForm is one of our drawn forms and what scan makes of a picture of it.
type blankForm struct {
	layout *sheetmodel.Layout
	forms  *scan.Forms
}

// scanned returns the form as a flat-bed scanner shows it: a little grain, not quite white paper, 8 px/mm.
func scanned(l *sheetmodel.Layout) (gocv.Mat, error) {
	img := print.RasterBlank(l.Side(sheetmodel.Front), 8)
	rng := rand.New(rand.NewPCG(7, 7))
	for i, v := range img.Pix {
		img.Pix[i] = uint8(min(max(20+0.85*float64(v)+3*rng.NormFloat64(), 0), 255))
	}
	return gocv.NewMatFromBytes(img.Rect.Dy(), img.Rect.Dx(), gocv.MatTypeCV8U, img.Pix)
}

// prepare makes the form ready from such a scan.
func prepare(l *sheetmodel.Layout) (blankForm, error) {
	m, err := scanned(l)
	if err != nil {
		return blankForm{}, err
	}
	defer m.Close()
	forms, err := scan.PrepareBlank(m, l, sheetmodel.Front, scan.BlankOptions{})
	return blankForm{l, forms}, err
}

// readyForms are the three drawn forms, prepared once: forms need no closing.
var readyForms = sync.OnceValues(func() ([]blankForm, error) {
	var out []blankForm
	for _, l := range []*sheetmodel.Layout{plainTable(), twoColumns(), withPicture()} {
		f, err := prepare(l)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", l.Name, err)
		}
		out = append(out, f)
	}
	return out, nil
})

func threePrepared(t *testing.T) []blankForm {
	t.Helper()
	forms, err := readyForms()
	require.NoError(t, err)
	return forms
}

func joined(forms []blankForm) *scan.Forms {
	var rest []*scan.Forms
	for _, f := range forms[1:] {
		rest = append(rest, f.forms)
	}
	return forms[0].forms.And(rest...)
}

// rowsOf returns where a side's rows lie.
func rowsOf(side *sheetmodel.Side) []sheetmodel.Rect {
	var out []sheetmodel.Rect
	for row := 1; row <= side.Rows(); row++ {
		fields := side.RowFields(row)
		all := fields[0].Rect
		for _, f := range fields[1:] {
			all = all.Union(f.Rect)
		}
		out = append(out, all)
	}
	return out
}

// drawn returns the shot of a form that shoot takes.
func drawn(l *sheetmodel.Layout, level string, seed uint64) camera.Shot {
	side := l.Side(sheetmodel.Front)
	scene := camera.Scene{W: side.W, H: side.H, Rows: rowsOf(side)}
	return camera.Levels()[level].Draw(scene, rand.New(rand.NewPCG(seed, 0xca3e)))
}

// shoot fills a form by hand and photographs it. change may alter the shot.
func shoot(t *testing.T, l *sheetmodel.Layout, level string, seed uint64, change func(*camera.Shot)) *camera.Photo {
	t.Helper()
	side := l.Side(sheetmodel.Front)
	rng := rand.New(rand.NewPCG(seed, 0xb10))
	lev := camera.Levels()[level]
	shot := drawn(l, level, seed)
	if change != nil {
		change(&shot)
	}
	pxPerMM := min(max(1.4*shot.PxPerMM, 12), 20)
	paper := print.RasterBlank(side, pxPerMM)
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, pxPerMM)
	w := hand.DrawWriter(lev.Pens(), rng)
	full := rng.IntN(side.Rows() + 1)
	for _, f := range side.Fields {
		if _, printed := f.PrintedBib(); printed || f.Row > full {
			continue
		}
		const letters = "ABCDEFGHJKLMNPRSTUVXZ"
		word := make([]byte, 1+rng.IntN(max(1, min(6, int(f.Rect.W/5)))))
		for i := range word {
			word[i] = letters[rng.IntN(len(letters))]
		}
		w.Word(ink, string(word), f.Rect.Grow(-0.8), rng)
	}
	ink.Over(paper)
	photo, err := shot.View().Take(camera.Sheet{Image: paper, PxPerMM: pxPerMM}, 0)
	require.NoError(t, err)
	return photo
}

func decoded(t *testing.T, jpeg []byte) gocv.Mat {
	t.Helper()
	m, _, err := scan.Decode("photo.jpg", jpeg)
	require.NoError(t, err)
	return m
}

// verdict is what came out of one photo of a known form.
type verdict struct {
	kind   string // found, wrong, refused
	why    string
	fault  scan.Fault
	errors []float64 // mm, corners of fields in view and not flagged
	page   scan.Quality
	extra  int // pages of the second card in the photo
	flaws  []scan.FlawKind
	fields map[scan.FlawKind][]string // by flaw
}

// nearest parts the page whose middle lies nearest to the middle of the card from the others.
func nearest(pages []*scan.Page, v *camera.View) (*scan.Page, []*scan.Page) {
	best, miss := 0, math.Inf(1)
	for i, p := range pages {
		c := sheetmodel.SheetPoint{X: p.Side.W / 2, Y: p.Side.H / 2}
		if q, ok := v.SheetFromPhoto(p.PhotoFromSheet(c)); ok {
			if d := math.Hypot(float64(q.X-c.X), float64(q.Y-c.Y)); d < miss {
				best, miss = i, d
			}
		}
	}
	rest := slices.Clone(pages)
	return pages[best], slices.Delete(rest, best, best+1)
}

// onSecond reports whether a page lies where the photo's second card does, within 10 mm: it lies in the plane of
// the first one's rest, which the truth of the first, a bent sheet, tells only roughly.
func onSecond(p *scan.Page, v *camera.View) bool {
	shot := v.Shot()
	if shot.Second == nil {
		return false
	}
	sin, cos := math.Sincos(shot.Second.TurnDeg * math.Pi / 180)
	c := sheetmodel.SheetPoint{X: p.Side.W / 2, Y: p.Side.H / 2}
	x, y := float64(shot.Second.At.X)+cos*float64(c.X)-sin*float64(c.Y), float64(shot.Second.At.Y)+sin*float64(c.X)+cos*float64(c.Y)
	at := v.PhotoFromSheet(sheetmodel.SheetPoint{X: sheetmodel.MM(x), Y: sheetmodel.MM(y)})
	got := p.PhotoFromSheet(c)
	return math.Hypot(at.X-got.X, at.Y-got.Y) < 10*shot.PxPerMM
}

// A page is straightened wrongly if half its field corners miss by more than 1 mm, or any by more than 3 mm.
func judge(t *testing.T, jpeg []byte, v *camera.View, want *sheetmodel.Layout, forms *scan.Forms) verdict {
	t.Helper()
	m := decoded(t, jpeg)
	defer m.Close()
	pages, err := scan.Pages(m, forms, scan.Options{})
	for _, p := range pages {
		defer p.Close()
	}
	if len(pages) == 0 {
		var refusal *scan.RefusedError
		require.ErrorAs(t, err, &refusal)
		return verdict{kind: "refused", why: err.Error(), fault: refusal.Fault}
	}
	p, rest := nearest(pages, v)
	out := verdict{kind: "found", page: p.Quality, extra: len(rest), fields: map[scan.FlawKind][]string{}}
	for _, f := range p.Quality.Flaws {
		out.flaws = append(out.flaws, f.Kind)
		out.fields[f.Kind] = f.Fields
	}
	for _, other := range rest {
		if want == nil || other.Layout.Name != want.Name || !onSecond(other, v) {
			return verdict{kind: "wrong", why: "a second page where no card lies"}
		}
	}
	if want == nil || p.Layout.Name != want.Name {
		return verdict{kind: "wrong", why: "taken for " + p.Layout.Name}
	}
	off := 0
	for _, f := range p.Side.Fields {
		if slices.Contains(p.Quality.Hidden, f.Name) || !v.RowInView(f.Rect) {
			continue
		}
		for _, c := range [4]sheetmodel.SheetPoint{
			{X: f.Rect.X, Y: f.Rect.Y}, {X: f.Rect.X + f.Rect.W, Y: f.Rect.Y},
			{X: f.Rect.X, Y: f.Rect.Y + f.Rect.H}, {X: f.Rect.X + f.Rect.W, Y: f.Rect.Y + f.Rect.H},
		} {
			really, ok := v.SheetFromPhoto(p.PhotoFromSheet(c))
			e := math.Inf(1)
			if ok {
				e = math.Hypot(float64(really.X-c.X), float64(really.Y-c.Y))
			}
			out.errors = append(out.errors, e)
			if e > 1 {
				off++
			}
		}
	}
	if worst := percentile(out.errors, 1); 2*off > len(out.errors) || worst > 3 {
		out.kind, out.why = "wrong", "fields off"
	}
	return out
}

func percentile(all []float64, share float64) float64 {
	if len(all) == 0 {
		return 0
	}
	s := slices.Clone(all)
	sort.Float64s(s)
	return s[min(int(share*float64(len(s))), len(s)-1)]
}

// greyMat copies a picture; the caller closes it.
func greyMat(t *testing.T, img *image.Gray) gocv.Mat {
	t.Helper()
	m, err := gocv.NewMatFromBytes(img.Rect.Dy(), img.Rect.Dx(), gocv.MatTypeCV8U, img.Pix)
	require.NoError(t, err)
	return m
}

func isRefused(err error) bool {
	var refusal *scan.RefusedError
	return errors.As(err, &refusal)
}
