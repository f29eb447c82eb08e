package scan

import (
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// beforeNothing returns a level whose last px is the last byte that may be read.
func beforeNothing(t *testing.T, w, h int) *view {
	t.Helper()
	page := syscall.Getpagesize()
	room := (w*h + page - 1) / page * page
	all, err := syscall.Mmap(-1, 0, room+page, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, syscall.Munmap(all)) })
	require.NoError(t, syscall.Mprotect(all[room:], syscall.PROT_NONE))
	return &view{pix: all[room-w*h : room : room], w: w, h: h, sx: 1, sy: 1}
}

// From 32,768 px on the clamp to a thousandth of a px before the edge is the edge itself.
func TestSums_AtTheLastCornerOfALargePicture_StayInIt(t *testing.T) {
	p := somePatch(t)
	for _, size := range [][2]int{{40, 30}, {40_000, 32}, {32, 40_000}, {40_000, 1_900}} {
		v := beforeNothing(t, size[0], size[1])
		at := tangent{x0: float64(v.w), xu: 3, y0: float64(v.h), yv: 3}
		sums, _, _ := correlate(v, &at, p.coarse, make([]float32, coarseRoom))
		assert.InDelta(t, -128*len(p.coarse), sums[0], 1e-3)
		_, _, _, score, _ := seekFine(v, &at, p.fine, p.hess, 0, 0)
		assert.InDelta(t, 0, score, 1e-3)
	}
}
