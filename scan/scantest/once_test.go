package scantest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
)

// Photos of seeds below developSeeds that were once straightened wrongly.
func TestPhotos_OnceWrong_StayRight(t *testing.T) {
	if testing.Short() {
		t.Skip("takes ten seconds")
	}
	forms, kind := ready(t, camera.Hard)
	for seed, was := range map[uint64]string{
		50632: "boxes beyond a fold matched one column on",
		50706: "marks of two cards taken for those of one, 130 mm off",
		51341: "a drawing's corner beyond a fold",
		51512: "a line matched along itself over a fold",
		51869: "marks of two cards taken for those of one, 136 mm off",
	} {
		s, err := Make(kind, seed)
		require.NoError(t, err)
		o := Judge(s, forms, time.Now)
		assert.Equal(t, Right, o.Verdict, "%d: %s: %s", seed, was, o.Why)
	}
}
