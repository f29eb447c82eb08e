package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gatefold/sheetmodel"
)

// comparison of a variant with the base on the same entries; of pairs of numbers the base's come first.
type compared struct {
	n, cards, writers int
	asked             [2]int
	clearWrong        [2]int
	wrong             [2]int // if nothing were asked
	outside           [2]int // with the doubt that it stands outside its boxes
	needed            [2]int // asked until no more than 1 in 1,000 of all is left wrong
	wrongAtSame       int    // left wrong by the variant if as many are asked as of the base
	diff              interval
}

// interval is a difference of shares with its bounds over cards.
type interval struct {
	mean, low, high float64
	certain         bool // 0 lies outside also after allowing for the number of variants
}

func (i interval) String() string {
	s := fmt.Sprintf("%+.1f (%+.1f to %+.1f)", 100*i.mean, 100*i.low, 100*i.high)
	if i.certain {
		return "**" + s + "**"
	}
	return s
}

// of is the entry that a sample is of: the same in all variants.
type of struct {
	kind, level string
	seed        uint64
	event       int
}

// baseOf is what a variant is compared with: a bib twice has the shipped strip for its base.
func baseOf(kind string) string {
	if kind == "bib2" {
		return "strip"
	}
	return "base"
}

// compare pairs the well written entries of a variant with the base's.
func compare(all []studied, v variant, kind, level string) compared {
	var c compared
	theirs := map[of]studied{}
	wanted := func(s studied) bool {
		return (s.Kind == kind || kind == "bib1+gate" && (s.Kind == "bib1" || s.Kind == "gate")) && (level == "both" || s.Level == level) && s.clean()
	}
	for _, s := range all {
		if s.Variant == baseOf(kind) && wanted(s) {
			theirs[of{s.Kind, s.Level, s.Seed, s.Event}] = s
		}
	}
	var pair [2][]studied
	cards, writers := map[uint64]bool{}, map[int]bool{}
	for _, s := range all {
		base, ok := theirs[of{s.Kind, s.Level, s.Seed, s.Event}]
		if s.Variant != v.Name || !ok || !wanted(s) {
			continue
		}
		pair[0], pair[1] = append(pair[0], base), append(pair[1], s)
		cards[s.Seed], writers[s.Writer] = true, true
	}
	c.n, c.cards, c.writers = len(pair[0]), len(cards), len(writers)
	for i, side := range pair {
		for _, s := range side {
			c.asked[i] += count(!s.Clear)
			c.clearWrong[i] += count(s.Clear && s.wrong())
			c.wrong[i] += count(s.wrong())
			c.outside[i] += count(slices.Contains(s.Doubts, sheetmodel.DoubtOutsideBox))
		}
		c.needed[i] = needed(side)
	}
	if c.n > 0 {
		c.wrongAtSame = leftWrong(pair[1], c.asked[0])
		c.diff = bootstrap(pair)
	}
	return c
}

// byDoubt orders entries as a person would be asked about them without any threshold.
func byDoubt(side []studied) []studied {
	rank := func(s studied) float64 {
		for _, d := range s.Doubts {
			if d != sheetmodel.DoubtLowCertainty {
				return math.Inf(-1)
			}
		}
		if len(s.Doubts) == 0 && !s.Clear {
			return math.Inf(-1) // nothing seen
		}
		return s.Score
	}
	out := slices.Clone(side)
	slices.SortStableFunc(out, func(a, b studied) int {
		switch x, y := rank(a), rank(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		default:
			return 0
		}
	})
	return out
}

func leftWrong(side []studied, asked int) int {
	n := 0
	for _, s := range byDoubt(side)[asked:] {
		n += count(s.wrong())
	}
	return n
}

func needed(side []studied) int {
	const inThousand = 1
	order := byDoubt(side)
	left, most := 0, len(side)*inThousand/1000
	for i, s := range slices.Backward(order) {
		if left += count(s.wrong()); left > most {
			return i + 1
		}
	}
	return 0
}

// bootstrap draws cards with replacement: entries of a card have one writer, one pen and one photo in common.
// Both photos of a card are drawn together.
func bootstrap(pair [2][]studied) interval {
	type sums struct{ diff, n int }
	byCard := map[uint64]*sums{}
	var cards []uint64
	var total sums
	for i, s := range pair[1] {
		c := byCard[s.Seed]
		if c == nil {
			c = &sums{}
			byCard[s.Seed] = c
			cards = append(cards, s.Seed)
		}
		d := count(!s.Clear) - count(!pair[0][i].Clear)
		c.diff, c.n = c.diff+d, c.n+1
		total.diff, total.n = total.diff+d, total.n+1
	}
	const draws = 10000
	rng := rand.New(rand.NewPCG(1, 2))
	means := make([]float64, draws)
	for k := range means {
		var t sums
		for range cards {
			c := byCard[cards[rng.IntN(len(cards))]]
			t.diff, t.n = t.diff+c.diff, t.n+c.n
		}
		means[k] = float64(t.diff) / float64(t.n)
	}
	slices.Sort(means)
	at := func(share float64) float64 { return means[min(int(share*draws), draws-1)] }
	strict := 0.025 / float64(len(variants))
	return interval{
		mean: float64(total.diff) / float64(total.n), low: at(0.025), high: at(0.975),
		certain: at(strict) > 0 || at(1-strict) < 0,
	}
}
