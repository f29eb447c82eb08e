package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/reading"
)

// trySizes are enough to see whether something is badly off, and too few for any figure.
var trySizes = sizes{ordinary: 12, hard: 60, impossible: 6}

// or returns the other sizes if they are given.
func (n sizes) or(other sizes) sizes {
	if other == (sizes{}) {
		return n
	}
	return other
}

// try measures a few cards in the hands of calibration writers, for development: nothing is kept or logged.
func try(ctx context.Context, s settings) (err error) {
	benchers, closeAll, err := openBenchers(ctx, hands.Calibration, 2, reading.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeAll()) }()
	if s.why != "" {
		file, err := os.Create(s.why)
		if err != nil {
			return err
		}
		defer file.Close() //nolint:errcheck // only a look
		var mu sync.Mutex
		for _, b := range benchers {
			b.explain = func(line string) {
				mu.Lock()
				defer mu.Unlock()
				fmt.Fprintln(file, line) //nolint:errcheck // only a look
			}
		}
	}
	total, err := measure(ctx, "try", benchers, unitsOf(s.shard, trySizes.or(s.tries)), nil)
	if err != nil {
		return err
	}
	made, err := madeNow(ctx, firstSeed(s.shard), firstSeed(s.shard)+99999)
	if err != nil {
		return err
	}
	r := results{Format: 1, Subset: true, Machine: machine(), Split: "calibration writers: no figure, only a look"}
	if err := r.addShards([]*shardFile{{Subset: true, Made: made, Tally: total}}); err != nil {
		return err
	}
	fmt.Println(r.markdown())
	return nil
}
