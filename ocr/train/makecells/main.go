// Makecells writes boxes for the nets to learn from, or to be chosen on, as files of fixed-size records:
//
//	makecells -mnist DIR -letters FILE -part learn -shards 64 -each 20000 -seed 1 -out DIR
//	makecells -mnist DIR -part select -probe hard -each 2 -seed 2 -out DIR
//
// A record is label, kind, cell (40 x 48) and glyph (28 x 28), all bytes. A file gets its name when it is
// whole, so a trainer may take up files while more are being made. It uses all cores, one file each.
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
	"strings"
	"sync"
	"sync/atomic"

	"gatefold/ocr/train/cells"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

func main() {
	var j job
	flag.StringVar(&j.mnist, "mnist", "", "folder with MNIST's four files")
	flag.StringVar(&j.letters, "letters", "", "EMNIST letters, images-idx3-ubyte.gz beside labels-idx1-ubyte.gz; may be left out")
	flag.StringVar(&j.part, "part", "learn", "learn, select, train or calibration")
	flag.StringVar(&j.probe, "probe", "", "ordinary, hard, card-ordinary, card-hard, redrawn or original: each digit of the part as it would be measured; else the mix to learn from")
	flag.IntVar(&j.shards, "shards", 1, "number of files")
	flag.IntVar(&j.each, "each", 20000, "boxes a file, or rounds over the part with -probe")
	flag.IntVar(&j.shots, "shots", 3, "photos of each box")
	flag.Uint64Var(&j.seed, "seed", 1, "seed")
	flag.StringVar(&j.out, "out", ".", "folder for the files")
	flag.Parse()
	if err := j.run(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

type job struct {
	mnist, letters, part, probe, out string
	shards, each, shots              int
	seed                             uint64
}

func (j job) run() error {
	m, err := hand.ReadMNIST(j.mnist)
	if err != nil {
		return err
	}
	parts := map[string]func() []int{
		"learn": split.Learn, "select": split.Select, "train": split.Train, "calibration": split.Calibration,
	}
	list, ok := parts[j.part]
	if !ok {
		return fmt.Errorf("part %q: not one of learn, select, train, calibration", j.part)
	}
	var letters []hand.Glyph
	if j.letters != "" {
		if letters, err = readLetters(j.letters); err != nil {
			return err
		}
	}
	src := cells.NewSource(m.Train, list(), letters)
	if j.probe != "" {
		return j.write(j.part+"-"+j.probe, func(put func(cells.Sample) error) error {
			return j.probes(src, m.Train, list(), put)
		})
	}
	return j.mixes(src)
}

// mixes writes the shards, as many at a time as there are cores. Each has a generator of its own, so a
// shard doesn't depend on how many are made.
func (j job) mixes(src *cells.Source) error {
	var next atomic.Int64
	paper, err := cells.NewCards()
	if err != nil {
		return err
	}
	errs := make([]error, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for w := range errs {
		wg.Go(func() {
			for k := int(next.Add(1)) - 1; k < j.shards && errs[w] == nil; k = int(next.Add(1)) - 1 {
				rng := rand.New(rand.NewPCG(j.seed, uint64(k)))
				errs[w] = j.write(fmt.Sprintf("%s-%05d", j.part, k), func(put func(cells.Sample) error) error {
					for n := 0; n < j.each; {
						boxes, err := j.some(src, paper, rng)
						if err != nil {
							return err
						}
						for _, s := range boxes {
							if err := put(s); err != nil {
								return err
							}
							n++
						}
					}
					return nil
				})
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// some draws a few boxes: mostly single ones that vary widely, some from combs of the real card.
func (j job) some(src *cells.Source, paper *cells.Cards, rng *rand.Rand) ([]cells.Sample, error) {
	// Two shots of ordinary or hard photos for every five of the mix, counted in boxes.
	const cardShare = 0.4
	if rng.Float64() >= cardShare {
		return src.Mixed(j.shots, rng), nil
	}
	level := camera.Levels()[camera.Ordinary]
	if rng.Float64() < 0.55 {
		level = camera.Levels()[camera.Hard]
	}
	row, err := src.Comb(paper, level, func() int { return -1 }, true, rng)
	if err != nil {
		return nil, err
	}
	// Most empty boxes look alike.
	const emptyKept = 0.4
	return slices.DeleteFunc(row, func(s cells.Sample) bool {
		return s.Label == cells.Empty && rng.Float64() >= emptyKept
	}), nil
}

// probes draws each digit of list as it would be measured, in order, whatever the number of cores.
func (j job) probes(src *cells.Source, glyphs []hand.Glyph, list []int, put func(cells.Sample) error) error {
	if j.probe == "card-ordinary" || j.probe == "card-hard" {
		return j.cardProbes(src, list, put)
	}
	draw := func(i int, rng *rand.Rand) cells.Sample {
		switch j.probe {
		case "redrawn":
			return src.Redrawn(i, rng)
		case "original":
			return cells.Original(&glyphs[i])
		}
		return src.Digit(i, cells.Level(j.probe), rng)
	}
	out := make([]cells.Sample, j.each*len(list))
	workers := runtime.GOMAXPROCS(0)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for n := w; n < len(out); n += workers {
				out[n] = draw(list[n%len(list)], rand.New(rand.NewPCG(j.seed, uint64(n))))
			}
		})
	}
	wg.Wait()
	for _, s := range out {
		if err := put(s); err != nil {
			return err
		}
	}
	return nil
}

// cardProbes writes the digits of list, in order, into combs of the real card; empty boxes come too.
func (j job) cardProbes(src *cells.Source, list []int, put func(cells.Sample) error) error {
	paper, err := cells.NewCards()
	if err != nil {
		return err
	}
	level := camera.Levels()[strings.TrimPrefix(j.probe, "card-")]
	next := 0
	for n := uint64(0); next < j.each*len(list); n++ {
		row, err := src.Comb(paper, level, func() int { next++; return list[(next-1)%len(list)] }, false, rand.New(rand.NewPCG(j.seed, n)))
		if err != nil {
			return err
		}
		for _, s := range row {
			if err := put(s); err != nil {
				return err
			}
		}
	}
	return nil
}

// write makes the file name.bin from the samples that fill puts.
func (j job) write(name string, fill func(put func(cells.Sample) error) error) error {
	path := filepath.Join(j.out, name+".bin")
	f, err := os.Create(path + ".part")
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // after the Close that counts, below, or after another failure
	b := bufio.NewWriterSize(f, 1<<20)
	err = fill(func(s cells.Sample) error {
		_, err := b.Write([]byte{s.Label, byte(s.Kind)})
		if err == nil {
			_, err = b.Write(s.Cell[:])
		}
		if err == nil {
			_, err = b.Write(s.Glyph[:])
		}
		return err
	})
	if err != nil {
		return err
	}
	if err := errors.Join(b.Flush(), f.Close()); err != nil {
		return err
	}
	return os.Rename(path+".part", path)
}
