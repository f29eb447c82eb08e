// Maketrouble writes combs with trouble, and without, as the trouble nets see them:
//
//	maketrouble -mnist DIR -data DIR -part learn -n 100000 -shots 2 -seed 1 -out learn.bin
//	maketrouble -mnist DIR -data DIR -part select -n 8000 -seed 2 -out select.bin
//	maketrouble -mnist DIR -data DIR -part learn -forms 200 -n 100000 -shots 2 -seed 1 -out learn.bin
//
// A record is kind, way, place on the card, level (1 hard), writer (two bytes, low first) and the picture (crop.Comb). Files
// get their name when they are whole. Without DIR of -data writers are runs of a hundred digits: enough to try the code.
package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"

	"gatefold/ocr/train/trouble"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

func main() {
	var j job
	flag.StringVar(&j.mnist, "mnist", "", "folder with MNIST's four files")
	flag.StringVar(&j.data, "data", os.Getenv("GATEFOLD_DATA"), "folder of writer ids; may be left out")
	flag.StringVar(&j.part, "part", "learn", "learn, select, calibration or threshold")
	flag.IntVar(&j.n, "n", 1000, "combs, or a few more")
	flag.IntVar(&j.shots, "shots", 1, "photos of each writing")
	flag.Uint64Var(&j.seed, "seed", 1, "seed")
	flag.IntVar(&j.forms, "forms", 0, "draw so many forms of no make to write on, below 1000; 0: the gate card")
	flag.StringVar(&j.out, "out", "combs.bin", "file to write")
	flag.Parse()
	if err := j.run(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

type job struct {
	mnist, data, part, out string
	n, shots, forms        int
	seed                   uint64
}

// person is one writer's digits.
type person struct {
	id     int
	digits [10][]hand.Strokes
}

// Digit returns one of the writer's digits d; it is fill's Digits.
func (p *person) Digit(d int, rng *rand.Rand) (hand.Strokes, int) {
	k := rng.IntN(len(p.digits[d]))
	return p.digits[d][k], k
}

func (j job) people() ([]*person, error) {
	m, err := hand.ReadMNIST(j.mnist)
	if err != nil {
		return nil, err
	}
	parts := map[string]func() []int{"learn": split.Learn, "select": split.Select, "calibration": split.Calibration, "threshold": split.Threshold}
	indices, ok := parts[j.part]
	if !ok {
		return nil, fmt.Errorf("part %q: not one of learn, select, calibration, threshold", j.part)
	}
	writerOf := func(index int) int { return index / 100 }
	if j.data != "" {
		ids, err := hand.ReadWriters(filepath.Join(j.data, "mnist-writers", "mnist-train-writers.csv.gz"))
		if err != nil {
			return nil, err
		}
		writerOf = func(index int) int { return ids[index] }
	}
	all := indices()
	strokes := make([]hand.Strokes, len(all))
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wg.Go(func() {
			for k := w; k < len(all); k += workers {
				strokes[k] = hand.Trace(&m.Train[all[k]])
			}
		})
	}
	wg.Wait()
	by := map[int]*person{}
	var out []*person
	var anybody [10][]hand.Strokes
	for k, i := range all {
		id, label := writerOf(i), m.Train[i].Label
		if by[id] == nil {
			by[id] = &person{id: id}
			out = append(out, by[id])
		}
		by[id].digits[label] = append(by[id].digits[label], strokes[k])
		anybody[label] = append(anybody[label], strokes[k])
	}
	for _, p := range out {
		for d := range p.digits {
			if len(p.digits[d]) == 0 { // never wrote it
				p.digits[d] = anybody[d]
			}
		}
	}
	return out, nil
}

// cards are what is written on. The seeds of two jobs' forms lie a thousand apart.
func (j job) cards() (*trouble.Cards, error) {
	if j.forms > 0 {
		return trouble.NewForms(j.forms, 1000*j.seed), nil
	}
	return trouble.NewCards()
}

func (j job) run() error {
	people, err := j.people()
	if err != nil {
		return err
	}
	cards, err := j.cards()
	if err != nil {
		return err
	}
	levels := []camera.Level{camera.Levels()[camera.Ordinary], camera.Levels()[camera.Hard]}
	f, err := os.Create(j.out + ".part")
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // after the Close that counts, below, or after another failure
	b := bufio.NewWriterSize(f, 1<<20)
	workers := runtime.GOMAXPROCS(0)
	chunk := 8 * workers
	for from, have := 0, 0; have < j.n; from += chunk {
		got := make([][]trouble.Sample, chunk)
		errs := make([]error, chunk)
		var wg sync.WaitGroup
		for w := range workers {
			wg.Go(func() {
				for k := w; k < chunk; k += workers {
					rng := rand.New(rand.NewPCG(j.seed, uint64(from+k)))
					p := people[rng.IntN(len(people))]
					got[k], errs[k] = cards.Draw(trouble.Options{Level: levels[rng.IntN(2)], Digits: p, Writer: p.id, Shots: j.shots}, rng)
				}
			})
		}
		wg.Wait()
		if err := errors.Join(errs...); err != nil {
			return err
		}
		for _, s := range slices.Concat(got...) {
			hard := byte(0)
			if s.Hard {
				hard = 1
			}
			if _, err := b.Write(append([]byte{byte(s.Kind), byte(s.Way), byte(s.Where), hard, byte(s.Writer), byte(s.Writer >> 8)}, s.Comb[:]...)); err != nil {
				return err
			}
			have++
		}
		fmt.Fprintf(os.Stderr, "\r%d of %d", have, j.n)
	}
	fmt.Fprintln(os.Stderr)
	if err := errors.Join(b.Flush(), f.Close()); err != nil {
		return err
	}
	return os.Rename(j.out+".part", j.out)
}
