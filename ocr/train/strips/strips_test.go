package strips_test

import (
	"compress/gzip"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/train/strips"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/testdata/split"
)

func source(t *testing.T) *strips.Source {
	t.Helper()
	folder, err := hand.FindMNIST(t.Context())
	require.NoError(t, err)
	m, err := hand.ReadMNIST(folder)
	require.NoError(t, err)
	return strips.NewSource(m.Train, split.Select()[:400], func(i int) int { return i / 100 }, nil)
}

// Expected values: our own logic.
func TestDraw_OneSeedOneField_AndWhatItSaysFits(t *testing.T) {
	src := source(t)
	bench, err := strips.NewBench(0)
	require.NoError(t, err)
	level := camera.Levels()[camera.Ordinary]
	types := map[strips.Type]bool{}
	for seed := range uint64(24) {
		draw := func() []strips.Field {
			f, err := src.Draw(bench, nil, strips.Options{Level: level, Writer: src.Writers()[0], Shots: 1}, rand.New(rand.NewPCG(seed, 1)))
			require.NoError(t, err)
			require.Len(t, f, 1)
			return f
		}
		a, b := draw()[0], draw()[0]
		assert.Equal(t, a.Text, b.Text)
		assert.Equal(t, a.Strip(), b.Strip())
		types[a.Type] = true
		if a.Spoil == strips.Clean {
			assert.Equal(t, a.Meant, a.Text)
			if a.Type != strips.Code { // any word may be a code
				assert.True(t, strips.GrammarOf(a.Type).Fits(a.Text), "%s %q", a.Type, a.Text)
			}
		}
		if a.Spoil == strips.Empty {
			assert.Empty(t, a.Text)
		}
	}
	assert.GreaterOrEqual(t, len(types), 5, "all types are drawn")
}

func TestBench_AllTypesHaveRoom(t *testing.T) {
	bench, err := strips.NewBench(0)
	require.NoError(t, err)
	seen := map[string]int{}
	for _, f := range bench.Side.Fields {
		seen[string(f.Kind)+" "+string(f.Grammar)]++
		for _, m := range bench.Side.Marks {
			assert.False(t, m.Rect.Overlaps(f.Rect), "%s lies on a mark", f.Name)
		}
	}
	for _, want := range []string{"comb bib", "cell bib", "cell gate", "cell code-gate", "cell code"} {
		assert.Positive(t, seen[want], want)
	}
}

// A field of the gate card's height is looked at once, one of the high bench twice, and neither look is the strip of the whole field: ink is
// shown larger. Source: our own logic.
func TestLooksOf_HighFields_AreTwo(t *testing.T) {
	src := source(t)
	level := camera.Levels()[camera.Ordinary]
	for variant, looks := range map[uint64]int{0: 1, strips.High: 2} {
		bench, err := strips.NewBench(variant)
		require.NoError(t, err)
		f, err := src.Draw(bench, []strips.Type{strips.Bib}, strips.Options{Level: level, Writer: src.Writers()[0], Shots: 1, Text: "38"}, rand.New(rand.NewPCG(3, 1)))
		require.NoError(t, err)
		got := strips.LooksOf(&f[0], level)
		require.Len(t, got, looks)
		for _, r := range got {
			assert.Equal(t, "38", r.Text)
			assert.Equal(t, looks == 1, r.Strip == f[0].Strip())
		}
	}
}

func TestRecord_ComesBackAsItWas(t *testing.T) {
	want := strips.Record{Text: "12a-14", Type: strips.Range, Spoil: strips.Outside, Hard: true, Writer: 1234}
	want.Strip[77] = 200
	path := filepath.Join(t.TempDir(), "x.gz")
	write := func(b []byte) {
		f, err := os.Create(path)
		require.NoError(t, err)
		z := gzip.NewWriter(f)
		_, err = z.Write(b)
		require.NoError(t, err)
		require.NoError(t, z.Close())
		require.NoError(t, f.Close())
	}
	write(want.Bytes())
	got, err := strips.ReadRecords(path)
	require.NoError(t, err)
	assert.Equal(t, []strips.Record{want}, got)
	write([]byte("too short"))
	_, err = strips.ReadRecords(path)
	require.ErrorContains(t, err, "make it again with makestrips")
}

func TestMap_ADistanceFromTheCentreLine(t *testing.T) {
	upright := hand.Strokes{Width: 0.1, Pen: 0.1, Lines: []hand.Line{{Points: []hand.Point{{X: 0.05, Y: 0}, {X: 0.05, Y: 1}}}}}
	m := strips.NewMap(upright)
	const x = strips.MapPad + 1 // 0.05 of 32 px is 1.6: the line runs through this pixel
	assert.Less(t, m.Pix[20*strips.MapW+x], byte(10))
	assert.Equal(t, byte(255), m.Pix[20*strips.MapW+x+10], "further than is told")
	assert.Less(t, m.Pix[20*strips.MapW+x+1], m.Pix[20*strips.MapW+x+3])
}

func TestDrawText_HoldsOnlySignsOfTheNet(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range 200 {
		for _, typ := range append([]strips.Type{strips.Comb}, strips.Types...) {
			text := strips.DrawText(typ, rng)
			assert.NotEmpty(t, text)
			assert.LessOrEqual(t, len(text), 12)
			assert.Empty(t, strings.Trim(text, "0123456789-/,abABCDEFGHIJKLMNOPQRSTUVWXYZ"), text)
		}
	}
}

// A bib that one person writes twice is the same text in the same hand, on the same photo, with other glyphs of theirs as far as
// they have any: a glyph drawn twice would be misread twice. Source: own logic.
func TestDrawTwice_OneHandOtherGlyphs(t *testing.T) {
	src := source(t)
	bench, err := strips.NewBench(0)
	require.NoError(t, err)
	same := 0
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 1))
		two, err := src.DrawTwice(bench, strips.Options{Level: camera.Levels()[camera.Ordinary], Writer: src.Writers()[0]}, rng)
		require.NoError(t, err)
		require.Len(t, two, 2)
		assert.NotEmpty(t, two[0].Text)
		assert.Equal(t, two[0].Text, two[1].Text)
		assert.Equal(t, two[0].Writer, two[1].Writer)
		assert.Equal(t, strips.Bib, two[1].Type)
		if two[0].Strip() == two[1].Strip() {
			same++
		}
	}
	assert.Zero(t, same)
}

func TestDraw_APanel_IsALetterOfFew(t *testing.T) {
	bench, err := strips.NewBench(0)
	require.NoError(t, err)
	got, err := source(t).Draw(bench, []strips.Type{strips.Panel}, strips.Options{Level: camera.Levels()[camera.Ordinary]}, rand.New(rand.NewPCG(1, 1)))
	require.NoError(t, err)
	assert.Equal(t, strips.Panel, got[0].Type)
	assert.Equal(t, sheetmodel.GrammarPanel, got[0].Grammar)
	assert.Contains(t, strips.Panels, got[0].Meant)
}
