package idcode

import (
	"flag"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

var damaged = flag.Int("damaged", 4_000, "how many damaged codes to decode; the package's comment is of a million")

// damages are ways in which modules are seen wrongly; each gets codes of its own.
var damages = []struct {
	name string
	do   func(m *Modules, rng *rand.Rand)
}{
	{"a stain, all black or all white", func(m *Modules, rng *rand.Rand) {
		stain(m, rng, func(bool) bool { return false }, func(bool) bool { return true })
	}},
	{"a stain, at random", func(m *Modules, rng *rand.Rand) {
		f := func(bool) bool { return rng.IntN(2) == 0 }
		stain(m, rng, f, f)
	}},
	{"single modules turned over, up to a third", func(m *Modules, rng *rand.Rand) {
		for range rng.IntN(Size * Size / 3) {
			y, x := rng.IntN(Size), rng.IntN(Size)
			m[y][x] = !m[y][x]
		}
	}},
	{"ink that ran into the next module", func(m *Modules, rng *rand.Rand) {
		often, from := rng.Float64(), *m
		for y := range Size {
			for x := 1; x < Size; x++ {
				m[y][x] = m[y][x] || from[y][x-1] && rng.Float64() < often
			}
		}
	}},
	{"rows seen one module too far to the side", func(m *Modules, rng *rand.Rand) {
		for y := rng.IntN(Size); y < Size; y++ {
			copy(m[y][1:], m[y][:Size-1])
		}
	}},
	{"no code at all: modules at random", func(m *Modules, rng *rand.Rand) {
		for y := range Size {
			for x := range Size {
				m[y][x] = rng.IntN(2) == 0
			}
		}
	}},
}

func stain(m *Modules, rng *rand.Rand, one, other func(bool) bool) {
	f := one
	if rng.IntN(2) == 0 {
		f = other
	}
	w, h := 1+rng.IntN(Size), 1+rng.IntN(Size)
	x0, y0 := rng.IntN(Size-w+1), rng.IntN(Size-h+1)
	for y := y0; y < y0+h; y++ {
		for x := x0; x < x0+w; x++ {
			m[y][x] = f(m[y][x])
		}
	}
}

// A damaged code comes back as it was printed or is refused; it never names another sheet.
func TestDamaged_NeverNamesAnotherSheet(t *testing.T) {
	for i, d := range damages {
		rng := rand.New(rand.NewPCG(uint64(i), 0xda3a))
		repaired, wrong := 0, 0
		n := *damaged / len(damages)
		for range n {
			want := randomIdentity(rng)
			m, err := Encode(want)
			require.NoError(t, err)
			d.do(&m, rng)
			got, err := Decode(m)
			if err != nil {
				continue
			}
			if repaired++; got != want {
				wrong++
			}
		}
		t.Logf("%-45s %7d codes, %7d came back, %d as another", d.name, n, repaired, wrong)
		assert.Zero(t, wrong, d.name)
	}
}

// Of two cards' codes in one, rows from above of one and the rest of the other, only one of the two comes back, or none.
func TestDamaged_TwoCodesInOne_IsOneOfTheTwo(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 0xda3a))
	n, back := *damaged/len(damages), 0
	for range n {
		one, other := randomIdentity(rng), randomIdentity(rng)
		m, err := Encode(one)
		require.NoError(t, err)
		o, err := Encode(other)
		require.NoError(t, err)
		for y := rng.IntN(Size); y < Size; y++ {
			m[y] = o[y]
		}
		if got, err := Decode(m); err == nil {
			back++
			assert.Contains(t, []sheetmodel.Identity{one, other}, got)
		}
	}
	t.Logf("%d codes, %d came back as one of the two", n, back)
}
