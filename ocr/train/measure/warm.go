package main

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"

	"gatefold/ocr/net"
	"gatefold/ocr/train/cells"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

// Would it help if each judge wrote 0 to 9 once, at the briefing? Their own digits can only lower a certainty:
// "this judge's 1 looks like a 7". warm lets calibration writers write each digit once, photographed like all
// others, and asks about every further digit that was read as something one of the writer's own *other* digits
// looks like. The yardstick is to ask about as many digits more, the least certain ones, without any warm hand.

// likeness is how much of a class the nets must see in a writer's own other digit.
var likeness = []float64{0.3, 0.1, 0.03, 0.01}

type warmed struct {
	claim float64 // of the likeliest digit
	wrong bool
	alike float64 // the most that the read digit had in one of the writer's own other digits
}

func warm(nets *net.Nets, m *hand.MNIST, data string) error {
	writers, err := hand.ReadWriters(filepath.Join(data, "mnist-writers", "mnist-train-writers.csv.gz"))
	if err != nil {
		return err
	}
	list := split.Calibration()
	src := cells.NewSource(m.Train, list, nil)
	read := func(index int, level cells.Level, salt uint64) (net.Probs, error) {
		s := src.Digit(index, level, rand.New(rand.NewPCG(salt, uint64(index))))
		a, b, err := nets.Classify(&s.Crop)
		return net.Mean(a, b), err
	}
	own := map[int]*[10]int{} // writer to the index of their own digits
	var rest []int
	for _, i := range list {
		w := writers[i]
		if own[w] == nil {
			own[w] = &[10]int{-1, -1, -1, -1, -1, -1, -1, -1, -1, -1}
		}
		if d := m.Train[i].Label; own[w][d] < 0 {
			own[w][d] = i
		} else {
			rest = append(rest, i)
		}
	}
	fmt.Println("| level | digits | wrong | asked before | of these wrong and clear | warm hand: asked more | wrong and clear after | the least certain instead: wrong and clear after |")
	fmt.Println("|---|---|---|---|---|---|---|---|")
	for _, level := range []cells.Level{cells.Ordinary, cells.Hard} {
		looks := map[int][10]net.Probs{}
		for w, digits := range own {
			var all [10]net.Probs
			for d, i := range digits {
				if i < 0 {
					continue
				}
				if all[d], err = read(i, level, 17); err != nil {
					return err
				}
			}
			looks[w] = all
		}
		var all []warmed
		for _, i := range rest {
			p, err := read(i, level, 18)
			if err != nil {
				return err
			}
			best, _ := p.Best()
			if best > 9 {
				continue // no digit: asked whatever the hand
			}
			x := warmed{claim: float64(p[best]), wrong: best != int(m.Train[i].Label)}
			mine := looks[writers[i]]
			for d := range mine {
				if d != best {
					x.alike = max(x.alike, float64(mine[d][best]))
				}
			}
			all = append(all, x)
		}
		slices.SortStableFunc(all, func(a, b warmed) int { return cmp.Compare(a.claim, b.claim) })
		for _, like := range likeness {
			warmRow(string(level), all, like)
		}
	}
	return nil
}

// warmRow prints what one likeness gives; all are sorted, the least certain first.
func warmRow(level string, all []warmed, like float64) {
	const askedBefore = 0.03
	before := int(askedBefore * float64(len(all)))
	wrong, certain, more, after := 0, 0, 0, 0
	for k, x := range all {
		if x.wrong {
			wrong++
		}
		if k < before {
			continue
		}
		warned := x.alike >= like
		if warned {
			more++
		}
		if x.wrong {
			certain++
			if !warned {
				after++
			}
		}
	}
	instead := 0
	for _, x := range all[min(before+more, len(all)):] {
		if x.wrong {
			instead++
		}
	}
	fmt.Printf("| %s, likeness %g | %d | %d | %d | %d | %d | %d | %d |\n", level, like, len(all), wrong, before, certain, more, after, instead)
}
