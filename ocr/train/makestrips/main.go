// Makestrips writes what the cell net learns from and is chosen on:
//
//	makestrips -mnist DIR -data DIR -part learn -glyphs -out glyphs.gz
//	makestrips -mnist DIR -data DIR -part learn -n 15000 -shots 3 -seed 1 -out learn.gz
//	makestrips -mnist DIR -data DIR -part select -n 3000 -seed 2 -out select.gz
//
// A glyph is label, 1 where a European way of writing was added, writer (two bytes, low first), width and the
// map (strips.Map). A strip is what its ink says (16 bytes, zeros behind), type, spoil and level (a byte each),
// writer (two bytes), and the strip (crop.Strip). Files are gzipped; they get their name when they are whole.
// DIR of -data is the folder of writer ids and letters; without it writers are runs of a hundred digits
// and letters are pen strokes of our own: enough to try the code.
package main

import (
	"bufio"
	"compress/gzip"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"gatefold/ocr/train/cells"
	"gatefold/ocr/train/strips"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

func main() {
	var j job
	flag.StringVar(&j.mnist, "mnist", "", "folder with MNIST's four files")
	flag.StringVar(&j.data, "data", os.Getenv("GATEFOLD_DATA"), "folder of writer ids and letters; may be left out")
	flag.StringVar(&j.part, "part", "learn", "learn, select, calibration or threshold")
	flag.BoolVar(&j.glyphs, "glyphs", false, "write glyphs as maps instead of strips")
	flag.BoolVar(&j.wild, "wild", false, "change shapes and field sizes, to teach")
	flag.BoolVar(&j.twice, "twice", false, "write each plain bib twice by one hand in one photo, one strip after the other; -n counts strips")
	flag.BoolVar(&j.high, "high", false, "write in rows that are looked at twice: a strip of each look, one after the other; -n counts writings")
	flag.IntVar(&j.n, "n", 1000, "strips")
	flag.IntVar(&j.shots, "shots", 1, "photos of each writing")
	flag.Uint64Var(&j.seed, "seed", 1, "seed")
	flag.Func("types", "types of field, with commas between; all if left out", func(v string) error {
		for t := range strings.SplitSeq(v, ",") {
			j.types = append(j.types, strips.Type(t))
		}
		return nil
	})
	flag.StringVar(&j.out, "out", "strips.gz", "file to write")
	flag.Parse()
	if err := j.run(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

type job struct {
	mnist, data, part, out string
	glyphs, wild           bool
	twice, high            bool
	n, shots               int
	seed                   uint64
	types                  []strips.Type
}

func (j job) run() error {
	m, err := hand.ReadMNIST(j.mnist)
	if err != nil {
		return err
	}
	parts := map[string]struct {
		digits  []int
		letters strips.Share
	}{
		"learn": {split.Learn(), strips.LearnLetters}, "select": {split.Select(), strips.SelectLetters},
		"calibration": {split.Calibration(), strips.CalibrationLetters}, "threshold": {split.Threshold(), strips.ThresholdLetters},
	}
	p, ok := parts[j.part]
	if !ok {
		return fmt.Errorf("part %q: not one of learn, select, calibration, threshold", j.part)
	}
	writerOf := func(index int) int { return index / 100 }
	var letters []hand.Glyph
	if j.data != "" {
		ids, err := hand.ReadWriters(filepath.Join(j.data, "mnist-writers", "mnist-train-writers.csv.gz"))
		if err != nil {
			return err
		}
		writerOf = func(index int) int { return ids[index] }
		if letters, err = strips.ReadLetters(filepath.Join(j.data, "emnist-letters", "emnist-letters-images-idx3-ubyte.gz"), p.letters); err != nil {
			return err
		}
	}
	if j.glyphs {
		return j.write(func(put func(...byte) error) error { return j.maps(m.Train, p.digits, writerOf, letters, put) })
	}
	src := strips.NewSource(m.Train, p.digits, writerOf, letters)
	return j.write(func(put func(...byte) error) error { return j.strips(src, put) })
}

// maps writes all glyphs of the part, then signs and letters of our own.
func (j job) maps(glyphs []hand.Glyph, digits []int, writerOf func(int) int, letters []hand.Glyph, put func(...byte) error) error {
	rng := rand.New(rand.NewPCG(j.seed, 0x91f5))
	one := func(label, european byte, writer int, g hand.Strokes) error {
		m := strips.NewMap(g)
		return put(append([]byte{label, european, byte(writer), byte(writer >> 8), m.Wide}, m.Pix[:]...)...)
	}
	const nobody = 0xffff
	for _, i := range digits {
		g, label := hand.Trace(&glyphs[i]), glyphs[i].Label
		if err := one('0'+label, 0, writerOf(i), g); err != nil {
			return err
		}
		if label == 0 || label == 1 || label == 7 {
			if err := one('0'+label, 1, writerOf(i), cells.European(label, g, 1, rng)); err != nil {
				return err
			}
		}
	}
	for i := range letters {
		if err := one(letters[i].Label, 0, nobody, hand.Trace(&letters[i])); err != nil {
			return err
		}
	}
	for _, c := range "ABCDEFGHIJKLMNOPQRSTUVWXYZab-/,?" {
		n := 80
		if c < 'A' {
			n = 400
		}
		for range n {
			g, _ := hand.Letter(c, rng)
			if err := one(byte(c), 2, nobody, g); err != nil { // 2: in a capital's frame already
				return err
			}
		}
	}
	return nil
}

// strips writes j.n strips, drawn by all cores in the order of their number.
func (j job) strips(src *strips.Source, put func(...byte) error) error {
	benches := make([]*strips.Bench, 1)
	if j.wild {
		benches = make([]*strips.Bench, 6)
	}
	for i := range benches {
		var err error
		variant := uint64(0)
		if j.high {
			variant = strips.High
		}
		if j.wild {
			variant = uint64(i) + 1
		}
		if benches[i], err = strips.NewBench(variant); err != nil {
			return err
		}
	}
	if j.twice {
		j.shots = 2 // strips of each writing
	}
	levels := camera.Levels()
	writers := src.Writers()
	workers := runtime.GOMAXPROCS(0)
	type result struct {
		fields []strips.Field
		err    error
		level  camera.Level
	}
	const chunk = 512 // all cores wait for the last of a chunk
	writings := (j.n + j.shots - 1) / j.shots
	for from := 0; from < writings; from += chunk {
		out := make([]result, min(chunk, writings-from))
		var wg sync.WaitGroup
		for w := range workers {
			wg.Go(func() {
				for k := w; k < len(out); k += workers {
					rng := rand.New(rand.NewPCG(j.seed, uint64(from+k)))
					o := strips.Options{Level: levels[camera.Ordinary], Writer: writers[rng.IntN(len(writers))], Wild: j.wild, Shots: j.shots}
					if rng.Float64() < 0.5 {
						o.Level = levels[camera.Hard]
					}
					out[k].level = o.Level
					if j.twice {
						out[k].fields, out[k].err = src.DrawTwice(benches[rng.IntN(len(benches))], o, rng)
						continue
					}
					out[k].fields, out[k].err = src.Draw(benches[rng.IntN(len(benches))], j.types, o, rng)
				}
			})
		}
		wg.Wait()
		for _, r := range out {
			if r.err != nil {
				return r.err
			}
			for i := range r.fields {
				records := []strips.Record{strips.RecordOf(&r.fields[i], r.level)}
				if j.high {
					records = strips.LooksOf(&r.fields[i], r.level)
				}
				for _, one := range records {
					if err := put(one.Bytes()...); err != nil {
						return err
					}
				}
			}
		}
		fmt.Fprintf(os.Stderr, "\r%d of %d", (from+len(out))*j.shots, j.n)
	}
	return nil
}

// write makes the file from what fill puts.
func (j job) write(fill func(put func(...byte) error) error) error {
	f, err := os.Create(j.out + ".part")
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // after the Close that counts, below, or after another failure
	b := bufio.NewWriterSize(f, 1<<20)
	z, err := gzip.NewWriterLevel(b, gzip.BestCompression)
	if err != nil {
		return err
	}
	if err := fill(func(v ...byte) error { _, err := z.Write(v); return err }); err != nil {
		return err
	}
	if err := errors.Join(z.Close(), b.Flush(), f.Close()); err != nil {
		return err
	}
	return os.Rename(j.out+".part", j.out)
}
