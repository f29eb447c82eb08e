package scan

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// listWalked is a walk over a flat picture of a list of printed bibs without marks, all of it found where it lies.
func listWalked(t *testing.T) (w *follower, paper *sheetMap, rowMM float64) {
	t.Helper()
	w, paper = flatWalk(t, "every-racer")
	w.score, w.shift = 0.6, 1.2
	for i := range w.places {
		w.measure(&w.places[i], paper, true)
		require.True(t, w.places[i].seen)
	}
	first, second := w.face.side.RowFields(1), w.face.side.RowFields(2)
	return w, paper, float64(second[0].Rect.Y - first[0].Rect.Y)
}

// Of rows that look alike the number beside them tells which is which. Source: the picture itself.
func TestDropSlipped_RowsFoundARowTooLow_AreNotSeen(t *testing.T) {
	w, paper, row := listWalked(t)
	assert.Zero(t, w.dropSlipped(paper), "a list that lies right")

	slipped := func(p *place) bool {
		c := p.patch.center
		return c.X > 20 && c.X < 100 && c.Y > 120 && c.Y < 260
	}
	n := 0
	for i := range w.places {
		if p := &w.places[i]; slipped(p) {
			p.obs.d[1] += row
			n++
		}
	}
	require.Greater(t, n, 100)
	w.dropSlipped(paper)
	for i := range w.places {
		p := &w.places[i]
		assert.Equal(t, !slipped(p), p.seen, "%v", p.patch.center)
	}
}

// A steep view moves print by centimetres off where the walk began: that is no tear. Source: the picture itself.
func TestDropSlipped_WalkThatBeganAtAnotherSlant_KeepsAll(t *testing.T) {
	w, _, _ := listWalked(t)
	slant := &sheetMap{flat: w.flat, bend: affine{}}
	slant.flat[1], slant.flat[5] = slant.flat[1]+0.2*slant.flat[0], slant.flat[5]*1.1
	inverse, ok := slant.flat.inverse()
	require.True(t, ok)
	for i := range w.places {
		p := &w.places[i]
		right := (&sheetMap{flat: w.flat, bend: affine{}}).at(p.obs.p)
		at := inverse.back(right)
		p.obs.d = [2]float64{float64(at.X - p.obs.p.X), float64(at.Y - p.obs.p.Y)}
	}
	w.flat = slant.flat
	bent, err := w.fit(slant, 14, 60, []float64{8})
	require.NoError(t, err)
	n := w.dropSlipped(&bent)
	for i := range w.places {
		if !w.places[i].seen {
			t.Log(w.places[i].patch.center)
		}
	}
	assert.LessOrEqual(t, n, 4, "of %d", len(w.places))
}
