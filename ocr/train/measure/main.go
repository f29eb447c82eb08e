// Measure counts the errors of the embedded nets, one character at a time, and prints a table for
// ocr/train/report.md:
//
//	go run ./ocr/train/measure                   by writers of the selection part; free to repeat
//	go run ./ocr/train/measure -report           MNIST's test digits too; each run belongs into LOOKS.md
//	go run ./ocr/train/measure -warm             would a judge's own 0 to 9 help? Calibration writers
//	go run ./ocr/train/measure -others           uji-digits and optdigits alone; so does each run of these
//
// GATEFOLD_DATA names the folder with photo-cells, which -report counts too, and with what -others reads: all of it is
// for reports, never for choices.
package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
	"gatefold/ocr/train/cells"
	"gatefold/ocr/weights"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

func main() {
	report := flag.Bool("report", false, "read MNIST's test digits and photo-cells as well")
	foreign := flag.Bool("others", false, "read uji-digits and optdigits of GATEFOLD_DATA, and nothing else")
	hands := flag.Bool("warm", false, "what a digit of each kind in the judge's own hand would give, and nothing else")
	mnist := flag.String("mnist", "", "folder with MNIST's four files; else the Go module's")
	each := flag.Int("each", 4537, "digits of each simulated set")
	flag.Parse()
	measure := func() error { return run(*mnist, *report, *each) }
	if *foreign {
		measure = foreigners
	}
	if *hands {
		measure = func() error { return warmHands(*mnist) }
	}
	if err := measure(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(mnist string, report bool, each int) error {
	nets, err := net.Open()
	if err != nil {
		return err
	}
	defer nets.Close() //nolint:errcheck // freeing nets
	m, err := readMNIST(mnist)
	if err != nil {
		return err
	}
	fmt.Printf("weights %s\n\n%s\n", weights.Hash(), head)
	list := split.Select()
	list = list[:min(each, len(list))]
	src := cells.NewSource(m.Train, list, nil)
	const seed = 91
	for _, set := range []struct {
		name string
		draw func(n int) cells.Sample
	}{
		{"original", func(n int) cells.Sample { return cells.Original(&m.Train[list[n]]) }},
		{"redrawn", func(n int) cells.Sample { return src.Redrawn(list[n], rand.New(rand.NewPCG(seed, uint64(n)))) }},
		{"ordinary", func(n int) cells.Sample {
			return src.Digit(list[n], cells.Ordinary, rand.New(rand.NewPCG(seed, uint64(n))))
		}},
		{"hard", func(n int) cells.Sample {
			return src.Digit(list[n], cells.Hard, rand.New(rand.NewPCG(seed, uint64(n))))
		}},
	} {
		var t tally
		for n := range list {
			s := set.draw(n)
			if _, err := t.read(nets, s.Label, &s.Crop); err != nil {
				return err
			}
		}
		t.print("select, " + set.name)
	}
	if !report {
		return nil
	}
	return reports(nets, m)
}

// reports measures on hands that are for reports only.
func reports(nets *net.Nets, m *hand.MNIST) error {
	var original, redrawn tally
	all := make([]int, len(m.Test))
	for i := range all {
		all[i] = i
		s := cells.Original(&m.Test[i])
		if _, err := original.read(nets, s.Label, &s.Crop); err != nil {
			return err
		}
	}
	original.print("MNIST test, original")
	src := cells.NewSource(m.Test, all, nil)
	for i := range all {
		s := src.Redrawn(i, rand.New(rand.NewPCG(93, uint64(i))))
		if _, err := redrawn.read(nets, s.Label, &s.Crop); err != nil {
			return err
		}
	}
	redrawn.print("MNIST test, redrawn")
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		fmt.Println("\nGATEFOLD_DATA is not set: photo-cells not read")
		return nil
	}
	photos, err := readPhotoCells(data)
	if err != nil {
		return err
	}
	var t tally
	for _, c := range photos {
		box := crop.Take(c.page, c.box)
		if _, err := t.read(nets, c.value, &box); err != nil {
			return err
		}
	}
	t.print("photo-cells, by hand")
	return nil
}

func warmHands(mnist string) error {
	return withData("MNIST's writer ids", func(nets *net.Nets, data string) error {
		m, err := readMNIST(mnist)
		if err != nil {
			return err
		}
		return warm(nets, m, data)
	})
}

func foreigners() error {
	return withData("uji-digits and optdigits", func(nets *net.Nets, data string) error {
		fmt.Printf("weights %s\n\n%s\n", weights.Hash(), head)
		return others(nets, data)
	})
}

// withData opens the nets and finds the folder of data that is not part of the project.
func withData(what string, do func(nets *net.Nets, data string) error) error {
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		return fmt.Errorf("GATEFOLD_DATA is not set: it names the folder with %s", what)
	}
	nets, err := net.Open()
	if err != nil {
		return err
	}
	defer nets.Close() //nolint:errcheck // freeing nets
	return do(nets, data)
}
