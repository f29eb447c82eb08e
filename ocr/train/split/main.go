// Split makes the lists of testdata/split from MNIST's writer ids:
//
//	go run ./ocr/train/split -writers $GATEFOLD_DATA/mnist-writers/mnist-train-writers.csv.gz -out testdata/split
//
// Writers are sorted by a salted hash of their id and dealt in that order, so the parts hold whole
// writers and depend on nothing but salt and ids. The lists are frozen; run it to check them.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"gatefold/testdata/split"
)

func main() {
	writers := flag.String("writers", "", "MNIST's writer ids of the training part, csv.gz")
	out := flag.String("out", "testdata/split", "folder for the lists")
	flag.Parse()
	if err := run(*writers, *out); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(writers, out string) error {
	ids, err := readWriters(writers)
	if err != nil {
		return err
	}
	for name, list := range deal(ids) {
		if err := os.WriteFile(filepath.Join(out, name+".txt"), []byte(split.Format(list)), 0o644); err != nil {
			return err
		}
		fmt.Printf("%s: %d digits\n", name, len(list))
	}
	return nil
}
