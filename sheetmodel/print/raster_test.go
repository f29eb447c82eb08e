package print_test

import (
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/idcode"
	"gatefold/sheetmodel/print"
)

// bound returns the built-in card for an invented race.
func bound(t *testing.T, o sheetmodel.BindOptions) *sheetmodel.Layout {
	t.Helper()
	l, err := sheetmodel.GateCard().Bind(o)
	require.NoError(t, err)
	return l
}

func larch() sheetmodel.BindOptions {
	return sheetmodel.BindOptions{
		Groups:  []string{"U12 girls", "U12 boys", "U14 girls", "U14 boys"},
		Courses: []string{"Blue", "Red"},
	}
}

func larchCard(l *sheetmodel.Layout, run, number int) print.CardPrint {
	return print.CardPrint{
		Race: "Larch Valley Cup", Date: "2027-01-17", Discipline: "slalom", Course: "Blue",
		Identity: sheetmodel.Identity{
			Run: run, Course: 1, Card: number, Race: sheetmodel.RaceHash("larch-2027"), Layout: l.HashStart(),
		},
	}
}

// level is the grey at the middle of r.
func level(img *image.Gray, r sheetmodel.Rect, pxPerMM float64) uint8 {
	p := sheetmodel.PageFromSheet(r.Center(), pxPerMM)
	return img.GrayAt(int(p.X+0.5), int(p.Y+0.5)).Y
}

func TestRaster_EveryIdentity_DecodesBack(t *testing.T) {
	for _, paper := range []string{"a5", "half-letter"} {
		o := larch()
		o.Paper = paper
		l := bound(t, o)
		for i := range l.Sides {
			side := &l.Sides[i]
			card := larchCard(l, 2, 300)
			const pxPerMM = 8
			img, err := print.Raster(side, card, pxPerMM)
			require.NoError(t, err)
			want := card.Identity
			want.Side = side.Name
			require.Len(t, side.Identity, 2)
			for _, r := range side.Identity {
				var m idcode.Modules
				for y := range idcode.Size {
					for x := range idcode.Size {
						cell := r.Box(x, idcode.Size)
						cell.Y, cell.H = r.Y+r.H/idcode.Size*sheetmodel.MM(y), r.H/idcode.Size
						m[y][x] = level(img, cell, pxPerMM) < 128
					}
				}
				got, err := idcode.Decode(m)
				require.NoError(t, err, "%s %s", paper, side.Name)
				assert.Equal(t, want, got)
			}
		}
	}
}

func TestRaster_EveryMark_ReadsAsItself(t *testing.T) {
	l := bound(t, larch())
	for i := range l.Sides {
		side := &l.Sides[i]
		const pxPerMM = 8
		img := print.RasterBlank(side, pxPerMM)
		for _, m := range side.Marks {
			step := m.Rect.W / sheetmodel.MarkModules
			module := func(x, y int) bool {
				return level(img, sheetmodel.Rect{
					X: m.Rect.X + step*sheetmodel.MM(x), Y: m.Rect.Y + step*sheetmodel.MM(y), W: step, H: step,
				}, pxPerMM) < 128
			}
			var seen uint16
			for y := range 4 {
				for x := range 4 {
					seen <<= 1
					if module(x+1, y+1) {
						seen |= 1
					}
				}
			}
			id, turn, distance := sheetmodel.MarkFromPattern(seen)
			assert.Equal(t, []int{m.ID, 0, 0}, []int{id, turn, distance})
			for k := range sheetmodel.MarkModules {
				assert.True(t, module(k, 0) && module(0, k) && module(k, 5) && module(5, k), "frame of mark %d", m.ID)
			}
		}
	}
}

// The blank must not hold what differs between cards, or a reader would see it as ink.
func TestRasterBlank_TwoCards_DifferOnlyWhereTheBlankIsWhite(t *testing.T) {
	l := bound(t, larch())
	for i := range l.Sides {
		side := &l.Sides[i]
		a, err := print.Raster(side, larchCard(l, 1, 7), 8)
		require.NoError(t, err)
		b, err := print.Raster(side, larchCard(l, 2, 41), 8)
		require.NoError(t, err)
		blank := print.RasterBlank(side, 8)
		differ := 0
		for n := range a.Pix {
			if a.Pix[n] != b.Pix[n] {
				differ++
				require.Equal(t, uint8(255), blank.Pix[n], "%s pixel %d", side.Name, n)
			}
		}
		assert.Positive(t, differ)
	}
}

func TestRaster_NothingPrintedInsideAWritingBox(t *testing.T) {
	for _, o := range []sheetmodel.BindOptions{larch(), {SecondWriting: true}, {BibBoxes: 4}, {Spare: true}} {
		l := bound(t, o)
		for i := range l.Sides {
			side := &l.Sides[i]
			const pxPerMM = 10
			img := print.RasterBlank(side, pxPerMM)
			white := func(r sheetmodel.Rect, name string) {
				r = r.Grow(-0.4) // the border's own line
				for y := r.Y; y < r.Y+r.H; y += 0.1 {
					for x := r.X; x < r.X+r.W; x += 0.1 {
						p := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: x, Y: y}, pxPerMM)
						require.Equal(t, uint8(255), img.GrayAt(int(p.X+0.5), int(p.Y+0.5)).Y, "%s at %v,%v", name, x, y)
					}
				}
			}
			for _, f := range side.Fields {
				switch {
				case f.Kind == sheetmodel.Comb:
					for n := range f.Boxes {
						white(f.Rect.Box(n, f.Boxes), f.Name)
					}
				case f.Kind == sheetmodel.Cell, f.Kind == sheetmodel.Tick, f.Kind == sheetmodel.Text, f.Part == sheetmodel.PartRemark:
					white(f.Rect, f.Name)
				case f.Part == sheetmodel.PartCode:
					for _, option := range f.Options {
						white(option.Rect, f.Name)
					}
				}
			}
		}
	}
}

func TestRaster_OneSide_IsFastEnoughForTraining(t *testing.T) {
	if testing.Short() {
		t.Skip("timing")
	}
	l := bound(t, larch())
	for pxPerMM, most := range map[float64]time.Duration{20: 600 * time.Millisecond, 8: 100 * time.Millisecond} {
		best := time.Hour // a busy machine slows some tries, not all
		for range 5 {
			from := time.Now()
			_, err := print.Raster(&l.Sides[0], larchCard(l, 1, 7), pxPerMM)
			require.NoError(t, err)
			best = min(best, time.Since(from))
		}
		assert.Less(t, best, most, "at %v px/mm", pxPerMM)
	}
}
