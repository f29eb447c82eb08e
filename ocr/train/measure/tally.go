package main

import (
	"fmt"
	"slices"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
)

const head = `| set | digits | wrong: net a | net b | mean of both | digit for digit | left at 0.5 % | 1 % | 2 % | 3 % | 5 % set aside |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |`

// tally counts errors. A digit taken for empty or other is wrong too; those of another digit alone are
// counted apart.
type tally struct {
	n, a, b, both, digits int
	claims                []claim // of the mean of both
}

type claim struct {
	prob  float32
	wrong bool
}

// read lets both nets read one box that holds label, and returns what they say together.
func (t *tally) read(nets *net.Nets, label uint8, box *crop.Crop) (mean net.Probs, err error) {
	a, b, err := nets.Classify(box)
	if err != nil {
		return mean, err
	}
	mean = net.Mean(a, b)
	count := func(p net.Probs) int {
		if first, _ := p.Best(); first != int(label) {
			return 1
		}
		return 0
	}
	t.n++
	t.a, t.b = t.a+count(a), t.b+count(b)
	first, _ := mean.Best()
	wrong := first != int(label)
	if wrong {
		t.both++
		if first < net.Empty {
			t.digits++
		}
	}
	t.claims = append(t.claims, claim{prob: mean[first], wrong: wrong})
	return mean, nil
}

// left is how many wrong ones remain once the least certain share is set aside.
func (t *tally) left(share float64) int {
	sorted := slices.Clone(t.claims)
	slices.SortStableFunc(sorted, func(x, y claim) int {
		switch {
		case x.prob < y.prob:
			return -1
		case x.prob > y.prob:
			return 1
		}
		return 0
	})
	wrong := 0
	for _, c := range sorted[int(share*float64(len(sorted))+0.5):] {
		if c.wrong {
			wrong++
		}
	}
	return wrong
}

func (t *tally) print(name string) {
	fmt.Printf("| %s | %d | %d | %d | %d | %d | %d | %d | %d | %d | %d |\n", name, t.n, t.a, t.b, t.both, t.digits,
		t.left(0.005), t.left(0.01), t.left(0.02), t.left(0.03), t.left(0.05))
}
