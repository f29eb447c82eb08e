package stack_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// swapped makes the table's race the demo race with the words, sentences and consequences of F and K
// exchanged after its cards were printed, and returns the hash of the layout of those cards.
func (b *table) swapped() string {
	b.t.Helper()
	dir := filepath.Join(b.t.TempDir(), "race")
	require.NoError(b.t, os.CopyFS(dir, os.DirFS("../../testdata/demo-race")))
	file := filepath.Join(dir, "codes.yaml")
	text, err := os.ReadFile(file)
	require.NoError(b.t, err)
	swap := strings.NewReplacer("{code: F,", "{code: K,", "{code: K,", "{code: F,")
	require.NoError(b.t, os.WriteFile(file, []byte(swap.Replace(string(text))), 0o644))
	f, err := racefolder.Open(dir)
	require.NoError(b.t, err)
	kept, err := f.Layouts()
	require.NoError(b.t, err)
	require.Len(b.t, kept, 1)
	b.race = f.Race()
	return kept[0].Hash()
}

func (b *table) typedTwice(card, row int, bib string) {
	key := store.Key(rowRef(card, row).CardKey, sheetmodel.Front, stack.RowField(row, sheetmodel.PartBib))
	b.types("Ada", key, bib)
}

// own logic: K on this card says "lost ski", and the book would make a fault of it, or the other way round.
func TestStack_CodeGivenAnotherMeaningAfterPrinting_NeverAccuses(t *testing.T) {
	for _, code := range []string{"F", "K"} {
		b := newTable(t)
		layout := b.swapped()
		side := b.front(2, "14")
		side.Layout = layout
		side.Read.Reading.Rows[0].Code.Text = code
		b.add(side, b.back(2))
		b.typedTwice(2, 1, "14")
		s, result := b.load()
		for _, c := range result.Calls {
			assert.True(t, c.Waiting, "%s: %+v", code, c)
		}
		require.Len(t, result.Standings, 1)
		assert.Equal(t, sheetmodel.StandsWaiting, result.Standings[0].Standing, code)
		assert.Contains(t, result.Standings[0].Why, "meant something else when its card was printed", code)
		var open []string
		for _, g := range s.Facts().Open {
			require.Equal(t, 1, g.Run)
			require.Equal(t, "Blue", g.Course)
			open = append(open, g.Why)
		}
		assert.Equal(t, []string{`Card 2: printed with F as "fault", which the code book now calls "lost ski", and K as "lost ski", which the code book now calls "fault". ` +
			`Rows with such a code wait until the code book says again what it said then; gatefold race says more.`}, open, code)
	}
}

func TestStack_CodeGivenAnotherMeaning_HoldsNothingElse(t *testing.T) {
	b := newTable(t)
	layout := b.swapped()
	other, now := b.front(2, "14"), b.front(3, "15")
	other.Layout, now.Layout = layout, "printed anew"
	other.Read.Reading.Rows[0].Code.Text = "P" // means what it meant
	b.add(other, b.back(2))
	b.add(now, b.back(3))
	s, result := b.load()
	assert.Empty(t, s.Facts().Open)
	for _, st := range result.Standings {
		assert.NotContains(t, st.Why, "meant something else")
	}
}

func TestStack_CodeGivenAnotherMeaning_TypedFromPaper_Waits(t *testing.T) {
	b := newTable(t)
	b.swapped()
	require.NoError(t, b.store.TypeFromPaper(t.Context(), store.PaperCard{Card: rowRef(2, 1).CardKey, Rows: 1, By: "Ada"}))
	for part, text := range map[sheetmodel.Part]string{sheetmodel.PartBib: "14", sheetmodel.PartCode: "F", sheetmodel.PartGate: "7"} {
		for _, by := range []string{"Ada", "Bo"} {
			b.types(by, store.Key(rowRef(2, 1).CardKey, sheetmodel.Front, stack.RowField(1, part)), text)
		}
	}
	s, result := b.load()
	require.Len(t, result.Standings, 1)
	assert.Equal(t, sheetmodel.StandsWaiting, result.Standings[0].Standing)
	assert.Len(t, s.Facts().Open, 1)
}

func TestStack_EffectOfACodeChangedAfterPrinting_Waits(t *testing.T) {
	b := newTable(t)
	b.race.Reused = []sheetmodel.ReusedCode{{Code: "F", Printed: "effect: inform", Now: "effect: propose"}}
	b.add(b.front(2, "14"), b.back(2))
	b.typedTwice(2, 1, "14")
	s, result := b.load()
	require.Len(t, result.Standings, 1)
	assert.Equal(t, sheetmodel.StandsWaiting, result.Standings[0].Standing)
	require.Len(t, s.Facts().Open, 1)
	assert.Contains(t, s.Facts().Open[0].Why, `F as "effect: inform", which the code book now calls "effect: propose"`)
}
