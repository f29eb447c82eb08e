package idcode

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func randomIdentity(rng *rand.Rand) sheetmodel.Identity {
	const hexDigits = "0123456789abcdef"
	hex := func(n int) string {
		b := make([]byte, n)
		for i := range b {
			b[i] = hexDigits[rng.IntN(16)]
		}
		return string(b)
	}
	side := sheetmodel.Front
	if rng.IntN(2) == 1 {
		side = sheetmodel.Back
	}
	return sheetmodel.Identity{
		Run: rng.IntN(3), Course: rng.IntN(6), Card: rng.IntN(1000), Side: side, Race: hex(4), Layout: hex(6),
	}
}

func TestCode_AnyIdentity_ComesBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		want := randomIdentity(rng)
		m, err := Encode(want)
		require.NoError(t, err)
		got, err := Decode(m)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
}

// ISO/IEC 16022 table 7: an 18 × 18 symbol has 14 error codewords, which repair up to seven errors.
func TestCode_Damaged_ComesBackOrIsRefused_NeverAnother(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	repaired, refused := 0, 0
	for i := range 3000 {
		want := randomIdentity(rng)
		m, err := Encode(want)
		require.NoError(t, err)
		// A stain over a rectangle: all black, all white, or random.
		w, h := 1+rng.IntN(12), 1+rng.IntN(12)
		x0, y0 := rng.IntN(Size-w+1), rng.IntN(Size-h+1)
		for y := y0; y < y0+h; y++ {
			for x := x0; x < x0+w; x++ {
				m[y][x] = i%3 == 0 || (i%3 == 1 && rng.IntN(2) == 0)
			}
		}
		got, err := Decode(m)
		if err != nil {
			refused++
			continue
		}
		repaired++
		require.Equal(t, want, got)
	}
	assert.Positive(t, refused)
	assert.Greater(t, repaired, 1000)
	t.Logf("repaired %d, refused %d of 3000", repaired, refused)
}

func TestFromLetters_Nonsense_IsRefused(t *testing.T) {
	for _, text := range []string{"", "AAAAAAAAAAAAAAAAAAAA", "not base32!", "CIAQAAP7"} {
		_, err := FromLetters(text)
		assert.ErrorIs(t, err, sheetmodel.ErrIdentity, text)
	}
}
