package camera

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// golden.json holds hashes of photos, patches and truths that the levels drew when every published figure
// was measured: what is added to the camera must leave them as they are. Rewrite it with
// GATEFOLD_UPDATE_GOLDEN=1 only together with all figures. Pixels are of amd64: other machines may
// contract a multiplication and an addition into one rounding.
const goldenFile = "testdata/golden.json"

func TestLevels_GoldenPhotos_StayByteForByte(t *testing.T) {
	got := map[string]string{}
	sum := func(b []byte) string {
		h := sha256.Sum256(b)
		return hex.EncodeToString(h[:12])
	}
	sheet := testSheet(10, nil, nil, nil)
	for _, name := range []string{Ordinary, Hard, Impossible} {
		l := Levels()[name]
		for seed := range uint64(8) {
			s := l.Draw(testScene(), rand.New(rand.NewPCG(seed, 0x601d)))
			truth, err := json.Marshal(s)
			require.NoError(t, err)
			key := fmt.Sprintf("%s-%d", name, seed)
			got[key+"-truth"] = sum(truth)
			if seed > 3 {
				continue
			}
			l.PxPerMM = Span{Min: 4, Max: 4} // small photos show the same
			s = l.Draw(testScene(), rand.New(rand.NewPCG(seed, 0x601d)))
			v := s.View()
			p, err := v.Take(sheet, 0)
			require.NoError(t, err)
			got[key+"-photo"] = sum(p.JPEG)
			patch, err := v.TakePatch(sheet, sheetmodel.Rect{X: 18, Y: 76, W: 40, H: 12})
			require.NoError(t, err)
			got[key+"-patch"] = sum(patch.Image.Pix)
		}
	}
	if os.Getenv("GATEFOLD_UPDATE_GOLDEN") != "" {
		text, err := json.MarshalIndent(got, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(goldenFile, append(text, '\n'), 0o644))
	}
	text, err := os.ReadFile(goldenFile)
	require.NoError(t, err)
	var want map[string]string
	require.NoError(t, json.Unmarshal(text, &want))
	require.Len(t, want, 3*(8+2*4))
	assert.Equal(t, want, got)
}

// The hash of the levels file that every published figure quotes.
func TestLevels_File_IsTheFrozenOne(t *testing.T) {
	assert.Equal(t, "070147746143", LevelsHash()[:12])
}
